"""The due board: what stands on it and when it comes by itself. The drawing is tested in tests/pictures."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from PIL import Image

from bot.handle.board import boards
from bot.pictures.sheets import Mark
from scheduler.outlook import overview
from scheduler.standing import work_out
from store import lockers

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Berlin with a suit and regulators, on Wednesday 10 June 2026."""
    return talk.has_said(
        "zone Europe/Berlin",
        "I live in Germany",
        "add dry suit, plastic zip, latex seals",
        "add regulator set, 32%",
        "regs serviced on 3 May 2025",
    )


def rows(reply):
    """Return the rows of a board, {task: row}."""
    return {
        (item["name"], row["task"]): row
        for page in reply.data["board"]
        for item in page["items"]
        for row in item["rows"]
    }


SERVICE = ("regulator set", "Service (technician)")
DOCKING = ("dry suit", "Lubricate: docking end of the plastic zip")


def test_board_tells_what_is_overdue_first(deck):
    told = deck.say("show board")
    assert told.first == "1 overdue, 1 without a date."
    (page,) = told.data["board"]
    assert page["items"][0]["rows"][0] | {"share": 0} == {
        "mark": Mark.OVERDUE,
        "task": "Service (technician)",
        "share": 0,
        "share_with_trip": None,
        "counted": "every 12 months",
        "when": "since 3 May",
        "span": "",
    }
    assert rows(told)[SERVICE]["share"] == pytest.approx(403 / 365, abs=0.01)


def test_bar_counts_the_dives_and_says_the_likely_days(deck):
    deck.say("4 dives today, salt")
    row = rows(deck.say("board of the dry suit"))[DOCKING]
    assert (row["mark"], row["share"], row["counted"]) == (Mark.FINE, 0.4, "4 of 10 dives")
    about, span = row["when"].removeprefix("about "), row["span"]
    told = "\n".join(deck.say("what is due by 1 December?").lines)
    assert f"in 6 dives, about {about} (8 in 10: {span})" in told


def test_trip_makes_rows_of_its_own(deck):
    deck.say("4 dives today, salt")
    deck.say("trip 20 to 27 June, 14 dives, salt")
    told = deck.say("show board")
    row = rows(told)[DOCKING]
    assert (row["mark"], row["share_with_trip"]) == (Mark.TRIP, 1.8)
    assert told.data["board"][0]["trip"] == "Trip 20 June to 27 June, 14 dives"
    assert " by the end of the trip" in told.first


def test_sand_fills_the_bar_of_what_it_made_due_without_a_false_count(deck):
    deck.say("2 dives today, salt, sandy beach")
    row = rows(deck.say("show board"))["dry suit", "Brush: teeth of the plastic zip"]
    assert (row["mark"], row["share"], row["counted"], row["when"]) == (Mark.DUE, 1.0, "", "today")


def test_test_by_law_that_nobody_dated_is_no_fine_row(deck):
    deck.say("add twinset 32%")
    told = deck.say("board of the twinset")
    assert {r["mark"] for key, r in rows(told).items() if "test" in key[1].lower()} == {Mark.UNKNOWN}
    assert "without a date" in told.first
    assert "Test dates by law: check locally." in told.data["board"][0]["notes"]


def test_board_of_an_item_shows_all_its_tasks_and_of_no_other(deck):
    told = deck.say("board of the dry suit")
    assert {name for name, _ in rows(told)} == {"dry suit"}
    assert all(item["fine"] == 0 for page in told.data["board"] for item in page["items"])
    assert len(rows(told)) > len([key for key in rows(deck.say("board")) if key[0] == "dry suit"])


def test_every_task_with_a_date_is_on_the_board_or_counted(deck):
    deck.say("3 dives today, salt")
    told = deck.say("show board")
    shown = sum(1 + row["task"].count(", ") * (": " in row["task"]) for row in rows(told).values())
    more = sum(item["fine"] for page in told.data["board"] for item in page["items"])
    whole = rows(deck.say("board of the dry suit")) | rows(deck.say("board of the regulator set"))
    assert shown + more >= len(whole)


