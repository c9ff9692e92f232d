"""The due board: everything stands in the picture and apart, nothing hangs on colour, the same board is the same bytes."""

from functools import cache
from io import BytesIO
from itertools import combinations, cycle, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from bot.pictures.board import (
    BEYOND,
    COLUMN,
    CREST,
    DEEP,
    FULL,
    LEAST_HEIGHT,
    MARGIN,
    NOTE,
    RIGHT,
    TITLE,
    WIDTH,
    draw_board,
    lay_out,
)
from bot.pictures.lettering import drawable
from bot.pictures.look import DARK, LIGHT, contrast
from bot.pictures.sheets import WORDS, Board, BoardItem, BoardRow, Mark

ROWS = (
    BoardRow(
        mark=Mark.OVERDUE,
        task="Brush: teeth of the plastic zip",
        share=1.3,
        counted="13 of 10 dives",
        when="since 3 May",
    ),
    BoardRow(mark=Mark.DUE, task="Rinse and dry", when="after the last dive"),
    BoardRow(mark=Mark.DUE, task="Service (technician)", share=1.0, counted="12 of 12 months", when="today"),
    BoardRow(
        mark=Mark.TRIP,
        task="Lubricate: docking end of the plastic zip",
        share=0.7,
        share_with_trip=1.2,
        counted="7 of 10 dives",
        when="about 14 June",
        span="12 June to 30 June",
    ),
    BoardRow(mark=Mark.UNKNOWN, task="Hydrostatic test", when="tell me when it was last tested"),
    BoardRow(
        mark=Mark.FINE,
        task="Charge: battery",
        share=0.2,
        share_with_trip=0.6,
        counted="2 of 10 hours",
        when="about 29 September",
    ),
)
HOSTILE = (
    "x" * 300,
    "W" * 90,
    "東京の潜水服",
    "بدلة الغوص",
    "🤿🤿🤿",
    "a\nb\x00c\x1b[31m\u202ed\u200b",
    "  ",
    "",
    "<b>&amp;</b>",
    "e\u0301" * 80,
    "word " * 200,
)

FAR = (
    (Mark.OVERDUE, 9e9, None),
    (Mark.DUE, 1.0001, 1e300),
    (Mark.TRIP, 0.0, 0.002),
    (Mark.UNKNOWN, None, 0.5),
    (Mark.FINE, -3.0, 1.0),
)


def board(items, **facts):
    return Board(
        **{
            "locker": "Mara's kit",
            "on": "26 November 2026",
            "first": "1 overdue, 2 due, 1 by the trip",
            "items": items,
        }
        | facts
    )


TRIP = {
    "trip": "Trip 12 June to 19 June, 14 dives",
    "notes": ("Test dates by law: check locally.",),
    "page": 1,
    "pages": 3,
}
BOARDS = {
    "usual": board(
        (BoardItem(name="Dry suit", rows=ROWS, fine=3), BoardItem(name="Twinset 32 %", fine=4)), **TRIP
    ),
    "empty": board((), first="Nothing is in this locker yet.", notes=("Tell me what you dive.",)),
    "nothing due": board(
        (BoardItem(name="Dry suit", fine=7), BoardItem(name="Light")), first="Nothing is due."
    ),
    "hostile": board(
        tuple(
            BoardItem(
                name=text,
                rows=(
                    BoardRow(
                        mark=mark,
                        task=text,
                        when=text,
                        counted=text,
                        span=text,
                        share=share,
                        share_with_trip=then,
                    ),
                ),
                fine=10**9,
            )
            for text, (mark, share, then) in zip(HOSTILE, cycle(FAR), strict=False)
        ),
        locker="x" * 200,
        on="y" * 200,
        first="z" * 400,
        trip="w" * 300,
        notes=HOSTILE,
        page=10**6,
        pages=10**6,
    ),
    "60 items": board(
        tuple(BoardItem(name=f"Item {n}", rows=ROWS[n % 6 : n % 6 + 1], fine=n % 3) for n in range(60)),
        **TRIP,
    ),
    "25 rows": board((BoardItem(name="Dry suit", rows=(ROWS * 5)[:25]),), **TRIP),
}
EVERY = [(name, dark) for name in BOARDS for dark in (False, True)]


LARGE = ("60 items", "hostile")
"""Boards that take long to draw: dark ones of them are drawn at length."""


