"""When a dive-counted task will fall due at this diver's pace.

Dive days come as a Poisson process whose rate is Gamma distributed: `PRIOR_DIVE_DAYS` in `PRIOR_DAYS`, updated by the
last `WINDOW_DAYS`, or up to three times that for who dives seldom. A task with k dives left needs d = ceil(k / dives of a dive day) dive days; the chance of d by day t
is the negative binomial's. Simulated divers showed what that lacks (their 8 in 10 was 7, of trip divers 4 or fewer):
- A week on a boat is one chance event, not seven. If f dive days come as one (`lump`), shape and d are f times smaller,
  and d a real number: the incomplete beta function. A weekly habit is steadier than chance, so f is below 1.
- The next dive is about half a lump away from a day ashore, but not from the midst of an outing (`out`).
Planned trips are known dives, taken off what is left. A season that two years show sets how fast time runs, by month.
"""

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from itertools import accumulate
from math import ceil, exp, lgamma, log, log1p

PRIOR_DIVE_DAYS = 2.0
PRIOR_DAYS = 60.0
PRIOR_DIVES_A_DAY = 2.0  # one such dive day
WINDOW_DAYS = 365
ENOUGH_DIVE_DAYS = 12
FARTHEST_DAYS = 3 * 365
SAME_OUTING_DAYS = 2  # one day of rest does not end an outing
BIN_DAYS = 28  # whole weeks, so that a weekly habit fills each bin alike
PRIOR_BINS = 10.0  # bins of plain chance
SEASON_WEEKS = 12  # one a month: chi-square means nothing on fewer
SEASON_CHI_SQUARE = 31.264  # 0.999 quantile, 11 degrees of freedom
SEASON_LUMP = 0.75  # at least: weights from a few years are rough, which eats up steadiness
SEASON_PRIOR = 0.5  # dive weeks a month that follow no season
LONG_OUTING_DAYS = 21  # a trip is one dive week in the season's count; longer than this is a way of life
_DAY = timedelta(days=1)
_HORIZON = range(FARTHEST_DAYS + 1)


@dataclass(frozen=True, slots=True)
class Pace:
    """How often a diver dives, as far as the log tells. With `lump` 1, dive days come by plain chance."""

    shape: float  # Gamma shape: prior + dive days seen
    days: float  # Gamma rate: prior + days watched, in days of mean season
    dives_a_day: float  # mean dives of a dive day
    season: tuple[float, ...] | None  # 12 weights averaging 1 over the year; None: no season shown
    lump: float = 1.0  # dive days that come as one; below 1: steadier than chance
    out: bool = False  # in the midst of an outing


