"""What was done to the kit, what its manuals say, and what was put off."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import BindParameter, bindparam
from sqlmodel import Session, col, select

from store.tables import Care, ManualNote, Snooze

_HERE: BindParameter[int] = bindparam("locker_id")
_ACTS = select(Care).where(Care.locker_id == _HERE).order_by(col(Care.on), col(Care.id))
_MANUALS = select(ManualNote).where(ManualNote.locker_id == _HERE).order_by(col(ManualNote.id).desc())
_PUT_OFF = select(Snooze).where(Snooze.locker_id == _HERE)


@dataclass(frozen=True, slots=True)
class Done:
    """An act of care as the due dates see it. `part` None: on the item as a whole."""

    task: str
    part: str | None
    on: date
    substance: str | None = None
    contaminates: bool = False
    by_technician: bool = False
    test: str | None = None
    next_on: date | None = None
    made_on: date | None = None
    told_at: datetime | None = None
    """When it was recorded: it orders what happened on one day."""


def add(session: Session, care: Care) -> Care:
    """Record an act of care."""
    session.add(care)
    session.flush()
    return care


def newest(session: Session, locker_id: int, by: str | None = None) -> list[Care]:
    """Return the acts that were told last, in one breath; none if nothing was. `by` None: whoever told them."""
    told = select(Care).where(Care.locker_id == locker_id)
    if by is not None:
        told = told.where(Care.done_by == by)
    last = session.exec(told.order_by(col(Care.logged_at).desc(), col(Care.id).desc())).first()
    return [] if last is None else list(session.exec(told.where(Care.logged_at == last.logged_at)))


def by_item(session: Session, locker_id: int) -> dict[int, list[Done]]:
    """Return each item's acts of care, oldest first."""
    found: dict[int, list[Done]] = defaultdict(list)
    for c in session.exec(_ACTS, params={"locker_id": locker_id}):
        found[c.item_id].append(
            Done(
                c.task,
                c.part,
                c.on,
                c.substance,
                c.contaminates,
                c.by_technician,
                c.test,
                c.next_on,
                c.made_on,
                c.logged_at,
            )
        )
    return found


def of_item(session: Session, locker_id: int, item_id: int) -> list[Care]:
    """Return what was done to one item, newest first."""
    query = select(Care).where(Care.locker_id == locker_id, Care.item_id == item_id)
    return list(session.exec(query.order_by(col(Care.on).desc(), col(Care.id).desc())))


def note_manual(session: Session, note: ManualNote) -> ManualNote:
    """Record what a manual says; it stands beside earlier notes, and the newest counts."""
    session.add(note)
    session.flush()
    return note


def manuals(session: Session, locker_id: int) -> dict[int, list[ManualNote]]:
    """Return each item's notes from its manual, newest first."""
    found: dict[int, list[ManualNote]] = defaultdict(list)
    for note in session.exec(_MANUALS, params={"locker_id": locker_id}):
        found[note.item_id].append(note)
    return found


def manual_says(notes: Sequence[ManualNote], part: str, whole: str | None = None) -> tuple[str, ...] | None:
    """Return what the newest note says goes on a part, or on what it is a detail of; None if the manual is silent."""
    for note in notes:
        if note.substances is not None and note.part in {None, part, whole}:
            return tuple(note.substances)
    return None


def put_off(session: Session, locker_id: int, item_id: int, part: str, rule: str, *, until: date) -> Snooze:
    """Put a task off until a date, replacing an earlier wish for the same task."""
    query = select(Snooze).where(
        Snooze.locker_id == locker_id, Snooze.item_id == item_id, Snooze.part == part, Snooze.rule == rule
    )
    row = session.exec(query).first() or Snooze(
        locker_id=locker_id, item_id=item_id, part=part, rule=rule, until_on=until
    )
    row.until_on = until
    session.add(row)
    session.flush()
    return row


def move_put_off(session: Session, locker_id: int, was: date, until: date | None) -> None:
    """Move the wishes that end on a day, as with a trip that moved; None: drop them."""
    for row in session.exec(select(Snooze).where(Snooze.locker_id == locker_id, Snooze.until_on == was)):
        if until is None:
            session.delete(row)
        else:
            row.until_on = until
            session.add(row)
    session.flush()


def fulfil(session: Session, locker_id: int, item_id: int, part: str, rule: str) -> None:
    """Drop the wish to put a task off: its day has come."""
    query = select(Snooze).where(
        Snooze.locker_id == locker_id, Snooze.item_id == item_id, Snooze.part == part, Snooze.rule == rule
    )
    for row in session.exec(query):
        session.delete(row)


def put_off_until(session: Session, locker_id: int) -> dict[tuple[int, str, str], date]:
    """Return (item, part, rule) to the date each was put off until."""
    rows = session.exec(_PUT_OFF, params={"locker_id": locker_id})
    return {(r.item_id, r.part, r.rule): r.until_on for r in rows}
