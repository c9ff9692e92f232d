"""Records care that was done, and what the maker's manual says."""

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from bot.advice.compatibility import objections
from bot.advice.decide import decide
from bot.advice.rules import Rule
from bot.advice.substances import STUFF, Trait
from bot.advice.target import Target
from bot.advice.wording import contaminated_line
from bot.handle import find
from bot.handle.acts import note_act, note_mishap, taints
from bot.handle.cylinder_tests import record_test
from bot.handle.manual import conflict
from bot.handle.meant import item_meant, parts_meant
from bot.handle.notes import glue_notes
from bot.handle.visit import Visit
from bot.handle.wording import PAST, act, count, day, day_of, law_note, listed, part_name
from bot.replies import Reply
from bot.understand.intents import LogDive, RecordCare, ShowDue, Undo
from bot.understand.reader import Offer
from scheduler.care import rule_by_id
from scheduler.care_rule import CareRule
from scheduler.due import Due
from scheduler.standing import region_of
from store import care_log, items, lockers, tasks
from store.catalogue import CATALOGUE, ItemFacts
from store.tables import CareTask, Item
from store.vocabulary import Substance, Task

_DONE_TO_THE_WHOLE = frozenset({Task.RINSE, Task.DRY, Task.DISINFECT, Task.TEST})
"""Acts that the tables ask of whole items: a part that was named says only which item it is."""


def record_care(intent: RecordCare, visit: Visit) -> Reply:
    """Record acts of care, from a button or from words, and say when each comes round again."""
    if intent.also:
        return _several([intent.model_copy(update={"also": ()}), *intent.also], visit)
    if intent.task_ids:
        return _by_button(intent, visit)
    if intent.on is not None and intent.on > visit.today:
        return Reply(
            f"{day(intent.on, visit.today).capitalize()} lies ahead, so I noted nothing. Tell me once it is done.",
            data={"intent": "record_care", "done": 0},
        )
    if intent.everything:
        return _on_everything(intent, visit)
    if len(each := _each_of(intent, visit)) > 1:
        return _several([intent.model_copy(update={"item_id": i.id, "item": None}) for i in each], visit)
    found = item_meant(intent, visit)
    return found if isinstance(found, Reply) else _on_item(intent, found, visit)


_MANY = re.compile(r"(?:^|\b)(?:both|all|every|each)\b|(?<!s)s$", re.IGNORECASE)


_SO_MANY = re.compile(r"([2-9]|1\d) ")


def _each_of(intent: RecordCare, visit: Visit) -> list[Item]:
    """Return the items that a plural means: "rinsed the strobes" speaks of all of them."""
    if intent.item is None or intent.item_id is not None or not _MANY.search(intent.item.strip()):
        return []
    if any(i.name == intent.item for i in visit.kit()):
        return []
    found = find.by_mention(visit.kit(), intent.item)
    told = _SO_MANY.match(intent.item)
    return [] if told and int(told[1]) < len(found) else found


def _on_item(intent: RecordCare, item: Item, visit: Visit) -> Reply:
    if intent.happened is not None:
        return note_mishap(intent.happened, item, intent.on or visit.today, visit)
    if intent.test is not None and CATALOGUE[item.kind].tested:
        return record_test(intent, item, visit)
    task = intent.task or Task.CLEAN
    whole = task in _DONE_TO_THE_WHOLE
    parts: list[str | None] = [None] if whole else [*parts_meant(intent, item)] or [None]
    on = intent.on or visit.today
    for part in parts:
        note_act(
            visit,
            item,
            part,
            task,
            substance=intent.substance,
            on=on,
            by_technician=intent.by_technician,
            month_only=intent.month_only,
            made_on=intent.made_on,
        )
    what = listed([part_name(item, p or "") for p in parts]) if parts != [None] else ""
    first = (
        f"Noted: {what + ' of ' if what else ''}{item.name} {PAST[task]} {day_of(on, visit.today, month_only=intent.month_only)}"
        + (f", with {STUFF[intent.substance].name}." if intent.substance else ".")
    )
    warned = [line for part in parts if intent.substance for line in _warnings(item, part, intent.substance)]
    lines = [] if warned else _comes_round(visit, item, parts, task)
    if task is Task.REPLACE:
        lines = [*glue_notes(item, {p for p in parts if p}, visit), *lines]
    data = {
        "intent": "record_care",
        "item": item.name,
        "parts": [p for p in parts if p],
        "task": task.value,
        "on": on.isoformat(),
    }
    more, offers = _still_tainted(item, task, intent, visit)
    return Reply(
        warned[0] if warned else first,
        (*([first] if warned else []), *lines),
        (*warned[1:], *_unnamed(item, parts, intent), *more),
        (*offers, Offer("Undo", Undo())),
        data,
    )


