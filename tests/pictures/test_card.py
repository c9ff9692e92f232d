"""The pocket card: one A5 page whatever the kit, what hurts most first, nothing that hangs on a shade or a colour."""

import ctypes
import io
import re
from functools import cache

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from PIL import Image, ImageChops

from bot.pictures.card import FLOOR, LARGEST, MARGIN, draw_card, draw_card_picture
from bot.pictures.sheets import CardItem, CardLine, PocketCard
from tests.pictures.test_papers import (
    A5,
    HOSTILE,
    assert_black_and_white,
    assert_inside,
    letters_of,
    pages_of,
    sizes_in_mm,
    squeezed,
)

CAUTIONS = (
    "Life support: the maker’s manual goes first, then a qualified technician.",
    "Never an oil, fat or silicone where breathing gas touches.",
    "Nothing can close a neck O-ring off under water.",
)
KINDS = (
    {"put": "nothing: clean and dry", "bare": True, "gas": True, "never": "any grease"},
    {"put": "silicone grease", "bare": False, "how_much": "Thin film, made to shine"},
    {"put": "technician only", "bare": False, "gas": True},
    {"put": "nothing: brushed", "bare": True, "never": "never wax"},
    {"put": "zip stick", "bare": False, "how_much": "One light touch", "never": "silicone spray"},
)


def item(number, lines=5, kinds=KINDS):
    return CardItem(
        name=f"Item {number:03}",
        lines=tuple(
            CardLine(part=f"Seal {number:03}-{at:02}", **kinds[at % len(kinds)]) for at in range(lines)
        ),
    )


def card(*items, cautions=CAUTIONS, notes=("In doubt: nothing, and ask.",)):
    return PocketCard(locker="Mara’s kit", on="18 April 2026", items=items, cautions=cautions, notes=notes)


def kit(count):
    return card(*(item(number) for number in range(count)))


@cache
def drawn(sheet):
    return draw_card(sheet)


def said(sheet):
    """Return the text of the one page."""
    (page,) = pages_of(drawn(sheet))
    return page


def shown(page):
    return re.findall(r"Seal(\d{3}-\d\d)", page)


def left_out(page):
    found = re.search(r"(\d+)moreparts?:askthebot", page)
    return int(found[1]) if found else 0


def type_of(sheet):
    """Return the size of type of the body."""
    sizes = [round(letter[5], 2) for letter in letters_of(drawn(sheet))]
    return max(set(sizes), key=sizes.count)


@pytest.mark.parametrize("count", [0, 1, 8, 25, 60])
def test_a_card_is_one_a5_page_whatever_the_kit(count):
    sheet = kit(count)
    pdf = drawn(sheet)
    (page,) = pages_of(pdf)
    assert sizes_in_mm(pdf) == [pytest.approx(A5, abs=0.01)]
    assert MARGIN >= 8
    assert_inside(pdf, A5, 8)
    assert min(letter[5] for letter in letters_of(pdf)) >= FLOOR - 0.001
    assert_black_and_white(pdf)
    for text in (*sheet.cautions, *sheet.notes, sheet.locker, sheet.on):
        assert squeezed(text) in page
    parts = sorted(shown(page))
    assert len(set(parts)) == len(parts)
    assert len(parts) + left_out(page) == 5 * count


def test_every_line_says_what_goes_on_it_how_much_and_what_never():
    page = said(kit(6)).lower()
    assert left_out(page) == 0
    for number in range(6):
        seals = page.split(f"item{number:03}")[1]
        for expected in (
            f"seal{number:03}-00nothing:cleananddry.neveranygrease",
            f"seal{number:03}-01siliconegrease.thinfilm,madetoshine",
            f"seal{number:03}-02technicianonly",
            f"seal{number:03}-03nothing:brushed.neverwax",
            f"seal{number:03}-04zipstick.onelighttouch.neversiliconespray",
        ):
            assert expected in seals


