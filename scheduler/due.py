"""What is due now: pure arithmetic on dates and counts. The order in which facts were entered changes nothing.

An act of care counts as done after the dives of its own day.
"""

from calendar import monthrange
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta

from scheduler.care import OXYGEN_CLEAN, CareRule
from store.care_log import Done
from store.dives import Dived

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


@dataclass(frozen=True, slots=True)
class Due:
    """Where one rule on one part stands.

    `due_on` None: no date is known yet. `cause` names the trigger that comes first. `dives_left` None: not counted in
    dives. `calendar_on`: when it falls due by the calendar alone, None if it does not.
    """

    rule: CareRule
    part: str
    due_on: date | None
    cause: str
    done_on: date | None
    dives_since: int
    dives_left: int | None
    calendar_on: date | None


def due(
    rule: CareRule,
    part: str,
    related: frozenset[str],
    *,
    added_on: date,
    dived: Sequence[Dived],
    done: Sequence[Done],
    today: date,
) -> Due:
    """Work out one rule. `dived` and `done` are those of the item in any order; `related` are the parts whose care counts."""
    done_on = max((d.on for d in done if _counts(d, rule, related)), default=None)
    begun_on = max(
        (d.on for d in done if _counts(d, rule, related) and (d.on >= added_on or _is_the_very_act(d, rule))),
        default=added_on,
    )
    since = sorted((d for d in dived if done_on is None or d.on > done_on), key=lambda d: d.on)
    candidates = [
        *_after_dives(rule, since, today),
        *_counted(rule, since),
    ]
    calendar_on = _by_calendar(rule, done_on, begun_on)
    if calendar_on is not None:
        candidates.append((calendar_on, "time"))
    due_on, cause = min(candidates, default=(None, ""))
    count = sum(d.dives for d in since)
    left = None if rule.every.dives is None else max(0, rule.every.dives - count)
    return Due(rule, part, due_on, cause, done_on, count, left, calendar_on)


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
    if done.contaminates:  # the wrong grease is no care
        return False
    same_task = done.task == rule.task or done.task in COUNTS_TOO.get(rule.task, ())
    if rule.on_item:
        return same_task and done.part is None
    return same_task and (done.part is None or done.part in related)


def _after_dives(rule: CareRule, since: Sequence[Dived], today: date) -> list[tuple[date, str]]:
    found = []
    if rule.every.each_dive and since:
        last = since[-1].on
        if rule.critical or today - last < timedelta(days=LAPSE_DAYS):
            found.append((last, "dived"))
    met = [
        (dive.on, rule.every.after & dive.conditions) for dive in since if rule.every.after & dive.conditions
    ]
    if met:
        first = met[0][0]
        causes = frozenset[str]().union(*(wanted for on, wanted in met if on == first))
        found.append((first, ", ".join(sorted(causes))))
    return found


def _counted(rule: CareRule, since: Sequence[Dived]) -> list[tuple[date, str]]:
    if rule.every.dives is None:
        return []
    count = 0
    for dive in since:
        count += dive.dives
        if count >= rule.every.dives:
            return [(dive.on, f"{rule.every.dives} dives")]
    return []


def _by_calendar(rule: CareRule, done_on: date | None, begun_on: date) -> date | None:
    """Add days or months to the day the count began; a test by law counts from a known test only."""
    every = rule.every
    if every.months is None and every.days is None:
        return None
    if rule.by_law:
        return month_end(done_on + relativedelta(months=every.months or 0)) if done_on else None
    if every.months is not None:
        return begun_on + relativedelta(months=every.months)
    return begun_on + timedelta(days=every.days or 0)


def month_end(on: date) -> date:
    """Return the last day of a date's month: a test by law is in date through the month it falls due."""
    return on.replace(day=monthrange(on.year, on.month)[1])
