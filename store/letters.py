"""Answers on their way: stored with what a message did, gone once the wire has taken them; and where each wire stands."""

from collections.abc import Collection
from datetime import datetime
from typing import Any

from sqlalchemy.dialects.postgresql import insert  # what it says here, SQLite understands as well
from sqlmodel import Session, col, delete, func, select

from store.lockers import number
from store.tables import Chat, Letter, WireState


def add(session: Session, letter: Letter) -> int:
    """Queue a letter and return its number."""
    session.add(letter)
    session.flush()
    return number(letter.id)


def waiting(
    session: Session, wire: str, now: datetime, limit: int, but: Collection[str] = ()
) -> list[Letter]:
    """Return the oldest letter of each chat of a wire, if its time has come; chats in `but` are left out."""
    query = select(Letter).where(col(Letter.id).in_(_heads(wire, now, but)), Letter.send_at <= now)
    return list(session.exec(query.order_by(col(Letter.id)).limit(limit)))


def next_send(session: Session, wire: str, now: datetime, but: Collection[str] = ()) -> datetime | None:
    """Return when the oldest letter of a chat wants to be sent next, None if none waits but behind a hold."""
    heads = col(Letter.id).in_(_heads(wire, now, but))
    return session.exec(select(func.min(Letter.send_at)).where(heads)).one()


def _heads(wire: str, now: datetime, but: Collection[str]) -> Any:  # noqa: ANN401 - a subquery
    """Select the oldest letter of each chat that is neither in `but` nor in a hold."""
    held = select(Chat.address).where(
        Chat.wire == wire, col(Chat.hold_until).is_not(None), col(Chat.hold_until) > now
    )
    free = (col(Letter.address).not_in(but), col(Letter.address).not_in(held))
    return select(func.min(Letter.id)).where(Letter.wire == wire, *free).group_by(col(Letter.address))


def put_off(
    session: Session,
    letter_id: int,
    send_at: datetime,
    *,
    done: int = 0,
    under: str | None = None,
) -> None:
    """Try a letter again at a later time; `done` parts of it have arrived, the last of them as the message `under`."""
    letter = session.get(Letter, letter_id)
    if letter is not None:
        letter.send_at, letter.attempts = send_at, letter.attempts + 1
        letter.body = {**letter.body, "done": done, "under": under}
        session.add(letter)


def drop(session: Session, letter_id: int) -> None:
    """Delete a letter: it arrived, or never will."""
    session.exec(delete(Letter).where(col(Letter.id) == letter_id))


def drop_all(session: Session, wire: str, address: str) -> None:
    """Delete what waits for a chat."""
    session.exec(delete(Letter).where(col(Letter.wire) == wire, col(Letter.address) == address))


def state(session: Session, wire: str) -> WireState:
    """Return where a wire stands."""
    return session.get(WireState, wire) or WireState(wire=wire)


def set_position(session: Session, wire: str, position: str) -> None:
    """Note up to where the updates of a wire were handled."""
    row = state(session, wire)
    row.position = position
    session.add(row)


def take_turn(session: Session, wire: str) -> None:
    """Let nobody else decide about a wire unseen at the same time: see `lockers.take_turn`."""
    row = insert(WireState).values(wire=wire)
    session.exec(row.on_conflict_do_update(index_elements=["wire"], set_={"wire": wire}))


def hold_wire(session: Session, wire: str, until: datetime) -> None:
    """Send nothing on a wire before an instant; only time ends a hold."""
    row = state(session, wire)
    row.hold_until = max(until, row.hold_until or until)
    session.add(row)
