"""What is killed: a process that does one kind of work on a real database, and tells whoever watches what it did.

Run as a program it is the nursery: one thread, everything loaded, nothing open. For each line on standard input it forks a
child that does the job of that line, says its number, and says how it ended. So a life costs a fork, not a start of Python.
"""

import asyncio
import json
import mmap
import os
import signal
import socket
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from contextvars import ContextVar
from datetime import datetime
from itertools import count
from pathlib import Path
from typing import Any

import psycopg
import psycopg.types.string
from sqlalchemy import event
from sqlalchemy.dialects.postgresql import psycopg as _dialect
from sqlalchemy.orm import Session
from sqlmodel import func, select

from bot import attempts
from bot.conversation import Conversation
from bot.health import Health
from bot.main import conversation, set_up_logging, token
from bot.updates import Update
from bot.wires import Wires
from scheduler import tick
from scheduler.clock import SetClock
from scheduler.post import Arrived, Postman
from store import engine
from store.engine import Store, sqlite_url
from store.errors import StoreError
from store.tables import Letter

from .script import START, WIRE, say, script

__all__ = ["BETWEEN", "COMMIT", "OPEN_SENDS", "SIZE", "UNIT"]
LOADED = (psycopg, psycopg.types.string, _dialect)
PATIENT_S = 60
"""How long two who do nothing but write wait for each other; the product tells a diver after 5 s to send it again."""
SIZE, OPEN_SENDS = 64, 0
"""Bytes of what tells where a process is: one for how many messages are with the wire, the others one a thread."""
BETWEEN, UNIT, COMMIT = 0, 1, 2
_SPOKEN_OF: ContextVar[list[Any]] = ContextVar("spoken_of", default=[])  # noqa: B039 - never changed in place


class Watcher:
    """Whoever watches: is told what was done, and may have this process kill itself at the `passes`th pass of a point."""

    def __init__(self, job: dict[str, Any]) -> None:
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.connect(job["socket"])
        with Path(job["where"]).open("r+b") as file:
            self.where = mmap.mmap(file.fileno(), SIZE)
        self.where[:] = bytes(SIZE)
        self._point, self._left = job["point"] or (None, 0)
        self._turn = threading.Lock()
        self._threads: dict[int, int] = {}

    def tell(self, **what: object) -> None:
        with self._turn:
            self.socket.sendall(json.dumps(what, default=str).encode() + b"\n")

    def passes(self, point: str) -> None:
        if point != self._point:
            return
        with self._turn:
            self._left -= 1
            if self._left == 0:
                os.kill(os.getpid(), signal.SIGKILL)

    def is_at(self, place: int) -> None:
        self.where[self._threads.setdefault(threading.get_ident(), len(self._threads) + 1)] = place

    def look_into_units(self) -> None:
        """Note when a thread is in a unit of work, and when it stores it."""
        whole = Store._write

        def _write(store: Store, work: Callable[[Any], Any], chat: str | None) -> object:
            self.is_at(UNIT)
            try:
                return whole(store, work, chat)
            finally:
                self.is_at(BETWEEN)

        def before(_: Session) -> None:
            self.is_at(COMMIT)
            self.passes("before a commit")

        Store._write = _write
        event.listen(Session, "before_commit", before)
        event.listen(Session, "after_commit", lambda _: self.passes("after a commit"))


class Line:
    """A wire at whoever watches: a message is told, and has arrived when that is answered."""

    health = Health(WIRE, well=True, said="")

    def __init__(self, watcher: Watcher) -> None:
        self._watcher, self._numbers = watcher, count()
        self._open: dict[int, asyncio.Future[None]] = {}
        self._rest = b""
        asyncio.get_running_loop().add_reader(watcher.socket, self._answered)

    def _answered(self) -> None:
        *whole, self._rest = (self._rest + self._watcher.socket.recv(65_536)).split(b"\n")
        for number in whole:
            self._open.pop(int(number)).set_result(None)

    async def send(self, address: str, post: Any) -> Arrived:
        number = next(self._numbers)
        self._open[number] = asyncio.get_running_loop().create_future()
        self._watcher.where[OPEN_SENDS] = min(255, len(self._open))
        said = [post.first, *post.lines, *post.cautions]
        self._watcher.tell(number=number, address=address, key=post.key, said=said, of=_SPOKEN_OF.get())
        await self._open[number]
        self._watcher.where[OPEN_SENDS] = min(255, len(self._open))
        self._watcher.passes("after an answer of the wire")
        return Arrived(f"{os.getpid()}-{number}", tuple(key.id for key in post.keys))


class Telling(Wires):
    """The wires, which also tell of what a reminder speaks."""

    async def carry(self, digest: Any) -> Any:
        _SPOKEN_OF.set([(n.item.id, n.task.part, n.rule.id, n.due_on, n.stage) for n in digest.lines])
        return await super().carry(digest)


def take(job: dict[str, Any], watcher: Watcher, store: Store, heard: Callable[[datetime], None]) -> None:
    """Take updates from where each chat stands, chats in two threads, and tell of each that it is acknowledged."""
    talks = Conversation(store, token)
    said = script(job["chats"], job["each"])

    def some(chats: list[str]) -> None:
        for chat in chats:
            for line in said[chat][job["from"].get(chat, 0) :]:
                talks.take(line.update())
                heard(line.at)
                watcher.passes("before it is acknowledged")
                watcher.tell(acknowledged=chat, number=line.number)

    names = list(said)
    with ThreadPoolExecutor(2) as hands:
        list(hands.map(some, (names[::2], names[1::2])))


