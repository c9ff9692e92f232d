"""Remembers what a unit of work changed, so that the diver can take it back.

A listener on the session notes each row of the diver's facts that is added, changed or removed, with the values
before. Handlers need not know: whatever they change can be undone.
"""

from datetime import date, datetime
from typing import Any

from sqlalchemy import event, inspect
from sqlalchemy.orm import UOWTransaction
from sqlmodel import Session, SQLModel, col, select

from store import imports
from store.tables import (
    Care,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Item,
    JournalEntry,
    Locker,
    ManualNote,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
)

_FACTS: tuple[type[SQLModel], ...] = (
    Item,
    Dive,
    DiveItem,
    DiveImport,
    Care,
    ManualNote,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
    Chat,
    Locker,
)
_BY_TABLE: dict[str, type[SQLModel]] = {str(t.__tablename__): t for t in _FACTS}
_ONLY: dict[str, frozenset[str]] = {
    "chat": frozenset({"zone", "digest_at", "quiet_from", "quiet_to", "units", "reminders"}),
    "locker": frozenset({"region"}),
}
"""Of these tables only a change of these columns is the diver's; their rows come and go with the chat."""
_DERIVED: dict[str, frozenset[str]] = {"trip": frozenset({"notify_at"})}
"""Columns that are worked out from facts: a change of them is nobody's doing."""
_KEPT = "journal"


def watch(session: Session) -> None:
    """Begin to note what this session changes."""
    session.info[_KEPT] = []
    event.listen(session, "after_flush", _note)


def _note(session: Session, _flush: UOWTransaction) -> None:
    changes: list[dict[str, Any]] = session.info[_KEPT]
    changes += [
        {"table": _table(row), "key": _key(row), "was": None} for row in session.new if _comes_and_goes(row)
    ]
    for row in session.dirty:
        before = _before(row)
        if before:
            changes.append({"table": _table(row), "key": _key(row), "was": before, "update": True})
    changes += [
        {"table": _table(row), "key": _key(row), "was": {c: _plain(getattr(row, c)) for c in _columns(row)}}
        for row in session.deleted
        if _comes_and_goes(row)
    ]


def _comes_and_goes(row: object) -> bool:
    """Tell whether adding or removing the row is the diver's doing."""
    return _table(row) in _BY_TABLE and _table(row) not in _ONLY


def noted(session: Session) -> int:
    """Return how many changes have been noted so far."""
    return len(session.info.get(_KEPT, ()))


def keep(
    session: Session, chat_id: int, actor: str, intent: str, now: datetime, *, forget: bool = False
) -> bool:
    """Store what was noted as one entry that `undo` takes back; with `forget`, do not. Return whether anything changed."""
    session.flush()
    changes = session.info.pop(_KEPT, [])
    event.remove(session, "after_flush", _note)
    if changes and not forget:
        session.add(JournalEntry(chat_id=chat_id, at=now, actor=actor, intent=intent, changes=changes))
    return bool(changes)


def latest(session: Session, chat_id: int) -> JournalEntry | None:
    """Return the newest entry of a chat that still stands."""
    query = select(JournalEntry).where(JournalEntry.chat_id == chat_id, col(JournalEntry.undone_at).is_(None))
    return session.exec(query.order_by(col(JournalEntry.id).desc()).limit(1)).first()


def undo(session: Session, entry: JournalEntry, now: datetime) -> list[str]:
    """Put every row of an entry back as it was; return the tables touched. Later edits to other columns stay."""
    entry.undone_at = now
    session.add(entry)
    for change in reversed(entry.changes):
        model = _BY_TABLE[change["table"]]
        row = session.get(model, tuple(change["key"]))
        if change["was"] is None:
            if row is not None:
                session.delete(row)
        elif change.get("update"):
            if row is not None:
                if isinstance(row, DiveImport):  # its dives came in bulk and were not noted one by one
                    imports.take_out(session, row)
                for name, value in change["was"].items():
                    setattr(row, name, _typed(model, name, value))
        elif row is None:
            session.add(model(**{name: _typed(model, name, value) for name, value in change["was"].items()}))
        session.flush()
    return [change["table"] for change in entry.changes]


def _table(row: object) -> str:
    return str(getattr(type(row), "__tablename__", ""))


def _columns(row: object) -> list[str]:
    return [attribute.key for attribute in inspect(type(row)).column_attrs]


def _key(row: object) -> list[Any]:
    state = inspect(row)
    return [_plain(getattr(row, c.key)) for c in state.mapper.primary_key]


def _before(row: object) -> dict[str, Any]:
    table = _table(row)
    if table not in _BY_TABLE:
        return {}
    wanted = _ONLY.get(table) or set(_columns(row)) - _DERIVED.get(table, frozenset())
    history = {name: inspect(row).attrs[name].history for name in wanted}
    return {name: _plain(h.deleted[0]) for name, h in history.items() if h.has_changes() and h.deleted}


def _plain(value: Any) -> Any:  # noqa: ANN401 - any column value
    return value.isoformat() if isinstance(value, date | datetime) else value


def _typed(model: type[SQLModel], name: str, value: Any) -> Any:  # noqa: ANN401 - any column value
    kind = str(inspect(model).columns[name].type).upper()
    if isinstance(value, str) and "DATETIME" in kind:
        return datetime.fromisoformat(value)
    if isinstance(value, str) and kind == "DATE":
        return date.fromisoformat(value)
    return value
