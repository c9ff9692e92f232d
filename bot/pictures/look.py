"""What pictures and papers are painted with: colours by day and by night, letters, and the shape of each mark."""

import math
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from PIL import Image, ImageDraw, ImageFont

from bot.pictures.lettering import font_file
from bot.pictures.sheets import Mark

Colour = tuple[int, int, int]
"""Red, green and blue of sRGB, each 0 to 255."""

FINER = 4
"""Shapes are drawn this much larger and shrunk, which smooths their edges."""


@dataclass(frozen=True, eq=False)
class Look:
    """One set of paints. Inks are for letters on the ground named with them."""

    ground: Colour
    ink: Colour
    soft: Colour
    """Ink of what is read second, on the ground."""
    plate: Colour
    """The painted board that the name and the answer stand on."""
    plate_ink: Colour
    plate_soft: Colour
    band: Colour
    """Behind the name of an item, and the water at the foot."""
    band_ink: Colour
    trough: Colour
    """The empty part of a scale."""
    edge: Colour
    """The outline of a scale, and its ticks."""
    marks: Mapping[Mark, Colour]
    """For shapes and words on the ground, and for what fills a scale."""

    def letters(self) -> tuple[tuple[Colour, Colour], ...]:
        """Return each ink that letters and shapes are drawn in, with the paint below it."""
        return (
            (self.ink, self.ground),
            (self.soft, self.ground),
            *((ink, self.ground) for ink in self.marks.values()),
            (self.plate_ink, self.plate),
            (self.plate_soft, self.plate),
            (self.band_ink, self.band),
        )


LIGHT = Look(
    ground=(251, 248, 240),
    ink=(16, 30, 38),
    soft=(58, 72, 80),
    plate=(20, 52, 64),
    plate_ink=(251, 248, 240),
    plate_soft=(196, 219, 222),
    band=(221, 226, 219),
    band_ink=(16, 30, 38),
    trough=(255, 255, 255),
    edge=(84, 100, 108),
    marks=MappingProxyType(
        {
            Mark.OVERDUE: (150, 0, 40),
            Mark.DUE: (132, 68, 0),
            Mark.TRIP: (26, 46, 166),
            Mark.SOON: (49, 45, 73),
            Mark.UNKNOWN: (120, 46, 130),
            Mark.FINE: (0, 92, 86),
        }
    ),
)

DARK = Look(
    ground=(13, 25, 31),
    ink=(240, 243, 236),
    soft=(182, 198, 202),
    plate=(28, 62, 75),
    plate_ink=(251, 248, 240),
    plate_soft=(200, 224, 228),
    band=(32, 48, 56),
    band_ink=(240, 243, 236),
    trough=(4, 10, 14),
    edge=(138, 158, 166),
    marks=MappingProxyType(
        {
            Mark.OVERDUE: (255, 127, 96),
            Mark.DUE: (255, 202, 48),
            Mark.TRIP: (129, 164, 255),
            Mark.SOON: (177, 156, 181),
            Mark.UNKNOWN: (216, 210, 255),
            Mark.FINE: (102, 238, 188),
        }
    ),
)


@dataclass(frozen=True)
class Hand:
    """How letters are written: their size in pixels, ink and weight, and what is below them."""

    size: int
    ink: Colour
    ground: Colour
    bold: bool = False

    @property
    def font(self) -> ImageFont.FreeTypeFont:
        return _font(self.size, bold=self.bold)

    @property
    def pitch(self) -> int:
        """How far apart lines stand."""
        return round(1.15 * self.size)

    @property
    def base(self) -> int:
        """How far below the top of its line a letter stands."""
        return round(0.9 * self.size)

    @property
    def middle(self) -> int:
        """How far below the top of its line the middle of a capital is, which is 0.69 of the size high."""
        return self.base - round(0.345 * self.size)

    def overhang(self, text: str) -> int:
        """Return how far the first letter reaches back beyond where it is set."""
        return max(0, -math.floor(self.font.getbbox(text, anchor="ls")[0]))

    def length(self, text: str) -> int:
        """Return how much room the text takes, with what hangs over on both sides."""
        left, _, right, _ = self.font.getbbox(text, anchor="ls")
        return math.ceil(max(right, self.font.getlength(text))) - min(0, math.floor(left))


def wrapped(text: str, hand: Hand, room: int, *, most: int) -> list[str]:
    """Return the text in at most that many lines, none longer than the room; "…" says that some was cut off."""
    lines: list[str] = []
    left = text.split()
    while left and len(lines) < most:
        line = left.pop(0)
        fits = _fitting(line, hand, room)
        if fits < len(line):
            left.insert(0, line[fits:])
            line = line[:fits]
        else:
            while left and hand.length(f"{line} {left[0]}") <= room:
                line += f" {left.pop(0)}"
        lines.append(line)
    if left:
        line = lines[-1]
        lines[-1] = line[: _fitting(line, hand, room - hand.length("…"))].rstrip(" ,;:.-–—") + "…"
    return lines