def _unnamed(item: Item, parts: Sequence[str | None], intent: RecordCare) -> tuple[str, ...]:
    """Warn where something unsaid went on a part in breathing gas."""
    if intent.task is not Task.LUBRICATE or intent.substance is not None:
        return ()
    in_gas = any(p.gas for p in CATALOGUE[item.kind].parts if None in parts or p.key in parts)
    told = f"In breathing gas only oxygen-compatible PFPE. If it was anything else, say: I put silicone grease on the {item.name}"
    return (told,) if in_gas else ()


def _still_tainted(
    item: Item, task: Task, intent: RecordCare, visit: Visit
) -> tuple[tuple[str, ...], tuple[Offer, ...]]:
    """Say what clears an item that was cleaned but not by a technician, as far as was told, with a button for it."""
    if (
        intent.by_technician
        or task not in {Task.CLEAN, Task.INSPECT, Task.SERVICE}
        or not visit.contaminated(item)
    ):
        return (), ()
    by_technician = intent.model_copy(
        update={"by_technician": True, "item_id": item.id, "task": task, "also": ()}
    )
    return (
        (f"{item.name} stays out of oxygen service until a technician has cleaned and inspected it.",),
        (Offer("A technician did it", by_technician),),
    )


def move_newest(intent: LogDive, since: datetime | None, visit: Visit) -> Reply | None:
    """Put the day of the care told last right, if it was told after `since` and only a day is corrected; else None."""
    other = (intent.dives, intent.water, intent.max_depth_m, intent.duration_min, intent.min_temp_c)
    acts = care_log.newest(visit.session, visit.locker_id, visit.own)
    if intent.on is None or any(x is not None for x in other) or intent.conditions or not acts:
        return None
    if since is not None and acts[0].logged_at <= since:
        return None
    for done in acts:
        done.on = intent.on
        visit.session.add(done)
    item = visit.item(acts[0].item_id)
    name = item.name if item else ""
    what = listed([part_name(item, p) for a in acts if (p := a.part)]) if item and acts[0].part else name
    return Reply(
        f"Corrected: {what} {PAST[Task(acts[0].task)]} {day(intent.on, visit.today)}.",
        offers=(Offer("Undo", Undo()),),
        data={"intent": "record_care", "on": intent.on.isoformat()},
    )


_MANY_ACTS = 4
"""From so many acts on, only the first is told with when it comes round again."""


def _several(acts: Sequence[RecordCare], visit: Visit) -> Reply:
    """Record acts told in one breath; the first that needs a question asks it after the others are stored."""
    replies = [record_care(act, visit) for act in acts]
    asked = next((r for r in replies if r.data.get("item") is None and r.offers), None)
    first = asked or replies[0]
    more = (r for r in replies if r is not first)
    rest = dict.fromkeys(
        line for r in more for line in ((r.first, *r.lines) if len(replies) < _MANY_ACTS else (r.first,))
    )
    return replace(first, lines=(*first.lines, *rest), cautions=tuple(c for r in replies for c in r.cautions))


def _all_that_ask(intent: RecordCare, task: Task, visit: Visit) -> list[Item]:
    """Return the items meant, without those left out: the cylinders for a test, else those that ask for the act as a whole."""
    kit = visit.kit()
    meant = {i.id for i in (find.all_by_mention(kit, intent.item) if intent.item else kit)}
    meant -= {i.id for name in intent.but for i in find.by_mention(kit, name)}
    standing = [i for i in visit.standing() if i.item.id in meant]
    if intent.test:
        return [i.item for i in standing if CATALOGUE[i.item.kind].tested]
    return [i.item for i in standing if any(d.rule.task == task and not d.part for d in i.dues)]


def _on_everything(intent: RecordCare, visit: Visit) -> Reply:
    """Record an act on every item that asks for it as a whole."""
    task = intent.task or Task.RINSE
    wanted = _all_that_ask(intent, task, visit)
    if not wanted:
        return Reply(
            f"Nothing in your kit is {PAST[task]} as a whole, so I noted nothing.",
            ("Say which part: greased the manifold rings.",),
            data={"intent": "record_care", "done": 0},
        )
    on = intent.on or visit.today
    for item in wanted:
        note_act(
            visit,
            item,
            None,
            task,
            substance=intent.substance,
            on=on,
            by_technician=intent.by_technician,
            month_only=intent.month_only,
            test=intent.test if CATALOGUE[item.kind].tested else None,
        )
    return Reply(
        f"Noted: {listed([i.name for i in wanted])} {PAST[task]} {day_of(on, visit.today, month_only=intent.month_only)}.",
        law_note(
            d.rule for i in visit.standing() if i.item in wanted for d in i.dues if d.rule.test is intent.test
        )
        if intent.test
        else (),
        offers=(Offer("Undo", Undo()),),
        data={"intent": "record_care", "task": task.value, "done": len(wanted)},
    )


