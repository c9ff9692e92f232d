"""The due board as lines for a terminal."""

from collections.abc import Sequence

from bot.pictures.sheets import WORDS, Board, BoardRow

_BAR = 20
_WIDTH = max(map(len, WORDS.values()))


def board_lines(pages: Sequence[Board]) -> tuple[str, ...]:
    """Return a board as lines: a bar is full when a task is due, "/" is what the next trip adds, ">" is beyond."""
    board = pages[0]
    lines = [f"{board.locker}, {board.on}", board.first]
    lines += [f"{board.trip}: / in a bar"] if board.trip else []
    for item in (item for page in pages for item in page.items):
        lines += [] if item.goes_on else ["", item.name]
        lines += [line for row in item.rows for line in _row(row)]
        lines += [f"  and {item.fine} more in order"] if item.fine else []
    return (*lines, "", *board.notes)


def _row(row: BoardRow) -> list[str]:
    bar = _bar(row.share, row.share_with_trip)
    told = ", ".join(filter(None, (row.counted, row.when, row.span and f"8 in 10: {row.span}")))
    return [f"  {WORDS[row.mark]:<{_WIDTH}} {bar} {row.task}", f"  {'':<{_WIDTH + _BAR + 4}}{told}"]


def _bar(share: float | None, with_trip: float | None) -> str:
    if share is None:
        return " " * (_BAR + 3)
    now = min(_BAR, int(share * _BAR))
    then = min(_BAR, int(max(share, with_trip or 0) * _BAR))
    over = ">" if share > 1 else " "
    return f"[{'#' * now}{'/' * (then - now)}{'.' * (_BAR - then)}]{over}"
