"""Backup and restore of a SQLite database: a copy made while it is in use, looked at before it counts.

PostgreSQL has its own tools, which do this better.
"""

import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import make_url

from store.engine import SCHEMA, Store, sqlite_url
from store.errors import StoreError

STAMP = "%Y%m%dT%H%M%SZ"
_NAMED = re.compile(r"rinsetank-(\d{8}T\d{6}Z)\.db")
_MARK = "backup"
"""The row of `wire_state` in a copy that says when it was made: no wire is called so."""
_PAGES = 1_000
_HEAD = b"SQLite format 3\0"
Progress = Callable[[float], object]
"""Takes the part that is done, 0 to 1. What it raises ends the work."""


@dataclass(frozen=True, slots=True)
class Made:
    """A backup in a folder, by its name."""

    path: Path
    at: datetime


@dataclass(frozen=True, slots=True)
class Copy:
    """A copy that was looked at. `at` None: it was not made by `back_up`, so nobody knows when."""

    path: Path
    at: datetime | None
    schema: str
    rows: dict[str, int]
    size_bytes: int


def file_of(url: str) -> Path | None:
    """Return the file of a database, None if it is not SQLite."""
    parsed = make_url(url)
    return Path(parsed.database or "") if parsed.get_backend_name() == "sqlite" else None


def name_at(at: datetime) -> str:
    """Return the name of a backup made at an instant."""
    return f"rinsetank-{at.astimezone(UTC).strftime(STAMP)}.db"


def made(folder: Path) -> list[Made]:
    """Return the backups in a folder, newest first; none if there is no such folder."""
    named = (_NAMED.fullmatch(path.name) for path in (folder.iterdir() if folder.is_dir() else ()))
    found = [
        Made(folder / name[0], datetime.strptime(name[1], STAMP).replace(tzinfo=UTC))
        for name in named
        if name
    ]
    return sorted(found, key=lambda m: m.at, reverse=True)


def newest(folder: Path) -> Made | None:
    """Return the newest backup in a folder, None if there is none."""
    return next(iter(made(folder)), None)


def drop_old(folder: Path, keep: int) -> int:
    """Delete all but the newest backups of a folder; return how many went. Call it once a newer one was looked at."""
    old = made(folder)[keep:]
    for one in old:
        one.path.unlink(missing_ok=True)
    return len(old)


def back_up(url: str, to: Path, at: datetime, progress: Progress = lambda _: None) -> Copy:
    """Copy a SQLite database to a new file, look at the copy, and only then give it its name.

    StoreError if it cannot be copied, the copy is not sound, or there is such a file already. Who writes meanwhile
    need not wait, and what they write is not in the copy.
    """
    source = file_of(url)
    if source is None or not source.is_file():
        raise StoreError(f"there is no database to back up at {source}")
    if to.exists():
        raise StoreError(f"{to} is there already: give another name")
    part = to.with_name(f".{to.name}.part")
    with _in_one_line(to), _fresh(part):
        rows = _copy(source, part, progress)
        with closing(_opened(part)) as copy:
            known = copy.execute("SELECT count(*) FROM wire_state WHERE wire = ?", (_MARK,)).fetchone()[0]
            rows["wire_state"] += 1 - known
            mark = (_MARK, at.astimezone(UTC).isoformat())
            copy.execute("INSERT OR REPLACE INTO wire_state (wire, position) VALUES (?, ?)", mark)
        copied = look_at(part)
        if copied.rows != rows:
            raise StoreError("the copy does not hold as many rows as the database: nothing was kept")
        _sync(part)
        part.replace(to)
        _sync(to.parent)
    return Copy(to, at, copied.schema, copied.rows, copied.size_bytes)


