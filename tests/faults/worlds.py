"""Databases to be killed on, of both kinds: a copy of a prepared one for each round."""

import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import psycopg
from sqlalchemy import make_url

from store.engine import Store, sqlite_url
from tests.postgres import Server, name_of


class Files:
    """SQLite files in a folder."""

    kind = "sqlite"

    def __init__(self, folder: Path) -> None:
        self._folder, self._made = folder, 0

    def prepared(self, fill: Callable[[Store], None]) -> str:
        """Return the URL of a new database that was filled."""
        url = self._url()
        with closing(Store(url)) as store:
            fill(store)
        return url

    def copy(self, of: str) -> str:
        """Return the URL of a copy."""
        url = self._url()
        shutil.copy(make_url(of).database, make_url(url).database)
        return url

    def drop(self, url: str) -> None:
        for file in self._folder.glob(f"{Path(make_url(url).database).name}*"):
            file.unlink()

    def sound(self, url: str) -> None:
        """Look whether the database is whole."""
        with closing(sqlite3.connect(make_url(url).database)) as look:
            assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert look.execute("PRAGMA foreign_key_check").fetchall() == []

    def _url(self) -> str:
        self._made += 1
        return sqlite_url(self._folder / f"world {self._made}.db")


class Databases:
    """Databases on a PostgreSQL server."""

    kind = "postgresql"

    def __init__(self, server: Server, template: str) -> None:
        self._server, self._template = server, template

    def prepared(self, fill: Callable[[Store], None]) -> str:
        """Return the URL of a new database that was filled."""
        url = self._server.url(self._server.create(self._template))
        with closing(Store(url)) as store:
            fill(store)
        return url

    def copy(self, of: str) -> str:
        """Return the URL of a copy."""
        return self._server.url(self._server.create(name_of(of)))

    def drop(self, url: str) -> None:
        self._server.drop(name_of(url))

    def sound(self, url: str) -> None:
        """Look whether the server let go of all that a killed process held there."""
        left = (
            "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND database ="
            " (SELECT oid FROM pg_database WHERE datname = current_database())"
        )
        with psycopg.connect(self._server.conninfo(name_of(url)), autocommit=True) as look:
            end = time.monotonic() + 10
            while look.execute(left).fetchone() != (0,):
                assert time.monotonic() < end, "a lock outlives its process"
                time.sleep(0.01)


Worlds = Files | Databases
