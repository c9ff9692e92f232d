"""When a dive-counted task will fall due at this diver's pace.

The rate is Gamma-Poisson: a prior of `PRIOR_DIVES` in `PRIOR_DAYS`, updated by the dives of the last year.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from math import ceil

PRIOR_DIVES = 4.0
PRIOR_DAYS = 60.0
WINDOW_DAYS = 365
FARTHEST_DAYS = 3 * 365


def dives_a_day(log: Sequence[tuple[date, int]], since: date, today: date) -> float:
    """Return the expected rate from (date, dives) entries; `since` is when logging began."""
    start = max(since, today - timedelta(days=WINDOW_DAYS))
    counted = sum(n for on, n in log if start <= on <= today)
    days = max(0, (today - start).days)
    return (PRIOR_DIVES + counted) / (PRIOR_DAYS + days)


def expected_on(dives_left: int, rate: float, today: date) -> date | None:
    """Return the likeliest day that many more dives are reached; None if that is years away."""
    days = ceil(dives_left / rate)
    return today + timedelta(days=days) if days <= FARTHEST_DAYS else None
