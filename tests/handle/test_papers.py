"""Pocket card, service record and trip sheet: what the bot puts on them, and that the papers say it."""

import re

import pytest
from pypdf import PdfReader

from bot.advice.cautions import CAUTIONS
from bot.pictures.sheets import PocketCard, ServiceRecord, TripSheet


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Germany with a suit, a twinset and regulators."""
    return talk.has_said(
        "zone Europe/Berlin",
        "I live in Germany",
        "add dry suit, plastic zip, latex seals",
        "add twinset 32%",
        "twinset hydro tested May 2024",
        "add regulator set, 32%",
        "regs serviced on 3 May 2025",
    )


def words(text):
    return re.sub(r"\s+", "", text)


def paper(tmp_path, name):
    """Return the text of a paper that was sent, without white space."""
    return words("".join(page.extract_text() for page in PdfReader(tmp_path / "sent" / name).pages))


def lines_of(card):
    return {
        (item.name, part): line
        for item in card.items
        for line in item.lines
        for part in line.part.split("; ")
    }


def test_card_says_part_by_part_what_goes_on_it(deck):
    told = deck.say("pocket card")
    assert told.first == "Your pocket card: 3 items."
    assert [f.name for f in told.files] == ["pocket-card.pdf", "pocket-card.png"]
    card = told.files[0].sheet
    assert isinstance(card, PocketCard)
    neck = lines_of(card)["twinset 32 %", "cylinder neck O-ring"]
    assert (neck.put, neck.bare, neck.gas, neck.never) == (
        "nothing: clean and dry",
        True,
        True,
        "any lubricant",
    )
    docking = lines_of(card)["dry suit", "docking end of the plastic zip"]
    assert (docking.put, docking.bare) == ("soft zip stick (no paraffin, no silicone)", False)
    assert docking.how_much.startswith("One light touch")


def test_card_carries_each_caution_that_a_part_of_the_kit_calls_for(deck):
    card = deck.say("pocket card").files[0].sheet
    wanted = {"life_support", "neck_ring", "never_oil_in_gas", "oxygen_over_22", "latex", "glue"}
    assert {c.on_card or c.text for c in CAUTIONS if c.id in wanted} <= set(card.cautions)
    assert not [c for c in card.cautions if "40 %" in c and "oxygen service by every authority" in c]


def test_part_out_of_oxygen_service_says_so_on_the_card(deck):
    deck.say("greased the regulator hose swivel with silicone grease")
    line = lines_of(deck.say("pocket card").files[0].sheet)[
        "regulator set", "swivelling end of a hose (second stage)"
    ]
    assert line.put.startswith("out of oxygen service")


def test_items_that_are_alike_share_their_lines(deck):
    deck.say("add stage 50%")
    deck.say("add another stage 50%")
    card = deck.say("pocket card").files[0].sheet
    assert any(item.name.count("stage") == 2 for item in card.items)


def test_many_items_that_are_alike_are_named_by_number(deck):
    deck.say("add 12 stages")
    names = [item.name for item in deck.say("pocket card").files[0].sheet.items]
    assert "stage cylinder, stage cylinder 2 and 10 more alike" in names


def test_card_for_an_empty_kit_is_refused_kindly(talk):
    told = talk.say("pocket card")
    assert (told.first, told.files) == ("Your kit is empty, so there is nothing to put on a card.", ())


def test_paper_of_the_card_says_what_the_sheet_says(deck, tmp_path):
    card = deck.say("pocket card").files[0].sheet
    text = paper(tmp_path, "pocket-card.pdf")
    for item in card.items:
        for line in item.lines:
            assert words(line.part) in text
            assert words(line.never) in text
    for caution in card.cautions:
        assert words(caution) in text


def test_record_of_an_item_holds_all_that_was_told(deck, tmp_path):
    deck.say("2 dives on 5 June 2026, salt, 31 m, 45 min each, 7 degrees")
    deck.say("rinsed the regulator yesterday")
    deck.say("greased the regulator hose swivel with silicone grease")
    deck.say("the regulator is leaking")
    deck.say("the manual says PFPE grease on the regulator hose swivel")
    told = deck.say("service record of the regulator")
    record = told.files[0].sheet
    assert isinstance(record, ServiceRecord)
    (chapter,) = record.chapters
    sections = {s.title: s for s in chapter.sections}
    assert sections["Tests and services"].rows[0][:2] == ("3 May 2025", "service")
    assert sections["Dives"].rows[0][:5] == ("5 June 2026", "2", "31 m", "45 min", "7 °C")
    assert [row[1] for row in sections["What befell it"].rows] == [
        "silicone grease on swivelling end of a hose (second stage): out of oxygen service",
        "leaking",
    ]
    assert (
        sections["From the maker's manual"].rows[0][2]
        == "the manual says PFPE grease on the regulator hose swivel"
    )
    assert dict(chapter.facts)["Dived"] == "2 dives, 1 h 30 min, 5 June 2026 to 5 June 2026"
    text = paper(tmp_path, "service-record.pdf")
    for section in chapter.sections:
        for row in section.rows:
            for cell in row:
                assert words(cell) in text, (section.title, cell)


def test_record_says_what_is_not_known_and_from_when_it_counts(deck):
    record = deck.say("service record of the twinset").files[0].sheet
    due = {row[1]: row for s in record.chapters[0].sections if s.title == "What falls due" for row in s.rows}
    assert due["Visual inspection"][0] == "not known"
    assert due["Hydrostatic test"][2] == "May 2024; counted from the test of May 2024"
    ring = due["Look at, keep dry: valve outlet O-ring (DIN or yoke)"]
    assert ring[0] == "10 December 2026 or in 25 dives"
    assert ring[2] == "never told; counted from 10 June 2026"


def test_oil_is_no_care_in_the_record(deck):
    deck.say("greased the regulator hose swivel with silicone grease")
    (chapter,) = deck.say("service record of the regulator").files[0].sheet.chapters
    assert "silicone grease" not in str([s for s in chapter.sections if s.title == "Care"])


def test_contamination_history_stays_after_a_technician_cleaned_it(deck):
    deck.say("greased the regulator hose swivel with silicone grease")
    deck.wait(days=1)
    deck.say("the technician cleaned and inspected the regulator")
    (chapter,) = deck.say("service record of the regulator").files[0].sheet.chapters
    rows = next(s for s in chapter.sections if s.title == "What befell it").rows
    assert rows[0][1].endswith("cleaned by a technician since")


def test_record_of_the_locker_has_a_chapter_an_item_and_the_log_once(deck):
    deck.say("3 dives today, salt")
    deck.say("retire the twinset")
    told = deck.say("service record")
    record = told.files[0].sheet
    assert [c.title for c in record.chapters] == ["dry suit", "twinset 32 %", "regulator set", "Dive log"]
    assert dict(record.chapters[1].facts)["In the kit"] == "since 10 June 2026 until 10 June 2026"
    assert [s.title for c in record.chapters for s in c.sections].count("Dives") == 1


def test_item_that_left_the_kit_still_has_its_record(deck):
    deck.say("retire the twinset")
    told = deck.say("service record of the twinset")
    assert told.data["items"] == ["twinset 32 %"]
    assert "What falls due" not in [s.title for c in told.files[0].sheet.chapters for s in c.sections]


def test_of_several_items_it_asks_which(deck):
    deck.say("add stage 50%")
    deck.say("add another stage 50%")
    told = deck.say("service record of the stage")
    assert told.first == "The record of which one?"
    assert deck.tap(told.offers[1].label).data["items"] == [told.offers[1].label]


def test_item_that_is_not_there_is_named(deck):
    told = deck.say("service record of the scooter")
    assert (told.first, told.files) == ("There is no scooter in your kit.", ())


def test_record_button_of_an_item_sends_its_record(deck):
    deck.say("show the regulator")
    assert deck.tap("Its record as a paper").data["items"] == ["regulator set"]


def test_trip_sheet_has_boxes_for_each_stage_of_the_trip(deck, tmp_path):
    deck.say("trip 20 to 27 June, 14 dives, salt, 6 degrees")
    told = deck.say("trip sheet")
    sheet = told.files[0].sheet
    assert isinstance(sheet, TripSheet)
    groups = {g.title: g.boxes for g in sheet.groups}
    assert list(groups) == [
        "Before you leave",
        "To take",
        "On site, when it comes due",
        "Each evening",
        "After the trip",
    ]
    assert any("Service: regulator set" in box for box in groups["Before you leave"])
    assert any("PFPE grease" in box for box in groups["To take"])
    assert any(box.startswith("Rinse: dry suit") for box in groups["Each evening"])
    assert any(note.startswith("Cold water") for note in sheet.notes)
    text = paper(tmp_path, "trip-sheet.pdf")
    for group in sheet.groups:
        for box in group.boxes:
            assert words(box) in text


def test_trip_sheet_names_tests_that_nobody_dated(deck):
    planned = deck.say("trip 20 to 27 June, 14 dives, salt")
    line = next(line for line in planned.lines if line.startswith("Test dates not known"))
    before = deck.say("trip sheet").files[0].sheet.groups[0]
    assert line in before.boxes


def test_trip_sheet_says_what_the_trip_reply_says(deck):
    planned = deck.say("trip 20 to 27 June, 14 dives, salt, 6 degrees")
    sheet = deck.tap("Sheet to print").files[0].sheet
    boxes = {f"- {box}" for group in sheet.groups for box in group.boxes}
    told = [line for line in planned.lines if line.startswith("- ")]
    assert told
    assert set(told) <= boxes
    assert sheet.cautions == planned.cautions


def test_without_a_trip_the_sheet_is_refused_with_an_example(deck):
    told = deck.say("trip sheet")
    assert told.first == "No trip is planned, so there is no sheet."
    assert told.lines[0].startswith("Say: trip ")
