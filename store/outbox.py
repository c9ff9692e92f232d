"""The outbox: notices on their way to a chat. Each step is one guarded UPDATE, so that no two workers take the same one."""

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from sqlalchemy import CursorResult
from sqlmodel import Session, col, func, select, update

from store.tables import Chat, Notice

LEASE = timedelta(minutes=2)
"""How long a claimed notice may be in flight before another worker may take it again."""


def add(session: Session, notice: Notice) -> bool:
    """Queue a notice; False if its key was queued before, whatever became of it."""
    if session.exec(select(Notice.id).where(Notice.key == notice.key)).first() is not None:
        return False
    session.add(notice)
    return True


def release_expired(session: Session, now: datetime) -> None:
    """Give back notices whose worker died in the middle."""
    session.exec(
        update(Notice)
        .where(col(Notice.state) == "claimed", col(Notice.lease_until) <= now)
        .values(state="pending", lease_until=None),
    )


def claim(session: Session, now: datetime, chats: int) -> dict[int, list[Notice]]:
    """Claim all that is due for up to `chats` chats, the longest waiting first; chats muted or held are left alone."""
    waiting = (
        select(Notice.chat_id)
        .join(Chat, col(Chat.id) == Notice.chat_id)
        .where(Notice.state == "pending", Notice.send_at <= now, col(Chat.muted_at).is_(None))
        .where((col(Chat.hold_until).is_(None)) | (col(Chat.hold_until) <= now))
        .group_by(col(Notice.chat_id))
        .order_by(func.min(Notice.send_at))
        .limit(chats)
    )
    claimed: dict[int, list[Notice]] = {}
    for chat_id in session.exec(waiting).all():
        session.exec(
            update(Notice)
            .where(col(Notice.chat_id) == chat_id, col(Notice.state) == "pending", col(Notice.send_at) <= now)
            .values(state="claimed", lease_until=now + LEASE, attempts=Notice.attempts + 1),
        )
        rows = session.exec(
            select(Notice).where(
                Notice.chat_id == chat_id, Notice.state == "claimed", Notice.lease_until == now + LEASE
            )
        )
        claimed[chat_id] = sorted(rows, key=lambda n: n.id or 0)
    return claimed


def settle(
    session: Session,
    notices: Iterable[Notice],
    state: str,
    *,
    now: datetime | None = None,
    send_at: datetime | None = None,
    error: str | None = None,
) -> int:
    """Move claimed notices on: to sent, cancelled, dead, or back to pending at `send_at`. Return how many still were ours."""
    ids = [n.id for n in notices]
    values: dict[str, object] = {"state": state, "lease_until": None, "error": error}
    if state == "sent":
        values["sent_at"] = now
    if send_at is not None:
        values["send_at"] = send_at
    done = session.exec(
        update(Notice).where(col(Notice.id).in_(ids), col(Notice.state) == "claimed").values(**values)
    )
    return done.rowcount if isinstance(done, CursorResult) else 0


def next_send(session: Session) -> datetime | None:
    """Return when the next pending notice wants to go, None if none waits."""
    query = (
        select(Notice.send_at)
        .join(Chat, col(Chat.id) == Notice.chat_id)
        .where(Notice.state == "pending", col(Chat.muted_at).is_(None))
    )
    return session.exec(query.order_by(col(Notice.send_at)).limit(1)).first()


def of_chat(session: Session, chat_id: int) -> Sequence[Notice]:
    """Return every notice of a chat, oldest first."""
    return list(session.exec(select(Notice).where(Notice.chat_id == chat_id).order_by(col(Notice.id))))
