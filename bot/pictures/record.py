"""The service record: A4 pages that a buyer, a technician or an insurer reads. A chapter an item, tables as wide as the page."""

import re
from collections.abc import Sequence
from dataclasses import replace

from bot.pictures.lettering import legible
from bot.pictures.paper import (
    A4,
    HAIR,
    POINT,
    RULE,
    Block,
    Group,
    Leaf,
    Line,
    Run,
    broken,
    clipped,
    draw_column,
    footed,
    poured,
    printed,
    span,
    stacked,
    tall,
    width,
)
from bot.pictures.sheets import Chapter, Section, ServiceRecord

MARGIN = 20.0
TOP, BOTTOM = 18.0, 24.0
_WIDE = A4[0] - 2 * MARGIN
_HIGH = A4[1] - TOP - BOTTOM
TITLE, CHAPTER, SECTION, BODY, SMALL = 20.0, 14.0, 10.5, 9.0, 8.0
_GAP, _WIDEST_GAP = 4.0, 10.0
"""Between two columns of a table: at least, and at most where there is room to spare."""
_PIECE = 30
"""Lines of a row that stay on one page; a taller row goes on over the page break."""
_FIGURES = re.compile(r"[+\-−]?\d[\d.,]*( ?(%|[a-zA-Z]{1,3}))?")
"""What stands flush right: a figure, with its unit."""


def draw_record(record: ServiceRecord) -> bytes:
    """Return A4 pages as PDF, with an outline where there are several chapters."""
    groups = [_opening(record)]
    for chapter in record.chapters:
        groups += _chapter(chapter, marked=len(record.chapters) > 1)
    leaves = []
    for column in poured(groups, lambda _: _HIGH):
        leaves.append(leaf := Leaf())
        leaf.write(clipped(column[0].running, SMALL, _WIDE), MARGIN, TOP - 8, SMALL)
        draw_column(leaf, column, MARGIN, TOP)
    footed(leaves, record.title, x=MARGIN, y=A4[1] - BOTTOM + 8, wide=_WIDE, size=SMALL)
    return printed(A4, record.title, leaves)


def _opening(record: ServiceRecord) -> Group:
    """Return the title, the date, whose it is, and the notes: at the end they might stand on a page of their own."""
    day = broken([Run(record.on)], SECTION, _WIDE)
    dated = Block(tall(len(day), SECTION) + 4, lambda leaf, x, y: leaf.write(day, x, y, SECTION), before=1)
    notes = [block for note in record.notes for block in _row([[Run(note)]], [_WIDE], BODY, pad=0.5)]
    return Group([_words(record.title, TITLE), dated], [], [*_pairs(record.summary, SECTION), *notes])


def _chapter(chapter: Chapter, *, marked: bool) -> list[Group]:
    """Return the facts under the title of the chapter, then its sections; the title is never left alone."""
    title = _heading(chapter.title, CHAPTER, before=9, marked=marked)
    facts = _pairs(chapter.facts, BODY)
    sections = [_running(_section(section), chapter.title) for section in chapter.sections]
    if not sections or stacked(facts) > _HIGH / 3:
        again = [_heading(f"{chapter.title} (continued)", SECTION, before=0)]
        return [Group([title], again, facts), *sections]
    first = sections[0]
    return [Group([title, *facts, *first.head], first.again, first.rows), *sections[1:]]


def _running(section: Group, chapter: str) -> Group:
    """Return a section that names its chapter where it begins or goes on at the top of a page."""
    (head, *heads), (again, *agains) = section.head, section.again
    return Group(
        [replace(head, running=chapter), *heads], [replace(again, running=chapter), *agains], section.rows
    )


def _section(section: Section) -> Group:
    head = [_words(section.title, SECTION, before=5, after=0.8)]
    again = [_words(f"{section.title} (continued)", SECTION, after=0.8)]
    if not section.rows:
        return Group(head, again, _row([[Run(section.empty)]], [_WIDE], BODY, pad=0.4))
    if not section.columns:
        lines = [
            block
            for row in section.rows
            for block in _row([[Run(cell)] for cell in row[:1]], [_WIDE], BODY, pad=0.7, thick=HAIR)
        ]
        return Group(head, again, lines)
    widths, gap = _widths(section)
    flush = [
        all(_FIGURES.fullmatch(row[at].strip()) for row in section.rows if row[at].strip())
        for at in range(len(widths))
    ]
    columns = _row(
        [[Run(c, bold=True)] for c in section.columns],
        widths,
        SMALL,
        pad=0.9,
        thick=RULE,
        flush=flush,
        gap=gap,
    )
    rows = [
        block
        for row in section.rows
        for block in _row(
            [[Run(cell)] for cell in row], widths, BODY, pad=0.9, thick=HAIR, flush=flush, gap=gap
        )
    ]
    return Group([*head, *columns], [*again, *columns], rows)


