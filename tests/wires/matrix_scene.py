"""The bot on a homeserver in a room of two, which can be stopped, killed and started again, behind a line that can be cut."""

import asyncio
import json
import re
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack, asynccontextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Self

from aiohttp import ClientSession, web

from bot.main import token
from bot.transports.matrix import Matrix
from bot.transports.matrix_account import Account
from scheduler.limits import Allowance, Pacer
from scheduler.post import Postman
from scheduler.tick import tick
from store.engine import Store
from tests.wires.harness import LiveClock, Running
from tests.wires.homeserver import Homeserver
from tests.wires.matrix_person import Person, Seen

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
CUT_BEFORE, CUT_AFTER, STALL_AFTER = "cut before", "cut after", "stall after"


@dataclass
class Fault:
    """What happens to requests whose method and path match: an act by name, or an answer of its own."""

    pattern: str
    act: str | tuple[int, Any, dict[str, str]]
    times: int
    met: asyncio.Event = field(default_factory=asyncio.Event)


class Cable:
    """A line between the bot and its homeserver, on loopback, which does to requests what it is told."""

    def __init__(self, target: str) -> None:
        self._target = target
        self._faults: list[Fault] = []
        self._over = asyncio.Event()
        self.url = ""
        self.seen: list[str] = []

    async def __aenter__(self) -> Self:
        self._session = ClientSession(auto_decompress=False)
        app = web.Application(client_max_size=2**26)
        app.router.add_route("*", "/{any:.*}", self._carry)
        self._runner = web.AppRunner(app, shutdown_timeout=0.1)
        await self._runner.setup()
        site = web.TCPSite(self._runner, "127.0.0.1", 0)
        await site.start()
        self.url = f"http://127.0.0.1:{self._runner.addresses[0][1]}"
        return self

    async def __aexit__(self, *_: object) -> None:
        self._over.set()
        await self._session.close()
        await self._runner.cleanup()

    def next(self, pattern: str, act: str | tuple[int, Any, dict[str, str]], times: int = 1) -> Fault:
        """Do that to the next requests of that kind."""
        self._faults.append(Fault(pattern, act, times))
        return self._faults[-1]

    def mend(self) -> None:
        """Do nothing more to any request."""
        self._faults.clear()

    def count(self, pattern: str) -> int:
        """Return how many requests of a kind reached the homeserver."""
        return sum(bool(re.search(pattern, line)) for line in self.seen)

    async def _carry(self, request: web.Request) -> web.StreamResponse:
        line = f"{request.method} {request.raw_path}"
        fault = next((f for f in self._faults if f.times and re.search(f.pattern, line)), None)
        if fault is not None:
            fault.times -= 1
        act = fault.act if fault is not None else None
        if fault is not None and not isinstance(act, str):
            fault.met.set()
            status, body, headers = act
            text = body if isinstance(body, str) else json.dumps(body)
            return web.Response(
                status=status, text=text, headers={"Content-Type": "application/json", **headers}
            )
        if act == CUT_BEFORE:
            return self._cut(request, fault)
        self.seen.append(line)
        kept = {
            k: v
            for k, v in request.headers.items()
            if k.lower() not in ("host", "content-length", "transfer-encoding")
        }
        async with self._session.request(
            request.method, self._target + request.raw_path, data=await request.read(), headers=kept
        ) as answer:
            body = await answer.read()
        if act == CUT_AFTER:
            return self._cut(request, fault)
        if act == STALL_AFTER:
            fault.met.set()
            await self._over.wait()
        dropped = ("transfer-encoding", "content-length", "connection")
        headers = {k: v for k, v in answer.headers.items() if k.lower() not in dropped}
        return web.Response(status=answer.status, body=body, headers=headers)

    @staticmethod
    def _cut(request: web.Request, fault: Fault) -> web.Response:
        fault.met.set()
        if request.transport is not None:
            request.transport.abort()
        return web.Response()


