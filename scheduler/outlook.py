"""What comes next in a locker, by the calendar or at this diver's pace, whichever is sooner."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from scheduler.due import Due
from scheduler.forecast import Forecast, Pace, PlannedDives, forecast, pace
from scheduler.plan import ItemDue
from store import dives, trips
from store.engine import Session
from store.tables import Item


@dataclass(frozen=True, slots=True)
class Coming:
    """A task that is not due yet. `by_pace`: the forecast, where it is the dives that come first; None: the calendar."""

    item: Item
    due: Due
    on: date
    by_pace: Forecast | None


@dataclass(frozen=True, slots=True)
class Ahead:
    """How often the diver dives, and the trips that are planned."""

    pace: Pace
    trips: tuple[PlannedDives, ...]


def ahead_of(session: Session, locker_id: int, today: date) -> Ahead:
    """Read the pace and the planned trips of a locker."""
    log = dives.log(session, locker_id)
    since = min((on for on, _ in log), default=today)
    planned = (PlannedDives(t.from_on, t.to_on, t.dives or 0) for t in trips.ahead(session, locker_id, today))
    return Ahead(pace(log, since, today), tuple(planned))


def coming(standing: Sequence[ItemDue], ahead: Ahead, today: date) -> list[Coming]:
    """Return what will fall due, the soonest first; what has no date and no end of dives in sight is left out."""
    found = [c for i in standing for d in i.dues if (c := _coming(i.item, d, ahead, today)) is not None]
    return sorted(
        found, key=lambda c: (c.on, not c.due.rule.critical, c.item.id or 0, c.due.part, c.due.rule.id)
    )


def _coming(item: Item, due: Due, ahead: Ahead, today: date) -> Coming | None:
    if due.due_on is not None and due.due_on <= today:
        return None
    counted = forecast(due.dives_left, ahead.pace, today, ahead.trips) if due.dives_left else None
    by_pace = counted.about if counted else None
    if by_pace is None and due.calendar_on is None:
        return None
    if by_pace is not None and (due.calendar_on is None or by_pace < due.calendar_on):
        return Coming(item, due, by_pace, counted)
    return Coming(item, due, due.calendar_on or today, None)
