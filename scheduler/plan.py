"""From facts to tasks: what is due in a locker, and when somebody is to be told. It can be run again at will."""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import cache, lru_cache
from hashlib import sha256

from scheduler.care import CARE, care_of_item, care_of_part
from scheduler.care_rule import CareRule, Every, Status
from scheduler.clock import local_date
from scheduler.due import Due, contaminated, due
from scheduler.history import History
from scheduler.law import LAW, RegionLaw
from scheduler.policy import Wishes, evening_of, hour_of, next_telling
from scheduler.trips import EVE, TripDue, calls, due_with_trip, next_call
from store import care_log, dives, items, lockers, mishaps, tasks, trips
from store.catalogue import CATALOGUE, ItemFacts, ItemType, Part
from store.engine import Session
from store.tables import CareTask, Chat, Item, Locker, ManualNote
from store.vocabulary import Region


@cache
def edition() -> str:
    """Name the rules that tasks are worked out with: a locker that others worked out is worked out anew."""
    tables: tuple[tuple[CareRule | RegionLaw | ItemType, ...], ...]
    tables = (CARE, tuple(LAW.values()), tuple(CATALOGUE.values()))
    rows = [asdict(row) for table in tables for row in table]
    return sha256(json.dumps(rows, default=sorted).encode()).hexdigest()[:12]


@dataclass(frozen=True, slots=True)
class ItemDue:
    """An item with where each of its rules stands."""

    item: Item
    dues: tuple[Due, ...]
    manuals: tuple[ManualNote, ...] = ()

    def manual(self, part: str) -> tuple[str, ...] | None:
        """Return what the maker's manual says goes on a part; None if it is silent."""
        return care_log.manual_says(self.manuals, part) if part else None


def wishes_of(chat: Chat) -> Wishes:
    """Read the wishes of a chat."""
    return Wishes(
        chat.zone,
        time.fromisoformat(chat.digest_at),
        time.fromisoformat(chat.quiet_from),
        time.fromisoformat(chat.quiet_to),
    )


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
        found.append(ItemDue(item, tuple(dues), tuple(manuals.get(key, ()))))
    return found


def region_of(locker: Locker) -> Region | None:
    """Return the locker's region, None if the diver has not said."""
    return Region(locker.region) if locker.region else None


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
        counted = note.every_dives or note.every_months or note.every_days or note.every_hours
        if (
            counted
            and (note.part or "") in {part, ""}
            and (note.task or rule.task) == rule.task
            and (rule.by_permit or not rule.by_law)
        ):
            every = Every(
                note.every_dives,
                note.every_days,
                note.every_months,
                rule.every.each_dive,
                rule.every.after,
                note.every_hours,
                happened=rule.every.happened,
            )
            return replace(rule, every=every, source=_MANUAL, status=Status.SEEN)
    return rule


def by_maker(rule: CareRule) -> bool:
    """Tell whether the interval of a rule is the maker's, as the diver recorded it."""
    return rule.source == _MANUAL


def refresh(session: Session, chat: Chat, now: datetime) -> list[ItemDue]:
    """Bring the care tasks of a locker up to date with its facts, and return where every rule stands.

    Run after any change, in the same unit of work.
    """
    today = local_date(now, chat.zone)
    told = lockers.reminder_chat(session, chat.locker_id) or chat
    until = care_log.put_off_until(session, chat.locker_id)
    kept = {(t.item_id, t.part, t.rule): t for t in tasks.of_locker(session, chat.locker_id)}
    standing = work_out(session, chat.locker_id, today)
    wishes = wishes_of(told)
    for item_due in standing:
        item_id = lockers.number(item_due.item.id)
        for found in item_due.dues:
            key = (item_id, found.part, found.rule.id)
            row = kept.pop(key, None) or CareTask(
                locker_id=chat.locker_id,
                item_id=item_id,
                part=found.part,
                rule=found.rule.id,
                task=found.rule.task.value,
                critical=found.rule.critical,
                changed_at=now,
            )
            if row.id is not None and row.due_on != found.due_on and key in until:
                del until[key]  # facts have answered the wish
                care_log.fulfil(session, chat.locker_id, item_id, found.part, found.rule.id)
            _bring_up_to_date(row, found, wishes, until.get(key), now)
            if not told.reminders:
                row.notify_at = None
            session.add(row)
    tasks.remove(session, kept.values())
    _plan_calls(session, chat.locker_id, standing, told, now)
    locker = lockers.locker(session, chat.locker_id)
    locker.planned_by = edition()
    session.add(locker)
    session.flush()
    return standing


def with_trip(
    standing: Sequence[ItemDue], from_on: date, to_on: date, dives_planned: int, today: date
) -> list[tuple[ItemDue, TripDue]]:
    """Return what a trip makes due, gravest and earliest first, each with its item."""
    found = [(i, t) for i in standing for t in due_with_trip(i.dues, from_on, to_on, dives_planned, today)]
    return sorted(found, key=lambda p: (not p[1].due.rule.critical, p[1].on))


def _plan_calls(
    session: Session, locker_id: int, standing: Sequence[ItemDue], chat: Chat, now: datetime
) -> None:
    """Say of each trip ahead when to speak of it next."""
    today, wishes = local_date(now, chat.zone), wishes_of(chat)
    for trip in trips.ahead(session, locker_id, today):
        found = with_trip(standing, trip.from_on, trip.to_on, trip.dives or 0, today)
        call = next_call(calls(t for _, t in found), trip.from_on, trip.told, today)
        trip.notify_at = call_at(*call, wishes, now) if call and chat.reminders else None
        session.add(trip)


def call_at(days_before: int, on: date, wishes: Wishes, now: datetime) -> datetime | None:
    """Return the instant of a call before a trip; None where the evening of the last check is over."""
    if days_before > EVE:
        return _next_hour(on, wishes, now)
    at = evening_of(on, wishes)
    return at if at >= now else None


def replan(session: Session, now: datetime, limit: int) -> int:
    """Work lockers out anew whose tasks other rules than today's gave; return how many were.

    An update of the program changes rules for divers who have not written since.
    """
    stale = lockers.planned_otherwise(session, edition(), limit)
    for locker_id in stale:
        chat = lockers.reminder_chat(session, locker_id)
        if chat is not None:
            refresh(session, chat, now)
        else:
            lockers.locker(session, locker_id).planned_by = edition()
    session.flush()
    return len(stale)


def _bring_up_to_date(row: CareTask, found: Due, wishes: Wishes, put_off: date | None, now: datetime) -> None:
    today = local_date(now, wishes.zone)
    if row.due_on != found.due_on:
        row.told, row.changed_at = None, now
    row.due_on, row.cause = found.due_on, found.cause
    row.notify_at = None
    if found.due_on is None:
        return
    speak_on = put_off or next_telling(found.rule, found.due_on, row.told, today)
    row.notify_at = _next_hour(speak_on, wishes, now) if speak_on else None


def _next_hour(on: date, wishes: Wishes, now: datetime) -> datetime:
    """Return the diver's hour on a day, or the next one where that has passed: what was just said is not said again at once."""
    at = hour_of(on, wishes)
    return at if at >= now else hour_of(local_date(now, wishes.zone) + timedelta(days=1), wishes)
