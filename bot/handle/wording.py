"""How care, dates and quantities are said in a chat."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from bot.advice.decide import decide, with_manual
from bot.advice.rules import Rule
from bot.advice.substances import STUFF
from scheduler.care_rule import By, CareRule
from scheduler.due import Due
from scheduler.forecast import Forecast
from scheduler.outlook import Coming
from store import items
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import Happening, Substance, Task

_VERB = {
    Task.RINSE: "Rinse",
    Task.DRY: "Dry",
    Task.POWDER: "Powder",
    Task.CLEAN: "Clean",
    Task.LUBRICATE: "Lubricate",
    Task.INSPECT: "Inspect",
    Task.SERVICE: "Service",
    Task.TEST: "Test",
    Task.REPLACE: "Replace",
    Task.DISINFECT: "Disinfect",
    Task.CALIBRATE: "Calibrate",
}
PAST = {
    Task.RINSE: "rinsed",
    Task.DRY: "dried",
    Task.POWDER: "powdered",
    Task.CLEAN: "cleaned",
    Task.LUBRICATE: "lubricated",
    Task.INSPECT: "inspected",
    Task.SERVICE: "serviced",
    Task.TEST: "tested",
    Task.REPLACE: "replaced",
    Task.DISINFECT: "disinfected",
    Task.CALIBRATE: "calibrated",
}


CHECK_LOCALLY = "Test dates by law: check locally."


@dataclass(frozen=True)
class Job:
    """One act of care on one item, ready to be said."""

    item: Item
    part: str
    rule: CareRule
    due_on: date | None = None
    note: str = ""
    manual: tuple[str, ...] | None = None
    """What the maker's manual says goes on it; None if it is silent."""
    befell: str = ""
    """What happened to the item that asks for this; "" where it is the calendar or the count."""


def befell(due: Due) -> str:
    """Return what happened to the item that made it due, "" if it was something else."""
    return " and ".join(c for c in due.cause.split(", ") if c in set(Happening)) if due.cause else ""


def trigger(due: Due) -> str:
    """Say what made a task due; "" where the act itself says it."""
    if due.cause in {"dived", ""}:
        return ""
    said = {"time": "its time has come", "age": "by its age", "first use": "by its time in use"}.get(
        due.cause
    )
    if said:
        return said
    return f"it was {befell(due)}" if befell(due) else f"after {due.cause.replace('_', ' ')}"


def part_name(item: Item, part: str) -> str:
    """Return the plain name of a part, "" for the item as a whole."""
    return CATALOGUE[item.kind].part(part).name if part else ""


def act(rule: CareRule) -> str:
    """Name the act of a rule."""
    return rule.label or _VERB[rule.task]


def what_with(job: Job) -> str:
    """Return what the act takes, from the same rules and manual that answer questions; "" if nothing."""
    if job.rule.task not in {Task.LUBRICATE, Task.POWDER} or not job.part:
        return ""
    facts = CATALOGUE[job.item.kind].part(job.part).facts(items.facts_of(job.item))
    rule = decide(facts)
    if isinstance(rule, Rule) and job.manual is not None:
        rule, _ = with_manual(rule, facts, tuple(map(Substance, job.manual)))
    return STUFF[rule.use[0]].name if isinstance(rule, Rule) and rule.use else ""


def job_lines(jobs: Iterable[Job]) -> list[str]:
    """Say jobs, those alike on several items in one line, in the order they come."""
    groups: dict[tuple[str, str, str], dict[str, list[str]]] = defaultdict(lambda: defaultdict(list))
    for job in jobs:
        with_what = what_with(job)
        groups[act(job.rule), with_what, job.note][job.item.name].append(part_name(job.item, job.part))
    return [_line(*key, parts) for key, parts in groups.items()]


def _line(verb: str, with_what: str, note: str, by_item: dict[str, list[str]]) -> str:
    """Say one act: whole items by name, parts with the item they belong to."""
    what = "; ".join(
        f"{', '.join(parts)} ({item})" if any(parts) else item for item, parts in by_item.items()
    )
    return f"{verb}: {what}" + (f", {with_what}" if with_what else "") + (f" - {note}" if note else "")


def by_whom(rule: CareRule) -> str:
    """Say who does it where that is not the diver."""
    return "" if rule.by is By.DIVER else f" ({rule.by.value})"


def law_note(rules: Iterable[CareRule]) -> tuple[str, ...]:
    """Tell to check locally, once, where a date set by law is shown."""
    return (CHECK_LOCALLY,) if any(rule.by_law for rule in rules) else ()


def month(on: date) -> str:
    """Say a month and its year."""
    return f"{on:%B} {on.year}"


def day_of(on: date, today: date, *, month_only: bool) -> str:
    """Say a date as far as it was told: a day, or no more than its month."""
    return month(on) if month_only else day(on, today)


def likely(found: Forecast, today: date) -> str:
    """Say a forecast in plain words: the middle, and the range that holds 8 times in 10."""
    about = f"about {day(found.about, today)}" if found.about else "some time"
    if found.latest is None:
        return f"{about} (8 in 10: from {day(found.earliest, today)} on)"
    if found.earliest == found.latest:
        return about
    return f"{about} (8 in 10: {day(found.earliest, today)} to {day(found.latest, today)})"


def when_comes(found: Coming, today: date) -> str:
    """Say when a task will fall due, by the dives left at this pace or by the calendar."""
    if found.by_pace is None or found.due.dives_left is None:
        return day(found.on, today)
    left = (
        f"{found.due.hours_left:g} hours under water"
        if found.due.hours_left and found.due.rule.every.dives is None
        else count(found.due.dives_left, "dive")
    )
    return f"in {left}, {likely(found.by_pace, today)}"


def day(on: date, today: date) -> str:
    """Say a date: near ones by name, others with the year only where it differs."""
    gap = (on - today).days
    if gap in (-1, 0, 1):
        return {-1: "yesterday", 0: "today", 1: "tomorrow"}[gap]
    return f"{on.day} {on:%B}" + (f" {on.year}" if on.year != today.year else "")


def depth(metres: float, imperial: bool) -> str:
    """Say a depth in the diver's units."""
    return f"{metres / 0.3048:.0f} ft" if imperial else f"{metres:g} m"


def temperature(celsius: float, imperial: bool) -> str:
    """Say a temperature in the diver's units."""
    return f"{celsius * 1.8 + 32:.0f} °F" if imperial else f"{celsius:g} °C"


def count(number: int, noun: str, several: str | None = None) -> str:
    """Say a number of things; `several` where the plural takes more than an s."""
    return f"{number} {noun if number == 1 else several or noun + 's'}"


def listed(names: Sequence[str]) -> str:
    """Join names for a sentence."""
    return (
        names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1] if names else "nothing"
    )
