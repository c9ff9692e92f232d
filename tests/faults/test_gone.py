"""The database goes away under the running service and comes back: what was said meanwhile is taken then, and once.

That a stopped server and a locked file are told in plain words is in `tests/store/`; what the post does with letters meanwhile
in `tests/scheduler/test_post.py`.
"""

import asyncio
import signal
import sqlite3
import time
from collections import Counter
from contextlib import asynccontextmanager, closing, suppress
from datetime import UTC, datetime

import pytest
from sqlalchemy import make_url
from sqlmodel import col, func, select, update

from bot.conversation import Conversation, Update
from bot.main import token
from scheduler.clock import SetClock
from scheduler.tick import tick
from store.engine import Store
from store.errors import StoreError
from store.outbox import LEASE
from store.tables import CareTask, Chat, Dive, Letter, Notice
from tests.postgres import Server
from tests.wires.bot_api import BotApi
from tests.wires.harness import until
from tests.wires.test_stop import ended, process, up

from .script import Said, say

PEOPLE = range(501, 509)
BACK_S = 75.0
"""How soon after the database is back all must be answered; a wire that could not be had waits for up to a minute."""
LONG = (pytest.mark.faults, pytest.mark.long)


class ServerOfOurs:
    """A PostgreSQL that stops and starts again."""

    def __init__(self, how: signal.Signals) -> None:
        self._server, self._how = Server(durable=True), how
        self.url = self._server.url(self._server.create())

    @asynccontextmanager
    async def gone(self):
        await asyncio.to_thread(self._server.stop, how=self._how)
        yield
        await asyncio.to_thread(self._server.start)

    def close(self) -> None:
        self._server.close()


class FileOfOurs:
    """A SQLite file that another program holds for itself."""

    def __init__(self, url: str) -> None:
        self.url = url

    @asynccontextmanager
    async def gone(self):
        with closing(sqlite3.connect(make_url(self.url).database, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            yield
            other.execute("ROLLBACK")

    def close(self) -> None:
        """Leave it to whoever made it."""


@pytest.fixture
def gone_able(request, database):
    """Give a database that can be made to go away."""
    kind = request.param
    opened = FileOfOurs(database) if kind == "locked" else ServerOfOurs(kind)
    yield opened
    opened.close()


STOPS, CRASHES = signal.SIGINT, signal.SIGQUIT


@pytest.mark.parametrize(
    ("gone_able", "for_s"),
    [
        pytest.param(STOPS, 1, marks=pytest.mark.postgresql, id="postgresql stops for a second"),
        pytest.param(STOPS, 60, marks=LONG, id="postgresql stops for a minute"),
        pytest.param(CRASHES, 60, marks=LONG, id="postgresql crashes for a minute"),
        pytest.param("locked", 60, marks=LONG, id="sqlite locked for a minute"),
    ],
    indirect=["gone_able"],
)
async def test_database_gone_under_the_service_loses_nothing(gone_able, for_s):
    store, reminds = Store(gone_able.url), for_s >= 60  # a ring of the alarm takes 20 s
    if reminds:
        due_at_once(store)
    async with BotApi() as api:
        for who in (*PEOPLE, 599):
            api.private(who)
        async with process(gone_able.url, api) as running:
            await until(up(running))
            await until(lambda: api.chat(599) or not reminds)
            api.say(501, 501, "1 dive today, salt, 10 m")
            await until(lambda: api.chat(501) and not on_the_way(store))
            async with gone_able.gone():
                begun = time.monotonic()
                for n, who in enumerate(PEOPLE):
                    api.say(who, who, f"2 dives today, salt, {20 + n} m")
                await asyncio.sleep(for_s)
                said_meanwhile = sum(len(api.chat(who)) for who in PEOPLE) - 1
                gone_s = time.monotonic() - begun
            back = time.monotonic()
            api.say(501, 501, "1 dive today, salt, 50 m")
            await until(lambda: answers(api) == len(PEOPLE) + 2 and not api.updates.pending, BACK_S)
            took = time.monotonic() - back
            await until(lambda: not on_the_way(store), BACK_S)
            assert running.returncode is None, running.lines[-5:]
            await ended(running, signal.SIGTERM)
    with closing(store):
        depth = select(Dive.max_depth_m).where(col(Dive.max_depth_m).is_not(None))
        logged = Counter(store.read(lambda s: s.exec(depth).all()))
    depths = (10, *range(20, 20 + len(PEOPLE)), 50)
    assert logged == Counter(float(d) for d in depths)
    assert [len(api.chat(who)) for who in (*PEOPLE, 599)] == [3, *(1 for _ in PEOPLE[1:]), int(reminds)]
    print(f"\ndatabase gone for {gone_s:.0f} s: {len(depths)} messages, each acted and was answered once; "
          f"{said_meanwhile} answers meanwhile, the last one {took:.1f} s after it was back")  # fmt: skip


def on_the_way(store: Store) -> int:
    """Count the letters and notices that are not settled."""
    notices = select(func.count(Notice.id)).where(Notice.state != "sent")
    return store.read(lambda s: s.exec(select(func.count(Letter.id))).one() + s.exec(notices).one())


def answers(api) -> int:
    return sum(len(api.chat(who)) for who in PEOPLE)


def due_at_once(store: Store) -> None:
    """Have a diver to whom something is to be said."""
    now = datetime.now(UTC)
    conversation = Conversation(store, token)
    for said in ("add dry suit, latex seals", "1 dive today, salt"):
        conversation.take(Update("telegram", "599", "599", now, text=said))

    def its_hour_has_come(session):
        session.exec(update(Chat).values(quiet_from="00:00", quiet_to="00:00"))
        due = col(CareTask.due_on) <= now.date()
        session.exec(update(CareTask).where(due).values(notify_at=now))

    store.write(its_hour_has_come)


# --- between a reminder and its settling -------------------------------------------------------------------------------


class Courier:
    """Takes each reminder, and has the database go away while it does."""

    wires = ("wire",)

    def __init__(self, going) -> None:
        self._going, self.took = going, []

    async def carry(self, digest) -> None:
        self.took.append(digest.key)
        self._going()


async def test_reminder_that_arrived_while_the_database_went_away_is_not_sent_again(
    store, database, monkeypatch
):
    monkeypatch.setattr("store.engine._BUSY_MS", 1)
    store = Store(database)
    say(store, [Said("c0", n, text, at) for n, (text, at) in enumerate(TOLD)])
    clock = SetClock(datetime(2026, 6, 10, 18, 30, tzinfo=UTC))
    with closing(store), closing(sqlite3.connect(make_url(database).database, isolation_level=None)) as other:

        def go_away() -> None:
            if len(courier.took) == 1:
                other.execute("BEGIN IMMEDIATE")
                asyncio.get_running_loop().call_later(0.5, other.execute, "ROLLBACK")

        courier = Courier(go_away)
        with suppress(StoreError):
            await tick(store, courier, clock)
        await asyncio.sleep(1)
        clock.forward(LEASE)
        await tick(store, courier, clock)
    assert len(courier.took) == 1


TOLD = [
    ("add dry suit, latex seals", datetime(2026, 6, 10, 9, tzinfo=UTC)),
    ("1 dive today, salt", datetime(2026, 6, 10, 10, tzinfo=UTC)),
]