@dataclass(frozen=True, slots=True)
class PlannedDives:
    """A planned trip. Both days belong to it; what its days up to today held is taken as logged."""

    from_on: date
    to_on: date
    dives: int

    def by(self, on: date) -> int:
        """Return the dives by the end of that day; the first is on the first day."""
        length = max(1, (self.to_on - self.from_on).days + 1)
        gone = min(length, max(0, (on - self.from_on).days + 1))
        return -(-max(0, self.dives) * gone // length)


Trips = Sequence[PlannedDives]


@dataclass(frozen=True, slots=True)
class Forecast:
    """The day on which the last of the dives left falls. Today's dives are logged, so the first day is tomorrow.

    `about` is the median; 8 in 10 chances from `earliest` to `latest`, both included; None: beyond `FARTHEST_DAYS`.
    """

    about: date | None
    earliest: date
    latest: date | None


def pace(log: Sequence[tuple[date, int]], since: date, today: date) -> Pace:
    """Return the pace that (date, dives) entries show, in any order, several a day allowed.

    `since` is the first day of logging. Entries before it or after today are ignored, as are entries of no dives.
    """
    by_day = Counter[date]()
    for on, dives in log:
        if since <= on <= today and dives > 0:
            by_day[on] += dives
    season = _season(sorted(by_day), since, today)
    watched = _watched(by_day, since, today)
    recent = {(today - on).days: by_day[on] for on in sorted(by_day) if (today - on).days < watched}
    dives_a_day = (PRIOR_DIVES_A_DAY + sum(recent.values())) / (1 + len(recent))
    weights = [season[(today - n * _DAY).month - 1] if season else 1.0 for n in range(watched)]
    lump = max(_lump(recent, weights, dives_a_day), SEASON_LUMP if season else 0.0)
    out = any(ago <= SAME_OUTING_DAYS for ago in recent)
    return Pace(PRIOR_DIVE_DAYS + len(recent), PRIOR_DAYS + sum(weights), dives_a_day, season, lump, out)


def _watched(by_day: Mapping[date, int], since: date, today: date) -> int:
    """Return how many days back to look: a year, and up to three for who dives so seldom that a year tells little."""
    logged = max(0, (today - since).days + 1)
    for window in (WINDOW_DAYS, 2 * WINDOW_DAYS):
        if logged <= window or sum((today - on).days < window for on in by_day) >= ENOUGH_DIVE_DAYS:
            return min(logged, window)
    return min(logged, 3 * WINDOW_DAYS)


def _lump(recent: Mapping[int, int], weights: Sequence[float], dives_a_day: float) -> float:
    """Return how many dive days come as one, from the dives by days ago.

    Steadier than chance shows in equal bins, as variance over mean. Above chance the outings tell it with less noise.
    """
    bins = len(weights) // BIN_DAYS
    seen = [0] * bins
    for ago, dives in recent.items():
        if ago < bins * BIN_DAYS:
            seen[ago // BIN_DAYS] += dives
    if bins > 1 and any(seen):
        shares = [sum(weights[n * BIN_DAYS : (n + 1) * BIN_DAYS]) for n in range(bins)]
        expected = [sum(seen) * share / sum(shares) for share in shares]
        spread = sum((n - e) ** 2 / e for n, e in zip(seen, expected, strict=True)) / dives_a_day
        lump = (PRIOR_BINS + spread * bins / (bins - 1)) / (PRIOR_BINS + bins)
        if lump <= 1:
            return lump
    sizes = [sum(recent[ago] for ago in outing) for outing in _outings(recent)]
    return max(1.0, sum(n * n for n in sizes) / sum(sizes) / dives_a_day) if sizes else 1.0


def _outings(days: Iterable[int]) -> list[list[int]]:
    """Split day numbers, in order, where a diver stayed ashore for longer than a rest."""
    found: list[list[int]] = []
    for day in days:
        if found and abs(day - found[-1][-1]) <= SAME_OUTING_DAYS:
            found[-1].append(day)
        else:
            found.append([day])
    return found


def _season(dived: Sequence[date], since: date, today: date) -> tuple[float, ...] | None:
    """Return the months' weights if a chi-square test of dive weeks shows a season in whole years, else None."""
    watched = int((today - since).days / 365.25) * 1461 // 4
    if watched < 2 * 365:
        return None
    exposed = Counter((today - n * _DAY).month for n in range(watched))
    outings = _outings(on.toordinal() for on in dived if (today - on).days < watched)
    # A trip counts once, in the month of the Thursday of its first ISO week.
    starts = {day - (day - outing[0]) % LONG_OUTING_DAYS for outing in outings for day in outing}
    weeks = {date.fromordinal(day - (day - 1) % 7 + 3) for day in starts}
    seen = Counter(thursday.month for thursday in weeks)
    expected = {month: len(weeks) * exposed[month] / watched for month in range(1, 13)}
    square = sum((seen[month] - e) ** 2 / e for month, e in expected.items() if e)
    if len(weeks) < SEASON_WEEKS or square <= SEASON_CHI_SQUARE:
        return None
    raw = {month: (seen[month] + SEASON_PRIOR) / (e + SEASON_PRIOR) for month, e in expected.items()}
    mean = sum(weight * exposed[month] for month, weight in raw.items()) / watched
    return tuple(weight / mean for weight in raw.values())


def forecast(dives_left: int, pace: Pace, today: date, trips: Trips = ()) -> Forecast | None:
    """Return when that many more dives are reached, today if none is left; None if even the earliest is far away."""

    def chance(days: int) -> float:
        return chance_by(today + days * _DAY, dives_left, pace, today, trips)

    at = [bisect_left(_HORIZON, share, key=chance) for share in (0.1, 0.5, 0.9)]
    earliest, about, latest = (today + days * _DAY if days <= FARTHEST_DAYS else None for days in at)
    return Forecast(about, earliest, latest) if earliest else None


def chance_by(on: date, dives_left: int, pace: Pace, today: date, trips: Trips = ()) -> float:
    """Return the chance of so many more dives by the end of that day; 0 if they take over `FARTHEST_DAYS` dive days."""
    left = dives_left - sum(trip.by(on) - trip.by(today) for trip in trips if on > today)
    if left <= 0:
        return 1.0
    dive_days = ceil(left / pace.dives_a_day)
    if on <= today or dive_days > FARTHEST_DAYS:
        return 0.0
    passed = 0.0 if pace.out else 0.5  # lumps: how much of one lies between a day ashore and the next dive
    lumps = passed + (dive_days - passed) / pace.lump
    near = min((on - today).days, FARTHEST_DAYS)
    time = (on - today).days - near + (_running(pace.season, today)[near] if pace.season else near)
    return _beta(time / (pace.days + time), lumps, pace.shape / pace.lump)


@lru_cache(maxsize=16)
def _running(season: tuple[float, ...], today: date) -> tuple[float, ...]:
    """Return how many days of mean season the next 0, 1, 2... days hold."""
    return tuple(accumulate((season[(today + n * _DAY).month - 1] for n in _HORIZON[1:]), initial=0.0))


def _beta(x: float, a: float, b: float) -> float:
    """Return the regularized incomplete beta function I_x(a, b), 0 < x < 1, by its continued fraction."""
    if x > (a + 1) / (a + b + 2):  # the fraction converges fast on this side of the mean only
        return 1.0 - _beta(1.0 - x, b, a)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log1p(-x)) / a
    total = down = 1.0 / (1.0 - (a + b) * x / (a + 1))
    up = 1.0
    for m in range(1, 10_000):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for part in (even, odd):
            down, up = 1.0 / (1.0 + part * down), 1.0 + part / up
            total *= down * up
        if abs(down * up - 1.0) < 1e-13:
            break
    return min(1.0, front * total)