def test_empty_kit_and_unknown_item_are_answered_kindly(talk):
    assert talk.say("show board").first == "Nothing to show yet: your kit is empty."
    talk.say("add mask")
    told = talk.say("board of the scooter")
    assert (told.first, told.files) == ("There is no scooter in your kit.", ())


def test_nothing_due_is_said(talk):
    talk.say("add mask")
    assert talk.say("show board").first == "Nothing is due."


def test_pages_are_full_before_the_next_begins_and_name_what_does_not_fit(talk):
    for _ in range(5):
        talk.say("add 12 stages")
    told = talk.say("show board")
    pages = told.data["board"]
    assert [p["page"] for p in pages] == [1, 2, 3, 4]
    assert {p["pages"] for p in pages} == {4}
    shown = {item["name"].removesuffix(", more") for p in pages for item in p["items"]}
    (note,) = [n for n in pages[0]["notes"] if n.startswith("Not shown")]
    hidden = int(note.removeprefix("Not shown: tasks of ").split()[0])
    assert 60 - len(shown) <= hidden <= 61 - len(shown)  # one may be cut by the end of the page
    assert len(told.files) == 4


def test_picture_is_saved_where_files_go_and_read_by_a_library(deck, tmp_path):
    deck.say("show board")
    with Image.open(tmp_path / "sent" / "due-board.png") as picture:
        assert (picture.format, picture.width) == ("PNG", 1080)


def test_dark_is_a_wish_or_asked_for_once(deck):
    assert [p["dark"] for p in deck.say("dark board").data["board"]] == [True]
    assert [p["dark"] for p in deck.say("show board").data["board"]] == [False]
    assert deck.say("dark mode").first == "Noted: boards light on dark."
    assert [p["dark"] for p in deck.say("show board").data["board"]] == [True]
    deck.say("undo")
    assert [p["dark"] for p in deck.say("show board").data["board"]] == [False]


def weekly(sent):
    """Return when boards came by themselves, local time."""
    return [f"{s.at.astimezone(BERLIN):%a %d %b %H:%M}" for s in sent if s.reply.data.get("board")]


def test_board_comes_every_week_at_the_hour_of_the_reminders(deck):
    assert deck.say("board every sunday").first == "Noted: the board comes once a week, Sunday 18:00."
    assert weekly(deck.until("2026-07-02T12:00:00+02:00")) == [
        "Sun 14 Jun 18:00",
        "Sun 21 Jun 18:00",
        "Sun 28 Jun 18:00",
    ]


def test_weekly_board_comes_with_what_is_due_in_one_message(deck):
    deck.say("board every thursday")
    deck.until("2026-06-11T15:00:00+02:00")
    deck.say("2 dives today, salt")
    sent = deck.until("2026-06-12T12:00:00+02:00")
    (thursday,) = [s for s in sent if s.at.date() == datetime(2026, 6, 11).date()]
    assert "Your board of the week comes along." in thursday.reply.lines
    assert [f.name for f in thursday.reply.files] == ["due-board.png"]
    assert thursday.reply.data["notices"]


def test_weekly_board_with_nothing_due_says_so(talk):
    for line in ("zone Europe/Berlin", "add mask", "board every friday"):
        talk.say(line)
    (sent,) = talk.until("2026-06-13T12:00:00+02:00")
    assert sent.reply.first == "Your board of the week: nothing is due."


@pytest.mark.parametrize("wish", ["no more boards", "reminders off", "undo"])
def test_weekly_board_stops_when_it_is_not_wanted(deck, wish):
    deck.say("board every sunday")
    deck.say(wish)
    assert weekly(deck.until("2026-07-02T12:00:00+02:00")) == []


def test_weekly_board_comes_again_once_reminders_are_on(deck):
    deck.say("board every sunday")
    deck.say("reminders off")
    deck.say("reminders on")
    assert weekly(deck.until("2026-06-16T12:00:00+02:00")) == ["Sun 14 Jun 18:00"]


def test_weekly_board_keeps_out_of_quiet_hours_and_follows_the_hour(deck):
    deck.say("board every sunday")
    deck.say("reminders at 23:00")
    assert weekly(deck.until("2026-06-16T12:00:00+02:00")) == ["Mon 15 Jun 07:00"]