def test_a_full_stop_parts_what_goes_on_from_what_never_only_in_one_cell():
    line = CardLine(part="Neck ring", put="nothing: dry", bare=True, never="any grease")
    assert "NOTHING:dryNeveranygrease" in said(card(CardItem(name="Twinset", lines=(line,))))


def test_type_is_as_large_as_the_kit_allows():
    sizes = [type_of(kit(count)) for count in (1, 3, 6, 10, 60)]
    assert sizes[0] > 11
    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes)) >= 4
    assert sizes[-1] == FLOOR
    assert type_of(card(item(1, 1), cautions=())) == LARGEST


def test_parts_that_touch_gas_come_first_in_their_item():
    assert shown(said(card(item(7)))) == ["007-00", "007-02", "007-01", "007-03", "007-04"]


def marks(sheet):
    """Return the centres of rings and of diamonds: shapes as wide as high, about as large as a letter, by their ink."""
    document = pypdfium2.PdfDocument(drawn(sheet))
    rings, diamonds = [], []
    for shape in document[0].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
        left, bottom, right, top = shape.get_bounds()
        if right - left == pytest.approx(top - bottom, rel=0.02) and 4 < right - left < 17:
            filled, stroked = ctypes.c_int(), ctypes.c_int()
            assert pdfium.FPDFPath_GetDrawMode(shape, filled, stroked)
            (diamonds if filled.value else rings).append(((left + right) / 2, (top + bottom) / 2))
    document.close()
    return sorted(rings), sorted(diamonds)


def places(sheet, *words):
    """Return the left end and the middle of each of these words, wherever it stands."""
    document = pypdfium2.PdfDocument(drawn(sheet))
    text = document[0].get_textpage()
    found = []
    for word in words:
        search = text.search(word, match_case=True)
        while at := search.get_next():
            left, bottom, _, top = text.get_charbox(at[0])
            found.append((left, (bottom + top) / 2))
    document.close()
    return sorted(found)


@pytest.mark.parametrize("count", [1, 4])
def test_marks_stand_right_before_what_they_are_about_and_the_legend_gives_their_words(count):
    kinds = (KINDS[3], KINDS[0], KINDS[1], KINDS[2], KINDS[3])
    sheet = card(*(item(number, 5, kinds) for number in range(count)))
    rings, diamonds = marks(sheet)
    nothings = places(sheet, "NOTHING", "nothing goes on it")
    gas = places(
        sheet, "touches breathing gas", *(f"Seal {n:03}-{at:02}" for n in range(count) for at in (1, 3))
    )
    assert len(rings) == 3 * count + 1
    assert len(diamonds) == 2 * count + 1
    for centres, words in ((rings, nothings), (diamonds, gas)):
        left = list(words)
        for across, down in centres:
            near = [place for place in left if abs(place[1] - down) < 4 and 0 < place[0] - across < 20]
            assert len(near) == 1
            left.remove(near[0])
        assert left == []


def test_the_legend_explains_only_marks_that_are_there():
    wet = card(item(1, 2, KINDS[1:2]))
    assert marks(wet) == ([], [])
    assert "touchesbreathinggas" not in said(wet)
    assert "nothinggoes" not in said(wet)


@pytest.mark.parametrize(
    ("put", "expected"),
    [
        ("nothing: clean and dry", "NOTHING:cleananddry"),
        ("Nothing", "NOTHING"),
        ("", "NOTHING"),
        ("leave it alone", "NOTHING:leaveitalone"),
        ("nothingness oil", "NOTHING:nothingnessoil"),
    ],
)
def test_nothing_is_said_in_capitals_whatever_the_words(put, expected):
    line = CardLine(part="Neck ring", put=put, bare=True)
    assert "Neckring" + expected + "Indoubt" in said(
        card(CardItem(name="Twinset", lines=(line,)), cautions=())
    )


