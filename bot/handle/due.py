"""What is due, why, and not now."""

from collections.abc import Sequence
from datetime import date, timedelta

from bot.handle import find
from bot.handle.visit import HOW_FAR_DAYS, Visit
from bot.handle.wording import Job, act, by_whom, count, day, job_lines, part_name
from bot.replies import Kind, Reply
from bot.understand.intents import AddItem, RecordCare, ShowDue, Snooze
from bot.understand.reader import Offer
from scheduler.care import CareRule, order, rule_by_id
from scheduler.digest import Digest
from scheduler.due import Due
from scheduler.plan import ItemDue, region_of
from scheduler.policy import is_overdue
from store import care_log, items, lockers, tasks
from store.tables import CareTask, Item
from store.vocabulary import Task

_MOST_IDS = 200


def show_due(intent: ShowDue, visit: Visit) -> Reply:
    """List what is due, gravest first; or, with `why`, the trigger, the count and the source of each."""
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
    rows = [
        t for t in visit.fresh_tasks() if t.item_id in wanted and t.due_on is not None and t.due_on <= until
    ]
    by_id = {i.id: i for i in kit}
    jobs = [(t, by_id[t.item_id], _rule(t, by_id[t.item_id], visit)) for t in rows]
    jobs.sort(key=lambda j: (not j[2].critical, j[0].due_on or visit.today, order(j[2]), j[0].id or 0))
    return _due_reply(jobs, visit, wanted, until)


def _due_reply(
    jobs: Sequence[tuple[CareTask, Item, CareRule]], visit: Visit, wanted: set[int | None], until: date
) -> Reply:
    today = visit.today
    now = [j for j in jobs if (j[0].due_on or today) <= today]
    soon = [j for j in jobs if (j[0].due_on or today) > today]
    put_off = care_log.put_off_until(visit.session, visit.locker_id)
    lines: list[str] = []
    for title, some in (("Now:", now), (f"By {day(until, today)}:", soon)):
        told = [
            Job(item, t.part, rule, t.due_on, _when(t, rule, today, put_off.get((t.item_id, t.part, t.rule))))
            for t, item, rule in some
        ]
        if told:
            lines += [title, *(f"- {line}" for line in job_lines(told))]
    unknown = _unknown_dates(visit, wanted)
    lines += unknown
    first = (
        f"{count(len(now), 'thing')} due now, {len(soon)} more by {day(until, today)}."
        if jobs
        else f"Nothing is due by {day(until, today)}."
    )
    data = {
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
    }
    return Reply(first, tuple(lines), offers=_offers([t for t, _, _ in now]), data=data)


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
    lines = []
    for i, d in sorted(found, key=lambda p: (p[1].due_on or p[1].calendar_on or date.max, p[0].item.id or 0)):
        on = d.due_on or d.calendar_on
        left = f" or in {count(d.dives_left, 'dive')}" if d.dives_left else ""
        when = f"by {day(on, visit.today)}{left}" if on else "last one not known (say: hydro tested May 2024)"
        lines.append(f"{act(d.rule)}, {i.item.name}: {when}{by_whom(d.rule)}")
    check = ("Tests by law: check locally.",) if any(d.rule.by_law for _, d in found) else ()
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


