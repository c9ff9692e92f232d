"""What is due now: pure arithmetic on dates and counts. The order in which facts were entered changes nothing.

An act of care counts as done after the dives of its own day. Only what befell an item counts in the order in which it was
told among the care of its day: a flood in the evening is not answered by the service of the morning.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil

from dateutil.relativedelta import relativedelta

from scheduler.care import OXYGEN_CLEAN
from scheduler.care_rule import CareRule
from scheduler.history import ASSUMED_MIN, History
from scheduler.law import LegalDue, Passed, Stamp, next_test
from store.care_log import Done
from store.catalogue import ItemFacts
from store.mishaps import Befell
from store.vocabulary import CylinderTest, Task

LAPSE_DAYS = 3
"""After-dive care that hurts nobody is not asked for any more once that many days have gone by."""
COUNTS_TOO = {
    "rinse": {"clean", "disinfect", "service"},
    "inspect": {"service", "replace"},
    "clean": {"service"},
    "lubricate": {"service", "replace"},
    "powder": {"replace"},
}
"""Greater acts of care that do a lesser one along the way."""
_TEST_OF_TASK = {Task.TEST: CylinderTest.HYDROSTATIC, Task.SERVICE: CylinderTest.VALVE}
"""What "tested" and "serviced" mean of a cylinder where nobody said which test. A look is not taken for the legal one."""
_NO_FACTS = ItemFacts()


@dataclass(frozen=True, slots=True)
class Due:
    """Where one rule on one part stands.

    `due_on` None: no date is known yet. `cause` names the trigger that comes first. `dives_left` None: not counted in
    dives or hours. `calendar_on`: when it falls due by the calendar alone, None if it does not. `hours_left` None: not
    counted in hours. `legal`: what a test by law was counted from. `calendar_from`: the day from which `calendar_on` was
    counted, None if there is none.
    """

    rule: CareRule
    part: str
    due_on: date | None
    cause: str
    done_on: date | None
    dives_since: int
    dives_left: int | None
    calendar_on: date | None
    hours_left: float | None = None
    legal: LegalDue | None = None
    calendar_from: date | None = None


def due(
    rule: CareRule,
    part: str,
    related: frozenset[str],
    *,
    added_on: date,
    dived: History,
    done: Sequence[Done],
    today: date,
    befell: Sequence[Befell] = (),
    facts: ItemFacts = _NO_FACTS,
) -> Due:
    """Work out one rule.

    `dived`, `done` and `befell` are those of the item, the last two in any order; `related` are the parts whose care
    counts; `facts` are the item's.
    """
    acts = [d for d in done if _counts(d, rule, related)]
    done_on = max((d.on for d in acts), default=None)
    begun_on = max((d.on for d in acts if d.on >= added_on or _is_the_very_act(d, rule)), default=added_on)
    since = dived.after(done_on)
    legal = _by_law(rule, acts, facts, dived)
    calendar = [
        *_by_calendar(rule, begun_on),
        *_by_age(rule, acts, facts),
        *_by_first_use(rule, dived, since),
    ]
    if legal is not None:
        calendar.append((legal.due_on, "time", legal.due_on - relativedelta(months=rule.every.months or 0)))
    events = [
        *_after_dives(rule, dived, done_on, today),
        *_after_mishaps(rule, befell, acts),
        *_reached(rule, dived, since),
    ]
    due_on, cause = min([*events, *((on, why) for on, why, _ in calendar)], default=(None, ""))
    calendar_on, _, calendar_from = min(calendar, default=(None, "", None))
    dives_left, hours_left = _left(rule, dived, since)
    return Due(
        rule,
        part,
        due_on,
        cause,
        done_on,
        dived.dives(since),
        dives_left,
        calendar_on,
        hours_left,
        legal,
        calendar_from,
    )


def lapsed(rule: CareRule, dived_on: date, today: date) -> bool:
    """Tell whether care after a dive is not asked for any more: its moment has passed, and it can hurt nobody."""
    return rule.every.each_dive and not rule.critical and today - dived_on >= timedelta(days=LAPSE_DAYS)


def contaminated(done: Sequence[Done]) -> list[Due]:
    """Return the parts of an item that are out of oxygen service: something wrong was put on, and no cleaning came after.

    `cause` names the substance, `due_on` the day it was put on. A service, a cleaning or an inspection by a technician, of
    the part or of the whole item, clears it. Acts of one day count in the order in which they were told: oil that comes
    after the workshop is not undone by it.
    """
    told = sorted(done, key=lambda d: d.on)
    wrong: dict[str, Done] = {}
    for act in told:
        if act.contaminates:
            wrong.setdefault(act.part or "", act)
        else:
            wrong = {part: what for part, what in wrong.items() if not _clears(act, part)}
    return [
        Due(OXYGEN_CLEAN, part, what.on, what.substance or "", None, 0, None, None)
        for part, what in sorted(wrong.items())
    ]


def _clears(done: Done, part: str) -> bool:
    cleared = done.by_technician and done.task in {"clean", "inspect", "service"}
    return cleared and done.part in {None, part}


def _is_the_very_act(done: Done, rule: CareRule) -> bool:
    """Tell whether an act is just what the rule asks for, rather than something greater that did it along the way.

    Only the very act may start the clock before the item came: an old service says little of the rings' last look.
    """
    return done.task == rule.task and (bool(rule.on_item) or done.part is not None)


def _counts(done: Done, rule: CareRule, related: frozenset[str]) -> bool:
    if done.contaminates or (
        rule.only_by_technician and not done.by_technician
    ):  # the wrong grease is no care
        return False
    if rule.test is not None:
        told = done.test or _TEST_OF_TASK.get(Task(done.task))
        return done.part is None and told == rule.test
    same_task = done.task == rule.task or done.task in COUNTS_TOO.get(rule.task, ())
    if rule.on_item:
        return same_task and done.part is None
    return same_task and (done.part is None or done.part in related)


def _after_dives(rule: CareRule, dived: History, done_on: date | None, today: date) -> list[tuple[date, str]]:
    found = []
    last = dived.last(dived.after(done_on)) if rule.every.each_dive else None
    if last is not None and not lapsed(rule, last, today):
        found.append((last, "dived"))
    met = dived.met(rule.every.after, done_on) if rule.every.after else None
    if met is not None:
        found.append((met[0], ", ".join(sorted(met[1]))))
    return found


def _after_mishaps(rule: CareRule, befell: Sequence[Befell], acts: Sequence[Done]) -> list[tuple[date, str]]:
    """Return the first day since the care on which something befell the item that the rule answers, with all of that day."""
    asked = [b for b in befell if b.happened in rule.every.happened]
    met = [b for b in asked if not any(_follows(act, b) for act in acts)]
    if not met:
        return []
    first = min(b.on for b in met)
    return [(first, ", ".join(sorted({b.happened for b in met if b.on == first})))]


def _follows(act: Done, befell: Befell) -> bool:
    """Tell whether care came after a mishap: on a later day, or told no earlier on the same one."""
    if act.on != befell.on or act.told_at is None or befell.told_at is None:
        return act.on >= befell.on
    return act.told_at >= befell.told_at


def _reached(rule: CareRule, dived: History, since: int) -> list[tuple[date, str]]:
    """Return the days on which the dives and the hours of the rule were full."""
    found, every = [], rule.every
    if every.dives is not None and (on := dived.dives_reach(since, every.dives)):
        found.append((on, f"{every.dives} dive" + ("" if every.dives == 1 else "s")))
    if every.hours is not None and (on := dived.hours_reach(since, every.hours)):
        found.append((on, f"{every.hours:g} hour" + ("" if every.hours == 1 else "s")))
    return found


def _left(rule: CareRule, dived: History, since: int) -> tuple[int | None, float | None]:
    """Return the dives and the hours that are left; hours count as dives of this item's usual length."""
    every = rule.every
    dives = None if every.dives is None else max(0, every.dives - dived.dives(since))
    if every.hours is None:
        return dives, None
    hours = max(0.0, every.hours - dived.hours(since))
    usual = dived.hours(0) / dived.dives(0) if dived.dives(0) else ASSUMED_MIN / 60
    by_hours = ceil(round(hours / usual, 6))
    return (by_hours if dives is None else min(dives, by_hours)), round(hours, 2)


