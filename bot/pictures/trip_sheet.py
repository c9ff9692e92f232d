"""The checklist of a trip, to be ticked with a pencil while the kit goes into its boxes.

It is A4: that is what a printer at home holds, and the list of a usual trip then stands on one page in type and boxes
that cold hands can use. On A5 it would be two or three pages, of which the last one gets lost.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil

from bot.pictures.paper import (
    A4,
    RULE,
    Block,
    Group,
    Leaf,
    Line,
    Run,
    balanced,
    broken,
    cautioned,
    clipped,
    draw_column,
    footed,
    printed,
    stacked,
    tall,
)
from bot.pictures.sheets import CheckGroup, TripSheet

MARGIN = 18.0
TOP, BOTTOM = 16.0, 22.0
_WIDE = A4[0] - 2 * MARGIN
_HIGH = A4[1] - TOP - BOTTOM
TITLE, HEADING, BODY, SMALL = 20.0, 13.0, 11.5, 9.0
_BETWEEN = 9.0
"""Between two columns."""
TICK = 5.6
_INDENT = TICK + 3
_PAD = 1.1
_PIECE = 20
"""Lines of a box that stay together."""


def draw_trip_sheet(sheet: TripSheet) -> bytes:
    """Return A4 pages as PDF: one column if that fills no more than a page, else two a page."""
    first = [_title(sheet), *cautioned(sheet.cautions, BODY, _WIDE, after=5)]
    later = [_again(sheet)]
    rooms = [_HIGH - stacked(first), _HIGH - stacked(later)]
    for count in (1, 2):
        columns = _columns(_groups(sheet, count), lambda page: rooms[min(page, 1)], count)
        if len(columns) <= count:
            break
    leaves = []
    for page in range(ceil(len(columns) / count)):
        leaves.append(leaf := Leaf())
        head = later if page else first
        draw_column(leaf, head, MARGIN, TOP)
        for number, column in enumerate(columns[page * count : (page + 1) * count]):
            draw_column(leaf, column, MARGIN + number * (_column(count) + _BETWEEN), TOP + stacked(head))
    title = f"{sheet.locker}: {sheet.trip}"
    footed(leaves, title, x=MARGIN, y=A4[1] - BOTTOM + 7, wide=_WIDE, size=SMALL)
    return printed(A4, title, leaves)


def _columns(groups: Sequence[Group], room: Callable[[int], float], count: int) -> list[list[Block]]:
    """Pour the groups, each in one column if that takes no more pages."""
    whole = balanced([replace(group, together=len(group.rows)) for group in groups], room, count)
    broken_up = balanced(groups, room, count)
    return whole if ceil(len(whole) / count) <= ceil(len(broken_up) / count) else broken_up


def _column(count: int) -> float:
    return (_WIDE - (count - 1) * _BETWEEN) / count


def _title(sheet: TripSheet) -> Block:
    lines = clipped(sheet.trip, TITLE, _WIDE, bold=True, most=4)
    under = clipped(f"{sheet.locker} · {sheet.on}", BODY, _WIDE, most=3)
    high = tall(len(lines), TITLE) + 0.5

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.write(lines, x, y, TITLE)
        leaf.write(under, x, y + high, BODY)

    return Block(high + tall(len(under), BODY) + 3, draw)


def _again(sheet: TripSheet) -> Block:
    """Return the title as it stands on the later pages."""
    lines = clipped(f"{sheet.trip} (continued)", HEADING, _WIDE, bold=True, most=2)
    return Block(tall(len(lines), HEADING) + 4, lambda leaf, x, y: leaf.write(lines, x, y, HEADING))


def _groups(sheet: TripSheet, count: int) -> list[Group]:
    wide = _column(count)
    groups = [_group(group, wide) for group in sheet.groups]
    if sheet.notes:
        notes = [block for note in sheet.notes for block in _text(note, wide)]
        groups.append(Group([_heading("Notes", wide)], [_heading("Notes (continued)", wide)], notes))
    return groups


def _group(group: CheckGroup, wide: float) -> Group:
    rows = [block for box in group.boxes for block in _text(box, wide, ticked=True)]
    return Group(
        [_heading(group.title, wide)],
        [_heading(f"{group.title} (continued)", wide)],
        rows or _text(group.empty, wide),
    )


def _heading(text: str, wide: float) -> Block:
    lines = clipped(text, HEADING, wide, bold=True, most=4)
    high = tall(len(lines), HEADING) + 0.5

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.write(lines, x, y, HEADING)
        leaf.rule(x, y + high, wide, RULE)

    return Block(high + 1.6, draw, before=5)


def _text(text: str, wide: float, *, ticked: bool = False) -> list[Block]:
    """Return a text, with a box to tick before its first line, in pieces if it is very long."""
    indent = _INDENT if ticked else 0
    lines = broken([Run(text)], BODY, wide - indent)
    starts = range(0, max(len(lines), 1), _PIECE)
    return [_piece(lines[start : start + _PIECE], indent, ticked=ticked and not start) for start in starts]


def _piece(lines: Sequence[Line], indent: float, *, ticked: bool) -> Block:
    drop = (TICK - tall(1, BODY)) / 2 if ticked else 0
    high = max(tall(len(lines), BODY) + drop, TICK if ticked else 0)

    def draw(leaf: Leaf, x: float, y: float) -> None:
        if ticked:
            leaf.box(x + RULE / 2, y + _PAD, TICK, TICK)
        leaf.write(lines, x + indent, y + _PAD + drop, BODY)

    return Block(high + 2 * _PAD, draw)
