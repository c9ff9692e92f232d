"""Remembers what a unit of work changed, so that the diver can take it back.

A listener on the session notes each row of the diver's facts that is added, changed or removed, with the values
before. Handlers need not know: whatever they change can be undone.
"""

from collections.abc import Collection
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
    Loan,
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
    Loan,
    Chat,
    Locker,
)
_BY_TABLE: dict[str, type[SQLModel]] = {str(t.__tablename__): t for t in _FACTS}
_ONLY: dict[str, frozenset[str]] = {
    "chat": frozenset(
        {"zone", "digest_at", "quiet_from", "quiet_to", "units", "reminders", "dark", "board_day"}
    ),
    "locker": frozenset({"region", "name"}),
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


def keep(session: Session, entry: JournalEntry, *, forget: bool = False) -> JournalEntry | None:
    """Store what was noted as one entry that `undo` takes back, and return it; None if nothing changed, or with `forget`."""
    session.flush()
    entry.changes = session.info.pop(_KEPT, [])
    event.remove(session, "after_flush", _note)
    if not entry.changes or forget:
        return None
    session.add(entry)
    session.flush()
    return entry


def latest(session: Session, chat_id: int, actor: str) -> JournalEntry | None:
    """Return the newest entry of a person in a chat that still stands."""
    standing = (JournalEntry.chat_id == chat_id, col(JournalEntry.undone_at).is_(None))
    query = select(JournalEntry).where(*standing, JournalEntry.actor == actor)
    return session.exec(query.order_by(col(JournalEntry.id).desc()).limit(1)).first()


def get(session: Session, chat_id: int, entry_id: int) -> JournalEntry | None:
    """Return an entry of this chat; None for a number that is not of it."""
    entry = session.get(JournalEntry, entry_id)
    return entry if entry is not None and entry.chat_id == chat_id else None


def of_message(session: Session, chat_id: int, message: str) -> list[JournalEntry]:
    """Return what a message did, newest first, taken back or not."""
    query = select(JournalEntry).where(JournalEntry.chat_id == chat_id, JournalEntry.message == message)
    return list(session.exec(query.order_by(col(JournalEntry.id).desc())))


def loan_of(session: Session, entry: JournalEntry) -> Loan | None:
    """Return the loan that an entry began or ended, None if it did neither."""
    keys = [change["key"] for change in entry.changes if change["table"] == "loan"]
    return session.get(Loan, tuple(keys[0])) if keys else None


def built_on(session: Session, entry: JournalEntry, lockers: Collection[int]) -> JournalEntry | None:
    """Return a later entry that still stands and touched a row of this one, or an item that it added: that goes first."""
    mine = {_row_of(change) for change in entry.changes}
    added = {change["key"][0] for change in entry.changes if change["table"] == "item" and not change["was"]}
    later = select(JournalEntry).where(
        col(JournalEntry.locker_id).in_(lockers),
        col(JournalEntry.id) > entry.id,
        col(JournalEntry.undone_at).is_(None),
    )
    rows = session.exec(later.order_by(col(JournalEntry.id).desc()))
    return next(
        (
            row
            for row in rows
            if mine & {_row_of(change) for change in row.changes}
            or (added and added & {_item_of(session, change) for change in row.changes})
        ),
        None,
    )


def _item_of(session: Session, change: dict[str, Any]) -> int | None:
    """Return the item that a row is about, None if it is about none."""
    row = session.get(_BY_TABLE[change["table"]], tuple(change["key"]))
    return getattr(row, "item_id", None)


def moved(entry: JournalEntry) -> list[int]:
    """Return the items that an entry put into another locker."""
    return [
        c["key"][0]
        for c in entry.changes
        if c["table"] == "item" and "locker_id" in (c["was"] or ()) and c.get("update")
    ]


def _row_of(change: dict[str, Any]) -> tuple[str, tuple[Any, ...]]:
    return change["table"], tuple(change["key"])


def lockers_of(session: Session, entry: JournalEntry) -> set[int]:
    """Return the lockers whose facts an entry touches, as they stand now and as they stood before it."""
    touched = {change["was"]["locker_id"] for change in entry.changes if "locker_id" in (change["was"] or ())}
    for change in entry.changes:
        row = session.get(_BY_TABLE[change["table"]], tuple(change["key"]))
        touched.add(getattr(row, "locker_id", None))
    return {i for i in (*touched, entry.locker_id) if i is not None}


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
