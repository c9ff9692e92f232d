"""When a count of dives will be reached at this diver's pace."""

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.forecast import FARTHEST_DAYS, PRIOR_DAYS, PRIOR_DIVES, WINDOW_DAYS, dives_a_day, expected_on

TODAY = date(2026, 6, 10)
DAY = timedelta(days=1)
ago = st.integers(0, 500).map(lambda n: TODAY - n * DAY)
logs = st.lists(st.tuples(ago, st.integers(1, 5)), max_size=20)


def test_rate_of_an_empty_log_is_the_prior():
    assert dives_a_day([], TODAY, TODAY) == PRIOR_DIVES / PRIOR_DAYS


def test_rate_joins_the_prior_with_what_was_dived():
    log = [(TODAY - 30 * DAY, 6), (TODAY, 2)]
    assert dives_a_day(log, TODAY - 30 * DAY, TODAY) == (PRIOR_DIVES + 8) / (PRIOR_DAYS + 30)


def test_rate_forgets_what_is_older_than_a_year_and_what_is_to_come():
    log = [(TODAY - (WINDOW_DAYS + 1) * DAY, 50), (TODAY - WINDOW_DAYS * DAY, 3), (TODAY + DAY, 50)]
    assert dives_a_day(log, TODAY - 900 * DAY, TODAY) == (PRIOR_DIVES + 3) / (PRIOR_DAYS + WINDOW_DAYS)


@given(logs, ago)
@settings(max_examples=100, deadline=None)
def test_rate_is_positive_and_rises_with_a_dive_today(log, since):
    before, after = (dives_a_day(some, since, TODAY) for some in (log, [*log, (TODAY, 1)]))
    assert 0 < before < after


@given(logs, ago, st.randoms())
@settings(max_examples=50, deadline=None)
def test_rate_does_not_depend_on_the_order_of_entry(log, since, random):
    shuffled = random.sample(log, len(log))
    assert dives_a_day(shuffled, since, TODAY) == dives_a_day(log, since, TODAY)


@pytest.mark.parametrize(
    ("left", "rate", "days"), [(0, 0.1, 0), (1, 0.5, 2), (3, 0.5, 6), (2, 0.3, 7), (10, 4.0, 3)]
)
def test_expected_day_is_when_the_pace_reaches_the_count(left, rate, days):
    assert expected_on(left, rate, TODAY) == TODAY + days * DAY


@pytest.mark.parametrize(("days", "known"), [(FARTHEST_DAYS, True), (FARTHEST_DAYS + 1, False)])
def test_expected_day_years_away_is_unknown(days, known):
    assert expected_on(days, 1.0, TODAY) == (TODAY + days * DAY if known else None)


@given(st.integers(0, 200), st.floats(0.01, 5), st.floats(0.01, 5))
@settings(max_examples=100, deadline=None)
def test_expected_day_is_no_later_at_a_faster_pace(left, one, other):
    slow, fast = (expected_on(left, rate, TODAY) or date.max for rate in sorted((one, other)))
    assert TODAY <= fast <= slow
