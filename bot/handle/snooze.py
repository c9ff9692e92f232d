"""Puts tasks off: by days, to a date, or until after the trip."""

from datetime import timedelta

from bot.handle import find
from bot.handle.due import about_parts
from bot.handle.visit import Visit
from bot.handle.wording import count, day
from bot.replies import Reply
from bot.understand.intents import Snooze, Undo
from bot.understand.reader import Offer
from store import care_log, tasks, trips


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
        rows = about_parts(rows, intent.refs, visit) if intent.refs else rows
    trip = next(iter(trips.ahead(visit.session, visit.locker_id, visit.today)), None)
    if intent.after_trip and trip is None:
        return Reply(
            "No trip is planned, so I do not know until when.",
            ("Say: trip 12 to 19 December, 14 dives. Or: snooze 3 days.",),
            data={"intent": "snooze"},
        )
    after_trip = trip.to_on + timedelta(days=1) if intent.after_trip and trip else None
    until = after_trip or intent.until or visit.today + timedelta(days=intent.days or 1)
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
        f"Put off until {day(until, visit.today)}: {count(len(rows), 'thing')}.",
        cautions=cautions,
        offers=(Offer("Undo", Undo()),),
        data=data,
    )
