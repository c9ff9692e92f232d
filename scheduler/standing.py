"""Where every rule of every item in a locker stands, worked out from the facts alone. It only reads."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from functools import cache, lru_cache
from hashlib import sha256

from scheduler.care import CARE, care_of_item, care_of_part
from scheduler.care_rule import CareRule, Every, Status
from scheduler.due import Due, contaminated, due
from scheduler.history import NEVER_DIVED, History
from scheduler.law import LAW, cylinder_tests
from store import care_log, dives, items, lockers, mishaps
from store.catalogue import CATALOGUE, ItemFacts, ItemType, Part
from store.engine import Session
from store.tables import Item, Locker, ManualNote
from store.vocabulary import Region


@cache
def edition() -> str:
    """Name the rules that tasks are worked out with: a locker that others worked out is worked out anew."""
    tables: tuple[tuple[CareRule | ItemType, ...], ...]
    tables = (CARE, *(cylinder_tests(region, _ANY) for region in LAW), tuple(CATALOGUE.values()))
    rows = [asdict(row) for table in tables for row in table]
    return sha256(json.dumps(rows, default=sorted).encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class ItemDue:
    """An item with where each of its rules stands."""

    item: Item
    dues: tuple[Due, ...]
    manuals: tuple[ManualNote, ...] = ()
    history: History = NEVER_DIVED

    def manual(self, part: str) -> tuple[str, ...] | None:
        """Return what the maker's manual says goes on a part; None if it is silent."""
        return care_log.manual_says(self.manuals, part) if part else None


def work_out(session: Session, locker_id: int, today: date) -> list[ItemDue]:
    """Return where every rule of every item in a locker stands on a day, from the facts alone."""
    region = region_of(lockers.locker(session, locker_id))
    dived = dives.by_item(session, locker_id)
    done = care_log.by_item(session, locker_id)
    befell = mishaps.by_item(session, locker_id)
    manuals = care_log.manuals(session, locker_id)
    found = []
    for item in items.of_locker(session, locker_id):
        key = lockers.number(item.id)
        facts = items.facts_of(item)
        history = History(dived.get(key, ()))
        rows = _rules(item, facts.region or region, manuals.get(key, ()))
        dues = [
            due(
                rule,
                part,
                related,
                added_on=item.added_on,
                dived=history,
                done=done.get(key, ()),
                today=today,
                befell=befell.get(key, ()),
                facts=facts,
            )
            for rule, part, related in rows
        ]
        dues += contaminated(done.get(key, ()))
        found.append(ItemDue(item, tuple(dues), tuple(manuals.get(key, ())), history))
    return found


def region_of(locker: Locker) -> Region | None:
    """Return the locker's region, None if the diver has not said."""
    return Region(locker.region) if locker.region else None


_ANY = ItemFacts(alloy_6351=True)
_MANUAL = "the maker's manual, as you recorded it"
_Row = tuple[CareRule, str, frozenset[str]]


def _rules(item: Item, region: Region | None, manuals: Sequence[ManualNote]) -> Sequence[_Row]:
    rows = _rules_of(item.kind, items.facts_of(item), region)
    return (
        [(_by_manual(rule, part, manuals), part, related) for rule, part, related in rows]
        if manuals
        else rows
    )


@lru_cache(maxsize=1024)
def _rules_of(item_kind: str, facts: ItemFacts, region: Region | None) -> Sequence[_Row]:
    """Return the rules of such an item, each with its part and the parts whose care counts for it."""
    kind = CATALOGUE[item_kind]
    rows: list[_Row] = [(rule, "", frozenset()) for rule in care_of_item(kind, facts, region)]
    for part in kind.parts:
        if part.care and part.fits(facts):
            rows += [(rule, part.key, _related(part, kind.parts)) for rule in care_of_part(part.facts(facts))]
    return tuple(rows)


def _related(part: Part, parts: Sequence[Part]) -> frozenset[str]:
    """Care of a whole counts for its details, and care of a detail for its whole."""
    details = {p.key for p in parts if p.part_of == part.key}
    return frozenset({part.key, *details, *((part.part_of,) if part.part_of else ())})


def _by_manual(rule: CareRule, part: str, manuals: Sequence[ManualNote]) -> CareRule:
    """Let the interval of the maker's manual, where the diver recorded one, go before ours.

    Law goes before the manual, but a cylinder with a permit of its own is tested by what that permit says.
    """
    for note in manuals:
        if _speaks_of(note, rule, part):
            every = Every(
                note.every_dives,
                note.every_days,
                note.every_months,
                False,
                rule.every.after,
                note.every_hours,
                happened=rule.every.happened,
            )
            return replace(rule, every=every, source=_MANUAL, status=Status.SEEN)
    return rule


def _speaks_of(note: ManualNote, rule: CareRule, part: str) -> bool:
    """Tell whether a note gives the interval of a rule; what only an event makes due gets none."""
    if not (note.every_dives or note.every_months or note.every_days or note.every_hours):
        return False
    if (note.part or "") not in {part, ""} or (note.task or rule.task) != rule.task:
        return False
    if rule.every.each_dive:  # only a note on this very act, as of the hours of a sorbent
        return note.task == rule.task
    return rule.by_permit or (rule.every.counted and not rule.by_law)
