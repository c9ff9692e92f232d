"""PostgreSQL beside SQLite, both durable, against bare commits of the same run: `pytest tests/benchmarks -m benchmark -s -n 0`."""

import sqlite3
import statistics
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from functools import partial
from itertools import count

import psycopg
import pytest

from bot.conversation import Conversation, Update
from scheduler.sweep import sweep
from store import items, lockers, outbox
from store.catalogue import ItemFacts
from store.engine import Store, sqlite_url
from store.vocabulary import ItemKind
from tests.conftest import START
from tests.postgres import Server, name_of

pytestmark = pytest.mark.benchmark
KIT = (
    "add dry suit, plastic zip, latex seals",
    "add twinset 32%",
    "add regulator set 32%",
    "add canister light",
)
DAY = ("2 dives today, salt, 30 m, 45 min each", "what is due?", "brushed the zip", "undo")
MESSAGES, CHATS, SENDERS, EACH = 200, 40, 8, 4
LOCKERS, TASKS, DUE = 10_000, 10, 1_000


def timed(work: Callable[[], object]) -> float:
    """Return milliseconds."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def of(values: list[float]) -> str:
    ordered = sorted(values)
    return f"median {statistics.median(ordered):.1f} ms, p99 {ordered[int(len(ordered) * 0.99)]:.1f} ms"


@pytest.fixture(scope="module")
def durable():
    server = Server(durable=True)
    yield server
    server.close()


@pytest.fixture
def urls(durable, tmp_path):
    """Return the URL of an empty database of each kind."""
    name = durable.create()
    yield {"SQLite": sqlite_url(tmp_path / "bench.db"), "PostgreSQL": durable.url(name)}
    durable.drop(name)


def raw_commits(durable, urls, tmp_path) -> dict[str, float]:
    """Return the median of a bare durable commit of each kind."""
    with closing(sqlite3.connect(tmp_path / "raw.db", isolation_level=None)) as raw:
        for told in ("PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL", "CREATE TABLE t (a)"):
            raw.execute(told)
        lite = [timed(lambda: raw.execute("INSERT INTO t VALUES (1)")) for _ in range(300)]
    with psycopg.connect(durable.conninfo(name_of(urls["PostgreSQL"])), autocommit=True) as bare:
        bare.execute("CREATE TEMP TABLE t (a int)")
        bare.execute("CREATE TABLE raw (a int)")
        full = [timed(lambda: bare.execute("INSERT INTO raw VALUES (1)")) for _ in range(300)]
        bare.execute("DROP TABLE raw")
    return {"SQLite": statistics.median(lite), "PostgreSQL": statistics.median(full)}


def talk(store: Store) -> Conversation:
    return Conversation(store, map(str, count()).__next__)


def say(replica: Conversation, chat: str, n: int, text: str) -> None:
    replica.take(
        Update("bench", chat, chat, START + timedelta(minutes=n), text=text, update_id=f"{chat}/{n}")
    )


def test_message_through_the_pipeline(durable, urls, tmp_path):
    for kind, url in urls.items():
        with closing(Store(url)) as store:
            replica, n = talk(store), count()
            for line in KIT:
                say(replica, "deck", next(n), line)
            took = [timed(partial(say, replica, "deck", next(n), DAY[i % len(DAY)])) for i in range(MESSAGES)]
        if kind == "SQLite":
            before = statistics.median(took[20:])
        print(f"\none message on {kind}: {of(took[20:])}", end="")
    print(f"; {statistics.median(took[20:]) / before:.1f} x SQLite")
    print("a bare commit:", {k: f"{v:.2f} ms" for k, v in raw_commits(durable, urls, tmp_path).items()})


@pytest.mark.parametrize("writers", [1, 2, 4])
def test_throughput_by_writers(urls, writers):
    with closing(Store(urls["PostgreSQL"], writers=writers)) as store, ThreadPoolExecutor(SENDERS) as pool:
        replica = talk(store)

        def season(share: int) -> None:
            for n in range(EACH):
                for chat in range(share, CHATS, SENDERS):
                    say(replica, str(chat), n, KIT[0] if n == 0 else DAY[(n - 1) % len(DAY)])

        took_s = timed(lambda: list(pool.map(season, range(SENDERS)))) / 1000
        print(
            f"\n{writers} writers: {CHATS * EACH / took_s:.0f} messages a second, "
            f"{store.repeated} runs of {CHATS * EACH} met another"
        )


def test_sweep_of_many_tasks(durable, urls):
    with closing(Store(urls["PostgreSQL"])) as store:

        def fill(session) -> int:
            chat = lockers.open_chat(session, "bench", "deck", START)
            items.add(
                session, chat.locker_id, ItemKind.BAG, "bag", facts=ItemFacts(), on=START.date(), by="m"
            )
            return chat.locker_id

        store.write(fill)
        with psycopg.connect(durable.conninfo(name_of(urls["PostgreSQL"])), autocommit=True) as raw:
            for table, own in (
                ("locker", "id"),
                ("chat", "id, address, locker_id"),
                ("item", "id, locker_id"),
            ):
                columns = [
                    name
                    for (name,) in raw.execute(
                        "SELECT column_name FROM information_schema.columns WHERE table_name = %s", (table,)
                    )
                ]
                as_copy = {"id": "1 + n", "address": "n::text", "locker_id": "1 + n"}
                values = ", ".join(as_copy[c] if c in own.split(", ") else f'"{c}"' for c in columns)
                names = ", ".join(f'"{c}"' for c in columns)
                raw.execute(
                    f"INSERT INTO {table} ({names}) SELECT {values} FROM {table}, generate_series(1, {LOCKERS - 1}) n"
                )
            raw.execute(
                "INSERT INTO care_task (locker_id, item_id, part, rule, task, critical, cause, due_on, notify_at, changed_at)"
                f" SELECT n, n, t::text, 'spray_bag_zip', 'lubricate', false, '', DATE '{START.date()}',"
                f" TIMESTAMPTZ '{START.isoformat()}' + CASE WHEN t = 1 AND n %% {LOCKERS // DUE} = 0 THEN -1 ELSE n END * INTERVAL '1 minute',"
                f" TIMESTAMPTZ '{START.isoformat()}' FROM generate_series(1, {LOCKERS}) n, generate_series(1, {TASKS}) t".replace(
                    "%%", "%"
                )
            )
            raw.execute("ANALYZE")
            read = [
                timed(
                    lambda: raw.execute("SELECT id FROM care_task WHERE notify_at <= %s", (START,)).fetchall()
                )
                for _ in range(5)
            ]
        took = timed(lambda: store.write(lambda s: sweep(s, START)))
        claimed = timed(lambda: store.write(lambda s: outbox.claim(s, START, DUE, ["bench"])))
        print(
            f"\na sweep of {LOCKERS * TASKS} tasks, {DUE} due, on PostgreSQL: {took:.0f} ms, claimed in {claimed:.0f} ms; "
            f"{took / statistics.median(read):.0f} x a bare indexed read"
        )
