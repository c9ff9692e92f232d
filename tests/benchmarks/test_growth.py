"""How cost grows with lockers, dives and kit, and how much room they take: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate."""

import shutil
import statistics
import subprocess
import sys
import time
from contextlib import closing
from datetime import timedelta
from itertools import count

import pytest

from bot.conversation import Conversation, Update
from store import items, lockers
from store.catalogue import ItemFacts
from store.engine import Store, sqlite_url
from store.exchange.backup import file_of
from store.tables import Dive, DiveItem
from store.vocabulary import ItemKind
from tests.benchmarks.measure import Place, slope, talkers, timed
from tests.benchmarks.rows import address_of
from tests.benchmarks.talker import held_mb
from tests.benchmarks.test_speed import DAY, KIT
from tests.conftest import START
from tests.wires.bot_api import BotApi
from tests.wires.harness import until
from tests.wires.test_replicas import Replica

pytestmark = pytest.mark.benchmark
LOCKERS = (100, 1_000, 10_000, 100_000)
ENTRIES = (10, 100, 1_000, 5_000)
ITEMS = (5, 20, 60)
ROUNDS, MESSAGES = 20, 40
PLAIN = {ItemKind.MASK, ItemKind.FINS, ItemKind.BOOTS, ItemKind.HOOD, ItemKind.BAG, ItemKind.REEL}
"""Kit of the third and every further five."""


def clock(store: Store, chat: str, rounds: int = ROUNDS) -> tuple[float, float]:
    """Talk in a chat and return the medians of a message: milliseconds, and those of CPU."""
    talk, took, used = Conversation(store, map(f"{chat} {{}}".format, count()).__next__), [], []
    for n in range(rounds * len(DAY)):
        at = START + timedelta(minutes=n)
        text = list(DAY.values())[n % len(DAY)]
        update = Update("bench", chat, chat, at, text=text, update_id=f"{chat}/{n}")
        begun = time.process_time()
        took.append(timed(lambda u=update: talk.take(u)))
        used.append((time.process_time() - begun) * 1000)
    half = len(took) // 2
    return statistics.median(took[half:]), statistics.median(used[half:])


def add_kit(store: Store, chat: str) -> None:
    talk = Conversation(store, map(f"{chat} kit {{}}".format, count()).__next__)
    for line in KIT:
        talk.take(Update("bench", chat, chat, START, text=line))


def grown(table, what: str, sizes: tuple[int, ...], found: list[tuple[float, float]]) -> None:
    used = [cpu for _, cpu in found]
    table.row(
        Place.GROWTH,
        f"a message at {' / '.join(f'{n:,}' for n in sizes)} {what}: CPU ms",
        " / ".join(f"{cpu:.1f}" for cpu in used),
        f"{used[0]:.1f} at {sizes[0]:,}",
        f"{used[-1] / used[0]:.1f} x, exponent {slope(sizes, used):.2f}; wall {found[-1][0] / found[0][0]:.1f} x",
    )


def test_message_by_lockers_in_the_database(table, file_of_size, tmp_path):
    found = []
    for size in LOCKERS:
        path = tmp_path / "kit.db"
        shutil.copy(file_of_size(size), path)
        with closing(Store(sqlite_url(path))) as store:
            add_kit(store, "deck")
            found.append(clock(store, "deck"))
        for file in tmp_path.glob("kit.db*"):
            file.unlink()
    grown(table, "lockers in the file", LOCKERS, found)


