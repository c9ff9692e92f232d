"""What divers say while processes are killed, and what the database must hold after each of it.

The reference is the same script said once, without a fault: each chat's facts after each of its messages.
"""

import tempfile
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from hashlib import sha256
from pathlib import Path

from sqlmodel import select

from bot.conversation import Conversation, Update
from bot.main import token
from store.engine import Session, Store, sqlite_url
from store.tables import Care, CareTask, Chat, Dive, DiveItem, Item, JournalEntry, Letter, SeenUpdate

WIRE = "wire"
START = datetime.fromisoformat("2026-06-10T08:00:00+00:00")
BETWEEN = timedelta(hours=3)
_KIT = ("add dry suit, plastic zip, latex seals", "add scooter")
_TURNS = ("dive", "care", "dive", "undo", "dive")
"""What is said in turn after the kit was told; an undo that acts twice takes back what came before the dive as well."""


@dataclass(frozen=True)
class Said:
    """One message of a chat: the `number`th there, from 0."""

    chat: str
    number: int
    text: str
    at: datetime

    def update(self) -> Update:
        """Return it as a wire brings it, numbered, so that it may come twice."""
        name = f"{self.chat}-{self.number}"
        return Update(
            *(WIRE, self.chat, self.chat, self.at),
            text=self.text,
            update_id=name,
            message=name,
            actor_name=self.chat.title(),
            by_post=True,
        )


def script(chats: int, each: int) -> dict[str, list[Said]]:
    """Return what is said in each chat; each dive has a depth of its own there."""
    return {f"c{c}": [Said(f"c{c}", n, _text(n), _at(c, n)) for n in range(each)] for c in range(chats)}


def _text(number: int) -> str:
    if number < len(_KIT):
        return _KIT[number]
    turn = _TURNS[(number - len(_KIT)) % len(_TURNS)]
    dive = f"{1 + number % 3} dives today, salt, {10 + number} m"
    return {"dive": dive, "care": "rinsed the dry suit and the scooter", "undo": "undo"}[turn]


def _at(chat: int, number: int) -> datetime:
    return START + number * BETWEEN + timedelta(minutes=chat)


def say(store: Store, lines: list[Said]) -> None:
    """Say it all, one after another."""
    conversation = Conversation(store, token)
    for line in lines:
        conversation.take(line.update())


@dataclass(frozen=True)
class State:
    """What a chat has come to: how many of its messages acted, and everything that they left, without numbers of rows."""

    acted: int
    letters: tuple[datetime, ...]
    """By when the message was that each of them answers."""
    facts: str
    due: str


def state(session: Session, chat: str) -> State:
    """Look at one chat."""
    seen = select(SeenUpdate).where(SeenUpdate.update_id.startswith(f"{chat}-"))
    acted = len(session.exec(seen).all())
    letters = session.exec(select(Letter.send_at).where(Letter.address == chat).order_by(Letter.id)).all()
    row = session.exec(select(Chat).where(Chat.address == chat)).first()
    if row is None:
        return State(acted, tuple(letters), "", "")

    def rows(table, *without: str) -> list:
        own = session.exec(select(table).where(table.locker_id == row.locker_id).order_by(table.id))
        return [r.model_dump(exclude={"id", "locker_id", *without}) for r in own]

    names = {i.id: i.name for i in session.exec(select(Item).where(Item.locker_id == row.locker_id))}
    dived = select(Dive.max_depth_m, DiveItem.item_id).join(DiveItem, DiveItem.dive_id == Dive.id)
    facts = (
        rows(Item),
        rows(Dive),
        sorted((m, names[i]) for m, i in session.exec(dived.where(Dive.locker_id == row.locker_id))),
        [{**c, "item_id": names[c["item_id"]]} for c in rows(Care)],
        [(j["at"], j["intent"], j["message"]) for j in rows(JournalEntry)],
    )
    due = sorted(
        (names[t.item_id], t.part, t.rule, str(t.due_on), t.cause)
        for t in session.exec(select(CareTask).where(CareTask.locker_id == row.locker_id))
    )
    return State(acted, tuple(letters), _short(facts), _short(due))


def _short(of: object) -> str:
    return sha256(repr(of).encode()).hexdigest()[:16]


@cache
def reference(chats: int, each: int) -> dict[str, list[State]]:
    """Say the script once on an empty database and return the state of each chat before its first message and after each."""
    with (
        tempfile.TemporaryDirectory(prefix="rinsetank-r-") as folder,
        closing(Store(sqlite_url(Path(folder) / "reference.db"))) as store,
    ):
        states: dict[str, list[State]] = {}
        for chat, lines in script(chats, each).items():
            states[chat] = [store.read(lambda s, c=chat: state(s, c))]
            for line in lines:
                say(store, [line])
                states[chat].append(store.read(lambda s, c=chat: state(s, c)))
    return states