@pytest.fixture(
    params=[
        pytest.param(
            (name, dark),
            id=f"{name}, {'dark' if dark else 'light'}",
            marks=pytest.mark.long if dark and name in LARGE else (),
        )
        for name, dark in EVERY
    ]
)
def sheet(request):
    name, dark = request.param
    return BOARDS[name].model_copy(update={"dark": dark})


def drawn(sheet):
    return picture_of(sheet.model_dump_json())


@cache
def picture_of(facts):
    return Image.open(BytesIO(draw_board(Board.model_validate_json(facts)))).convert("RGB")


def said(sheet):
    return " ".join(word.text for word in lay_out(sheet).words)


def test_picture_is_a_small_png_for_a_phone(sheet):
    data = draw_board(sheet)
    picture = Image.open(BytesIO(data))
    layout = lay_out(sheet)
    assert (picture.format, picture.mode, picture.size) == ("PNG", "P", (WIDTH, layout.height))
    assert picture.info == {}
    assert layout.height >= LEAST_HEIGHT
    assert len(data) < 20_000 + 60 * layout.height


def test_same_board_is_the_same_bytes(sheet):
    assert draw_board(sheet) == draw_board(sheet.model_copy(deep=True))


def test_everything_stands_within_the_margins_and_apart(sheet):
    check_places(sheet, rare=7 if sheet.locker == "x" * 200 else 0)


def check_places(sheet, rare):
    layout = lay_out(sheet)
    things = [*(x.box for x in (*layout.words, *layout.signs, *layout.scales)), *layout.samples]
    out = [
        box
        for box in things
        if box[0] < MARGIN or box[2] > RIGHT or box[1] < 20 or box[3] > layout.height - 20
    ]
    assert out == []
    things.sort(key=lambda box: box[1])
    for i, one in enumerate(things):
        for other in things[i + 1 :]:
            if other[1] >= one[3]:
                break
            # A rare tall letter may reach into the room between its line and the next, by a tenth of its size.
            assert other[0] >= one[2] or one[0] >= other[2] or one[3] - other[1] <= rare, (one, other)


def test_margins_of_the_picture_are_bare(sheet):
    """What was set and what was painted agree: beside the margins there are grounds alone, but for the waves."""
    layout, picture = lay_out(sheet), drawn(sheet)
    look = layout.look
    for left, right in ((0, MARGIN - 1), (RIGHT + 1, WIDTH)):
        for top, bottom in ((0, layout.water), (layout.water + CREST, layout.height)):
            strip = picture.crop((left, top, right, bottom))
            assert {paint for _, paint in strip.getcolors()} <= {look.ground, look.plate, look.band}


def test_letters_are_big_and_on_the_ground_they_were_chosen_for(sheet):
    layout, picture = lay_out(sheet), drawn(sheet)
    pairs = layout.look.letters()
    for word in layout.words:
        left, top, _, bottom = word.box
        assert word.hand.size >= NOTE >= 38
        assert (word.hand.ink, word.hand.ground) in pairs
        assert {picture.getpixel((left - 3, y)) for y in range(top, bottom)} == {word.hand.ground}
        assert word.text.strip()
        assert set(word.text) <= drawable() | {" "}
    for sign in layout.signs:
        assert (sign.ink, sign.ground) in pairs
        assert picture.getpixel((sign.x - 2, sign.y)) == sign.ground
        square = picture.crop(sign.box).getcolors()
        assert max(square)[1] in {sign.ink, sign.ground}
        assert {sign.ink, sign.ground} <= {paint for _, paint in square}


def test_every_letter_has_the_contrast_that_sunlight_asks_for(sheet):
    layout = lay_out(sheet)
    pairs = {(word.hand.ink, word.hand.ground) for word in layout.words} | {
        (s.ink, s.ground) for s in layout.signs
    }
    assert {pair: contrast(*pair) for pair in pairs if contrast(*pair) < 7} == {}


