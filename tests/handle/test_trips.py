"""A trip from the plan to the evening before: what it makes due, when it is spoken of, and what changes its mind."""

from zoneinfo import ZoneInfo

import pytest

BERLIN = ZoneInfo("Europe/Berlin")

TRIP = "trip 12 to 19 September, 14 dives, salt, 4 degrees"


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Berlin whose regulator is serviced in time and whose twinset is not tested in time. 10 June 2026."""
    return talk.has_said(
        "zone Europe/Berlin",
        "I live in Germany",
        "add twinset 32%",
        "twinset hydro tested August 2021",
        "twinset visual done August 2025",
        "add regulator set, 32%",
        "regs serviced on 1 June 2026",
        "valve serviced on the twinset 1 June 2026",
        "add dry suit, plastic zip, latex seals",
        "valves of the dry suit serviced 1 June 2026",
    )


def calls(sent):
    """Return the reminders that speak of a trip: local moment and first line."""
    return [
        (f"{s.at.astimezone(BERLIN):%d %b %H:%M}", s.reply.first) for s in sent if s.reply.data.get("trips")
    ]


def lines_of(reply, title):
    """Return the lines below a title."""
    lines = list(reply.lines)
    start = lines.index(title) + 1
    end = next((n for n in range(start, len(lines)) if not lines[n].startswith("- ")), len(lines))
    return lines[start:end]


def test_plan_says_what_must_be_done_before_and_during(deck):
    told = deck.say(TRIP)
    assert told.first == "Trip 12 September to 19 September, 14 dives: 1 to do before, 2 during."
    assert lines_of(told, "Before you leave:") == [
        "- Hydrostatic test: twinset 32 % - due 31 August, by a test station"
    ]
    assert told.cautions == ()


def test_plan_made_too_late_for_the_test_station_says_so(deck):
    deck.until("2026-09-01T10:00:00+02:00")
    told = deck.say(TRIP)
    assert told.cautions == ("Call the workshop today, it is tight: twinset 32 %.",)


def test_lead_time_and_the_evening_before_are_called_out_once_each(deck):
    deck.say(TRIP)
    assert calls(deck.until("2026-09-25T12:00:00+02:00")) == [
        ("15 Aug 18:00", "Trip in 28 days, 12 September: book now, 1 job for others."),
        ("11 Sep 18:00", "Trip tomorrow, to 19 September: 1 thing still to do, then pack."),
    ]


def test_lead_time_of_what_was_done_meanwhile_is_not_called_out(deck):
    deck.say(TRIP)
    deck.say("twinset hydro tested today")
    assert [first for _, first in calls(deck.until("2026-09-25T12:00:00+02:00"))] == [
        "Trip tomorrow, to 19 September: nothing is open, then pack."
    ]


def test_lead_time_that_the_plan_itself_told_is_not_called_out_again(deck):
    deck.until("2026-08-20T10:00:00+02:00")
    deck.say(TRIP)
    assert [at for at, _ in calls(deck.until("2026-09-25T12:00:00+02:00"))] == ["11 Sep 18:00"]


def test_evening_before_holds_the_packing_list(deck):
    deck.say(TRIP)
    eve = [s for s in deck.until("2026-09-12T01:00:00+02:00") if s.reply.data.get("trips")][-1].reply
    assert "Take along:" in eve.lines
    assert "- lint-free cloth, a soft O-ring pick, an old toothbrush and mild soap" in eve.lines[4]


@pytest.mark.parametrize(
    ("wish", "at"),
    [
        ("reminders at 7:30", "11 Sep 18:00"),
        ("reminders at 20:15", "11 Sep 20:15"),
        ("quiet hours 17 to 6", "11 Sep 16:00"),
        ("quiet hours 0 to 20", "11 Sep 20:00"),
    ],
    ids=["early bird", "late", "quiet evening", "quiet till late"],
)
def test_evening_before_is_an_evening_outside_quiet_hours(deck, wish, at):
    deck.say(wish)
    deck.say(TRIP)
    assert [when for when, _ in calls(deck.until("2026-09-12T09:00:00+02:00"))][-1] == at


def test_trip_told_anew_is_the_same_trip(deck):
    deck.say(TRIP)
    told = deck.say("trip 13 to 20 September, 10 dives")
    assert told.first == "Changed: trip 13 September to 20 September, 10 dives: 1 to do before, 2 during."
    assert [at for at, _ in calls(deck.until("2026-09-25T12:00:00+02:00"))] == [
        "16 Aug 18:00",
        "12 Sep 18:00",
    ]


def test_two_trips_are_two(deck):
    deck.say(TRIP)
    deck.say("trip 3 to 5 October, 4 dives")
    assert [o.label for o in deck.say("when is my trip?").offers] == [
        "Why",
        "Sheet to print",
        "Trip is off",
        "3 October to 5 October",
    ]


def test_trip_that_is_off_is_not_spoken_of(deck):
    deck.say(TRIP)
    assert deck.say("cancel the trip").first == (
        "Trip 12 September to 19 September is off. Nothing more is said of it."
    )
    assert calls(deck.until("2026-09-25T12:00:00+02:00")) == []
    assert deck.say("when is my trip?").first == "No trip is planned."


def test_trip_that_is_off_comes_back_by_undo(deck):
    deck.say(TRIP)
    deck.say("cancel the trip")
    deck.say("undo")
    assert len(calls(deck.until("2026-09-25T12:00:00+02:00"))) == 2


def test_snooze_until_after_the_trip(deck):
    deck.say("2 dives today, salt")
    deck.say("trip 12 to 19 June, 14 dives")
    assert deck.say("remind me after the trip").first.startswith("Put off until 20 June")


def test_snooze_until_after_a_trip_that_nobody_planned(deck):
    deck.say("2 dives today, salt")
    assert deck.say("remind me after the trip").first == "No trip is planned, so I do not know until when."


def test_heat_and_a_wide_span_of_temperatures(deck):
    hot = deck.say("trip 12 to 19 September, 14 dives, 4 to 35 degrees")
    told = [line for line in hot.lines if line.startswith(("Cold water", "Such a span", "Heat"))]
    assert [line.split(":")[0] for line in told] == [
        "Cold water (4 °C)",
        "Such a span of temperatures",
        "Heat (35 °C)",
    ]


def test_spare_rings_are_packed_by_size(deck):
    deck.say("the twinset outlet o-ring takes dash 014")
    told = deck.say(TRIP)
    assert "- spare O-rings by size: -014 (twinset 32 %)" in told.lines


def test_trip_of_another_locker_is_not_seen(deck):
    deck.say(TRIP)
    assert deck.elsewhere("other").say("when is my trip?").first == "No trip is planned."


def test_trip_that_has_begun_counts_only_the_dives_still_to_come(deck):
    deck.say("trip 10 to 19 June, 10 dives")
    deck.until("2026-06-17T20:00:00+02:00")
    told = deck.say("when is my trip?")
    assert "docking end" not in "\n".join(told.lines)


def test_loop_that_was_not_disinfected_is_said_before_leaving(deck):
    deck.say("add rebreather, 100%")
    deck.say("1 dive today with the rebreather")
    told = deck.say(TRIP)
    assert any("Disinfect the loop: rebreather" in line for line in lines_of(told, "Before you leave:"))


def test_trip_moved_nearer_and_taken_back_is_called_out_as_first_planned(deck):
    deck.say(TRIP)
    deck.say("trip 5 September to 13 September, 14 dives")
    deck.say("undo")
    assert [at for at, _ in calls(deck.until("2026-09-25T12:00:00+02:00"))] == [
        "15 Aug 18:00",
        "11 Sep 18:00",
    ]


def test_trip_moved_far_ahead_is_called_out_for_its_new_lead_time(deck):
    deck.until("2026-08-20T10:00:00+02:00")
    deck.say("trip 10 September to 1 November, 14 dives")
    assert deck.say("trip 1 November to 8 November, 14 dives").first.startswith("Changed: trip 1 November")
    told = [at for at, _ in calls(deck.until("2026-11-09T12:00:00+02:00"))]
    assert told == ["04 Oct 18:00", "31 Oct 18:00"]
