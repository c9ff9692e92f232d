"""Tests of diving cylinders by region: how often, counted how, and who says so. Typed rows and month arithmetic, pure.

Law differs by country and changes: whoever shows one of these dates also says to check locally.
"""

from calendar import monthrange
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache

from dateutil.relativedelta import relativedelta

from scheduler.care_rule import By, CareRule, Every, Status
from store.catalogue import ItemFacts
from store.vocabulary import CylinderMaterial, CylinderTest, Happening, ItemKind, Region, Task

CYLINDERS = frozenset({ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.STAGE})
CHECK = "Check locally"
LEAD_DAYS = 28
TOLERANCE_MONTHS = 2
"""In Germany a test up to that late is on time, and one up to that early keeps the old due month (BetrSichV § 14(5))."""
RECENT = timedelta(days=62)
"""A test that long before a stamp was told may still be a later one than the stamp's, if it was told after it."""
LONG_MONTHS = 24
"""Only for periods longer than this does the early test keep the old due month."""


@dataclass(frozen=True, slots=True)
class Interval:
    """Months between tests, and whose figure that is. `assessed`: months allowed after a risk assessment, None if not."""

    months: int
    source: str
    status: Status
    assessed: int | None = None
    overdue: str = "no station should fill it before that"
    """What being out of date means."""


@dataclass(frozen=True, slots=True)
class RegionLaw:
    """The tests of a diving cylinder in a region. `eddy`: for the alloy 6351 only; None: no such rule is known."""

    hydro: Interval
    visual: Interval
    eddy: Interval | None = None
    counts_from_due: bool = False
    alloy_6351: str = ""
    """What is said of that alloy in the region, "" if nothing is known."""


_S, _H = Status.SEEN, Status.SECOND_HAND
_ISO_18119 = "BS EN ISO 18119:2018, informative annex, as quoted alike by two bodies"
_WITHDRAWN = "a test station says that approvals of alloy 6351 were withdrawn from 31 October 2017, so it is not tested (second-hand)"

LAW: dict[Region, RegionLaw] = {
    Region.US: RegionLaw(
        Interval(
            60,
            "49 CFR 180.209(a) Table 1 (5, 10 or 12 years; 5 for scuba as two bodies say)",
            _H,
            overdue="not to be refilled before the test; a fill made before it fell due may be used up (49 CFR 180.205(c), PHMSA 09-0148)",
        ),
        Interval(12, "AAUS Standards 3.23.3 and 8 CCR 6057(b)(2)(C): practice rather than federal law", _S),
        Interval(60, "49 CFR 180.209(m) and Part 180 Appendix C, with every requalification", _S),
    ),
    Region.CANADA: RegionLaw(
        Interval(60, "New Brunswick Reg. 91-191 s. 339, at work; other provinces: check", _S),
        Interval(12, "New Brunswick Reg. 91-191 s. 339, at work; other provinces: check", _S),
    ),
    Region.UK: RegionLaw(Interval(60, _ISO_18119, _H), Interval(12, _ISO_18119, _H, assessed=30)),
    Region.EU: RegionLaw(
        Interval(60, "ISO 18119:2018; national rules come first", _H),
        Interval(12, "ISO 18119:2018; national rules come first", _H, assessed=30),
    ),
    Region.GERMANY: RegionLaw(
        Interval(60, "BetrSichV 2015, Anhang 2 Abschnitt 4, Tabelle 12, 7.6 b", _S),
        Interval(30, "BetrSichV 2015, Anhang 2 Abschnitt 4, Tabelle 12, 7.6 b", _S),
        counts_from_due=True,
    ),
    Region.SWITZERLAND: RegionLaw(Interval(60, "a club's page", _H), Interval(30, "a club's page", _H)),
    Region.AUSTRALIA: RegionLaw(
        Interval(12, "AS 2337.1 as stated by test stations", _H),
        Interval(12, "AS 2337.1 as stated by test stations", _H),
        alloy_6351=_WITHDRAWN,
    ),
    Region.NEW_ZEALAND: RegionLaw(
        Interval(24, "Hazardous Substances Regulations 2017 as stated by test stations", _H),
        Interval(
            12, "Hazardous Substances Regulations 2017 as stated by test stations (4 in heavy service)", _H
        ),
        alloy_6351="the regulator is said to have withdrawn approvals of cylinders it called hazardous from 31 October 2017 (second-hand)",
    ),
    Region.SOUTH_AFRICA: RegionLaw(
        Interval(48, "SANS 10019:2023 as stated by a shop", _H),
        Interval(24, "SANS 10019:2023 as stated by a shop", _H),
    ),
}