def _fitting(text: str, hand: Hand, room: int) -> int:
    """Return how many letters go in the room, at least one."""
    if hand.length(text) <= room:
        return len(text)
    return bisect_right(range(2, len(text) + 1), room, key=lambda count: hand.length(text[:count])) + 1


@cache
def _font(size: int, *, bold: bool) -> ImageFont.FreeTypeFont:
    # The other layout engine is not on every machine, and sets letters a little differently.
    path = str(font_file(bold=bold))
    return ImageFont.truetype(path, size, layout_engine=ImageFont.Layout.BASIC)


def contrast(one: Colour, other: Colour) -> float:
    """Return the contrast ratio of two colours, from 1 (the same) to 21 (black and white).

    WCAG 2.1, definition "contrast ratio": (L1 + 0.05) / (L2 + 0.05), L1 being the lighter one's relative luminance.
    """
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def luminance(colour: Colour) -> float:
    """Return the brightness of a colour, from 0 (black) to 1 (white): WCAG 2.1, definition "relative luminance".

    The step at 0.04045 is that of the text since May 2021; it was 0.03928, which changes nothing for whole numbers.
    """
    red, green, blue = (_linear(part / 255) for part in colour)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


@cache
def paints(look: Look) -> Image.Image:
    """Return an image whose palette holds every paint, and the steps between each ink and what is below it.

    Steps nearer than 8 to another entry are left out: Pillow matches in cells of 4 and would take one for the other.
    """
    edges = (*look.letters(), *((ink, look.trough) for ink in look.marks.values()), (look.band, look.ground))
    wanted = [look.trough, look.edge, *(paint for edge in edges for paint in edge)]
    wanted += [_mixed(ink, under, step / 14) for ink, under in edges for step in range(1, 14)]
    kept: list[Colour] = []
    for paint in wanted:
        if all(max(abs(a - b) for a, b in zip(paint, other, strict=True)) >= 8 for other in kept):
            kept.append(paint)
    palette = Image.new("P", (1, 1))
    palette.putpalette([part for paint in kept for part in paint])
    return palette


def _mixed(one: Colour, other: Colour, share: float) -> Colour:
    red, green, blue = (round(a * share + b * (1 - share)) for a, b in zip(one, other, strict=True))
    return red, green, blue


@cache
def shape(mark: Mark, side: int) -> Image.Image:
    """Return the shape of a mark: 255 where it is painted."""
    mask = Image.new("L", (side * FINER, side * FINER))
    pen = ImageDraw.Draw(mask)
    unit = (side * FINER - 1) / 100

    def polygon(*points: tuple[float, float]) -> None:
        pen.polygon([(x * unit, y * unit) for x, y in points], fill=255)

    def box(left: float, top: float, right: float, bottom: float, fill: int = 255) -> None:
        pen.rectangle((left * unit, top * unit, right * unit, bottom * unit), fill=fill)

    def disc(radius: float) -> None:
        ends = (50 - radius) * unit, (50 + radius) * unit
        pen.ellipse((ends[0], ends[0], ends[1], ends[1]), fill=255)

    match mark:
        case Mark.OVERDUE:  # a peak with a stroke and a point cut out of it
            polygon((50, 2), (100, 96), (0, 96))
            box(44, 36, 56, 66, fill=0)
            box(44, 74, 56, 86, fill=0)
        case Mark.DUE:
            disc(46)
        case Mark.TRIP:  # a swallow-tailed flag on its staff
            box(4, 2, 15, 98)
            polygon((20, 6), (98, 6), (74, 34), (98, 62), (20, 62))
        case Mark.SOON:  # an hourglass
            polygon((8, 2), (92, 2), (50, 54))
            polygon((50, 46), (92, 98), (8, 98))
        case Mark.UNKNOWN:  # four corners around a point
            box(4, 4, 96, 96)
            box(18, 18, 82, 82, fill=0)
            box(36, 0, 64, 100, fill=0)
            box(0, 36, 100, 64, fill=0)
            disc(12)
        case Mark.FINE:  # a tick
            polygon((2, 54), (16, 40), (38, 62), (84, 12), (98, 26), (38, 90))
    return mask.resize((side, side), Image.Resampling.LANCZOS)


@cache
def stripes(wide: int, high: int) -> Image.Image:
    """Return slanting stripes: 255 where they are painted."""
    length, height, stripe = wide * FINER, high * FINER, 9 * FINER
    mask = Image.new("L", (length, height))
    pen = ImageDraw.Draw(mask)
    for x in range(-height, length, 2 * stripe):
        pen.polygon(((x, height), (x + height, 0), (x + height + stripe, 0), (x + stripe, height)), fill=255)
    return mask.resize((wide, high), Image.Resampling.LANCZOS)
