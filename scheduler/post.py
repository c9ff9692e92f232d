"""Carries answers to a wire: stored before they are sent, so that a crash loses none; in order within a chat."""

import asyncio
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol, TypeVar

import structlog

from scheduler.clock import Clock
from scheduler.deliver import SETTLE_AGAIN_S, Failed, heed, held, outcome
from scheduler.policy import ANSWERS, retry_at
from store import buttons, letters, lockers, meter
from store.engine import Session, Store
from store.errors import StoreError
from store.tables import Letter

AT_ONCE = 50
"""Chats that are being sent to; a slow one keeps nobody waiting."""
LOOK_AGAIN_S = 5.0
"""How long a letter may lie unseen that another process stored."""
T = TypeVar("T")
log = structlog.get_logger(__name__)


@dataclass(frozen=True, slots=True)
class Arrived:
    """The wire took it. `message`: its name there; `button_ids`: the buttons that now stand under it."""

    message: str | None = None
    button_ids: tuple[str, ...] = ()


class Carrier(Protocol):
    """A wire that takes letters."""

    async def carry_letter(self, letter: Letter) -> Arrived | Failed:
        """Send one letter. Never raises for a refusal or a broken line."""
        ...


class Postman:
    """Sends the letters of one wire, the oldest of each chat first."""

    def __init__(self, store: Store, wire: str, carrier: Carrier, clock: Clock) -> None:
        """Carry for a wire."""
        self._store, self._wire, self._carrier, self._clock = store, wire, carrier, clock
        self._bell = asyncio.Event()
        self._under_way: dict[str, asyncio.Task[None]] = {}

    def ring(self) -> None:
        """Say that there is a new letter."""
        self._bell.set()

    async def run(self) -> None:
        """Carry until cancelled; what is under way is then finished."""
        try:
            while True:
                self._bell.clear()
                wait_s = await self._round()
                with suppress(TimeoutError):
                    async with asyncio.timeout(wait_s):  # wait_for would swallow a cancel that meets a ring
                        await self._bell.wait()
        finally:
            await self.finish()

    async def finish(self) -> None:
        """Wait for what is under way."""
        await asyncio.gather(*self._under_way.values(), return_exceptions=True)

    def abandon(self) -> None:
        """Break off what is under way: another process sends it, and what arrived unnoticed goes again."""
        for task in self._under_way.values():
            task.cancel()

    async def _round(self) -> float:
        """Start what can be sent now; return how long there is nothing else to do."""
        room = AT_ONCE - len(self._under_way)
        if room <= 0:
            return LOOK_AGAIN_S
        now = self._clock.now()
        try:
            found, next_at = await asyncio.to_thread(
                self._store.read, lambda s: self._waiting(s, now, room, tuple(self._under_way))
            )
        except StoreError as error:
            log.error("store_unusable", wire=self._wire, reason=str(error))  # noqa: TRY400 - one line, no trace: not a bug
            return LOOK_AGAIN_S
        for letter in found:
            task = asyncio.create_task(self._send(letter))
            self._under_way[letter.address] = task
        if next_at is None or self._under_way:
            return LOOK_AGAIN_S
        return min(LOOK_AGAIN_S, max(0.0, (next_at - now).total_seconds()))

    def _waiting(
        self, session: Session, now: datetime, room: int, busy: tuple[str, ...]
    ) -> tuple[list[Letter], datetime | None]:
        if held(session, self._wire, now):
            return [], letters.state(session, self._wire).hold_until
        found = letters.waiting(session, self._wire, now, room, busy)
        return found, None if found else letters.next_send(session, self._wire, now, busy)

    async def _send(self, letter: Letter) -> None:
        try:
            try:
                result = await self._carrier.carry_letter(letter)
            except Exception:
                log.exception("letter_unreadable", wire=self._wire)
                result = Failed("a fault of ours", never=True)
            while not await self._settled(letter, result):  # noqa: ASYNC110 - nothing tells when the store is back
                await asyncio.sleep(SETTLE_AGAIN_S)  # it is not sent again meanwhile
            self._tell(letter, result)
        finally:
            del self._under_way[letter.address]
            self.ring()

    def _tell(self, letter: Letter, result: Arrived | Failed) -> None:
        """Tell what became of a letter, and how long after the message its answer came, if it came at once."""
        failed, now = (result if isinstance(result, Failed) else None), self._clock.now()
        given_up = failed is not None and retry_at(letter.attempts + 1, now, failed.wait, ANSWERS) is None
        meter.tell("send", wire=self._wire, what="answer", outcome=outcome(failed, given_up=given_up))
        if failed is None and letter.attempts == 0:
            meter.tell("answer", max(0.0, (now - letter.send_at).total_seconds()), wire=self._wire)

    async def _settled(self, letter: Letter, result: Arrived | Failed) -> bool:
        try:
            await asyncio.to_thread(self._store.write, lambda s: self._settle(s, letter, result))
        except StoreError as error:
            log.error("store_unusable", wire=self._wire, reason=str(error))  # noqa: TRY400 - as above
            return False
        return True

    def _settle(self, session: Session, letter: Letter, result: Arrived | Failed) -> None:
        letter_id, now = lockers.number(letter.id), self._clock.now()
        if isinstance(result, Arrived):
            letters.drop(session, letter_id)
            if result.message is not None and result.button_ids:
                buttons.place_under(session, result.button_ids, result.message)
            return
        log.warning("answer_failed", wire=self._wire, reason=result.reason, gone=result.gone)
        again = retry_at(letter.attempts + 1, now, result.wait, ANSWERS)
        if again is not None and result.moved_to not in {None, letter.address}:
            again = now
        if result.gone:
            letters.drop_all(session, letter.wire, letter.address)
        elif again is None or result.never:
            letters.drop(session, letter_id)
        else:
            letters.put_off(session, letter_id, again, done=result.done, under=result.under)
        heed(session, letter.wire, letter.address, result, now)
