"""The alarm clock. APScheduler rings at an interval; what is due is read from the database, never from its jobs."""

from collections.abc import Callable
from datetime import UTC, datetime

import structlog
from apscheduler.schedulers.asyncio import AsyncIOScheduler

from scheduler.clock import Clock
from scheduler.deliver import Courier, deliver
from scheduler.plan import replan
from scheduler.sweep import SWEEP, sweep
from store import boards, outbox, tasks, trips
from store.engine import Session, Store

EVERY_S = 20
REPLAN = 50
"""Lockers worked out anew in one unit of work, so that divers who write meanwhile need not wait."""
log = structlog.get_logger(__name__)


async def tick(store: Store, courier: Courier, clock: Clock) -> int:
    """Plan and deliver what is due now; return how many messages went out."""
    while store.write(lambda s: sweep(s, clock.now())) == SWEEP:
        pass
    return await deliver(store, courier, clock)


def next_tick(session: Session) -> datetime | None:
    """Return the next instant at which a tick would find work, None if facts must change first."""
    waiting = (
        tasks.next_notify(session),
        trips.next_call(session),
        boards.next_board(session),
        outbox.next_send(session),
    )
    return min((at for at in waiting if at is not None), default=None)


def catch_up(store: Store, clock: Clock) -> int:
    """Work out anew what other rules than today's gave, as after an update; return how many lockers."""
    total = 0
    while done := store.write(lambda s: replan(s, clock.now(), REPLAN)):
        total += done
    return total


def start(
    store: Store, courier: Courier, clock: Clock, on_error: Callable[[Exception], None]
) -> AsyncIOScheduler:
    """Ring every `EVERY_S` seconds in the running event loop until `shutdown`; late rings are run once, not many times."""

    async def ring() -> None:
        try:
            await tick(store, courier, clock)
        except Exception as error:
            log.exception("tick_failed")
            on_error(error)

    alarm = AsyncIOScheduler(timezone=UTC)
    alarm.add_job(
        ring,
        "interval",
        seconds=EVERY_S,
        coalesce=True,
        max_instances=1,
        misfire_grace_time=None,
        next_run_time=clock.now(),
    )
    alarm.start()
    return alarm
