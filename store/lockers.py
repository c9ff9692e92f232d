"""Chats and the lockers they open, with the wishes of whoever holds the chat."""

from datetime import date, datetime

from sqlalchemy import bindparam
from sqlalchemy.dialects.postgresql import insert  # what it says here, SQLite understands as well
from sqlmodel import Session, col, delete, select, update

from store.tables import (
    Button,
    Care,
    CareTask,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Invite,
    Item,
    JournalEntry,
    Letter,
    Loan,
    Locker,
    ManualNote,
    Member,
    Mishap,
    Notice,
    OwnWord,
    SeenUpdate,
    Snooze,
    Trip,
)

_AT_ADDRESS = select(Chat).where(Chat.wire == bindparam("wire"), Chat.address == bindparam("address"))
_REMINDED = (
    select(Chat)
    .where(Chat.locker_id == bindparam("locker_id"), col(Chat.muted_at).is_(None))
    .order_by(col(Chat.id))
    .limit(1)
)


def at_address(session: Session, wire: str, address: str) -> Chat | None:
    """Return the chat at an address, None if it never spoke."""
    return session.exec(_AT_ADDRESS, params={"wire": wire, "address": address}).first()


def open_chat(
    session: Session, wire: str, address: str, now: datetime, *, group: bool = False, topic: str | None = None
) -> Chat:
    """Return the chat at that address, with a new locker of its own the first time it speaks.

    What began between two stays private, whoever is brought in later; what began as a group stays one.
    """
    chat = at_address(session, wire, address)
    if chat is None:
        locker = Locker(created_at=now)
        session.add(locker)
        session.flush()
        chat = Chat(wire=wire, address=address, locker_id=number(locker.id), group=group, created_at=now)
        session.add(chat)
        session.flush()
    if chat.muted_at is not None:  # whoever writes again wants to hear again
        chat.muted_at = None
        session.add(chat)
    if chat.topic != topic:
        chat.topic = topic
        session.add(chat)
    return chat


def mute(session: Session, wire: str, address: str, now: datetime) -> None:
    """Send a chat nothing more until somebody writes there again: it was blocked, deleted or left."""
    chat = at_address(session, wire, address)
    if chat is not None and chat.muted_at is None:
        chat.muted_at = now
        session.add(chat)


def others_held(session: Session, wire: str, address: str, now: datetime) -> bool:
    """Tell whether another chat of a wire is in a hold."""
    query = select(Chat.id).where(
        Chat.wire == wire,
        Chat.address != address,
        col(Chat.hold_until).is_not(None),
        col(Chat.hold_until) > now,
    )
    return session.exec(query.limit(1)).first() is not None


def move_chat(session: Session, wire: str, address: str, to: str) -> None:
    """Give a chat the new address that the wire gave it; what began at the new address meanwhile gives way if it is empty."""
    if address == to:
        return
    for letter in session.exec(select(Letter).where(Letter.wire == wire, Letter.address == address)):
        letter.address = to
        session.add(letter)
    chat, newer = at_address(session, wire, address), at_address(session, wire, to)
    if chat is None:
        return
    if newer is not None and _is_used(session, newer.locker_id):
        chat.muted_at = chat.muted_at or newer.created_at
        session.add(chat)
        return
    if newer is not None:
        _delete(session, newer.locker_id)
    chat.address = to
    session.add(chat)
    session.flush()


def locker(session: Session, locker_id: int) -> Locker:
    """Return the locker."""
    return session.get_one(Locker, locker_id)


def take_turn(session: Session, *locker_ids: int) -> None:
    """Let nobody else change these lockers unseen at the same time: of two that take their turn, the later begins anew.

    What is worked out there hangs on all of its facts, and two who add some each see only their own. To write the row, if
    only as it is, makes the database see that they met; on SQLite they never do.
    """
    if session.get_bind().dialect.name == "sqlite":  # a file has one writer: they never meet
        return
    as_it_is = update(Locker).where(col(Locker.id).in_(locker_ids)).values(region=Locker.region)
    session.exec(as_it_is.execution_options(synchronize_session=False))


def exists(session: Session, locker_id: int) -> bool:
    """Tell whether a locker is there still."""
    return session.get(Locker, locker_id) is not None


def find_chat(session: Session, chat_id: int) -> Chat | None:
    """Return the chat, None if it was forgotten."""
    return session.get(Chat, chat_id)


def first_chat(session: Session, locker_id: int) -> Chat | None:
    """Return the chat that a locker began with, None if it is gone."""
    query = select(Chat).where(Chat.locker_id == locker_id).order_by(col(Chat.id))
    return session.exec(query.limit(1)).first()


def reminder_chat(session: Session, locker_id: int) -> Chat | None:
    """Return the chat that gets the reminders of a locker: the first that opened it; None if it is gone or muted."""
    return session.exec(_REMINDED, params={"locker_id": locker_id}).first()


