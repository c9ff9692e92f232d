"""How care, dates and quantities are said in a chat."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from bot.advice.decide import decide, with_manual
from bot.advice.rules import Rule
from bot.advice.substances import STUFF
from scheduler.care import By, CareRule
from store import items
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import Substance, Task

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


def count(number: int, noun: str) -> str:
    """Say a number of things."""
    return f"{number} {noun}" + ("" if number == 1 else "s")


def listed(names: Sequence[str]) -> str:
    """Join names for a sentence."""
    return (
        names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1] if names else "nothing"
    )
