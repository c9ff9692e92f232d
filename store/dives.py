"""The dive log of a locker."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from sqlalchemy import BindParameter, bindparam
from sqlmodel import Session, col, func, or_, select

from store.lockers import number
from store.tables import Dive, DiveItem, Item, Loan


@dataclass(frozen=True, slots=True)
class Dived:
    """One entry of the log as the due dates see it."""

    on: date
    dives: int
    conditions: frozenset[str]
    minutes: int
    """Of all its dives together; 0 where no time was said."""


def add(session: Session, dive: Dive, item_ids: Iterable[int]) -> Dive:
    """Log an entry with the items that were on it."""
    session.add(dive)
    session.flush()
    set_items(session, dive, item_ids)
    return dive


def items_of(session: Session, dive_id: int) -> list[int]:
    """Return the items that were on an entry."""
    return list(
        session.exec(
            select(DiveItem.item_id).where(DiveItem.dive_id == dive_id).order_by(col(DiveItem.item_id))
        )
    )


def set_items(session: Session, dive: Dive, item_ids: Iterable[int]) -> None:
    """Say which items were on an entry, replacing what was said before; what is lent out meanwhile stays on it."""
    dive_id = number(dive.id)
    wanted = set(item_ids)
    here = select(DiveItem).join(Item, col(Item.id) == DiveItem.item_id)
    for link in session.exec(here.where(DiveItem.dive_id == dive_id, Item.locker_id == dive.locker_id)):
        if link.item_id not in wanted:
            session.delete(link)
        wanted.discard(link.item_id)
    for item_id in sorted(wanted):
        session.add(DiveItem(dive_id=dive_id, item_id=item_id))
    session.flush()


def get(session: Session, locker_id: int, dive_id: int) -> Dive | None:
    """Return an entry of this locker; None for a number that is not in it."""
    dive = session.get(Dive, dive_id)
    return dive if dive is not None and dive.locker_id == locker_id else None


def latest(session: Session, locker_id: int, by: str | None = None) -> Dive | None:
    """Return the entry told last by hand, whenever it was dived: what came in a file is nobody's last word.

    `by` None: whoever told it.
    """
    query = select(Dive).where(Dive.locker_id == locker_id, col(Dive.import_id).is_(None))
    if by is not None:
        query = query.where(Dive.logged_by == by)
    return session.exec(query.order_by(col(Dive.id).desc()).limit(1)).first()


def told_with(session: Session, dive: Dive) -> list[Dive]:
    """Return the entries that the same message told of the same day, that one among them, in the order they were logged."""
    query = select(Dive).where(
        Dive.locker_id == dive.locker_id,
        Dive.on == dive.on,
        Dive.logged_at == dive.logged_at,
        Dive.logged_by == dive.logged_by,
        col(Dive.import_id).is_(None),
    )
    return list(session.exec(query.order_by(col(Dive.id))))


def on_day(session: Session, locker_id: int, on: date) -> list[Dive]:
    """Return the entries of one day, in the order they were logged."""
    query = select(Dive).where(Dive.locker_id == locker_id, Dive.on == on).order_by(col(Dive.id))
    return list(session.exec(query))


def recent(session: Session, locker_id: int, limit: int) -> list[Dive]:
    """Return the newest entries by the day they were dived, newest first."""
    query = select(Dive).where(Dive.locker_id == locker_id)
    return list(session.exec(query.order_by(col(Dive.on).desc(), col(Dive.id).desc()).limit(limit)))


def remove(session: Session, dive: Dive) -> None:
    """Take an entry out of the log."""
    for link in session.exec(select(DiveItem).where(DiveItem.dive_id == dive.id)):
        session.delete(link)
    session.flush()  # the links first, one by one, so that undo knows them
    session.delete(dive)
    session.flush()


def count(session: Session, locker_id: int) -> int:
    """Count the dives of a locker."""
    return int(
        session.exec(select(func.coalesce(func.sum(Dive.dives), 0)).where(Dive.locker_id == locker_id)).one()
    )


_HERE: BindParameter[int] = bindparam("locker_id")
_LENT = select(Loan.item_id).join(Item, col(Item.id) == Loan.item_id).where(Item.locker_id == _HERE)
_ENTRIES = select(Dive.id, Dive.on, Dive.dives, Dive.conditions, Dive.duration_min).order_by(  # type: ignore[call-overload]  # SQLModel types up to four columns
    col(Dive.on), col(Dive.id)
)
_OF_LOG = _ENTRIES.where(col(Dive.locker_id) == _HERE)
_LINKS = select(DiveItem.item_id, DiveItem.dive_id).where(
    col(DiveItem.item_id).in_(select(Item.id).where(Item.locker_id == _HERE))
)


def by_item(session: Session, locker_id: int) -> dict[int, list[Dived]]:
    """Return each item's dives, oldest first: those of the locker's log, and of an item that was lent, those elsewhere."""
    here = {"locker_id": locker_id}
    travelled = set(session.exec(_LENT, params=here))
    entries = _OF_LOG
    if travelled:
        elsewhere = select(DiveItem.dive_id).where(col(DiveItem.item_id).in_(travelled))
        entries = _ENTRIES.where(or_(col(Dive.locker_id) == _HERE, col(Dive.id).in_(elsewhere)))
    dived = {
        dive_id: Dived(on, dives, frozenset(conditions), dives * (minutes or 0))
        for dive_id, on, dives, conditions, minutes in session.exec(entries, params=here)
    }
    on_dives: dict[int, set[int]] = defaultdict(set)
    for item_id, dive_id in session.exec(_LINKS, params=here):
        on_dives[item_id].add(dive_id)
    return {
        item_id: [entry for dive_id, entry in dived.items() if dive_id in these]
        for item_id, these in on_dives.items()
    }


def of_item(session: Session, item_id: int) -> list[Dive]:
    """Return the entries that an item was on, oldest first, in whichever log they stand: an item that was lent has some elsewhere."""
    query = select(Dive).join(DiveItem, col(DiveItem.dive_id) == Dive.id).where(DiveItem.item_id == item_id)
    return list(session.exec(query.order_by(col(Dive.on), col(Dive.id))))


def whole_log(session: Session, locker_id: int) -> list[Dive]:
    """Return every entry of a locker's log, oldest first."""
    query = select(Dive).where(Dive.locker_id == locker_id).order_by(col(Dive.on), col(Dive.id))
    return list(session.exec(query))


def log(session: Session, locker_id: int) -> list[tuple[date, int]]:
    """Return (date, dives) of every entry, oldest first."""
    query = select(col(Dive.on), col(Dive.dives)).where(Dive.locker_id == locker_id).order_by(col(Dive.on))
    return [(on, n) for on, n in session.exec(query)]
