"""Care tasks as worked out: what is due, and whom to tell when."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from sqlmodel import Session, col, delete, select

from store.tables import CareTask, Chat, Item, Locker


def of_locker(session: Session, locker_id: int) -> list[CareTask]:
    """Return every task of a locker, by item and part."""
    query = select(CareTask).where(CareTask.locker_id == locker_id)
    return list(session.exec(query.order_by(col(CareTask.item_id), col(CareTask.part), col(CareTask.rule))))


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


def remove(session: Session, tasks: Iterable[CareTask]) -> None:
    """Drop tasks that the facts no longer ask for."""
    gone = [t.id for t in tasks]
    if gone:
        session.exec(delete(CareTask).where(col(CareTask.id).in_(gone)))


def to_notify(session: Session, now: datetime, limit: int) -> Sequence[tuple[CareTask, Item, Locker]]:
    """Return tasks whose hour to be told has come, oldest first: one indexed read however many tasks there are."""
    query = (
        select(CareTask, Item, Locker)
        .join(Item, col(Item.id) == CareTask.item_id)
        .join(Locker, col(Locker.id) == CareTask.locker_id)
        .where(col(CareTask.notify_at) <= now)
    )
    return list(session.exec(query.order_by(col(CareTask.notify_at), col(CareTask.id)).limit(limit)))


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
