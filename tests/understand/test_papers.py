"""Requests for pictures and papers: what they are read as, and what must not be taken for one."""

from datetime import date

import pytest

from bot.understand.intents import Export, Misunderstood, PlanTrip, SetPreference, ShowDue
from bot.understand.reader import understand

TODAY = date(2026, 6, 1)


def read(text):
    return understand(text, TODAY)


@pytest.mark.parametrize(
    "text",
    ["show board", "board", "Board!", "show me the board please", "due board", "can you send me the due board?", "/board",
     "show what is due as a picture", "the board as a picture"],
)  # fmt: skip
def test_board(text):
    assert read(text) == ShowDue(board=True)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("board of the dry suit", ShowDue(board=True, item="drysuit")),
        ("show the board for my regulator", ShowDue(board=True, item="regulator")),
        ("board of all my kit", ShowDue(board=True)),
        ("dark board", ShowDue(board=True, dark=True)),
        ("dark board of the dry suit", ShowDue(board=True, dark=True, item="drysuit")),
        ("show board in light", ShowDue(board=True, dark=False)),
    ],
)
def test_board_of_something_or_of_another_look(text, meant):
    assert read(text) == meant


@pytest.mark.parametrize(
    ("text", "wish"),
    [
        ("board every sunday", SetPreference(board_day="sunday")),
        ("send me the board on fridays", SetPreference(board_day="friday")),
        ("weekly board", SetPreference(board_day="sunday")),
        ("weekly board on mondays", SetPreference(board_day="monday")),
        ("no more boards", SetPreference(board_day="never")),
        ("stop the weekly board please", SetPreference(board_day="never")),
        ("dark mode", SetPreference(dark=True)),
        ("light boards please", SetPreference(dark=False)),
    ],
)
def test_wishes_about_the_board(text, wish):
    assert read(text) == wish


@pytest.mark.parametrize(
    "text",
    ["pocket card", "make me a pocket card please", "card for the boat", "laminated card", "boat card as pdf", "/card",
     "lubricant card for my kit"],
)  # fmt: skip
def test_card(text):
    assert read(text) == Export(what="card")


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("service record", None),
        ("maintenance history", None),
        ("show my records", None),
        ("service record of the whole kit", None),
        ("service record of the regulator", "regulator"),
        ("the regulator's service record", "regulator"),
        ("record of the twinset for the buyer", "twinset"),
        ("pdf of the scooter", "scooter"),
        ("/record", None),
    ],
)
def test_record(text, item):
    assert read(text) == Export(what="record", item=item)


@pytest.mark.parametrize(
    "text",
    ["trip sheet", "checklist", "checklist for the trip", "trip as pdf", "packing list to print", "/sheet"],
)
def test_trip_sheet(text):
    assert read(text) == Export(what="trip_sheet")


@pytest.mark.parametrize(
    "text", ["export csv", "my dives as csv", "send me my data as a spreadsheet", "csv please"]
)
def test_tables(text):
    assert read(text) == Export(what="csv")


def test_all_data_stays_what_it_was():
    assert read("export my data") == Export()
    assert read("packing list") == PlanTrip(shows=True)
    assert read("calendar") == Export(what="calendar")


@pytest.mark.parametrize(
    "text",
    ["on board we did 2 dives", "2 dives from the surfboard", "liveaboard trip 12 to 19 june", "boarding card",
     "show my c card", "pre dive checklist", "the kit is on the table", "left the board on the boat",
     "record service of the regs on 3 May", "serviced the regs on 3 May", "import csv", "what is due on the suit?",
     "card", "add a board", "the regulator was serviced, record it"],
)  # fmt: skip
def test_what_only_sounds_like_it_is_none(text):
    meant = read(text)
    assert not isinstance(meant, Export) or meant.what == "data"
    assert not (isinstance(meant, ShowDue) and meant.board)
    assert not isinstance(meant, SetPreference)


def test_a_long_story_that_names_a_board_is_no_request():
    story = "we sat around and then somebody said show the board and so " + "it went on and on " * 10
    assert isinstance(read(story), Misunderstood)
