"""Chats to which the due board comes by itself once a week."""

from datetime import datetime

from sqlmodel import Session, col, select

from store.tables import Chat

_WANTED = (col(Chat.board_at).is_not(None), col(Chat.muted_at).is_(None))


def to_send(session: Session, now: datetime, limit: int) -> list[Chat]:
    """Return chats whose hour for the board has come, the longest waiting first."""
    ripe = select(Chat).where(*_WANTED, col(Chat.board_at) <= now)
    return list(session.exec(ripe.order_by(col(Chat.board_at), col(Chat.id)).limit(limit)))


def next_board(session: Session) -> datetime | None:
    """Return when the next board is to come, None if none is."""
    return session.exec(select(Chat.board_at).where(*_WANTED).order_by(col(Chat.board_at)).limit(1)).first()
