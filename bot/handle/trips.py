"""Plans, shows and cancels a trip: what falls due before and during it, and what to take."""

from collections.abc import Sequence
from datetime import date, timedelta

from bot.handle.packing import packing, weather
from bot.handle.visit import Visit
from bot.handle.wording import Job, count, day, job_lines, law_note
from bot.replies import Reply
from bot.understand.intents import Export, PlanTrip, ShowDue, Undo
from bot.understand.reader import Offer
from scheduler.care_rule import By
from scheduler.digest import TripCall
from scheduler.outlook import with_trip
from scheduler.plan import wishes_of
from scheduler.policy import evening_of, is_overdue
from scheduler.standing import ItemDue
from scheduler.trips import TripDue, begun, calls
from store import care_log, lockers, tasks, trips
from store.tables import Trip

_DIVES_A_DAY = 2
EXAMPLE = "trip 12 to 19 December, 14 dives, salt, 4 degrees"
Found = Sequence[tuple[ItemDue, TripDue]]


def plan_trip(intent: PlanTrip, visit: Visit) -> Reply:
    """Store a trip and say what it makes due, what must be done before leaving, and what to pack."""
    if intent.cancels:
        return _cancel(intent, visit)
    if intent.shows:
        return _show(intent, visit)
    if intent.changes:
        return _put_right(intent, visit)
    if intent.from_on is None:
        return Reply("When is it?", (f"Say: {EXAMPLE}.",), data={"intent": "plan_trip"})
    trip, moved = _store(intent, intent.from_on, visit)
    verb = "Changed: trip" if moved else "Trip"
    return _told(trip, found_with(trip, visit), visit, verb, offers=(Offer("Undo", Undo()),))


def _store(intent: PlanTrip, from_on: date, visit: Visit) -> tuple[Trip, bool]:
    """Store the trip; one that was planned for some of the same days is the same trip, told anew. Return whether it was."""
    to_on = intent.to_on or from_on
    same = next(
        (
            t
            for t in trips.ahead(visit.session, visit.locker_id, visit.today)
            if t.from_on <= to_on and from_on <= t.to_on
        ),
        None,
    )
    return _written(same, intent, from_on, to_on, visit), same is not None


def _written(same: Trip | None, intent: PlanTrip, from_on: date, to_on: date, visit: Visit) -> Trip:
    """Store a trip on these days, or one that was planned before as it now is."""
    trip = same or Trip(locker_id=visit.locker_id, from_on=from_on, to_on=to_on)
    days = (to_on - from_on).days + 1
    kept = same.dives if same and (same.from_on, same.to_on) == (from_on, to_on) else None
    if same:
        care_log.move_put_off(visit.session, visit.locker_id, _after(same), to_on + timedelta(days=1))
    trip.from_on, trip.to_on = from_on, to_on
    trip.dives = intent.dives if intent.dives is not None else kept or _DIVES_A_DAY * days
    for name in ("water", "min_temp_c", "max_temp_c"):
        value = getattr(intent, name)
        if value is not None:
            setattr(trip, name, value)
    # What this very answer says need not be called out again tonight.
    evening = visit.now >= evening_of(visit.today, wishes_of(visit.chat))
    days_before = calls(t for _, t in found_with(trip, visit))
    trip.told = begun(days_before, trip.from_on, visit.today, evening=evening)
    return trips.add(visit.session, trip)


