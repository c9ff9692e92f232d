"""An item's dives summed up: every look into the sums equals a plain count."""

from datetime import date

from hypothesis import strategies as st

from scheduler.history import ASSUMED_MIN, History
from store.dives import Dived
from tests.doses import drawn

days = st.dates(date(2026, 1, 1), date(2026, 3, 1))
conditions = st.frozensets(st.sampled_from(["sand", "ice", "oil"]))
logs = st.lists(st.builds(Dived, days, st.integers(1, 4), conditions, st.integers(0, 200)), max_size=12)


def hours(dive):
    return (dive.minutes or dive.dives * ASSUMED_MIN) / 60


def reach(later, amount, limit):
    total = 0.0
    for dive in sorted(later, key=lambda d: d.on):
        total += amount(dive)
        if total >= limit - 1e-9:
            return dive.on
    return None


@drawn(40, 100, logs, st.none() | days, st.integers(1, 20))
def test_sums_equal_a_plain_count(log, after, limit):
    later = [d for d in log if after is None or d.on > after]
    history = History(log)
    start = history.after(after)
    assert history.dives(start) == sum(d.dives for d in later)
    assert abs(history.hours(start) - sum(map(hours, later))) < 1e-9
    assert history.first(start) == min((d.on for d in later), default=None)
    assert history.last(start) == max((d.on for d in later), default=None)
    assert history.dives_reach(start, limit) == reach(later, lambda d: d.dives, limit)
    assert history.hours_reach(start, limit) == reach(later, hours, limit)


@drawn(40, 100, logs, st.none() | days, st.frozensets(st.sampled_from(["sand", "ice"]), min_size=1))
def test_conditions_are_those_of_the_first_day_that_met_one(log, after, wanted):
    met = [d for d in log if (after is None or d.on > after) and d.conditions & wanted]
    first = min((d.on for d in met), default=None)
    expected = (
        (first, frozenset().union(*(d.conditions & wanted for d in met if d.on == first))) if met else None
    )
    assert History(log).met(wanted, after) == expected


@drawn(40, 100, logs, days, days)
def test_dived_between_is_after_the_one_and_no_later_than_the_other(log, after, to):
    assert History(log).between(after, to) is any(after < d.on <= to for d in log)
