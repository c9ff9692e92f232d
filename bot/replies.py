"""What the bot says, typed and without markup. Wires render it; nothing here knows one."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import structlog

from bot.pictures import draw
from bot.pictures.sheets import Sheet
from bot.understand.reader import Offer

log = structlog.get_logger(__name__)


class Kind(StrEnum):
    REPLY = "reply"
    REMINDER = "reminder"


@dataclass(frozen=True, slots=True)
class File:
    """A file to send along: its name, its media type and its bytes."""

    name: str
    mime: str
    content: bytes

    def opened(self) -> "File":
        """Return itself: its bytes are here."""
        return self


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture or a paper to send along, drawn when it is sent."""

    name: str
    mime: str
    sheet: Sheet
    plain: tuple[str, ...] = ()
    """What stands on it, as lines: for a terminal, and for whoever gets no picture."""

    def opened(self) -> File:
        """Draw it, which may take a while. If that fails the plain lines go out: the diver gets an answer all the same."""
        try:
            return File(self.name, self.mime, draw(self.sheet, self.mime))
        except Exception:
            log.exception("drawing_failed", kind=self.sheet.kind)
            lines = self.plain or ("It could not be drawn. Ask again, or ask in words.",)
            return File(f"{self.name.rpartition('.')[0]}.txt", "text/plain", "\n".join(lines).encode())


@dataclass(frozen=True)
class Reply:
    """One message: `first` is the answer, `lines` the rest, `cautions` what must not be missed.

    `data` is the typed content for `--json`; `files` go along with the message.
    """

    first: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    data: dict[str, Any] = field(default_factory=dict)
    files: tuple[File | Drawing, ...] = ()
    kind: Kind = Kind.REPLY
