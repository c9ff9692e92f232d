"""What all papers share: letters measured and broken into lines, blocks poured into columns, the PDF made of them.

Lengths are millimetres, sizes of type are points, y runs down the page. Whatever is written passes through `legible`
where it is broken into lines, so that nothing else can reach a page. Paper is black on white.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import cache, partial
from typing import NamedTuple

from fontTools.ttLib import TTFont
from fpdf import FPDF
from fpdf.fonts import TTFFont

from bot.pictures.lettering import font_file, legible

A4 = (210.0, 297.0)
A5 = (148.0, 210.0)
"""Width and height by ISO 216."""
POINT = 25.4 / 72
LEADING = 1.24
"""From one baseline to the next, in sizes of type."""
_ASCENT = 0.95
"""From the top of a line to its baseline."""
HAIR = 0.12
RULE = 0.5
_FAMILY = "letters"
_UNDATED = datetime(2000, 1, 1, tzinfo=UTC)
"""The library insists on a date of making. The same sheet must give the same bytes, and its own date stands on it."""


class Run(NamedTuple):
    """Words of one weight."""

    text: str
    bold: bool = False


Line = tuple[Run, ...]


@cache
def _advances(*, bold: bool) -> dict[int, int]:
    """Return the advance of each character in thousandths of the size."""
    with TTFont(font_file(bold=bold)) as font:
        metrics, unit = font["hmtx"].metrics, font["head"].unitsPerEm
        return {code: round(1000 * metrics[name][0] / unit) for code, name in font.getBestCmap().items()}


def width(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a text is that is legible already."""
    advances = _advances(bold=bold)
    return sum(map(advances.__getitem__, map(ord, text))) * size * POINT / 1000


def tall(lines: int, size: float) -> float:
    """Return the height of so many lines."""
    return lines * size * LEADING * POINT


def broken(runs: Iterable[Run], size: float, room: float) -> list[Line]:
    """Break runs into lines no wider than `room`, between words, or within a word that is too wide alone.

    Runs follow each other with a space between. No words give no lines.
    """
    plain = [run for text, bold in runs if (run := Run(legible(text), bold)).text]
    lines: list[list[Run]] = [[]]
    left = room
    for text, bold in plain:
        space = width(" ", size, bold=bold)
        for word in text.split(" "):
            wide = width(word, size, bold=bold)
            if lines[-1] and space + wide > left:
                lines.append([])
                left = room
            pieces = [word] if wide <= room else _pieces(word, size, room, bold=bold)
            for piece in pieces:
                if piece is not pieces[0]:
                    lines.append([])
                    left = room
                left -= width(piece, size, bold=bold) + (space if lines[-1] else 0)
                _join(lines[-1], piece, bold=bold)
    return [tuple(line) for line in lines if line]


def _join(line: list[Run], word: str, *, bold: bool) -> None:
    """Put a word at the end of a line; the space belongs to the run before it."""
    if line and line[-1].bold == bold:
        line[-1] = Run(f"{line[-1].text} {word}", bold)
        return
    if line:
        line[-1] = Run(line[-1].text + " ", line[-1].bold)
    line.append(Run(word, bold))


def _pieces(word: str, size: float, room: float, *, bold: bool) -> list[str]:
    """Cut a word wherever a line is full."""
    pieces = [""]
    left = room
    for char in word:
        wide = width(char, size, bold=bold)
        if wide > left and pieces[-1]:
            pieces.append("")
            left = room
        pieces[-1] += char
        left -= wide
    return pieces


def clipped(text: str, size: float, room: float, *, bold: bool = False, most: int = 1) -> list[Line]:
    """Return at most so many lines of a text; one that has more ends in an ellipsis."""
    lines = broken([Run(text, bold)], size, room)
    if len(lines) <= most:
        return lines
    end = lines[most - 1][0].text
    while width(end + "…", size, bold=bold) > room:
        end = end[:-1]
    return [*lines[: most - 1], (Run(end.rstrip() + "…", bold),)]


def span(line: Line, size: float) -> float:
    """Return how wide a line is."""
    return sum(width(text, size, bold=bold) for text, bold in line)


