"""How much waits, for whoever watches the service: numbers only, over all lockers, nothing of whose they are."""

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from sqlmodel import Session, col, func, select

from store.attempts import count_aside
from store.letters import set_position, state
from store.tables import Chat, Letter, Notice, WireState

_PULSE = "health"
"""The row that a look at the database writes: no wire is called so."""
ASIDE_TOLD = timedelta(days=7)
"""How long an update that was put aside is told to whoever watches."""
_STATES = ("pending", "claimed", "dead")
"""States of notices that are few; what was sent or cancelled is not counted over and over."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What waits. Wires are named only where something waits on them."""

    letters: dict[str, int] = field(default_factory=dict)
    letter_since: dict[str, datetime] = field(default_factory=dict)
    """When the oldest letter of a wire was to be sent, or is to be tried again."""
    notices: dict[str, int] = field(default_factory=dict)
    """By state."""
    notice_since: dict[str, datetime] = field(default_factory=dict)
    """Since when the oldest notice waits, by wire; those of chats that take none are left out."""
    chats_held: dict[str, int] = field(default_factory=dict)
    wires_held: dict[str, datetime] = field(default_factory=dict)
    """Until when."""
    set_aside: int = 0
    """Updates of the last days that were put aside."""


def standing(session: Session, now: datetime) -> Standing:
    """Count what waits at an instant."""
    waiting = select(Letter.wire, func.count(), func.min(Letter.send_at)).group_by(col(Letter.wire))
    letters = session.exec(waiting).all()
    states = select(Notice.state, func.count()).where(col(Notice.state).in_(_STATES))
    ripe = (
        select(Chat.wire, func.min(Notice.send_at))
        .join(Chat, col(Chat.id) == Notice.chat_id)
        .where(Notice.state == "pending", Notice.send_at <= now, col(Chat.muted_at).is_(None))
        .group_by(col(Chat.wire))
    )
    held = (
        select(Chat.wire, func.count())
        .where(col(Chat.hold_until).is_not(None), col(Chat.hold_until) > now)
        .group_by(col(Chat.wire))
    )
    wires = select(WireState).where(col(WireState.hold_until) > now)
    return Standing(
        {wire: count for wire, count, _ in letters},
        {wire: since for wire, _, since in letters},
        dict.fromkeys(_STATES, 0) | dict(session.exec(states.group_by(col(Notice.state))).all()),
        dict(session.exec(ripe).all()),
        dict(session.exec(held).all()),
        {row.wire: row.hold_until for row in session.exec(wires) if row.hold_until is not None},
        count_aside(session, now - ASIDE_TOLD),
    )


def ping(session: Session, word: str) -> bool:
    """Write a row and read it back; tell whether it says what was written."""
    set_position(session, _PULSE, word)
    session.flush()
    session.expire_all()
    return state(session, _PULSE).position == word
