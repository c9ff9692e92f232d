"""What a database that was put back from an older copy must forget before it goes on."""

from collections.abc import Sequence
from datetime import date

from sqlmodel import Session, col, delete, select, update

from store.tables import Chat, Letter, Notice


def drop_letters(session: Session) -> None:
    """Drop answers that waited when the copy was made: they have been sent since, or nobody waits for them any more."""
    session.exec(delete(Letter))


def cancel_calls(session: Session, stage: str) -> None:
    """Cancel calls of trips of one stage that wait or are on their way."""
    these = (
        col(Notice.trip_id).is_not(None),
        col(Notice.stage) == stage,
        col(Notice.state).in_(("pending", "claimed")),
    )
    session.exec(update(Notice).where(*these).values(state="cancelled", lease_until=None, sent_as=None))


def zones(session: Session) -> Sequence[str]:
    """Return the time zones of all chats."""
    return session.exec(select(Chat.zone).distinct()).all()


def count_as_reminded(session: Session, zone: str, on: date) -> None:
    """Note of all chats of a zone that their message of a day went out."""
    session.exec(update(Chat).where(col(Chat.zone) == zone).values(last_digest_on=on))
