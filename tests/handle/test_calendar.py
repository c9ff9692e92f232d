"""The calendar of a locker: what stands in it, read back by independent readers, and who may read it."""

from datetime import date

import icalendar
import pytest
import recurring_ical_events

from bot.conversation import Conversation, Update
from bot.handle.calendar import calendar_of
from store import lockers


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Berlin with something due by law, by the calendar and by dives. 10 June 2026."""
    return talk.has_said(
        "zone Europe/Berlin",
        "I live in Germany",
        "add twinset 32%",
        "twinset hydro tested May 2024",
        "add dry suit, plastic zip, latex seals",
        "4 dives today, salt",
        "trip 12 to 19 September, 14 dives",
    )


def events(content):
    """Return the events as the reader sees them: by summary, first and last day."""
    calendar = icalendar.Calendar.from_ical(content)
    return {str(e["SUMMARY"]): e for e in calendar.walk("VEVENT")}


def content_of(reply):
    (file,) = reply.files
    return file.content


def test_file_holds_legal_dates_estimates_and_trips(deck):
    told = deck.say("calendar")
    assert (told.files[0].name, told.files[0].mime) == ("rinse-tank.ics", "text/calendar")
    found = events(content_of(told))
    hydro = found["Hydrostatic test (test station): twinset 32 %"]
    assert hydro["DTSTART"].dt == date(2029, 5, 31)
    assert "Counted from the test of May 2024" in str(hydro["DESCRIPTION"])
    assert "Check locally" in str(hydro["DESCRIPTION"])
    assert "Lubricate: docking end of the plastic zip, dry suit, about" in found
    assert found["Trip, 14 dives"]["DTSTART"].dt == date(2026, 9, 12)


def test_trip_lies_on_each_of_its_days_for_another_reader(deck):
    calendar = icalendar.Calendar.from_ical(content_of(deck.say("calendar")))
    on = {
        day: [str(e["SUMMARY"]) for e in recurring_ical_events.of(calendar).at(day) if "Trip" in e["SUMMARY"]]
        for day in (date(2026, 9, 11), date(2026, 9, 12), date(2026, 9, 19), date(2026, 9, 20))
    }
    assert on == {
        date(2026, 9, 11): [],
        date(2026, 9, 12): ["Trip, 14 dives"],
        date(2026, 9, 19): ["Trip, 14 dives"],
        date(2026, 9, 20): [],
    }


def test_entry_keeps_its_name_when_its_date_moves(deck):
    def uid(summary, content):
        return str(events(content)[summary]["UID"])

    hydro = "Hydrostatic test (test station): twinset 32 %"
    before = content_of(deck.say("calendar"))
    deck.wait(days=1)
    deck.say("twinset hydro tested today")
    after = content_of(deck.say("calendar"))
    assert uid(hydro, before) == uid(hydro, after)
    assert events(after)[hydro]["DTSTART"].dt == date(2031, 6, 30)
    assert events(after)[hydro]["DTSTAMP"].dt > events(before)[hydro]["DTSTAMP"].dt


def test_two_lockers_share_no_name_of_an_entry(deck):
    other = deck.elsewhere("other")
    other.say("add twinset 32%")
    names = [{str(e["UID"]) for e in events(content_of(d.say("calendar"))).values()} for d in (deck, other)]
    assert names[0] & names[1] == set()


def test_same_facts_on_the_same_day_give_the_same_bytes(deck):
    assert content_of(deck.say("calendar")) == content_of(deck.say("calendar"))


def test_what_each_dive_day_asks_for_stays_out(deck):
    assert not any("Rinse" in summary for summary in events(content_of(deck.say("calendar"))))


def test_empty_locker_gives_a_calendar_that_readers_take(talk):
    told = talk.say("calendar")
    assert (told.first, events(content_of(told))) == ("Your calendar: 0 dates.", {})


def test_link_without_a_web_address_is_a_file_instead(deck):
    told = deck.say("calendar link")
    assert told.first == "This bot has no web address, so there is no link; here is the file."
    assert len(told.files) == 1


def test_link_is_unguessable_stays_and_is_replaced_on_wish(store, deck):
    words = iter(f"word-{n}-long-enough" for n in range(99))
    conversation = Conversation(store, lambda: next(words), "https://kit.example/")

    def link(text):
        answer = conversation.take(Update("replay", deck.chat, "mara", deck.now, text=text))
        return answer.reply.first.rpartition("/")[2].removesuffix(".ics")

    first = link("calendar link")
    assert link("calendar link") == first
    second = link("new calendar link")
    assert second != first
    chats = store.read(lambda s: [lockers.chat_of_calendar(s, t) for t in (first, second, "", "x")])
    assert [c and c.address for c in chats] == [None, deck.chat, None, None]


def test_feed_and_file_are_the_same(store, deck):
    sent = content_of(deck.say("calendar"))
    chat = store.read(lambda s: lockers.open_chat(s, "replay", deck.chat, deck.now))
    assert store.read(lambda s: calendar_of(s, chat, deck.now)) == sent