async def deliver(job: dict[str, Any], watcher: Watcher, store: Store) -> None:
    """Send all letters and all reminders that are due at an instant."""
    clock = SetClock(datetime.fromisoformat(job["at"]))
    wires, postman = _wires(watcher, store, clock)
    carrying = asyncio.create_task(postman.run())
    await tick.tick(store, wires, clock)
    await _all_sent(store)
    carrying.cancel()


async def everything(job: dict[str, Any], watcher: Watcher, store: Store) -> None:
    """Do as the service does: work out anew, then updates, reminders and letters at once; time goes on as is spoken."""
    clock = SetClock(datetime.fromisoformat(job["at"]))
    tick.catch_up(store, clock)
    wires, postman = _wires(watcher, store, clock)
    loop = asyncio.get_running_loop()

    def heard(at: datetime) -> None:
        clock.set(at)
        loop.call_soon_threadsafe(postman.ring)

    carrying = asyncio.create_task(postman.run())
    taking = asyncio.create_task(asyncio.to_thread(take, job, watcher, store, heard))
    while not taking.done():
        await tick.tick(
            store, wires, SetClock(clock.now())
        )  # hours go by while it is said, a lease lasts minutes
        await asyncio.sleep(0.02)
    await taking
    for evening in job["evenings"]:  # and then nobody speaks any more
        clock.set(datetime.fromisoformat(evening))
        postman.ring()
        await tick.tick(store, wires, clock)
    await _all_sent(store)
    carrying.cancel()


def _wires(watcher: Watcher, store: Store, clock: SetClock) -> tuple[Wires, Postman]:
    wires = Telling(store, Conversation(store, token), clock)
    wires.open(WIRE, Line(watcher))
    return wires, Postman(store, WIRE, wires, clock)


async def _all_sent(store: Store) -> None:
    while await asyncio.to_thread(store.read, lambda s: s.exec(select(func.count(Letter.id))).one()):  # noqa: ASYNC110 - nothing tells
        await asyncio.sleep(0.01)


def plan(job: dict[str, Any], store: Store) -> None:
    """Work out anew what other rules gave."""
    tick.REPLAN = job["replan"]
    tick.catch_up(store, SetClock(datetime.fromisoformat(job["at"])))


def talk(job: dict[str, Any], watcher: Watcher) -> None:
    """Say something to a database as a user of the system who may do less, and tell what came of it."""
    if job["user"] is not None:
        os.setgroups([])
        os.setuid(job["user"])
    try:
        store = Store(job["url"])
        answer = conversation(store).take(Update(WIRE, "deck", "mara", START, text=job["text"]))
    except StoreError as error:
        watcher.tell(said=str(error))
    else:
        watcher.tell(said=answer.reply.first)


def two_at_once(job: dict[str, Any]) -> None:
    """Be two processes, each of which is brought everything that is said; they begin with different chats."""
    engine._BUSY_MS = int(1000 * PATIENT_S)
    other = os.fork()
    store = Store(job["url"])
    lines = list(script(job["chats"], job["each"]).values())
    for line in lines if other else reversed(lines):
        say(store, line)
    store.close()
    if other == 0:
        os._exit(0)
    _, status = os.waitpid(other, 0)
    assert status == 0


def live(job: dict[str, Any]) -> None:
    """Do one job."""
    watcher = Watcher(job)
    if job["work"] == "talk":
        talk(job, watcher)
    elif job["work"] == "two at once":
        two_at_once(job)
    else:
        work(job, watcher)
    watcher.tell(done=True)


def work(job: dict[str, Any], watcher: Watcher) -> None:
    """Do what may be killed."""
    attempts.MOST_BEGUN = sys.maxsize  # it is the killer's doing, however often it meets one message
    watcher.look_into_units()
    store = Store(job["url"])
    match job["work"]:
        case "updates":
            take(job, watcher, store, lambda _: None)
        case "planning":
            plan(job, store)
        case "delivery":
            asyncio.run(deliver(job, watcher, store))
        case "all at once":
            asyncio.run(everything(job, watcher, store))


def nursery() -> None:
    """Load what a child would load by itself, by a short talk on a database of its own; then fork one after another."""
    set_up_logging("ERROR")
    with tempfile.TemporaryDirectory(prefix="rinsetank-w-") as folder:
        warm = Store(sqlite_url(Path(folder) / "warm.db"))
        say(warm, script(1, 7)["c0"])
        warm.close()
    assert threading.active_count() == 1
    for line in sys.stdin:
        child = os.fork()
        if child == 0:
            os.dup2(2, 1)
            try:
                live(json.loads(line))
            except BaseException:  # noqa: BLE001 - whatever it is, the child ends here
                traceback.print_exc()
                os._exit(1)
            os._exit(0)
        sys.stdout.write(f"{child}\n")
        sys.stdout.flush()
        _, status = os.waitpid(child, 0)
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    with suppress(KeyboardInterrupt):
        nursery()
