"""When somebody is told, and when not."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from scheduler.care_rule import By, CareRule, Every
from scheduler.policy import (
    AHEAD,
    ANSWERS,
    DUE,
    NOTICES,
    OVERDUE,
    SOONEST_REPEAT_DAYS,
    Wishes,
    after_quiet,
    begins_on,
    evening_of,
    hour_of,
    is_overdue,
    next_telling,
    retry_at,
    stage_name,
    stage_on,
    told_with,
)
from store.vocabulary import Task

DUE_ON = date(2026, 6, 10)
DAY = timedelta(days=1)
SERVICE = CareRule("service", Task.SERVICE, Every(months=12), by=By.TECHNICIAN, lead_days=28, critical=True)
RINGS = CareRule("rings", Task.LUBRICATE, Every(dives=10, months=3), critical=True)
SPRAY = CareRule("spray", Task.LUBRICATE, Every(months=6))
RINSE = CareRule("rinse", Task.RINSE, Every(each_dive=True))
LOOP = CareRule("loop", Task.DISINFECT, Every(each_dive=True), critical=True)
CELLS = CareRule("cells", Task.CALIBRATE, Every(each_dive=True), critical=True, before_next=True)
RULES = pytest.mark.parametrize("rule", [SERVICE, SPRAY, RINSE, LOOP], ids=lambda r: r.id)
rules = st.sampled_from([SERVICE, SPRAY, RINSE, LOOP])

NIGHT = Wishes("Europe/Berlin", time(18), time(22), time(7))
NOON_REST = Wishes("Europe/Berlin", time(18), time(12), time(14))


def berlin(text):
    return datetime.fromisoformat(text).replace(tzinfo=ZoneInfo("Europe/Berlin"))


def told_over(rule, days):
    """Walk day by day as the scheduler does; return (days from the due date, stage) of each telling."""
    told, said = None, []
    for n in days:
        day = DUE_ON + n * DAY
        if next_telling(rule, DUE_ON, told, day) == day:
            stage = stage_on(rule, DUE_ON, day)
            told = told_with(rule, DUE_ON, stage, day)
            said.append((n, stage_name(stage)))
    return said


# --- stages ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "stages"),
    [
        (
            SERVICE,
            {-29: None, -28: 0, -1: 0, 0: 1, 6: 1, 7: 2, 14: 2, 15: 3, 21: 3, 22: 4, 71: 11},
        ),
        (SPRAY, {-28: None, -1: None, 0: 1, 6: 1, 7: 2, 14: 2, 70: 2}),
        (RINSE, {-1: None, 0: 1, 7: 1, 70: 1}),
        (LOOP, {-1: None, 0: 1, 6: 1, 7: 2, 14: 2, 15: 3}),
        (CELLS, {-1: None, 0: 1, 7: 1, 70: 1}),
    ],
    ids=["service", "spray", "rinse", "loop", "cells"],
)
def test_stage_on_a_day(rule, stages):
    assert {n: stage_on(rule, DUE_ON, DUE_ON + n * DAY) for n in stages} == stages


def test_stage_names_are_the_words_of_the_contract():
    assert [stage_name(n) for n in range(5)] == ["ahead", "due", "overdue", "overdue", "overdue"]


@given(rules, st.integers(AHEAD, 30))
@settings(max_examples=100, deadline=None)
def test_stage_begins_on_the_first_day_that_it_is_the_stage(rule, stage):
    first = begins_on(rule, DUE_ON, stage)
    if first is not None:
        before, on = (stage_on(rule, DUE_ON, day) for day in (first - DAY, first))
        assert (on, before) == (
            stage,
            stage - 1 if stage > AHEAD and (stage > DUE or rule.lead_days) else None,
        )


@pytest.mark.parametrize(
    ("rule", "first_day"),
    [(SERVICE, 1), (RINGS, 1), (LOOP, 2), (SPRAY, 7), (RINSE, None)],
    ids=lambda x: str(x)[:12],
)
def test_overdue_from_which_day(rule, first_day):
    days = [n for n in range(-30, 400) if is_overdue(rule, DUE_ON, DUE_ON + n * DAY)]
    assert days == (list(range(first_day, 400)) if first_day else [])


def test_test_due_in_june_is_overdue_from_the_first_of_july():
    # 49 CFR 180.205(c) as applied in PHMSA interpretation 11-0131: any day of the month it falls due is in time
    law = CareRule("hydro", Task.TEST, Every(months=60), critical=True, by_law=True)
    days = [date(2029, 6, 1), date(2029, 6, 30), date(2029, 7, 1)]
    assert [is_overdue(law, date(2029, 6, 30), day) for day in days] == [False, False, True]


# --- tellings ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (
            SERVICE,
            [(-28, "ahead"), (0, "due"), (7, "overdue"), (15, "overdue"), (22, "overdue"), (29, "overdue")],
        ),
        (SPRAY, [(0, "due"), (7, "overdue")]),
        (RINSE, [(0, "due")]),
        (RINGS, [(0, "due"), (7, "overdue")]),
        (CELLS, [(0, "due")]),
        (LOOP, [(0, "due"), (7, "overdue"), (15, "overdue"), (22, "overdue"), (29, "overdue")]),
    ],
    ids=["service", "spray", "rinse", "rings", "cells", "loop"],
)
def test_task_left_undone_is_told_once_a_stage(rule, said):
    assert told_over(rule, range(-40, 30)) == said


@pytest.mark.parametrize(
    ("rule", "said"),
    [(SERVICE, [(60, "overdue")]), (SPRAY, [(60, "overdue")]), (RINSE, [(60, "due")])],
    ids=["service", "spray", "rinse"],
)
def test_task_found_after_long_silence_is_told_once_not_once_a_stage(rule, said):
    assert told_over(rule, range(60, 70)) == said


@pytest.mark.parametrize("start", range(60, 67))
def test_repeat_comes_no_sooner_than_some_days_after_a_telling(start):
    first, second = [n for n, _ in told_over(SERVICE, range(start, start + 14))][:2]
    assert SOONEST_REPEAT_DAYS <= second - first <= 11


def test_two_overdue_tasks_are_repeated_on_the_same_weekday():
    """One message a week holds them both, in time for the weekend."""
    repeats = {
        begins_on(SERVICE, DUE_ON + n * DAY, OVERDUE + k).strftime("%A")
        for n in range(14)
        for k in range(1, 4)
    }
    assert repeats == {"Thursday"}


@given(rules, st.integers(-60, 120), st.none() | st.integers(AHEAD, 12))
@settings(max_examples=300, deadline=None)
def test_next_telling_is_the_first_day_on_which_a_newer_stage_has_begun(rule, n, told):
    today = DUE_ON + n * DAY

    def newer(day):
        stage = stage_on(rule, DUE_ON, day)
        return stage is not None and (told is None or stage > told)

    walked = next((today + k * DAY for k in range(300) if newer(today + k * DAY)), None)
    assert next_telling(rule, DUE_ON, told, today) == walked


@RULES
def test_next_telling_after_everything_was_said(rule):
    told = OVERDUE + 5
    expected = begins_on(rule, DUE_ON, told + 1)
    assert next_telling(rule, DUE_ON, told, DUE_ON + 43 * DAY) == expected
    assert (expected is not None) is rule.critical


# --- hours -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wishes", "at", "then"),
    [
        (NIGHT, "2026-06-10T21:59:59", "2026-06-10T21:59:59"),
        (NIGHT, "2026-06-10T22:00", "2026-06-11T07:00"),
        (NIGHT, "2026-06-10T23:59", "2026-06-11T07:00"),
        (NIGHT, "2026-06-11T00:00", "2026-06-11T07:00"),
        (NIGHT, "2026-06-11T06:59:59", "2026-06-11T07:00"),
        (NIGHT, "2026-06-11T07:00", "2026-06-11T07:00"),
        (NIGHT, "2026-12-31T23:30", "2027-01-01T07:00"),
        (NOON_REST, "2026-06-10T11:59", "2026-06-10T11:59"),
        (NOON_REST, "2026-06-10T12:00", "2026-06-10T14:00"),
        (NOON_REST, "2026-06-10T13:59", "2026-06-10T14:00"),
        (NOON_REST, "2026-06-10T14:00", "2026-06-10T14:00"),
        (Wishes("Europe/Berlin", time(18), time(9), time(9)), "2026-06-10T09:00", "2026-06-10T09:00"),
    ],
)
def test_instant_in_quiet_hours_moves_to_their_end(wishes, at, then):
    assert after_quiet(berlin(at), wishes) == berlin(then).astimezone(UTC)


@pytest.mark.parametrize(
    ("zone", "at", "then"),
    [  # changes of the clocks: IANA time zone database
        ("Europe/Berlin", "2026-03-28T23:00+01:00", "2026-03-29T05:00+00:00"),
        ("Europe/Berlin", "2026-03-29T01:59+01:00", "2026-03-29T05:00+00:00"),
        ("Europe/Berlin", "2026-03-29T03:00+02:00", "2026-03-29T05:00+00:00"),
        ("Europe/Berlin", "2026-10-24T23:00+02:00", "2026-10-25T06:00+00:00"),
        ("Europe/Berlin", "2026-10-25T02:30+02:00", "2026-10-25T06:00+00:00"),
        ("Europe/Berlin", "2026-10-25T02:30+01:00", "2026-10-25T06:00+00:00"),
        ("America/New_York", "2026-03-07T23:00-05:00", "2026-03-08T11:00+00:00"),
        ("America/New_York", "2026-03-08T03:00-04:00", "2026-03-08T11:00+00:00"),
        ("America/New_York", "2026-10-31T23:00-04:00", "2026-11-01T12:00+00:00"),
        ("America/New_York", "2026-11-01T01:30-05:00", "2026-11-01T12:00+00:00"),
    ],
)
def test_quiet_night_in_which_the_clocks_change_ends_at_seven_on_the_wall(zone, at, then):
    wishes = Wishes(zone, time(18), time(22), time(7))
    assert after_quiet(datetime.fromisoformat(at), wishes) == datetime.fromisoformat(then)


@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [  # changes of the clocks: IANA time zone database
        ("Europe/Berlin", date(2026, 3, 29), (17, 16, 16)),
        ("Europe/Berlin", date(2026, 10, 25), (16, 17, 17)),
        ("America/New_York", date(2026, 3, 8), (23, 22, 22)),
        ("America/New_York", date(2026, 11, 1), (22, 23, 23)),
    ],
)
def test_hour_stays_on_the_wall_when_the_clocks_change(zone, day, hours):
    wishes = Wishes(zone, time(18), time(22), time(7))
    days = (day - DAY, day, day + DAY)
    assert [hour_of(on, wishes) for on in days] == [
        datetime(on.year, on.month, on.day, hour, tzinfo=UTC) for on, hour in zip(days, hours, strict=True)
    ]


@pytest.mark.parametrize(
    ("digest_at", "then"),
    [(time(6), "2026-06-10T07:00"), (time(23), "2026-06-11T07:00"), (time(0), "2026-06-10T07:00")],
)
def test_hour_in_quiet_hours_moves_to_their_end(digest_at, then):
    wishes = Wishes("Europe/Berlin", digest_at, time(22), time(7))
    assert hour_of(DUE_ON, wishes) == berlin(then).astimezone(UTC)


clocks = st.times().map(lambda t: t.replace(second=0, microsecond=0))
around_changes = st.builds(
    lambda day, span: datetime(*day, tzinfo=UTC) + span,
    st.sampled_from([(2026, 3, 8), (2026, 3, 29), (2026, 10, 25), (2026, 11, 1), (2026, 6, 10)]),
    st.timedeltas(timedelta(0), timedelta(days=1, hours=12)),
)
zones = st.sampled_from(["Europe/Berlin", "America/New_York"])


@given(zones, around_changes, clocks, st.integers(1, 16 * 60))
@settings(max_examples=400, deadline=None)
def test_after_quiet_is_never_inside_quiet_hours_and_never_earlier(zone, at, start, minutes):
    end = (datetime.combine(date(2026, 1, 1), start) + timedelta(minutes=minutes)).time()
    wishes = Wishes(zone, time(18), start, end)
    assume(not at.astimezone(ZoneInfo(zone)).fold)  # that hour has a test of its own
    then = after_quiet(at, wishes)
    clock = then.astimezone(ZoneInfo(zone)).time()
    inside = start <= clock < end if start < end else not end <= clock < start
    assert (inside, then >= at, then.tzinfo) == (False, True, UTC)
    assert after_quiet(then, wishes) == then


def test_after_quiet_in_the_hour_that_comes_twice_is_not_earlier():
    wishes = Wishes("Europe/Berlin", time(18), time(22), time(2, 30))
    second_round = datetime.fromisoformat("2026-10-25T02:15+01:00")
    assert after_quiet(second_round, wishes) == datetime.fromisoformat("2026-10-25T02:30+01:00")


# --- retries -----------------------------------------------------------------------------------------------------------

NOW = datetime(2026, 6, 10, 16, tzinfo=UTC)


def test_retry_waits_twice_as_long_each_time_and_then_gives_up():
    waits = [retry_at(n, NOW) for n in range(1, NOTICES.attempts + 2)]
    seconds = [None if at is None else (at - NOW).total_seconds() for at in waits]
    assert seconds == [30, 60, 120, 240, 480, 960, 1920, None, None]


def test_retry_of_an_answer_comes_at_once_and_goes_on_for_hours():
    waits = [retry_at(n, NOW, how=ANSWERS) for n in range(1, ANSWERS.attempts + 2)]
    seconds = [None if at is None else (at - NOW).total_seconds() for at in waits]
    assert seconds == [2**n for n in range(13)] + [None, None]
    assert timedelta(hours=2) < timedelta(seconds=sum(filter(None, seconds))) < timedelta(hours=3)


@pytest.mark.parametrize(
    ("wait", "seconds"),
    [(timedelta(seconds=5), 60), (timedelta(minutes=10), 600), (timedelta(0), 60), (None, 60)],
)
def test_retry_heeds_what_the_wire_asked_for_if_that_is_longer(wait, seconds):
    assert retry_at(2, NOW, wait) == NOW + timedelta(seconds=seconds)


# --- the evening before ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("digest", "quiet", "at"),
    [
        ("18:00", ("22:00", "07:00"), "18:00"),
        ("16:00", ("22:00", "07:00"), "16:00"),
        ("07:30", ("22:00", "07:00"), "18:00"),
        ("20:15", ("22:00", "07:00"), "20:15"),
        ("07:30", ("17:00", "06:00"), "16:00"),
        ("18:00", ("17:30", "19:30"), "16:30"),
        ("18:00", ("00:00", "20:00"), "20:00"),
        ("03:00", ("00:00", "00:00"), "18:00"),
    ],
)
def test_last_check_is_in_the_evening_and_never_in_quiet_hours(digest, quiet, at):
    wishes = Wishes("Europe/Berlin", *map(time.fromisoformat, (digest, *quiet)))
    assert evening_of(DUE_ON, wishes) == berlin(f"{DUE_ON} {at}")


@given(
    st.times().map(lambda t: t.replace(second=0, microsecond=0)),
    st.integers(0, 23),
    st.integers(0, 23),
    st.sampled_from(["Europe/Berlin", "Pacific/Auckland", "America/New_York", "Asia/Kathmandu"]),
    st.dates(date(2026, 1, 1), date(2028, 12, 31)),
)
@settings(max_examples=200, deadline=None)
def test_last_check_stays_on_its_day_outside_quiet_hours(digest, quiet_from, quiet_to, zone, on):
    wishes = Wishes(zone, digest, time(quiet_from), time(quiet_to))
    at = evening_of(on, wishes)
    assert at.astimezone(ZoneInfo(zone)).date() == on
    assert after_quiet(at, wishes) == at
