"""The outbox: notices on their way to a chat. Each step is one guarded UPDATE, so that no two workers take the same one."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import TypedDict

from sqlalchemy import CursorResult, case, insert
from sqlmodel import Session, col, func, or_, select, update

from store.tables import Chat, Notice

LEASE = timedelta(minutes=2)
"""How long a claimed notice may be in flight before another worker may take it again."""

BOARD = "board"
"""The stage of a notice that brings the due board."""


class NewNotice(TypedDict):
    """A notice of a task that is to be queued."""

    key: str
    locker_id: int
    chat_id: int
    item_id: int
    part: str
    rule: str
    due_on: date
    stage: str
    send_at: datetime


def add(session: Session, notice: Notice) -> bool:
    """Queue a notice; False if its key was queued before. One that was cancelled and is true again goes back to pending."""
    before = session.exec(select(Notice).where(Notice.key == notice.key)).first()
    if before is None:
        session.add(notice)
        return True
    if before.state != "cancelled":
        return False
    before.state, before.send_at, before.attempts, before.error = "pending", notice.send_at, 0, None
    session.add(before)
    return True


def add_all(session: Session, notices: Sequence[NewNotice]) -> None:
    """Queue notices as `add` does, with one read and one write for all that are new."""
    keys = [notice["key"] for notice in notices]
    states = dict(session.exec(select(Notice.key, Notice.state).where(col(Notice.key).in_(keys))).all())
    new = [notice for notice in notices if notice["key"] not in states]
    if new:
        session.connection().execute(insert(Notice), new)
    for notice in notices:
        if states.get(notice["key"]) == "cancelled":
            add(session, Notice(**notice))


def release_expired(session: Session, now: datetime) -> None:
    """Give back notices whose worker died in the middle, or began by a clock that was ahead and has been put right.

    Clocks of two processes may differ a little. What was claimed was due, so it is due now.
    """
    over = or_(col(Notice.lease_until) <= now, col(Notice.lease_until) > now + 2 * LEASE)
    due = case((col(Notice.send_at) > now, now), else_=col(Notice.send_at))
    session.exec(
        update(Notice)
        .where(col(Notice.state) == "claimed", over)
        .values(state="pending", lease_until=None, send_at=due)
        .execution_options(synchronize_session=False),
    )


def claim(session: Session, now: datetime, chats: int, wires: Collection[str]) -> dict[int, list[Notice]]:
    """Claim all that is due for up to `chats` chats of some wires, the longest waiting first; muted or held ones are left alone."""
    waiting = (
        select(Notice.chat_id)
        .join(Chat, col(Chat.id) == Notice.chat_id)
        .where(Notice.state == "pending", Notice.send_at <= now, col(Chat.muted_at).is_(None))
        .where(col(Chat.wire).in_(wires))
        .where((col(Chat.hold_until).is_(None)) | (col(Chat.hold_until) <= now))
        .group_by(col(Notice.chat_id))
        .order_by(func.min(Notice.send_at))
        .limit(chats)
    )
    claimed: dict[int, list[Notice]] = {chat_id: [] for chat_id in session.exec(waiting)}
    free = (
        select(Notice.id)
        .where(col(Notice.chat_id).in_(list(claimed)))
        .where(col(Notice.state) == "pending", col(Notice.send_at) <= now)
        .with_for_update(skip_locked=True)  # what another worker is taking is left to it
    )
    taken = session.exec(
        update(Notice)
        .where(col(Notice.id).in_(free))
        .values(state="claimed", lease_until=now + LEASE, attempts=Notice.attempts + 1)
        .returning(Notice)
        .execution_options(synchronize_session=False, populate_existing=True)
    ).scalars()
    for notice in sorted(taken, key=lambda n: n.id or 0):
        claimed[notice.chat_id].append(notice)
    return claimed


def settle(
    session: Session,
    notices: Iterable[Notice],
    state: str,
    *,
    now: datetime | None = None,
    send_at: datetime | None = None,
    error: str | None = None,
    tried: bool = True,
    unsure: bool = False,
) -> int:
    """Move claimed notices on: to sent, cancelled, dead, or back to pending at `send_at`. Return how many still were ours.

    A notice whose lease ran out and was claimed anew is another worker's. `tried` False: the wire was not asked, so no
    attempt is used up. `unsure`: it may have arrived all the same, so it keeps the key it was sent by.
    """
    values: dict[str, object] = {"state": state, "lease_until": None, "error": error}
    if not unsure:
        values["sent_as"] = None
    if state == "sent":
        values["sent_at"] = now
    if send_at is not None:
        values["send_at"] = send_at
    if not tried:
        values["attempts"] = Notice.attempts - 1
    ours = 0
    leases: dict[datetime | None, list[int | None]] = defaultdict(list)
    for notice in notices:
        leases[notice.lease_until].append(notice.id)
    for lease, ids in leases.items():
        mine = (col(Notice.id).in_(ids), col(Notice.state) == "claimed", col(Notice.lease_until) == lease)
        done = session.exec(update(Notice).where(*mine).values(**values))
        ours += done.rowcount if isinstance(done, CursorResult) else 0
    return ours


def name_batch(session: Session, notices: Iterable[Notice], key: str) -> None:
    """Note by which key notices are about to be sent together."""
    ids = [notice.id for notice in notices]
    session.exec(update(Notice).where(col(Notice.id).in_(ids)).values(sent_as=key))


def next_send(session: Session) -> datetime | None:
    """Return when there is something to do next: a notice to send, a hold or a lease that ends; None if nothing waits."""
    pending = (col(Notice.state) == "pending", col(Chat.muted_at).is_(None))
    free = col(Chat.hold_until).is_(None) | (col(Chat.hold_until) <= Notice.send_at)
    joined = col(Chat.id) == Notice.chat_id
    questions = (
        select(func.min(Notice.send_at)).join(Chat, joined).where(*pending, free),
        select(func.min(Chat.hold_until)).join(Notice, joined).where(*pending, ~free),
        select(func.min(Notice.lease_until)).where(Notice.state == "claimed"),
    )
    return min((at for q in questions if (at := session.exec(q).one()) is not None), default=None)


def of_chat(session: Session, chat_id: int) -> Sequence[Notice]:
    """Return every notice of a chat, oldest first."""
    return list(session.exec(select(Notice).where(Notice.chat_id == chat_id).order_by(col(Notice.id))))
