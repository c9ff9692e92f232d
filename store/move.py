"""Copies a whole database into an empty one, of either kind: all of it, compared row by row, or nothing."""

from collections.abc import Callable, Generator
from contextlib import closing
from itertools import islice, zip_longest
from pathlib import Path
from typing import Any

from sqlalchemy import JSON, Connection, MetaData, Table, func, insert, inspect, make_url, select, text
from sqlalchemy.exc import ArgumentError, DBAPIError
from sqlmodel import Session, SQLModel

import store.tables  # noqa: F401 - fills the metadata
from store.engine import Store
from store.errors import StoreError

ROWS = 1_000
"""Rows carried at once."""
Tell = Callable[[str, int], None]
"""Hears of each table how many rows of it were carried so far."""


def open_source(url: str) -> Store:
    """Open a database that must be there; StoreError if it is not, or as `Store` says."""
    try:
        parsed = make_url(url)
    except ArgumentError:
        return Store(url)
    if parsed.get_backend_name() == "sqlite" and not Path(parsed.database or "").is_file():
        raise StoreError(f"there is no database {url}")
    return Store(url)


def move(source: Store, target: Store, tell: Tell) -> dict[str, int]:
    """Copy every row of one database into an empty one; return how many there were of each table.

    StoreError if the target holds anything, or takes something otherwise than it was: then it stays empty. What is
    written to the source meanwhile is left behind.
    """

    def unit(session: Session) -> dict[str, int]:
        to = session.connection()
        held = [t.name for t in _tables() if to.execute(select(t).limit(1)).first() is not None]
        if held:
            raise StoreError(f"the target is not empty, it holds {', '.join(held)}: nothing was changed")
        return source.read(lambda reading: _copy(reading.connection(), to, tell))

    return target.write(unit)


def _tables() -> list[Table]:
    """Return every table, those that others point to first."""
    return SQLModel.metadata.sorted_tables


def _copy(source: Connection, to: Connection, tell: Tell) -> dict[str, int]:
    counted = {}
    for table in _tables():
        done = 0
        with closing(_rows(source, table)) as reading:
            while rows := list(islice(reading, ROWS)):
                _put(to, table, rows)
                done += len(rows)
                tell(table.name, done)
        counted[table.name] = done
    for table in _tables():
        there = to.execute(select(func.count()).select_from(table)).scalar_one()
        with closing(_rows(source, table)) as these, closing(_rows(to, table)) as those:
            same = all(was == now for was, now in zip_longest(these, those))
        if there != counted[table.name] or not same:
            raise StoreError(f"{table.name} did not arrive as it was: nothing was kept")
    for table in _tables():
        if (last := _last_number(source, table)) is not None:
            _go_on_after(to, table, last)
    return counted


def _put(to: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    try:
        to.execute(insert(_exact(table)), rows)
    except DBAPIError as error:
        if error.connection_invalidated:
            raise
        raise StoreError(f"a row of {table.name} does not fit into the target: {error.orig}") from error


def _exact(table: Table) -> Table:
    """Return a table whose JSON columns tell no value from the value null."""
    exact = table.to_metadata(MetaData())
    for column in exact.columns:
        if isinstance(column.type, JSON):
            column.type = JSON(none_as_null=True)
    return exact


def _rows(connection: Connection, table: Table) -> Generator[dict[str, Any], None, None]:
    """Read every row by its key."""
    documents = [c for c in table.columns if isinstance(c.type, JSON)]
    nothing = [c.is_(None).label(f"no {c.name}") for c in documents]
    query = select(*table.columns, *nothing).order_by(*table.primary_key.columns)
    if connection.dialect.name == "postgresql":  # so that both sort words by their bytes
        keys = (c.collate("C") if c.type.python_type is str else c for c in table.primary_key.columns)
        query = select(*table.columns, *nothing).order_by(*keys)
    with connection.execute(query.execution_options(yield_per=ROWS)) as result:
        for row in result.mappings():
            values = {c.name: row[c.name] for c in table.columns}
            for c in documents:
                if values[c.name] is None and not row[f"no {c.name}"]:
                    values[c.name] = JSON.NULL
            yield values


def _last_number(connection: Connection, table: Table) -> int | None:
    """Return the highest number that a table ever gave, also if that row is gone; None if it numbers nothing or gave none."""
    if table.autoincrement_column is None:
        return None
    highest = connection.execute(select(func.max(table.c.id))).scalar_one()
    given = None
    if connection.dialect.name == "postgresql":
        asked = text(
            "SELECT pg_sequence_last_value(pg_get_serial_sequence(quote_ident(:name), 'id')::regclass)"
        )
        given = connection.execute(asked, {"name": table.name}).scalar_one()
    elif "sqlite_sequence" in inspect(connection).get_table_names(sqlite_include_internal=True):
        asked = text("SELECT seq FROM sqlite_sequence WHERE name = :name")
        given = connection.execute(asked, {"name": table.name}).scalar_one_or_none()
    return max((n for n in (highest, given) if n is not None), default=None)


def _go_on_after(connection: Connection, table: Table, last: int) -> None:
    """Let the next number of a table be higher than any before; a file only remembers it for tables that must."""
    told = {"name": table.name, "last": last}
    if connection.dialect.name == "postgresql":
        asked = "SELECT setval(pg_get_serial_sequence(quote_ident(:name), 'id'), :last)"
        connection.execute(text(asked), told)
    elif table.dialect_options["sqlite"]["autoincrement"]:
        connection.execute(text("DELETE FROM sqlite_sequence WHERE name = :name"), told)
        connection.execute(text("INSERT INTO sqlite_sequence (name, seq) VALUES (:name, :last)"), told)
