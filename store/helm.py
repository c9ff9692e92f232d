"""Who delivers: of all processes on one database, one is at the helm, and another takes over within seconds when it is gone."""

import sqlite3
import threading
import time
from collections.abc import Callable
from contextlib import closing, suppress
from typing import Any

from sqlalchemy import Connection, Engine, func, make_url, select, text
from sqlalchemy.exc import DBAPIError

from store import postgres

BEAT_S = 0.5
"""How often whoever is at the helm makes sure of it, and everybody else asks for it."""
LOSE_S = 4.0
"""After so long without an answer the helm counts as lost; the server gives it away later than that."""
FREE_S = 6
"""After so long without a question the server ends the session, and with it the lock."""
GRACE_S = 0.5
"""How long a new one waits, for the one before to see that its connection was ended."""
CHANNEL = "rinsetank_letters"
_HELM = postgres.lock_number("rinsetank delivers")


class Helm:
    """The lock that says who delivers. On PostgreSQL it lives as long as its connection; on SQLite as long as the process."""

    def __init__(self, url: str, on_ring: Callable[[str], object]) -> None:
        """Ask for the helm of a database from now on; `on_ring` hears, in a thread of its own, of wires that have a letter."""
        self._on_ring = on_ring
        self._until = float("-inf")
        self._closed = threading.Event()
        parsed = make_url(url)
        self._engine: Engine | None = None
        work = self._hold_file
        if postgres.is_postgres(parsed):
            self._engine = postgres.engine(parsed, 2, isolation_level="AUTOCOMMIT")
            work = self._hold_session
        self._file = f"{parsed.database}-helm"
        self._thread = threading.Thread(target=work, name="store-helm", daemon=True)
        self._thread.start()

    @property
    def held(self) -> bool:
        """Tell whether this process delivers, as of this very instant."""
        return time.monotonic() < self._until

    def ring(self, wire: str) -> None:
        """Tell whoever is at the helm that a wire has a letter; nothing is lost if nobody hears, it is found a little later."""
        if self._engine is None:
            return
        with suppress(DBAPIError), self._engine.connect() as connection:
            connection.execute(select(func.pg_notify(CHANNEL, wire)))

    def close(self) -> None:
        """Let go of the helm."""
        self._until = float("-inf")
        self._closed.set()
        self._thread.join(timeout=LOSE_S)
        if self._engine is not None:
            self._engine.dispose()

    def _hold_session(self) -> None:
        assert self._engine is not None
        broken = (DBAPIError, self._engine.dialect.loaded_dbapi.Error)
        while not self._closed.is_set():
            with suppress(*broken), self._engine.connect() as connection:
                driver = connection.connection.driver_connection
                connection.detach()  # it is closed when it is let go of, and the lock with it
                connection.execute(text(f"SET idle_session_timeout = '{FREE_S}s'"))
                self._steer(connection, driver)
            self._until = float("-inf")
            self._closed.wait(BEAT_S)

    def _steer(self, connection: Connection, driver: Any) -> None:  # noqa: ANN401 - the driver's connection
        """Ask for the lock until it is had, then keep it until the connection breaks."""
        asked = select(func.pg_try_advisory_lock(_HELM))
        while not connection.execute(asked).scalar_one():
            if self._closed.wait(BEAT_S):
                return
        connection.execute(text(f"LISTEN {CHANNEL}"))
        if self._closed.wait(GRACE_S):
            return
        while not self._closed.is_set():
            asked_at = time.monotonic()
            connection.execute(select(1))
            self._until = asked_at + LOSE_S
            for heard in driver.notifies(timeout=BEAT_S, stop_after=1):
                self._on_ring(heard.payload)

    def _hold_file(self) -> None:
        """Hold a lock on a file beside the database: the system frees it when the process ends, however it ends."""
        while not self._closed.is_set():
            try:
                with closing(sqlite3.connect(self._file, isolation_level=None, timeout=0)) as connection:
                    connection.execute("BEGIN EXCLUSIVE")
                    self._until = float("inf")
                    self._closed.wait()
                    self._until = float("-inf")
            except sqlite3.Error:  # another process has it
                self._closed.wait(BEAT_S)
