"""How far a task is through its interval: pure arithmetic on where its rule stands."""

from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from scheduler.due import Due
from scheduler.history import ASSUMED_MIN

_DAYS_UP_TO = 62
"""A shorter interval is counted in days, a longer one in months."""


@dataclass(frozen=True, slots=True)
class Count:
    """So much of an interval: 7 of 10 dives."""

    gone: float
    whole: float
    unit: str
    """"dive", "hour", "month" or "day"."""

    @property
    def share(self) -> float:
        """Return 0 for just done, 1 for due; more is late."""
        return self.gone / self.whole


def progress(due: Due, today: date, dives: int = 0, *, by_dives: bool = False) -> Count | None:
    """Return the count that is furthest through its interval, with so many dives more; None if nothing is counted.

    `by_dives`: of dives and hours only, where they are known to come first. What an event made due (sand, a mishap) may
    stand at a small share and be due all the same.
    """
    dived = _dived(due, dives)
    return max(dived if by_dives else [*dived, *_calendar(due, today)], key=lambda c: c.share, default=None)


def _dived(due: Due, dives: int) -> list[Count]:
    every, found = due.rule.every, []
    if every.dives:
        found.append(Count(due.dives_since + dives, every.dives, "dive"))
    if every.hours and due.hours_left is not None:
        found.append(Count(every.hours - due.hours_left + dives * ASSUMED_MIN / 60, every.hours, "hour"))
    return found


def _calendar(due: Due, today: date) -> list[Count]:
    begun, ends = due.calendar_from, due.calendar_on
    if begun is None or ends is None or begun >= ends:
        return []
    days = (ends - begun).days
    gone = max(0, (today - begun).days)
    if days <= _DAYS_UP_TO:
        return [Count(gone, days, "day")]
    months = _months(begun, ends)
    return [Count(gone * months / days, months, "month")]


def _months(begun: date, ends: date) -> int:
    """Return the months between two days, to the nearest."""
    span = relativedelta(ends + relativedelta(days=15), begun)
    return max(1, span.years * 12 + span.months)
