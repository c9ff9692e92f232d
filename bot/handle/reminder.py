"""What a reminder says: one message a day, what can hurt first; a trip that is near before all."""

from datetime import date

from bot.handle.board import boards, drawings
from bot.handle.due import when
from bot.handle.packing import packing
from bot.handle.trips import call_lines, call_title
from bot.handle.wording import Job, act, job_lines, law_note, part_name
from bot.replies import Kind, Reply
from bot.understand.intents import PlanTrip, RecordCare, ShowDue, Snooze
from bot.understand.reader import Offer
from scheduler.digest import Digest, Line
from scheduler.policy import is_overdue
from store import lockers

_MOST_IDS = 200


def reminder(digest: Digest, today: date) -> Reply:
    """Say a digest: a trip first, then what can hurt, then the rest; done, later and why as buttons.

    The board of the week, where it is wanted, comes along as a picture of its first page.
    """
    said = {
        (i.item.id, t.due.part, t.due.rule.id)
        for c in digest.trips
        if c.last_check
        for i, t in c.found
        if t.before
    }
    chat = digest.chat
    pages = boards(digest.board, dark=chat.dark, group=chat.group, most_pages=1) if digest.board else ()
    jobs = [_job(n, today) for n in digest.lines if (n.item.id, n.task.part, n.rule.id) not in said]
    grave, rest = [j for j in jobs if j.rule.critical], [j for j in jobs if not j.rule.critical]
    lines = [f"- {line}" for line in job_lines(grave)] + [f"- {line}" for line in job_lines(rest)]
    trip_lines: list[str] = []
    for call in digest.trips:
        trip_lines += call_lines(call, today)
        trip_lines += packing(call.standing) if call.last_check else []
    if digest.trips:
        first = call_title(digest.trips[0], today)
        lines = [*trip_lines, *(["Also:", *lines] if lines else [])]
    elif not jobs:
        first = f"Your board of the week: {pages[0].first[:1].lower()}{pages[0].first[1:]}."
    else:
        lead = grave[0] if grave else jobs[0]
        more = f" And {len(jobs) - 1} more." if len(jobs) > 1 else ""
        first = f"{act(lead.rule)}: {part_name(lead.item, lead.part) or lead.item.name}, {lead.note}.{more}"
        lines = lines if len(jobs) > 1 else [f"Because {lead.rule.why}."]
    if pages and (jobs or digest.trips):
        lines = [*lines, "Your board of the week comes along."]
    rules = [*(j.rule for j in jobs), *(t.due.rule for c in digest.trips for _, t in c.found)]
    return Reply(
        first,
        (*lines, *law_note(rules)),
        _cautions(digest, today),
        _offers(digest),
        _data(digest),
        kind=Kind.REMINDER,
        files=drawings(pages),
    )


def _job(line: Line, today: date) -> Job:
    note = when(line.task, line.rule, today, None)
    return Job(line.item, line.task.part, line.rule, line.due_on, note, line.manual)


def _cautions(digest: Digest, today: date) -> tuple[str, ...]:
    late = [n for n in digest.lines if n.rule.critical and is_overdue(n.rule, n.due_on, today)]
    found = (
        ["Safety first: do not dive what is overdue here."] if any(not n.rule.by_law for n in late) else []
    )
    found += [f"{n.item.name}: {n.rule.overdue}." for n in late if n.rule.by_law]
    return tuple(dict.fromkeys(found))


def _offers(digest: Digest) -> tuple[Offer, ...]:
    ids = tuple(lockers.number(line.task.id) for line in digest.lines)[:_MOST_IDS]
    care = (
        (
            Offer("Done", RecordCare(task_ids=ids)),
            *((Offer("Part of it", ShowDue(task_ids=ids)),) if len(ids) > 1 else ()),
            Offer("Later", Snooze(task_ids=ids, days=1)),
            Offer("Why", ShowDue(why=True, task_ids=ids)),
        )
        if ids
        else ()
    )
    trip = (
        (
            Offer("Show trip", PlanTrip(shows=True)),
            Offer("Trip is off", PlanTrip(cancels=True, trip_id=digest.trips[0].trip.id)),
        )
        if digest.trips
        else ()
    )
    return (*care, *trip)


def _data(digest: Digest) -> dict[str, object]:
    data: dict[str, object] = {
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
    }
    if digest.board is not None:
        data["board"] = True
    if digest.trips:
        data["trips"] = [
            {
                "from": call.trip.from_on.isoformat(),
                "to": call.trip.to_on.isoformat(),
                "days_before": call.days_before,
                "open": sum(1 for _, t in call.found if t.before),
            }
            for call in digest.trips
        ]
    return data
