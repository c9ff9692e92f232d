"""The table that all benchmarks fill, and the large databases that are built once for all of them."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from store.engine import sqlite_url
from tests.benchmarks import rows
from tests.benchmarks.measure import Table
from tests.postgres import Server

TABLE = pytest.StashKey[Table]()


@pytest.fixture(scope="session")
def table(request: pytest.FixtureRequest) -> Table:
    """Return the table that is printed when all is done."""
    return request.config.stash.setdefault(TABLE, Table())


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, exitstatus: int, config: pytest.Config
) -> None:
    """Print the table."""
    if TABLE in config.stash:
        terminalreporter.write_line("\n" + "\n".join(config.stash[TABLE].lines()))


@pytest.fixture(scope="session")
def file_of_size(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[int], Path]]:
    """Return what gives a SQLite file of so many lockers with ten tasks each; each is built once and kept for the run."""
    folder = tmp_path_factory.mktemp("lockers")

    def of_size(count: int) -> Path:
        path = folder / f"{count}.db"
        if not path.exists():
            rows.build(sqlite_url(path), count)
        return path

    yield of_size
    shutil.rmtree(folder)


@pytest.fixture(scope="session")
def durable() -> Iterator[Server]:
    """Start a PostgreSQL whose commits outlive a power cut."""
    server = Server(durable=True)
    yield server
    server.close()


@pytest.fixture(scope="session")
def server_of_size(durable: Server) -> Callable[[int], str]:
    """Return what gives the name of a PostgreSQL database of so many lockers, built once: others are made as copies of it."""
    built: dict[int, str] = {}

    def of_size(count: int) -> str:
        if count not in built:
            built[count] = durable.create()
            rows.build(durable.url(built[count]), count)
        return built[count]

    return of_size
