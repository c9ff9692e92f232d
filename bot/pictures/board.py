"""The due board: what is due in a locker, drawn for the screen of a phone.

First everything is set in its place, then it is painted, so that a test can measure what stands where and on which ground.
"""

import math
from dataclasses import dataclass, field
from functools import cache
from io import BytesIO

from PIL import Image, ImageDraw

from bot.pictures.lettering import legible
from bot.pictures.look import DARK, FINER, LIGHT, Colour, Hand, Look, paints, shape, stripes, wrapped
from bot.pictures.sheets import WORDS, Board, BoardItem, BoardRow, Mark

WIDTH = 1080
"""Pixels: a phone of 360 points at three to a point. All lengths here are such pixels."""
LEAST_HEIGHT = 900
MARGIN = 48
RIGHT = WIDTH - MARGIN
SIGN = 60
COLUMN = MARGIN + SIGN + 24
"""Where the letters of a row begin; left of it stands the shape."""

FULL = 500
"""The length of a scale from just done to due."""
BEYOND = 76
"""Room past due; what is later still ends there too."""
DEEP = 30
"""The height of a scale."""
PROUD = 8
"""How far the mark at due stands out above and below it."""
BESIDE = COLUMN + FULL + BEYOND + 24

ANSWER, NAME, TITLE, NOTE = 66, 54, 46, 38
"""Sizes of letters."""
CREST = 60
"""How high the waves at the foot are, with the water under them that holds no letters."""
AIR = 400
"""What stands empty above the water of a locker without items."""
_READ = 1000
"""Letters that are looked at of any text: more than its lines can hold."""

Box = tuple[int, int, int, int]
"""Left, top, right, bottom; the last two lie outside."""


@dataclass(frozen=True)
class Word:
    """Letters on one line; y is the line they stand on."""

    x: int
    y: int
    text: str
    hand: Hand

    @property
    def box(self) -> Box:
        """Where its letters are, to the pixel."""
        left, top, right, bottom = self.hand.font.getbbox(self.text, anchor="ls")
        return self.x + int(left), self.y + int(top), self.x + int(right), self.y + int(bottom)


@dataclass(frozen=True)
class Sign:
    """The shape of a mark in a square."""

    x: int
    y: int
    side: int
    mark: Mark
    ink: Colour
    ground: Colour

    @property
    def box(self) -> Box:
        return self.x, self.y, self.x + self.side, self.y + self.side


@dataclass(frozen=True)
class Scale:
    """How far a task is through its interval, and how far the trip takes it; x, y is the corner of the trough."""

    x: int
    y: int
    share: float
    with_trip: float
    ink: Colour

    @property
    def box(self) -> Box:
        return self.x, self.y - PROUD, self.x + FULL + BEYOND, self.y + DEEP + PROUD

    def at(self, share: float) -> int:
        """Return where on the picture this share is; past due by a little can be seen, by much ends with the room."""
        if share > 1:
            return self.x + FULL + max(28, round(min(FULL * (share - 1), BEYOND)))
        return self.x + round(FULL * max(0.0, share))


@dataclass
class Layout:
    """What stands on a board, in the order in which it is painted."""

    look: Look
    height: int = 0
    water: int = 0
    """Where the water at the foot begins."""
    plates: list[tuple[Box, Colour]] = field(default_factory=list)
    scales: list[Scale] = field(default_factory=list)
    samples: list[Box] = field(default_factory=list)
    """Pieces of hatching that say what hatching means."""
    signs: list[Sign] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)


def draw_board(board: Board) -> bytes:
    """Return the board as a PNG, WIDTH wide and as high as it needs; the same board gives the same bytes."""
    layout = lay_out(board)
    look = layout.look
    picture = Image.new("RGB", (WIDTH, layout.height), look.ground)
    pen = ImageDraw.Draw(picture)
    _fill(pen, (0, layout.water + CREST, WIDTH, layout.height), look.band)
    for box, colour in layout.plates:
        _fill(pen, box, colour)
    picture.paste(look.band, (0, layout.water), _crest())
    for scale in layout.scales:
        _paint_scale(picture, pen, scale, look)
    for box in layout.samples:
        _fill(pen, box, look.trough)
        _hatch(picture, pen, box, box[0], look.band_ink)
    for sign in layout.signs:
        picture.paste(sign.ink, (sign.x, sign.y), shape(sign.mark, sign.side))
    for word in layout.words:
        pen.text((word.x, word.y), word.text, fill=word.hand.ink, font=word.hand.font, anchor="ls")
    out = BytesIO()
    picture.quantize(palette=paints(look), dither=Image.Dither.NONE).save(out, "PNG", compress_level=4)
    return out.getvalue()


def lay_out(board: Board) -> Layout:
    """Return where everything stands."""
    setting = _Setting(Layout(DARK if board.dark else LIGHT))
    setting.header(board)
    for item in board.items:
        setting.item(item)
    setting.foot(board)
    return setting.layout


