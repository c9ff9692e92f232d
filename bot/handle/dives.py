"""Logs dives, puts entries right, takes them out, and shows the log."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from bot.handle import find
from bot.handle.care import move_newest, record_care
from bot.handle.logged import after, said, said_together
from bot.handle.room import too_many_dives
from bot.handle.visit import Visit
from bot.handle.wording import count, day
from bot.replies import Reply
from bot.understand.intents import LogDive, ShowDue, ShowKit, Undo
from bot.understand.reader import Offer
from store import dives, lockers
from store.catalogue import CATALOGUE
from store.people import Role
from store.tables import Dive, Item
from store.vocabulary import ItemKind

_EITHER_OR = (
    frozenset({ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.REBREATHER}),
    frozenset({ItemKind.DRY_SUIT, ItemKind.WETSUIT}),
)
"""A dive is done with one of each group: naming one means the others stayed ashore."""
_SHOWN = 10
_SAME_DEPTH_M = 0.6


def log_dive(intent: LogDive, visit: Visit) -> Reply:
    """Log an entry, or correct the last one, and say what follows from it."""
    if intent.corrects:
        return _correct(intent, visit)
    if full := too_many_dives(sum(one.dives or 1 for one in (intent, *intent.also)), visit, "log_dive"):
        return full
    if intent.also:
        return _several([intent.model_copy(update={"also": ()}), *intent.also], visit)
    return _log(intent, visit)


def _several(told: Sequence[LogDive], visit: Visit) -> Reply:
    """Log entries told in one breath, the earliest first; what follows is said once, after the last."""
    ordered = sorted(told, key=lambda i: i.on or visit.today)
    replies = [log_dive(one, visit) for one in ordered]
    last = replies[-1]
    firsts = tuple(r.first.partition(". ")[0] + "." for r in replies[:-1])
    return replace(
        last,
        lines=(*firsts, *last.lines),
        offers=(Offer("Show my dives", ShowKit(dives=True)), Offer("Undo", Undo())),
    )


def _told_along(intent: LogDive, visit: Visit) -> list[Reply]:
    """Record what befell the kit on the dive and what was done to it after, as far as it was told in the same breath."""
    return [
        record_care(one.model_copy(update={"on": one.on or intent.on, "also": ()}), visit)
        for act in intent.happened
        for one in (act, *act.also)
    ]


def _with(told: Sequence[Reply], reply: Reply) -> Reply:
    """Say what was told along before what the dive makes due; a question, as of which of two torches, goes first."""
    asked = next((r for r in told if r.offers and not {"item", "done"} & r.data.keys()), None)
    first = replace(asked, lines=(*asked.lines, reply.first)) if asked else reply
    rest = tuple(line for r in told if r is not asked for line in (r.first, *r.lines))
    cautions = tuple(dict.fromkeys((*(c for r in told for c in r.cautions), *reply.cautions)))
    own = first.lines if asked else ()
    return replace(first, lines=(*own, *rest, *reply.lines), cautions=cautions)


def _log(intent: LogDive, visit: Visit) -> Reply:
    if intent.like_last:
        intent = _like_last(intent, visit)
    kit = visit.kit()
    used = _used(intent, kit, visit)
    entries = [_add(one, used, visit) for one in _one_by_one(intent)]
    told = _told_along(intent, visit)
    reply = after(entries, used, visit, "Logged", _strangers(intent, kit))
    return _with(told, reply) if told else reply


def _one_by_one(intent: LogDive) -> list[LogDive]:
    """Return an entry for each dive that was told its own figures, alike neighbours together; one for all where none was."""
    rows = [(one, len(list(alike))) for one, alike in groupby(intent.each)]
    return [
        intent.model_copy(update={"dives": dived, **one.model_dump(exclude_none=True)}) for one, dived in rows
    ] or [intent]


def _add(intent: LogDive, used: Sequence[Item], visit: Visit) -> Dive:
    return dives.add(
        visit.session,
        Dive(
            locker_id=visit.locker_id,
            on=intent.on or visit.today,
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


def _like_last(intent: LogDive, visit: Visit) -> LogDive:
    """Return an entry with what was not said taken from the one before it."""
    last = dives.latest(visit.session, visit.locker_id, visit.own)
    if last is None:
        return intent
    names = ("water", "max_depth_m", "duration_min", "min_temp_c", "o2_fraction")
    taken = {name: getattr(last, name) for name in names if getattr(intent, name) is None}
    return intent.model_copy(
        update={**taken, "dives": last.dives if intent.dives in {None, 1} else intent.dives}
    )


def _correct(intent: LogDive, visit: Visit) -> Reply:
    """Put an entry right, or take it out: the one of a button, of a day that was named, or the last one."""
    found = _meant(intent, visit)
    if not (intent.dive_id or intent.was_on or intent.removes):
        told_at = found[0].logged_at if found else None
        if moved := move_newest(intent, told_at, visit):
            return moved
    if not found:
        return _no_such_dive(intent, visit)
    if visit.role is Role.MEMBER and any(d.logged_by != visit.actor for d in found):
        return Reply(
            f"That dive was logged by {visit.name_of(found[0].logged_by)}: they, or the owner, can change it.",
            data={"intent": "log_dive"},
        )
    return _change_meant(_pointed(found, intent), intent, visit)


def _change_meant(meant: Sequence[Dive], intent: LogDive, visit: Visit) -> Reply:
    if not meant:
        kept = "took nothing out" if intent.removes else "changed nothing"
        return replace(
            show_dives(visit), first=f"I found no entry of just that dive, so I {kept}. Which one is it?"
        )
    if intent.removes:
        return _remove(meant, intent, visit) if _is_one(meant, intent) else _which(meant, intent, visit)
    of_several = len({d.logged_at for d in meant}) > 1
    return _which(meant, intent, visit) if of_several else _put_right(meant, intent, visit)


def _is_one(meant: Sequence[Dive], intent: LogDive) -> bool:
    """Tell whether what shall go is one entry, or all that one message told where no single one was named."""
    return len(meant) == 1 or intent.which == "all" or (intent.was_on is None and not intent.which)


def _which(found: Sequence[Dive], intent: LogDive, visit: Visit) -> Reply:
    of_one = [intent.model_copy(update={"dive_id": d.id, "was_on": None}) for d in found[:8]]
    offers = tuple(Offer(said(d, visit)[:60], one) for d, one in zip(found, of_one, strict=False))
    return Reply("Which of that day?", offers=offers, data={"intent": "log_dive"})


def _pointed(found: Sequence[Dive], intent: LogDive) -> list[Dive]:
    """Return which of some entries are meant, by number, depth or how deep they were told; all of them if none is named."""
    by_depth = sorted((d for d in found if d.max_depth_m is not None), key=lambda d: d.max_depth_m or 0.0)
    deep = intent.max_depth_m if intent.removes else intent.was_depth_m
    if intent.dive_id:
        return list(found)
    if deep is not None:
        near = [d for d in by_depth if abs((d.max_depth_m or 0.0) - deep) < _SAME_DEPTH_M]
        return near[:1] if near or intent.removes else list(found)
    if intent.which in {"deepest", "shallowest"}:
        return [by_depth[-1 if intent.which == "deepest" else 0]] if by_depth else []
    if intent.which == "last":
        return list(found[-1:])
    if intent.which and intent.which.isdecimal():
        one_each = [d for d in found for _ in range(d.dives)]
        return one_each[int(intent.which) - 1 : int(intent.which)]
    return list(found)


_OF_ALL = ("on", "water", "min_temp_c", "o2_fraction")
_OF_ONE = ("dives", "max_depth_m", "duration_min")


def _put_right(entries: Sequence[Dive], intent: LogDive, visit: Visit) -> Reply:
    """Change entries that one message told: a depth, a time or a count is that of the one nearest to it, the rest of all."""
    kit = visit.kit()
    for dive in entries:
        _change(dive, intent, _OF_ALL)
        if intent.conditions:
            dive.conditions = [c.value for c in intent.conditions]
        if intent.item_ids is not None:
            mine = {lockers.number(i.id) for i in kit}
            dives.set_items(visit.session, dive, [i for i in intent.item_ids if i in mine])
        elif intent.items or intent.without:
            dives.set_items(visit.session, dive, [lockers.number(i.id) for i in _used(intent, kit, visit)])
    if intent.dives is not None and len(entries) > 1:
        return _counted_anew(entries, intent.dives, visit)
    _change(_nearest(entries, intent), intent, _OF_ONE)
    return _corrected(entries, visit)


def _corrected(entries: Sequence[Dive], visit: Visit) -> Reply:
    visit.session.flush()
    on_them = {i for d in entries for i in dives.items_of(visit.session, lockers.number(d.id))}
    return after(entries, [i for i in visit.kit() if i.id in on_them], visit, "Corrected")


def _change(dive: Dive, intent: LogDive, names: Sequence[str]) -> None:
    for name in names:
        value = getattr(intent, name)
        if value is not None:
            setattr(dive, name, value)


def _nearest(entries: Sequence[Dive], intent: LogDive) -> Dive:
    """Return the entry whose depth, else whose time, is nearest to what is true of it; the last one where neither is told."""
    for name in ("max_depth_m", "duration_min"):
        true = getattr(intent, name)
        told = [d for d in entries if getattr(d, name) is not None]
        if true is not None and told:
            return min(told, key=lambda d: abs(getattr(d, name) - true))
    return entries[-1]


def _counted_anew(entries: Sequence[Dive], wanted: int, visit: Visit) -> Reply:
    """Log what is missing of a number of dives as one more entry like the last; where some are too many, ask which."""
    there = sum(d.dives for d in entries)
    if wanted < there:
        return replace(
            _which(entries, LogDive(corrects=True, removes=True), visit),
            first=f"{count(there, 'dive')} are logged of it. Which of them was not dived?",
        )
    if wanted == there:
        return _corrected(entries, visit)
    last = entries[-1]
    own = {"id", "max_depth_m", "duration_min", "dives"}
    more = Dive(**last.model_dump(exclude=own), dives=wanted - there)
    dives.add(visit.session, more, dives.items_of(visit.session, lockers.number(last.id)))
    return _corrected([*entries, more], visit)


def _meant(intent: LogDive, visit: Visit) -> list[Dive]:
    """Return the entries that a correction may mean: that of a button, those of a day, or those that the last message told."""
    if intent.dive_id:
        ids = (intent.dive_id, *intent.alike_ids)
        return [d for i in ids if (d := dives.get(visit.session, visit.locker_id, i))]
    if intent.was_on:
        return dives.on_day(visit.session, visit.locker_id, intent.was_on)
    last = dives.latest(visit.session, visit.locker_id, visit.own)
    return dives.told_with(visit.session, last) if last else []


def _no_such_dive(intent: LogDive, visit: Visit) -> Reply:
    if dives.latest(visit.session, visit.locker_id, visit.own) is None:
        return Reply(
            "No dive is logged yet, so there is nothing to correct.",
            ("Log one like: 2 dives today, salt, 30 m",),
            data={"intent": "log_dive"},
        )
    when = f"on {day(intent.was_on, visit.today)}" if intent.was_on else "by that number"
    anew = intent.model_copy(update={"corrects": False, "was_on": None, "on": intent.on or intent.was_on})
    log_it = (Offer("Log it", anew),) if intent.was_on and not intent.removes else ()
    return Reply(
        f"No dive is logged {when}, so I changed nothing.",
        offers=(*log_it, Offer("Show my dives", ShowKit(dives=True))),
        data={"intent": "log_dive"},
    )


def _remove(entries: Sequence[Dive], intent: LogDive, visit: Visit) -> Reply:
    gone = said_together(entries, visit)
    numbered = bool(intent.which and intent.which != "all") or intent.max_depth_m is not None
    if numbered and len(entries) == 1 and entries[0].dives > 1:
        gone = f"1 of {gone}"
        entries[0].dives -= 1
        visit.session.flush()
    else:
        for dive in entries:
            dives.remove(visit.session, dive)
    total = dives.count(visit.session, visit.locker_id)
    return Reply(
        f"Out of the log: {gone}. {count(total, 'dive')} in all.",
        ("What is due was worked out anew.",),
        offers=(Offer("What is due", ShowDue()), Offer("Undo", Undo())),
        data={"intent": "log_dive", "removed": True, "total": total},
    )


def show_dives(visit: Visit) -> Reply:
    """Show the newest entries of the log, each with a button that takes it out."""
    newest = dives.recent(visit.session, visit.locker_id, _SHOWN)
    total = dives.count(visit.session, visit.locker_id)
    lines = tuple(f"- {said(d, visit)}{visit.by(d.logged_by)}" for d in newest)
    offers = [
        Offer(
            f"Remove {day(d.on, visit.today)}: {count(d.dives, 'dive')}",
            LogDive(corrects=True, removes=True, dive_id=d.id),
        )
        for d in newest[:6]
    ]
    more = (f"The newest {len(newest)}.",) if total > sum(d.dives for d in newest) else ()
    return Reply(
        f"{count(total, 'dive')} logged.",
        (*lines, *more) or ("Log one like: 2 dives today, salt, 30 m",),
        offers=tuple(offers),
        data={"intent": "show_kit", "dives": total, "log": [d.on.isoformat() for d in newest]},
    )


def _used(intent: LogDive, kit: Sequence[Item], visit: Visit) -> list[Item]:
    """Tell which items were dived: those of the last entry, or all that gets wet, put right by what was named."""
    wet = [i for i in kit if CATALOGUE[i.kind].wet]
    last = dives.latest(visit.session, visit.locker_id, visit.own)
    before = set(dives.items_of(visit.session, lockers.number(last.id))) if last else set()
    usual = [i for i in wet if i.id in before] or (
        [] if visit.shared else wet
    )  # a club's kit is not all on one back
    named = [i for mention in intent.items for i in find.by_mention(wet, mention)]
    stayed = [i for mention in intent.without for i in find.by_mention(wet, mention)]
    usual = [i for i in usual if i not in stayed]
    if not named:
        return usual
    if intent.only or visit.shared:  # a club's kit: what was named and nothing else
        return [i for i in wet if i in named and i not in stayed]
    kinds = {ItemKind(i.kind) for i in named}
    ashore = {k for group in _EITHER_OR if group & kinds for k in group - kinds}
    kept = [i for i in usual if i.kind not in ashore and (i.kind not in kinds or i in named)]
    return [i for i in wet if i in kept or i in named]


def _strangers(intent: LogDive, kit: Sequence[Item]) -> list[str]:
    """Return what was named as dived but is not in the kit."""
    return [mention for mention in intent.items if not find.by_mention(kit, mention)]
