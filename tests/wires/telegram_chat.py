"""What the tests of Telegram share: who takes part, waiting until all is said, looking at what stands."""

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any

from sqlmodel import select

from bot.transports.telegram import Telegram
from scheduler.clock import SetClock
from scheduler.limits import TELEGRAM, Pacer
from scheduler.post import Postman
from store import dives, lockers
from store.engine import Session, Store
from store.tables import Chat, Letter
from tests.wires.bot_api import BotApi
from tests.wires.bot_api_client import client
from tests.wires.harness import FAST, OnTelegram, Running, until

ILKA, MARA, OLA = 501, 502, 503
CLUB, FORUM, MOVED = -700, -1000900, -1000701
NOBODY_IN_PARTICULAR = {"id": 1087968824, "is_bot": True, "first_name": "Group"}
"""Bot API, Message: what `from` holds where somebody writes as the group."""


def waits(session: Session) -> bool:
    """Tell whether an answer has not been sent."""
    return session.exec(select(Letter.id)).first() is not None


async def settled(api: BotApi, store: Store, timeout: float = 120.0) -> None:  # noqa: ASYNC109
    """Wait until every update is confirmed and every answer sent."""
    await until(lambda: not api.updates.pending and not store.read(waits), timeout)


async def after(api: BotApi, store: Store, act: Callable[[], object]) -> list[str]:
    """Act, wait until all is said, and return what was said anew, in any chat."""
    before = len(api.sent)
    act()
    await settled(api, store)
    return [sent.text for sent in api.sent[before:]]


def texts(api: BotApi, chat: int) -> list[str]:
    """Return what the bot has said in a chat, as it now stands."""
    return [sent.text for sent in api.chat(chat)]


def firsts(api: BotApi, chat: int) -> list[str]:
    """Return the first line of each message of the bot in a chat."""
    return [text.split("\n")[0] for text in texts(api, chat)]


def chat_of(store: Store, address: int) -> Chat | None:
    """Return the chat at an address as it is stored."""
    return store.read(lambda s: lockers.at_address(s, "telegram", str(address)))


def dives_of(store: Store, address: int) -> int:
    """Return how many dives the locker of a chat holds."""

    def work(session: Session) -> int:
        chat = lockers.at_address(session, "telegram", str(address))
        return 0 if chat is None else dives.count(session, chat.locker_id)

    return store.read(work)


def calls(api: BotApi, method: str) -> int:
    """Return how often a method was called."""
    return sum(1 for name, _ in api.calls if name == method)


@dataclass
class Up:
    """The bot on the stand-in: what `OnTelegram` is for one person, with all that may be stopped and begun anew."""

    api: BotApi
    bot: Running
    line: Telegram
    postman: Postman

    @property
    def person(self) -> OnTelegram:
        """Return the hands of the person in a chat of their own."""
        return OnTelegram(self.api, self.bot, self.line, ILKA)

    async def stop(self) -> None:
        """End what runs, as a stop of the process does."""
        while running := [task for task in self.bot.tasks if not task.done()]:
            for task in running:
                task.cancel()
            await asyncio.wait(running, timeout=1)
        await self.line.close()


async def bring_up(
    api: BotApi, store: Store, clock: SetClock, webhook: tuple[str, str] | None = None, **options: Any
) -> Up:
    """Bring the bot up, as fast in all things as the stand-in is."""
    pace = api.rates.pace
    running = Running(store, clock, options.get("access"))
    postman = Postman(store, "telegram", running.wires, clock)
    pacer = Pacer(TELEGRAM, lambda: time.monotonic() * pace, lambda seconds: asyncio.sleep(seconds / pace))
    line = Telegram(options.get("client") or client(api), running.conversation, clock, pacer, postman.ring)
    await line.open(webhook)
    running.start("telegram", line, postman, asyncio.Event().wait() if webhook else line.poll())
    return Up(api, running, line, postman)


@asynccontextmanager
async def telegram_up(store: Store, clock: SetClock, pace: float = FAST, **options: Any) -> AsyncIterator[Up]:
    """Run the bot on a stand-in of its own, whose messages are dated by the clock of the test."""
    async with BotApi(pace=pace, wall=lambda: clock.now().timestamp()) as api:
        api.private(ILKA, "Ilka")
        up = await bring_up(api, store, clock, **options)
        try:
            yield up
        finally:
            await up.stop()