def _widths(section: Section) -> tuple[list[float], float]:
    """Return the width of each column and of the gaps: as wide as the cells, long ones giving way, together the page.

    No column is given less than its longest word needs, as far as that is to be had.
    """
    table = [[legible(cell) for cell in row] for row in section.rows]
    heads = [legible(name) for name in section.columns]
    room = _WIDE - _GAP * (len(heads) - 1)
    least, full = [], []
    for at, name in enumerate(heads):
        cells = {row[at] for row in table}
        said = width(name, SMALL, bold=True)
        words = {word for cell in cells for word in cell.split(" ")}
        named = max((width(word, SMALL, bold=True) for word in name.split(" ")), default=0)
        longest = max(width(word, BODY) for word in words)
        least.append(min(max(longest, named), room / 3) + 0.1)
        full.append(max(min(max(width(cell, BODY) for cell in cells), room), said, least[-1]) + 0.1)
    if sum(full) <= room:
        more = min((room - sum(full)) / len(full), _WIDEST_GAP - _GAP)
        return [*full[:-1], room - sum(full[:-1]) - more * (len(full) - 1)], _GAP + more
    if sum(least) >= room:
        return [one * room / sum(least) for one in least], _GAP
    return _shared(least, full, room - sum(least)), _GAP


def _shared(least: list[float], full: list[float], spare: float) -> list[float]:
    """Give the spare room out in equal parts, to none more than it can use, so that short columns are whole first."""
    widths = list(least)
    wanting = sorted(range(len(least)), key=lambda at: full[at] - least[at])
    for number, at in enumerate(wanting):
        given = min(full[at] - least[at], spare / (len(wanting) - number))
        widths[at] += given
        spare -= given
    return widths


def _row(
    cells: Sequence[Sequence[Run]],
    widths: Sequence[float],
    size: float,
    *,
    pad: float,
    thick: float = 0,
    flush: Sequence[bool] = (),
    gap: float = _GAP,
) -> list[Block]:
    """Return a row with a rule below it (none if `thick` is 0), in pieces if it is very tall."""
    lines = [broken(cell, size, room) for cell, room in zip(cells, widths, strict=True)]
    most = max(1, *(len(some) for some in lines)) if lines else 1
    starts = range(0, most, _PIECE)
    return [
        _piece(
            [some[start : start + _PIECE] for some in lines],
            widths,
            size,
            pad=pad,
            thick=thick if start == starts[-1] else 0,
            flush=flush,
            gap=gap,
        )
        for start in starts
    ]


def _piece(
    lines: Sequence[Sequence[Line]],
    widths: Sequence[float],
    size: float,
    *,
    pad: float,
    thick: float,
    flush: Sequence[bool],
    gap: float,
) -> Block:
    high = tall(max(len(some) for some in lines), size) + 2 * pad

    def draw(leaf: Leaf, x: float, y: float) -> None:
        at = x
        for number, (some, room) in enumerate(zip(lines, widths, strict=True)):
            for below, line in enumerate(some):
                shift = room - span(line, size) if flush and flush[number] else 0
                leaf.write([line], at + shift, y + pad + tall(below, size), size)
            at += room + gap
        if thick:
            leaf.rule(x, y + high, _WIDE, thick)

    return Block(high, draw)


def _pairs(pairs: Sequence[tuple[str, str]], size: float) -> list[Block]:
    """Return names and values side by side."""
    names = max((width(legible(name), size) for name, _ in pairs), default=0)
    left = min(names + 0.1, _WIDE / 3) + 2
    widths = [left, _WIDE - left - _GAP]
    return [
        block
        for name, value in pairs
        for block in _row([[Run(name)], [Run(value, bold=True)]], widths, size, pad=0.25)
    ]


def _words(text: str, size: float, *, before: float = 0, after: float = 0) -> Block:
    """Return a heading; one that is longer than six lines is cut."""
    lines = clipped(text, size, _WIDE, bold=True, most=6)
    return Block(
        tall(len(lines), size) + after, lambda leaf, x, y: leaf.write(lines, x, y, size), before=before
    )


def _heading(text: str, size: float, *, before: float, marked: bool = False) -> Block:
    """Return a heading over a rule, with a line in the outline if it is marked."""
    lines = clipped(text, size, _WIDE, bold=True, most=6)
    high = tall(len(lines), size) + 0.15 * size * POINT

    def draw(leaf: Leaf, x: float, y: float) -> None:
        if marked:
            leaf.bookmark(text, y)
        leaf.write(lines, x, y, size)
        leaf.rule(x, y + high, _WIDE, RULE)

    return Block(high + 1.6, draw, before=before)