def look_at(path: Path) -> Copy:
    """Look at a copy: whole, no loose ends, of a schema that this program knows. StoreError says what is wrong."""
    if not path.is_file():
        raise StoreError(f"there is no file {path}")
    with _in_one_line(path), closing(_opened(path, "ro")) as copy:
        if (said := copy.execute("PRAGMA integrity_check").fetchone()[0]) != "ok":
            raise StoreError(f"{path} is damaged: {str(said).splitlines()[0]}")
        rows = _rows(copy)
        if "alembic_version" not in rows:
            raise StoreError(f"{path} is no database of this program")
        schema = str(copy.execute("SELECT version_num FROM alembic_version").fetchone()[0])
        if schema > SCHEMA:
            raise StoreError(
                f"{path} is newer (schema {schema}) than this program ({SCHEMA}): update the program"
            )
        if copy.execute("PRAGMA foreign_key_check").fetchone() is not None:
            raise StoreError(f"{path} is damaged: a row belongs to nothing")
        marked = (
            "wire_state" in rows
            and copy.execute("SELECT position FROM wire_state WHERE wire = ?", (_MARK,)).fetchone()
        )
        at = datetime.fromisoformat(marked[0]) if marked else None
    return Copy(path, at, schema, rows, path.stat().st_size)


def put_back(
    copy: Path, url: str, now: datetime, settle: Callable[[Store], None], progress: Progress = lambda _: None
) -> Path | None:
    """Put a copy in the place of a database, and return where the database of before lies, None if there was none.

    `settle` makes the copy fit to go on from, before anybody sees it. StoreError if the database is in use.
    """
    target = file_of(url)
    if target is None:
        raise StoreError("only a SQLite database can be put back from a file")
    stamp = now.astimezone(UTC).strftime(STAMP)
    part, before = target.with_name(f".{target.name}.part"), target.with_name(f"{target.name}.before-{stamp}")
    with _in_one_line(target), _fresh(part):
        there = target.exists() and target.stat().st_size > 0
        if there:
            _alone(target)
        _copy(copy, part, progress)
        store = Store(sqlite_url(part))
        try:
            settle(store)
        finally:
            store.close()
        with closing(_opened(part)) as settled:
            settled.execute("DELETE FROM wire_state WHERE wire = ?", (_MARK,))
        _sync(part)
        if there:
            was = target.stat()
            with suppress(PermissionError):  # only the administrator, who may restore for another, can
                os.chown(part, was.st_uid, was.st_gid)
            for tail in ("-wal", "-shm"):  # left by a damaged one alone
                with suppress(FileNotFoundError):
                    target.with_name(target.name + tail).rename(before.with_name(before.name + tail))
            target.rename(before)
        part.replace(target)
        _sync(target.parent)
    return before if there else None


def _copy(source: Path, to: Path, progress: Progress) -> dict[str, int]:
    """Copy a database as it stands at one instant; return how many rows each table has."""
    with closing(_opened(source, "rw")) as old, closing(_opened(to)) as new:
        old.execute("BEGIN")
        rows = _rows(
            old
        )  # from here on it reads one instant, so that whoever writes does not make it begin anew
        old.backup(
            new, pages=_PAGES, progress=lambda _, left, total: progress(1 - left / max(1, total)), sleep=0
        )
        new.execute("PRAGMA journal_mode=DELETE")  # one file, whole by itself
    return rows


def _rows(connection: sqlite3.Connection) -> dict[str, int]:
    names = [n for (n,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - names of its own tables
        for name in names
        if not name.startswith("sqlite_")
    }


def _opened(path: Path, mode: str = "rw") -> sqlite3.Connection:
    return sqlite3.connect(
        f"{path.resolve().as_uri()}?mode={mode}", uri=True, isolation_level=None, timeout=5
    )


def _alone(path: Path) -> None:
    """Put what was written last into the file itself; StoreError if another program has it open. A damaged one is let be."""
    with path.open("rb") as file:
        if file.read(len(_HEAD)) != _HEAD:  # opened, it would lose its log too
            return
    try:
        with closing(_opened(path)) as connection:
            connection.execute("PRAGMA busy_timeout=500")
            connection.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        if "locked" in str(error):
            raise StoreError("the database is in use: stop rinsetank first") from error
    except sqlite3.DatabaseError:
        pass


@contextmanager
def _fresh(part: Path) -> Iterator[None]:
    """Have an empty file that only its owner can read, and nothing of it at the end."""
    part.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    _clear(part)
    os.close(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        yield
    finally:
        _clear(part)


def _clear(part: Path) -> None:
    for tail in ("", "-wal", "-shm", "-journal"):
        part.with_name(part.name + tail).unlink(missing_ok=True)


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def _in_one_line(path: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        raise StoreError(f"cannot use {path}: {error}") from error
    except OSError as error:
        raise StoreError(f"cannot write {path}: {error.strerror}") from error