@dataclass
class Scene:
    """The bot, a person, and the room they share."""

    homeserver: Homeserver
    store: Store
    folder: Path
    person: Person
    name: str
    cable: Cable | None = None
    options: dict[str, Any] = field(default_factory=dict)
    login: dict[str, Any] = field(default_factory=lambda: {"password": "kelp"})
    clock: LiveClock = field(default_factory=lambda: LiveClock(NOON))
    room: str = ""

    @property
    def user(self) -> str:
        return self.homeserver.user_id(self.name)

    async def start(self) -> None:
        """Bring the bot up, as at a start of the service."""
        self.bot = Running(self.store, self.clock)
        postman = Postman(self.store, "matrix", self.bot.wires, self.clock)
        url = self.cable.url if self.cable is not None else self.homeserver.url
        account = Account(url, self.user, self.folder / "bot", **self.login)
        self.line = Matrix(
            account,
            self.bot.conversation,
            self.store,
            self.clock,
            pacer=Pacer(Allowance(200)),
            ring=postman.ring,
            **self.options,
        )
        await self.line.open()
        self.bot.start("matrix", self.line, postman, self.line.listen())

    async def stop(self) -> None:
        """End what runs, as a stop of the service does."""
        while any(not task.done() for task in self.bot.tasks):
            for task in self.bot.tasks:
                task.cancel()
            await asyncio.wait(self.bot.tasks, timeout=0.5)
        await self.line.close()

    async def kill(self) -> None:
        """End the bot where it stands: what it is doing is never finished."""
        for task in asyncio.all_tasks():
            if getattr(task.get_coro(), "__qualname__", "") == "Postman._send":
                task.cancel()
        await self.stop()

    async def restart(self) -> None:
        await self.stop()
        await self.start()

    def said(self, room: str | None = None, by: Person | None = None) -> list[Seen]:
        """Return what the bot said and where it put reactions, in order."""
        return [m for m in (by or self.person).seen(room or self.room) if m.sender == self.user]

    def texts(self, room: str | None = None, by: Person | None = None) -> list[str]:
        return [m.body for m in self.said(room, by) if m.reacts_to is None]

    async def until(
        self, words: str, *, times: int = 1, room: str | None = None, by: Person | None = None
    ) -> Seen:
        """Wait until the bot has said something so many times, and return the last of it."""

        def found() -> list[Seen]:
            return [m for m in self.said(room, by) if words in m.body]

        await (by or self.person).wait_for(lambda: len(found()) >= times)
        return found()[-1]

    async def ask(self, text: str, words: str, *, times: int = 1) -> str:
        """Say something, wait for the answer, and return the name of what was said."""
        said = await self.person.say(self.room, text)
        await self.until(words, times=times)
        return said

    async def settled(self) -> None:
        """Let everything that was said before come to an end: what is asked last is answered last."""
        seen = sum("I know no" in t or "I do not know that zone" in t for t in self.texts())
        await self.ask("zone Nowhere/Atall", "I do not know that zone", times=seen + 1)

    async def ring(self) -> int:
        return await tick(self.store, self.bot.wires, self.clock)

    def later(self, **span: float) -> None:
        self.clock.set(self.clock.now() + timedelta(**span))


@asynccontextmanager
async def scene(
    homeserver: Homeserver,
    store: Store,
    folder: Path,
    *,
    encrypted: bool = False,
    cable: bool = False,
    login: dict[str, Any] | None = None,
    **options: Any,
) -> AsyncIterator[Scene]:
    """Bring up the bot and a person, who invites it; the bot has greeted."""
    unique = token()[:8].lower().replace("_", "x").replace("-", "y")
    async with AsyncExitStack() as stack:
        line = await stack.enter_async_context(Cable(homeserver.url)) if cable else None
        person = await stack.enter_async_context(Person(homeserver, f"ilka-{unique}", folder))
        homeserver.register(f"rinse-{unique}", "kelp")
        played = Scene(homeserver, store, folder, person, f"rinse-{unique}", line, options)
        if login is not None:
            played.login = login
        await played.start()
        try:
            played.room = await person.direct(played.user, encrypted=encrypted)
            await played.until("Tell me what you dived")
            yield played
        finally:
            await played.kill()


async def joined(homeserver: Homeserver, stack: AsyncExitStack, name: str, folder: Path) -> Person:
    """Bring another person up."""
    return await stack.enter_async_context(
        Person(homeserver, f"{name}-{token()[:6].lower().replace('_', 'x')}", folder)
    )


async def rush(monkeypatch: Any) -> None:
    """Let the bot wait for as little as a test can do with."""
    monkeypatch.setattr("bot.transports.matrix.PAUSE_S", 0.05)
    monkeypatch.setattr("bot.transports.matrix.LONGEST_PAUSE_S", 0.5)
