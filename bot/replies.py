"""What the bot says, typed and without markup. Wires render it; nothing here knows one."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from bot.understand.reader import Offer


class Kind(StrEnum):
    REPLY = "reply"
    REMINDER = "reminder"


@dataclass(frozen=True)
class Reply:
    """One message: `first` is the answer, `lines` the rest, `cautions` what must not be missed.

    `data` is the typed content for `--json`; `files` are paths to send along.
    """

    first: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    offers: tuple[Offer, ...] = ()
    data: dict[str, Any] = field(default_factory=dict)
    files: tuple[str, ...] = ()
    kind: Kind = Kind.REPLY
