"""PostgreSQL, durable, against bare commits of the same run, by one process and by several: `pytest tests/benchmarks -m benchmark -s -n 0`.

Server, replicas and whoever asks share the cores of one machine.
"""

import asyncio
import os
import statistics
from contextlib import closing
from datetime import timedelta
from functools import partial
from itertools import count

import pytest

from bot.conversation import Conversation, Update
from scheduler.sweep import sweep
from store import outbox
from store.engine import _READERS as READERS
from store.engine import WRITERS, Store
from tests.benchmarks.measure import Place, of, percentile, server_commits, several, talkers, timed
from tests.benchmarks.rows import DUE, NOW, RIPE, TASKS_A_LOCKER, address_of, bare, ripe
from tests.benchmarks.test_speed import DAY, KIT
from tests.conftest import START
from tests.wires.bot_api import BotApi
from tests.wires.harness import until
from tests.wires.test_replicas import Replica

pytestmark = pytest.mark.benchmark
MESSAGES, WARM_UP = 300, 30
SMALL, LARGE = 60, 20_000
CHATS, EACH = 60, 4
"""Chats that talk, spread over all lockers, and messages of each."""
SETS = ((1, WRITERS, 1), (2, WRITERS, 1), (3, WRITERS, 1), (1, 1, 2), (1, WRITERS, 2))
"""Replicas, and of each: writers, and messages that come in at once (a wire of the program brings one at a time)."""
HELM = 3
"""Connections of the helm: the lock, and what rings for others, two at a time."""


@pytest.fixture
def copy_of(durable, server_of_size):
    """Return what gives the name of a fresh copy of a database of so many lockers."""
    made = []

    def copy(size: int) -> str:
        made.append(durable.create(server_of_size(size)))
        return made[-1]

    yield copy
    for name in made:
        durable.drop(name)


def test_message_on_postgresql(table, durable):
    name = durable.create()
    with closing(Store(durable.url(name))) as store:
        talk, minutes = Conversation(store, map(str, count()).__next__), count()

        def say(text: str) -> None:
            n = next(minutes)
            at = START + timedelta(minutes=n)
            talk.take(Update("bench", "deck", "mara", at, text=text, update_id=str(n)))

        for line in KIT:
            say(line)
        texts = list(DAY.values())
        took = [timed(partial(say, texts[n % len(texts)])) for n in range(MESSAGES)][WARM_UP:]
    commits = server_commits(durable.conninfo(name))
    durable.drop(name)
    commit = statistics.median(commits)
    rate, raw = 1000 / statistics.mean(took), 1000 / commit
    table.row(
        Place.MESSAGE_ON_SERVER,
        "a message, PostgreSQL, durable",
        of(took),
        f"raw commit on that server {commit:.2f} ms",
        f"{statistics.median(took) / commit:.0f} x",
        goal="p99 under 10 ms",
        met=percentile(took, 0.99) < 10,
    )
    table.row(
        Place.MESSAGE_ON_SERVER,
        "messages a second, PostgreSQL, one chat",
        f"{rate:.0f}",
        f"raw commits {raw:.0f} a second",
        f"{rate / raw:.3f}",
        goal="at least 0.2",
        met=rate / raw >= 0.2,
    )


def test_sweep_on_postgresql(table, durable, copy_of):
    url = durable.url(copy_of(LARGE))
    with closing(Store(url)) as store, bare(url) as raw:
        read = statistics.median(several(lambda: timed(lambda: ripe(raw))))
        numbers = ", ".join(str(row[0]) for row in ripe(raw))

        def fire() -> float:
            """Sweep and claim, check that each is claimed once, and let all be due again."""
            found = []
            took = timed(lambda: found.append(store.write(lambda s: sweep(s, NOW))))
            took += timed(lambda: found.append(store.write(lambda s: outbox.claim(s, NOW, DUE, ["bench"]))))
            assert (found[0], len(found[1])) == (DUE, DUE)
            raw.run("DELETE FROM notice")
            raw.run(f"UPDATE care_task SET told = NULL, notify_at = '{RIPE}' WHERE id IN ({numbers})")
            return took

        fire()
        runs = several(fire)
    took = statistics.median(runs)
    table.row(
        Place.SWEEP_ON_SERVER,
        f"a sweep of {LARGE * TASKS_A_LOCKER:,} tasks of {LARGE:,} lockers, {DUE:,} due, to claimed notices, PostgreSQL",
        f"median {took:.0f} ms, best {min(runs):.0f} ms",
        f"bare indexed read {read:.1f} ms",
        f"{took / read:.0f} x",
        goal="under 100 ms",
        met=took < 100,
    )


@pytest.mark.parametrize("size", [SMALL, LARGE])
def test_answers_a_second_by_replicas(table, durable, copy_of, size):
    chats = [address_of(n) for n in range(0, size, size // CHATS)][:CHATS]
    first = 0.0
    for replicas, writers, senders in SETS:
        url = durable.url(copy_of(size))
        job = {"url": url, "writers": writers, "senders": senders, "each": EACH}
        seconds, told = talkers([job | {"chats": chats[n::replicas]} for n in range(replicas)])
        took = [ms for one in told for ms in one.took]
        assert len(took) == CHATS * EACH
        rate = len(took) / seconds
        first = first or rate
        who = f"{replicas} replica{'s' * (replicas > 1)}"
        at_once = f", {senders} at once to {writers} writer{'s' * (writers > 1)}" if senders > 1 else ""
        table.row(
            Place.REPLICAS,
            f"answers a second, PostgreSQL, {size:,} lockers, {who}{at_once}",
            f"{rate:.0f}; each {of(took)}; {sum(one.repeated for one in told) / len(took):.0%} run again",
            f"one replica {first:.0f}; {os.cpu_count()} cores for server and all",
            f"{rate / first:.2f} x",
        )


async def test_connections_of_a_replica(table, durable, tmp_path):
    name = durable.create()
    asked = f"SELECT count(*) FROM pg_stat_activity WHERE datname = '{name}' AND pid <> pg_backend_pid()"
    async with BotApi(pace=1000) as api:
        api.private(501)
        service = await Replica(api, durable.url(name), tmp_path, 1).start()
        try:
            with bare(durable.url(name)) as raw:
                await until(lambda: service.delivers)
                begun = raw.number(asked)
                sent = range(1, 41)
                await asyncio.gather(*(service.deliver(n, "what goes on the neck ring?") for n in sent))
                held = raw.number(asked)
        finally:
            await service.stop()
    durable.drop(name)
    most = WRITERS + READERS + HELM
    table.row(
        Place.REPLICAS,
        "connections of a replica to PostgreSQL",
        f"{begun} at the start, {held} after {len(sent)} messages at once",
        f"at most {most} by its pools",
    )
    assert held <= most
