"""Opens the database, brings its schema up to date, and runs units of work: all or nothing, as if one at a time."""

import os
import re
import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from pathlib import Path
from typing import TypeVar

from sqlalchemy import URL, Connection, Engine, event, inspect, make_url, text
from sqlalchemy.exc import ArgumentError, DatabaseError, DBAPIError, OperationalError
from sqlmodel import Session, create_engine

from store import postgres
from store.errors import StoreError
from store.meter import timed

__all__ = ["SCHEMA", "Session", "Store", "once_stored", "schema_version", "sqlite_url"]

SCHEMA = "0005"
"""The newest migration; a test compares it with the migrations folder."""

WRITERS = 3
"""Units of work at the same time on PostgreSQL: one that takes long does not stop all. One process has the processor for few."""
_READERS = 10
_BUSY_MS = 5_000
_PRIVATE, _PRIVATE_FOLDER = 0o600, 0o700
T = TypeVar("T")


class Store:
    """A database: a SQLite file, or PostgreSQL by URL.

    On SQLite `write` runs in one thread with an immediate transaction, so that two writers in one process queue instead of
    colliding. On PostgreSQL several write at once, here and in other processes, and what does not fit together is run
    again: so a unit of work does nothing outside its session (see `once_stored`). `read` may run anywhere.
    """

    def __init__(self, url: str, *, writers: int = WRITERS) -> None:
        """Open the database at an SQLAlchemy URL; StoreError if it is out of reach, locked, newer than this program or no database."""
        self.url = url
        self._units: postgres.Units | None = None
        try:
            parsed = make_url(url)
            if postgres.is_postgres(parsed):
                self._engine = postgres.engine(parsed, writers, isolation_level=postgres.ISOLATION)
                self._units = postgres.Units(self._engine)
                self._noting = self._engine
                looks = {"isolation_level": postgres.ISOLATION, "postgresql_readonly": True}
                self._reader = postgres.engine(parsed, _READERS, execution_options=looks)
            else:
                writers = 1
                if parsed.get_backend_name() == "sqlite":
                    _look_before_opening(parsed.database)
                self._engine = _engine(url, sqlite_begin="BEGIN IMMEDIATE")
                self._reader = _engine(url, sqlite_begin="BEGIN")
                self._noting = _engine(url, sqlite_begin="BEGIN IMMEDIATE", synchronous="NORMAL")
        except (ArgumentError, ValueError, TypeError) as error:
            hidden = re.sub(r"(?<=://)[^/@]*@", "***@", url)
            raise StoreError(f"{hidden!r} is no database URL: say it like sqlite:///kit.db") from error
        except ModuleNotFoundError as error:
            raise StoreError(f"the driver for that database is not installed: {error.name}") from error
        self._writer = ThreadPoolExecutor(max_workers=writers, thread_name_prefix="store-writer")
        try:
            _bring_up_to_date(self._engine)
        except (DBAPIError, DatabaseError, sqlite3.Error) as error:
            self.close()
            raise StoreError(_in_one_line(error, url)) from error
        except StoreError:
            self.close()
            raise

    @property
    def repeated(self) -> int:
        """Return how often a unit of work met others and was run again."""
        return 0 if self._units is None else self._units.repeated

    @timed("unit", of="whole")
    def write(self, work: Callable[[Session], T], chat: str | None = None) -> T:
        """Run `work` in one transaction: committed when it returns, rolled back whole when it raises.

        `chat`: name of the chat it is for; units of one chat act one after another wherever they come from.
        """
        return self._writer.submit(self._write, work, chat).result()

    @timed("unit", of="work")
    def _write(self, work: Callable[[Session], T], chat: str | None) -> T:
        try:
            if self._units is not None:
                return self._units.run(work, chat)
            with Session(self._engine, expire_on_commit=False) as session:
                result = work(session)
                session.commit()
                return result
        except DBAPIError as error:
            raise self._trouble(error) from error

    def note(self, work: Callable[[Session], T]) -> T:
        """Run `work` in a transaction that outlives this process, but maybe not a loss of power: it waits for no disk."""
        return self._writer.submit(self._note, work).result()

    def _note(self, work: Callable[[Session], T]) -> T:
        try:
            if self._units is not None:
                return self._units.run(lambda session: work(postgres.unhurried(session)), None)
            with Session(self._noting, expire_on_commit=False) as session:
                result = work(session)
                session.commit()
                return result
        except DBAPIError as error:
            raise self._trouble(error) from error

    def read(self, work: Callable[[Session], T]) -> T:
        """Run `work` on one consistent view; nothing it changes is kept."""
        for again in (True, False):
            try:
                with Session(self._reader, expire_on_commit=False) as session:
                    return work(session)
            except DBAPIError as error:
                if not again or not error.connection_invalidated:
                    raise self._trouble(error) from error
        raise AssertionError("not reached: the second time returns or raises")

    def _trouble(self, error: DBAPIError) -> Exception:
        """Return what to raise for an error: a StoreError if it is the database that is in trouble."""
        damaged = type(error) is DatabaseError  # a page that makes no sense
        told = damaged or isinstance(error, OperationalError)
        trouble = told if self._units is None else postgres.is_trouble(error)
        return StoreError(_in_one_line(error, self.url)) if trouble else error

    def close(self) -> None:
        """Finish the units of work in hand and close the database."""
        self._writer.shutdown(wait=True)
        for engine in (self._engine, self._reader, self._noting):
            engine.dispose()


