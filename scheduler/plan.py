"""From facts to tasks, and from tasks whose hour has come to notices. Both can be run again at will and add nothing."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache

from scheduler.care import CareRule, Every, care_of_item, care_of_part, rule_by_id
from scheduler.clock import local_date
from scheduler.due import Due, contaminated, due
from scheduler.policy import Wishes, hour_of, next_telling, stage_name, stage_on
from store import care_log, dives, items, lockers, outbox, tasks
from store.catalogue import CATALOGUE, ItemFacts, Part
from store.engine import Session
from store.tables import CareTask, Chat, Item, Locker, ManualNote, Notice
from store.vocabulary import Region

SWEEP = 1_000
"""Tasks turned to notices in one unit of work, so that a sweep never holds the writer for long."""


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
    manuals = care_log.manuals(session, locker_id)
    found = []
    for item in items.of_locker(session, locker_id):
        key = lockers.number(item.id)
        facts = items.facts_of(item)
        rows = _rules(item, facts.region or region, manuals.get(key, ()))
        dues = [
            due(
                rule,
                part,
                related,
                added_on=item.added_on,
                dived=dived.get(key, ()),
                done=done.get(key, ()),
                today=today,
            )
            for rule, part, related in rows
        ]
        dues += contaminated(done.get(key, ()))
        found.append(ItemDue(item, tuple(dues), tuple(manuals.get(key, ()))))
    return found


def region_of(locker: Locker) -> Region | None:
    """Return the locker's region, None if the diver has not said."""
    return Region(locker.region) if locker.region else None


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
    rows: list[_Row] = [(rule, "", frozenset()) for rule in care_of_item(kind, region)]
    for part in kind.parts:
        if part.care and part.fits(facts):
            rows += [(rule, part.key, _related(part, kind.parts)) for rule in care_of_part(part.facts(facts))]
    return tuple(rows)


def _related(part: Part, parts: Sequence[Part]) -> frozenset[str]:
    """Care of a whole counts for its details, and care of a detail for its whole."""
    details = {p.key for p in parts if p.part_of == part.key}
    return frozenset({part.key, *details, *((part.part_of,) if part.part_of else ())})


def _by_manual(rule: CareRule, part: str, manuals: Sequence[ManualNote]) -> CareRule:
    """Let the interval of the maker's manual, where the diver recorded one, go before ours."""
    for note in manuals:
        counted = note.every_dives or note.every_months
        if (
            counted
            and (note.part or "") in {part, ""}
            and (note.task or rule.task) == rule.task
            and not rule.by_law
        ):
            every = Every(note.every_dives, None, note.every_months, rule.every.each_dive, rule.every.after)
            return replace(rule, every=every, source="the maker's manual, as you recorded it")
    return rule


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
            )
            if row.id is not None and row.due_on != found.due_on and key in until:
                del until[key]  # facts have answered the wish
                care_log.fulfil(session, chat.locker_id, item_id, found.part, found.rule.id)
            _bring_up_to_date(row, found, wishes, until.get(key), now)
            session.add(row)
    tasks.remove(session, kept.values())
    session.flush()
    return standing


def _bring_up_to_date(row: CareTask, found: Due, wishes: Wishes, put_off: date | None, now: datetime) -> None:
    today = local_date(now, wishes.zone)
    if row.due_on != found.due_on:
        row.told = None
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


def sweep(session: Session, now: datetime) -> int:
    """Turn tasks whose hour has come into notices; return how many tasks were taken."""
    ripe = tasks.to_notify(session, now, SWEEP)
    chats = tasks.chats_of(session, (locker.id for _, _, locker in ripe if locker.id is not None))
    for task, item, locker in ripe:
        chat = chats.get(task.locker_id)
        if chat is None or item.retired_on is not None or task.due_on is None:
            task.notify_at = None
            continue
        _notify(
            session, task, chat, rule_by_id(task.rule, items.facts_of(item).region or region_of(locker)), now
        )
    session.flush()
    return len(ripe)


def _notify(session: Session, task: CareTask, chat: Chat, rule: CareRule, now: datetime) -> None:
    today = local_date(now, chat.zone)
    due_on = task.due_on or today
    put_off = care_log.put_off_until(session, task.locker_id).get((task.item_id, task.part, task.rule))
    wished = put_off is not None and put_off <= today
    stage = stage_on(rule, due_on, today)
    if stage is not None and (wished or task.told is None or stage > task.told):
        outbox.add(
            session, _notice(task, chat, due_on, stage=stage, again=put_off if wished else None, now=now)
        )
        task.told = stage
    if wished:
        care_log.fulfil(session, task.locker_id, task.item_id, task.part, task.rule)
    speak_on = next_telling(rule, due_on, task.told, today)
    task.notify_at = hour_of(speak_on, wishes_of(chat)) if speak_on else None


def _notice(
    task: CareTask, chat: Chat, due_on: date, *, stage: int, again: date | None, now: datetime
) -> Notice:
    occurrence = f"{due_on.isoformat()}/{stage}" + (f"/again {again.isoformat()}" if again else "")
    return Notice(
        key=f"{task.locker_id}/{task.item_id}/{task.part}/{task.rule}/{occurrence}",
        locker_id=task.locker_id,
        chat_id=lockers.number(chat.id),
        item_id=task.item_id,
        part=task.part,
        rule=task.rule,
        due_on=due_on,
        stage=stage_name(stage),
        send_at=now,
    )
