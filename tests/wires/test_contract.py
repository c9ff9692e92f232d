"""One conversation, three wires: what a diver says gets the same answer on each, and does the same."""

from collections.abc import AsyncIterator
from datetime import datetime
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from store import items
from store.catalogue import ItemFacts
from store.engine import Session, Store
from store.vocabulary import ItemKind
from tests.wires.harness import LiveClock, OnConsole, Wire, on_matrix, on_telegram, plain_text

NOON = datetime.fromisoformat("2026-06-10T12:00:00+00:00")
LOG = b"date,time,duration,max depth\n2026-06-01,10:00,45,30\n2026-06-02,10:00,50,25\n"


@pytest.fixture(
    params=["console", "telegram", pytest.param("matrix", marks=pytest.mark.long), "matrix encrypted"]
)
async def wire(request: pytest.FixtureRequest, store: Store, tmp_path: Path) -> AsyncIterator[Wire]:
    clock = LiveClock(NOON)
    if request.param == "console":
        yield OnConsole(store, clock, tmp_path / "files")
    elif request.param == "telegram":
        async with on_telegram(store, clock) as opened:
            yield opened
    else:
        homeserver = request.getfixturevalue("homeserver")
        async with on_matrix(
            homeserver, store, clock, tmp_path, encrypted="encrypted" in request.param
        ) as opened:
            yield opened


def first(text: str) -> str:
    return text.splitlines()[0]


async def test_kit_is_added_and_listed(wire):
    assert first((await wire.say("add dry suit, plastic zip, latex seals")).text) == "Added: dry suit."
    shown = await wire.say("show kit")
    assert shown.text == "1 item, 0 dives logged.\n- dry suit (plastic zip, latex seals): 0 dives"
    assert shown.buttons == ("dry suit", "Pocket card")


async def test_answer_comes_with_reason_cautions_and_why(wire):
    shown = await wire.say("what do I put on the neck ring?")
    assert first(shown.text) == "Cylinder neck O-ring: nothing on it. Clean and dry."
    assert "Life support: the maker's manual and a qualified technician decide." in shown.text
    assert shown.buttons == ("Why",)
    assert "squeezed" in (await wire.tap("Why")).text


async def test_dive_is_logged_once_and_taken_back_by_its_button(wire):
    await wire.say("add scooter")
    logged = await wire.say("2 dives today, salt, 30 m")
    assert first(logged.text) == "Logged: 2 dives, today, salt water, 30 m. 2 dives in all."
    assert logged.buttons[-1] == "Undo"
    undone = await wire.tap("Undo")
    assert first(undone.text) == "Taken back: dive log."
    assert first((await wire.say("show my dives")).text) == "0 dives logged."


async def test_question_with_choices_is_settled_by_a_tap_or_a_number(wire):
    asked = await wire.say("how much grease on the o-ring?")
    assert len(asked.buttons) > 1
    by_tap = await wire.tap(asked.buttons[0])
    await wire.say("how much grease on the o-ring?")
    by_number = await wire.say("1")
    assert by_tap.text == by_number.text
    assert by_tap.text != asked.text


async def test_markup_of_a_diver_is_text(wire):
    await wire.say("add scooter called <b>Tug & Co</b> <script>")
    shown = await wire.say("show kit")
    assert "<b>tug & co</b>" in shown.text.lower() or "tug" in shown.text.lower()
    assert "&lt;" not in shown.text
    assert "&amp;" not in shown.text


async def test_nonsense_gets_a_way_out(wire):
    shown = await wire.say("qqq xx")
    assert first(shown.text) == "I did not get that."
    assert "Try:" in shown.text


async def test_long_answer_comes_whole(wire):
    await wire.say("add scooter")
    named = [f"lamp number {n} of the harbour club, kept on the {'far ' * 20}north side" for n in range(150)]

    def hang_up(session: Session) -> None:
        for name in named:
            items.add(session, 1, ItemKind.HAND_LIGHT, name, facts=ItemFacts(), on=NOON.date(), by="x:y")

    wire.store.write(hang_up)
    await wire.say("show kit")
    text = plain_text(await wire.shown()).replace("\n", " ")
    assert [name for name in named if name not in text] == []
    assert len(text) > 16_000