def test_what_touches_on_a_scale_can_be_told_apart(sheet):
    """3:1 is WCAG 2.1, success criterion 1.4.11. Neighbours are read off the picture, along each scale and across it."""
    layout, picture = lay_out(sheet), drawn(sheet)
    look = layout.look
    known = {look.ground, look.trough, look.edge, look.ink, *look.marks.values()}
    bare = {frozenset((look.ground, look.trough))}  # the outline lies between them, or the notch
    for scale in layout.scales:
        left, top, right, bottom = scale.box
        along = [picture.getpixel((x, scale.y + DEEP - 8)) for x in range(left - 4, right + 4)]
        across = [
            [picture.getpixel((x, y)) for y in range(top, bottom)]
            for x in (left + 60, left + 250, left + FULL - 20, left + FULL, left + FULL + 20)
        ]
        for line in (along, *across):
            pure = [paint for paint in line if paint in known]
            touching = {frozenset(pair) for pair in pairwise(pure) if pair[0] != pair[1]} - bare
            touching = {
                pair
                for pair in touching
                if look.edge not in pair or look.ground in pair or look.trough in pair
            }
            assert {pair: contrast(*pair) for pair in touching if contrast(*pair) < 3} == {}
    assert not layout.samples or contrast(look.band_ink, look.trough) >= 3
    assert contrast(look.band_ink, look.band) >= 3


@given(
    st.lists(
        st.builds(
            BoardItem,
            name=st.text(max_size=120),
            rows=st.lists(
                st.builds(
                    BoardRow,
                    mark=st.sampled_from(Mark),
                    task=st.text(max_size=200),
                    share=st.none() | st.floats(),
                    share_with_trip=st.none() | st.floats(),
                    counted=st.text(max_size=60),
                    when=st.text(max_size=120),
                    span=st.text(max_size=120),
                ),
                max_size=2,
            ).map(tuple),
            fine=st.integers(min_value=0, max_value=10**12),
        ),
        max_size=3,
    ).map(tuple),
    st.text(max_size=200),
)
@settings(max_examples=15, deadline=None)
def test_any_text_and_any_share_can_be_drawn(items, text):
    sheet = board(items, locker=text, first=text, notes=(text,))
    check_places(sheet, rare=24)
    assert draw_board(sheet)


def test_every_fact_is_said():
    told = said(BOARDS["usual"])
    for row in ROWS:
        assert row.task in told
        assert f"{WORDS[row.mark]} {row.when}" in told
        assert row.counted in told
    for words in (
        "26 November 2026",
        "Mara's kit 1 overdue, 2 due, 1 by the trip Trip 12 June to 19 June, 14 dives",
        "8 in 10: 12 June to 30 June",
        "3 more in order",
        "Twinset 32 % 4 in order",
        "1 of 3",
        "what the trip adds",
        "Test dates by law: check locally.",
    ):
        assert words in told


def test_one_page_has_no_number_and_no_trip_no_line():
    told = said(BOARDS["nothing due"])
    assert told == "26 November 2026 Mara's kit Nothing is due. Dry suit 7 in order Light"
    assert "1 of" not in told


def test_row_shows_its_shape_beside_its_title():
    layout = lay_out(BOARDS["usual"])
    rows = [sign for sign in layout.signs if sign.x == MARGIN and sign.ground == LIGHT.ground]
    titles = [word for word in layout.words if word.x == COLUMN and word.hand.size == TITLE]
    assert [sign.mark for sign in rows] == [row.mark for row in ROWS]
    for sign, title in zip(rows, titles, strict=True):
        assert sign.box[1] < title.y - TITLE // 3 < sign.box[3]


def test_long_title_has_two_lines_and_says_that_it_was_cut():
    layout = lay_out(
        board((BoardItem(name="Suit", rows=(BoardRow(mark=Mark.DUE, task="word " * 60, when="now"),)),))
    )
    lines = [word.text for word in layout.words if word.x == COLUMN and word.hand.size == TITLE]
    assert len(lines) == 2
    assert lines[1].endswith("word…")


def test_count_that_is_too_long_for_its_place_goes_above_the_scale():
    row = ROWS[0].model_copy(update={"counted": "137 of 150 hours under water"})
    layout = lay_out(board((BoardItem(name="Suit", rows=(row,)),)))
    count = next(word for word in layout.words if word.text == row.counted)
    assert count.box[3] <= layout.scales[0].box[1]


SHARES = [-1.0, 0.0, 0.004, 0.5, 0.999, 1.0, 1.001, 1.1, 1.5, 40.0]


