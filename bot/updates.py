"""What comes in on a wire and what goes out in answer, without anything of a wire in it."""

from dataclasses import dataclass, fields
from datetime import datetime
from enum import StrEnum

from bot.replies import Reply


class Meant(StrEnum):
    """What a reaction to a message means, where no button was tapped."""

    DONE = "done"
    LATER = "later"


@dataclass(frozen=True, slots=True)
class Update:
    """What came in on a wire.

    Exactly one of `text`, `tap`, `tap_label`, `tap_place`, `meant`, `file`, `place`, `cannot` and `taken_back` is given.
    `update_id` None: the wire numbers nothing, so nothing can come twice.
    """

    wire: str
    chat: str
    actor: str
    at: datetime
    text: str | None = None
    tap: str | None = None
    """The id of a button."""
    tap_label: str | None = None
    tap_place: int | None = None
    """The place, from 0, of a button under the message `under`."""
    meant: Meant | None = None
    """A reaction to the message `under`."""
    file: tuple[str, bytes] | None = None
    """Name and content of a file that was sent."""
    place: tuple[float, float] | None = None
    """Latitude and longitude, in degrees."""
    cannot: str | None = None
    """Something came that cannot be read; what to say of it."""
    received: datetime | None = None
    """When it came in, where `at` is when it was said; None: the same. What lapses is judged by it."""
    taken_back: bool = False
    """The message `message` was deleted by who wrote it."""
    update_id: str | None = None
    actor_name: str = ""
    group: bool = False
    """Several people write in that chat."""
    topic: str | None = None
    """The topic or thread of the chat it was said in."""
    message: str | None = None
    """The wire's name of the message in which it was said; None on wires that name none."""
    under: str | None = None
    """The wire's name of the bot's message that it taps on or answers."""
    edits: bool = False
    """`text` takes the place of what `message` said before."""
    by_post: bool = False
    """The answer is stored as a letter with what the message did, and carried by the post."""

    def __post_init__(self) -> None:
        """Let no half of a surrogate pair in: JSON can hold one, and no database, hash or wire takes it."""
        for name in _TEXTS:
            text = getattr(self, name)
            if isinstance(text, str) and (whole := well_formed(text)) != text:
                object.__setattr__(self, name, whole)
        if self.file is not None:
            object.__setattr__(self, "file", (well_formed(self.file[0]), self.file[1]))


_TEXTS = tuple(field.name for field in fields(Update))


def well_formed(text: str) -> str:
    """Return a text in which U+FFFD stands for each half of a surrogate pair that is alone."""
    if text.isascii():
        return text
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


@dataclass(frozen=True, slots=True)
class Answer:
    """A reply with the ids of its buttons, in order."""

    reply: Reply
    button_ids: tuple[str, ...] = ()
    replaces: bool = False
    """It takes the place of the message whose button was tapped: that is done with."""
