"""Care tasks as worked out: what is due, and whom to tell when."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TypedDict

import sqlalchemy as sa
from sqlmodel import Session, col, delete, select, update

from store.catalogue import ItemFacts
from store.tables import CareTask, Chat, Item, Locker, Notice, Snooze
from store.vocabulary import Region


@dataclass(frozen=True, slots=True)
class Ripe:
    """A task whose hour to be told has come, with what its rule needs to know of the item and the locker."""

    facts: ItemFacts
    region: Region | None
    retired_on: date | None
    id: int
    locker_id: int
    item_id: int
    part: str
    rule: str
    due_on: date | None
    told: int | None


@dataclass(frozen=True, slots=True)
class Reminded:
    """A chat that gets the reminders of a locker: what a sweep has to know of it."""

    id: int
    zone: str
    digest_at: str
    quiet_from: str
    quiet_to: str
    reminders: bool


class Telling(TypedDict):
    """What is noted of a task after its hour: the stage somebody was told of, and when to tell next."""

    task_id: int
    told: int | None
    notify_at: datetime | None


_OF_LOCKER = select(CareTask).where(CareTask.locker_id == sa.bindparam("locker_id"))


def of_locker(session: Session, locker_id: int) -> list[CareTask]:
    """Return every task of a locker, by item and part."""
    rows = session.exec(_OF_LOCKER, params={"locker_id": locker_id})
    return sorted(rows, key=lambda t: (t.item_id, t.part, t.rule))  # databases sort words differently


def get(session: Session, locker_id: int, task_id: int) -> CareTask | None:
    """Return a task of this locker; None for a number that is not in it."""
    task = session.get(CareTask, task_id)
    return task if task is not None and task.locker_id == locker_id else None


def find(session: Session, locker_id: int, item_id: int, part: str, rule: str) -> CareTask | None:
    """Return the task of one rule on one part, None if facts no longer ask for it."""
    query = select(CareTask).where(
        CareTask.locker_id == locker_id,
        CareTask.item_id == item_id,
        CareTask.part == part,
        CareTask.rule == rule,
    )
    return session.exec(query).first()


def untell(session: Session, notices: Iterable[Notice], *, only_before: bool = False) -> None:
    """Take back that somebody was told: the notices never went out.

    `only_before`: the facts have moved on; what was told of the date before must not come back with it.
    """
    for notice in notices:
        task = find(session, notice.locker_id, notice.item_id or 0, notice.part, notice.rule)
        if task is None:
            continue
        if task.due_on == notice.due_on and not only_before:
            task.told = None
        if task.was_due_on == notice.due_on:
            task.was_told = None
        session.add(task)


def drop_of_items(session: Session, item_ids: Sequence[int]) -> None:
    """Drop what was worked out of some items: it is to be worked out where they are now."""
    if item_ids:
        session.exec(delete(CareTask).where(col(CareTask.item_id).in_(item_ids)))


def remove(session: Session, tasks: Iterable[CareTask]) -> None:
    """Drop tasks that the facts no longer ask for."""
    gone = [t.id for t in tasks]
    if gone:
        session.exec(delete(CareTask).where(col(CareTask.id).in_(gone)))


def to_notify(session: Session, now: datetime, limit: int) -> list[Ripe]:
    """Take tasks whose hour to be told has come, oldest first: one indexed read however many tasks there are.

    What another sweep has taken and not yet noted is left to it.
    """
    task = (CareTask.id, CareTask.locker_id, CareTask.item_id, CareTask.part, CareTask.rule)
    query = (
        sa.select(col(Item.facts), col(Locker.region), col(Item.retired_on))
        .add_columns(*map(col, task), col(CareTask.due_on), col(CareTask.told))
        .join(Item, col(Item.id) == CareTask.item_id)
        .join(Locker, col(Locker.id) == CareTask.locker_id)
        .where(col(CareTask.notify_at) <= now)
        .order_by(col(CareTask.notify_at), col(CareTask.id))
        .limit(limit)
        .with_for_update(of=CareTask, skip_locked=True)
    )
    return [
        Ripe(ItemFacts.model_validate(facts), Region(region) if region else None, *columns)
        for facts, region, *columns in session.connection().execute(query)
    ]


def note_told(session: Session, tellings: Sequence[Telling]) -> None:
    """Note what was told of tasks, all in one write."""
    if tellings:
        this = col(CareTask.id) == sa.bindparam("task_id")
        session.connection().execute(update(CareTask).where(this), tellings)


def next_notify(session: Session) -> datetime | None:
    """Return when the next task wants to be told, None if none does."""
    query = select(CareTask.notify_at).where(col(CareTask.notify_at).is_not(None))
    return session.exec(query.order_by(col(CareTask.notify_at)).limit(1)).first()


def chats_of(session: Session, locker_ids: Iterable[int]) -> dict[int, Chat]:
    """Return the chat that gets the reminders of each locker: the first that opened it and is not muted."""
    query = select(Chat).where(col(Chat.locker_id).in_(set(locker_ids)), col(Chat.muted_at).is_(None))
    found: dict[int, Chat] = {}
    for chat in session.exec(query.order_by(col(Chat.id).desc())):
        found[chat.locker_id] = chat
    return found


def reminded(session: Session, locker_ids: Iterable[int]) -> dict[int, Reminded]:
    """Return what a sweep has to know of the same chats: to read a thousand of them whole takes three times as long."""
    columns = (Chat.id, Chat.zone, Chat.digest_at, Chat.quiet_from, Chat.quiet_to, Chat.reminders)
    query = (
        sa.select(col(Chat.locker_id), *map(col, columns))
        .where(col(Chat.locker_id).in_(set(locker_ids)), col(Chat.muted_at).is_(None))
        .order_by(col(Chat.id).desc())
    )
    return {locker_id: Reminded(*chat) for locker_id, *chat in session.connection().execute(query)}


def put_off_until(session: Session, locker_ids: Iterable[int]) -> dict[tuple[int, str, str], date]:
    """Return (item, part, rule) to the date each was put off until, of several lockers in one read."""
    query = select(Snooze).where(col(Snooze.locker_id).in_(set(locker_ids))).order_by(col(Snooze.id))
    return {(r.item_id, r.part, r.rule): r.until_on for r in session.exec(query)}
