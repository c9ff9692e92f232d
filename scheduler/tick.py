"""The alarm clock. APScheduler rings at an interval; what is due is read from the database, never from its jobs."""

import asyncio
import threading
import time
from collections.abc import Callable, Coroutine, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import structlog
from apscheduler.schedulers.asyncio import AsyncIOScheduler

from scheduler.clock import Clock
from scheduler.deliver import Courier, deliver
from scheduler.plan import replan
from scheduler.sweep import SWEEP, sweep
from store import boards, meter, outbox, tasks, trips
from store.engine import Session, Store

EVERY_S = 20
REPLAN = 10
"""Lockers worked out anew in one unit of work: divers who write meanwhile wait for it."""
log = structlog.get_logger(__name__)


async def tick(store: Store, courier: Courier, clock: Clock) -> int:
    """Plan and deliver what is due now; return how many messages went out."""
    taken = SWEEP
    while taken == SWEEP:
        taken = await asyncio.to_thread(
            store.write, lambda s: sweep(s, clock.now())
        )  # answers go on meanwhile
        meter.tell("swept", taken)
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


def catch_up(store: Store, clock: Clock, stopped: Callable[[], bool] = lambda: False) -> int:
    """Work out anew what other rules than today's gave, as after an update, unless `stopped`; return how many lockers."""
    total = 0
    while not stopped() and (done := store.write(lambda s: replan(s, clock.now(), REPLAN))):
        total += done
    return total


@dataclass(frozen=True, slots=True)
class Chore:
    """Something done now and then beside the ticks, off the event loop. `work` is given what tells it to stop midway."""

    name: str
    every: timedelta
    first_after: timedelta
    work: Callable[[Callable[[], bool]], object]


class Alarm:
    """The running alarm."""

    def __init__(self, clock: Clock) -> None:
        """Begin without a job."""
        self._clock = clock
        self._scheduler = AsyncIOScheduler(timezone=UTC)
        self._under_way: set[asyncio.Task[object]] = set()
        self._time_keeper: asyncio.Task[None] | None = None
        self._over = threading.Event()

    def ring(self, every: timedelta, first: datetime, work: Callable[[], Coroutine[Any, Any, None]]) -> None:
        """Do something at an interval; late rings are run once, not many times."""

        async def rung() -> None:
            if (task := asyncio.current_task()) is not None:
                self._under_way.add(task)
                task.add_done_callback(self._under_way.discard)
            await work()

        self._scheduler.add_job(
            rung,
            "interval",
            seconds=every.total_seconds(),
            coalesce=True,
            max_instances=1,
            misfire_grace_time=None,
            next_run_time=first,
        )

    def add(self, chore: Chore) -> None:
        """Have a chore done; one that fails is logged, and done again when its time comes."""

        async def work() -> None:
            began, outcome = time.perf_counter(), "done"
            try:
                await asyncio.to_thread(chore.work, self._over.is_set)
            except Exception:
                outcome = "failed"
                log.exception("chore_failed", chore=chore.name)
            meter.tell("chore", time.perf_counter() - began, chore=chore.name, outcome=outcome)

        self.ring(chore.every, self._clock.now() + chore.first_after, work)

    def get_jobs(self) -> list[Any]:
        """Return the jobs of the scheduler."""
        return list(self._scheduler.get_jobs())

    @property
    def running(self) -> bool:
        """Tell whether it still rings."""
        return bool(self._scheduler.running)

    def start(self) -> None:
        """Begin to ring in the running event loop."""
        self._scheduler.start()
        self._time_keeper = asyncio.create_task(self._keep_time())

    async def _keep_time(self) -> None:
        """Ring at once what a clock that was set back would leave unrung until it is as late again."""
        while True:
            await asyncio.sleep(EVERY_S)
            now = self._clock.now()
            for job in self._scheduler.get_jobs():
                if job.next_run_time > now + job.trigger.interval:
                    job.modify(next_run_time=now)

    def shutdown(self) -> None:
        """Ring no more, and have what is under way told to stop."""
        self._over.set()
        if self._time_keeper is not None:
            self._time_keeper.cancel()
        if self._scheduler.running:
            self._scheduler.shutdown(wait=False)

    async def finish(self) -> None:
        """Ring no more and wait for what is under way."""
        self.shutdown()
        await asyncio.sleep(0)  # the scheduler tells its tasks in the next round of the loop
        await asyncio.sleep(0)
        await asyncio.gather(*self._under_way, return_exceptions=True)


def start(
    store: Store,
    courier: Courier,
    clock: Clock,
    on_error: Callable[[Exception], None],
    chores: Iterable[Chore] = (),
) -> Alarm:
    """Ring every `EVERY_S` seconds in the running event loop until told otherwise, with chores beside it."""

    async def ring() -> None:
        began, outcome = time.perf_counter(), "done"
        try:
            await tick(store, courier, clock)
        except Exception as error:
            outcome = "failed"
            log.exception("tick_failed")
            on_error(error)
        meter.tell("tick", time.perf_counter() - began, outcome=outcome)

    alarm = Alarm(clock)
    alarm.ring(timedelta(seconds=EVERY_S), clock.now(), ring)
    for chore in chores:
        alarm.add(chore)
    alarm.start()
    return alarm
