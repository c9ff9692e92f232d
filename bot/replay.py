"""Plays a file of messages through the real conversation, scheduler and store, on a clock that the file sets."""

import json
import secrets
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError, model_validator

from bot.conversation import Conversation, Update
from bot.files import Folder, read_file
from bot.handle.reminder import reminder
from bot.render.text import text_of
from bot.replies import Reply
from scheduler.clock import SetClock, local_date
from scheduler.deliver import Failed
from scheduler.digest import Digest
from scheduler.tick import next_tick, tick
from store import lockers
from store.engine import Store

WIRE = "replay"
_FIRST_YEAR, _LAST_YEAR = 1970, 2200


class ReplayError(Exception):
    """A line that cannot be played; the message names the line and says why."""


class Line(BaseModel):
    """One line of the file: a message, a tap, or only time going by."""

    model_config = ConfigDict(extra="forbid", populate_by_name=True)

    at: AwareDatetime
    chat: str | None = None
    sender: str = Field(default="diver", alias="from")
    text: str | None = None
    tap: str | None = None
    file: str | None = None

    @model_validator(mode="after")
    def _one_thing(self) -> "Line":
        if not _FIRST_YEAR <= self.at.year <= _LAST_YEAR:
            raise ValueError(f"the year lies outside {_FIRST_YEAR} to {_LAST_YEAR}")
        said = [x for x in (self.text, self.tap, self.file) if x is not None]
        if len(said) > 1:
            raise ValueError("a line has one of text, tap and file")
        if said and self.chat is None:
            raise ValueError("a line that says something names its chat")
        return self


@dataclass(frozen=True)
class Sent:
    """One message of the bot."""

    at: datetime
    chat: str
    reply: Reply
    paths: tuple[str, ...] = ()
    """Where the files of the reply were put."""

    def as_json(self) -> dict[str, Any]:
        """Return the object of the contract."""
        return {
            "at": self.at.isoformat(),
            "chat": self.chat,
            "kind": self.reply.kind.value,
            "text": text_of(self.reply),
            "buttons": [offer.label for offer in self.reply.offers],
            "files": list(self.paths),
            "data": self.reply.data,
        }


def read_lines(lines: Iterable[str]) -> Iterator[Line]:
    """Parse the lines of a file; ReplayError names the first that is wrong."""
    for n, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            yield Line.model_validate(json.loads(line))
        except json.JSONDecodeError as error:
            raise ReplayError(f"line {n} is not JSON: {error.msg}") from error
        except ValidationError as error:
            first = error.errors()[0]
            where = ".".join(str(x) for x in first["loc"]) or "line"
            raise ReplayError(f"line {n}: {where}: {first['msg']}") from error


class Replay:
    """A conversation on a simulated clock. It carries its own reminders and keeps what is sent, in order."""

    def __init__(
        self, store: Store, start: datetime, base: Path = Path(), folder: Folder | None = None
    ) -> None:
        """Begin at an instant; read files from below `base`, put sent ones into `folder`."""
        self._store, self.clock = store, SetClock(start)
        self._base, self._folder = base, folder or Folder(None)
        self._conversation = Conversation(store, lambda: secrets.token_urlsafe(9))
        self._sent: list[Sent] = []

    @property
    def wires(self) -> tuple[str, ...]:
        """Carry for the replay alone."""
        return (WIRE,)

    async def carry(self, digest: Digest) -> Failed | None:
        """Keep a reminder as sent."""
        reply = reminder(digest, local_date(self.clock.now(), digest.chat.zone))
        self._conversation.offer(lockers.number(digest.chat.id), reply)
        self._sent.append(self._keep(digest.chat.address, reply))
        return None

    async def until(self, at: datetime) -> list[Sent]:
        """Let time go by, ringing whenever something is due; return the reminders sent."""
        while (ring := self._store.read(next_tick)) is not None and ring <= at:
            before = len(self._sent)
            self.clock.set(ring)
            await tick(self._store, self, self.clock)
            if len(self._sent) == before and self._store.read(next_tick) == ring:
                break
        self.clock.set(at)
        return self._drain()

    async def play(self, line: Line) -> list[Sent]:
        """Play one line: time first, then what was said; return everything the bot sent."""
        sent = await self.until(line.at)
        if line.chat is not None and (line.text, line.tap, line.file) != (None, None, None):
            file = read_file(self._base / line.file) if line.file is not None else None
            said = Update(
                WIRE, line.chat, line.sender, self.clock.now(), text=line.text, tap_label=line.tap, file=file
            )
            answer = self._conversation.take(said)
            if answer is not None:
                sent.append(self._keep(line.chat, answer.reply))
        return sent

    def _keep(self, chat: str, reply: Reply) -> Sent:
        return Sent(self.clock.now(), chat, reply, tuple(str(self._folder.save(f)) for f in reply.files))

    def _drain(self) -> list[Sent]:
        sent, self._sent = self._sent, []
        return sent


async def replay(
    store: Store,
    lines: Iterable[str],
    base: Path = Path(),
    folder: Folder | None = None,
    on_line: Callable[[int], object] = lambda _played: None,
) -> list[Sent]:
    """Play a whole file; ReplayError for a line that cannot be played, before anything of it acts.

    Files that it names are looked for below `base`; what the bot sends is put into `folder`. `on_line` is told how many
    lines were played.
    """
    parsed = list(read_lines(lines))
    if not parsed:
        return []
    for line in parsed:
        if line.file is not None and not (base / line.file).is_file():
            raise ReplayError(f"there is no file {line.file}")
    played = Replay(store, parsed[0].at, base, folder)
    sent: list[Sent] = []
    for n, line in enumerate(parsed, 1):
        sent += await played.play(line)
        on_line(n)
    return sent