class _Setting:
    """Sets one thing below the other; y is where the next one begins."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.look = layout.look
        self.y = 0

    def header(self, board: Board) -> None:
        look = self.look
        small = Hand(NOTE, look.plate_soft, look.plate)
        self.y = 40
        room = RIGHT - MARGIN
        if board.pages > 1:
            pages, hand = f"{board.page} of {board.pages}", Hand(NOTE, look.plate_ink, look.plate, bold=True)
            self._word(RIGHT - hand.length(pages), pages, hand)
            room -= hand.length(pages) + 40
        self._text(board.on, small, room=room)
        self.y += 8
        self._text(board.locker, Hand(NAME, look.plate_ink, look.plate, bold=True), most=2)
        self.y += 18
        self._text(board.first, Hand(ANSWER, look.plate_ink, look.plate, bold=True), most=4)
        if board.trip:
            self.y += 12
            self._sign(MARGIN, 40, Mark.TRIP, small)
            self._text(board.trip, small, x=MARGIN + 58, most=2)
        self.y += 54
        self._plate((0, 0, WIDTH, self.y), look.plate)
        if not board.items:
            return
        for tick, deep in _ticks(40):
            x = MARGIN + round((RIGHT - MARGIN - 4) * tick / 40)
            self._plate((x, self.y - deep, x + 4, self.y), look.plate_soft)

    def item(self, item: BoardItem) -> None:
        look = self.look
        top = self.y
        self.y += 10
        self._text(item.name, Hand(TITLE, look.band_ink, look.band, bold=True), most=2)
        self.y += 11
        self._plate((0, top, WIDTH, self.y), look.band)
        self.y += 22
        for row in item.rows:
            self._row(row)
        if item.fine:
            self._sign(
                MARGIN + (SIGN - 40) // 2, 40, Mark.FINE, Hand(NOTE, look.marks[Mark.FINE], look.ground)
            )
            said = f"{item.fine} more in order" if item.rows else f"{item.fine} in order"
            self._text(said, Hand(NOTE, look.soft, look.ground), x=COLUMN)
            self.y += 22

    def _row(self, row: BoardRow) -> None:
        look, ink = self.look, self.look.marks[row.mark]
        plain, soft = (Hand(NOTE, paint, look.ground) for paint in (look.ink, look.soft))
        self._sign(MARGIN, SIGN, row.mark, Hand(TITLE, ink, look.ground))
        self._text(row.task, Hand(TITLE, look.ink, look.ground, bold=True), x=COLUMN, most=2)
        counted = _plain(row.counted)
        beside = row.share is not None and BESIDE + soft.length(counted) <= RIGHT
        self._flow(
            (WORDS[row.mark], Hand(NOTE, ink, look.ground, bold=True)),
            (_plain(row.when), plain),
            (_plain(f"8 in 10: {row.span}") if row.span else "", soft),
            ("" if beside else counted, soft),
        )
        if row.share is not None:
            self.y += 10 + PROUD
            self.layout.scales.append(Scale(COLUMN, self.y, row.share, row.share_with_trip or 0.0, ink))
            if beside and counted:
                self._word(BESIDE, counted, soft, top=self.y + DEEP // 2 - soft.middle)
            self.y += DEEP + PROUD
        self.y += 25

    def _flow(self, *parts: tuple[str, Hand]) -> None:
        """Set texts of one size after one another; one that does not go on the line begins a new one."""
        x = COLUMN
        for text, hand in parts:
            if x > COLUMN and x + hand.length(text) > RIGHT:
                self.y += hand.pitch
                x = COLUMN
            for i, line in enumerate(wrapped(text, hand, RIGHT - x, most=2)):
                if i:
                    self.y += hand.pitch
                    x = COLUMN
                self._word(x, line, hand)
                x += hand.length(line) + 20
        self.y += parts[0][1].pitch

    def foot(self, board: Board) -> None:
        """Set the water, with what must be read before the picture is put away."""
        look = self.look
        if not board.items:
            self._post()
            self.y += AIR
        self.layout.water = self.y
        self.y += CREST + 4
        if self.layout.scales:
            self._legend()
        for note in board.notes:
            self._text(note, Hand(NOTE, look.band_ink, look.band), most=6)
            self.y += 10
        self.y = max(self.y + 24, LEAST_HEIGHT)
        self.layout.height = self.y

    def _legend(self) -> None:
        hand = Hand(NOTE, self.look.band_ink, self.look.band)
        top = self.y + hand.middle - DEEP // 2
        x = MARGIN
        if any(scale.at(scale.with_trip) > scale.at(scale.share) for scale in self.layout.scales):
            self.layout.samples.append((x, top, x + 84, top + DEEP))
            self._word(x + 104, "what the trip adds", hand)
            x += 104 + hand.length("what the trip adds") + 56
        self._plate((x, top - PROUD, x + 8, top + DEEP + PROUD), hand.ink)
        self._word(x + 28, "due", hand)
        self.y += hand.pitch + 14

    def _post(self) -> None:
        """Set a draught scale that stands in the water, for a picture that has nothing else to show."""
        left = RIGHT - 96
        self._plate((left, self.y, RIGHT, self.y + AIR + CREST), self.look.plate)
        for tick, deep in _ticks(AIR // 24):
            y = self.y + AIR - 24 * tick
            self._plate((left, y - 2, left + 2 * deep, y + 2), self.look.plate_soft)

    def _plate(self, box: Box, colour: Colour) -> None:
        self.layout.plates.append((box, colour))

    def _sign(self, x: int, side: int, mark: Mark, hand: Hand) -> None:
        """Set a shape at the height of the capitals of the line that comes next, whose letters have that size."""
        self.layout.signs.append(Sign(x, self.y + hand.middle - side // 2, side, mark, hand.ink, hand.ground))

    def _word(self, x: int, text: str, hand: Hand, *, top: int | None = None) -> None:
        y = (self.y if top is None else top) + hand.base
        self.layout.words.append(Word(x + hand.overhang(text), y, text, hand))

    def _text(self, text: str, hand: Hand, *, x: int = MARGIN, room: int = RIGHT, most: int = 1) -> None:
        """Set a text from x to the right margin, or in less room, and go below it."""
        for line in wrapped(_plain(text) or "–", hand, min(room, RIGHT - x), most=most):
            self._word(x, line, hand)
            self.y += hand.pitch


def _plain(text: str) -> str:
    return legible(text[:_READ])


def _ticks(count: int) -> list[tuple[int, int]]:
    """Return the lines of a draught scale and how long each is: every fifth is long."""
    return [(tick, 26 if tick % 5 == 0 else 14) for tick in range(count + 1)]


def _paint_scale(picture: Image.Image, pen: ImageDraw.ImageDraw, scale: Scale, look: Look) -> None:
    left, top, due, bottom = scale.x, scale.y, scale.x + FULL, scale.y + DEEP
    now, then = scale.at(scale.share), scale.at(scale.with_trip)
    _fill(pen, (left, top, due, bottom), look.edge)
    _fill(pen, (left + 3, top + 3, due, bottom - 3), look.trough)
    if then > now:
        start = now + 4 if now > left else now
        _fill(pen, (now, top, then, bottom), look.trough)
        _hatch(picture, pen, (min(start, then - 3), top, then, bottom), left, scale.ink)
    _fill(pen, (left, top, min(now, due), bottom), scale.ink)
    for quarter in (1, 2, 3):
        x = left + FULL * quarter // 4
        if not now <= x < then:
            _fill(pen, (x - 1, top, x + 2, top + 11), look.trough if x < now else look.edge)
    if max(now, then) >= due:
        # Ink on ink would not stand out: the mark gets a line of ground on both sides, which is the notch of the late.
        _fill(pen, (due - 10, top, due + 10, bottom), look.ground)
    if now > due:
        _fill(pen, (due + 10, top - PROUD, now, bottom + PROUD), scale.ink)
    _fill(pen, (due - 4, top - PROUD, due + 4, bottom + PROUD), look.ink)


def _hatch(picture: Image.Image, pen: ImageDraw.ImageDraw, box: Box, origin: int, ink: Colour) -> None:
    """Paint slanting stripes in a frame; stripes of one origin run on from box to box."""
    left, top, right, bottom = box
    picture.paste(
        ink, (left, top), stripes(FULL + BEYOND, DEEP).crop((left - origin, 0, right - origin, DEEP))
    )
    for edge in (
        (left, top, right, top + 3),
        (left, bottom - 3, right, bottom),
        (right - 3, top, right, bottom),
    ):
        _fill(pen, edge, ink)
    _fill(pen, (left, top, left + 3, bottom), ink)


def _fill(pen: ImageDraw.ImageDraw, box: Box, colour: Colour) -> None:
    left, top, right, bottom = box
    if left < right and top < bottom:
        pen.rectangle((left, top, right - 1, bottom - 1), fill=colour)


@cache
def _crest() -> Image.Image:
    """Return the top of the water, in two long waves: 255 where it is painted."""
    wide, high = WIDTH * FINER, CREST * FINER
    mask = Image.new("L", (wide, high))
    waves = [(x, high * (0.42 + 0.3 * math.sin(x / wide * 2 * math.tau))) for x in range(0, wide + 8, 8)]
    ImageDraw.Draw(mask).polygon([*waves, (wide, high), (0, high)], fill=255)
    return mask.resize((WIDTH, CREST), Image.Resampling.LANCZOS)
