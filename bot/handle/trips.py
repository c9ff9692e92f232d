"""Plans a trip: what falls due before and during it, and what to take."""

from datetime import date, timedelta

from bot.advice.temperature import JELLY_MELTS_FROM_C
from bot.handle.visit import Visit
from bot.handle.wording import Job, count, day, job_lines, temperature, what_with
from bot.replies import Reply
from bot.understand.intents import PlanTrip, ShowDue, Undo
from bot.understand.reader import Offer
from scheduler.plan import ItemDue
from scheduler.trips import TripDue, due_with_trip
from store import lockers, tasks, trips
from store.tables import Trip
from store.vocabulary import Water

_DIVES_A_DAY = 2
_WIDE_SPAN_C = 25
_SPARES = {
    "cylinder": "valve outlet O-rings",
    "twinset": "valve outlet and manifold O-rings",
    "stage": "valve outlet O-rings",
    "regulator": "mouthpieces, ties, O-rings for the DIN or yoke face and the hoses",
    "canister_light": "a lid O-ring",
    "hand_light": "head O-rings, batteries",
    "scooter": "hull O-rings",
    "rebreather": "loop O-rings, sorbent, cells and batteries as the maker says",
    "camera_housing": "housing and port O-rings",
    "dry_suit": "a spare wrist seal, an old toothbrush",
    "dive_computer": "a battery and its O-ring",
}


def plan_trip(intent: PlanTrip, visit: Visit) -> Reply:
    """Store a trip and say what it makes due, what must be done before leaving, and what to pack."""
    if intent.from_on is None:
        return Reply(
            "When is it? Say: trip 12 to 19 December, 14 dives, salt, 4 degrees.",
            data={"intent": "plan_trip"},
        )
    to_on = intent.to_on or intent.from_on
    dives = intent.dives if intent.dives is not None else _DIVES_A_DAY * ((to_on - intent.from_on).days + 1)
    trips.add(
        visit.session,
        Trip(
            locker_id=visit.locker_id,
            from_on=intent.from_on,
            to_on=to_on,
            dives=dives,
            water=intent.water,
            min_temp_c=intent.min_temp_c,
            max_temp_c=intent.max_temp_c,
        ),
    )
    found = [
        (i, t)
        for i in visit.standing()
        for t in due_with_trip(i.dues, intent.from_on, to_on, dives, visit.today)
    ]
    found.sort(key=lambda p: (not p[1].due.rule.critical, p[1].on))
    before = [(i, t) for i, t in found if t.before]
    during = [(i, t) for i, t in found if not t.before]
    lines = (
        _section("Before you leave:", before, visit)
        + _section("During the trip:", during, visit)
        + _to_take(visit)
        + _unknown(visit)
    )
    first = f"Trip {day(intent.from_on, visit.today)} to {day(to_on, visit.today)}, {count(dives, 'dive')}: {len(before)} to do before, {len(during)} during."
    return Reply(
        first,
        tuple(lines + _cold(intent, visit)),
        _late(before, intent.from_on, visit),
        _offers(before, visit),
        _data(intent, before, during, dives),
    )


def _section(title: str, found: list[tuple[ItemDue, TripDue]], visit: Visit) -> list[str]:
    jobs = [Job(i.item, t.due.part, t.due.rule, t.on, _by(t, visit), i.manual(t.due.part)) for i, t in found]
    return [title, *(f"- {line}" for line in job_lines(jobs))] if jobs else []


def _by(found: TripDue, visit: Visit) -> str:
    whom = "" if found.due.rule.by == "diver" else f", by a {found.due.rule.by.value}"
    return f"due {day(found.on, visit.today)}{whom}"


def _late(before: list[tuple[ItemDue, TripDue]], from_on: date, visit: Visit) -> tuple[str, ...]:
    """Warn where a workshop or test station may no longer make it in time."""
    tight = [
        i.item.name
        for i, t in before
        if visit.today > from_on - timedelta(days=t.due.rule.lead_days) and t.due.rule.lead_days
    ]
    return (f"Call the workshop today, it is tight: {', '.join(dict.fromkeys(tight))}.",) if tight else ()


def _to_take(visit: Visit) -> list[str]:
    kit = visit.kit()
    jobs = [Job(i.item, d.part, d.rule, manual=i.manual(d.part)) for i in visit.standing() for d in i.dues]
    lubricants = {name for job in jobs if (name := what_with(job))}
    spares = dict.fromkeys(_SPARES[i.kind] for i in kit if i.kind in _SPARES)
    lines = ["Take along:"] if kit else []
    if lubricants:
        lines.append("- " + ", ".join(sorted(lubricants)) + ", lint-free cloth")
    lines += [f"- {spare}" for spare in spares]
    sizes = dict.fromkeys(f"-{n.ring} ({i.item.name})" for i in visit.standing() for n in i.manuals if n.ring)
    lines += [f"- spare O-rings: {', '.join(sizes)}"] if sizes else []
    return lines


def _unknown(visit: Visit) -> list[str]:
    missing = [
        i.item.name for i in visit.standing() if any(d.rule.by_law and d.done_on is None for d in i.dues)
    ]
    return (
        [f"Test dates not known: {', '.join(missing)}. A shop there may refuse to fill."] if missing else []
    )


def _cold(intent: PlanTrip, visit: Visit) -> list[str]:
    lines = []
    if intent.min_temp_c is not None and intent.min_temp_c <= 10:
        lines.append(
            f"Cold water ({temperature(intent.min_temp_c, visit.imperial)}): ask the technician about cold-water set-up of the regulators."
        )
    low, high = intent.min_temp_c, intent.max_temp_c
    if low is not None and (low < 0 or (high is not None and high - low > _WIDE_SPAN_C)):
        lines.append(
            "Such a span of temperatures: PFPE grease rather than silicone on moving rings (common practice, no source)."
        )
    if (
        high is not None
        and high >= JELLY_MELTS_FROM_C
        and "petroleum_jelly" in {s for i in visit.standing() for n in i.manuals for s in n.substances or ()}
    ):
        lines.append(
            f"Petroleum jelly may melt from {JELLY_MELTS_FROM_C:g} °C (USP 32): keep it and what it is on out of the sun."
        )
    if intent.water is Water.SALT:
        lines.append("Salt: rinse and dry every evening, zips brushed before any stick or wax.")
    return lines


def _offers(before: list[tuple[ItemDue, TripDue]], visit: Visit) -> tuple[Offer, ...]:
    visit.fresh_tasks()
    ids = [
        lockers.number(task.id)
        for item, t in before
        if (
            task := tasks.find(
                visit.session, visit.locker_id, lockers.number(item.item.id), t.due.part, t.due.rule.id
            )
        )
    ]
    why = (Offer("Why", ShowDue(why=True, task_ids=tuple(ids))),) if ids else ()
    return (*why, Offer("Undo", Undo()))


def _data(
    intent: PlanTrip, before: list[tuple[ItemDue, TripDue]], during: list[tuple[ItemDue, TripDue]], dives: int
) -> dict[str, object]:
    def said(rows: list[tuple[ItemDue, TripDue]]) -> list[dict[str, object]]:
        return [
            {
                "item": i.item.name,
                "part": t.due.part or None,
                "task": t.due.rule.task.value,
                "due_on": t.on.isoformat(),
            }
            for i, t in rows
        ]

    return {
        "intent": "plan_trip",
        "trip": {**intent.fields(), "dives": dives},
        "before": said(before),
        "during": said(during),
    }