def _by_button(intent: RecordCare, visit: Visit) -> Reply:
    """Record each task of a list as done today."""
    rows = [
        t
        for i in intent.task_ids
        if (t := tasks.get(visit.session, visit.locker_id, i)) is not None and t.due_on is not None
    ]
    if not rows:
        return Reply(
            "That was recorded already, or is no longer in your kit.",
            data={"intent": "record_care", "done": 0},
        )
    kept = [] if intent.by_technician else [t for t in rows if _rule_of(t, visit).only_by_technician]
    confirm = tuple(
        Offer(
            "A technician did it",
            RecordCare(task_ids=tuple(lockers.number(t.id) for t in kept), by_technician=True),
        )
        for _ in kept[:1]
    )
    if len(kept) == len(rows):
        named = listed([i.name for t in kept if (i := visit.item(t.item_id))])
        return Reply(
            f"Did a technician clean and inspect it: {named}?",
            ("Only that puts it back into oxygen service. I noted nothing yet.",),
            offers=confirm,
            data={"intent": "record_care", "done": 0},
        )
    for row in rows:
        item = visit.item(row.item_id)
        if item is not None and row not in kept:
            note_act(
                visit,
                item,
                row.part or None,
                Task(row.task),
                on=visit.today,
                by_technician=intent.by_technician,
                test=_rule_of(row, visit).test,
            )
    visit.session.flush()
    left = [t for t in visit.fresh_tasks() if t.due_on is not None and t.due_on <= visit.today]
    first = (
        f"Noted: {_named(rows[0], visit)}."
        if len(rows) == 1
        else f"Noted: {count(len(rows) - len(kept), 'thing')} done today."
    )
    rest = f"{count(len(left), 'thing')} still due." if left else "Nothing else is due."
    cautions = (
        ("Out of oxygen service stays, until a technician has cleaned and inspected it.",) if kept else ()
    )
    offers = (*confirm, *((Offer("What is left", ShowDue()),) if left else ()), Offer("Undo", Undo()))
    return Reply(
        first, (rest,), cautions, offers, {"intent": "record_care", "done": len(rows), "left": len(left)}
    )


def _named(row: CareTask, visit: Visit) -> str:
    item = visit.item(row.item_id)
    if item is None:
        return "done"
    return f"{act(_rule_of(row, visit))}, {part_name(item, row.part) or item.name}: done today"


def _rule_of(row: CareTask, visit: Visit) -> CareRule:
    item = visit.item(row.item_id)
    facts = items.facts_of(item) if item else ItemFacts()
    region = facts.region or region_of(lockers.locker(visit.session, visit.locker_id))
    return rule_by_id(row.rule, region, facts)


def _warnings(item: Item, part: str | None, substance: Substance) -> list[str]:
    """Say what is wrong with that substance on that part or item, gravest first; nothing where it suits."""
    if part is None:
        if not taints(item, None, substance):
            return []
        return [
            f"Out of oxygen service now: {item.name}. Do not fill it, do not dive it.",
            conflict(item, None, (substance,), of_gas=True),
            "A technician cleans and inspects it; only that clears it.",
        ]
    row = CATALOGUE[item.kind].part(part)
    facts = row.facts(items.facts_of(item))
    against = objections(substance, facts)
    if not against or Trait.CLEANS in STUFF[substance].traits:
        return []
    rule = decide(facts)
    if not isinstance(rule, Rule):
        return [against[0].why]
    _, short, lines, _ = contaminated_line(substance, Target(row.name, facts), rule, row.name, against)
    return [short, *lines]


def _comes_round(visit: Visit, item: Item, parts: Sequence[str | None], task: Task) -> list[str]:
    """Say when the same act is next due, and what else on this item is due now."""
    visit.session.flush()
    standing = next(i for i in visit.standing() if i.item.id == item.id)
    same = [
        d
        for d in standing.dues
        if d.rule.task == task
        and d.done_on is not None
        and (parts == [None] or d.part in parts or not d.part)
    ]
    lines = [f"Next: {line}." for d in same[:3] if (line := _again(d, item, visit))]
    now = [d for d in standing.dues if d.due_on is not None and d.due_on <= visit.today]
    if now:
        lines.append(
            "Still due on it: "
            + ", ".join(
                dict.fromkeys(f"{act(d.rule).lower()} {part_name(item, d.part)}".strip() for d in now[:4])
            )
            + "."
        )
    return list(dict.fromkeys(lines))


def _again(due: Due, item: Item, visit: Visit) -> str:
    name = part_name(item, due.part)
    if due.due_on is not None and due.due_on < visit.today and due.calendar_on == due.due_on:
        return f"{name + ' ' if name else ''}OVERDUE since {day(due.due_on, visit.today)}"
    when = []
    if due.dives_left:
        when.append(f"in {count(due.dives_left, 'dive')}")
    if due.calendar_on:
        when.append(f"by {day(due.calendar_on, visit.today)}")
    if due.rule.every.each_dive:
        when.append("after the next dive day")
    return f"{name + ' ' if name else ''}{' or '.join(when)}" if when else ""
