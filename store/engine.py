"""Opens the database, brings its schema up to date, and runs units of work: all or nothing, one writer at a time."""

import re
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import TypeVar

from sqlalchemy import URL, Connection, Engine, event, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, OperationalError
from sqlmodel import Session, create_engine

from store.errors import StoreError

__all__ = ["SCHEMA", "Session", "Store", "schema_version", "sqlite_url"]

SCHEMA = "0004"
"""The newest migration; a test compares it with the migrations folder."""

_BUSY_MS = 5_000
T = TypeVar("T")


class Store:
    """A database, SQLite by default.

    `write` runs in one thread with an immediate transaction, so that two writers in one process queue instead of
    colliding; `read` may run anywhere.
    """

    def __init__(self, url: str) -> None:
        """Open the database at an SQLAlchemy URL; StoreError if it is locked, newer than this program or no database."""
        self.url = url
        try:
            parsed = make_url(url)
            sqlite = parsed.get_backend_name() == "sqlite"
            if sqlite:
                _look_before_opening(parsed.database)
            self._engine = _engine(url, sqlite_begin="BEGIN IMMEDIATE")
            self._reader = _engine(url, sqlite_begin="BEGIN") if sqlite else self._engine
        except (ArgumentError, ValueError, TypeError) as error:
            hidden = re.sub(r"(?<=://)[^/@]*@", "***@", url)
            raise StoreError(f"{hidden!r} is no database URL: say it like sqlite:///kit.db") from error
        except ModuleNotFoundError as error:
            raise StoreError(f"the driver for that database is not installed: {error.name}") from error
        self._writer = ThreadPoolExecutor(max_workers=1, thread_name_prefix="store-writer")
        try:
            _bring_up_to_date(self._engine, url)
        except (OperationalError, DatabaseError, sqlite3.Error) as error:
            self.close()
            raise StoreError(_in_one_line(error, url)) from error
        except StoreError:
            self.close()
            raise

    def write(self, work: Callable[[Session], T]) -> T:
        """Run `work` in one transaction: committed when it returns, rolled back whole when it raises."""
        return self._writer.submit(self._write, work).result()

    def _write(self, work: Callable[[Session], T]) -> T:
        with Session(self._engine, expire_on_commit=False) as session:
            try:
                result = work(session)
                session.commit()
            except OperationalError as error:
                session.rollback()
                raise StoreError(_in_one_line(error, self.url)) from error
            return result

    def read(self, work: Callable[[Session], T]) -> T:
        """Run `work` on one consistent view; nothing it changes is kept."""
        with Session(self._reader, expire_on_commit=False) as session:
            try:
                return work(session)
            except OperationalError as error:
                raise StoreError(_in_one_line(error, self.url)) from error

    def close(self) -> None:
        """Finish the unit of work in hand and close the database."""
        self._writer.shutdown(wait=True)
        self._engine.dispose()
        self._reader.dispose()


def sqlite_url(path: Path) -> str:
    """Return the URL of a SQLite file, making its folder; StoreError if that cannot be made."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"cannot make the folder {path.parent}: {error.strerror}") from error
    return URL.create("sqlite", database=str(path)).render_as_string(hide_password=False)


def _engine(url: str, *, sqlite_begin: str) -> Engine:
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":

        def on_connect(connection: sqlite3.Connection, _record: object) -> None:
            connection.isolation_level = None
            for pragma in (
                "journal_mode=WAL",
                "synchronous=FULL",
                "foreign_keys=ON",
                f"busy_timeout={_BUSY_MS}",
            ):
                connection.execute(f"PRAGMA {pragma}")

        def on_begin(connection: Connection) -> None:
            connection.exec_driver_sql(sqlite_begin)

        event.listen(engine, "connect", on_connect)
        event.listen(engine, "begin", on_begin)
    return engine


def schema_version(connection: Connection) -> str | None:
    """Return the migration the database stands at; None for an empty one, StoreError for a stranger's."""
    names = set(connection.dialect.get_table_names(connection))
    if not names:
        return None
    if "alembic_version" not in names:
        raise StoreError(_STRANGER)
    row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
    return str(row[0]) if row else None


def _look_before_opening(file: str | None) -> None:
    """Refuse a SQLite file that is not ours before anything is written to it, and a database that forgets."""
    if not file or file == ":memory:":
        raise StoreError("a database in memory forgets everything: give a file, like sqlite:///kit.db")
    path = Path(file)
    if not path.is_file() or path.stat().st_size == 0:
        return
    try:
        with closing(
            sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=_BUSY_MS / 1000)
        ) as look:
            names = {row[0] for row in look.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            rows = (
                look.execute("SELECT version_num FROM alembic_version").fetchall()
                if "alembic_version" in names
                else []
            )
    except sqlite3.Error as error:
        raise StoreError(_in_one_line(error, f"sqlite:///{file}")) from error
    if names and "alembic_version" not in names:
        raise StoreError(_STRANGER)
    if rows and str(rows[0][0]) > SCHEMA:
        raise StoreError(_newer(str(rows[0][0])))


_STRANGER = "that database belongs to another program: it holds tables but no schema version"


def _newer(version: str) -> str:
    return f"the database is newer (schema {version}) than this program (schema {SCHEMA}): update the program"


def _bring_up_to_date(engine: Engine, url: str) -> None:
    with engine.connect() as connection:
        version = schema_version(connection)
        connection.rollback()
    if version == SCHEMA:
        return
    if version is not None and version > SCHEMA:
        raise StoreError(_newer(version))
    from store.migrate import upgrade  # noqa: PLC0415 - alembic is slow to import and seldom needed

    upgrade(engine)
    del url


def _in_one_line(error: Exception, url: str) -> str:
    where = make_url(url).render_as_string(hide_password=True)
    reason = str(getattr(error, "orig", error)).splitlines()[0]
    if "locked" in reason:
        return f"the database {where} is locked by another program: close that one and try again"
    if "not a database" in reason:
        return f"{where} is not a database file"
    if "readonly" in reason or "read-only" in reason:
        return f"the database {where} is read-only: nothing was stored"
    if "full" in reason:
        return f"no space left for the database {where}: nothing was stored"
    return f"cannot use the database {where}: {reason}"
