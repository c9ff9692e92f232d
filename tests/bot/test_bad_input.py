"""What nobody should send: a kind answer that says what is wrong or what would work, nothing stored, nothing raised."""

import shutil

import pytest

from bot.render.text import text_of
from store.engine import Store, sqlite_url

from .conftest import Wire

NO_WORDS = "I found no words to read in that."
NOT_READ = "I did not get that."


@pytest.fixture(scope="module")
def lived_in(template, tmp_path_factory):
    """Return a database with something to lose in it."""
    path = tmp_path_factory.mktemp("lived_in") / "deck.db"
    shutil.copy(template, path)
    store = Store(sqlite_url(path))
    for text in ("add dry suit called Nessie, plastic zip, latex seals", "2 dives today, salt"):
        Wire(store, prefix=text[:3]).take(wire="replay", text=text)
    store.close()
    return path


@pytest.fixture
def database(lived_in, tmp_path):
    """Clone it, in place of the empty one."""
    path = tmp_path / "deck.db"
    shutil.copy(lived_in, path)
    return sqlite_url(path)


@pytest.fixture
def deck(talk, facts):
    """Open the chat that lives there."""
    assert {name: len(rows) for name, rows in facts().items() if rows} == {
        "item": 1,
        "dive": 1,
        "dive_item": 1,
        "journal_entry": 2,
    }
    return talk


def refused(deck, facts, capsys, text):
    """Say it and return the first line of the answer; with it whatever came of it besides an answer."""
    before = facts()
    reply = deck.say(text)
    tries = tuple(f"- {line}" for line in reply.data.get("suggestions", ()))
    lines = ("Try:", *tries, "or: help") if tries else ("Say help for what I can do.",)
    holds = {
        "something changed": facts() == before,
        "something was logged": capsys.readouterr().err == "",
        "it was taken for something": reply.data["intent"] == "misunderstood",
        "it is too long": len(text_of(reply)) < 4000,
        "it shows no way out": reply.lines == lines,
    }
    return " | ".join([reply.first, *(what for what, held in holds.items() if not held)])


def answers(deck, facts, capsys, texts):
    """Say one thing after another, as none leaves anything behind; return text to first line, to see all that is off."""
    return {ascii(text): refused(deck, facts, capsys, text) for text in texts}


WORDLESS = [
    "",
    " ",
    " \t\n\r\v\f ",
    "\u00a0\u2003\u3000",
    "\x00",
    "\x01\x02\x07\x1b",
    "\u200b\u200d\ufeff",
    "\u202e\u202d\u2066\u200f\u061c",
    "🤿",
    "👍🏽",
    "👨‍👩‍👧‍👦 🇩🇪 ❤️",
    "?!",
    "...",
    "\ud800",
    "\U000e0041",
    "_",
    "/",
]


def test_text_without_words_is_answered(deck, facts, capsys):
    found = answers(deck, facts, capsys, WORDLESS)
    assert found == dict.fromkeys(map(ascii, WORDLESS), NO_WORDS)


@pytest.mark.parametrize("text", ["x" * 100_000, "2 dives " * 12_500, "🤿" * 100_000, " " * 100_000])
def test_text_of_a_hundred_thousand_characters_is_answered(deck, facts, capsys, text):
    assert refused(deck, facts, capsys, text) == (
        "That is 100,000 characters; I read up to 2,000. Nothing was stored."
    )


MEANINGLESS = [
    "<b>hi</b>",
    "<script>alert(1)</script>",
    "*bold* _it_ [x](tg://user?id=1) `y`",
    "&lt;b&gt;",
    "'; DROP TABLE item; --",
    "SELECT * FROM chat",
    "1 OR 1=1",
    "{{7*7}} ${7*7} %s%n",
    "../../etc/passwd",
    "nan",
    "NaN",
    "inf",
    "null",
    "None",
    "\u202exyzzy\u202c",
    "xy\x00zzy",
    "x" * 2_000,
    "9" * 2_000,
]


