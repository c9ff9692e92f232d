"""Planned trips of a locker."""

from collections.abc import Sequence
from datetime import date, datetime

from sqlalchemy import bindparam
from sqlmodel import Session, col, select

from store.tables import Locker, Trip


def add(session: Session, trip: Trip) -> Trip:
    """Store a planned trip."""
    session.add(trip)
    session.flush()
    return trip


def get(session: Session, locker_id: int, trip_id: int) -> Trip | None:
    """Return a trip of this locker; None for a number that is not in it."""
    trip = session.get(Trip, trip_id)
    return trip if trip is not None and trip.locker_id == locker_id else None


def cancel(session: Session, trip: Trip) -> None:
    """Drop a trip that will not be made."""
    session.delete(trip)
    session.flush()


_AHEAD = (
    select(Trip)
    .where(Trip.locker_id == bindparam("locker_id"), Trip.to_on >= bindparam("today"))
    .order_by(col(Trip.from_on), col(Trip.id))
)


def ahead(session: Session, locker_id: int, today: date) -> list[Trip]:
    """Return the trips that are not over, the next one first."""
    return list(session.exec(_AHEAD, params={"locker_id": locker_id, "today": today}))


def to_call(session: Session, now: datetime, limit: int) -> Sequence[tuple[Trip, Locker]]:
    """Take trips of which it is time to speak, oldest first, but for those that another sweep has taken."""
    query = (
        select(Trip, Locker)
        .join(Locker, col(Locker.id) == Trip.locker_id)
        .where(col(Trip.notify_at) <= now)
        .order_by(col(Trip.notify_at), col(Trip.id))
    )
    return list(session.exec(query.limit(limit).with_for_update(of=Trip, skip_locked=True)))


def next_call(session: Session) -> datetime | None:
    """Return when the next trip wants to be spoken of, None if none does."""
    query = select(Trip.notify_at).where(col(Trip.notify_at).is_not(None))
    return session.exec(query.order_by(col(Trip.notify_at)).limit(1)).first()
