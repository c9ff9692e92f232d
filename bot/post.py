"""A message for a wire, as it is stored until the wire has taken it."""

from pydantic import BaseModel, ConfigDict

from bot.pictures.sheets import Sheet
from bot.replies import Drawing, File, Kind, Reply
from bot.understand.intents import RecordCare, Snooze
from bot.updates import Answer, Meant, Update


class Key(BaseModel):
    """A button: its opaque id, what it says, and what a reaction may stand for it."""

    id: str
    label: str
    meant: Meant | None = None


class Enclosed(BaseModel):
    """A file that goes along: its bytes, or the sheet to draw when it is sent."""

    model_config = ConfigDict(ser_json_bytes="base64", val_json_bytes="base64")

    name: str
    mime: str
    content: bytes = b""
    sheet: Sheet | None = None
    plain: tuple[str, ...] = ()

    def opened(self) -> File:
        """Return the file with its bytes; to draw them may take a while."""
        if self.sheet is None:
            return File(self.name, self.mime, self.content)
        return Drawing(self.name, self.mime, self.sheet, self.plain).opened()


class Post(BaseModel):
    """One message: what it says, its buttons, its files, and where in the chat it belongs."""

    key: str
    """The same for the same message, for wires that can refuse a repeat."""
    first: str
    lines: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    keys: tuple[Key, ...] = ()
    files: tuple[Enclosed, ...] = ()
    reminder: bool = False
    group: bool = False
    topic: str | None = None
    answers: str | None = None
    """The message it answers."""
    replaces: str | None = None
    """The bot's own message whose place it takes."""
    done: int = 0
    """Parts of it that have arrived, the last of them as the message `under`."""
    under: str | None = None


def post_of(
    reply: Reply,
    button_ids: tuple[str, ...],
    key: str,
    *,
    group: bool = False,
    topic: str | None = None,
    answers: str | None = None,
    replaces: str | None = None,
) -> Post:
    """Put a reply with the ids of its buttons into a message."""
    keys = [
        Key(id=i, label=o.label, meant=_meant(o.intent))
        for i, o in zip(button_ids, reply.offers, strict=True)
    ]
    return Post(
        key=key,
        first=reply.first,
        lines=reply.lines,
        cautions=reply.cautions,
        keys=tuple(keys),
        files=tuple(_enclose(file) for file in reply.files),
        reminder=reply.kind is Kind.REMINDER,
        group=group,
        topic=topic,
        answers=answers,
        replaces=replaces,
    )


def post_answering(update: Update, answer: Answer, key: str) -> Post:
    """Put an answer into a message: where it was asked, in place of what was tapped if that is done with."""
    replaces = update.under if answer.replaces and not answer.reply.files else None
    return post_of(
        answer.reply,
        answer.button_ids,
        key,
        group=update.group,
        topic=update.topic,
        answers=(update.under or update.message) if update.group and replaces is None else None,
        replaces=replaces,
    )


def _meant(intent: object) -> Meant | None:
    if isinstance(intent, RecordCare):
        return Meant.DONE
    return Meant.LATER if isinstance(intent, Snooze) else None


def _enclose(file: File | Drawing) -> Enclosed:
    if isinstance(file, Drawing):
        return Enclosed(name=file.name, mime=file.mime, sheet=file.sheet, plain=file.plain)
    return Enclosed(name=file.name, mime=file.mime, content=file.content)