_Counted = tuple[date, str, date]
"""When it falls due by the calendar, why, and from when that was counted."""


def _by_calendar(rule: CareRule, begun_on: date) -> list[_Counted]:
    """Add days and months to the day the count began."""
    every, found = rule.every, []
    if every.months is not None and not rule.by_law:
        found.append((begun_on + relativedelta(months=every.months), "time", begun_on))
    if every.days is not None:
        found.append((begun_on + timedelta(days=every.days), "time", begun_on))
    return found


def _by_age(rule: CareRule, acts: Sequence[Done], facts: ItemFacts) -> list[_Counted]:
    """Add months to the date of manufacture: of what was put in last, where it was told, else of the item as it came."""
    if rule.every.age_months is None:
        return []
    put_in = max((d.on for d in acts if d.task == Task.REPLACE), default=None)
    printed = max((d.made_on for d in acts if d.on == put_in and d.made_on), default=None)
    made_on = facts.made_on if put_in is None else printed
    return [(made_on + relativedelta(months=rule.every.age_months), "age", made_on)] if made_on else []


def _by_first_use(rule: CareRule, dived: History, since: int) -> list[_Counted]:
    months, first = rule.every.first_use_months, dived.first(since)
    return (
        [(first + relativedelta(months=months), "first use", first)] if months is not None and first else []
    )


def _by_law(rule: CareRule, acts: Sequence[Done], facts: ItemFacts, dived: History) -> LegalDue | None:
    if not rule.by_law or rule.test is None:
        return None
    return next_test(
        rule.every.months,
        [Passed(d.on, d.next_on, d.told_at.date() if d.told_at else d.on) for d in acts],
        counts_from_due=rule.counts_from_due,
        stamp=_stamp(rule.test, facts),
        made_on=facts.made_on,
        used=dived.between,
    )


def _stamp(test: CylinderTest, facts: ItemFacts) -> Stamp | None:
    due_on, told_on = {
        CylinderTest.HYDROSTATIC: (facts.hydro_due_on, facts.hydro_due_told_on),
        CylinderTest.VISUAL: (facts.visual_due_on, facts.visual_due_told_on),
        CylinderTest.EDDY_CURRENT: (facts.eddy_due_on, facts.eddy_due_told_on),
    }.get(test, (None, None))
    return Stamp(due_on, told_on or due_on) if due_on else None
