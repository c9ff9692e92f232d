"""What each wire lets a bot do, in one place, and the pace that keeps within it. The clock is an argument.

Sources: Telegram Bot API 10.1 of 11 June 2026 and its FAQ and features pages as of October 2023 (core.telegram.org/bots);
Matrix client-server API v1.19, "Size limits" and "Rate limiting" (spec.matrix.org).
"""

import asyncio
import time
from collections import deque
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

TEXT_CHARS = 4096
"""Telegram, sendMessage: characters after entities parsing, counted as UTF-16 code units."""
CAPTION_CHARS = 1024
CALLBACK_BYTES = 64
START_CHARS = 64
SECRET_CHARS = 256
COMMAND_CHARS, COMMAND_TOLD_CHARS, COMMANDS = 32, 256, 100
UPDATES_A_CALL = 100
DOWNLOAD_BYTES = 20 * 1024 * 1024
"""Telegram, getFile."""
UPLOAD_BYTES = 50 * 1024 * 1024
"""Telegram, sendDocument."""
EVENT_BYTES = 65_536
"""Matrix, Size limits: a whole event as canonical JSON, in the form in which servers exchange it."""


@dataclass(frozen=True, slots=True)
class Allowance:
    """How fast a bot may send on a wire. None: the wire publishes no such limit."""

    per_second: float
    """Over all chats."""
    chat_per_second: float | None = None
    group_per_minute: int | None = None


TELEGRAM = Allowance(per_second=30, chat_per_second=1, group_per_minute=20)
"""Telegram FAQ, "My bot is hitting limits" (2023)."""
MATRIX_PER_SECOND = 5.0
"""Unless a setting says otherwise. Ours: the specification leaves the rate to each homeserver, which says so by 429."""
_SHARE = 0.98
"""Of what is allowed, so that what was spaced here does not bunch up on the way."""


class Window:
    """At most so many in any span of so many seconds."""

    def __init__(self, most: int, seconds: float) -> None:
        """Begin with nothing taken."""
        self._most, self._seconds, self._taken = most, seconds, deque[float](maxlen=most)

    def wait_s(self, now: float) -> float:
        """Return how long until one more may be taken, 0 if now. Times are seconds of one clock."""
        if len(self._taken) < self._most:
            return 0.0
        return max(0.0, self._taken[0] + self._seconds - now)

    def take(self, now: float) -> None:
        """Take one."""
        self._taken.append(now)

    def idle(self, now: float) -> bool:
        """Tell whether all that was taken is past: a new window would be the same."""
        return not self._taken or self._taken[-1] + self._seconds <= now


@dataclass(slots=True)
class _Waiting:
    chat: str
    group: bool
    turn: asyncio.Future[None]


class Pacer:
    """Lets sends go one by one as fast as a wire allows: answers before reminders, in order within a chat, chats in turn."""

    def __init__(
        self,
        allowance: Allowance,
        seconds: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Keep to an allowance; `seconds` tells the time, `sleep` waits on the same clock."""
        self._allowance, self._seconds, self._sleep = allowance, seconds, sleep
        self._all = _window(allowance.per_second)
        self._chats: dict[tuple[str, bool], tuple[Window, ...]] = {}
        self._waiting: tuple[list[_Waiting], list[_Waiting]] = ([], [])
        self._doorman: asyncio.Task[None] | None = None
        self._arrived = asyncio.Event()

    async def turn(self, chat: str, *, group: bool = False, urgent: bool = False) -> None:
        """Wait until a message may be sent to a chat. `urgent`: before all that is not."""
        one = _Waiting(chat, group, asyncio.get_running_loop().create_future())
        self._waiting[0 if urgent else 1].append(one)
        self._arrived.set()
        if self._doorman is None or self._doorman.done():
            self._doorman = asyncio.create_task(self._let_in())
        await one.turn

    async def _let_in(self) -> None:
        while self._waiting[0] or self._waiting[1]:
            self._arrived.clear()
            now = self._seconds()
            one, wait_s = self._next(now)
            if one is None:
                await self._nap(wait_s)
                continue
            for queue in self._waiting:
                queue[:] = [w for w in queue if w is not one and not w.turn.cancelled()]
            if not one.turn.cancelled():
                for window in (self._all, *self._windows(one)):
                    window.take(now)
                one.turn.set_result(None)
        now = self._seconds()
        self._chats = {c: w for c, w in self._chats.items() if not all(x.idle(now) for x in w)}

    async def _nap(self, seconds: float) -> None:
        """Sleep until a window opens, or somebody comes who may go at once."""
        either = (asyncio.ensure_future(self._sleep(seconds)), asyncio.create_task(self._arrived.wait()))
        await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
        for task in either:
            task.cancel()

    def _next(self, now: float) -> tuple[_Waiting | None, float]:
        """Return who may go now, or else how long nobody may."""
        overall = self._all.wait_s(now)
        if overall > 0:
            return None, overall
        waits: dict[str, float] = {}
        for one in (*self._waiting[0], *self._waiting[1]):
            if one.chat not in waits:
                waits[one.chat] = max((w.wait_s(now) for w in self._windows(one)), default=0.0)
                if waits[one.chat] <= 0:
                    return one, 0.0
        return None, min(waits.values())

    def _windows(self, one: _Waiting) -> tuple[Window, ...]:
        key = (one.chat, one.group)
        if key not in self._chats:
            allowed = self._allowance
            windows = [_window(allowed.chat_per_second)] if allowed.chat_per_second else []
            if one.group and allowed.group_per_minute:
                windows.append(Window(allowed.group_per_minute, 60 / _SHARE))
            self._chats[key] = tuple(windows)
        return self._chats[key]


def _window(per_second: float) -> Window:
    """Return the window of a rate: whole sends in a second, or one in so many seconds."""
    most = max(1, int(per_second))
    return Window(most, most / per_second / _SHARE)
