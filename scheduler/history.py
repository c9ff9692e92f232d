"""An item's dives, summed up once so that each rule may look into them at little cost, however long the log is."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from datetime import date
from itertools import accumulate

from store.dives import Dived

ASSUMED_MIN = 60
"""Minutes of a dive whose length was not told (common practice, no source): too many rather than too few."""


class History:
    """The dives of one item in order of their days. An index stands for "from that entry on"."""

    __slots__ = ("_conditioned", "_dives", "_hours", "days")

    def __init__(self, dived: Iterable[Dived]) -> None:
        """Sum up entries given in any order."""
        ordered = sorted(dived, key=lambda d: d.on)
        self.days = [d.on for d in ordered]
        self._dives = list(accumulate((d.dives for d in ordered), initial=0))
        self._hours = list(accumulate((_hours(d) for d in ordered), initial=0.0))
        self._conditioned = [d for d in ordered if d.conditions]

    def log(self) -> list[tuple[date, int]]:
        """Return day and dives of each entry, oldest first."""
        return [(on, self._dives[n + 1] - self._dives[n]) for n, on in enumerate(self.days)]

    def after(self, on: date | None) -> int:
        """Return the index of the first entry after a day; None: of the first of all."""
        return 0 if on is None else bisect_right(self.days, on)

    def first(self, start: int) -> date | None:
        """Return the day of the first entry from an index on, None if there is none."""
        return self.days[start] if start < len(self.days) else None

    def last(self, start: int) -> date | None:
        """Return the day of the last entry, None if it lies before the index."""
        return self.days[-1] if start < len(self.days) else None

    def dives(self, start: int) -> int:
        """Return the dives from an index on."""
        return self._dives[-1] - self._dives[start]

    def hours(self, start: int) -> float:
        """Return the hours under water from an index on."""
        return self._hours[-1] - self._hours[start]

    def dives_reach(self, start: int, limit: float) -> date | None:
        """Return the day on which the dives from an index on came to a limit, None if they have not."""
        return self._reach(self._dives, start, limit)

    def hours_reach(self, start: int, limit: float) -> date | None:
        """Return the day on which the hours from an index on came to a limit, None if they have not."""
        return self._reach(self._hours, start, limit - 1e-9)

    def _reach(self, sums: list[int] | list[float], start: int, limit: float) -> date | None:
        at = bisect_left(sums, sums[start] + limit, lo=start + 1)
        return self.days[at - 1] if at < len(sums) else None

    def met(self, conditions: frozenset[str], after: date | None) -> tuple[date, frozenset[str]] | None:
        """Return the first day after another on which one of the conditions was met, with all that were met on it."""
        found = [
            d for d in self._conditioned if (after is None or d.on > after) and d.conditions & conditions
        ]
        if not found:
            return None
        on = found[0].on
        return on, frozenset[str]().union(*(d.conditions & conditions for d in found if d.on == on))

    def between(self, after: date, to: date) -> bool:
        """Tell whether it was dived after a day and no later than another."""
        at = bisect_right(self.days, after)
        return at < len(self.days) and self.days[at] <= to


def _hours(dive: Dived) -> float:
    return (dive.minutes or dive.dives * ASSUMED_MIN) / 60


NEVER_DIVED = History(())
