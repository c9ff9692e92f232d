"""Forgetting a person: what is theirs goes, what others breathe from stays and no longer says who told it."""

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import String, cast
from sqlmodel import Session, SQLModel, col, delete, select, update

from store import dives, items, loans, lockers, people
from store.people import GONE, Held, Role
from store.postgres import alone
from store.tables import (
    Button,
    Care,
    Chat,
    Dive,
    DiveImport,
    Invite,
    Item,
    JournalEntry,
    Letter,
    Loan,
    Mishap,
)

_FOR_MACHINES = frozenset("key id meant mime content kind mark topic answers replaces under".split())
"""Of a letter, what nobody reads: a name like "kind" must not change it, or the letter can no longer be sent."""
_TOLD_BY: tuple[tuple[type[SQLModel], str], ...] = (
    (Item, "added_by"),
    (Dive, "logged_by"),
    (Care, "done_by"),
    (Mishap, "told_by"),
    (DiveImport, "sent_by"),
    (Loan, "lent_by"),
    (JournalEntry, "actor"),
)


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What was forgotten, for the answer."""

    items: int
    dives: int
    lockers: int
    """Lockers that are gone with all in them."""
    left: int
    """Lockers of others that the person is no longer in."""
    touched: frozenset[int]
    """Lockers of others whose kit came home or went: they are to be worked out anew."""


def forget_person(session: Session, person: str, chat: Chat, on: date) -> Forgotten:
    """Forget a person who asked for it in a chat, on a day of theirs. Asked again, it finds nothing more.

    Their own lockers go, shared or not, and loans from and to them end. Lockers of groups pass on; one that nobody is left in
    goes too. Said in a group by its owner, only the locker of that group goes, and whoever has no other.
    """
    alone(session)  # a name may stand anywhere, and nobody may write it down meanwhile
    held = [] if chat.group else people.held(session, person)
    near = _near(session, [h.locker_id for h in held])
    going = {chat.locker_id} | {h.locker_id for h in held if _goes(session, h)}
    left = [h.locker_id for h in held if h.locker_id not in going]
    touched = {i for locker_id in sorted(going) for i in loans.bring_home(session, locker_id, on)} - going
    kit = sum(len(items.of_locker(session, i)) for i in going)
    logged = sum(dives.count(session, i) for i in going)
    met = {m.person for i in going for m in people.of_locker(session, i)}
    known = people.find(session, person)
    name = known.name if known is not None else ""
    for locker_id in left:
        people.leave(session, locker_id, person)
    for locker_id in sorted(going):
        lockers.forget(session, locker_id)
    people.forget_strangers(session, [person, *met])
    if not chat.group:
        _rub_out_key(session, person)
        if name:
            _rub_out_name(session, name, near)
    session.flush()
    return Forgotten(kit, logged, len(going), len(left), frozenset(touched))


def _goes(session: Session, held: Held) -> bool:
    """Tell whether a locker goes with its owner: it began between two, or nobody else is in it."""
    began = lockers.first_chat(session, held.locker_id)
    alone = len(people.of_locker(session, held.locker_id)) == 1
    return alone or (held.role is Role.OWNER and (began is None or not began.group))


def _near(session: Session, locker_ids: Sequence[int]) -> list[int]:
    """Return the chats of some lockers and of all in them: where the bot may have called somebody by name."""
    met = {m.person for i in locker_ids for m in people.of_locker(session, i)}
    theirs = {h.locker_id for person in met for h in people.held(session, person)}
    rows = session.exec(select(Chat.id).where(col(Chat.locker_id).in_({*locker_ids, *theirs})))
    return [lockers.number(i) for i in rows]


def _rub_out_key(session: Session, person: str) -> None:
    """Let `GONE` stand for a person in all that others keep; what offers to do something to them goes."""
    for table, column in _TOLD_BY:
        named = getattr(table, column) == person
        session.exec(update(table).where(named).values({column: GONE}))
    session.exec(update(JournalEntry).where(col(JournalEntry.actor) == GONE).values(said=None))
    session.exec(delete(Invite).where(col(Invite.made_by) == person))
    wire, _, address = person.partition(":")
    session.exec(delete(Letter).where(col(Letter.wire) == wire, col(Letter.address) == address))
    for button in session.exec(select(Button).where(_holds(Button.intent, person))):
        session.delete(button)
    for chat in session.exec(select(Chat).where(_holds(Chat.last_intent, person))):
        chat.last_intent = None
        session.add(chat)
    for entry in session.exec(select(JournalEntry).where(_holds(JournalEntry.changes, person))):
        entry.changes = _each(entry.changes, lambda text: GONE if text == person else text)
        session.add(entry)
    whole = re.compile(rf"(?<!\w){re.escape(person)}(?!\w)")
    for letter in session.exec(select(Letter).where(_holds(Letter.body, person))):
        letter.body = _each_read(letter.body, lambda text: whole.sub(GONE, text))
        session.add(letter)


def _rub_out_name(session: Session, name: str, chat_ids: Sequence[int]) -> None:
    """Drop the buttons of some chats that name somebody, and take the name out of what is on its way to them."""
    whole = re.compile(rf"(?<!\w){re.escape(name)}(?!\w)")
    instead = GONE.partition(":")[2]
    shown = select(Button).where(col(Button.chat_id).in_(chat_ids))
    for button in session.exec(shown.where(col(Button.label).contains(name, autoescape=True))):
        if whole.search(button.label):
            session.delete(button)
    chats = session.exec(select(Chat).where(col(Chat.id).in_(chat_ids))).all()
    for chat in chats:
        waiting = select(Letter).where(Letter.wire == chat.wire, Letter.address == chat.address)
        for letter in session.exec(waiting.where(_holds(Letter.body, name))):
            letter.body = _each_read(letter.body, lambda text: whole.sub(instead, text))
            session.add(letter)


def _holds(column: Any, text: str) -> Any:  # noqa: ANN401 - a JSON column, a condition
    """Ask whether the JSON of a column holds a text as it is written there."""
    return cast(column, String).contains(json.dumps(text)[1:-1], autoescape=True)


def _each(value: Any, change: Callable[[str], str]) -> Any:  # noqa: ANN401 - any JSON value
    """Return a JSON value with every text in it changed, keys too."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {change(key): _each(inner, change) for key, inner in value.items()}
    return [_each(inner, change) for inner in value] if isinstance(value, list) else value


def _each_read(value: Any, change: Callable[[str], str]) -> Any:  # noqa: ANN401 - any JSON value
    """Return a JSON value with every text in it changed that somebody reads."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {k: inner if k in _FOR_MACHINES else _each_read(inner, change) for k, inner in value.items()}
    return [_each_read(inner, change) for inner in value] if isinstance(value, list) else value
