"""Buttons that were shown. A tap names a button by an opaque id and is heeded only in the chat it was shown in."""

from collections.abc import Callable, Sequence
from typing import Any

from sqlmodel import Session, col, delete, func, select

from store.tables import Button

_BATCHES_KEPT = 30
"""Messages of a chat whose buttons still work; older ones would only surprise."""


def show(
    session: Session, chat_id: int, offers: Sequence[tuple[str, dict[str, Any]]], token: Callable[[], str]
) -> list[Button]:
    """Store the buttons of the newest message of a chat; a message without buttons closes the dialog before it."""
    newest = session.exec(select(func.max(Button.batch)).where(Button.chat_id == chat_id)).one() or 0
    batch = newest + 1
    rows = [
        Button(id=token(), chat_id=chat_id, batch=batch, place=place, label=label, intent=intent)
        for place, (label, intent) in enumerate(offers)
    ]
    session.add_all(rows)
    session.exec(
        delete(Button).where(col(Button.chat_id) == chat_id, col(Button.batch) <= batch - _BATCHES_KEPT)
    )
    session.flush()
    return rows


def latest(session: Session, chat_id: int) -> list[Button]:
    """Return the buttons of the newest message that had any."""
    newest = select(func.max(Button.batch)).where(Button.chat_id == chat_id).scalar_subquery()
    query = select(Button).where(Button.chat_id == chat_id, Button.batch == newest)
    return list(session.exec(query.order_by(col(Button.place))))


def labelled(session: Session, chat_id: int, label: str) -> Button | None:
    """Return the newest button of a chat with that label."""
    query = select(Button).where(Button.chat_id == chat_id, Button.label == label)
    return session.exec(query.order_by(col(Button.batch).desc()).limit(1)).first()


def tapped(session: Session, chat_id: int, button_id: str) -> Button | None:
    """Return the button if it was shown in this very chat, else None."""
    button = session.get(Button, button_id)
    return button if button is not None and button.chat_id == chat_id else None
