"""What a trip makes due."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.care_rule import By, CareRule, Every
from scheduler.due import Due
from scheduler.trips import EVE, TripDue, begun, calls, due_with_trip, next_call
from store.vocabulary import Task

TODAY = date(2026, 6, 1)
FROM, TO = date(2026, 6, 12), date(2026, 6, 19)
DAY = timedelta(days=1)
WAX = CareRule("wax", Task.LUBRICATE, Every(dives=10, months=3))
SERVICE = CareRule("service", Task.SERVICE, Every(months=12), by=By.TECHNICIAN, critical=True)
RINSE = CareRule("rinse", Task.RINSE, Every(each_dive=True))


def due(rule, *, on=None, left=None):
    return Due(rule, "", on, "time" if on else "", None, 0, left, on)


def on_trip(*dues, dives=14):
    return [(t.due.rule.id, t.on, t.before) for t in due_with_trip(dues, FROM, TO, dives, today=TODAY)]


def test_trip_returns_the_due_it_was_given():
    given_due = due(WAX, on=FROM)
    assert due_with_trip([given_due], FROM, TO, 0, today=TODAY) == [TripDue(given_due, FROM, before=True)]


@pytest.mark.parametrize(
    ("on", "found"),
    [
        (date(2026, 5, 1), [("wax", TODAY, True)]),
        (date(2026, 6, 5), [("wax", date(2026, 6, 5), True)]),
        (FROM, [("wax", FROM, True)]),
        (FROM + DAY, [("wax", FROM + DAY, False)]),
        (TO, [("wax", TO, False)]),
        (TO + DAY, []),
        (None, []),
    ],
    ids=["long due", "before", "first day", "second day", "last day", "after", "unknown"],
)
def test_trip_and_the_calendar(on, found):
    assert on_trip(due(WAX, on=on), dives=0) == found


@pytest.mark.parametrize(
    ("left", "found"),
    [
        (1, [("wax", FROM, True)]),
        (2, [("wax", FROM, True)]),
        (3, [("wax", FROM + DAY, False)]),
        (14, [("wax", TO, False)]),
        (15, []),
    ],
)
def test_trip_and_the_dives_left(left, found):
    assert on_trip(due(WAX, left=left), dives=14) == found


def test_trip_falls_due_by_whichever_comes_first():
    assert on_trip(due(WAX, on=TO, left=2), dives=14) == [("wax", FROM, True)]


def test_trip_reaches_the_dives_before_the_calendar():
    assert on_trip(due(WAX, on=TO + 30 * DAY, left=14), dives=14) == [("wax", TO, False)]


def test_technician_s_work_is_done_before_leaving():
    assert on_trip(due(SERVICE, on=TO)) == [("service", TO, True)]


def test_care_after_each_dive_goes_without_saying():
    assert on_trip(due(RINSE, on=TODAY)) == []


def test_care_after_each_dive_that_can_hurt_and_was_not_done_is_said():
    loop = CareRule("loop", Task.DISINFECT, Every(each_dive=True), critical=True)
    assert on_trip(due(loop, on=TODAY - DAY)) == [("loop", TODAY, True)]
    assert on_trip(due(loop)) == []


@pytest.mark.parametrize(
    ("likely", "found"),
    [
        (FROM - DAY, [("wax", FROM - DAY, True)]),
        (FROM + 3 * DAY, [("wax", FROM + 3 * DAY, False)]),
        (TO + DAY, []),
    ],
)
def test_dives_at_the_usual_pace_before_leaving_count_too(likely, found):
    told = due_with_trip([due(WAX, left=20)], FROM, TO, 14, today=TODAY, likely={("", "wax"): likely})
    assert [(t.due.rule.id, t.on, t.before) for t in told] == found


def test_gravest_and_earliest_come_first():
    dues = [due(WAX, on=FROM), due(WAX, on=TODAY), due(SERVICE, on=TO), due(SERVICE, on=FROM)]
    assert [t[:2] for t in on_trip(*dues)] == [
        ("service", FROM),
        ("service", TO),
        ("wax", TODAY),
        ("wax", FROM),
    ]


@given(st.integers(1, 60), st.integers(0, 60), st.integers(0, 30))
@settings(max_examples=150, deadline=None)
def test_dive_that_makes_it_due_lies_within_the_trip_and_no_later_with_more_dives(left, dives, days):
    def on(n):
        found = due_with_trip([due(WAX, left=left)], FROM, FROM + days * DAY, n, today=TODAY)
        return found[0].on if found else None

    fewer, more = on(dives), on(dives + 1)
    assert (fewer is not None) is (left <= dives)
    if fewer is not None:
        assert FROM <= more <= fewer <= FROM + days * DAY


# --- when to speak of it -----------------------------------------------------------------------------------------------

STATION = CareRule("hydro", Task.TEST, Every(months=60), by=By.TEST_STATION, lead_days=28, critical=True)
SLOW = CareRule("rebreather", Task.SERVICE, Every(months=12), by=By.TECHNICIAN, lead_days=42, critical=True)
OWN = CareRule("latex", Task.REPLACE, Every(months=24), lead_days=28)


def called(*dues):
    return calls(due_with_trip(dues, FROM, TO, 14, today=TODAY))


def test_calls_are_each_lead_time_and_the_evening_before():
    assert called(due(STATION, on=FROM), due(SLOW, on=TO), due(OWN, on=FROM), due(WAX, on=FROM)) == [
        42,
        28,
        EVE,
    ]


def test_lead_time_of_what_is_not_due_by_then_is_no_call():
    assert called(due(STATION, on=TO + DAY)) == [EVE]


@pytest.mark.parametrize(
    ("days_before", "told", "expected"),
    [
        (60, None, (42, FROM - 42 * DAY)),
        (42, None, (42, FROM - 42 * DAY)),
        (41, None, (42, FROM - 41 * DAY)),
        (41, 42, (28, FROM - 28 * DAY)),
        (20, None, (28, FROM - 20 * DAY)),
        (20, 28, (EVE, FROM - DAY)),
        (1, 28, (EVE, FROM - DAY)),
        (1, EVE, None),
        (0, None, None),
        (-3, None, None),
    ],
    ids=[
        "far ahead",
        "the day",
        "a day late",
        "told",
        "both passed",
        "told the later",
        "evening before",
        "all told",
        "leaving",
        "away",
    ],
)
def test_next_call_is_the_latest_that_has_passed_or_the_next_to_come(days_before, told, expected):
    assert next_call([42, 28, EVE], FROM, told, FROM - days_before * DAY) == expected


@pytest.mark.parametrize(
    ("days_before", "expected"), [(60, None), (42, 42), (30, 42), (28, 28), (2, 28), (1, 28)]
)
def test_call_that_a_plan_made_today_says_by_itself(days_before, expected):
    assert begun([42, 28, EVE], FROM, FROM - days_before * DAY) == expected


@given(st.lists(st.integers(2, 90), max_size=4), st.integers(-5, 120))
@settings(max_examples=150, deadline=None)
def test_calls_told_day_by_day_are_each_made_once_and_never_after_leaving(leads, start):
    days_before, told, made = sorted({*leads, EVE}, reverse=True), None, []
    for ahead in range(start, -6, -1):
        day = FROM - ahead * DAY
        found = next_call(days_before, FROM, told, day)
        if found is not None and found[1] == day:
            told = found[0]
            made.append((told, ahead))
    assert len({lead for lead, _ in made}) == len(made)
    assert all(ahead >= 1 for _, ahead in made)
    assert bool(made) is (start >= 1)
