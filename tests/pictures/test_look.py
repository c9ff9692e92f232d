"""Paints: contrast as the guideline defines it, and marks that stay apart without their colour."""

from itertools import combinations, pairwise

import pytest
from PIL import ImageChops, ImageStat

from bot.pictures.look import DARK, LIGHT, Hand, contrast, luminance, paints, shape, stripes, wrapped
from bot.pictures.sheets import WORDS, Mark

LOOKS = pytest.mark.parametrize("look", [LIGHT, DARK], ids=["light", "dark"])
WHITE, BLACK = (255, 255, 255), (0, 0, 0)

EYES = {
    "all colours": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "no red cones": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
    "no green cones": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "no blue cones": (
        (1.255528, -0.076749, -0.178779),
        (-0.078411, 0.930809, 0.147602),
        (0.004733, 0.691367, 0.303900),
    ),
}
"""What an eye makes of linear red, green and blue: Machado, Oliveira and Fernandes (2009), severity 1."""


def test_contrast_of_known_pairs():
    """Black on white is 21:1 by the definition; the greys are well-known values (4.54 passes AA by a hair, 4.48 fails)."""
    assert contrast(BLACK, WHITE) == pytest.approx(21)
    assert contrast(WHITE, WHITE) == 1
    assert contrast((0x76,) * 3, WHITE) == pytest.approx(4.54, abs=0.005)
    assert contrast((0x77,) * 3, WHITE) == pytest.approx(4.48, abs=0.005)
    assert contrast(WHITE, (255, 0, 0)) == pytest.approx(1.05 / 0.2626)  # red alone weighs 0.2126
    assert contrast(WHITE, (0, 0, 255)) == contrast((0, 0, 255), WHITE) == pytest.approx(1.05 / 0.1222)


def test_luminance_is_linear_for_what_is_nearly_black():
    """10/255 lies below the step at 0.04045, 11/255 above it."""
    assert luminance((10, 10, 10)) == pytest.approx(10 / 255 / 12.92)
    assert luminance((11, 11, 11)) == pytest.approx(((11 / 255 + 0.055) / 1.055) ** 2.4)


@LOOKS
def test_letters_can_be_read_in_sunlight(look):
    """7:1 is WCAG 2.1, success criterion 1.4.6 (AAA); 1.4.3 (AA) asks for 4.5:1."""
    low = {pair: contrast(*pair) for pair in look.letters() if contrast(*pair) < 7}
    assert low == {}


@LOOKS
def test_palette_holds_every_paint_and_no_two_that_could_be_taken_for_each_other(look):
    flat = paints(look).getpalette()
    held = list(zip(flat[::3], flat[1::3], flat[2::3], strict=True))
    assert {look.trough, look.edge, *(paint for pair in look.letters() for paint in pair)} <= set(held)
    assert len(held) <= 256
    assert all(max(abs(a - b) for a, b in zip(*pair, strict=True)) >= 8 for pair in combinations(held, 2))


@pytest.mark.parametrize("side", [36, 60])
def test_shapes_differ_as_pixels(side):
    """Of what either of two shapes covers, at least a third is covered by one alone."""
    assert set(WORDS) == set(Mark)
    assert len(set(WORDS.values())) == len(Mark)
    for one, other in combinations(Mark, 2):
        apart = ImageStat.Stat(ImageChops.difference(shape(one, side), shape(other, side))).sum[0]
        either = ImageStat.Stat(ImageChops.lighter(shape(one, side), shape(other, side))).sum[0]
        assert apart / either > 1 / 3, (one, other)


@pytest.mark.parametrize("mark", list(Mark))
def test_shape_is_painted_whole_and_boldly(mark):
    """It reaches its square on two sides at least and fills a fifth of it."""
    mask = shape(mark, 60)
    left, top, right, bottom = mask.point(lambda level: 255 if level > 127 else 0).getbbox()
    assert max(right - left, bottom - top) >= 54
    assert ImageStat.Stat(mask).mean[0] > 255 / 5


@pytest.mark.parametrize("eye", EYES)
@LOOKS
def test_colours_of_marks_differ_to_every_eye(look, eye):
    """A distance of 15 in CIELAB is plain to see side by side; words and shapes say the same again."""
    near = {
        (one, other): distance
        for one, other in combinations(Mark, 2)
        if (distance := apart(seen(look.marks[one], EYES[eye]), seen(look.marks[other], EYES[eye]))) < 15
    }
    assert near == {}


def test_stripes_are_half_paint_and_slant():
    """A row is a row of stripes, and two rows differ, so that they cannot be taken for a fill or for upright lines."""
    mask = stripes(400, 30)
    assert 0.45 < ImageStat.Stat(mask).mean[0] / 255 < 0.55
    rows = [[mask.getpixel((x, y)) > 127 for x in range(400)] for y in (5, 14)]
    assert all(sum(a != b for a, b in pairwise(row)) > 30 for row in rows)
    assert rows[0] != rows[1]


HAND = Hand(46, BLACK, WHITE, bold=True)


@pytest.mark.parametrize(
    "text",
    ["", "short", "word " * 80, "W" * 400, "a " + "i" * 300 + " b", ". . . , ; - " * 60, "…" * 200],
    ids=["empty", "short", "words", "one long word", "mixed", "points", "dots"],
)
def test_wrapped_lines_fit_and_a_cut_is_said(text):
    lines = wrapped(text, HAND, 500, most=2)
    assert len(lines) <= 2
    assert all(HAND.length(line) <= 500 for line in lines)
    if "".join(lines) != text.replace(" ", "") and " ".join(lines) != text.strip():
        assert lines[-1].endswith("…")


def test_nothing_is_cut_that_fits():
    assert wrapped("Brush: teeth of the plastic zip", HAND, 984, most=2) == [
        "Brush: teeth of the plastic zip"
    ]
    assert wrapped("Brush: teeth of the plastic zip", HAND, 400, most=2) == [
        "Brush: teeth of the",
        "plastic zip",
    ]


def seen(colour, eye):
    """Return the CIELAB values (D65) of a colour as that eye has it."""
    linear = [p / 12.92 if (p := part / 255) <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for part in colour]
    linear = [min(1.0, max(0.0, dot(row, linear))) for row in eye]
    to_xyz = ((0.4124, 0.3576, 0.1805), (0.2126, 0.7152, 0.0722), (0.0193, 0.1192, 0.9505))
    x, y, z = (
        t ** (1 / 3) if (t := dot(row, linear) / white) > (6 / 29) ** 3 else t / (3 * (6 / 29) ** 2) + 4 / 29
        for row, white in zip(to_xyz, (0.9505, 1.0, 1.089), strict=True)
    )
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def dot(one, other):
    return sum(a * b for a, b in zip(one, other, strict=True))


def apart(one, other):
    return sum((a - b) ** 2 for a, b in zip(one, other, strict=True)) ** 0.5
