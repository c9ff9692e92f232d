"""A message at the terminal: pictures as lines with bars, a long paper only by its path."""

import pytest

from bot.pictures import PDF, PNG
from bot.pictures.sheets import WORDS, Board, BoardItem, BoardRow, Mark, ServiceRecord
from bot.render.board import board_lines
from bot.render.terminal import for_terminal
from bot.replies import Drawing, Reply

RECORD = ServiceRecord(title="Service record", on="1 June 2026", summary=(), chapters=(), notes=())


def page(*rows, number=1, of=1):
    items = (BoardItem(name="dry suit", rows=rows, fine=2),)
    return Board(locker="Your kit", on="1 June 2026", first="1 due", items=items, page=number, pages=of)


def bar_of(share, with_trip=None):
    row = BoardRow(mark=Mark.TRIP, task="Brush", share=share, share_with_trip=with_trip, when="soon")
    (line,) = [line for line in board_lines([page(row)]) if "Brush" in line]
    return line.partition("[")[2].partition(" Brush")[0]


@pytest.mark.parametrize(
    ("share", "with_trip", "bar"),
    [
        (0, None, "....................] "),
        (0.5, None, "##########..........] "),
        (0.5, 0.75, "##########/////.....] "),
        (0.5, 9, "##########//////////] "),
        (0.99, None, "###################.] "),
        (1, None, "####################] "),
        (1.5, None, "####################]>"),
    ],
)
def test_bar_is_full_when_due_and_says_what_the_trip_adds_and_what_is_late(share, with_trip, bar):
    assert bar_of(share, with_trip) == bar


def test_rows_stand_under_each_other_with_the_words_of_the_picture():
    rows = [BoardRow(mark=mark, task=f"Task {mark}", when="today", share=0.5) for mark in Mark]
    lines = [line for line in board_lines([page(*rows)]) if "Task" in line]
    assert [line[: line.index("[")].strip() for line in lines] == [WORDS[mark] for mark in Mark]
    assert len({line.index("[") for line in lines}) == 1


def test_pages_are_one_board_with_one_head():
    row = BoardRow(mark=Mark.DUE, task="Rinse", when="today")
    lines = board_lines([page(row, number=1, of=2), page(row, number=2, of=2)])
    assert lines[:2] == ("Your kit, 1 June 2026", "1 due")
    assert lines.count("Your kit, 1 June 2026") == 1
    assert sum("Rinse" in line for line in lines) == 2
    assert lines.count("  and 2 more in order") == 2


def test_an_item_that_goes_on_has_its_name_once():
    row = BoardRow(mark=Mark.DUE, task="Rinse", when="today")
    more = BoardItem(name="dry suit, more", goes_on=True, rows=(row,))
    second = page(number=2, of=2).model_copy(update={"items": (more,)})
    lines = board_lines([page(row, of=2), second])
    assert [line for line in lines if "dry suit" in line] == ["dry suit"]
    assert sum("Rinse" in line for line in lines) == 2


def test_what_two_files_say_alike_is_shown_once_and_a_long_paper_not_at_all():
    card = [
        Drawing(f"a.{end}", mime, RECORD, ("nothing on it",)) for end, mime in (("pdf", PDF), ("png", PNG))
    ]
    long = Drawing("b.pdf", PDF, RECORD, tuple(f"row {n}" for n in range(200)))
    told = for_terminal(Reply("Here.", files=(*card, long)), ["a.pdf", "a.png", "b.pdf"])
    assert told == "Here.\n\nnothing on it\n\n[file] a.pdf\n[file] a.png\n[file] b.pdf"