def _when(task: CareTask, rule: CareRule, today: date, put_off: date | None) -> str:
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
        return ()
    return (
        Offer("All done", RecordCare(task_ids=ids)),
        Offer("Pick what is done", ShowDue(task_ids=ids)),
        Offer("Later", Snooze(task_ids=ids, days=1)),
        Offer("Why", ShowDue(why=True, task_ids=ids)),
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
    standing = visit.standing()
    chosen = _chosen(intent.task_ids, visit)
    lines = []
    for task, item, rule in chosen:
        name = f"{act(rule)}: {part_name(item, task.part) or item.name}"
        found = _standing(standing, task)
        since = (
            f" Last done {day(found.done_on, visit.today)}."
            if found and found.done_on
            else " Never recorded."
        )
        dived = f" {count(found.dives_since, 'dive')} since then." if found else ""
        lines.append(
            f"- {name}: {rule.every.in_words()}.{since}{dived} Because {rule.why}. Source: {rule.source}."
        )
    lines.append("The maker's manual of your item goes before all of this.")
    return Reply(
        "Why these are due:" if chosen else "Nothing of that list is open any more.",
        tuple(lines),
        data={"intent": "show_due", "why": True},
    )


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
    missing = [
        f"- {act(d.rule)}: {i.item.name}"
        for i in visit.standing()
        if i.item.id in wanted
        for d in i.dues
        if d.rule.by_law and d.done_on is None
    ]
    return ["Last test not known (say: twinset hydro tested May 2024):", *missing] if missing else []


def snooze(intent: Snooze, visit: Visit) -> Reply:
    """Put tasks off: those of a button, or all that is due now. One day if nothing was said."""
    rows = [t for i in intent.task_ids if (t := tasks.get(visit.session, visit.locker_id, i)) is not None]
    if not intent.task_ids:
        kit = visit.kit()
        wanted = {i.id for i in (find.by_mention(kit, intent.item) if intent.item else kit)}
        rows = [
            t
            for t in visit.fresh_tasks()
            if t.item_id in wanted and t.due_on is not None and t.due_on <= visit.today
        ]
    until = intent.until or visit.today + timedelta(days=intent.days or 1)
    data = {"intent": "snooze", "until": until.isoformat(), "tasks": len(rows)}
    if not rows:
        return Reply("Nothing is due now, so there is nothing to put off.", data=data)
    if not visit.today < until <= visit.today + timedelta(days=366):
        return Reply(
            "I can put that off from one day to a year: snooze 3 days, or snooze until Friday.", data=data
        )
    for task in rows:
        care_log.put_off(visit.session, visit.locker_id, task.item_id, task.part, task.rule, until=until)
    grave = any(t.critical for t in rows)
    cautions = ("Part of this can hurt someone: do not dive it before it is done.",) if grave else ()
    return Reply(
        f"Put off until {day(until, visit.today)}: {count(len(rows), 'thing')}.", cautions=cautions, data=data
    )


def _chosen(task_ids: Sequence[int], visit: Visit) -> list[tuple[CareTask, Item, CareRule]]:
    found = []
    for task_id in task_ids:
        task = tasks.get(visit.session, visit.locker_id, task_id)
        item = visit.item(task.item_id) if task else None
        if task and item:
            found.append((task, item, _rule(task, item, visit)))
    return found


def _rule(task: CareTask, item: Item, visit: Visit) -> CareRule:
    region = items.facts_of(item).region or region_of(lockers.locker(visit.session, visit.locker_id))
    return rule_by_id(task.rule, region)


def reminder(digest: Digest, today: date) -> Reply:
    """Say a digest: what can hurt first, then the rest; done, later and why as buttons."""
    jobs = [
        Job(
            line.item,
            line.task.part,
            line.rule,
            line.due_on,
            _when(line.task, line.rule, today, None),
            line.manual,
        )
        for line in digest.lines
    ]
    grave = [j for j in jobs if j.rule.critical]
    rest = [j for j in jobs if not j.rule.critical]
    ids = tuple(lockers.number(line.task.id) for line in digest.lines)[:_MOST_IDS]
    lead = grave[0] if grave else jobs[0]
    others = len(jobs) - 1
    first = f"{act(lead.rule)}: {part_name(lead.item, lead.part) or lead.item.name}, {lead.note}." + (
        f" And {others} more." if others else ""
    )
    lines = [f"- {line}" for line in job_lines(grave)] + [f"- {line}" for line in job_lines(rest)]
    return Reply(
        first,
        tuple(lines) if others else (lead.rule.why,),
        ("Safety first: do not dive what is overdue here.",)
        if any(line.rule.critical and is_overdue(line.rule, line.due_on, today) for line in digest.lines)
        else (),
        (
            Offer("Done", RecordCare(task_ids=ids)),
            *((Offer("Part of it", ShowDue(task_ids=ids)),) if others else ()),
            Offer("Later", Snooze(task_ids=ids, days=1)),
            Offer("Why", ShowDue(why=True, task_ids=ids)),
        ),
        {
            "notices": [
                {
                    "item": line.item.name,
                    "part": line.task.part or None,
                    "task": line.task.task,
                    "due_on": line.due_on.isoformat(),
                    "stage": line.stage,
                }
                for line in digest.lines
            ],
        },
        kind=Kind.REMINDER,
    )
