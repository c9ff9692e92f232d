"""What follows from an entry of the dive log: what is due now, what comes next, what must not be dived as it is."""

from collections.abc import Sequence
from datetime import date

from bot.handle.visit import Visit
from bot.handle.wording import (
    Job,
    act,
    befell,
    by_whom,
    count,
    day,
    depth,
    job_lines,
    law_note,
    listed,
    part_name,
    temperature,
    trigger,
    when_comes,
)
from bot.replies import Reply
from bot.understand.intents import AddItem, LogDive, Undo
from bot.understand.reader import Offer
from scheduler.care import order
from scheduler.care_rule import By
from scheduler.due import Due
from scheduler.outlook import Coming, coming
from scheduler.policy import is_overdue
from scheduler.standing import ItemDue
from store import dives, lockers
from store.catalogue import CATALOGUE
from store.tables import Dive, Item

_NEXT = 3


def after(
    entries: Sequence[Dive], used: Sequence[Item], visit: Visit, verb: str, strangers: Sequence[str] = ()
) -> Reply:
    """Say that entries of one day were logged or changed, what they make due now and what comes next."""
    total = dives.count(visit.session, visit.locker_id)
    first = f"{verb}: {said_together(entries, visit)}. {count(total, 'dive')} in all."
    if not visit.kit():
        return Reply(
            first,
            (
                "Your kit is still empty, so nothing can fall due. Add it like: add dry suit, plastic zip, latex seals",
            ),
            offers=(Offer("Add kit", AddItem()), Offer("Undo", Undo())),
            data=_data(entries, total, ()),
        )
    visit.session.flush()
    mine = {i.id for i in used}
    standing = [d for d in visit.standing() if d.item.id in mine]
    now = _due_now(standing, visit.today)
    ahead = _coming(standing, visit)
    lines = (
        [f"Counted for: {listed([i.name for i in used])}."] if used else ["Counted for no item of your kit."]
    )
    if strangers:
        lines.append(f"Not in your kit, so not counted: {listed(strangers)}. Say: add {strangers[0]}")
    if now:
        lines += ["Now:", *(f"- {line}" for line in job_lines(now))]
    if ahead:
        lines += ["Next:", *(f"- {line}" for line in ahead)]
    lines += law_note(j.rule for j in now)
    cautions = tuple(dict.fromkeys(c for j in now if (c := _not_fit(j, visit.today))))
    return Reply(
        first,
        tuple(lines),
        cautions,
        (*_kit_offers(entries, used, visit), Offer("Undo", Undo())),
        _data(entries, total, now),
    )


def _not_fit(job: Job, today: date) -> str:
    """Say that an item dived today should not be dived or filled again as it is; "" where nothing speaks against it."""
    rule, on = job.rule, job.due_on
    if not rule.critical or rule.every.each_dive or on is None:
        return ""
    what = f"{job.item.name}. {act(rule)}{by_whom(rule)}"
    if rule.by_law:
        if job.befell:
            return f"Not for the next fill or dive: {what}, since it was {job.befell}."
        late = f"due by {day(on, today)}" if on >= today else f"overdue since {day(on, today)}"
        return f"{what}, {late}: {rule.overdue}. Check locally."
    if rule.every.after and rule.by is By.DIVER:  # a wash that this very dive asks for: the list says it
        return ""
    overdue = on < today and not rule.every.after
    return f"Not for the next dive: {what}, {'overdue' if overdue else 'due now'}."


def _since(due: Due, today: date) -> str:
    """Say what made it due, or since when it is overdue, and by whom it is done."""
    late = due.cause == "time" and due.due_on is not None and is_overdue(due.rule, due.due_on, today)
    said = f"OVERDUE since {day(due.due_on, today)}" if late and due.due_on else trigger(due)
    return f"{said}{by_whom(due.rule)}".strip()


def _due_now(standing: Sequence[ItemDue], today: date) -> list[Job]:
    found = [
        Job(d.item, due.part, due.rule, due.due_on, _since(due, today), d.manual(due.part), befell(due))
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


def _coming(standing: Sequence[ItemDue], visit: Visit) -> list[str]:
    """Say the few things that come next, nearest first, with the likeliest days for what is counted in dives."""
    lines = [
        f"{act(c.due.rule)}{by_whom(c.due.rule)}: {_on_what(c)}, {when_comes(c, visit.today)}"
        for c in coming(standing, visit.ahead(), visit.today)
    ]
    return list(dict.fromkeys(lines))[:_NEXT]


def _on_what(found: Coming) -> str:
    part = part_name(found.item, found.due.part)
    return f"{part} ({found.item.name})" if part else found.item.name


def said(dive: Dive, visit: Visit) -> str:
    """Say an entry of the log in one line."""
    return said_together([dive], visit)


def said_together(entries: Sequence[Dive], visit: Visit) -> str:
    """Say entries of one day in one line: how many, when, where, then the depth and time of each, then what is of all."""
    of = entries[-1]
    bits = [count(sum(d.dives for d in entries), "dive"), day(of.on, visit.today)]
    if of.water:
        bits.append(f"{of.water} water" if of.water in {"salt", "fresh", "brackish"} else str(of.water))
    times = {d.duration_min for d in entries}
    if len(entries) > 1 and len(times) > 1:
        bits += [" for ".join(f) for d in entries if (f := [*_depth(d, visit), *_time(d)])]
    else:
        bits += [depth for d in entries for depth in _depth(d, visit)] + _time(of)
    temps = [d.min_temp_c for d in entries if d.min_temp_c is not None]
    bits += [temperature(min(temps), visit.imperial)] if temps else []
    gases = dict.fromkeys(d.o2_fraction for d in entries if d.o2_fraction)
    bits += [f"{gas:.0%} oxygen".replace("%", " %") for gas in gases]
    return ", ".join([*bits, *dict.fromkeys(c for d in entries for c in d.conditions)])


def _depth(dive: Dive, visit: Visit) -> list[str]:
    return [depth(dive.max_depth_m, visit.imperial)] if dive.max_depth_m else []


def _time(dive: Dive) -> list[str]:
    return [f"{dive.duration_min} min"] if dive.duration_min else []


def _kit_offers(entries: Sequence[Dive], used: Sequence[Item], visit: Visit) -> list[Offer]:
    """Offer to take an item off the entries or put one on them."""
    ids = tuple(lockers.number(i.id) for i in used)
    ashore = [i for i in visit.kit() if CATALOGUE[i.kind].wet and i not in used]
    first, *more = (lockers.number(d.id) for d in entries)
    of = LogDive(corrects=True, dive_id=first, alike_ids=tuple(more))
    offers = [
        Offer(f"Not {i.name}", of.model_copy(update={"item_ids": tuple(x for x in ids if x != i.id)}))
        for i in used
    ]
    offers += [
        Offer(f"Also {i.name}", of.model_copy(update={"item_ids": (*ids, lockers.number(i.id))}))
        for i in ashore
    ]
    return offers[:6]


def _data(entries: Sequence[Dive], total: int, now: Sequence[Job]) -> dict[str, object]:
    return {
        "intent": "log_dive",
        "dives": sum(d.dives for d in entries),
        "on": entries[-1].on.isoformat(),
        "total": total,
        "due_now": [{"item": j.item.name, "part": j.part or None, "task": j.rule.task.value} for j in now],
    }
