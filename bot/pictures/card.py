"""The pocket card: one A5 page for the boat, laminated, in black and white.

Nothing hangs on a shade: a part that touches breathing gas has a full diamond, one that nothing goes on an empty ring
and the word in capitals. The type is as large as the page allows.
"""

import re
from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from io import BytesIO
from threading import Lock

import pypdfium2

from bot.pictures.paper import (
    A5,
    POINT,
    RULE,
    Block,
    Group,
    Leaf,
    Run,
    balanced,
    broken,
    cautioned,
    clipped,
    draw_column,
    printed,
    span,
    stacked,
    tall,
)
from bot.pictures.sheets import CardItem, CardLine, PocketCard

MARGIN = 9.0
"""Kept free all round: laminating needs a rim, and corners are rounded."""
LARGEST, FLOOR, STEP = 13.0, 6.0, 0.25
_CONCESSION = 3
"""Steps of type given up at most so that no item is broken over two columns."""
PICTURE = 1240
"""Width of the picture in pixels: A5 at about 213 to the inch."""
_WIDE = A5[0] - 2 * MARGIN
_HIGH = A5[1] - 2 * MARGIN
_BETWEEN = 5.0
"""Between two columns."""
_GREYS = 16
"""Shades at the edges of letters in the picture, which four bits hold."""

_ALONE = Lock()
"""The rasteriser bears one thread at a time."""


def draw_card(card: PocketCard) -> bytes:
    """Return one A5 page as PDF.

    Where not even the smallest type holds all, parts away from breathing gas are left out first, the last ones before
    others, then whole items from the end; the card says how many. Raises ValueError if its cautions and notes alone are
    more than a page.
    """
    leaf = Leaf()
    _fitted(card).draw(leaf)
    return printed(A5, f"What goes on each part: {card.locker}", [leaf])


