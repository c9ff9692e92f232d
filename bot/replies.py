"""What the bot says, typed and without markup. Wires render it; nothing here knows one."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from bot.understand.reader import Offer


class Kind(StrEnum):
    REPLY = "reply"
    REMINDER = "reminder"


@dataclass(frozen=True, slots=True)
class File:
    """A file to send along: its name, its media type and its bytes."""

    name: str
    mime: str
    content: bytes


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
    files: tuple[File, ...] = ()
    kind: Kind = Kind.REPLY
