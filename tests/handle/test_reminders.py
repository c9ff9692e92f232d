"""When reminders come after wishes, undo and trips have changed in between."""

from zoneinfo import ZoneInfo

import pytest

BERLIN = ZoneInfo("Europe/Berlin")


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Berlin. 10 June 2026, 14:00."""
    return talk.has_said("zone Europe/Berlin")


def told(sent, word):
    """Return the local moments of reminders that speak of something."""
    return [
        f"{s.at.astimezone(BERLIN):%d %b %H:%M}"
        for s in sent
        if word in s.reply.first or any(word in line for line in s.reply.lines)
    ]


def test_undo_brings_back_what_was_told_too(deck):
    """Neither told again that evening, nor silent until the week after."""
    deck.say("add wing")
    deck.say("wing serviced by a technician on 10 June 2025")
    assert told(deck.until("2026-06-11T12:00:00+02:00"), "Inflator") == ["10 Jun 18:00"]
    deck.say("wing serviced by a technician today")
    deck.say("undo")
    assert told(deck.until("2026-06-26T12:00:00+02:00"), "Inflator") == ["17 Jun 18:00", "25 Jun 18:00"]


def test_second_telling_of_what_was_told_late_keeps_its_distance(deck):
    deck.say("add wing")
    deck.say("wing serviced by a technician on 5 June 2025")
    assert told(deck.until("2026-06-26T12:00:00+02:00"), "Inflator") == [
        "10 Jun 18:00",
        "18 Jun 18:00",
        "25 Jun 18:00",
    ]


@pytest.mark.parametrize(
    ("wish", "at"),
    [("reminders at 17:00", "04 Jul 19:01"), ("reminders at 20:00", "04 Jul 20:00")],
)
def test_last_check_is_not_lost_when_the_hour_moves_on_the_very_evening(deck, wish, at):
    deck.say("reminders at 21:00")
    deck.say("add dry suit, plastic zip, latex seals")
    deck.say("trip 5 to 15 July, 6 dives")
    deck.until("2026-07-04T19:00:00+02:00")
    deck.say(wish)
    sent = deck.until("2026-07-05T12:00:00+02:00")
    assert told(sent, "Trip tomorrow") == [at]


def test_last_check_waits_for_the_evening_whatever_came_up_the_day_before(deck):
    deck.say("reminders at 08:00")
    deck.say("add dry suit, plastic zip, latex seals")
    deck.say("trip 5 to 15 July, 6 dives")
    deck.until("2026-07-03T10:00:00+02:00")
    deck.say("the dry suit leaks")
    assert told(deck.until("2026-07-05T12:00:00+02:00"), "Trip tomorrow") == ["04 Jul 18:00"]


def test_plan_made_on_the_evening_before_is_the_last_check(deck):
    deck.say("add dry suit, plastic zip, latex seals")
    deck.until("2026-06-10T20:00:00+02:00")
    deck.say("trip 11 to 15 June, 6 dives")
    assert told(deck.until("2026-06-12T12:00:00+02:00"), "Trip tomorrow") == []


def test_snooze_holds_for_a_reminder_that_already_waits(deck):
    deck.say("add wing")
    deck.say("wing serviced by a technician on 10 June 2025")
    deck.until("2026-06-10T19:00:00+02:00")  # today's message is out
    deck.say("add scooter")
    deck.say("scooter flooded today")
    deck.until("2026-06-10T21:00:00+02:00")
    deck.say("snooze 5 days")
    assert told(deck.until("2026-06-17T12:00:00+02:00"), "Flooded") == ["15 Jun 18:00"]


def test_what_waited_while_reminders_were_off_is_told_once_they_are_on(deck):
    deck.say("add wing")
    deck.say("wing serviced by a technician on 10 June 2025")
    deck.until("2026-06-10T19:00:00+02:00")
    deck.say("reminders at 19:30")
    deck.say("add scooter")
    deck.say("scooter flooded today")
    deck.until("2026-06-10T20:00:00+02:00")
    deck.say("reminders off")
    deck.until("2026-06-12T12:00:00+02:00")
    deck.say("reminders on")
    assert told(deck.until("2026-06-13T12:00:00+02:00"), "Flooded") == ["12 Jun 19:30"]


@pytest.mark.parametrize(
    ("change", "first"),
    [("cancel the trip", "10 Jun 18:00"), ("trip 12 to 25 June, 14 dives", "26 Jun 18:00")],
    ids=["off", "longer"],
)
def test_wish_until_after_the_trip_goes_with_the_trip(deck, change, first):
    deck.say("add regulator set, 32%")
    deck.say("regs serviced by a technician on 1 March 2025")
    deck.say("trip 12 to 19 June, 14 dives")
    deck.say("remind me after the trip")
    deck.say(change)
    sent = [s for s in deck.until("2026-06-27T12:00:00+02:00") if not s.reply.data.get("trips")]
    assert told(sent, "Service:")[0] == first


def test_first_german_test_counts_from_the_manufacture_mark_if_it_came_in_time(deck):
    """BetrSichV § 14(5): two months late is on time, so the period runs from the old due month."""
    deck.say("I live in Germany")
    deck.say("add stage 50%, made April 2021")
    told_ = deck.say("stage hydro tested June 2026")
    assert told_.lines[0] == "Next due by 30 April 2031, counted from the old due month, April 2026."


def test_test_before_the_flood_says_that_the_flood_stands_open(deck):
    deck.say("I live in the UK")
    deck.say("add stage 50%")
    deck.say("the stage flooded today")
    lines = deck.say("stage visual done March 2026").lines
    assert lines[0] == "Next due by 31 March 2027, counted from the test of March 2026."
    assert lines[1] == "Due all the same: it was flooded today, and nothing since answers that."


def test_test_long_ago_is_told_as_overdue(deck):
    deck.say("I live in the UK")
    deck.say("add stage 50%")
    lines = deck.say("stage visual done March 2024").lines
    assert lines[0] == "OVERDUE since 31 March 2025, counted from the test of March 2024."


def test_what_is_not_in_the_kit_is_not_sold_as_something_else(deck):
    deck.say("add regulator set, 32%")
    assert deck.say("sold the stage").first.startswith("There is no")
    assert deck.say("show kit").first.startswith("1 item")
