"""Dive files that were sent: kept as read until the diver says to count them, and what of them is here already."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from pydantic import TypeAdapter
from sqlmodel import Session, col, delete, insert, select

from store.exchange.archive import Archive
from store.exchange.logbook import LogFile, LoggedDive
from store.lockers import number
from store.tables import Dive, DiveImport, DiveItem

SAME_START_MIN = 10
"""Two dives that began no further apart, and were about as long, are one and the same."""
SAME_LENGTH_MIN = 5
_ARCHIVE = "archive"
_FILE: TypeAdapter[LogFile] = TypeAdapter(LogFile)


def keep(session: Session, row: DiveImport, log: LogFile) -> DiveImport:
    """Store a file as it was read."""
    row.content = _FILE.dump_python(log, mode="json")
    session.add(row)
    session.flush()
    return row


def keep_archive(session: Session, row: DiveImport, archive: Archive) -> DiveImport:
    """Store a file of all data, as the text it is written as, until somebody says what to do with it."""
    row.content = {_ARCHIVE: archive.model_dump_json()}
    row.state = "waiting"
    session.add(row)
    session.flush()
    return row


def archive_of(row: DiveImport) -> Archive:
    """Return the file of all data that waits in a row."""
    kept = row.content[_ARCHIVE]
    if isinstance(kept, str):
        return Archive.model_validate_json(kept)
    return Archive.model_validate(kept)  # of an older program


def remove(session: Session, row: DiveImport) -> None:
    """Delete a file that was dealt with; nobody undoes that, so the journal need not keep a copy."""
    session.expunge(row)
    row.content = {}
    session.exec(delete(DiveImport).where(col(DiveImport.id) == row.id))


def get(session: Session, locker_id: int, import_id: int) -> DiveImport | None:
    """Return a file of this locker; None for a number that is not in it."""
    row = session.get(DiveImport, import_id)
    return row if row is not None and row.locker_id == locker_id else None


def log_of(row: DiveImport) -> LogFile:
    """Return what the file holds."""
    return _FILE.validate_python(row.content)


def unknown(session: Session, locker_id: int, dives: Sequence[LoggedDive]) -> list[LoggedDive]:
    """Return the dives that are not logged yet, in their order.

    A dive is known if one began within `SAME_START_MIN` of it and was about as long; or if dives without a time of day
    were told by hand for its day: as many as were told are taken to be those.
    """
    query = select(col(Dive.on), col(Dive.dives), col(Dive.started), col(Dive.duration_min))
    timed: dict[date, list[tuple[int, int | None]]] = defaultdict(list)
    by_hand = Counter[date]()
    for on, told, started, minutes in session.exec(query.where(Dive.locker_id == locker_id)):
        if started is None:
            by_hand[on] += told
        else:
            timed[on].append((_minutes(started), minutes))
    found = []
    for dive in dives:
        minutes = _length(dive)
        if dive.started_at is not None:
            at = dive.started_at.hour * 60 + dive.started_at.minute
            if any(abs(at - was) <= SAME_START_MIN and _alike(minutes, long) for was, long in timed[dive.on]):
                continue
        if by_hand[dive.on] >= dive.dives:
            by_hand[dive.on] -= dive.dives
            continue
        if dive.started_at is not None:
            timed[dive.on].append((at, minutes))
        found.append(dive)
    return found


def _minutes(clock: str) -> int:
    hour, minute = clock.split(":")
    return int(hour) * 60 + int(minute)


def _length(dive: LoggedDive) -> int | None:
    return None if dive.duration_s is None else max(1, round(dive.duration_s / 60))


def _alike(one: int | None, other: int | None) -> bool:
    return one is None or other is None or abs(one - other) <= max(SAME_LENGTH_MIN, one // 10)


def count_in(
    session: Session, row: DiveImport, dives: Sequence[tuple[LoggedDive, Iterable[int]]], now: datetime
) -> int:
    """Log the dives of a file, each with the items that were on it; return how many entries. `undo` takes them out again."""
    if not dives:
        row.state = "counted"
        session.add(row)
        return 0
    values = [_values(row, dive, now) for dive, _ in dives]
    made = insert(Dive).returning(col(Dive.id), sort_by_parameter_order=True)
    ids = [number(i) for i in session.scalars(made, values)]
    links = [
        {"dive_id": dive_id, "item_id": item_id}
        for dive_id, (_, items) in zip(ids, dives, strict=True)
        for item_id in sorted(set(items))
    ]
    if links:
        session.execute(insert(DiveItem), links)
    row.state = "counted"
    session.add(row)
    session.flush()
    return len(ids)


def take_out(session: Session, row: DiveImport) -> None:
    """Take the dives of a file out of the log again."""
    of_it = select(Dive.id).where(Dive.locker_id == row.locker_id, Dive.import_id == row.id)
    session.exec(delete(DiveItem).where(col(DiveItem.dive_id).in_(of_it)))
    session.exec(delete(Dive).where(col(Dive.locker_id) == row.locker_id, col(Dive.import_id) == row.id))


def _values(row: DiveImport, dive: LoggedDive, now: datetime) -> dict[str, object]:
    return {
        "locker_id": row.locker_id,
        "on": dive.on,
        "dives": dive.dives,
        "water": dive.water,
        "max_depth_m": dive.max_depth_m,
        "duration_min": _length(dive),
        "min_temp_c": dive.min_temp_c,
        "o2_fraction": dive.o2_fraction,
        "conditions": sorted(c.value for c in dive.conditions),
        "logged_at": now,
        "logged_by": row.sent_by,
        "started": f"{dive.started_at:%H:%M}" if dive.started_at else None,
        "import_id": row.id,
    }
