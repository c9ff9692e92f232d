"""The migrations lead to the schema that the rows declare."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, make_url
from sqlmodel import SQLModel, create_engine

from store.engine import SCHEMA, _engine
from store.migrate import config, upgrade


@pytest.fixture
def engine(database):
    """Connect to a migrated database without the store."""
    opened = create_engine(database)
    yield opened
    opened.dispose()


def differences(engine, metadata):
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return compare_metadata(context, metadata)


def dump(database):
    with closing(sqlite3.connect(Path(make_url(database).database))) as connection:
        return list(connection.iterdump())


def test_newest_migration_is_the_schema_of_the_engine():
    assert ScriptDirectory.from_config(config()).get_heads() == [SCHEMA]


def test_migrated_schema_equals_the_tables(engine):
    assert differences(engine, SQLModel.metadata) == []


def test_comparison_with_no_tables_finds_all_of_them(engine):
    """A comparison that sees nothing would pass for ever."""
    found = {change[1].name for change in differences(engine, MetaData()) if change[0] == "remove_table"}
    assert found == set(SQLModel.metadata.tables)


def test_upgrading_again_changes_nothing(database, engine):
    before = dump(database)
    upgrade(engine)
    assert dump(database) == before


def test_going_down_to_nothing_and_up_again_gives_the_same_schema(database, engine):
    before = dump(database)
    with engine.begin() as connection:
        settings = config()
        settings.attributes["connection"] = connection
        command.downgrade(settings, "base")
    upgrade(engine)
    assert _content(dump(database)) == _content(before)


def _content(statements):
    """Sort what has no order: a table that was rebuilt names its constraints as it likes."""
    return sorted(sorted(line.strip().rstrip(",") for line in s.splitlines()) for s in statements)


def test_an_older_database_keeps_every_row(tmp_path):
    """To rebuild a table would drop it, and by cascade what hangs on its rows."""
    url = f"sqlite:///{tmp_path}/older.db"
    engine = _engine(url, sqlite_begin="BEGIN IMMEDIATE")
    upgrade(engine, "0001")
    at = "'2026-05-01 10:00:00'"
    rows = {
        "locker": f"(id, created_at) VALUES (1, {at})",
        "chat": "(id, wire, address, locker_id, zone, digest_at, quiet_from, quiet_to, units, batch, created_at)"
        f" VALUES (1, 'console', 'a', 1, 'UTC', '18:00', '22:00', '07:00', 'metric', 0, {at})",
        "item": "(id, locker_id, kind, name, facts, added_on, added_by)"
        " VALUES (1, 1, 'regulator', 'regs', '{}', '2026-05-01', 'a')",
        "dive": '(id, locker_id, "on", dives, conditions, logged_at, logged_by)'
        f" VALUES (1, 1, '2026-05-01', 2, '[]', {at}, 'a')",
        "dive_item": "(dive_id, item_id) VALUES (1, 1)",
        "care": '(id, locker_id, item_id, task, contaminates, by_technician, "on", done_by, logged_at)'
        f" VALUES (1, 1, 1, 'service', 0, 1, '2026-05-01', 'a', {at})",
        "care_task": "(id, locker_id, item_id, part, rule, task, critical, cause)"
        " VALUES (1, 1, 1, '', 'regulator_service', 'service', 1, 'time')",
        "notice": '(id, "key", locker_id, chat_id, item_id, part, rule, due_on, stage, send_at, state, attempts)'
        f" VALUES (1, 'k', 1, 1, 1, '', 'regulator_service', '2026-05-01', 'due', {at}, 'pending', 0)",
    }
    with engine.begin() as connection:
        for table, values in rows.items():
            connection.exec_driver_sql(f"INSERT INTO {table} {values}")
    upgrade(engine)
    with engine.begin() as connection:
        kept = {
            table: connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one() for table in rows
        }
        assert connection.exec_driver_sql("SELECT reminders FROM chat").scalar_one() == 1
    assert kept == dict.fromkeys(rows, 1)