def _put_right(intent: PlanTrip, visit: Visit) -> Reply:
    """Change what is planned: the only trip, or the one that a button named; what is not told stays as it was."""
    planned = [
        t for t in trips.ahead(visit.session, visit.locker_id, visit.today) if intent.trip_id in {None, t.id}
    ]
    if not planned:
        told = intent.from_on is not None
        fresh = intent.model_copy(update={"changes": False})
        return plan_trip(fresh, visit) if told else Reply("No trip is planned.", (f"Say: {EXAMPLE}.",))
    if len(planned) > 1:
        offers = tuple(
            Offer(
                f"{day(t.from_on, visit.today)} to {day(t.to_on, visit.today)}",
                intent.model_copy(update={"trip_id": t.id}),
            )
            for t in planned[:8]
        )
        return Reply("Which trip is it?", offers=offers, data={"intent": "plan_trip"})
    old = planned[0]
    by = timedelta(days=intent.by_days or 0)
    from_on = intent.from_on or old.from_on + by
    ends = old.to_on + (from_on - old.from_on if intent.from_on else by)
    to_on = max(intent.to_on or ends, from_on)
    dives = intent.dives if intent.dives is not None else old.dives
    trip = _written(old, intent.model_copy(update={"dives": dives}), from_on, to_on, visit)
    return _told(trip, found_with(trip, visit), visit, "Changed: trip", offers=(Offer("Undo", Undo()),))


def found_with(trip: Trip, visit: Visit) -> Found:
    """Return what a trip makes due."""
    return with_trip(visit.standing(), trip, visit.ahead(), visit.today)


def _told(trip: Trip, found: Found, visit: Visit, verb: str, offers: tuple[Offer, ...]) -> Reply:
    before, during = [p for p in found if p[1].before], [p for p in found if not p[1].before]
    standing, today = visit.standing(), visit.today
    lines = [
        *section("Before you leave:", before, today),
        *section("During the trip:", during, today),
        *packing(standing),
        *undated(standing),
        *weather(standing, trip.water, trip.min_temp_c, trip.max_temp_c, imperial=visit.imperial),
        *law_note(t.due.rule for _, t in found),
    ]
    span = f"{day(trip.from_on, today)} to {day(trip.to_on, today)}, {count(trip.dives or 0, 'dive')}"
    return Reply(
        f"{verb} {span}: {len(before)} to do before, {len(during)} during.",
        tuple(lines),
        late(before, trip.from_on, today),
        (*_why(before, visit), Offer("Sheet to print", Export(what="trip_sheet")), *offers),
        _data(trip, before, during),
    )


def _show(intent: PlanTrip, visit: Visit) -> Reply:
    """Show the next trip as it stands today, and name those after it."""
    planned = trips.ahead(visit.session, visit.locker_id, visit.today)
    if not planned:
        return Reply(
            "No trip is planned.",
            (f"Say: {EXAMPLE}.", *packing(visit.standing())),
            data={"intent": "plan_trip", "trip": None},
        )
    chosen = next((t for t in planned if t.id == intent.trip_id), planned[0])
    others = tuple(
        Offer(
            f"{day(t.from_on, visit.today)} to {day(t.to_on, visit.today)}",
            PlanTrip(shows=True, trip_id=t.id),
        )
        for t in planned
        if t.id != chosen.id
    )
    off = Offer("Trip is off", PlanTrip(cancels=True, trip_id=chosen.id))
    return _told(chosen, found_with(chosen, visit), visit, "Trip", offers=(off, *others[:4]))


def _cancel(intent: PlanTrip, visit: Visit) -> Reply:
    planned = trips.ahead(visit.session, visit.locker_id, visit.today)
    named = [t for t in planned if intent.trip_id in {None, t.id}]
    if intent.from_on is not None:
        named = [
            t for t in named if t.from_on <= (intent.to_on or intent.from_on) and intent.from_on <= t.to_on
        ]
    if not named:
        return Reply("No such trip is planned.", data={"intent": "plan_trip", "cancelled": 0})
    if len(named) > 1:
        offers = tuple(
            Offer(
                f"{day(t.from_on, visit.today)} to {day(t.to_on, visit.today)}",
                PlanTrip(cancels=True, trip_id=t.id),
            )
            for t in named[:8]
        )
        return Reply("Which trip is off?", offers=offers, data={"intent": "plan_trip"})
    trip = named[0]
    said = f"{day(trip.from_on, visit.today)} to {day(trip.to_on, visit.today)}"
    care_log.move_put_off(visit.session, visit.locker_id, _after(trip), None)
    trips.cancel(visit.session, trip)
    return Reply(
        f"Trip {said} is off. Nothing more is said of it.",
        offers=(Offer("Undo", Undo()),),
        data={"intent": "plan_trip", "cancelled": 1},
    )