@dataclass
class Leaf:
    """A page while it is laid out: what is drawn on it, in order."""

    _ink: list[Callable[[FPDF], None]] = field(default_factory=list)

    def write(self, lines: Iterable[Line], x: float, y: float, size: float) -> None:
        """Write lines one below the other; `y` is the top of the first."""
        for number, line in enumerate(lines):
            base = y + tall(number, size) + _ASCENT * size * POINT
            at = x
            for text, bold in line:
                self._ink.append(partial(_letters, text=text, bold=bold, size=size, x=at, y=base))
                at += width(text, size, bold=bold)

    def rule(self, x: float, y: float, wide: float, thick: float = HAIR) -> None:
        """Draw a level rule."""
        self._ink.append(partial(_rule, x=x, y=y, wide=wide, thick=thick))

    def box(
        self, x: float, y: float, wide: float, high: float, *, thick: float = RULE, round_: float = 0
    ) -> None:
        """Draw an empty box, its corners rounded by a radius."""
        self._ink.append(partial(_box, x=x, y=y, wide=wide, high=high, thick=thick, round_=round_))

    def ring(self, x: float, y: float, across: float) -> None:
        """Draw an empty ring by its centre."""
        self._ink.append(partial(_ring, x=x, y=y, across=across))

    def diamond(self, x: float, y: float, across: float) -> None:
        """Draw a full diamond by its centre."""
        half = across / 2
        self._full((x, y - half), (x + half, y), (x, y + half), (x - half, y))

    def warning(self, x: float, y: float, high: float) -> None:
        """Draw a full triangle with an exclamation mark left out of it, by its upper left corner."""
        wide = 1.1 * high
        self._full((x + wide / 2, y), (x + wide, y + high), (x, y + high))
        middle, thick = x + wide / 2, high / 9
        bar, dot = (0.36, 0.7), (0.77, 0.9)
        for top, foot in (bar, dot):
            upper, lower = y + top * high, y + foot * high
            left, right = middle - thick / 2, middle + thick / 2
            self._full((left, upper), (right, upper), (right, lower), (left, lower), white=True)

    def _full(self, *corners: tuple[float, float], white: bool = False) -> None:
        self._ink.append(partial(_full, corners=corners, white=white))

    def bookmark(self, text: str, y: float) -> None:
        """Put a line in the outline of the document."""
        self._ink.append(partial(_bookmark, text=legible(text), y=y))

    def print_on(self, pdf: FPDF) -> None:
        """Draw all of it on the page that is open."""
        for mark in self._ink:
            mark(pdf)


def _letters(pdf: FPDF, *, text: str, bold: bool, size: float, x: float, y: float) -> None:
    pdf.set_font(_FAMILY, "B" if bold else "", size)
    pdf.text(x, y, text)


def _rule(pdf: FPDF, *, x: float, y: float, wide: float, thick: float) -> None:
    pdf.set_line_width(thick)
    pdf.line(x, y, x + wide, y)


def _box(pdf: FPDF, *, x: float, y: float, wide: float, high: float, thick: float, round_: float) -> None:
    pdf.set_line_width(thick)
    pdf.rect(x, y, wide, high, round_corners=bool(round_), corner_radius=round_)


def _ring(pdf: FPDF, *, x: float, y: float, across: float) -> None:
    thick = across / 6
    pdf.set_line_width(thick)
    pdf.circle(x, y, (across - thick) / 2)


def _full(pdf: FPDF, *, corners: Sequence[tuple[float, float]], white: bool) -> None:
    with pdf.local_context(fill_color=255 if white else 0):
        pdf.polygon(corners, style="F")


def _bookmark(pdf: FPDF, *, text: str, y: float) -> None:
    pdf.set_y(y)
    pdf.start_section(text)


@dataclass(frozen=True)
class Block:
    """What stays in one piece; it draws itself with its upper left corner where it is told."""

    height: float
    draw: Callable[[Leaf, float, float], None]
    before: float = 0
    """Space above it, which falls away at the top of a column."""
    running: str = ""
    """What stands over a page that begins with it."""


@dataclass(frozen=True)
class Group:
    """Blocks under one heading, which never stands at the foot of a column without the first of them."""

    head: Sequence[Block]
    again: Sequence[Block]
    """The heading over what goes on in the next column."""
    rows: Sequence[Block]
    together: int = 2
    """So many rows follow the heading in the same column, if there are so many."""


def stacked(blocks: Sequence[Block]) -> float:
    """Return the height of blocks one below the other at the top of a column."""
    return sum(b.before + b.height for b in blocks) - (blocks[0].before if blocks else 0)