_BROKEN = frozenset({Happening.OVERHEATED, Happening.DAMAGED, Happening.CORRODED})
_LOOKED_INTO = _BROKEN | {Happening.DRAINED, Happening.FLOODED}
_NO_ITEM = ItemFacts()


@lru_cache(maxsize=1024)
def cylinder_tests(region: Region | None, facts: ItemFacts = _NO_ITEM) -> tuple[CareRule, ...]:
    """Return the tests that a cylinder of those facts is due; without a region, the EU months as a stand-in that says so."""
    law = LAW[region or Region.EU]
    rows = [_row(CylinderTest.HYDROSTATIC, law.hydro, law, region, facts)]
    rows.append(_row(CylinderTest.VISUAL, law.visual, law, region, facts))
    if law.eddy is not None and facts.alloy_6351:
        rows.append(_row(CylinderTest.EDDY_CURRENT, law.eddy, law, region, facts))
    return tuple(rows)


@dataclass(frozen=True, slots=True)
class _Words:
    id: str
    task: Task
    label: str
    why: str
    happened: frozenset[Happening]


_WORDS = {
    CylinderTest.HYDROSTATIC: _Words(
        "hydro_test", Task.TEST, "Hydrostatic test", "no station fills it out of date", _BROKEN
    ),
    CylinderTest.VISUAL: _Words(
        "visual_inspection",
        Task.INSPECT,
        "Visual inspection",
        "rust and cracks show inside first",
        _LOOKED_INTO,
    ),
    CylinderTest.EDDY_CURRENT: _Words(
        "eddy_current_test",
        Task.TEST,
        "Eddy-current test of neck and shoulder",
        "this alloy cracks at the neck under load",
        _BROKEN,
    ),
}


def _row(
    test: CylinderTest, interval: Interval, law: RegionLaw, region: Region | None, facts: ItemFacts
) -> CareRule:
    words = _WORDS[test]
    months: int | None = interval.months
    if facts.risk_assessed and test is CylinderTest.VISUAL and interval.assessed:
        months = interval.assessed
    permit = bool(facts.special_permit) or facts.cylinder_material is CylinderMaterial.COMPOSITE
    return CareRule(
        words.id,
        words.task,
        Every(months=None if permit else months, happened=words.happened),
        on_item=CYLINDERS,
        by=By.TEST_STATION,
        lead_days=LEAD_DAYS,
        critical=True,
        by_law=True,
        by_permit=permit,
        test=test,
        counts_from_due=law.counts_from_due,
        source=_source(interval, law, region, facts, permit=permit),
        status=interval.status,
        why=words.why,
        label=words.label,
        overdue=interval.overdue,
    )


def _source(
    interval: Interval, law: RegionLaw, region: Region | None, facts: ItemFacts, *, permit: bool
) -> str:
    if region is None:
        return f"region unknown, EU months used: tell me your country. {CHECK}"
    if permit:
        return f"{region.value}: the rule of its own permit or approval. {CHECK}"
    known = interval.source + (" (second-hand)" if interval.status is Status.SECOND_HAND else "")
    alloy = f"; {law.alloy_6351}" if facts.alloy_6351 and law.alloy_6351 else ""
    return f"{region.value}: {known}{alloy}. {CHECK}"


class Basis(StrEnum):
    """What a legal date was counted from."""

    TEST = "test"
    DUE_MONTH = "due month"
    STAMP = "stamp"
    MADE = "manufacture"