def draw_card_picture(card: PocketCard) -> bytes:
    """Return the page as a PNG in shades of grey."""
    made = draw_card(card)
    with _ALONE, closing(pypdfium2.PdfDocument(made)) as document:
        page = document[0]
        drawn = page.render(scale=PICTURE / page.get_width(), grayscale=True).to_pil()
    shades = drawn.point([value * _GREYS // 256 for value in range(256)])
    shades.putpalette([shade * 255 // (_GREYS - 1) for shade in range(_GREYS) for _ in "rgb"])
    out = BytesIO()
    shades.save(out, "PNG", bits=4)
    return out.getvalue()


@dataclass(frozen=True)
class _Page:
    """A card laid out: it fits if `columns` are no more than were asked for and none is too high."""

    head: Sequence[Block]
    columns: Sequence[Sequence[Block]]
    foot: Sequence[Block]
    count: int
    size: float

    @property
    def room(self) -> float:
        return _HIGH - stacked(self.head) - stacked(self.foot)

    def fits(self) -> bool:
        return len(self.columns) <= self.count and all(stacked(c) <= self.room for c in self.columns)

    def draw(self, leaf: Leaf) -> None:
        draw_column(leaf, self.head, MARGIN, MARGIN)
        top = MARGIN + stacked(self.head)
        step = (_WIDE + _BETWEEN) / self.count
        for number, column in enumerate(self.columns):
            draw_column(leaf, column, MARGIN + number * step, top)
        draw_column(leaf, self.foot, MARGIN, A5[1] - MARGIN - stacked(self.foot))


def _fitted(card: PocketCard) -> _Page:
    """Return the page in the largest type that holds all, or with what the smallest can hold."""

    def sized(step: int) -> _Page | None:
        return _either(card, card.items, 0, LARGEST - step * STEP)

    def thinned(step: int) -> _Page | None:
        items, left_out = _thinned(card.items, step)
        return _either(card, items, left_out, FLOOR)

    page = _first(sized, round((LARGEST - FLOOR) / STEP))
    if page:
        return next(_unbroken(card, page), page)
    page = _first(thinned, _lines(card.items))
    if page is None:
        raise ValueError("cautions and notes are more than a page")
    return page


def _unbroken(card: PocketCard, page: _Page) -> Iterator[_Page]:
    """Give the pages on which each item stands in one column, in type that is hardly smaller."""
    for step in range(_CONCESSION + 1):
        size = page.size - step * STEP
        if page.count > 1 and size >= FLOOR:
            whole = _laid_out(card, card.items, 0, size=size, count=page.count, whole=True)
            if whole.fits():
                yield whole


def _either(card: PocketCard, items: tuple[CardItem, ...], left_out: int, size: float) -> _Page | None:
    """Return the page in one column if that fits, else in two, else None."""
    for count in (1, 2):
        page = _laid_out(card, items, left_out, size=size, count=count)
        if page.fits():
            return page
    return None


def _first(page_of: Callable[[int], _Page | None], last: int) -> _Page | None:
    """Return the page of the first step that has one; the later ones hold less or are smaller."""
    step = bisect_left(range(last + 1), True, key=lambda step: page_of(step) is not None)
    return page_of(step) if step <= last else None


def _lines(items: tuple[CardItem, ...]) -> int:
    return sum(len(item.lines) for item in items)


def _thinned(items: tuple[CardItem, ...], steps: int) -> tuple[tuple[CardItem, ...], int]:
    """Return what is left after so many steps, and the count of parts that are gone.

    A step takes the last part that does not touch gas; when none is left, the last item.
    """
    spare = sum(not line.gas for item in items for line in item.lines)
    left = _without(items, max(spare - steps, 0))
    if steps > spare:
        left = left[: max(len(left) - (steps - spare), 0)]
    return left, _lines(items) - _lines(left)


def _without(items: tuple[CardItem, ...], spare: int) -> tuple[CardItem, ...]:
    """Return the items with all lines that touch gas and the first `spare` of the others."""
    found = []
    for item in items:
        lines = []
        for line in item.lines:
            if line.gas or spare > 0:
                lines.append(line)
            spare -= not line.gas
        if lines:
            found.append(CardItem(name=item.name, lines=tuple(lines)))
    return tuple(found)


def _laid_out(
    card: PocketCard,
    items: tuple[CardItem, ...],
    left_out: int,
    *,
    size: float,
    count: int,
    whole: bool = False,
) -> _Page:
    head = [
        *_title(card),
        *cautioned(card.cautions, size, _WIDE, after=0.8 * size * POINT),
        *_legend(items, size),
    ]
    foot = _foot(card, left_out, size)
    room = _HIGH - stacked(head) - stacked(foot)
    wide = (_WIDE - (count - 1) * _BETWEEN) / count
    gas = any(line.gas for item in items for line in item.lines)
    nevers = any(line.never for item in items for line in item.lines)
    groups = [_group(item, size, wide, aside=count == 1, gas=gas, nevers=nevers) for item in items]
    if whole:
        groups = [replace(group, together=len(group.rows)) for group in groups]
    return _Page(head, balanced(groups, lambda _: room, count), foot, count, size)


def _title(card: PocketCard) -> list[Block]:
    name, small = 16.0, 9.5
    day = broken([Run(card.on)], small, _WIDE / 2)
    lines = clipped(card.locker, name, _WIDE, bold=True, most=2)
    under = tall(len(lines), name)

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.write(lines, x, y, name)
        leaf.write(broken([Run("What goes on each part")], small, _WIDE / 2), x, y + under, small)
        for line in day[:1]:
            leaf.write([line], x + _WIDE - span(line, small), y + under, small)

    return [Block(under + tall(1, small) + 1.8, draw)]


def _legend(items: tuple[CardItem, ...], size: float) -> list[Block]:
    """Return the line that gives each mark its word; only marks that stand on the card."""
    lines = [line for item in items for line in item.lines]
    marks: list[tuple[Callable[[Leaf, float, float, float], None], str]] = []
    if any(line.gas for line in lines):
        marks.append((Leaf.diamond, "touches breathing gas"))
    if any(line.bare for line in lines):
        marks.append((Leaf.ring, "nothing goes on it"))
    if not marks:
        return []

    def draw(leaf: Leaf, x: float, y: float) -> None:
        for mark, word in marks:
            said = broken([Run(word, bold=True)], size, _WIDE)
            mark(leaf, x + _across(size) / 2, y + tall(1, size) / 2, _across(size))
            leaf.write(said, x + _gutter(size), y, size)
            x += _gutter(size) + span(said[0], size) + 2 * size * POINT

    return [Block(tall(1, size) + 0.6 * size * POINT, draw)]


def _foot(card: PocketCard, left_out: int, size: float) -> list[Block]:
    texts = [Run(text) for text in card.notes]
    if left_out:
        parts = "part" if left_out == 1 else "parts"
        texts.insert(0, Run(f"{left_out} more {parts}: ask the bot", bold=True))
    lines = [line for text in texts for line in broken([text], size, _WIDE)]
    if not lines:
        return []

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.rule(x, y + 1.5, _WIDE, RULE)
        leaf.write(lines, x, y + 2.3, size)

    return [Block(tall(len(lines), size) + 2.3, draw)]


def _across(size: float) -> float:
    """Return how large a mark is."""
    return 0.86 * size * POINT


def _gutter(size: float) -> float:
    """Return the width in which a mark stands."""
    return 1.25 * size * POINT


def _group(item: CardItem, size: float, wide: float, *, aside: bool, gas: bool, nevers: bool) -> Group:
    """Return the lines of an item under its name, those that touch gas first."""
    lines = sorted(item.lines, key=lambda line: not line.gas)
    rows = [
        _beside(line, size, wide, gas=gas, nevers=nevers) if aside else _below(line, size, wide)
        for line in lines
    ]
    return Group([_name(item.name, size, wide)], [_name(f"{item.name} (continued)", size, wide)], rows)


def _name(name: str, size: float, wide: float) -> Block:
    large = 1.15 * size
    lines = broken([Run(name, bold=True)], large, wide)
    high = tall(len(lines), large) + 0.1 * size * POINT

    def draw(leaf: Leaf, x: float, y: float) -> None:
        leaf.write(lines, x, y, large)
        leaf.rule(x, y + high, wide, RULE)

    return Block(high, draw, before=0.75 * size * POINT)


def _answer(line: CardLine, after: str) -> list[Run]:
    """Return what goes on a part, and how much; NOTHING stands first and alone in bold, even if the words lack it.

    `after` is what follows in the same cell.
    """
    amount = Run(_stopped(line.how_much, after))
    more = line.how_much or after
    if not line.bare:
        return [Run(_stopped(line.put[:1].upper() + line.put[1:], more), bold=True), amount]
    rest = re.sub(r"^nothing\b[\s:,;.]*", "", line.put.strip(), flags=re.IGNORECASE)
    nothing = "NOTHING:" if rest else _stopped("NOTHING", more)
    return [Run(nothing, bold=True), Run(_stopped(rest, more)), amount]


def _never(line: CardLine) -> list[Run]:
    """Return what must not go on it, with the word "never" whatever the words are."""
    rest = re.sub(r"^never\b[\s:]*", "", line.never.strip(), flags=re.IGNORECASE)
    return [Run("Never", bold=True), Run(rest)] if rest else []


def _stopped(text: str, following: str) -> str:
    """Return the text with a full stop where more follows, so that no two sentences run into one."""
    return f"{text}." if text and following and not text.endswith((".", "!", ":", ";")) else text


def _beside(line: CardLine, size: float, wide: float, *, gas: bool, nevers: bool) -> Block:
    """Return a line over the whole width: part, what goes on it, what never."""
    gutter, gap = _gutter(size), 0.8 * size * POINT
    first = gutter if gas else 0
    plain = wide - first - gutter - gap * (2 if nevers else 1)
    shares = (0.31, 0.42, 0.27) if nevers else (0.38, 0.62, 0)
    room = [share * plain for share in shares]
    part = broken([Run(line.part)], size, room[0])
    put = broken(_answer(line, ""), size, room[1])
    never = broken(_never(line), size, room[2]) if nevers else []
    pad = 0.22 * size * POINT
    second = first + room[0] + gap

    def draw(leaf: Leaf, x: float, y: float) -> None:
        middle = y + pad + tall(1, size) / 2
        if line.gas:
            leaf.diamond(x + _across(size) / 2, middle, _across(size))
        if line.bare:
            leaf.ring(x + second + _across(size) / 2, middle, _across(size))
        leaf.write(part, x + first, y + pad, size)
        leaf.write(put, x + second + gutter, y + pad, size)
        leaf.write(never, x + second + gutter + room[1] + gap, y + pad, size)
        leaf.rule(x, y + high, wide)

    high = tall(max(len(part), len(put), len(never)), size) + 2 * pad
    return Block(high, draw)


def _below(line: CardLine, size: float, wide: float) -> Block:
    """Return a line in a narrow column: the part, and below it what goes on it and what never."""
    gutter = _gutter(size)
    room = wide - gutter
    part = broken([Run(line.part)], size, room)
    answer = broken([*_answer(line, line.never), *_never(line)], size, room)
    pad = 0.2 * size * POINT

    def draw(leaf: Leaf, x: float, y: float) -> None:
        centre, half = x + _across(size) / 2, tall(1, size) / 2
        below = y + pad + tall(len(part), size)
        if line.gas:
            leaf.diamond(centre, y + pad + half, _across(size))
        if line.bare:
            leaf.ring(centre, below + half, _across(size))
        leaf.write(part, x + gutter, y + pad, size)
        leaf.write(answer, x + gutter, below, size)
        leaf.rule(x, y + high, wide)

    high = tall(len(part) + len(answer), size) + 2 * pad
    return Block(high, draw)