def poured(groups: Iterable[Group], room: Callable[[int], float]) -> list[list[Block]]:
    """Pour groups into columns; `room` gives the height of the column of a number, the first is 0.

    A block that is higher than its column stands in it alone.
    """
    columns: list[list[Block]] = [[]]
    left = room(0)

    def begin(blocks: Sequence[Block]) -> None:
        nonlocal left
        columns.append([])
        left = room(len(columns) - 1)
        put(blocks)

    def put(blocks: Sequence[Block]) -> None:
        nonlocal left
        left -= needs(blocks)
        columns[-1].extend(blocks)

    def needs(blocks: Sequence[Block]) -> float:
        return stacked(blocks) + (blocks[0].before if blocks and columns[-1] else 0)

    for group in groups:
        start = [*group.head, *group.rows[: group.together]]
        if columns[-1] and needs(start) > left:
            begin(())
        put(group.head)
        for at, row in enumerate(group.rows):
            held = group.rows[at:] if at == len(group.rows) - 2 else [row]  # the last row is not left alone
            if needs(held) > left and columns[-1] not in ([], list(group.head), list(group.again)):
                begin(group.again)
            put([row])
    return columns


def balanced(groups: Sequence[Group], room: Callable[[int], float], count: int) -> list[list[Block]]:
    """Pour groups into `count` columns a page, those of the last page about as high as each other.

    `room` gives the height of the columns of a page, the first is 0.
    """
    best = poured(groups, lambda column: room(column // count))
    last = (len(best) - 1) // count
    low, high = 0.0, room(last)
    while count > 1 and high - low > 1:
        middle = (low + high) / 2
        tried = poured(groups, partial(_lowered, room=room, count=count, last=last, to=middle))
        if len(tried) <= (last + 1) * count and all(stacked(c) <= room(last) for c in tried[last * count :]):
            best, high = tried, middle
        else:
            low = middle
    return best


def _lowered(column: int, *, room: Callable[[int], float], count: int, last: int, to: float) -> float:
    page = column // count
    return room(page) if page < last else to


def cautioned(cautions: Sequence[str], size: float, wide: float, after: float) -> list[Block]:
    """Return the frame with the sign and all cautions, and the space after it; nothing where there are none."""
    if not cautions:
        return []
    sign = 2.1 * size * POINT
    pad = 0.5 * size * POINT
    indent = 2 * pad + 1.1 * sign
    lines = [broken([Run(text)], size, wide - indent - pad) for text in cautions]
    gap = 0.25 * size * POINT
    inner = max(sum(tall(len(some), size) + gap for some in lines) - gap, sign)

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.box(x, y, wide, inner + 2 * pad, thick=2 * RULE, round_=1.5)
        leaf.warning(x + pad, y + pad, sign)
        at = y + pad
        for some in lines:
            leaf.write(some, x + indent, at, size)
            at += tall(len(some), size) + gap

    return [Block(inner + 2 * pad + after, draw)]


def draw_column(leaf: Leaf, blocks: Sequence[Block], x: float, y: float) -> None:
    """Draw blocks one below the other."""
    at = y - (blocks[0].before if blocks else 0)
    for block in blocks:
        at += block.before
        block.draw(leaf, x, at)
        at += block.height


def footed(leaves: Sequence[Leaf], title: str, *, x: float, y: float, wide: float, size: float) -> None:
    """Write the title and "2 of 7" at the foot of each page, over a rule."""
    for number, leaf in enumerate(leaves, 1):
        count = broken([Run(f"{number} of {len(leaves)}")], size, wide)
        taken = span(count[0], size)
        leaf.rule(x, y, wide)
        leaf.write(clipped(title, size, wide - taken - 6), x, y + 1.4, size)
        leaf.write(count, x + wide - taken, y + 1.4, size)


def printed(paper: tuple[float, float], title: str, leaves: Iterable[Leaf]) -> bytes:
    """Return the PDF: text that can be selected, letters embedded, nothing in it that the clock decides."""
    pdf = FPDF(unit="mm", format=paper)
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    for style in ("", "B"):
        pdf.add_font(_FAMILY, style, font_file(bold=bool(style)))
    pdf.set_title(legible(title))
    pdf.set_lang("en")
    pdf.set_creation_date(_UNDATED)
    for leaf in leaves:
        pdf.add_page()
        leaf.print_on(pdf)
    made = bytes(pdf.output())
    for font in pdf.fonts.values():
        if isinstance(font, TTFFont):
            font.ttfont.close()  # the library leaves the file open
    return made
