"""Telegram against the stand-in of its Bot API: `pytest tests/benchmarks -m benchmark -s -n 0`. Ratios to a baseline, never a gate.

The baselines: the rate that the wire allows, and the same library with nothing behind it, one message fetched and one
sent back, in the same run.
"""

import asyncio
import statistics
import time
from collections import Counter
from datetime import timedelta

import pytest

from scheduler.plan import refresh
from scheduler.tick import tick
from store import items, lockers
from store.catalogue import ItemFacts
from store.vocabulary import ItemKind
from tests.benchmarks.test_speed import percentile
from tests.conftest import START
from tests.wires.bot_api import BotApi
from tests.wires.bot_api_client import client
from tests.wires.bot_api_limits import ALL_RATE
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import ILKA, telegram_up

pytestmark = pytest.mark.benchmark

RUNS = ((1, 3_000), (10, 1_000))
"""How many times faster than in life the wire lets messages through, and to how many chats they go."""
MESSAGES = 500
FIRST = 10_000
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
async def test_reminders_at_the_rate_that_the_wire_allows(store, pace, chats):
    clock, allowed = LiveClock(START), ALL_RATE * pace
    clock.set(fill(store, START, chats).replace(hour=18))
    async with telegram_up(store, clock, pace=pace) as up:
        for n in range(chats):
            up.api.private(FIRST + n)
        begun, used = time.perf_counter(), time.process_time()
        sent = await tick(store, up.bot.wires, clock)
        took, used = time.perf_counter() - begun, time.process_time() - used
        at = sorted(message.at for message in up.api.sent)
        got = Counter(message.chat_id for message in up.api.sent)
        span = at[-1] - at[0]
    rate = (len(at) - 1) / span
    print(
        f"\nreminders: {sent} of {chats} in {took:.1f} s, {rate:.0f} a second, {100 * rate / allowed:.1f} %"
        f" of the {allowed:.0f} allowed; {len(up.api.refusals)} refused, {chats - len(got)} lost,"
        f" {sum(got.values()) - len(got)} twice; CPU of bot and stand-in {100 * used / took:.0f} % of one core"
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


async def test_message_from_update_to_answer(store):
    texts = [DAY[n % len(DAY)] for n in range(MESSAGES)]
    async with telegram_up(store, LiveClock(START), pace=1000) as up:
        await answered(up.api, "add dry suit, plastic zip, latex seals")
        ours = []
        for text in texts:
            ours.append(await answered(up.api, text))
            await until(lambda: not up.api.updates.pending)
    async with BotApi(pace=1000) as api:
        api.private(ILKA)
        bare = await echo(api, texts)
    half, most = statistics.median(ours), percentile(ours, 0.99)
    print(
        f"\nupdate to answer: median {half:.1f} ms, p99 {most:.1f} ms;"
        f" a bare echo {statistics.median(bare):.1f} ms, p99 {percentile(bare, 0.99):.1f} ms:"
        f" {half / statistics.median(bare):.1f} x and {most / percentile(bare, 0.99):.1f} x; {len(up.api.refusals)} refused"
    )