def test_text_that_means_nothing_is_answered(deck, facts, capsys):
    found = answers(deck, facts, capsys, MEANINGLESS)
    assert found == dict.fromkeys(map(ascii, MEANINGLESS), NOT_READ)


CANNOT_BE = [
    ("-3 dives", "-3 dives cannot be: a count from 1 to 20 works."),
    ("0 dives", "0 dives cannot be: a count from 1 to 20 works."),
    ("21 dives", "21 dives in one entry is a lot: log up to 20 at a time."),
    (f"{10**30} dives", f"{10**30} dives cannot be: a count from 1 to 20 works."),
    ("dive to 900 m", "A depth of 900 m cannot be: up to 350 m works."),
    ("dive to 0 m", "A depth of 0 m cannot be: up to 350 m works."),
    ("dive to -10 m", "A depth of -10 m cannot be: up to 350 m works."),
    (f"dive to {10**30} m", "A depth of 1e+30 m cannot be: up to 350 m works."),
    ("2 dives today, 0 minutes", "A dive of 0 minutes cannot be: up to 1440 works."),
    ("2 dives today, 25 hours", "A dive of 1500 minutes cannot be: up to 1440 works."),
    ("2 dives today, 900 degrees", "900 °C cannot be: -40 to 60 works."),
    ("2 dives today, 3 % oxygen", "3 % oxygen cannot be: 4 to 100 works."),
    ("400 % oxygen stage", "400 % oxygen cannot be: 4 to 100 works."),
    ("add stage 400 %", "400 % oxygen cannot be: 4 to 100 works."),
    ("add cylinder 99 l", "A cylinder of 99 litres cannot be: up to 60 works."),
    ("add cylinder 0 l", "A cylinder of 0 litres cannot be: up to 60 works."),
    ("dived on 31 february", "No calendar has a 31 february: try 12 June or 2026-06-12."),
    ("dived on 30/2/2026", "No calendar has a 30/2/2026: try 12 June or 2026-06-12."),
    ("dived on 2026-13-45", "No calendar has a 2026-13-45: try 12 June or 2026-06-12."),
    ("trip 31 june to 3 july", "No calendar has a 31 june 2026: try 12 June or 2026-06-12."),
    (
        "trip 2026-12-30 to 2036-01-01",
        "A trip ends after it begins, within a year: try 12 to 19 December.",
    ),
    ("snooze until 31 february", "No calendar has a 31 february: try 12 June or 2026-06-12."),
    ("Nessie serviced tomorrow", "11 June 2026 lies ahead: tell me once it is done."),
    ("quiet hours 25 to 99", "25:00 is no time of day: 18:00 or 7 pm works."),
    ("reminders at 77", "77:00 is no time of day: 18:00 or 7 pm works."),
    (
        "zone Mars/Olympus",
        "I do not know that zone. Say it like: zone Europe/Berlin, or zone America/New_York.",
    ),
    (
        "the manual says service Nessie every 0 dives",
        "An interval of 1 to 1000 dives works: every 200 dives, every 24 months.",
    ),
    (
        "the manual says service Nessie every 5000 days",
        "An interval of 1 to 3650 days works: every 200 dives, every 24 months.",
    ),
]


def test_number_or_date_that_cannot_be_is_named(deck, facts, capsys):
    found = answers(deck, facts, capsys, (text for text, _ in CANNOT_BE))
    assert found == {ascii(text): first for text, first in CANNOT_BE}


@pytest.mark.parametrize("text", ["2 dives tomorrow", "2 dives on 20 June 2026", "dived next week, 30 m"])
def test_dive_in_the_future_is_refused_and_a_trip_proposed(deck, facts, capsys, text):
    assert refused(deck, facts, capsys, text).endswith(
        "lies ahead: a dive is logged once it is done. For plans, say: trip 12 to 19 December, 14 dives."
    )


