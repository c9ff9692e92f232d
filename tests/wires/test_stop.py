"""The service as a process of its own: it ends within ten seconds when told to, whatever it is doing, and loses nothing."""

import asyncio
import os
import signal
import sys
import time
from contextlib import asynccontextmanager, closing
from datetime import UTC, datetime

import pytest
from sqlmodel import col, func, select, update

from bot.conversation import Conversation, Update
from bot.main import token
from store.engine import Store
from store.tables import CareTask, Chat, Dive, Letter, Notice
from tests.wires.bot_api import BotApi
from tests.wires.harness import until
from tests.wires.test_service import address, free_port

SERVE = (
    "import sys; import scheduler.tick; scheduler.tick.EVERY_S = 0.5;"
    "from bot.cli import main; main(['serve', '--db', sys.argv[1]])"
)
"""As the command does, but for a clock that is looked at twice a second."""
PEOPLE = range(501, 521)
WITHIN_S = 10.0


@asynccontextmanager
async def process(database, api, **settings):
    """Run `rinsetank serve` and give it; it is gone at the end."""
    told = {f"RINSETANK_{k.upper()}": str(v) for k, v in settings.items()}
    named = {
        "RINSETANK_TELEGRAM_TOKEN": api.token,
        "RINSETANK_TELEGRAM_API": address(api),
        "RINSETANK_WEB_PORT": str(free_port()),
        "RINSETANK_LOG_LEVEL": "INFO",
    }
    running = await asyncio.create_subprocess_exec(
        *(sys.executable, "-c", SERVE, database),
        env=os.environ | named | told,
        stderr=asyncio.subprocess.PIPE,
    )
    running.lines = []

    async def read():
        async for line in running.stderr:
            running.lines.append(line.decode())

    reader = asyncio.create_task(read())
    try:
        yield running
    finally:
        if running.returncode is None:
            running.kill()
        await running.wait()
        await reader


async def ended(running, by) -> float:
    """Tell it to stop and return how long that took, in seconds."""
    began = time.monotonic()
    running.send_signal(by)
    await asyncio.wait_for(running.wait(), 60)
    return time.monotonic() - began


def up(running):
    return lambda: any("connected as @rinse_bot, polling" in line for line in running.lines)


def answers(api) -> int:
    return sum(len(api.chat(who)) for who in PEOPLE)


@pytest.mark.parametrize("by", [signal.SIGTERM, pytest.param(signal.SIGINT, marks=pytest.mark.long)])
async def test_told_to_stop_under_load_it_ends_in_time_and_the_next_one_goes_on(database, by):
    async with BotApi() as api:
        for who in PEOPLE:
            api.private(who)
        async with process(database, api) as running:
            await until(up(running))
            for _ in range(3):
                for who in PEOPLE:
                    api.say(who, who, "2 dives today")
            api.fault("sendMessage", "slow:1.5", 10)
            await until(lambda: answers(api) >= 5)
            took = await ended(running, by)
        assert (running.returncode, took < WITHIN_S) == (0, True), (took, running.lines[-5:])
        async with process(database, api) as again:
            await until(up(again))
            await until(lambda: answers(api) >= 3 * len(PEOPLE) and not api.updates.pending)
            await ended(again, signal.SIGTERM)
        store = Store(database)
        try:
            logged = store.read(lambda s: s.exec(select(func.count()).select_from(Dive)).one())
            waiting = store.read(lambda s: s.exec(select(func.count()).select_from(Letter)).one())
        finally:
            store.close()
        assert (logged, waiting) == (3 * len(PEOPLE), 0)  # each acted once, and its answer went
        assert answers(api) == 3 * len(PEOPLE)  # and none came twice, since what was in flight was finished


@asynccontextmanager
async def answering_a_wire_that_hangs(database):
    """Run the service up to where an answer is in flight for a minute."""
    async with BotApi() as api:
        api.private(501)
        async with process(database, api) as running:
            await until(up(running))
            api.fault("sendMessage", "slow:60", 5)
            api.say(501, 501, "add scooter")
            await until(lambda: api.chat(501))
            yield running


async def test_wire_that_hangs_does_not_hold_it_up(database):
    async with answering_a_wire_that_hangs(database) as running:
        took = await ended(running, signal.SIGTERM)
    assert (running.returncode, took < WITHIN_S) == (0, True), (took, running.lines[-5:])
    with closing(Store(database)) as store:
        (letter,) = store.read(lambda s: s.exec(select(Letter)).all())
    assert letter.wire == "telegram"  # nobody knows whether it arrived: it is there for the next start


async def test_second_signal_ends_it_at_once(database):
    async with answering_a_wire_that_hangs(database) as running:
        running.send_signal(signal.SIGTERM)
        await asyncio.sleep(0.5)
        assert running.returncode is None
        took = await ended(running, signal.SIGINT)
    assert (running.returncode, took < WITHIN_S / 2) == (130, True)


async def test_reminder_in_flight_is_finished_and_noted(database):
    store = Store(database)
    now = datetime.now(UTC)
    conversation = Conversation(store, token)
    for said in ("add dry suit, latex seals", "2 dives today"):
        conversation.take(Update("telegram", "501", "501", now, text=said))

    def its_hour_has_come(session):
        session.exec(update(Chat).values(quiet_from="00:00", quiet_to="00:00"))
        due = col(CareTask.due_on) <= now.date()
        assert session.exec(update(CareTask).where(due).values(notify_at=now)).rowcount > 0

    store.write(its_hour_has_come)
    async with BotApi() as api:
        api.private(501)
        api.fault("sendMessage", "slow:2")
        async with process(database, api) as running:
            await until(lambda: api.chat(501))
            took = await ended(running, signal.SIGTERM)
        assert (running.returncode, took < WITHIN_S) == (0, True), (took, running.lines[-5:])
    states = store.read(lambda s: set(s.exec(select(Notice.state)).all()))
    store.close()
    assert states == {"sent"}
