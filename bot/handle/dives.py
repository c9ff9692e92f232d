"""Logs dives, puts the last entry right, and says what the dive makes due now and what comes next."""

from collections.abc import Sequence
from datetime import date

from bot.handle import find
from bot.handle.care import move_newest
from bot.handle.visit import Visit
from bot.handle.wording import Job, act, by_whom, count, day, depth, job_lines, listed, part_name, temperature
from bot.replies import Reply
from bot.understand.intents import AddItem, LogDive, Undo
from bot.understand.reader import Offer
from scheduler.care import order
from scheduler.due import Due
from scheduler.forecast import dives_a_day, expected_on
from scheduler.plan import ItemDue
from store import dives, lockers
from store.catalogue import CATALOGUE
from store.tables import Dive, Item
from store.vocabulary import ItemKind

_EITHER_OR = (
    frozenset({ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.REBREATHER}),
    frozenset({ItemKind.DRY_SUIT, ItemKind.WETSUIT}),
)
"""A dive is done with one of each group: naming one means the others stayed ashore."""
_NEXT = 3


def log_dive(intent: LogDive, visit: Visit) -> Reply:
    """Log an entry, or correct the last one, and say what follows from it."""
    if intent.corrects:
        return _correct(intent, visit)
    kit = visit.kit()
    on = intent.on or visit.today
    used = _used(intent, kit, visit)
    dive = dives.add(
        visit.session,
        Dive(
            locker_id=visit.locker_id,
            on=on,
            dives=intent.dives or 1,
            water=intent.water,
            max_depth_m=intent.max_depth_m,
            duration_min=intent.duration_min,
            min_temp_c=intent.min_temp_c,
            o2_fraction=intent.o2_fraction,
            conditions=[c.value for c in intent.conditions],
            logged_at=visit.now,
            logged_by=visit.actor,
        ),
        [lockers.number(i.id) for i in used],
    )
    return _after(dive, used, visit, "Logged", _strangers(intent, kit))


def _correct(intent: LogDive, visit: Visit) -> Reply:
    dive = (
        dives.get(visit.session, visit.locker_id, intent.dive_id)
        if intent.dive_id
        else dives.latest(visit.session, visit.locker_id)
    )
    if not intent.dive_id and (moved := move_newest(intent, dive.logged_at if dive else None, visit)):
        return moved
    if dive is None:
        return Reply(
            "No dive is logged yet, so there is nothing to correct.",
            ("Log one like: 2 dives today, salt, 30 m",),
        )
    for name in ("dives", "on", "water", "max_depth_m", "duration_min", "min_temp_c", "o2_fraction"):
        value = getattr(intent, name)
        if value is not None:
            setattr(dive, name, value)
    if intent.conditions:
        dive.conditions = [c.value for c in intent.conditions]
    kit = visit.kit()
    dive_id = lockers.number(dive.id)
    if intent.item_ids is not None:
        mine = {lockers.number(i.id) for i in kit}
        dives.set_items(visit.session, dive, [i for i in intent.item_ids if i in mine])
    elif intent.items or intent.without:
        dives.set_items(visit.session, dive, [lockers.number(i.id) for i in _used(intent, kit, visit)])
    visit.session.add(dive)
    visit.session.flush()
    on_it = set(dives.items_of(visit.session, dive_id))
    return _after(dive, [i for i in kit if i.id in on_it], visit, "Corrected")


def _used(intent: LogDive, kit: Sequence[Item], visit: Visit) -> list[Item]:
    """Tell which items were dived: those of the last entry, or all that gets wet, put right by what was named."""
    wet = [i for i in kit if CATALOGUE[i.kind].wet]
    last = dives.latest(visit.session, visit.locker_id)
    before = set(dives.items_of(visit.session, lockers.number(last.id))) if last else set()
    usual = [i for i in wet if i.id in before] or wet
    named = [i for mention in intent.items for i in find.by_mention(wet, mention)]
    stayed = [i for mention in intent.without for i in find.by_mention(wet, mention)]
    usual = [i for i in usual if i not in stayed]
    if not named:
        return usual
    kinds = {ItemKind(i.kind) for i in named}
    ashore = {k for group in _EITHER_OR if group & kinds for k in group - kinds}
    kept = [i for i in usual if i.kind not in ashore and (i.kind not in kinds or i in named)]
    return [i for i in wet if i in kept or i in named]


def _strangers(intent: LogDive, kit: Sequence[Item]) -> list[str]:
    """Return what was named as dived but is not in the kit."""
    return [mention for mention in intent.items if not find.by_mention(kit, mention)]