@event.listens_for(Session, "loaded_as_persistent")
def _hold(session: Session, row: object) -> None:
    """Hold what a unit of work has read until it ends: its identity map is weak, and the same row would be read again."""
    session.info.setdefault("held", []).append(row)


def once_stored(session: Session, act: Callable[[], object]) -> None:
    """Do something once what a unit of work did is stored: the unit itself may be run several times."""
    event.listen(session, "after_commit", lambda _: act(), once=True)


def sqlite_url(path: Path) -> str:
    """Return the URL of a SQLite file, making its folder for its user alone; StoreError if that cannot be made."""
    try:
        path.parent.mkdir(_PRIVATE_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(f"cannot make the folder {path.parent}: {error.strerror}") from error
    return URL.create("sqlite", database=str(path)).render_as_string(hide_password=False)


def _engine(url: str, *, sqlite_begin: str, synchronous: str = "FULL") -> Engine:
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":

        def on_connect(connection: sqlite3.Connection, _record: object) -> None:
            connection.isolation_level = None
            for pragma in (
                "journal_mode=WAL",
                f"synchronous={synchronous}",
                "foreign_keys=ON",
                "secure_delete=ON",  # what is forgotten leaves the file, not only the tables
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
    names = set(inspect(connection).get_table_names())
    if not names:
        return None
    if "alembic_version" not in names:
        raise StoreError(_STRANGER)
    row = connection.execute(text("SELECT version_num FROM alembic_version")).first()
    return str(row[0]) if row else None


def _look_before_opening(file: str | None) -> None:
    """Refuse a SQLite file that is not ours before anything is written to it, and a database that forgets.

    A new file is made for its user alone, and SQLite gives what it writes beside it the same mode.
    """
    if not file or file == ":memory:":
        raise StoreError("a database in memory forgets everything: give a file, like sqlite:///kit.db")
    path = Path(file)
    if not path.exists():
        with suppress(OSError):  # SQLite says why
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, _PRIVATE))
    if not path.is_file():
        return
    if path.stat().st_size == 0:
        beside = Path(f"{file}-wal")
        if beside.is_file() and beside.stat().st_size:  # SQLite would take it for a new one, and delete that
            raise StoreError(
                f"{file} is empty, and beside it lies the log of one that was not: put a backup back with rinsetank restore"
            )
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


def _bring_up_to_date(engine: Engine) -> None:
    with engine.connect() as connection:
        version = schema_version(connection)
        connection.rollback()
    if version == SCHEMA:
        return
    if version is not None and version > SCHEMA:
        raise StoreError(_newer(version))
    from store.migrate import upgrade  # noqa: PLC0415 - alembic is slow to import and seldom needed

    upgrade(engine)


def _in_one_line(error: Exception, url: str) -> str:
    parsed = make_url(url)
    if postgres.is_postgres(parsed):
        return postgres.in_one_line(error, parsed)
    where = parsed.render_as_string(hide_password=True)
    reason = str(getattr(error, "orig", error)).splitlines()[0]
    said = {
        "locked": f"the database {where} is locked by another program: close that one and try again",
        "not a database": f"{where} is not a database file",
        "malformed": f"the database {where} is damaged: put a backup back with rinsetank restore",
        "readonly": f"the database {where} is read-only: nothing was stored",
        "read-only": f"the database {where} is read-only: nothing was stored",
        "full": f"no space left for the database {where}: nothing was stored",
    }
    known = next((plain for words, plain in said.items() if words in reason), None)
    return known or f"cannot use the database {where}: {reason}"
