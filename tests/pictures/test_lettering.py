"""Every text can be drawn: what the letters lack is spelled with those there are, so that no box ever stands for one."""

from io import BytesIO

import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont

from bot.pictures.lettering import drawable, font_bytes, font_file, legible


@pytest.mark.parametrize(
    "text",
    [
        "Jørn's twinset 50 %",
        "Nguyễn Văn Ả",
        "Жанна Щербак",
        "Παπαδόπουλος",
        "ნინო",
        "12 °C, ½, 3.5 × 2",
        "– “quoted” … →",
    ],
)
def test_scripts_that_stand_letter_by_letter_are_kept(text):
    assert legible(text) == text


@pytest.mark.parametrize(
    ("text", "spelled"),
    [
        ("東京", "DongJing"),
        ("はるか", "haruka"),
        ("한강", "HanGang"),
        ("שלום", "slvm"),
        ("محمد", "mhmd"),
        ("🐟 torch", ":fish: torch"),
    ],
)
def test_other_scripts_are_spelled_in_latin_letters(text, spelled):
    """The spellings are those of the anyascii tables, version 0.3."""
    assert legible(text) == spelled


def test_letters_with_marks_of_their_own_are_put_together():
    assert legible("e\u0301tanche") == "étanche"


@pytest.mark.parametrize("text", ["a\u200bb", "a\u202eb", "a\ud800b", "a\x00b", "a\ufe0fb", "a\U000e0041b"])
def test_what_is_no_letter_is_left_out(text):
    assert legible(text) == "ab"


def test_lines_become_one():
    assert legible(" twin\nset\t 32\u00a0% \r\n") == "twin set 32 %"


@given(st.text())
def test_nothing_that_cannot_be_drawn_is_left(text):
    assert set(legible(text)) <= drawable() | {" "}


@given(st.text())
def test_legible_text_stays_as_it_is(text):
    assert legible(legible(text)) == legible(text)


@pytest.mark.parametrize("bold", [False, True])
def test_every_drawable_character_has_a_letter_of_its_own_in_both_weights(bold):
    """Read from the drawn pixels, not from the table that the code reads."""
    font = ImageFont.truetype(BytesIO(font_bytes(bold=bold)), 40, layout_engine=ImageFont.Layout.BASIC)
    box = drawn("\uffff", font)
    assert box.getbbox() is not None  # the sign for a letter that is not there
    boxes = [c for c in drawable() if not c.isspace() and drawn(c, font).tobytes() == box.tobytes()]
    assert boxes == []


def drawn(char, font):
    picture = Image.new("L", (80, 80))
    ImageDraw.Draw(picture).text((10, 10), char, font=font, fill=255)
    return picture


@pytest.mark.parametrize("bold", [False, True])
def test_file_has_the_same_letters_for_libraries_that_want_a_path(bold):
    with TTFont(font_file(bold=bold)) as filed, TTFont(BytesIO(font_bytes(bold=bold))) as shipped:
        assert filed.getBestCmap() == shipped.getBestCmap()
        assert filed["hmtx"].metrics == shipped["hmtx"].metrics
        assert (filed["OS/2"].usWeightClass >= 600) == bold
