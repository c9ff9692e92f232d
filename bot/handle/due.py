"""What is due, why, and not now."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from bot.advice.question import PartRef
from bot.handle import find
from bot.handle.board import show_board
from bot.handle.visit import HOW_FAR_DAYS, Visit
from bot.handle.why import counted_from, why_due
from bot.handle.wording import (
    CHECK_LOCALLY,
    Job,
    act,
    by_whom,
    count,
    day,
    job_lines,
    law_note,
    listed,
    part_name,
    when_comes,
)
from bot.replies import Reply
from bot.understand.intents import AddItem, RecordCare, ShowDue, Snooze
from bot.understand.reader import Offer
from scheduler.care import order, rule_by_id
from scheduler.care_rule import CareRule
from scheduler.due import Due
from scheduler.outlook import Coming, coming
from scheduler.policy import is_overdue
from scheduler.standing import ItemDue, region_of
from store import care_log, items, lockers, tasks
from store.catalogue import CATALOGUE
from store.tables import CareTask, Item
from store.vocabulary import Task

_MOST_IDS = 200
_MOST_WHYS = 12


def show_due(intent: ShowDue, visit: Visit) -> Reply:
    """List what is due, gravest first; or, with `why`, the trigger, the count and the source of each."""
    if intent.board:
        return show_board(intent, visit)
    if intent.why:
        return _why(intent, visit)
    if intent.task_ids:
        return _pick(intent, visit)
    kit = visit.kit()
    if not kit:
        return Reply(
            "Nothing can be due: your kit is still empty.",
            ("Add it like: add dry suit, plastic zip, latex seals",),
            offers=(Offer("Add kit", AddItem()),),
            data={"intent": "show_due", "due": []},
        )
    wanted = {i.id for i in (find.by_mention(kit, intent.item) if intent.item else kit)} or {
        i.id for i in kit
    }
    if intent.task is not None and (told := _when_next(intent.task, wanted, visit)):
        return told
    until = intent.until or visit.today + timedelta(days=HOW_FAR_DAYS)
    paced = [c for c in _at_this_pace(visit, wanted) if c.on <= until]
    sooner = {(c.item.id, c.due.part, c.due.rule.id) for c in paced}
    rows = [
        t
        for t in visit.fresh_tasks()
        if t.item_id in wanted
        and t.due_on is not None
        and t.due_on <= until
        and (t.item_id, t.part, t.rule) not in sooner
    ]
    by_id = {i.id: i for i in kit}
    jobs = [(t, by_id[t.item_id], _rule(t, by_id[t.item_id], visit)) for t in rows]
    jobs.sort(key=lambda j: (not j[2].critical, j[0].due_on or visit.today, order(j[2]), j[0].id or 0))
    return _due_reply(jobs, paced, visit, wanted, until)


def _due_reply(
    jobs: Sequence[tuple[CareTask, Item, CareRule]],
    paced: Sequence[Coming],
    visit: Visit,
    wanted: set[int | None],
    until: date,
) -> Reply:
    today = visit.today
    now = [j for j in jobs if (j[0].due_on or today) <= today]
    soon = [j for j in jobs if (j[0].due_on or today) > today]
    put_off = care_log.put_off_until(visit.session, visit.locker_id)
    lines: list[str] = []
    for title, some in (("Now:", now), (f"By {day(until, today)}:", soon)):
        told = [
            Job(item, t.part, rule, t.due_on, when(t, rule, today, put_off.get((t.item_id, t.part, t.rule))))
            for t, item, rule in some
        ]
        if told:
            lines += [title, *(f"- {line}" for line in job_lines(told))]
    if paced:
        told = [Job(c.item, c.due.part, c.due.rule, c.on, when_comes(c, today)) for c in paced]
        lines += ["At your pace:", *(f"- {line}" for line in job_lines(told))]
    unknown = _unknown_dates(visit, wanted)
    lines += unknown
    lines += [CHECK_LOCALLY] if unknown else law_note(rule for _, _, rule in jobs)
    later = len(soon) + len(paced)
    first = (
        f"{count(len(now), 'thing')} due now, {later} more by {day(until, today)}."
        if jobs or paced
        else f"Nothing that I know of is due by {day(until, today)}, but not every test date is known."
        if unknown
        else f"Nothing is due by {day(until, today)}."
    )
    return Reply(first, tuple(lines), offers=_offers([t for t, _, _ in now]), data=_due_data(jobs, paced))


def _at_this_pace(visit: Visit, wanted: set[int | None]) -> list[Coming]:
    """Return what the dives will make due before the calendar does."""
    found = coming(visit.standing(), visit.ahead(), visit.today)
    return [c for c in found if c.by_pace is not None and c.item.id in wanted]


def _due_data(jobs: Sequence[tuple[CareTask, Item, CareRule]], paced: Sequence[Coming]) -> dict[str, object]:
    return {
        "intent": "show_due",
        "due": [
            {
                "item": i.name,
                "part": t.part or None,
                "task": t.task,
                "due_on": t.due_on.isoformat() if t.due_on else None,
            }
            for t, i, _ in jobs
        ],
        "by_pace": [
            {
                "item": c.item.name,
                "part": c.due.part or None,
                "task": c.due.rule.task.value,
                "dives_left": c.due.dives_left,
                "about": c.on.isoformat(),
                "earliest": c.by_pace.earliest.isoformat(),
                "latest": c.by_pace.latest.isoformat() if c.by_pace.latest else None,
            }
            for c in paced
            if c.by_pace is not None
        ],
    }


def _when_next(task: Task, wanted: set[int | None], visit: Visit) -> Reply | None:
    """Say when one act is next due on each item, whether near or far; None if nothing asks for it."""
    found = [
        (i, d)
        for i in visit.standing()
        if i.item.id in wanted
        for d in i.dues
        if d.rule.task is task and d.rule.on_item
    ]
    if not found:
        return None
    ordered = sorted(found, key=lambda p: (p[1].due_on or p[1].calendar_on or date.max, p[0].item.id or 0))
    lines = [_next_line(i.item, d, visit.today) for i, d in ordered]
    check = law_note(d.rule for _, d in found)
    data = {
        "intent": "show_due",
        "due": [
            {
                "item": i.item.name,
                "part": None,
                "task": task.value,
                "due_on": d.due_on.isoformat() if d.due_on else None,
            }
            for i, d in found
        ],
    }
    return Reply(f"{lines[0]}.", (*(f"- {line}" for line in lines[1:]), *check), data=data)


def _next_line(item: Item, due: Due, today: date) -> str:
    """Say when one act on one item is next due, and what a legal date was counted from."""
    on = due.due_on or due.calendar_on
    head = f"{act(due.rule)}, {item.name}"
    if due.rule.by_permit and on is None:
        return f"{head}: its own permit says how often (say: the permit says hydro every 36 months){by_whom(due.rule)}"
    if on is None and not due.rule.by_law:
        return f"{head}: {due.rule.every.in_words()}, not due now{by_whom(due.rule)}"
    if on is None:
        return f"{head}: last one not known (say: hydro tested May 2024){by_whom(due.rule)}"
    left = f" or in {count(due.dives_left, 'dive')}" if due.dives_left else ""
    late = "OVERDUE since" if is_overdue(due.rule, on, today) else "by"
    basis = f", {counted_from(due.legal)}" if due.legal else ""
    return f"{head}: {late} {day(on, today)}{left}{by_whom(due.rule)}{basis}"


def when(task: CareTask, rule: CareRule, today: date, put_off: date | None) -> str:
    """Say when a task falls due, whether it is overdue, by whom it is done and whether it was put off."""
    if task.due_on is None:
        return ""
    said = day(task.due_on, today)
    if is_overdue(rule, task.due_on, today):
        said = f"OVERDUE since {said}"
    return (
        said
        + by_whom(rule)
        + (f", put off until {day(put_off, today)}" if put_off and put_off > today else "")
    )


def _offers(now: Sequence[CareTask]) -> tuple[Offer, ...]:
    ids = tuple(lockers.number(t.id) for t in now)[:_MOST_IDS]
    if not ids:
        return (Offer("Board", ShowDue(board=True)),)
    return (
        Offer("All done", RecordCare(task_ids=ids)),
        Offer("Pick what is done", ShowDue(task_ids=ids)),
        Offer("Later", Snooze(task_ids=ids, days=1)),
        Offer("Why", ShowDue(why=True, task_ids=ids)),
        Offer("Board", ShowDue(board=True)),
    )


def _pick(intent: ShowDue, visit: Visit) -> Reply:
    """Offer each task of a list as a button of its own."""
    chosen = _chosen(intent.task_ids, visit)
    offers = [
        Offer(
            f"{act(rule)}: {part_name(item, t.part) or item.name}"[:60],
            RecordCare(task_ids=(lockers.number(t.id),)),
        )
        for t, item, rule in chosen
    ]
    if not offers:
        return Reply("Nothing of that list is open any more.", data={"intent": "show_due", "due": []})
    return Reply("Which one is done?", offers=tuple(offers[:12]), data={"intent": "show_due"})


def _why(intent: ShowDue, visit: Visit) -> Reply:
    """Say of each task what triggers it, the count so far, and who says so."""
    chosen = _chosen(intent.task_ids, visit) if intent.task_ids else _asked_about(intent, visit)
    if not chosen:
        return Reply(
            "Nothing of that is in your kit's care."
            if not intent.task_ids
            else "Nothing of that list is open any more.",
            ("Say: what is due?",),
            data={"intent": "show_due", "why": True},
        )
    standing = visit.standing()
    ahead = {(c.item.id, c.due.part, c.due.rule.id): c for c in coming(standing, visit.ahead(), visit.today)}
    told: dict[tuple[str, str], list[str]] = defaultdict(list)
    for task, item, rule in chosen:
        because = why_due(
            _standing(standing, task), rule, ahead.get((item.id, task.part, rule.id)), visit.today
        )
        told[act(rule), because].append(part_name(item, task.part) or item.name)
    lines = [f"- {verb}, {listed(names)}: {because}" for (verb, because), names in told.items()]
    now = any(t.due_on is not None and t.due_on <= visit.today for t, _, _ in chosen)
    return Reply(
        "Why these are due:" if now else "Not due yet. What they hang on:",
        (
            *lines,
            "The maker's manual of your item goes before all of this.",
            *law_note(r for _, _, r in chosen),
        ),
        data={"intent": "show_due", "why": True},
    )


def _asked_about(intent: ShowDue, visit: Visit) -> list[tuple[CareTask, Item, CareRule]]:
    """Return the tasks a question in words means: of an item, of an act, or all that is due now; at most a handful."""
    kit = visit.kit()
    wanted = {i.id for i in (find.by_mention(kit, intent.item) if intent.item else kit)}
    rows = [t for t in visit.fresh_tasks() if t.item_id in wanted]
    if intent.task is not None:
        rows = [t for t in rows if t.task == intent.task]
    if intent.refs:
        rows = about_parts(rows, intent.refs, visit) or rows
    due_now = [t for t in rows if t.due_on is not None and t.due_on <= visit.today]
    dated = [t for t in rows if t.due_on is not None]
    named = intent.item or intent.task or intent.refs
    ids = [lockers.number(t.id) for t in (due_now or (dated or rows if named else ()))]
    return _chosen(ids[:_MOST_WHYS], visit)


def about_parts(rows: Sequence[CareTask], refs: Sequence[PartRef], visit: Visit) -> list[CareTask]:
    """Return the tasks on parts that were named, on the whole they belong to, or on its details."""
    found = []
    for task in rows:
        item = visit.item(task.item_id)
        parts = {p.key: p for p in CATALOGUE[item.kind].parts} if item else {}
        part = parts.get(task.part)
        named = {r.part for r in refs if item and r.item == item.kind}
        if part is not None and named & {
            part.key,
            part.part_of,
            *(k for k, p in parts.items() if p.part_of == part.key),
        }:
            found.append(task)
    return found


def _standing(standing: Sequence[ItemDue], task: CareTask) -> Due | None:
    return next(
        (
            d
            for i in standing
            if i.item.id == task.item_id
            for d in i.dues
            if (d.part, d.rule.id) == (task.part, task.rule)
        ),
        None,
    )


def _unknown_dates(visit: Visit, wanted: set[int | None]) -> list[str]:
    """Name the tests by law whose last date nobody has said."""
    unknown = [
        (i, d)
        for i in visit.standing()
        if i.item.id in wanted
        for d in i.dues
        if d.rule.by_law and d.due_on is None
    ]
    missing = [f"- {act(d.rule)}: {i.item.name}" for i, d in unknown if not d.rule.by_permit]
    permits = list(dict.fromkeys(f"- {i.item.name}" for i, d in unknown if d.rule.by_permit))
    lines = ["Last test not known (say: twinset hydro tested May 2024):", *missing] if missing else []
    if permits:
        lines += ["Tested by their own permit (say: the permit says hydro every 36 months):", *permits]
    return lines


def _chosen(task_ids: Sequence[int], visit: Visit) -> list[tuple[CareTask, Item, CareRule]]:
    found = []
    for task_id in task_ids:
        task = tasks.get(visit.session, visit.locker_id, task_id)
        item = visit.item(task.item_id) if task else None
        if task and item:
            found.append((task, item, _rule(task, item, visit)))
    return found


def _rule(task: CareTask, item: Item, visit: Visit) -> CareRule:
    """Return the rule as it stands for this item: with the maker's interval where one was recorded."""
    found = _standing(visit.standing(), task)
    if found is not None:
        return found.rule
    facts = items.facts_of(item)
    region = facts.region or region_of(lockers.locker(visit.session, visit.locker_id))
    return rule_by_id(task.rule, region, facts)
