"""Time as an argument."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from scheduler.clock import SetClock, SystemClock, local_date

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)


def test_set_clock_stands_still_in_utc():
    clock = SetClock(datetime(2026, 6, 10, 14, tzinfo=ZoneInfo("Europe/Berlin")))
    assert [(t, t.tzinfo) for t in (clock.now(), clock.now())] == [(NOON, UTC)] * 2


def test_set_clock_moves_forward_and_never_back():
    clock, seen = SetClock(NOON), []
    for at in (NOON + timedelta(hours=2), NOON, NOON + timedelta(hours=1), NOON + timedelta(hours=3)):
        clock.set(at)
        seen.append(clock.now() - NOON)
    assert seen == [timedelta(hours=n) for n in (2, 2, 2, 3)]


def test_set_clock_moves_on_by_a_span():
    clock = SetClock(NOON)
    clock.forward(timedelta(minutes=5))
    assert clock.now() == NOON + timedelta(minutes=5)


def test_system_clock_is_aware_utc_and_does_not_run_back():
    clock = SystemClock()
    first, second = clock.now(), clock.now()
    assert (first.tzinfo, second >= first) == (UTC, True)


@pytest.mark.parametrize(
    ("at", "zone", "on"),
    [
        (datetime(2026, 6, 10, 22, 30, tzinfo=UTC), "Europe/Berlin", date(2026, 6, 11)),
        (datetime(2026, 6, 10, 21, 30, tzinfo=UTC), "Europe/Berlin", date(2026, 6, 10)),
        (datetime(2026, 6, 10, 3, 30, tzinfo=UTC), "America/New_York", date(2026, 6, 9)),
        (datetime(2026, 12, 31, 10, tzinfo=UTC), "Pacific/Kiritimati", date(2027, 1, 1)),
    ],
)
def test_local_date_is_that_of_the_zone(at, zone, on):
    assert local_date(at, zone) == on
