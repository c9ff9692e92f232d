"""What befell the kit: floods, leaks, dents and the like."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import bindparam
from sqlmodel import Session, col, select

from store.tables import Mishap

_OF_LOCKER = (
    select(Mishap).where(Mishap.locker_id == bindparam("locker_id")).order_by(col(Mishap.on), col(Mishap.id))
)


@dataclass(frozen=True, slots=True)
class Befell:
    """A mishap as the due dates see it."""

    happened: str
    on: date
    told_at: datetime | None = None
    """When it was recorded: it orders what happened on one day."""


def add(session: Session, mishap: Mishap) -> Mishap:
    """Record a mishap."""
    session.add(mishap)
    session.flush()
    return mishap


def by_item(session: Session, locker_id: int) -> dict[int, list[Befell]]:
    """Return each item's mishaps, oldest first."""
    found: dict[int, list[Befell]] = defaultdict(list)
    for row in session.exec(_OF_LOCKER, params={"locker_id": locker_id}):
        found[row.item_id].append(Befell(row.happened, row.on, row.logged_at))
    return found


def of_item(session: Session, locker_id: int, item_id: int) -> list[Mishap]:
    """Return what befell one item, newest first."""
    query = select(Mishap).where(Mishap.locker_id == locker_id, Mishap.item_id == item_id)
    return list(session.exec(query.order_by(col(Mishap.on).desc(), col(Mishap.id).desc())))