def test_what_does_not_touch_gas_is_left_out_first_and_the_last_of_it():
    sheet = card(*(item(number, 5, (KINDS[0], *KINDS[1:2] * 4)) for number in range(20)))
    page = said(sheet)
    parts = shown(page)
    gas = [part for part in parts if part.endswith("-00")]
    others = sorted(part for part in parts if not part.endswith("-00"))
    assert len(gas) == 20
    assert left_out(page) == 100 - len(parts) > 0
    assert others == [f"{n:03}-{at:02}" for n in range(20) for at in range(1, 5)][: len(others)]


def test_whole_items_go_last_and_never_a_part_of_their_gas():
    page = said(card(*(item(number, 6, (KINDS[0], KINDS[0], KINDS[1])) for number in range(60))))
    parts = shown(page)
    assert left_out(page) == 360 - len(parts) > 0
    kept = len(parts) // 4
    assert 0 < kept < 60
    assert sorted(parts) == [f"{n:03}-{at:02}" for n in range(kept) for at in (0, 1, 3, 4)]
    assert f"Item{kept:03}" not in page


def test_no_more_is_left_out_than_has_to_be():
    sheet = card(*(item(number, 5, KINDS[1:2]) for number in range(40)))
    count = len(shown(said(sheet)))
    lines = [CardItem(name=i.name, lines=i.lines) for i in sheet.items[: count // 5 + 1]]
    assert left_out(said(card(*lines))) > 0
    assert left_out(said(card(*lines[:-1]))) == 0


def test_one_part_left_out_is_one_part():
    def sized(count):
        return said(card(item(1, count, KINDS[1:2])))

    held = len(shown(sized(99)))
    pages = [sized(held + more) for more in range(4)]
    over = next(page for page in pages if left_out(page))
    assert "1morepart:askthebot" in over


def test_cautions_are_never_dropped_and_more_than_a_page_of_them_is_an_error():
    many = tuple(
        f"Caution {at:02}: a greased ring can be squeezed out of its seat and empty it." for at in range(30)
    )
    sheet = card(*(item(number) for number in range(40)), cautions=many)
    page = said(sheet)
    assert [text for text in many if squeezed(text) not in page] == []
    assert left_out(page) > 0
    with pytest.raises(ValueError, match="more than a page"):
        draw_card(card(item(1), cautions=many * 5))


def test_items_stay_in_one_column_where_that_costs_little():
    assert "continued" not in said(kit(4))


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_text_inside_the_page(name):
    line = CardLine(part=name, put=name, bare=False, how_much=name, never=name, gas=True)
    lines = (line, line.model_copy(update={"bare": True, "gas": False}))
    sheet = PocketCard(
        locker=name, on=name, items=(CardItem(name=name, lines=lines),) * 2, cautions=(name,), notes=(name,)
    )
    pdf = drawn(sheet)
    (page,) = pages_of(pdf)
    assert_inside(pdf, A5, 8)
    assert squeezed(name) in page
    assert min(letter[5] for letter in letters_of(pdf)) >= FLOOR - 0.001


def test_the_picture_shows_the_page_in_shades_of_grey():
    sheet = kit(6)
    png = draw_card_picture(sheet)
    assert png == draw_card_picture(sheet)
    assert len(png) < 150_000
    picture = Image.open(io.BytesIO(png))
    assert picture.format == "PNG"
    assert picture.size == (1240, 1760)
    red, green, blue = picture.convert("RGB").split()
    assert ImageChops.difference(red, green).getbbox() is None
    assert ImageChops.difference(green, blue).getbbox() is None
    document = pypdfium2.PdfDocument(drawn(sheet))
    page = document[0].render(scale=picture.width / document[0].get_width(), grayscale=True).to_pil()
    document.close()
    apart = ImageChops.difference(page.convert("L"), picture.convert("L"))
    assert apart.getextrema()[1] <= 16
    assert picture.convert("L").getextrema() == (0, 255)
