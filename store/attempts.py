"""Updates that were begun: noted before their unit of work, gone with its effect. What stays was begun and never ended."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import bindparam
from sqlalchemy.dialects.postgresql import insert  # what it says here, SQLite understands as well
from sqlmodel import Session, SQLModel, col, delete, func, select

from store.tables import Attempt


def begin(session: Session, update: tuple[str, str], what: str, now: datetime, *, alone: bool) -> int:
    """Note that an update is begun; return how often it was before, and never ended.

    One that was is noted only if nothing else is in hand: what ends the process then is this one's doing.
    """
    first = {"wire": update[0], "update_id": update[1], "what": what, "begun_at": now}
    if session.connection().execute(_BEGIN, first).first() is not None:
        return 0
    row = session.get_one(Attempt, update)
    before = row.times
    if alone:
        row.times, row.begun_at = before + 1, now
        session.add(row)
    return before


def end(session: Session, update: tuple[str, str]) -> None:
    """Note that an update came to its end."""
    session.connection().execute(_END, {"of_wire": update[0], "of_update": update[1]})


def put_aside(session: Session, update: tuple[str, str], what: str, times: int, now: datetime) -> None:
    """Note that an update is not begun again, and why."""
    row = Attempt(wire=update[0], update_id=update[1], what=what, times=times, begun_at=now, set_aside=True)
    session.add(row)


def aside(session: Session, after: datetime) -> Sequence[Attempt]:
    """Return what was put aside after an instant, the newest first."""
    query = select(Attempt).where(col(Attempt.set_aside), col(Attempt.begun_at) > after)
    return session.exec(query.order_by(col(Attempt.begun_at).desc())).all()


def count_aside(session: Session, after: datetime) -> int:
    """Count what was put aside after an instant."""
    query = select(func.count()).where(col(Attempt.set_aside), col(Attempt.begun_at) > after)
    return session.exec(query).one()


def drop_old(session: Session, before: datetime) -> int:
    """Forget what was begun, or put aside, before an instant."""
    return session.exec(delete(Attempt).where(col(Attempt.begun_at) < before)).rowcount


_TABLE = SQLModel.metadata.tables["attempt"]
_BEGIN = (
    insert(_TABLE)
    .values({name: bindparam(name) for name in ("wire", "update_id", "what", "begun_at")})
    .values(times=1, set_aside=False)
    .on_conflict_do_nothing()
    .returning(_TABLE.c.times)
)
_END = delete(_TABLE).where(
    _TABLE.c.wire == bindparam("of_wire"),
    _TABLE.c.update_id == bindparam("of_update"),
    _TABLE.c.set_aside.is_(False),
)
"""Built once: every message asks them."""
