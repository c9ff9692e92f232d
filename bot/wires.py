"""What is due and what was asked, on their way to whichever wire it is for."""

import asyncio
from collections.abc import Callable, Collection
from contextlib import suppress
from hashlib import sha256
from typing import Protocol

from bot.conversation import Conversation
from bot.handle.reminder import reminder
from bot.health import Health
from bot.post import Post, post_of
from scheduler.clock import Clock, local_date
from scheduler.deliver import Failed
from scheduler.digest import Digest
from scheduler.post import Arrived
from store import buttons, lockers
from store.engine import Store
from store.errors import StoreError
from store.tables import Letter


class Line(Protocol):
    """A connection to a wire, ready to send."""

    health: Health

    async def send(self, address: str, post: Post) -> Arrived | Failed:
        """Send a message to a chat. Never raises for a refusal or a broken line."""
        ...


class Wires:
    """Carries reminders and letters over the lines that are open."""

    def __init__(
        self, store: Store, conversation: Conversation, clock: Clock, may: Callable[[], bool] = lambda: True
    ) -> None:
        """Begin without a line. `may` tells, at the last moment, whether this process is still the one that delivers."""
        self._store, self._conversation, self._clock, self._may = store, conversation, clock, may
        self._lines: dict[str, Line] = {}

    def open(self, wire: str, line: Line) -> None:
        """Carry over a line from now on."""
        self._lines[wire] = line

    @property
    def wires(self) -> Collection[str]:
        """Name the wires that are open."""
        return tuple(self._lines)

    async def carry(self, digest: Digest) -> Failed | None:
        """Send a reminder with its buttons."""
        chat, reply = digest.chat, reminder(digest, local_date(self._clock.now(), digest.chat.zone))
        ids = await asyncio.to_thread(self._conversation.offer, lockers.number(chat.id), reply)
        if ids is None:
            return Failed("the chat was forgotten meanwhile")
        key = sha256(f"{chat.wire}/{chat.address}/{chat.created_at}/{digest.key}".encode()).hexdigest()[:32]
        post = post_of(reply, ids, key, group=chat.group, topic=chat.topic)
        result = await self._send(chat.wire, chat.address, post)
        if isinstance(result, Failed):
            return result
        if result.message is not None and ids:
            message = result.message
            with suppress(StoreError):  # it arrived; without their place its buttons work all the same
                await asyncio.to_thread(self._store.write, lambda s: buttons.place_under(s, ids, message))
        return None

    async def carry_letter(self, letter: Letter) -> Arrived | Failed:
        """Send an answer that was stored."""
        return await self._send(letter.wire, letter.address, Post.model_validate(letter.body))

    async def _send(self, wire: str, address: str, post: Post) -> Arrived | Failed:
        """Send over the line of a wire. A process that was frozen may wake up to find that another has taken over."""
        if not self._may():
            return Failed("another process delivers now")
        return await self._lines[wire].send(address, post)
