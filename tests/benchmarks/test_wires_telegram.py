"""Telegram against the stand-in of its Bot API: `pytest tests/benchmarks -m benchmark -s -n 0`. Ratios to a baseline, never a gate.

The baselines: the rate that the wire allows, and the same library with nothing behind it, one message fetched and one
sent back, in the same run.
"""

import asyncio
import statistics
import time
from collections import Counter
from contextlib import closing, contextmanager
from datetime import timedelta

import pytest
from sqlalchemy import event

from scheduler.plan import refresh
from scheduler.tick import tick
from store import items, lockers
from store.catalogue import ItemFacts
from store.engine import Store, sqlite_url
from store.vocabulary import ItemKind
from tests.benchmarks.measure import Place, of, percentile
from tests.conftest import START
from tests.wires.bot_api import BotApi
from tests.wires.bot_api_client import client
from tests.wires.bot_api_limits import ALL_RATE
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import ILKA, telegram_up

pytestmark = pytest.mark.benchmark

RUNS = ((1, 1_500), (10, 1_000))
"""How many times faster than in life the wire lets messages through, and to how many chats they go."""
MESSAGES = 300
FIRST, OTHERS = 10_000, 50_000
FLOOD, CHATS = 60, 120
"""What one chat writes at once, and how many others write once after it."""
DAY = (
    "2 dives today, salt, 30 m",
    "what do I put on the neck ring?",
    "what is due?",
    "brushed the zip",
    "undo",
)


def fill(store, now, chats):
    """Give each of many chats one thing that is due; return when it is."""

    def unit(session):
        for n in range(chats):
            chat = lockers.open_chat(session, "telegram", str(FIRST + n), now)
            items.add(
                session, chat.locker_id, ItemKind.BAG, "bag", facts=ItemFacts(), on=now.date(), by="mara"
            )
            session.flush()
            refresh(session, chat, now)

    store.write(unit)
    return now + timedelta(days=200)


@pytest.mark.parametrize(("pace", "chats"), RUNS)
async def test_reminders_at_the_rate_that_the_wire_allows(table, store, pace, chats):
    clock, allowed = LiveClock(START), ALL_RATE * pace
    clock.set(fill(store, START, chats).replace(hour=18))
    async with telegram_up(store, clock, pace=pace) as up:
        for n in range(chats):
            up.api.private(FIRST + n)
        begun, used = time.perf_counter(), time.process_time()
        with commits(store) as stored:
            sent = await tick(store, up.bot.wires, clock)
        took, used = time.perf_counter() - begun, time.process_time() - used
        at = sorted(message.at for message in up.api.sent)
        got = Counter(message.chat_id for message in up.api.sent)
        span = at[-1] - at[0]
    rate, twice = (len(at) - 1) / span, sum(got.values()) - len(got)
    in_life = pace == 1
    table.row(
        Place.DELIVERY if in_life else Place.BESIDE,
        f"reminders on Telegram to {chats:,} chats"
        + ("" if in_life else f" where the wire takes {pace} x as many"),
        f"{rate:.1f} a second; {len(up.api.refusals)} refused, {chats - len(got)} lost, {twice} twice;"
        f" {len(stored) / chats:.1f} commits each, CPU {used / took:.0%} of a core with the stand-in",
        f"the wire allows {allowed:.0f} a second",
        f"{rate / allowed:.1%}",
        goal="at least 95 %, none refused" if in_life else "",
        met=rate / allowed >= 0.95 and not up.api.refusals if in_life else None,
    )
    assert (sent, len(got), twice) == (chats, chats, 0)


@contextmanager
def commits(store):
    """Count the transactions that are stored meanwhile: a bare commit is the least that each takes."""
    found = []
    note = found.append
    event.listen(store._engine, "commit", note)
    try:
        yield found
    finally:
        event.remove(store._engine, "commit", note)


async def waited(path, flood):
    """Return the seconds until each of many chats has its answer, after one chat said so many things before them."""
    others = [OTHERS + n for n in range(CHATS)]
    with closing(Store(sqlite_url(path))) as store:
        async with telegram_up(store, LiveClock(START), pace=1) as up:
            return await hear(up, others, flood)


async def hear(up, others, flood):
    for chat in others:
        up.api.private(chat)
    begun = time.monotonic()
    for chat in (*[ILKA] * flood, *others):
        up.api.say(chat, chat, "what do I put on the neck ring?")
    took = {}
    while len(took) < CHATS:
        assert time.monotonic() < begun + 60
        for chat in others:
            if chat not in took and up.api.chats[chat].sent:
                took[chat] = time.monotonic() - begun
        await asyncio.sleep(0.005)
    return list(took.values()), len(up.api.chats[ILKA].sent)


async def test_one_chat_that_floods_beside_many(table, tmp_path):
    alone, _ = await waited(tmp_path / "alone.db", 0)
    beside, answered = await waited(tmp_path / "beside.db", FLOOD)
    table.row(
        Place.DELIVERY,
        f"{CHATS} chats hear an answer behind one chat that wrote {FLOOD} times, Telegram",
        f"median {statistics.median(beside):.1f} s, last {max(beside):.1f} s; the one heard {answered} meanwhile",
        f"without that one: median {statistics.median(alone):.1f} s, last {max(alone):.1f} s",
        f"{max(beside) / max(alone):.2f} x",
        goal="fair between chats",
        met=max(beside) < 2 * max(alone),
    )


async def echo(api, texts):
    """Return the milliseconds from update to answer of a bot that fetches, sends back and fetches on."""
    async with client(api) as bot:

        async def listen():
            offset = 0
            while True:
                for update in await bot.get_updates(offset=offset, timeout=25):
                    await bot.send_message(update.message.chat.id, update.message.text)
                    offset = update.update_id + 1

        listening = asyncio.create_task(listen())
        took = [await answered(api, text) for text in texts]
        listening.cancel()
        await asyncio.gather(listening, return_exceptions=True)
    return took


async def answered(api, text):
    """Say something and return the milliseconds until an answer stands in the chat."""
    before = len(api.chats[ILKA].sent)
    begun = time.perf_counter()
    api.say(ILKA, ILKA, text)
    end = begun + 20
    while len(api.chats[ILKA].sent) == before:
        assert time.perf_counter() < end, f"no answer to {text!r}"
        await asyncio.sleep(0.0002)
    return (time.perf_counter() - begun) * 1000


async def test_message_from_update_to_answer(table, store):
    texts = [DAY[n % len(DAY)] for n in range(MESSAGES)]
    async with telegram_up(store, LiveClock(START), pace=1000) as up:
        await answered(up.api, "add dry suit, plastic zip, latex seals")
        ours = []
        with commits(store) as stored:
            for text in texts:
                ours.append(await answered(up.api, text))
                await until(lambda: not up.api.updates.pending)
    async with BotApi(pace=1000) as api:
        api.private(ILKA)
        bare = await echo(api, texts)
    half, bare_half = statistics.median(ours), statistics.median(bare)
    table.row(
        Place.BESIDE,
        "from update to answer, Telegram",
        f"{of(ours)}; {len(stored) / MESSAGES:.1f} commits each, {len(up.api.refusals)} refused",
        f"a bare echo by the same library {of(bare)}",
        f"{half / bare_half:.1f} x, p99 {percentile(ours, 0.99) / percentile(bare, 0.99):.1f} x",
    )
