"""From facts to tasks: what is due in a locker, and when somebody is to be told. It can be run again at will."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from scheduler.clock import local_date
from scheduler.due import Due
from scheduler.outlook import planned, with_trip
from scheduler.policy import Wishes, after_quiet, evening_of, hour_of, next_telling, wishes
from scheduler.standing import ItemDue, edition, work_out
from scheduler.trips import EVE, calls, next_call
from store import care_log, lockers, tasks, trips
from store.engine import Session
from store.tables import CareTask, Chat, Locker, Trip
from store.tasks import Reminded


def wishes_of(chat: Chat | Reminded) -> Wishes:
    """Read the wishes of a chat."""
    return wishes(chat.zone, chat.digest_at, chat.quiet_from, chat.quiet_to)


def refresh(
    session: Session,
    chat: Chat,
    now: datetime,
    *,
    locker_id: int | None = None,
    takes_back: bool = False,
) -> list[ItemDue]:
    """Bring the care tasks of a locker up to date with its facts, and return where every rule stands.

    Run after any change, in the same unit of work. `locker_id` None: the chat's own. `takes_back`: the change was an
    undo, which brings wishes back.
    """
    locker_id = locker_id or chat.locker_id
    lockers.take_turn(session, locker_id)
    today = local_date(now, chat.zone)
    told = lockers.reminder_chat(session, locker_id) or chat
    until = care_log.put_off_until(session, locker_id)
    kept = {(t.item_id, t.part, t.rule): t for t in tasks.of_locker(session, locker_id)}
    standing = work_out(session, locker_id, today)
    wishes = wishes_of(told)
    for item_due in standing:
        item_id = lockers.number(item_due.item.id)
        for found in item_due.dues:
            key = (item_id, found.part, found.rule.id)
            row = kept.pop(key, None) or CareTask(
                locker_id=locker_id,
                item_id=item_id,
                part=found.part,
                rule=found.rule.id,
                task=found.rule.task.value,
                critical=found.rule.critical,
                changed_at=now,
            )
            if row.id is not None and row.due_on != found.due_on and key in until and not takes_back:
                del until[key]  # facts have answered the wish
                care_log.fulfil(session, locker_id, item_id, found.part, found.rule.id)
            at = _bring_up_to_date(row, found, wishes, until.get(key), now)
            _note(row, notify_at=at if told.reminders else None)
            if row.id is None:
                session.add(row)
    tasks.remove(session, kept.values())
    _plan_calls(session, locker_id, standing, told, now)
    if told.board_at is None or told.board_at > now:  # else its hour has come and the next ring brings it
        _note(told, board_at=board_at(told, now))
        session.add(told)
    locker = lockers.locker(session, locker_id)
    _note(locker, planned_by=edition())
    session.add(locker)
    session.flush()
    return standing


def _plan_calls(
    session: Session, locker_id: int, standing: Sequence[ItemDue], chat: Chat, now: datetime
) -> None:
    """Say of each trip ahead when to speak of it next."""
    today, wishes = local_date(now, chat.zone), wishes_of(chat)
    for trip in trips.ahead(session, locker_id, today):
        ripe = trip.notify_at is not None and trip.notify_at <= now and today < trip.from_on
        if ripe and chat.reminders:  # its hour has come and the next ring says it
            continue
        found = with_trip(standing, trip, planned(session, locker_id, today), today)
        call = next_call(calls(t for _, t in found), trip.from_on, trip.told, today)
        _note(trip, notify_at=call_at(*call, wishes, now) if call and chat.reminders else None)
        session.add(trip)


def call_at(days_before: int, on: date, wishes: Wishes, now: datetime) -> datetime | None:
    """Return the instant of a call before a trip; None where the evening of the last check is over."""
    if days_before > EVE:
        return _next_hour(on, wishes, now)
    at = evening_of(on, wishes)
    if (
        at < now and local_date(now, wishes.zone) == on
    ):  # the hour moved while it was not told: now, if not in the night
        at = after_quiet(now, wishes)
    return at if at >= now and local_date(at, wishes.zone) == on else None


def board_at(chat: Chat, now: datetime) -> datetime | None:
    """Return when the due board is to come by itself next; None where it is not wanted."""
    if chat.board_day is None or not chat.reminders:
        return None
    wishes, today = wishes_of(chat), local_date(now, chat.zone)
    days = (today + timedelta(days=n) for n in range(9))
    hours = (hour_of(day, wishes) for day in days if day.weekday() == chat.board_day)
    return next(at for at in hours if at > now)


def replan(session: Session, now: datetime, limit: int) -> int:
    """Work lockers out anew whose tasks other rules than today's gave; return how many were.

    An update of the program changes rules for divers who have not written since.
    """
    stale = lockers.planned_otherwise(session, edition(), limit)
    for locker_id in stale:
        chat = lockers.reminder_chat(session, locker_id)
        if chat is not None:
            refresh(session, chat, now)
        else:
            lockers.locker(session, locker_id).planned_by = edition()
    session.flush()
    return len(stale)


def _note(row: CareTask | Chat | Locker | Trip, **facts: object) -> None:
    """Set what differs: a row that is given what it has counts as changed, and a locker has many."""
    for name, fact in facts.items():
        if getattr(row, name) != fact:
            setattr(row, name, fact)


def _bring_up_to_date(
    row: CareTask, found: Due, wishes: Wishes, put_off: date | None, now: datetime
) -> datetime | None:
    """Note where a rule stands, and return when somebody is to be told next."""
    today = local_date(now, wishes.zone)
    ripe = row.notify_at is not None and row.notify_at <= now and row.due_on == found.due_on
    if row.due_on != found.due_on:
        before = (row.due_on, row.told)
        row.told = row.was_told if found.due_on == row.was_due_on else None
        (row.was_due_on, row.was_told), row.changed_at = before, now
    _note(row, due_on=found.due_on, cause=found.cause)
    if ripe and put_off is None:  # the next ring says it: a word in between must not put it off
        return row.notify_at
    if found.due_on is None:
        return None
    speak_on = put_off or next_telling(found.rule, found.due_on, row.told, today)
    return _next_hour(speak_on, wishes, now) if speak_on else None


def _next_hour(on: date, wishes: Wishes, now: datetime) -> datetime:
    """Return the diver's hour on a day, or the next one where that has passed: what was just said is not said again at once.

    An hour that quiet hours moved past midnight belongs to the day before.
    """
    day = max(on, local_date(now, wishes.zone))
    hours = (hour_of(day + timedelta(days=n), wishes) for n in (-1, 0, 1))
    return next(at for at in hours if at >= now and local_date(at, wishes.zone) >= on)
