"""How far a task is through its interval."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.care_rule import CareRule, Every
from scheduler.due import due
from scheduler.history import History
from scheduler.progress import Count, progress
from store.care_log import Done
from store.dives import Dived
from store.vocabulary import Condition, ItemKind, Task

ADDED = date(2026, 1, 1)
TODAY = date(2026, 6, 10)


def stands(every, dived=(), done=(), today=TODAY):
    rule = CareRule("r", Task.LUBRICATE, every, on_item=frozenset({ItemKind.BAG}))
    acts = [Done("lubricate", None, on) for on in done]
    return due(rule, "", frozenset(), added_on=ADDED, dived=History(tuple(dived)), done=acts, today=today)


def dives(*counts, minutes=0, on=date(2026, 5, 1), conditions=()):
    return [
        Dived(on + timedelta(days=n), count, frozenset(conditions), minutes * count)
        for n, count in enumerate(counts)
    ]


def test_dives_count_since_the_last_care():
    found = stands(Every(dives=10), dives(3, 4, on=date(2026, 4, 1)), done=[date(2026, 4, 1)])
    assert progress(found, TODAY) == Count(4, 10, "dive")


def test_dives_of_a_trip_are_added():
    found = stands(Every(dives=10), dives(3))
    assert progress(found, TODAY, 14) == Count(17, 10, "dive")


def test_months_count_by_the_days_gone():
    found = stands(Every(months=12), done=[date(2026, 3, 10)])
    counted = progress(found, TODAY)
    assert (counted.whole, counted.unit) == (12, "month")
    assert counted.gone == pytest.approx(12 * 92 / 365)


def test_a_short_span_counts_in_days():
    assert progress(stands(Every(days=30), done=[date(2026, 6, 1)]), TODAY) == Count(9, 30, "day")


def test_hours_count_with_those_of_a_trip_at_an_hour_a_dive():
    found = stands(Every(hours=3), dives(1, minutes=90))
    assert progress(found, TODAY) == Count(1.5, 3, "hour")
    assert progress(found, TODAY, 1) == Count(2.5, 3, "hour")


def test_of_dives_and_months_the_one_that_is_further_counts_or_the_dives_alone():
    found = stands(Every(dives=50, months=6), dives(5))
    assert progress(found, TODAY).unit == "month"
    assert progress(found, TODAY, by_dives=True) == Count(5, 50, "dive")


def test_what_only_an_event_makes_due_has_no_progress():
    assert progress(stands(Every(after=frozenset({Condition.SAND}))), TODAY) is None
    assert progress(stands(Every(each_dive=True), dives(1)), TODAY) is None


def test_counting_begins_at_nothing_for_care_that_is_dated_ahead_of_today():
    assert progress(stands(Every(days=30), done=[date(2026, 6, 20)]), TODAY) == Count(0, 30, "day")


@given(
    st.integers(1, 60),
    st.one_of(st.none(), st.integers(1, 72)),
    st.lists(st.integers(1, 6), max_size=20),
    st.integers(0, 400),
)
def test_the_share_reaches_one_on_the_day_it_falls_due_and_not_before(every_dives, months, counts, after):
    today = ADDED + timedelta(days=after)
    dived = [d for d in dives(*counts, on=ADDED + timedelta(days=30)) if d.on <= today]
    found = stands(Every(dives=every_dives, months=months), dived, today=today)
    counted = progress(found, today)
    is_due = found.due_on is not None and found.due_on <= today
    assert (counted.share >= 1) == is_due
