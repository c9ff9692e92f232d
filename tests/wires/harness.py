"""One way to talk to the bot over each wire, so that one suite holds for all of them."""

import asyncio
import re
import time
from collections.abc import AsyncIterator, Callable
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Protocol

import pytest
from sqlmodel import select

from bot.access import Access
from bot.conversation import Conversation
from bot.main import token
from bot.transports.console import Console, ConsoleCourier
from bot.transports.matrix import Matrix
from bot.transports.matrix_account import Account
from bot.transports.telegram import Telegram
from bot.wires import Wires
from scheduler.clock import SetClock
from scheduler.limits import TELEGRAM, Allowance, Pacer
from scheduler.post import Postman
from scheduler.tick import tick
from store.engine import Store
from store.tables import Letter
from tests.wires.bot_api import BotApi
from tests.wires.bot_api_client import client
from tests.wires.homeserver import Homeserver
from tests.wires.matrix_person import Person

both = pytest.mark.parametrize(
    "encrypted", [pytest.param(False, id="plain", marks=pytest.mark.long), pytest.param(True, id="encrypted")]
)
"""Rooms of both kinds: a room that is encrypted has all that a plain one has, and that is tried too where there is time."""
FAST = 20
"""How many times faster than in life the stand-in lets messages through."""


class LiveClock(SetClock):
    """A clock that is set and then goes on as time does: what is to be tried again in a second is."""

    def __init__(self, at: datetime) -> None:
        super().__init__(at)
        self._since = time.monotonic()

    def now(self) -> datetime:
        return super().now() + timedelta(seconds=time.monotonic() - self._since)

    def set(self, at: datetime) -> None:
        self._at, self._since = at.astimezone(UTC), time.monotonic()


@dataclass(frozen=True)
class Shown:
    """A message of the bot as a person sees it now."""

    text: str
    buttons: tuple[str, ...] = ()
    files: tuple[tuple[str, bytes], ...] = ()


def plain_text(shown: list[Shown]) -> str:
    """Return all that was said as one text."""
    return "\n".join(s.text for s in shown)


class Wire(Protocol):
    """A person in a chat of their own with the bot."""

    store: Store
    clock: SetClock

    async def say(self, text: str) -> Shown:
        """Say something and return the answer."""
        ...

    async def tap(self, label: str) -> Shown:
        """Tap the newest button with that label, or do what this wire has instead, and return what it led to."""
        ...

    async def send_file(self, name: str, content: bytes) -> Shown:
        """Send a file and return the answer."""
        ...

    async def shown(self) -> list[Shown]:
        """Return all that the bot has said, as it now stands."""
        ...

    async def ring(self) -> list[Shown]:
        """Let the scheduler ring once, and return the reminders that came."""
        ...


async def until(found: Callable[[], Any], timeout: float = 120.0) -> Any:  # noqa: ASYNC109
    """Wait until something is found and return it; only what never comes takes as long as is waited at most."""
    end = asyncio.get_running_loop().time() + timeout
    while not (seen := found()):
        if asyncio.get_running_loop().time() > end:
            raise AssertionError("waited in vain")
        await asyncio.sleep(0.01)
    return seen


_BUTTON = re.compile(r"\[(\d+)\] (.+?)(?=  \[\d+\] |$)", re.MULTILINE)


def split_buttons(text: str) -> tuple[str, tuple[str, ...]]:
    """Return a text without its numbered choices, and those."""
    labels = tuple(label for _, label in _BUTTON.findall(text))
    return "\n".join(x for x in text.splitlines() if not _BUTTON.match(x)).strip(), labels


@dataclass
class OnConsole:
    """At the terminal."""

    store: Store
    clock: SetClock
    folder: Path
    _said: list[Shown] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._conversation = Conversation(self.store, token)
        self._console = Console(
            self.store, self._conversation, self.clock, "ilka", "Europe/Berlin", files=self.folder
        )

    async def say(self, text: str) -> Shown:
        return self._keep(self._console.answer(text))

    async def tap(self, label: str) -> Shown:
        numbered = [n for n, b in enumerate(self._said[-1].buttons, 1) if b == label]
        return self._keep(self._console.answer(str(numbered[0]) if numbered else label))

    async def send_file(self, name: str, content: bytes) -> Shown:
        path = self.folder / name
        self.folder.mkdir(exist_ok=True)
        path.write_bytes(content)
        return self._keep(self._console.answer(f"import {path}"))

    async def shown(self) -> list[Shown]:
        return list(self._said)

    async def ring(self) -> list[Shown]:
        before = len(self._said)
        courier = ConsoleCourier(
            self._conversation, self.clock, lambda reply: self._keep(self._console.shown(reply))
        )
        await tick(self.store, courier, self.clock)
        return self._said[before:]

    def _keep(self, answer: str) -> Shown:
        lines = answer.splitlines()
        paths = [Path(x.removeprefix("[file] ")) for x in lines if x.startswith("[file] ")]
        text, labels = split_buttons("\n".join(x for x in lines if not x.startswith("[file] ")))
        files = tuple((p.name, p.read_bytes()) for p in paths)
        self._said.append(Shown(text, labels, files))
        return self._said[-1]