@pytest.mark.parametrize(
    "text", ["sold the spaceship", "rinsed the submarine", "sold the scooter", "made the tea"]
)
def test_item_nobody_owns_changes_nothing(deck, facts, capsys, text):
    before = facts()
    assert deck.say(text).first
    assert (facts(), capsys.readouterr().err) == (before, "")


# what goes wrong today


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("900 m dive", "A depth of 900 m cannot be: up to 350 m works."),
        ("2000 ft dive", "A depth of 609.6 m cannot be: up to 350 m works."),
    ],
)
def test_depth_before_the_dive_is_a_depth(deck, facts, capsys, text, first):
    assert refused(deck, facts, capsys, text) == first


@pytest.mark.parametrize(
    "text",
    [
        "Robert'); DELETE FROM dive; --",
        "the dive was cancelled",
        "we cancelled the dive",
        "thanks for the dive tip",
    ],
)
def test_dive_that_nobody_says_was_done_is_not_logged(deck, facts, capsys, text):
    before = facts()
    deck.say(text)
    assert facts()["dive"] == before["dive"]


def test_trip_in_the_past_logs_no_dive_today(deck, facts):
    before = facts()
    deck.say("trip 12 to 19 december 2020, 3 dives")
    assert facts()["dive"] == before["dive"]


@pytest.mark.parametrize("text", ["trip 19 to 12 december", "trip 30 to 2 december, 4 dives"])
def test_trip_that_ends_before_it_begins_is_refused(deck, facts, capsys, text):
    assert refused(deck, facts, capsys, text) == (
        "A trip ends after it begins, within a year: try 12 to 19 December."
    )


def test_trip_until_a_day_no_month_has_is_refused(deck, facts, capsys):
    assert "99 december" in refused(deck, facts, capsys, "trip 1 to 99 december")


def test_cylinder_of_five_hundred_litres_is_refused(deck, facts, capsys):
    assert refused(deck, facts, capsys, "add cylinder 500 l") == (
        "A cylinder of 500 litres cannot be: up to 60 works."
    )


@pytest.mark.parametrize(
    "text",
    ["2 dives on 1 january 0001", "2 dives 999 years ago", "dived 5000 years ago", "2 dives on 11.06.26"],
)
def test_dive_of_another_century_is_not_logged(deck, facts, text):
    before = facts()
    deck.say(text)
    assert facts()["dive"] == before["dive"]


# names


@pytest.mark.parametrize(
    "name",
    ["<b>Big & Red</b>", "*Bold* _it_", "[x](tg://user)", "`code`", "&lt", "%s {0} $1", "🤿 blue"],
)
def test_name_with_markup_is_kept_and_shown_as_it_was_said(deck, facts, capsys, name):
    assert deck.say(f"add dry suit called {name}, plastic zip, latex seals").first == f"Added: {name}."
    assert [i["name"] for i in facts()["item"]] == ["Nessie", name]
    shown = deck.say("show kit")
    assert shown.data["items"] == ["Nessie", name]
    assert [o.label for o in shown.offers] == ["Nessie", name, "Pocket card"]
    assert deck.tap(name).first.startswith(f"{name} (plastic zip, latex seals): 0 dives")
    assert deck.tap("Out of my kit").first == f"{name} is out of your kit. Its record stays."
    assert capsys.readouterr().err == ""


def test_name_of_a_statement_harms_no_table(deck, facts):
    deck.say("add scooter called x; DROP TABLE item")
    assert [i["kind"] for i in facts()["item"]] == ["dry_suit", "scooter"]


def test_name_of_control_and_direction_marks_is_not_kept(deck, facts):
    deck.say("add scooter called \u202e\x00\u200f")
    assert [i["name"] for i in facts()["item"]] == ["Nessie", "scooter"]


def test_name_said_twice_is_told_apart(deck, facts):
    deck.say("add scooter called Otter")
    deck.say("add scooter called Otter")
    names = [i["name"] for i in facts()["item"]]
    assert len(set(names)) == len(names) == 3
