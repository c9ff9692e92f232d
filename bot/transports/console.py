"""The terminal: a conversation with history and numbered buttons, or piped lines. Reminders appear between the lines."""

import asyncio
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TextIO
from zoneinfo import available_timezones

from bot.conversation import Answer, Conversation, Update
from bot.files import FileRefusedError, Folder, read_file
from bot.handle.reminder import reminder
from bot.render.text import with_buttons
from bot.replies import Reply
from bot.understand.intents import ImportDives
from scheduler.clock import Clock, local_date
from scheduler.deliver import Failed
from scheduler.digest import Digest
from scheduler.tick import start, tick
from store import lockers
from store.engine import Session, Store

WIRE = "console"
ADDRESS = "terminal"
_IMPORT = re.compile(r"(?:/?import|file)\s+['\"]?(.+?)['\"]?")
_LEAVE = {"quit", "exit", "bye", "/quit", "/exit", ":q"}


class ConsoleCourier:
    """Carries reminders to the terminal; those for other wires are left to them."""

    def __init__(self, conversation: Conversation, clock: Clock, show: Callable[[Reply], None]) -> None:
        """Show reminders through `show`."""
        self._conversation, self._clock, self._show = conversation, clock, show

    @property
    def wires(self) -> tuple[str, ...]:
        """Carry for the terminal alone."""
        return (WIRE,)

    async def carry(self, digest: Digest) -> Failed | None:
        """Show the digest."""
        reply = reminder(digest, local_date(self._clock.now(), digest.chat.zone))
        self._conversation.offer(lockers.number(digest.chat.id), reply)
        self._show(reply)
        return None


class Console:
    """One person at a terminal."""

    def __init__(
        self,
        store: Store,
        conversation: Conversation,
        clock: Clock,
        actor: str,
        zone: str,
        *,
        files: Path | None = None,
    ) -> None:
        """Talk as `actor`; a new chat begins in `zone`; what the bot sends is put into the folder `files`."""
        self._store, self._conversation, self._clock, self._actor = store, conversation, clock, actor
        self._folder = Folder(files)
        store.write(lambda session: _open(session, zone, clock))

    def answer(self, line: str) -> str:
        """Answer one line; "import PATH" sends a file."""
        if asked := _IMPORT.fullmatch(line.strip()):
            try:
                return self.take_file(read_file(Path(asked.group(1)).expanduser()))[0]
            except FileRefusedError as error:
                return f"I {error}."
        return self._said(self._take(text=line))

    def take_file(self, file: tuple[str, bytes], *, count: bool = False) -> tuple[str, bool]:
        """Send a dive log file, and with `count` tap the button that counts it. Return what was said, and whether it was read."""
        answer = self._take(file=file)
        told, read = self._said(answer), answer is not None and answer.reply.data.get("read") is not False
        if count and read:
            told += self._count(answer)
        return told, read

    def _count(self, answer: Answer | None) -> str:
        """Tap until the dives are counted; kit that is not surely one of the locker's is taken for none of it."""
        told = ""
        while answer is not None and (label := _next_tap(answer.reply)):
            answer = self._take(tap_label=label)
            told += "\n\n" + self._said(answer)
        return told

    def _take(self, **said: Any) -> Answer | None:  # noqa: ANN401 - fields of an update
        return self._conversation.take(Update(WIRE, ADDRESS, self._actor, self._clock.now(), **said))

    def _said(self, answer: Answer | None) -> str:
        if answer is None:
            return ""
        saved = "".join(f"\n[file] {self._folder.save(file)}" for file in answer.reply.files)
        return with_buttons(answer.reply) + saved

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


def _next_tap(reply: Reply) -> str | None:
    """Return the button that counts a file's dives, or else says that a piece of its kit is none of the locker's."""
    imports = [(o.label, o.intent) for o in reply.offers if isinstance(o.intent, ImportDives)]
    return next((label for label, i in imports if i.counts or i.item_id == 0), None)


def _put(out: TextIO, reply: Reply) -> None:
    out.write(f"(reminder)\n{with_buttons(reply)}\n\n")


def _open(session: Session, zone: str, clock: Clock) -> None:
    chat = lockers.open_chat(session, WIRE, ADDRESS, clock.now())
    if chat.zone == "UTC" and zone in available_timezones():
        chat.zone = zone
        session.add(chat)