class Running:
    """The bot on one wire: listening, answering, reminding."""

    def __init__(self, store: Store, clock: SetClock, access: Access | None = None) -> None:
        self.store, self.clock = store, clock
        self.conversation = Conversation(store, token, access=access)
        self.wires = Wires(store, self.conversation, clock)
        self.tasks: list[asyncio.Task[None]] = []

    def start(self, wire: str, line: Any, postman: Postman, listening: Any) -> None:
        """Begin to listen and to send."""
        self.wires.open(wire, line)
        self.tasks = [asyncio.create_task(listening), asyncio.create_task(postman.run())]

    async def stop(self) -> None:
        """End what runs, as a stop of the service does."""
        for task in self.tasks:
            task.cancel()
        await asyncio.gather(*self.tasks, return_exceptions=True)


@dataclass
class OnTelegram:
    """In a private chat on the stand-in of the Bot API."""

    api: BotApi
    bot: Running
    line: Telegram
    person: int = 501

    @property
    def store(self) -> Store:
        return self.bot.store

    @property
    def clock(self) -> SetClock:
        return self.bot.clock

    async def say(self, text: str) -> Shown:
        return await self._after(lambda: self.api.say(self.person, self.person, text))

    async def tap(self, label: str) -> Shown:
        message = next(
            m
            for m in reversed(self.api.chat(self.person))
            if any(b == label for row in m.buttons for b, _ in row)
        )
        return await self._after(
            lambda: self.api.tap(self.person, self.person, message.message_id, label), of=message.message_id
        )

    async def send_file(self, name: str, content: bytes) -> Shown:
        return await self._after(lambda: self.api.send_document(self.person, self.person, name, content))

    async def shown(self) -> list[Shown]:
        return _grouped(
            [
                (m.text, m.buttons, m.document or (m.photo and ("photo", m.photo)))
                for m in self.api.chat(self.person)
            ]
        )

    async def ring(self) -> list[Shown]:
        before = len(self.api.chat(self.person))
        await tick(self.store, self.bot.wires, self.clock)
        return (await self.shown())[before:]

    async def _after(self, act: Callable[[], object], of: int | None = None) -> Shown:
        """Act, and return the message that came of it: a new one, or the one that was edited."""
        before = {m.message_id: m.edits for m in self.api.chat(self.person)}
        act()

        def news() -> list[Any]:
            return [m for m in self.api.chat(self.person) if before.get(m.message_id, -1) != m.edits]

        await until(lambda: news() and not self.store.read(_waiting))
        return _grouped(
            [(m.text, m.buttons, m.document or (m.photo and ("photo", m.photo))) for m in news()]
        )[-1]


def _grouped(messages: list[Any]) -> list[Shown]:
    """Put the files that follow a text with that text."""
    found: list[Shown] = []
    for text, rows, document in messages:
        if document is not None and not text and found:
            last = found[-1]
            found[-1] = Shown(last.text, last.buttons, (*last.files, document))
        else:
            found.append(Shown(text, tuple(label for row in rows for label, _ in row)))
    return found


def _waiting(session: Any) -> bool:
    return session.exec(select(Letter.id)).first() is not None


@asynccontextmanager
async def on_telegram(
    store: Store, clock: SetClock, *, access: Access | None = None, pace: float = FAST
) -> AsyncIterator[OnTelegram]:
    """Run the bot on the stand-in."""
    async with BotApi(pace=pace) as api:
        api.private(501, "Ilka")
        running = Running(store, clock, access)
        wire, _ = await start_telegram(api, running, pace)
        try:
            yield OnTelegram(api, running, wire)
        finally:
            await running.stop()
            await wire.close()