async def test_file_goes_in_and_counts_after_a_tap(wire):
    await wire.say("add scooter")
    read = await wire.send_file("log.csv", LOG)
    assert first(read.text) == "log.csv: 2 dives, 2 new, 0 here already."
    counted = await wire.tap("Count 2 dives")
    assert first(counted.text) == "Counted: 2 dives of log.csv. 2 dives in all."


async def test_file_that_is_no_dive_log_is_refused_kindly(wire):
    refused = await wire.send_file("holiday.csv", b"\x00\x01 no log")
    assert "Nothing was stored." in refused.text


async def test_file_comes_out(wire):
    await wire.say("add dry suit, plastic zip, latex seals")
    shown = await wire.say("calendar")
    assert first(shown.text) == "Your calendar: 4 dates."
    (name, content), *more = shown.files
    assert (name, more) == ("rinse-tank.ics", [])
    assert content.startswith(b"BEGIN:VCALENDAR\r\n")
    assert content.endswith(b"END:VCALENDAR\r\n")


async def test_pictures_and_papers_come_out(wire):
    await wire.say("add dry suit, plastic zip, latex seals")
    board = await wire.say("show board")
    assert first(board.text) == "1 without a date."
    ((name, content),) = board.files
    assert Image.open(BytesIO(content)).width == 1080
    card = await wire.say("pocket card")
    (paper, content), (picture, drawn) = card.files
    assert (paper, len(PdfReader(BytesIO(content)).pages)) == ("pocket-card.pdf", 1)
    assert Image.open(BytesIO(drawn)).format == "PNG"
    assert {name, picture} <= {"due-board.png", "pocket-card.png", "photo"}


async def test_all_data_come_out_and_in_again(wire):
    await wire.say("add scooter")
    await wire.say("2 dives today")
    out = await wire.say("export my data")
    ((name, content),) = out.files
    back = await wire.send_file(name, content)
    assert first(back.text) == "rinse-tank-data.json: all data of a locker, 1 item, 2 dives, 0 acts of care."
    assert first((await wire.tap("Replace what is here")).text).startswith("Taken in: 1 item, 2 dives")
    ((_, again),) = (await wire.say("export my data")).files
    assert again == content


async def test_board_of_the_week_comes_by_itself(wire):
    await wire.say("zone Europe/Berlin")
    await wire.say("add mask")
    await wire.say("board every wednesday")
    wire.clock.set(datetime.fromisoformat("2026-06-10T16:00:05+00:00"))
    (shown,) = await wire.ring()
    assert first(shown.text) == "Your board of the week: nothing is due."
    ((_, content),) = shown.files
    assert Image.open(BytesIO(content)).format == "PNG"
    assert await wire.ring() == []


async def test_reminder_comes_once_at_the_hour_and_done_ends_it(wire):
    await wire.say("zone Europe/Berlin")
    await wire.say("add dry suit, plastic zip, latex seals")
    await wire.say("1 dive today")
    assert await wire.ring() == []
    wire.clock.set(datetime.fromisoformat("2026-06-10T16:00:05+00:00"))
    (reminder,) = await wire.ring()
    assert "Rinse: dry suit" in reminder.text
    assert reminder.buttons[:3] == ("Done", "Part of it", "Later")
    assert await wire.ring() == []
    done = await wire.tap("Done")
    assert first(done.text).startswith("Noted")
    wire.clock.set(datetime.fromisoformat("2026-06-11T16:00:05+00:00"))
    assert await wire.ring() == []


async def test_forgetting_asks_twice_and_then_begins_afresh(wire):
    await wire.say("add scooter")
    assert first((await wire.say("forget me")).text).startswith("This deletes everything: 1 item")
    assert first((await wire.tap("Delete it all")).text).startswith("Sure?")
    assert first((await wire.tap("Yes, for good")).text).startswith("Everything is deleted.")
    assert first((await wire.say("show kit")).text) == "Your kit is empty. 0 dives logged."
