"""Messages as the wires take them: escaped, split by lines and words, every tag closed in its own part."""

import re
from html import unescape

from hypothesis import strategies as st

from bot.post import Post
from bot.render.markup import html, parts, plain, utf16
from scheduler.limits import TEXT_CHARS
from tests.doses import drawn

TEXTS = st.lists(st.text(max_size=300), min_size=1, max_size=12)


def post(lines: list[str], cautions: tuple[str, ...] = ()) -> Post:
    return Post(key="k", first=lines[0], lines=tuple(lines[1:]), cautions=cautions)


@drawn(30, 100, TEXTS, st.integers(min_value=8, max_value=200))
def test_no_part_is_longer_than_allowed_and_none_is_empty(lines, most):
    for part in parts(post(lines), most):
        assert part
        assert utf16(plain(part)) <= most


@drawn(30, 100, TEXTS, st.integers(min_value=8, max_value=200))
def test_nothing_but_blanks_is_lost(lines, most):
    said = "".join(plain(part) for part in parts(post(lines), most))
    assert re.sub(r"\s+", "", said) == re.sub(r"\s+", "", "".join(lines))


@drawn(30, 100, TEXTS, st.integers(min_value=8, max_value=200))
def test_every_part_closes_its_tags_and_reads_back_as_it_was(lines, most):
    for part in parts(post(lines, ("a <b>caution</b>",)), most):
        marked = html(part)
        assert re.findall(r"<[^>]*>", marked) == [
            tag for _, name in part if name for tag in (f"<{name}>", f"</{name}>")
        ]
        assert unescape(re.sub(r"</?[bi]>", "", marked)) == plain(part)


def test_message_that_fits_is_one_part():
    """4096 UTF-16 code units: Bot API, sendMessage and MessageEntity."""
    assert [len(parts(post(["x" * n]), TEXT_CHARS)) for n in (4095, 4096, 4097)] == [1, 1, 2]
    assert [len(parts(post(["🤿" * n]), TEXT_CHARS)) for n in (2048, 2049)] == [1, 2]
    assert [len(parts(post(["x", "y" * n]), TEXT_CHARS)) for n in (4094, 4095)] == [1, 2]


def test_long_line_is_cut_between_words():
    first, second = parts(post(["word " * 30]), 80)
    assert plain(first) == ("word " * 16).strip()
    assert plain(second).startswith("word word")


def test_first_line_and_cautions_stand_out_and_what_people_wrote_is_text():
    said = post(["<script>", "a & b"], ("mind it",))
    assert html(parts(said, 100)[0]) == "<b>&lt;script&gt;</b>\na &amp; b\n<i>⚠ mind it</i>"
