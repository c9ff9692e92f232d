"""Buttons that were shown. A tap names a button by an opaque id and is heeded only in the chat it was shown in."""

from collections.abc import Callable, Sequence
from typing import Any

from sqlalchemy import bindparam
from sqlmodel import Session, col, delete, select, update

from store.lockers import number
from store.tables import Button, Chat

_BATCHES_KEPT = 30
"""Messages of a chat whose buttons still work; older ones would only surprise."""
_OF_MESSAGE = (
    select(Button)
    .where(Button.chat_id == bindparam("chat_id"), Button.batch == bindparam("batch"))
    .order_by(col(Button.place))
)


def show(
    session: Session,
    chat: Chat,
    offers: Sequence[tuple[str, dict[str, Any]]],
    token: Callable[[], str],
    locker_id: int | None = None,
) -> list[Button]:
    """Store the buttons of the newest message of a chat; a message without buttons closes the dialog before it.

    They speak of the locker `locker_id`; None: of the chat's own.
    """
    chat.batch += 1
    session.add(chat)
    rows = [
        Button(
            id=token(),
            chat_id=number(chat.id),
            batch=chat.batch,
            place=place,
            label=label,
            intent=intent,
            locker_id=locker_id,
        )
        for place, (label, intent) in enumerate(offers)
    ]
    session.add_all(rows)
    if rows:
        old = (col(Button.chat_id) == chat.id, col(Button.batch) <= chat.batch - _BATCHES_KEPT)
        session.exec(delete(Button).where(*old))
    session.flush()
    return rows


def latest(session: Session, chat: Chat) -> list[Button]:
    """Return the buttons of the newest message; none if it had none."""
    return list(session.exec(_OF_MESSAGE, params={"chat_id": chat.id, "batch": chat.batch}))


def labelled(session: Session, chat_id: int, label: str) -> Button | None:
    """Return the newest button of a chat with that label."""
    query = select(Button).where(Button.chat_id == chat_id, Button.label == label)
    return session.exec(query.order_by(col(Button.batch).desc()).limit(1)).first()


def tapped(session: Session, chat_id: int, button_id: str) -> Button | None:
    """Return the button if it was shown in this very chat, else None."""
    button = session.get(Button, button_id)
    return button if button is not None and button.chat_id == chat_id else None


def place_under(session: Session, button_ids: Sequence[str], message: str) -> None:
    """Note under which message of the wire buttons stand, so that an answer to that message finds them."""
    session.exec(update(Button).where(col(Button.id).in_(button_ids)).values(message=message))


def under(session: Session, chat_id: int, message: str) -> list[Button]:
    """Return the buttons of a message as they were shown last."""
    query = select(Button).where(Button.chat_id == chat_id, Button.message == message)
    rows = list(session.exec(query.order_by(col(Button.batch), col(Button.place))))
    return [row for row in rows if row.batch == rows[-1].batch]
