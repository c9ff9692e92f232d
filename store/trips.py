"""Planned trips of a locker."""

from datetime import date

from sqlmodel import Session, col, select

from store.tables import Trip


def add(session: Session, trip: Trip) -> Trip:
    """Store a planned trip."""
    session.add(trip)
    session.flush()
    return trip


def ahead(session: Session, locker_id: int, today: date) -> list[Trip]:
    """Return the trips that are not over, the next one first."""
    query = select(Trip).where(Trip.locker_id == locker_id, Trip.to_on >= today)
    return list(session.exec(query.order_by(col(Trip.from_on), col(Trip.id))))