def test_a_bot_that_slept_for_weeks_brings_one_board(deck, store):
    deck.say("board every sunday")
    deck.replay.clock.set(datetime.fromisoformat("2026-07-08T12:00:00+02:00"))
    deck.now = datetime.fromisoformat("2026-07-08T12:00:00+02:00")
    assert len(weekly(deck.until("2026-07-09T12:00:00+02:00"))) == 1


def test_undo_of_a_board_wish_offers_what_was_before(deck):
    deck.say("board every sunday")
    told = deck.say("board every monday")
    assert told.first.endswith("Monday 18:00.")
    deck.say("undo")
    assert weekly(deck.until("2026-06-16T12:00:00+02:00")) == ["Sun 14 Jun 18:00"]


def test_contamination_stands_on_the_board(deck):
    deck.say("greased the regulator hose swivel with silicone grease")
    told = deck.say("board of the regulator set")
    assert any(
        "swivel" in task and row["mark"] in {Mark.DUE, Mark.OVERDUE} for (_, task), row in rows(told).items()
    )


def test_locker_name_stands_at_the_head(deck, store):
    def named(session):
        chat = lockers.at_address(session, "replay", "deck")
        lockers.locker(session, chat.locker_id).name = "Harbour Club"
        session.flush()
        standing = work_out(session, chat.locker_id, deck.now.date())
        return boards(overview(session, chat.locker_id, standing, deck.now.date()))[0].locker

    assert deck.say("show board").data["board"][0]["locker"] == "Your kit"
    assert store.write(named) == "Harbour Club"


def test_headline_counts_what_the_list_counts(deck):
    deck.say("add canister light")
    deck.say("trip 20 to 27 June, 14 dives, salt")
    deck.say("2 dives today, salt, sandy beach")
    now = int(deck.say("what is due?").first.split()[0])
    counted = {
        word.split(" ", 1)[1]: int(word.split(" ")[0])
        for word in deck.say("show board").first.rstrip(".").split(", ")
    }
    assert counted["overdue"] + counted["due"] == now


def test_what_falls_due_soon_is_not_called_in_order(deck):
    deck.say("add twinset 32%")
    deck.say("twinset hydro tested June 2021")
    deck.say("twinset visual done December 2025")
    deck.say("regs serviced on 1 June 2026")
    deck.say("valves of the dry suit serviced 1 June 2026")
    deck.say("valve serviced on the twinset 1 June 2026")
    told = deck.say("show board")
    assert told.first == "1 soon."
    soon = [task for (_, task), row in rows(told).items() if row["mark"] == Mark.SOON]
    assert soon == ["Hydrostatic test (test station)"]
    assert "1 more by 10 July" in deck.say("what is due?").first


def test_service_that_was_never_told_is_not_called_in_order(deck):
    row = rows(deck.say("board of the dry suit"))["dry suit", "Valve service (technician)"]
    assert (row["mark"], row["share"], row["when"]) == (
        Mark.UNKNOWN,
        None,
        "last one not told, by 10 June 2027",
    )


@pytest.mark.parametrize(
    ("said", "item", "when"),
    [
        ("greased the regulator hose swivel with silicone grease", "regulator set", "do not dive it, today"),
        ("ran the twinset empty", "twinset", "do not dive it, today"),
    ],
)
def test_what_must_not_be_dived_is_marked_as_the_gravest(deck, said, item, when):
    deck.say("add twinset 32%")
    deck.say(said)
    told = deck.say(f"board of the {item}")
    assert when in {row["when"] for row in rows(told).values() if row["mark"] == Mark.OVERDUE}


def test_what_was_put_off_says_so(deck):
    deck.say("2 dives today, salt")
    deck.say("snooze 3 days")
    whens = {row["when"] for row in rows(deck.say("show board")).values()}
    assert any("put off until 13 June" in when for when in whens)


def test_months_are_full_when_the_calendar_says_so(deck):
    deck.until("2026-09-10T12:00:00+02:00")
    row = rows(deck.say("board of the dry suit"))["dry suit", "Inspect: neck and wrist seals"]
    assert row["counted"] == "3 of 6 months"