def test_message_by_dives_in_the_locker(table, store):
    found = []
    for size in ENTRIES:
        chat = f"log of {size}"
        add_kit(store, chat)

        def log(session, chat=chat, size=size):
            locker_id = lockers.at_address(session, "bench", chat).locker_id
            kit = [lockers.number(item.id) for item in items.of_locker(session, locker_id)]
            told = [
                Dive(locker_id=locker_id, on=START.date() - timedelta(days=1 + n // 4), dives=1, water="salt",
                     duration_min=45, conditions=[], logged_at=START, logged_by=f"bench:{chat}")
                for n in range(size)
            ]  # fmt: skip
            session.add_all(told)
            session.flush()
            session.add_all(DiveItem(dive_id=dive.id, item_id=item) for dive in told for item in kit)

        store.write(log)
        found.append(clock(store, chat, 10))
    grown(table, "entries in the log of the locker, five items", ENTRIES, found)


def test_message_by_items_in_the_locker(table, store):
    found = []
    for size in ITEMS:
        chat = f"kit of {size}"
        add_kit(store, chat)

        def more(session, chat=chat, size=size):
            locker_id = lockers.at_address(session, "bench", chat).locker_id
            kinds = sorted(PLAIN)
            for n in range(size - len(KIT)):
                kind = kinds[n % len(kinds)]
                items.add(
                    session, locker_id, kind, f"{kind.value} {n}", facts=ItemFacts(), on=START.date(), by=chat
                )

        store.write(more)
        found.append(clock(store, chat, 10))
    grown(table, "items in the locker", ITEMS, found)


def test_room_of_a_locker_and_of_a_message(table, store):
    def size_kb() -> float:
        store.read(lambda s: s.connection().exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)").all())
        return file_of(store.url).stat().st_size / 1e3

    people, empty = [f"deck {n}" for n in range(15)], size_kb()
    for chat in people:
        add_kit(store, chat)
    begun = size_kb()
    talk = Conversation(store, map(str, count()).__next__)
    said = [text for text in DAY.values() if text != "undo"]
    for n in range(MESSAGES):
        for chat in people:
            at = START + timedelta(days=n // 5, minutes=n)
            talk.take(Update("bench", chat, chat, at, text=said[n % len(said)], update_id=f"{chat}/{n}"))
    table.row(
        Place.GROWTH,
        "room of a locker in the file",
        f"{(begun - empty) / len(people):.0f} kB with five items",
        f"{empty:.0f} kB, an empty database",
    )
    table.row(
        Place.GROWTH,
        "room of a message in the file",
        f"{(size_kb() - begun) / len(people) / MESSAGES:.2f} kB",
        f"its words, {statistics.mean(map(len, said)) / 1000:.2f} kB",
    )


def test_memory_of_a_process_that_talks(table, file_of_size, tmp_path):
    held = []
    for size in (LOCKERS[0], LOCKERS[-1]):
        path = tmp_path / f"{size}.db"
        shutil.copy(file_of_size(size), path)
        chats = [address_of(n) for n in range(40)]
        job = {"url": sqlite_url(path), "writers": 1, "senders": 1, "chats": chats, "each": 4}
        _, (told,) = talkers([job])
        held.append(told.rss_mb)
        path.unlink()
    table.row(
        Place.GROWTH,
        f"memory of a process that talks, {LOCKERS[0]:,} / {LOCKERS[-1]:,} lockers in the file",
        " / ".join(f"{mb:.0f} MB" for mb in held),
        f"bare interpreter {bare_mb():.0f} MB",
        f"{held[-1] / held[0]:.2f} x",
    )
    assert held[-1] < held[0] * 1.5


def bare_mb() -> float:
    """Return what an interpreter holds that does nothing."""
    waits = [sys.executable, "-c", "print(flush=True); input()"]
    with subprocess.Popen(waits, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as run:
        run.stdout.readline()
        held = held_mb(run.pid)
        run.communicate(b"\n")
    return held


async def test_memory_of_the_service(table, store, tmp_path):
    async with BotApi(pace=1000) as api:
        api.private(501)
        service = await Replica(api, store.url, tmp_path, 1).start()
        try:
            idle = held_mb(service._run.pid)
            texts = [*KIT, *list(DAY.values()) * 20]
            for n, text in enumerate(texts, 1):
                await service.deliver(n, text)
            await until(lambda: len(api.chat(501)) > 1)
            busy = held_mb(service._run.pid)
        finally:
            await service.stop()
    table.row(
        Place.GROWTH,
        "memory of `rinsetank serve` with Telegram",
        f"{idle:.0f} MB at the start, {busy:.0f} MB after {len(texts)} messages",
        f"bare interpreter {bare_mb():.0f} MB",
        f"{busy / bare_mb():.0f} x",
    )
