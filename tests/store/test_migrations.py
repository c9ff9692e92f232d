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

from store.engine import SCHEMA
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
    assert sorted(dump(database)) == sorted(before)
