"""What a trip makes due, and when to speak of it: the same arithmetic as today's, with the dives still to come. Pure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.care_rule import By
from scheduler.due import Due

_NOTHING: Mapping[tuple[str, str], date] = {}
EVE = 1
"""Days before leaving of the last check."""


@dataclass(frozen=True, slots=True)
class TripDue:
    """A rule that falls due before or during a trip. `before`: it must be done before leaving."""

    due: Due
    on: date
    before: bool

    @property
    def lead_days(self) -> int:
        """Return how long before leaving somebody else needs the item; 0 where the diver does it."""
        return self.due.rule.lead_days if self.before and self.due.rule.by is not By.DIVER else 0


def due_with_trip(
    dues: Sequence[Due],
    from_on: date,
    to_on: date,
    dives: int,
    *,
    today: date,
    likely: Mapping[tuple[str, str], date] = _NOTHING,
) -> list[TripDue]:
    """Return what is due by the end of a trip of that many dives, gravest and earliest first.

    Dives are taken as spread evenly over the days. `likely` says by part and rule when the dives at this pace make it due.
    Care asked for after each dive goes without saying, but for what can hurt and was not done after the last.
    """
    found = []
    for due in dues:
        if due.rule.every.each_dive:
            if due.rule.critical and due.due_on is not None and due.due_on <= today:
                found.append(TripDue(due, today, before=True))
            continue
        by_date = due.due_on if due.due_on is not None and due.due_on <= to_on else None
        at_pace = likely.get((due.part, due.rule.id), date.max)
        days = (by_date, _by_dives(due, from_on, to_on, dives), at_pace if at_pace <= to_on else None)
        on = min((x for x in days if x is not None), default=None)
        if on is not None:
            found.append(TripDue(due, max(on, today), on <= from_on or due.rule.by is not By.DIVER))
    return sorted(found, key=lambda t: (not t.due.rule.critical, t.on, t.due.rule.id))


def _by_dives(due: Due, from_on: date, to_on: date, dives: int) -> date | None:
    if due.dives_left is None or due.dives_left > dives or dives <= 0:
        return None
    days = (to_on - from_on).days + 1
    return from_on + timedelta(days=min(days - 1, (max(0, due.dives_left - 1) * days) // dives))


def calls(found: Iterable[TripDue]) -> list[int]:
    """Return the days before leaving on which to speak of a trip, farthest first: each lead time, and the evening before."""
    return sorted({t.lead_days for t in found if t.lead_days} | {EVE}, reverse=True)


def next_call(
    days_before: Sequence[int], from_on: date, told: int | None, today: date
) -> tuple[int, date] | None:
    """Return the next call and its day; None when all is said or the trip has begun.

    Of calls whose day has passed only the latest is made, today: a bot that slept says it once.
    """
    if today >= from_on:
        return None
    open_calls = [d for d in days_before if told is None or d < told]
    passed = [d for d in open_calls if from_on - timedelta(days=d) <= today]
    if passed:
        return min(passed), today
    ahead = max(open_calls, default=None)
    return None if ahead is None else (ahead, from_on - timedelta(days=ahead))


def begun(days_before: Sequence[int], from_on: date, today: date, *, evening: bool = False) -> int | None:
    """Return the latest call whose day has come by today, None if none has: what a plan made today says by itself.

    `evening`: it is late enough for the last check, so that a plan made on the eve is the last check too.
    """
    come = (d for d in days_before if from_on - timedelta(days=d) <= today and (d > EVE or evening))
    return min(come, default=None)