def _after(trip: Trip) -> date:
    """Return the day to which "after the trip" puts a task off."""
    return trip.to_on + timedelta(days=1)


def call_title(call: TripCall, today: date) -> str:
    """Say in one line what a reminder of a trip is about."""
    before = [t for _, t in call.found if t.before]
    if call.last_check:
        rest = f"{count(len(before), 'thing')} still to do" if before else "nothing is open"
        return f"Trip tomorrow, to {day(call.trip.to_on, today)}: {rest}, then pack."
    booked = sum(1 for t in before if t.lead_days)
    away = (call.trip.from_on - today).days
    return f"Trip in {count(away, 'day')}, {day(call.trip.from_on, today)}: book now, {count(booked, 'job')} for others."


def call_lines(call: TripCall, today: date) -> list[str]:
    """Say what is open before a trip: for a lead time what others must do, for the last check all of it."""
    before = [(i, t) for i, t in call.found if t.before and (call.last_check or t.lead_days)]
    return section("Before you leave:", before, today)


def section(title: str, found: Found, today: date) -> list[str]:
    """Say what falls due under a title, a line each; nothing for nothing."""
    jobs = [Job(i.item, t.due.part, t.due.rule, t.on, _by(t, today), i.manual(t.due.part)) for i, t in found]
    return [title, *(f"- {line}" for line in job_lines(jobs))] if jobs else []


def _by(found: TripDue, today: date) -> str:
    whom = "" if found.due.rule.by is By.DIVER else f", by a {found.due.rule.by.value}"
    since = found.due.due_on
    late = since is not None and is_overdue(found.due.rule, since, today)
    return (f"overdue since {day(since, today)}" if late and since else f"due {day(found.on, today)}") + whom


def late(before: Found, from_on: date, today: date) -> tuple[str, ...]:
    """Warn where a workshop or test station may no longer make it in time."""
    tight = [i.item.name for i, t in before if t.lead_days and today > from_on - timedelta(days=t.lead_days)]
    return (f"Call the workshop today, it is tight: {', '.join(dict.fromkeys(tight))}.",) if tight else ()


def undated(standing: Sequence[ItemDue]) -> list[str]:
    """Name the items whose tests by law nobody dated, in a line."""
    missing = [i.item.name for i in standing if any(d.rule.by_law and d.due_on is None for d in i.dues)]
    return (
        [f"Test dates not known: {', '.join(missing)}. A shop there may refuse to fill."] if missing else []
    )


def _why(before: Found, visit: Visit) -> tuple[Offer, ...]:
    visit.fresh_tasks()
    rows = (
        tasks.find(visit.session, visit.locker_id, lockers.number(i.item.id), t.due.part, t.due.rule.id)
        for i, t in before
    )
    ids = tuple(lockers.number(row.id) for row in rows if row is not None)
    return (Offer("Why", ShowDue(why=True, task_ids=ids)),) if ids else ()


def _data(trip: Trip, before: Found, during: Found) -> dict[str, object]:
    def told(rows: Found) -> list[dict[str, object]]:
        return [
            {
                "item": i.item.name,
                "part": t.due.part or None,
                "task": t.due.rule.task.value,
                "due_on": t.on.isoformat(),
                "lead_days": t.lead_days,
            }
            for i, t in rows
        ]

    said = {
        "from": trip.from_on.isoformat(),
        "to": trip.to_on.isoformat(),
        "dives": trip.dives,
        "water": trip.water,
        "min_temp_c": trip.min_temp_c,
        "max_temp_c": trip.max_temp_c,
    }
    return {"intent": "plan_trip", "trip": said, "before": told(before), "during": told(during)}