def scale_of(share, then=None, mark=Mark.OVERDUE):
    """Return the picture of one scale, the room past due with it, and its paints in words, one a column."""
    sheet = board(
        (
            BoardItem(
                name="Suit",
                rows=(BoardRow(mark=mark, task="Brush", share=share, share_with_trip=then, when="now"),),
            ),
        )
    )
    scale = lay_out(sheet).scales[0]
    picture = drawn(sheet)
    names = {
        LIGHT.marks[mark]: "fill",
        LIGHT.trough: "trough",
        LIGHT.ground: "ground",
        LIGHT.ink: "due",
        LIGHT.edge: "edge",
    }
    columns = [
        {names.get(picture.getpixel((x, y)), "between") for y in range(scale.y + 14, scale.y + DEEP - 4)}
        for x in range(scale.x, scale.x + FULL + BEYOND)
    ]
    return scale, columns


@pytest.mark.parametrize("share", SHARES)
def test_scale_is_full_at_due_and_what_is_late_stands_behind_a_notch(share):
    _, columns = scale_of(share)
    full = sum(column == {"fill"} for column in columns[: FULL - 10])
    assert full == min(FULL - 10, round(FULL * max(0.0, share)))
    assert all(column == {"due"} for column in columns[FULL - 4 : FULL + 4])
    late = [x for x, column in enumerate(columns) if x > FULL and "fill" in column]
    if share <= 1:
        assert late == []
    else:
        assert late == list(range(FULL + 10, late[-1] + 1))
        assert columns[FULL + 4 : FULL + 10] == columns[FULL - 10 : FULL - 4] == [{"ground"}] * 6
        assert len(late) >= 18


def test_later_is_longer_until_the_room_ends():
    scale, _ = scale_of(0.5)
    ends = [scale.at(share) for share in SHARES]
    assert ends == sorted(ends)
    assert ends[-1] == ends[-2] == scale.x + FULL + BEYOND


@pytest.mark.parametrize("then", [0.6, 0.9, 1.0, 1.2])
def test_what_the_trip_adds_is_hatched(then):
    """Solid up to now; paint and bare trough in turn up to then; bare after that."""
    scale, columns = scale_of(0.4, then)
    now, end = round(FULL * 0.4), scale.at(then) - scale.x
    assert all(column == {"fill"} for column in columns[:now])
    inside = columns[now + 8 : min(end, FULL - 10) - 4]
    assert all("fill" in column and "trough" in column for column in inside)
    assert all("fill" not in column for column in columns[end:FULL])
    past = columns[FULL + 10 :]
    assert any("fill" in column and "trough" in column for column in past) == (then > 1)


@pytest.mark.parametrize("then", [None, 0.2, 0.5])
def test_trip_that_adds_nothing_is_not_hatched_and_not_explained(then):
    _, columns = scale_of(0.5, then)
    assert not any({"fill", "trough"} <= column for column in columns)
    sheet = board(
        (BoardItem(name="Suit", rows=(ROWS[0].model_copy(update={"share": 0.5, "share_with_trip": then}),)),)
    )
    assert lay_out(sheet).samples == []
    assert "what the trip adds" not in said(sheet)


def test_row_without_an_interval_has_no_scale():
    rows = (ROWS[1].model_copy(update={"share_with_trip": 0.5}), ROWS[4])
    sheet = board((BoardItem(name="Suit", rows=rows),))
    assert lay_out(sheet).scales == []
    assert said(sheet).endswith("tested")


def test_each_mark_is_drawn_in_its_own_colour_by_day_and_by_night():
    for dark, look in ((False, LIGHT), (True, DARK)):
        soon = BoardItem(
            name="Twinset", rows=(BoardRow(mark=Mark.SOON, task="Visual", share=0.96, when="tomorrow"),)
        )
        shown = BOARDS["usual"].model_copy(update={"dark": dark, "items": (*BOARDS["usual"].items, soon)})
        assert set(look.marks.values()) <= {paint for _, paint in drawn(shown).getcolors()}
    assert all(one != other for one, other in combinations(LIGHT.marks.values(), 2))


def test_page_of_ten_usual_rows_fits_a_screen():
    """2340 pixels: a phone of 780 points at three to a point."""
    rows = (ROWS[0], ROWS[1], ROWS[3], ROWS[1]), (ROWS[2], ROWS[4], ROWS[1]), (ROWS[1], ROWS[5], ROWS[4])
    items = tuple(BoardItem(name=f"Item {n}", rows=some) for n, some in enumerate(rows))
    assert 1800 < lay_out(board(items, **TRIP)).height <= 2340
