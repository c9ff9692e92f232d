"""From tasks and trips whose hour has come to notices. It can be run again at will and adds nothing."""

from datetime import date, datetime

from scheduler.care import rule_by_id
from scheduler.clock import local_date
from scheduler.outlook import planned, with_trip
from scheduler.plan import board_at, call_at, wishes_of
from scheduler.policy import Wishes, hour_of, next_telling, stage_name, stage_on, told_with
from scheduler.standing import work_out
from scheduler.trips import EVE, calls, next_call
from store import boards, care_log, lockers, outbox, tasks, trips
from store.engine import Session
from store.outbox import BOARD, NewNotice
from store.tables import Chat, Notice, Trip
from store.tasks import Ripe, Telling

SWEEP = 1_000
"""Tasks turned to notices in one unit of work, so that a sweep never holds the writer for long."""


def sweep(session: Session, now: datetime) -> int:
    """Turn tasks and trips whose hour has come into notices; return how many tasks were taken.

    What a batch of tasks needs is read and written at once: a query for each of them would be most of the work.
    """
    _sweep_trips(session, now)
    _sweep_boards(session, now)
    ripe = tasks.to_notify(session, now, SWEEP)
    locker_ids = {task.locker_id for task in ripe}
    lockers.take_turn(session, *locker_ids)
    chats = tasks.reminded(session, locker_ids)
    put_off = tasks.put_off_until(session, locker_ids)
    tellings, notices = [], []
    for task in ripe:
        chat = chats.get(task.locker_id)
        if chat is None or task.retired_on is not None or task.due_on is None or not chat.reminders:
            tellings.append(Telling(task_id=task.id, told=task.told, notify_at=None))
            continue
        today = local_date(now, chat.zone)
        wish = put_off.get((task.item_id, task.part, task.rule))
        again = wish if wish is not None and wish <= today else None
        telling, stage = _tell(task, task.due_on, wishes_of(chat), again, today)
        tellings.append(telling)
        if stage is not None:
            notices.append(_notice(task, chat.id, task.due_on, stage=stage, again=again, now=now))
        if again is not None:
            care_log.fulfil(session, task.locker_id, task.item_id, task.part, task.rule)
    outbox.add_all(session, notices)
    tasks.note_told(session, tellings)
    session.flush()
    return len(ripe)


def _tell(
    task: Ripe, due_on: date, wishes: Wishes, again: date | None, today: date
) -> tuple[Telling, int | None]:
    """Return what to note of a task, and the stage to tell now, None if there is nothing new to tell.

    `again`: the day up to which it was put off, if that has come; then it is told even if its stage was told before.
    """
    rule = rule_by_id(task.rule, task.facts.region or task.region, task.facts)
    stage = stage_on(rule, due_on, today)
    if stage is not None and again is None and task.told is not None and stage <= task.told:
        stage = None
    told = task.told if stage is None else told_with(rule, due_on, stage, today)
    speak_on = next_telling(rule, due_on, told, today)
    notify_at = hour_of(speak_on, wishes) if speak_on else None
    return Telling(task_id=task.id, told=told, notify_at=notify_at), stage


def _notice(
    task: Ripe, chat_id: int, due_on: date, *, stage: int, again: date | None, now: datetime
) -> NewNotice:
    occurrence = f"{due_on.isoformat()}/{stage}" + (f"/again {again.isoformat()}" if again else "")
    return NewNotice(
        key=f"{task.locker_id}/{task.item_id}/{task.part}/{task.rule}/{occurrence}",
        locker_id=task.locker_id,
        chat_id=chat_id,
        item_id=task.item_id,
        part=task.part,
        rule=task.rule,
        due_on=due_on,
        stage=stage_name(stage),
        send_at=now,
    )


def _sweep_trips(session: Session, now: datetime) -> None:
    ripe = trips.to_call(session, now, SWEEP)
    lockers.take_turn(session, *{trip.locker_id for trip, _ in ripe})
    chats = tasks.chats_of(session, (lockers.number(locker.id) for _, locker in ripe))
    for trip, _ in ripe:
        chat = chats.get(trip.locker_id)
        trip.notify_at = None
        session.add(trip)
        if chat is None or not chat.reminders:
            continue
        today = local_date(now, chat.zone)
        ahead = planned(session, trip.locker_id, today)
        found = with_trip(work_out(session, trip.locker_id, today), trip, ahead, today)
        days_before = calls(t for _, t in found)
        if (call := next_call(days_before, trip.from_on, trip.told, today)) is None:
            continue
        at = call_at(*call, wishes_of(chat), now)
        waits = (
            call[0] == EVE and at is not None and at > now
        )  # it holds what an earlier call would have said
        if waits or call[1] > today:  # what it was for is gone, and the next one comes later
            trip.notify_at = at
            continue
        outbox.add(session, _call(trip, chat, call[0], now))
        trip.told = call[0]
        following = next_call(days_before, trip.from_on, trip.told, today)
        trip.notify_at = call_at(*following, wishes_of(chat), now) if following else None


def _sweep_boards(session: Session, now: datetime) -> None:
    for chat in boards.to_send(session, now, SWEEP):
        today = local_date(now, chat.zone)
        notice = Notice(
            key=f"{chat.locker_id}/board {chat.id}/{today.isoformat()}",
            locker_id=chat.locker_id,
            chat_id=lockers.number(chat.id),
            due_on=today,
            stage=BOARD,
            send_at=now,
        )
        outbox.add(session, notice)
        chat.board_at = board_at(chat, now)
        session.add(chat)


def _call(trip: Trip, chat: Chat, days_before: int, now: datetime) -> Notice:
    return Notice(
        key=f"{trip.locker_id}/trip {trip.id}/{trip.from_on.isoformat()}/{days_before}",
        locker_id=trip.locker_id,
        chat_id=lockers.number(chat.id),
        trip_id=trip.id,
        due_on=trip.from_on,
        stage=str(days_before),
        send_at=now,
    )