@dataclass(frozen=True, slots=True)
class Passed:
    """One test that was done. `next_on`: a day of the next due month as it was stamped, None if not told.

    `told_on`: when the diver said so, None: on its day.
    """

    on: date
    next_on: date | None = None
    told_on: date | None = None


@dataclass(frozen=True, slots=True)
class Stamp:
    """A next due month as it stands on the cylinder, by any day of it, and when the diver said so."""

    due_on: date
    told_on: date

    def outlived_by(self, test: Passed) -> bool:
        """Tell whether a test came after the one that the stamp is of: done since, or just before but told since."""
        since = (test.told_on or test.on) > self.told_on and test.on > self.told_on - RECENT
        return test.on > self.told_on or since


@dataclass(frozen=True, slots=True)
class LegalDue:
    """`due_on` is the last day of the due month: a cylinder is in date through it. `counted_from`: a day of that month."""

    due_on: date
    basis: Basis
    counted_from: date


def _never(_after: date, _to: date) -> bool:
    return False


def next_test(
    months: int | None,
    tests: Sequence[Passed],
    *,
    counts_from_due: bool = False,
    stamp: Stamp | None = None,
    made_on: date | None = None,
    used: Callable[[date, date], bool] = _never,
) -> LegalDue | None:
    """Return when the next test falls due; None without a known test, stamp or manufacture mark.

    Only months count: a test in month M with a period of N months falls due in M + N; without a period (None: a permit's that
    nobody has told) only what was stamped counts. Where the period runs from the old due month, the tests are followed one
    after the other (see `_after`), the first of them from the manufacture mark. A stamp holds until a later test than the one it is of. `used(after, to)` tells whether it was dived after a day and no
    later than another.
    """
    told = sorted(tests, key=lambda t: (t.on, t.next_on is not None))  # a stamp told with it goes first
    standing: LegalDue | None = None
    if stamp is not None:
        standing = LegalDue(month_end(stamp.due_on), Basis.STAMP, stamp.due_on)
        told = [t for t in told if stamp.outlived_by(t)]
    elif made_on is not None and months is not None:
        first = LegalDue(month_end(made_on + relativedelta(months=months)), Basis.MADE, made_on)
        if not told:
            return first
        if (
            _month(told[0].on) - _month(first.due_on) <= TOLERANCE_MONTHS
        ):  # later: others came in between, untold
            standing = first
    for test in told:
        standing = _after(test, standing if counts_from_due else None, months, used)
    return standing


def _after(
    test: Passed, before: LegalDue | None, months: int | None, used: Callable[[date, date], bool]
) -> LegalDue | None:
    """Return what stands after a test.

    With an old due month (Germany, BetrSichV § 14(5)): the period runs from it, unless the test came more than two months
    early (two months only for long periods), or came more than two months late on a cylinder that was out of use since.
    """
    if test.next_on is not None:
        return LegalDue(month_end(test.next_on), Basis.STAMP, test.on)
    if months is None:
        return None
    from_test = LegalDue(month_end(test.on + relativedelta(months=months)), Basis.TEST, test.on)
    if before is None:
        return from_test
    late = _month(test.on) - _month(before.due_on)
    kept_early = TOLERANCE_MONTHS if months > LONG_MONTHS else 0
    unused = late > TOLERANCE_MONTHS and not used(before.due_on, test.on)
    if late < -kept_early or unused:
        return from_test
    from_due = month_end(before.due_on.replace(day=1) + relativedelta(months=months))
    return LegalDue(from_due, Basis.DUE_MONTH, before.due_on) if from_due > test.on else from_test


def is_late(due_on: date, tested_on: date) -> bool:
    """Tell whether a German test came too late to count as on time: more than two months after the due month."""
    return _month(tested_on) - _month(due_on) > TOLERANCE_MONTHS


def month_end(on: date) -> date:
    """Return the last day of a date's month: a test by law is in date through the month it falls due."""
    return on.replace(day=monthrange(on.year, on.month)[1])


def _month(on: date) -> int:
    return on.year * 12 + on.month