async def start_telegram(api: BotApi, running: Running, pace: float = FAST) -> tuple[Telegram, Postman]:
    """Bring the bot up on a stand-in."""
    postman = Postman(running.store, "telegram", running.wires, running.clock)
    paced = Pacer(TELEGRAM, lambda: time.monotonic() * pace, lambda s: asyncio.sleep(s / pace))
    line = Telegram(client(api), running.conversation, running.clock, paced, postman.ring)
    await line.open()
    running.start("telegram", line, postman, line.poll())
    return line, postman


@dataclass
class OnMatrix:
    """In a direct room on a real homeserver."""

    person: Person
    room: str
    bot: Running
    line: Matrix
    _files: dict[str, tuple[str, bytes]] = field(default_factory=dict)

    @property
    def store(self) -> Store:
        return self.bot.store

    @property
    def clock(self) -> SetClock:
        return self.bot.clock

    async def say(self, text: str) -> Shown:
        return await self._after(lambda: self.person.say(self.room, text))

    async def tap(self, label: str) -> Shown:
        standing = [m for m in self.person.standing(self.room) if label in split_buttons(m.body)[1]]
        message = standing[-1]
        place = split_buttons(message.body)[1].index(label) + 1
        return await self._after(lambda: self.person.say(self.room, str(place), reply_to=message.event_id))

    async def send_file(self, name: str, content: bytes) -> Shown:
        return await self._after(
            lambda: self.person.send_file(self.room, name, content, "application/octet-stream")
        )

    async def shown(self) -> list[Shown]:
        found: list[Shown] = []
        for message in self.person.standing(self.room):
            if message.file is not None and found:
                if message.event_id not in self._files:
                    self._files[message.event_id] = (message.body, await self.person.download(message))
                last = found[-1]
                found[-1] = Shown(last.text, last.buttons, (*last.files, self._files[message.event_id]))
            else:
                found.append(Shown(*split_buttons(message.body)))
        return found

    async def ring(self) -> list[Shown]:
        await self.person.sync()
        before = len(await self.shown())
        await tick(self.store, self.bot.wires, self.clock)
        await self.person.sync(200)
        return (await self.shown())[before:]

    async def _after(self, act: Callable[[], Any]) -> Shown:
        before = len(self._messages())
        await act()
        await self.person.wait_for(lambda: len(self._messages()) > before and not self.store.read(_waiting))
        await self.person.sync(50)
        last = self._messages()[-1]
        standing = self.person.standing(self.room)
        shown = await self.shown()
        if last.replaces is not None:
            texts = [m for m in standing if m.file is None]
            return shown[[m.event_id for m in texts].index(last.replaces)]
        return shown[-1]

    def _messages(self) -> list[Any]:
        return [m for m in self.person.seen(self.room) if m.reacts_to is None]


@asynccontextmanager
async def on_matrix(
    homeserver: Homeserver,
    store: Store,
    clock: SetClock,
    folder: Path,
    *,
    encrypted: bool,
    access: Access | None = None,
) -> AsyncIterator[OnMatrix]:
    """Run the bot on a homeserver, in a room of two."""
    unique = folder.name.replace("_", "-")[:20].lower() + token()[:6].lower().replace("_", "-")
    async with AsyncExitStack() as stack:
        person = await stack.enter_async_context(Person(homeserver, f"ilka-{unique}", folder))
        homeserver.register(f"rinse-{unique}", "kelp")
        running = Running(store, clock, access)
        line = await start_matrix(homeserver, f"rinse-{unique}", folder / "bot", running)
        stack.push_async_callback(line.close)
        stack.push_async_callback(running.stop)
        room = await person.direct(line.client.user_id, encrypted=encrypted)
        wire = OnMatrix(person, room, running, line)
        await person.wait_for(lambda: bool(person.seen(room)))
        yield wire


async def start_matrix(
    homeserver: Homeserver, name: str, folder: Path, running: Running, **options: Any
) -> Matrix:
    """Bring the bot up on a homeserver."""
    postman = Postman(running.store, "matrix", running.wires, running.clock)
    account = Account(homeserver.url, homeserver.user_id(name), folder, password="kelp")
    line = Matrix(
        account,
        running.conversation,
        running.store,
        running.clock,
        pacer=Pacer(Allowance(200)),
        ring=postman.ring,
        **options,
    )
    await line.open()
    running.start("matrix", line, postman, line.listen())
    return line