def _after(dive: Dive, used: Sequence[Item], visit: Visit, verb: str, strangers: Sequence[str] = ()) -> Reply:
    total = dives.count(visit.session, visit.locker_id)
    first = f"{verb}: {_said(dive, visit)}. {count(total, 'dive')} in all."
    if not visit.kit():
        return Reply(
            first,
            (
                "Your kit is still empty, so nothing can fall due. Add it like: add dry suit, plastic zip, latex seals",
            ),
            offers=(Offer("Add kit", AddItem()), Offer("Undo", Undo())),
            data=_data(dive, total, ()),
        )
    visit.session.flush()
    mine = {i.id for i in used}
    standing = [d for d in visit.standing() if d.item.id in mine]
    now = _due_now(standing, visit.today)
    coming = _coming(standing, visit)
    lines = (
        [f"Counted for: {listed([i.name for i in used])}."] if used else ["Counted for no item of your kit."]
    )
    if strangers:
        lines.append(f"Not in your kit, so not counted: {listed(strangers)}. Say: add {strangers[0]}")
    if now:
        lines += ["Now:", *(f"- {line}" for line in job_lines(now))]
    if coming:
        lines += ["Next:", *(f"- {line}" for line in coming)]
    cautions = tuple(
        f"Not for the next dive: {j.item.name}. {act(j.rule)}{by_whom(j.rule)}, overdue."
        for j in now
        if j.rule.critical and not j.rule.every.each_dive and not j.rule.every.after
    )
    return Reply(
        first,
        tuple(lines),
        cautions,
        (*_kit_offers(dive, used, visit), Offer("Undo", Undo())),
        _data(dive, total, now),
    )


def _due_now(standing: Sequence[ItemDue], today: date) -> list[Job]:
    found = [
        Job(d.item, due.part, due.rule, due.due_on, _trigger(due), d.manual(due.part))
        for d in standing
        for due in d.dues
        if due.due_on is not None and due.due_on <= today
    ]
    return sorted(
        found,
        key=lambda j: (
            not j.rule.critical,
            not j.rule.every.after,
            order(j.rule),
        ),
    )


def _trigger(due: Due) -> str:
    if due.cause in {"dived", ""}:
        return ""
    if due.cause == "time":
        return "its time has come"
    return f"after {due.cause.replace('_', ' ')}"


def _coming(standing: Sequence[ItemDue], visit: Visit) -> list[str]:
    """Say the few things that come next, nearest first, with the likeliest day for what is counted in dives."""
    log = dives.log(visit.session, visit.locker_id)
    since = min((on for on, _ in log), default=visit.today)
    rate = dives_a_day(log, since, visit.today)
    found: list[tuple[date, str]] = []
    for d in standing:
        for due in d.dues:
            if due.due_on is not None and due.due_on <= visit.today:
                continue
            by_dives = expected_on(due.dives_left, rate, visit.today) if due.dives_left else None
            on = min((x for x in (by_dives, due.calendar_on) if x is not None), default=None)
            if on is None:
                continue
            name = part_name(d.item, due.part) or d.item.name
            how = (
                f"in {count(due.dives_left, 'dive')}, about {day(on, visit.today)}"
                if due.dives_left and on == by_dives
                else day(on, visit.today)
            )
            found.append((on, f"{act(due.rule)}{by_whom(due.rule)}: {name}, {how}"))
    return list(dict.fromkeys(line for _, line in sorted(found)))[:_NEXT]


def _said(dive: Dive, visit: Visit) -> str:
    bits = [count(dive.dives, "dive"), day(dive.on, visit.today)]
    bits += (
        [f"{dive.water} water" if dive.water in {"salt", "fresh", "brackish"} else str(dive.water)]
        if dive.water
        else []
    )
    bits += [depth(dive.max_depth_m, visit.imperial)] if dive.max_depth_m else []
    bits += [f"{dive.duration_min} min"] if dive.duration_min else []
    bits += [temperature(dive.min_temp_c, visit.imperial)] if dive.min_temp_c is not None else []
    bits += [f"{dive.o2_fraction:.0%} oxygen".replace("%", " %")] if dive.o2_fraction else []
    return ", ".join([*bits, *dive.conditions])


def _kit_offers(dive: Dive, used: Sequence[Item], visit: Visit) -> list[Offer]:
    """Offer to take an item off the entry or put one on it."""
    ids = tuple(lockers.number(i.id) for i in used)
    ashore = [i for i in visit.kit() if CATALOGUE[i.kind].wet and i not in used]
    dive_id = lockers.number(dive.id)
    offers = [
        Offer(
            f"Not {i.name}",
            LogDive(corrects=True, dive_id=dive_id, item_ids=tuple(x for x in ids if x != i.id)),
        )
        for i in used
    ]
    offers += [
        Offer(
            f"Also {i.name}", LogDive(corrects=True, dive_id=dive_id, item_ids=(*ids, lockers.number(i.id)))
        )
        for i in ashore
    ]
    return offers[:6]


def _data(dive: Dive, total: int, now: Sequence[Job]) -> dict[str, object]:
    return {
        "intent": "log_dive",
        "dives": dive.dives,
        "on": dive.on.isoformat(),
        "total": total,
        "due_now": [{"item": j.item.name, "part": j.part or None, "task": j.rule.task.value} for j in now],
    }
