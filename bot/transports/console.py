"""The terminal: a conversation with history and numbered buttons, or piped lines. Reminders appear between the lines."""

import asyncio
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TextIO
from zoneinfo import available_timezones

from bot.conversation import Conversation, Update
from bot.handle.due import reminder
from bot.render.text import with_buttons
from bot.replies import Reply
from scheduler.clock import Clock, local_date
from scheduler.deliver import Failed
from scheduler.digest import Digest
from scheduler.tick import start, tick
from store import lockers
from store.engine import Session, Store

WIRE = "console"
ADDRESS = "terminal"
_LEAVE = {"quit", "exit", "bye", "/quit", "/exit", ":q"}


class ConsoleCourier:
    """Carries reminders to the terminal; those for other wires are left to them."""

    def __init__(self, conversation: Conversation, clock: Clock, show: Callable[[Reply], None]) -> None:
        """Show reminders through `show`."""
        self._conversation, self._clock, self._show = conversation, clock, show

    async def carry(self, digest: Digest) -> Failed | None:
        """Show the digest."""
        if digest.chat.wire != WIRE:
            return Failed(f"the terminal does not carry {digest.chat.wire}")
        reply = reminder(digest, local_date(self._clock.now(), digest.chat.zone))
        self._conversation.offer(lockers.number(digest.chat.id), reply)
        self._show(reply)
        return None


class Console:
    """One person at a terminal."""

    def __init__(self, store: Store, conversation: Conversation, clock: Clock, actor: str, zone: str) -> None:
        """Talk as `actor`; a new chat begins in `zone`."""
        self._store, self._conversation, self._clock, self._actor = store, conversation, clock, actor
        store.write(lambda session: _open(session, zone, clock))

    def answer(self, line: str) -> str:
        """Answer one line."""
        answer = self._conversation.take(Update(WIRE, ADDRESS, self._actor, self._clock.now(), text=line))
        return with_buttons(answer.reply) if answer else ""

    async def run_piped(self, lines: TextIO, out: TextIO) -> None:
        """Answer each line of a file, then let what is due now be said."""
        for line in lines:
            if line.strip() in _LEAVE:
                break
            if line.strip():
                out.write(f"> {line.strip()}\n{self.answer(line)}\n\n")
        courier = ConsoleCourier(self._conversation, self._clock, lambda reply: _put(out, reply))
        await tick(self._store, courier, self._clock)

    async def run(self, history: Path) -> None:
        """Talk until the person leaves; reminders ring meanwhile."""
        from prompt_toolkit import PromptSession  # noqa: PLC0415 - only a person at a terminal needs it
        from prompt_toolkit.history import FileHistory  # noqa: PLC0415 - same
        from prompt_toolkit.patch_stdout import patch_stdout  # noqa: PLC0415 - same

        prompt: PromptSession[str] = PromptSession(history=FileHistory(str(history)))
        with patch_stdout():
            courier = ConsoleCourier(self._conversation, self._clock, lambda reply: _put(sys.stdout, reply))
            alarm = start(self._store, courier, self._clock, lambda _: None)
            print(self.answer("help"), end="\n\n")
            try:
                while (line := await prompt.prompt_async("you> ")).strip() not in _LEAVE:
                    if line.strip():
                        print(await asyncio.to_thread(self.answer, line), end="\n\n")
            except (EOFError, KeyboardInterrupt):
                pass
            finally:
                alarm.shutdown(wait=False)


def _put(out: TextIO, reply: Reply) -> None:
    out.write(f"(reminder)\n{with_buttons(reply)}\n\n")


def _open(session: Session, zone: str, clock: Clock) -> None:
    chat = lockers.open_chat(session, WIRE, ADDRESS, clock.now())
    if chat.zone == "UTC" and zone in available_timezones():
        chat.zone = zone
        session.add(chat)
