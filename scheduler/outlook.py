"""What comes next in a locker: by the calendar, at each item's own pace, and on a trip, whichever is sooner."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from scheduler.due import Due
from scheduler.forecast import Forecast, Pace, PlannedDives, forecast, pace
from scheduler.standing import ItemDue
from scheduler.trips import TripDue, due_with_trip
from store import care_log, lockers, trips
from store.engine import Session
from store.tables import Item, Trip


@dataclass(frozen=True, slots=True)
class Coming:
    """A task that is not due yet. `by_pace`: the forecast, where it is the dives that come first; None: the calendar."""

    item: Item
    due: Due
    on: date
    by_pace: Forecast | None


def planned(session: Session, locker_id: int, today: date) -> tuple[PlannedDives, ...]:
    """Return the dives of the trips ahead."""
    return tuple(map(_dives_of, trips.ahead(session, locker_id, today)))


def _dives_of(trip: Trip) -> PlannedDives:
    return PlannedDives(trip.from_on, trip.to_on, trip.dives or 0)


def coming(standing: Sequence[ItemDue], ahead: Sequence[PlannedDives], today: date) -> list[Coming]:
    """Return what will fall due, the soonest first; what has no date and no end of dives in sight is left out.

    `ahead` are planned trips, on which every item is taken to be dived.
    """
    paces = _paces(standing, today)
    found = [
        c
        for i in standing
        for d in i.dues
        if (c := _coming(i.item, d, paces[i.item.id], ahead, today)) is not None
    ]
    return sorted(
        found, key=lambda c: (c.on, not c.due.rule.critical, c.item.id or 0, c.due.part, c.due.rule.id)
    )


def _paces(standing: Sequence[ItemDue], today: date) -> Mapping[int | None, Pace]:
    """Return how often each item is dived; one that never was is taken to be dived like the one dived most."""
    own = {
        i.item.id: pace(i.history.log(), min(i.item.added_on, i.history.days[0]), today)
        for i in standing
        if i.history.days
    }
    most = max(standing, key=lambda i: i.history.dives(0), default=None)
    usual = own.get(most.item.id) if most else None
    return {i.item.id: own.get(i.item.id) or usual or pace((), today, today) for i in standing}


def _coming(item: Item, due: Due, own: Pace, ahead: Sequence[PlannedDives], today: date) -> Coming | None:
    if due.due_on is not None and due.due_on <= today:
        return None
    counted = forecast(due.dives_left, own, today, ahead) if due.dives_left else None
    by_pace = counted.about if counted else None
    if by_pace is None and due.calendar_on is None:
        return None
    if by_pace is not None and (due.calendar_on is None or by_pace < due.calendar_on):
        return Coming(item, due, by_pace, counted)
    return Coming(item, due, due.calendar_on or today, None)


def with_trip(
    standing: Sequence[ItemDue], trip: Trip, ahead: Sequence[PlannedDives], today: date
) -> list[tuple[ItemDue, TripDue]]:
    """Return what is due before and during a trip, gravest and earliest first, each with its item.

    Dives at the diver's pace before leaving count as well; of a trip that has begun, only the dives still to come.
    """
    left = (trip.dives or 0) - (_dives_of(trip).by(today) if trip.from_on <= today else 0)
    likely = {
        (c.item.id, c.due.part, c.due.rule.id): c.on for c in coming(standing, ahead, today) if c.by_pace
    }
    found = []
    for i in standing:
        own = {(part, rule): on for (item_id, part, rule), on in likely.items() if item_id == i.item.id}
        due = due_with_trip(i.dues, max(trip.from_on, today), trip.to_on, left, today=today, likely=own)
        found += [(i, t) for t in due]
    return sorted(found, key=lambda p: (not p[1].due.rule.critical, p[1].on))


@dataclass(frozen=True, slots=True)
class Overview:
    """A locker as a whole on a day: where every rule stands, what comes, and what the next trip makes due."""

    name: str
    """Of the locker; "" if it has none."""
    today: date
    standing: tuple[ItemDue, ...]
    coming: tuple[Coming, ...]
    trip: Trip | None
    """The next one, or the one under way; None: none is planned."""
    with_trip: tuple[tuple[ItemDue, TripDue], ...]
    put_off: Mapping[tuple[int, str, str], date]
    """By item, part and rule: until when somebody does not want to hear of it."""


def overview(session: Session, locker_id: int, standing: Sequence[ItemDue], today: date) -> Overview:
    """Look over a locker."""
    planned_trips = trips.ahead(session, locker_id, today)
    ahead = tuple(map(_dives_of, planned_trips))
    trip = planned_trips[0] if planned_trips else None
    found = with_trip(standing, trip, ahead, today) if trip else []
    name = lockers.locker(session, locker_id).name
    put_off = care_log.put_off_until(session, locker_id)
    return Overview(
        name, today, tuple(standing), tuple(coming(standing, ahead, today)), trip, tuple(found), put_off
    )
