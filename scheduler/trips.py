"""What a trip makes due: the same arithmetic as today's, with the dives of the trip still to come. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from scheduler.due import Due


@dataclass(frozen=True, slots=True)
class TripDue:
    """A rule that falls due before or during a trip. `before`: it must be done before leaving."""

    due: Due
    on: date
    before: bool


def due_with_trip(dues: Sequence[Due], from_on: date, to_on: date, dives: int, today: date) -> list[TripDue]:
    """Return what is due by the end of a trip of that many dives, gravest and earliest first.

    Dives are taken as spread evenly over the days. Care asked for after each dive is left out: it goes without saying.
    """
    found = []
    for due in dues:
        if due.rule.every.each_dive or (due.due_on is None and due.dives_left is None):
            continue
        by_date = due.due_on if due.due_on is not None and due.due_on <= to_on else None
        on = min((x for x in (by_date, _by_dives(due, from_on, to_on, dives)) if x is not None), default=None)
        if on is not None:
            found.append(TripDue(due, max(on, today), on <= from_on or due.rule.by != "diver"))
    return sorted(found, key=lambda t: (not t.due.rule.critical, t.on, t.due.rule.id))


def _by_dives(due: Due, from_on: date, to_on: date, dives: int) -> date | None:
    if due.dives_left is None or due.dives_left > dives or dives == 0:
        return None
    days = (to_on - from_on).days + 1
    return from_on + timedelta(days=min(days - 1, (max(0, due.dives_left - 1) * days) // dives))
