"""The alarm clock: it rings, it does what is due, and it survives what goes wrong."""

import asyncio
from datetime import UTC, date, datetime, timedelta

import pytest

import scheduler.sweep
import scheduler.tick
from scheduler.clock import SetClock, SystemClock
from scheduler.deliver import Failed
from scheduler.tick import next_tick, start, tick
from store.outbox import LEASE
from store.vocabulary import ItemKind

DUE = date(2025, 12, 10)
"""The day a bag was added whose zip is due on 10 June."""
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
PATIENCE_S = 5.0


class Bell:
    """A wire that tells when it was rung, for as long as a test listens."""

    wires = ("wire",)

    def __init__(self, *answers):
        self.rung, self.answers = asyncio.Event(), list(answers)

    async def carry(self, digest):
        self.rung.set()
        answer = self.answers.pop(0) if self.answers else None
        if isinstance(answer, Exception):
            raise answer
        return answer


@pytest.fixture
def present(open_kit):
    """Set a clock to the machine's present, on whose time the alarm runs; a bag has been due since yesterday."""
    now = SystemClock().now()
    kit = open_kit("boat", SetClock(now - timedelta(days=2)))
    kit.wish(quiet_from="00:00", quiet_to="00:00")
    kit.add(ItemKind.BAG, now.date() - timedelta(days=200))
    return SetClock(now)


async def test_tick_with_nothing_due_sends_nothing(store, courier, clock):
    assert (await tick(store, courier, clock), courier.taken) == (0, [])


async def test_tick_plans_and_delivers_and_counts_messages(open_kit, ring, courier):
    for address in ("deck", "boat"):
        kit = open_kit(address)
        kit.add(ItemKind.BAG, DUE)
        kit.add(ItemKind.PRESSURE_GAUGE, date(2025, 6, 10))
    assert (await ring("2026-06-10T16:00+00:00"), len(courier.taken)) == (2, 2)


async def test_tick_with_more_than_one_sweep_holds_takes_them_all(kit, ring, courier, monkeypatch):
    monkeypatch.setattr(scheduler.sweep, "SWEEP", 2)
    monkeypatch.setattr(scheduler.tick, "SWEEP", 2)
    for _ in range(5):
        kit.add(ItemKind.BAG, DUE)
    await ring("2026-06-10T16:00+00:00")
    assert [len(said) for _, _, said in courier.taken] == [5]


async def test_next_tick_is_the_hour_of_the_task_then_the_retry_then_the_next_stage(
    kit, store, clock, courier, ring
):
    times = [store.read(next_tick)]
    kit.add(ItemKind.BAG, DUE)
    times.append(store.read(next_tick))
    courier.answers.append(Failed("line down"))
    await ring("2026-06-10T16:00+00:00")
    times.append(store.read(next_tick))
    await ring("2026-06-10T16:00:30+00:00")
    times.append(store.read(next_tick))
    assert times == [None, HOUR, HOUR + timedelta(seconds=30), HOUR + timedelta(days=7)]


async def test_next_tick_after_a_crash_is_the_end_of_the_lease(kit, store, courier, ring):
    kit.add(ItemKind.BAG, DUE)
    courier.answers.append(RuntimeError("power cut"))
    with pytest.raises(RuntimeError):
        await ring("2026-06-10T16:00+00:00")
    assert store.read(next_tick) == HOUR + LEASE


async def test_alarm_rings_once_at_the_start(store, present):
    bell, errors = Bell(), []
    alarm = start(store, bell, present, errors.append)
    try:
        await asyncio.wait_for(bell.rung.wait(), PATIENCE_S)
        (job,) = alarm.get_jobs()
        assert (job.trigger.interval, job.coalesce, job.max_instances, job.misfire_grace_time) == (
            timedelta(seconds=scheduler.tick.EVERY_S),
            True,
            1,
            None,
        )
        assert job.next_run_time > present.now()
    finally:
        alarm.shutdown()
    assert errors == []


async def test_alarm_tells_what_went_wrong_and_stays_set(store, present):
    told = asyncio.Queue()
    power_cut = RuntimeError("power cut")
    alarm = start(store, Bell(power_cut), present, told.put_nowait)
    try:
        error = await asyncio.wait_for(told.get(), PATIENCE_S)
        assert (error, alarm.running, len(alarm.get_jobs())) == (power_cut, True, 1)
    finally:
        alarm.shutdown()
