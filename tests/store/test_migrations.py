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

from store import journal, lockers, people
from store.engine import SCHEMA, Store, _engine
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


@pytest.mark.sqlite
def test_upgrading_again_changes_nothing(database, engine):
    before = dump(database)
    upgrade(engine)
    assert dump(database) == before


@pytest.mark.sqlite
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


AT = "'2026-05-01 10:00:00.000000'"
OLDER = {
    "locker": f"(id, created_at) VALUES (1, {AT}), (2, {AT})",
    "chat": "(id, wire, address, locker_id, zone, digest_at, quiet_from, quiet_to, units, reminders, batch, created_at)"
    f" VALUES (1, 'console', 'terminal', 1, 'UTC', '18:00', '22:00', '07:00', 'metric', 1, 3, {AT}),"
    f" (2, 'replay', 'deck', 2, 'UTC', '18:00', '22:00', '07:00', 'metric', 0, 1, {AT})",
    "button": "(id, chat_id, batch, place, label, intent) VALUES ('b', 1, 3, 0, 'Done', '{}')",
    "item": "(id, locker_id, kind, name, facts, added_on, added_by)"
    " VALUES (1, 1, 'bag', 'bag', '{}', '2026-05-01', 'mara'), (2, 2, 'mask', 'mask', '{}', '2026-05-01', 'ilka')",
    "dive": '(id, locker_id, "on", dives, conditions, logged_at, logged_by)'
    f" VALUES (1, 1, '2026-05-01', 2, '[]', {AT}, 'mara'), (2, 2, '2026-05-02', 1, '[]', {AT}, 'ilka')",
    "dive_item": "(dive_id, item_id) VALUES (1, 1), (2, 2)",
    "dive_import": "(id, locker_id, name, content, answers, state, sent_at, sent_by)"
    f" VALUES (1, 1, 'log.csv', '{{}}', '{{}}', 'counted', {AT}, 'mara')",
    "care": '(id, locker_id, item_id, task, contaminates, by_technician, month_only, "on", done_by, logged_at)'
    f" VALUES (1, 1, 1, 'rinse', 0, 0, 0, '2026-05-01', 'mara', {AT}),"
    f" (2, 2, 2, 'rinse', 0, 0, 0, '2026-05-01', '@ilka:reef.example', {AT})",
    "mishap": '(id, locker_id, item_id, happened, "on", told_by, logged_at)'
    f" VALUES (1, 1, 1, 'flooded', '2026-05-01', 'mara', {AT})",
    "manual_note": f"(id, locker_id, item_id, text, noted_at) VALUES (1, 1, 1, 'talc', {AT})",
    "own_word": "(id, locker_id, word) VALUES (1, 1, 'goo')",
    "snooze": "(id, locker_id, item_id, part, rule, until_on) VALUES (1, 1, 1, '', 'rinse', '2026-05-03')",
    "trip": "(id, locker_id, from_on, to_on) VALUES (1, 1, '2026-07-01', '2026-07-09')",
    "care_task": "(id, locker_id, item_id, part, rule, task, critical, cause, changed_at)"
    f" VALUES (1, 1, 1, '', 'rinse', 'rinse', 0, 'dive', {AT})",
    "notice": '(id, "key", locker_id, chat_id, item_id, part, rule, due_on, stage, send_at, state, attempts)'
    f" VALUES (1, 'k', 1, 1, 1, '', 'rinse', '2026-05-01', 'due', {AT}, 'sent', 1)",
    "seen_update": f"(wire, update_id, seen_at) VALUES ('replay', '7', {AT})",
    "journal_entry": "(id, chat_id, at, actor, intent, changes)"
    f" VALUES (1, 1, {AT}, 'mara', 'log_dive', '[]'), (2, 2, {AT}, 'ilka', 'log_dive', '[]')",
}
"""Rows of schema 0002, one or two in every table."""


def held(engine):
    """Return every row of every table, by table, as {column: value}."""
    with engine.begin() as connection:
        return {
            table: [dict(row) for row in connection.exec_driver_sql(f'SELECT * FROM "{table}"').mappings()]
            for table in sorted(connection.dialect.get_table_names(connection))
            if table not in {"alembic_version", "sqlite_sequence"}
        }


@pytest.fixture
def older(tmp_path):
    """Fill a database of schema 0002."""
    engine = _engine(f"sqlite:///{tmp_path}/older.db", sqlite_begin="BEGIN IMMEDIATE")
    upgrade(engine, "0002")
    with engine.begin() as connection:
        for table, values in OLDER.items():
            connection.exec_driver_sql(f"INSERT INTO {table} {values}")
    assert set(held(engine)) == set(OLDER)
    yield engine
    engine.dispose()


WHO = {
    ("item", "added_by"): ["console:mara", "replay:ilka"],
    ("dive", "logged_by"): ["console:mara", "replay:ilka"],
    ("dive_import", "sent_by"): ["console:mara"],
    ("care", "done_by"): ["console:mara", "replay:@ilka:reef.example"],
    ("mishap", "told_by"): ["console:mara"],
    ("journal_entry", "actor"): ["console:mara", "replay:ilka"],
}


def test_database_of_0002_keeps_all_its_rows_and_names_people_by_wire_and_address(older):
    before = held(older)
    upgrade(older)
    after = held(older)
    assert {(t, c): [row[c] for row in after[t]] for t, c in WHO} == WHO
    kept = {
        t: [{c: row[c] for c in was} for was, row in zip(before[t], after[t], strict=True)] for t in before
    }
    for (table, column), values in WHO.items():
        for row, value in zip(before[table], values, strict=True):
            row[column] = value
    assert kept == before
    new = {"person", "member", "invite", "letter", "loan", "wire_state", "attempt"}
    assert set(after) == set(before) | new
    assert {t: after[t] for t in new} == {t: [] for t in new}


def test_database_of_0002_gets_the_columns_that_are_new(older):
    upgrade(older)
    after = held(older)
    assert [row["name"] for row in after["locker"]] == ["", ""]
    assert [(row["group"], row["topic"], row["open_id"]) for row in after["chat"]] == [(0, None, None)] * 2
    assert [(row["locker_id"], row["message"], row["said"]) for row in after["journal_entry"]] == [
        (1, None, None),
        (2, None, None),
    ]
    assert [(row["locker_id"], row["message"]) for row in after["button"]] == [(None, None)]
    assert [row["sent_as"] for row in after["notice"]] == [None]


def test_database_of_0002_is_opened_by_the_store_and_its_rows_read(older):
    url = str(older.url)
    older.dispose()
    store = Store(url)
    try:
        chats = store.read(
            lambda s: [lockers.at_address(s, *of) for of in (("console", "terminal"), ("replay", "deck"))]
        )
        assert [(c.locker_id, c.group, c.reminders) for c in chats] == [(1, False, True), (2, False, False)]
        entry = store.read(lambda s: journal.latest(s, 1, "console:mara"))
        assert (entry.id, entry.locker_id) == (1, 1)
        found = store.read(lambda s: people.held(s, "console:mara"))
        assert found == []  # nobody has written since: who writes next becomes the owner
    finally:
        store.close()


def test_what_0003_added_goes_when_it_is_taken_back_and_the_rest_stays(older):
    before = held(older)
    upgrade(older)
    with older.begin() as connection:
        settings = config()
        settings.attributes["connection"] = connection
        command.downgrade(settings, "0002")
    after = held(older)
    assert {t: [set(row) for row in some] for t, some in after.items()} == {
        t: [set(row) for row in some] for t, some in before.items()
    }