def chat_of_calendar(session: Session, token: str) -> Chat | None:
    """Return the chat whose locker's calendar feed has that token, None if there is none."""
    found = session.exec(select(Locker).where(Locker.calendar_token == token)).first()
    if found is None:
        return None
    query = select(Chat).where(Chat.locker_id == found.id).order_by(col(Chat.id))
    return session.exec(query.limit(1)).first()


def _is_used(session: Session, locker_id: int) -> bool:
    """Tell whether anything was ever put into a locker, or several people are in it."""
    facts = (Item, Dive, DiveImport, Care, Mishap, Trip, OwnWord)
    held = any(session.exec(select(t.id).where(t.locker_id == locker_id).limit(1)).first() for t in facts)
    lent = session.exec(select(Loan.id).where(Loan.owner_id == locker_id).limit(1)).first()
    people = session.exec(select(Member.person).where(Member.locker_id == locker_id).limit(2)).all()
    return held or lent is not None or len(people) > 1


def pull_back(session: Session, locker_id: int, today: date, by: str | None = None) -> None:
    """Date what was dived, done or befell "tomorrow" as today: going west over the date line, a day comes twice.

    `by`: only what this person told, who alone travelled; None: everything.
    """
    for table, told_by in ((Dive, "logged_by"), (Care, "done_by"), (Mishap, "told_by")):
        for row in session.exec(select(table).where(table.locker_id == locker_id, col(table.on) > today)):
            if by is None or getattr(row, told_by) == by:
                row.on = today
                session.add(row)


def planned_otherwise(session: Session, edition: str, limit: int) -> list[int]:
    """Return lockers whose care tasks were worked out by another edition of the rules."""
    other = col(Locker.planned_by).is_(None) | (col(Locker.planned_by) != edition)
    return [
        number(i) for i in session.exec(select(Locker.id).where(other).order_by(col(Locker.id)).limit(limit))
    ]


def seen(session: Session, wire: str, update_id: str, now: datetime) -> bool:
    """Note an update and tell whether it had acted before."""
    row = insert(SeenUpdate).values(wire=wire, update_id=update_id, seen_at=now)
    noted = row.on_conflict_do_nothing().returning(
        col(SeenUpdate.wire)
    )  # to look first would meet all who write
    return session.connection().execute(noted).first() is None


def forget(session: Session, locker_id: int) -> None:
    """Delete a locker with everything in it and the chats that began with it; nothing may be lent or borrowed any more."""
    for chat in session.exec(select(Chat).where(Chat.locker_id == locker_id)):
        letters = (col(Letter.wire) == chat.wire, col(Letter.address) == chat.address)
        session.exec(delete(Letter).where(*letters))
    _delete(session, locker_id)


def empty(session: Session, locker_id: int) -> None:
    """Delete all that was told of a locker, with what hangs on it; chats, people and wishes stay.

    Nothing may be lent or borrowed any more.
    """
    chats = select(Chat.id).where(Chat.locker_id == locker_id)
    items = select(Item.id).where(Item.locker_id == locker_id)
    for said in (Button, JournalEntry):
        at_home = col(said.locker_id).is_(None) & col(said.chat_id).in_(chats)
        session.exec(delete(said).where((col(said.locker_id) == locker_id) | at_home))
    stand_ins = _stand_ins(session, locker_id)
    session.exec(delete(Loan).where(col(Loan.owner_id) == locker_id))
    session.exec(delete(DiveItem).where(col(DiveItem.item_id).in_(items)))
    for table in (OwnWord, Notice, CareTask, Snooze, ManualNote, Mishap, Care, Trip, Dive, DiveImport, Item):
        session.exec(delete(table).where(col(table.locker_id) == locker_id))
    for stand_in in stand_ins:
        _delete(session, stand_in)


def _stand_ins(session: Session, locker_id: int) -> list[int]:
    """Return the lockers that stand for a borrower of whom only a file of all data told: nobody and no chat is in them."""
    query = select(Locker.id).where(
        col(Locker.id).in_(select(Loan.borrower_id).where(Loan.owner_id == locker_id)),
        col(Locker.id).not_in(select(Chat.locker_id)),
        col(Locker.id).not_in(select(Member.locker_id)),
    )
    return [number(i) for i in session.exec(query)]


def _delete(session: Session, locker_id: int) -> None:
    empty(session, locker_id)
    session.exec(update(Chat).where(col(Chat.open_id) == locker_id).values(open_id=None))
    chats = select(Chat.id).where(Chat.locker_id == locker_id)
    session.exec(delete(Loan).where(col(Loan.borrower_id) == locker_id))
    session.exec(delete(Button).where(col(Button.chat_id).in_(chats)))
    session.exec(delete(JournalEntry).where(col(JournalEntry.chat_id).in_(chats)))
    session.exec(delete(Notice).where(col(Notice.chat_id).in_(chats)))
    for table in (Chat, Member, Invite):
        session.exec(delete(table).where(col(table.locker_id) == locker_id))
    session.exec(delete(Locker).where(col(Locker.id) == locker_id))


def number(row_id: int | None) -> int:
    """Return the id of a row that has been stored."""
    if row_id is None:
        raise ValueError("the row has not been stored yet")
    return row_id
