"""The record and the trip sheet, read back by other libraries than the one that draws. Sizes of paper: ISO 216."""

import hashlib
import io
import json
import os
import subprocess
import sys

import pypdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import time_machine
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageChops

from bot.pictures.card import draw_card
from bot.pictures.lettering import legible
from bot.pictures.paper import Run, broken, clipped, span
from bot.pictures.record import draw_record
from bot.pictures.sheets import (
    CardItem,
    CardLine,
    Chapter,
    CheckGroup,
    PocketCard,
    Section,
    ServiceRecord,
    TripSheet,
)
from bot.pictures.trip_sheet import TICK, draw_trip_sheet

MM = 72 / 25.4
A4, A5 = (210, 297), (148, 210)
HOSTILE = (
    "**bold** __under__ [link](https://example.invalid) `code`",
    "two\nlines\r\nand\ttabs\x00\x1b[31m",
    "\u202egnirts\u202c \u200frtl\u200b zero",
    "twin 🤿🔥 set 🫁",
    "سيلان 潜水 дайвинг",
    "W" * 300,
    "{nb} <b>x</b> &amp; %s \\( (",
    "é" * 40 + " " + "x" * 120,
)


def pages_of(pdf):
    """Return the text of each page without any white space, as pypdf reads it."""
    return ["".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def squeezed(text):
    """Return what is to be found of a text on paper, white space aside."""
    return "".join(legible(text).split())


def sizes_in_mm(pdf):
    return [
        (float(page.mediabox.width) / MM, float(page.mediabox.height) / MM)
        for page in pypdf.PdfReader(io.BytesIO(pdf)).pages
    ]


def letters_of(pdf):
    """Return (page, left, top, right, bottom, size) of each letter, in mm from the upper left corner and points."""
    found = []
    document = pypdfium2.PdfDocument(pdf)
    for number, page in enumerate(document):
        text = page.get_textpage()
        high = page.get_height()
        for at in range(text.count_chars()):
            left, bottom, right, top = text.get_charbox(at)
            if right > left:
                size = pdfium.FPDFText_GetFontSize(text, at)
                found.append((number, left / MM, (high - top) / MM, right / MM, (high - bottom) / MM, size))
    document.close()
    return found


def shapes_of(pdf):
    """Return (page, width, height) of each drawn shape in mm, the thickness of its line on all sides."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    for number, page in enumerate(document):
        for shape in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH]):
            left, bottom, right, top = shape.get_bounds()
            found.append((number, (right - left) / MM, (top - bottom) / MM))
    document.close()
    return found


def assert_inside(pdf, paper, margin):
    outside = [
        letter
        for letter in letters_of(pdf)
        if letter[1] < margin
        or letter[2] < margin
        or letter[3] > paper[0] - margin
        or letter[4] > paper[1] - margin
    ]
    assert outside == []


def assert_black_and_white(pdf):
    """Check each colour that is set, and each pixel."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    for page in reader.pages:
        inks = {
            (bytes(operator), tuple(map(float, operands)))
            for operands, operator in page.get_contents().operations
            if operator in {b"g", b"G", b"rg", b"RG", b"k", b"K", b"sc", b"SC", b"scn", b"SCN"}
        }
        assert {operator for operator, _ in inks} <= {b"g", b"G"}
        assert {value for _, operands in inks for value in operands} <= {0.0, 1.0}
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        red, green, blue = page.render(scale=1).to_pil().convert("RGB").split()
        assert ImageChops.difference(red, green).getbbox() is None
        assert ImageChops.difference(green, blue).getbbox() is None
    document.close()


def fonts_of(pdf):
    found = {}
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for reference in page["/Resources"]["/Font"].values():
            font = reference.get_object()
            found[font["/BaseFont"]] = font["/DescendantFonts"][0].get_object()["/FontDescriptor"]
    return found


def dives(count):
    return tuple(
        (
            f"{1 + at % 28} May 2026",
            str(1 + at % 4),
            f"{10 + at % 50} m",
            f"Dive no. {at:04} at the blue wall",
        )
        for at in range(count)
    )


def chapter(title, count=3):
    return Chapter(
        title=title,
        facts=(("Kind", "dry suit, trilaminate"), ("Added", "11 April 2026")),
        sections=(
            Section(
                title="Dives",
                columns=("Date", "Dives", "Depth", "Place"),
                rows=dives(count),
                empty="No dives logged.",
            ),
            Section(title="Tests", columns=("Tested", "Next"), empty="None: no test is asked for."),
            Section(title="Manuals", rows=(("Valve service: once a year, page 12",),)),
        ),
    )


def record(*chapters):
    return ServiceRecord(
        title="Service record: Mara’s kit",
        on="18 April 2026",
        summary=(("Locker", "Mara’s kit"), ("Dives", "128, the first on 3 March 2024")),
        chapters=chapters,
        notes=("As told by the people of this locker.", "Test dates by law: check locally."),
    )


def trip(*groups, cautions=("Life support: the maker’s manual goes first.",)):
    return TripSheet(
        locker="Mara’s kit",
        on="10 June 2026",
        trip="Trip 12 June to 19 June, 14 dives",
        groups=groups,
        cautions=cautions,
        notes=("The scooter stays at home.",),
    )


def pack(title, count):
    return CheckGroup(title=title, boxes=tuple(f"{title}: thing {at:03}" for at in range(count)))


def words_of(sheet):
    """Return every word of a sheet that the drawing must show; empty sentences only in place of no rows."""
    if isinstance(sheet, str):
        return [sheet]
    if isinstance(sheet, tuple):
        return [word for part in sheet for word in words_of(part)]
    left_out = {"kind"}
    if isinstance(sheet, Section):
        left_out |= {"empty"} if sheet.rows else {"columns"}
    if isinstance(sheet, CheckGroup) and sheet.boxes:
        left_out |= {"empty"}
    return [
        w for name in type(sheet).model_fields if name not in left_out for w in words_of(getattr(sheet, name))
    ]


def test_every_fact_of_a_record_is_on_its_pages():
    sheet = record(chapter("Dry suit", 60), chapter("Twinset 32 %", 0), Chapter(title="Scooter"))
    pdf = draw_record(sheet)
    text = "".join(pages_of(pdf))
    assert [word for word in words_of(sheet) if squeezed(word) not in text] == []
    assert sizes_in_mm(pdf) == [pytest.approx(A4, abs=0.01)] * len(pages_of(pdf))
    assert_inside(pdf, A4, 8)
    assert_black_and_white(pdf)


def test_a_section_without_rows_says_so_and_has_no_headings():
    (page,) = pages_of(draw_record(record(chapter("Dry suit", 0))))
    assert squeezed("No dives logged.") in page
    assert "Depth" not in page
    assert "Tested" not in page


def test_headings_are_repeated_and_each_page_says_where_it_is():
    pages = pages_of(draw_record(record(chapter("Dry suit", 150))))
    assert len(pages) > 3
    with_rows = [at for at, page in enumerate(pages) if "Diveno." in page]
    for at, page in enumerate(pages):
        assert f"{at + 1}of{len(pages)}" in page
        assert squeezed("Service record: Mara’s kit") in page
        assert ("DateDivesDepthPlace" in page) == (at in with_rows)
        assert ("Dives(continued)" in page) == (at in with_rows[1:])
    for at in with_rows:
        assert "Drysuit" in pages[at]  # the first page by its heading, the later ones by the line above


def test_a_heading_is_never_the_last_line_of_a_page_nor_a_row_alone_on_the_next():
    for count in range(33, 45, 2):
        pages = pages_of(draw_record(record(chapter("Dry suit", count), chapter("Twinset", 2))))
        for page in pages:
            assert page.count("Diveno.") != 1
            body = page.split("Servicerecord:")[-2] if page.count("Servicerecord:") > 1 else page
            assert not body.endswith(("Place", "Dives", "Dives(continued)", "Manuals", "Tests", "Notes"))


def test_chapters_stand_in_the_outline_where_there_are_several():
    sheet = record(chapter("Dry suit", 70), chapter("Twinset **32** %", 70), chapter("Scooter"))
    pdf = draw_record(sheet)
    reader, pages = pypdf.PdfReader(io.BytesIO(pdf)), pages_of(pdf)
    assert [mark.title for mark in reader.outline] == ["Dry suit", "Twinset **32** %", "Scooter"]
    for mark in reader.outline:
        assert squeezed(mark.title) + "Kind" in pages[reader.get_destination_page_number(mark)]
    assert pypdf.PdfReader(io.BytesIO(draw_record(record(chapter("Dry suit"))))).outline == []


def test_three_thousand_rows():
    document = pypdfium2.PdfDocument(draw_record(record(chapter("Dry suit", 3000))))
    text = "".join("".join(page.get_textpage().get_text_range().split()) for page in document)
    document.close()
    assert [row[-1] for row in dives(3000) if squeezed(row[-1]) not in text] == []


def test_figures_stand_flush_right_and_words_flush_left():
    section = Section(title="T", columns=("Depth", "Place"), rows=(("9 m", "a"), ("109 m", "b")))
    pdf = draw_record(record(Chapter(title="C", sections=(section,))))
    document = pypdfium2.PdfDocument(pdf)
    text = document[0].get_textpage()
    ends = []
    for words in ("9 m", "109 m"):
        at, count = text.search(words).get_next()
        ends.append(text.get_charbox(at + count - 1)[2])
    document.close()
    assert ends[0] == pytest.approx(ends[1], abs=0.1)


def test_a_long_cell_does_not_break_the_dates_beside_it():
    rows = (("28 September 2026", HOSTILE[5], "Jorun said: " + "left to dry in the shade, " * 9),) * 2
    section = Section(title="Care", columns=("Date", "Note", "Also"), rows=rows)
    pdf = draw_record(record(Chapter(title="C", sections=(section,))))
    lines = pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert "28 September 2026" in lines
    assert "Jorun said: left to dry" in lines


def test_a_cell_taller_than_a_page_goes_on_over_the_break():
    long = " ".join(f"word{at:04}" for at in range(2500))
    section = Section(title="Care", columns=("Date", "Note"), rows=(("1 May", long),))
    pdf = draw_record(record(Chapter(title="C", sections=(section,))))
    text = "".join(pages_of(pdf))
    assert [word for word in long.split() if word not in text] == []
    assert len(pages_of(pdf)) > 2
    assert_inside(pdf, A4, 8)


def test_every_fact_of_a_trip_is_on_its_sheet_with_a_box_for_each_thing():
    groups = (pack("Dry suit", 5), CheckGroup(title="Lent out", boxes=(), empty="Nothing is lent out."))
    sheet = trip(*groups, pack("Twinset", 9))
    pdf = draw_trip_sheet(sheet)
    (page,) = pages_of(pdf)
    assert [word for word in words_of(sheet) if squeezed(word) not in page] == []
    ticks = [s for s in shapes_of(pdf) if s[1:] == pytest.approx((TICK, TICK), abs=1.1)]
    assert len(ticks) == 14
    assert sizes_in_mm(pdf) == [pytest.approx(A4, abs=0.01)]
    assert "1of1" in page
    assert_black_and_white(pdf)


def test_a_long_trip_goes_on_with_its_title_repeated():
    sheet = trip(*(pack(f"Group {at:02}", 12) for at in range(12)))
    pdf = draw_trip_sheet(sheet)
    pages = pages_of(pdf)
    assert len(pages) > 1
    for at, page in enumerate(pages):
        assert page.count(squeezed(sheet.trip)) == 2  # at the head and at the foot
        assert f"{at + 1}of{len(pages)}" in page
    assert [word for word in words_of(sheet) if squeezed(word) not in "".join(pages)] == []
    assert_inside(pdf, A4, 8)


def test_boxes_of_a_group_stay_in_one_column_where_that_costs_no_page():
    pages = pages_of(draw_trip_sheet(trip(*(pack(f"Group {at}", 7) for at in range(6)))))
    assert "continued" not in "".join(pages)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_text_inside_the_page(name):
    section = Section(title=name, columns=(name, name, "Plain"), rows=((name, name, name),) * 2)
    chapters = (
        Chapter(title=name, facts=((name, name),), sections=(section, Section(title=name, empty=name))),
    ) * 2
    sheet = ServiceRecord(title=name, on=name, summary=((name, name),), chapters=chapters, notes=(name,))
    pdf = draw_record(sheet)
    assert_inside(pdf, A4, 8)
    joined = "".join(pages_of(pdf))
    assert squeezed(name) in joined
    assert pypdf.PdfReader(io.BytesIO(pdf)).metadata.title == legible(name)
    sheet = TripSheet(
        locker=name,
        on=name,
        trip=name,
        groups=(CheckGroup(title=name, boxes=(name,) * 3), CheckGroup(title=name, boxes=(), empty=name)),
        cautions=(name,),
        notes=(name,),
    )
    pdf = draw_trip_sheet(sheet)
    assert_inside(pdf, A4, 8)
    assert squeezed(name) in "".join(pages_of(pdf))
    assert "/Annots" not in pypdf.PdfReader(io.BytesIO(pdf)).pages[0]


CARD = PocketCard(
    locker="Mara’s kit",
    on="18 April 2026",
    items=(CardItem(name="Light", lines=(CardLine(part="Lid O-ring", put="silicone grease", bare=False),)),),
    cautions=("Life support.",),
)
PAPERS = {
    "card": (draw_card, CARD),
    "record": (draw_record, record(chapter("Dry suit", 50), chapter("Twinset"))),
    "trip": (draw_trip_sheet, trip(pack("Dry suit", 5))),
}


@pytest.mark.parametrize("kind", PAPERS)
def test_papers_have_a_title_a_language_and_embedded_subsets_of_letters(kind):
    draw, sheet = PAPERS[kind]
    pdf = draw(sheet)
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert "Mara’s kit" in reader.metadata.title
    assert reader.trailer["/Root"]["/Lang"] == "en"
    fonts = fonts_of(pdf)
    assert len(fonts) == 2
    for name, descriptor in fonts.items():
        assert name[7] == "+"
        assert 0 < len(descriptor["/FontFile2"].get_data()) < 60_000


_AGAIN = """
import hashlib, sys
from pydantic import TypeAdapter
from bot.pictures.card import draw_card
from bot.pictures.record import draw_record
from bot.pictures.sheets import Sheet
from bot.pictures.trip_sheet import draw_trip_sheet
draw = {"card": draw_card, "record": draw_record, "trip": draw_trip_sheet}
for sheet in TypeAdapter(list[Sheet]).validate_json(sys.stdin.read()):
    print(hashlib.sha256(draw[sheet.kind](sheet)).hexdigest())
"""


def test_the_same_sheets_give_the_same_bytes_whenever_and_wherever():
    with time_machine.travel("2031-01-02 03:04"):
        later = [hashlib.sha256(draw(sheet)).hexdigest() for draw, sheet in PAPERS.values()]
    elsewhere = subprocess.run(
        [sys.executable, "-c", _AGAIN],
        input=json.dumps([sheet.model_dump() for _, sheet in PAPERS.values()]),
        env={**os.environ, "PYTHONHASHSEED": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    assert elsewhere.stdout.split() == later


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(st.text(max_size=40), st.booleans()), max_size=6), st.floats(6, 20), st.floats(12, 150)
)
def test_lines_keep_every_letter_and_never_pass_the_edge(runs, size, room):
    lines = broken([Run(*run) for run in runs], size, room)
    kept = "".join(text for line in lines for text, _ in line)
    assert kept.replace(" ", "") == "".join(squeezed(text) for text, _ in runs)
    assert all(span(line, size) <= room + 1e-6 + span((Run(" "),), size) for line in lines)
    assert all(line and line[-1].text == line[-1].text.rstrip() for line in lines)


def test_a_clipped_text_ends_in_an_ellipsis_within_its_room():
    (line,) = clipped("Mara’s kit for the long trip north", 12, 30)
    assert line[0].text.endswith("…")
    assert span(line, 12) <= 30
    assert clipped("Mara", 12, 30) == [(Run("Mara"),)]
    assert clipped("", 12, 30) == []
