"""The terminal: a conversation with history and numbered buttons, or piped lines. Reminders appear between the lines."""

import asyncio
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple, TextIO
from zoneinfo import available_timezones

from bot.conversation import Answer, Conversation, Update
from bot.files import FileRefusedError, Folder, read_file
from bot.handle.reminder import reminder
from bot.render.terminal import for_terminal
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

    def __init__(self, conversation: Conversation, clock: Clock, show: Callable[[Reply], object]) -> None:
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
                return self.take_file(read_file(Path(asked.group(1)).expanduser())).told
            except FileRefusedError as error:
                return f"I {error}."
        return self._said(self._take(text=line))

    def take_file(self, file: tuple[str, bytes], *, count: bool = False) -> "Taken":
        """Send a file, and with `count` tap the button that counts it or takes it in."""
        answer = self._take(file=file)
        told, read = [self._said(answer)], answer is not None and answer.reply.data.get("read") is not False
        while count and answer is not None and (label := _next_tap(answer.reply)):
            answer = self._take(tap_label=label)
            told.append(self._said(answer))
        waits = answer is not None and any(isinstance(o.intent, ImportDives) for o in answer.reply.offers)
        return Taken("\n\n".join(told), read, waits)

    def data(self, *, tables: bool) -> tuple[str, bytes]:
        """Return what is said of an export of all data, and its file."""
        answer = self._take(text="export csv" if tables else "export my data")
        if answer is None or not answer.reply.files:
            raise RuntimeError("an export without a file")
        return answer.reply.first, answer.reply.files[0].opened().content

    def _take(self, **said: Any) -> Answer | None:  # noqa: ANN401 - fields of an update
        return self._conversation.take(Update(WIRE, ADDRESS, self._actor, self._clock.now(), **said))

    def _said(self, answer: Answer | None) -> str:
        return "" if answer is None else self.shown(answer.reply)

    def shown(self, reply: Reply) -> str:
        """Put the files of a message into the folder and return it as the terminal shows it."""
        return for_terminal(reply, [self._folder.save(file) for file in reply.files])

    def _remind(self, reply: Reply, out: TextIO) -> None:
        out.write(f"(reminder)\n{self.shown(reply)}\n\n")

    async def run_piped(self, lines: TextIO, out: TextIO) -> None:
        """Answer each line of a file, then let what is due now be said."""
        for line in lines:
            if line.strip() in _LEAVE:
                break
            if line.strip():
                out.write(f"> {line.strip()}\n{self.answer(line)}\n\n")
        courier = ConsoleCourier(self._conversation, self._clock, lambda reply: self._remind(reply, out))
        await tick(self._store, courier, self._clock)

    async def run(self, history: Path) -> None:
        """Talk until the person leaves; reminders ring meanwhile."""
        from prompt_toolkit import PromptSession  # noqa: PLC0415 - only a person at a terminal needs it
        from prompt_toolkit.history import FileHistory  # noqa: PLC0415 - same
        from prompt_toolkit.patch_stdout import patch_stdout  # noqa: PLC0415 - same

        prompt: PromptSession[str] = PromptSession(history=FileHistory(str(history)))
        with patch_stdout():
            courier = ConsoleCourier(
                self._conversation, self._clock, lambda reply: self._remind(reply, sys.stdout)
            )
            alarm = start(self._store, courier, self._clock, lambda _: None)
            print(self.answer("help"), end="\n\n")
            try:
                while (line := await prompt.prompt_async("you> ")).strip() not in _LEAVE:
                    if line.strip():
                        print(await asyncio.to_thread(self.answer, line), end="\n\n")
            except (EOFError, KeyboardInterrupt):
                pass
            finally:
                alarm.shutdown()


class Taken(NamedTuple):
    """What became of a file: what was said, whether it could be read, and whether it waits for a tap."""

    told: str
    read: bool
    waits: bool


def _next_tap(reply: Reply) -> str | None:
    """Return the button that counts a file, or else says that a piece of its kit is none of the locker's; never one that replaces."""
    imports = [(o.label, o.intent) for o in reply.offers if isinstance(o.intent, ImportDives)]
    return next((label for label, i in imports if i.counts or i.item_id == 0), None)


def _open(session: Session, zone: str, clock: Clock) -> None:
    chat = lockers.open_chat(session, WIRE, ADDRESS, clock.now())
    if chat.zone == "UTC" and zone in available_timezones():
        chat.zone = zone
        session.add(chat)
