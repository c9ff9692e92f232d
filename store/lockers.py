"""Chats and the lockers they open, with the wishes of whoever holds the chat."""

from datetime import date, datetime

from sqlmodel import Session, col, delete, select

from store.tables import (
    Button,
    Care,
    CareTask,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Item,
    JournalEntry,
    Locker,
    ManualNote,
    Mishap,
    Notice,
    OwnWord,
    SeenUpdate,
    Snooze,
    Trip,
)


def open_chat(session: Session, wire: str, address: str, now: datetime) -> Chat:
    """Return the chat at that address, with a new locker of its own the first time it speaks."""
    chat = session.exec(select(Chat).where(Chat.wire == wire, Chat.address == address)).first()
    if chat is None:
        locker = Locker(created_at=now)
        session.add(locker)
        session.flush()
        chat = Chat(wire=wire, address=address, locker_id=number(locker.id), created_at=now)
        session.add(chat)
        session.flush()
    if chat.muted_at is not None:  # whoever writes again wants to hear again
        chat.muted_at = None
        session.add(chat)
    return chat


def locker(session: Session, locker_id: int) -> Locker:
    """Return the locker."""
    return session.get_one(Locker, locker_id)


def chat_by_id(session: Session, chat_id: int) -> Chat:
    """Return the chat."""
    return session.get_one(Chat, chat_id)


def find_chat(session: Session, chat_id: int) -> Chat | None:
    """Return the chat, None if it was forgotten."""
    return session.get(Chat, chat_id)


def reminder_chat(session: Session, locker_id: int) -> Chat | None:
    """Return the chat that gets the reminders of a locker: the first that opened it; None if it is gone or muted."""
    query = (
        select(Chat).where(Chat.locker_id == locker_id, col(Chat.muted_at).is_(None)).order_by(col(Chat.id))
    )
    return session.exec(query.limit(1)).first()


def chat_of_calendar(session: Session, token: str) -> Chat | None:
    """Return the chat whose locker's calendar feed has that token, None if there is none."""
    found = session.exec(select(Locker).where(Locker.calendar_token == token)).first()
    if found is None:
        return None
    query = select(Chat).where(Chat.locker_id == found.id).order_by(col(Chat.id))
    return session.exec(query.limit(1)).first()


def pull_back(session: Session, locker_id: int, today: date) -> None:
    """Date what was dived, done or befell "tomorrow" as today: going west over the date line, a day comes twice."""
    for table in (Dive, Care, Mishap):
        for row in session.exec(select(table).where(table.locker_id == locker_id, col(table.on) > today)):
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
    if session.get(SeenUpdate, (wire, update_id)) is not None:
        return True
    session.add(SeenUpdate(wire=wire, update_id=update_id, seen_at=now))
    return False


def forget(session: Session, locker_id: int) -> None:
    """Delete a locker with everything in it and every chat that opened it."""
    chats = select(Chat.id).where(Chat.locker_id == locker_id)
    items = select(Item.id).where(Item.locker_id == locker_id)
    session.exec(delete(Button).where(col(Button.chat_id).in_(chats)))
    session.exec(delete(JournalEntry).where(col(JournalEntry.chat_id).in_(chats)))
    session.exec(delete(DiveItem).where(col(DiveItem.item_id).in_(items)))
    for table in (
        OwnWord,
        Notice,
        CareTask,
        Snooze,
        ManualNote,
        Mishap,
        Care,
        Trip,
        Dive,
        DiveImport,
        Item,
        Chat,
    ):
        session.exec(delete(table).where(col(table.locker_id) == locker_id))
    session.exec(delete(Locker).where(col(Locker.id) == locker_id))


def number(row_id: int | None) -> int:
    """Return the id of a row that has been stored."""
    if row_id is None:
        raise ValueError("the row has not been stored yet")
    return row_id
