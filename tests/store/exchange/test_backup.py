"""A backup is made while others write, is whole, and only then has its name; it comes back whole, or nothing changes."""

import shutil
import sqlite3
import stat
import threading
from contextlib import closing
from datetime import UTC, datetime, timedelta
from functools import partial

import pytest
from sqlalchemy import create_engine
from sqlmodel import Session, func, select

from store import letters
from store.engine import SCHEMA, Store, sqlite_url
from store.errors import StoreError
from store.exchange import backup
from store.migrate import upgrade
from store.tables import SeenUpdate

pytestmark = pytest.mark.sqlite

AT = datetime(2026, 6, 10, 12, tzinfo=UTC)


def fill(store, rows, wire="telegram"):
    seen = [SeenUpdate(wire=wire, update_id=str(n), seen_at=AT) for n in range(rows)]
    store.write(lambda s: s.add_all(seen))


def seen(url) -> int:
    store = Store(url)
    try:
        return store.read(lambda s: s.exec(select(func.count()).select_from(SeenUpdate)).one())
    finally:
        store.close()


def nothing(_store):
    """Change nothing of a copy."""


def test_backup_is_whole_private_and_says_when_it_was_made(store, database, tmp_path):
    fill(store, 300)
    copy = backup.back_up(database, tmp_path / "out" / "kit.db", AT)
    assert (copy.schema, copy.rows["seen_update"], copy.at) == (SCHEMA, 300, AT)
    assert backup.look_at(copy.path) == copy
    assert stat.S_IMODE(copy.path.stat().st_mode) == 0o600
    assert [p.name for p in copy.path.parent.iterdir()] == ["kit.db"]
    assert seen(sqlite_url(copy.path)) == 300


def test_backup_under_writing_is_of_one_instant_and_ends(store, database, tmp_path):
    fill(store, 20_000)
    over, written = threading.Event(), []

    def write_on():
        while not over.is_set():
            pair = [SeenUpdate(wire=w, update_id=str(len(written)), seen_at=AT) for w in ("a", "b")]
            store.write(partial(Session.add_all, instances=pair))
            written.append(pair)

    writer = threading.Thread(target=write_on)
    writer.start()
    parts, during = [], []

    def going(part):
        parts.append(part)
        during.append(len(written))

    try:
        copies = [backup.back_up(database, tmp_path / f"{n}.db", AT, going) for n in range(3)]
    finally:
        over.set()
        writer.join()
    assert during[-1] > during[0]  # nobody had to wait for it
    assert max(parts) == 1
    for copy in copies:
        assert (copy.rows["seen_update"] - 20_000) % 2 == 0  # both of a unit of work, or none
        with closing(sqlite3.connect(copy.path)) as look:
            pairs = look.execute("SELECT count(*) FROM seen_update WHERE wire = ?", ("a",)).fetchone()[0]
        assert copy.rows["seen_update"] == 20_000 + 2 * pairs


def test_backup_that_is_broken_off_leaves_nothing(store, database, tmp_path):
    fill(store, 5_000)

    def stop(_part):
        raise StoreError("told to stop")

    with pytest.raises(StoreError, match="told to stop"):
        backup.back_up(database, tmp_path / "out" / "kit.db", AT, stop)
    assert list((tmp_path / "out").iterdir()) == []


def test_copy_that_is_not_sound_gets_no_name(store, database, tmp_path, monkeypatch):
    fill(store, 3)
    monkeypatch.setattr(backup, "_rows", lambda c: {"alembic_version": 1, "wire_state": c.total_changes})
    with pytest.raises(StoreError, match="not hold as many rows"):
        backup.back_up(database, tmp_path / "kit.db", AT)
    assert not (tmp_path / "kit.db").exists()


def test_backup_replaces_no_file(database, store, tmp_path):
    there = tmp_path / "kit.db"
    there.write_text("mine")
    with pytest.raises(StoreError, match="there already"):
        backup.back_up(database, there, AT)
    assert there.read_text() == "mine"


@pytest.mark.parametrize("url", ["sqlite:///nowhere.db", "postgresql://db.example/kit"])
def test_backup_of_nothing_says_so(url, tmp_path):
    with pytest.raises(StoreError, match="no database to back up"):
        backup.back_up(url, tmp_path / "kit.db", AT)


def test_folder_keeps_the_newest_and_what_it_does_not_know(tmp_path):
    for day in range(5):
        (tmp_path / backup.name_at(AT + timedelta(days=day))).touch()
    (tmp_path / "rinsetank.db").touch()
    (tmp_path / "rinsetank-holiday.db").touch()
    assert backup.newest(tmp_path).at == AT + timedelta(days=4)
    assert backup.drop_old(tmp_path, 2) == 3
    assert [m.at for m in backup.made(tmp_path)] == [AT + timedelta(days=4), AT + timedelta(days=3)]
    assert len(list(tmp_path.iterdir())) == 4
    assert backup.newest(tmp_path / "nowhere") is None


def test_what_is_no_sound_copy_is_refused_with_the_reason(store, database, tmp_path, template):
    def refused(path):
        with pytest.raises(StoreError) as said:
            backup.look_at(path)
        return str(said.value)

    (tmp_path / "text.db").write_text("no database " * 100)
    assert "not a database" in refused(tmp_path / "text.db")
    assert "no file" in refused(tmp_path / "nowhere.db")
    with closing(sqlite3.connect(tmp_path / "other.db", isolation_level=None)) as other:
        other.execute("CREATE TABLE fish (id INTEGER)")
    assert "no database of this program" in refused(tmp_path / "other.db")
    for name, change in (
        ("newer", "UPDATE alembic_version SET version_num = '9999'"),
        (
            "loose",
            "INSERT INTO item (locker_id, kind, name, facts, added_on, added_by) VALUES (7, 'x', 'x', '{}', '2026-01-01', 'x')",
        ),
    ):
        shutil.copy(template, tmp_path / f"{name}.db")
        with closing(sqlite3.connect(tmp_path / f"{name}.db", isolation_level=None)) as copy:
            copy.execute(change)
    assert "is newer (schema 9999)" in refused(tmp_path / "newer.db")
    assert "belongs to nothing" in refused(tmp_path / "loose.db")
    fill(store, 5_000)
    whole = backup.back_up(database, tmp_path / "whole.db", AT).path
    content = bytearray(whole.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 4096] = b"\xff" * 4096
    (tmp_path / "torn.db").write_bytes(content)
    assert "torn.db" in refused(tmp_path / "torn.db")


def test_copy_comes_back_and_the_one_of_before_is_kept(database, tmp_path):
    store = Store(database)
    fill(store, 3)
    copy = backup.back_up(database, tmp_path / "copy.db", AT)
    fill(store, 2, "matrix")
    store.close()
    before = backup.put_back(copy.path, database, AT, nothing)
    assert (seen(database), seen(sqlite_url(before))) == (3, 5)
    assert stat.S_IMODE(backup.file_of(database).stat().st_mode) == 0o600
    opened = Store(database)
    assert opened.read(lambda s: letters.state(s, "backup").position) is None
    opened.close()
    assert backup.look_at(backup.file_of(database)).at is None


def test_copy_comes_to_where_nothing_was(database, store, tmp_path):
    fill(store, 3)
    copy = backup.back_up(database, tmp_path / "copy.db", AT)
    there = sqlite_url(tmp_path / "new" / "kit.db")
    assert backup.put_back(copy.path, there, AT, nothing) is None
    assert seen(there) == 3


def test_database_in_use_is_not_replaced(database, store, tmp_path):
    fill(store, 3)
    copy = backup.back_up(database, tmp_path / "copy.db", AT)
    fill(store, 2, "matrix")
    with pytest.raises(StoreError, match="in use: stop rinsetank first"):
        backup.put_back(copy.path, database, AT, nothing)
    assert store.read(lambda s: s.exec(select(func.count()).select_from(SeenUpdate)).one()) == 5


def test_damaged_database_is_replaced_and_kept(database, store, tmp_path):
    copy = backup.back_up(database, tmp_path / "copy.db", AT)
    broken = tmp_path / "broken.db"
    broken.write_bytes(b"torn" * 5000)
    (tmp_path / "broken.db-wal").write_bytes(b"torn")
    before = backup.put_back(copy.path, sqlite_url(broken), AT, nothing)
    assert before.read_bytes() == b"torn" * 5000
    assert (tmp_path / f"{before.name}-wal").exists()
    assert seen(sqlite_url(broken)) == 0


def test_copy_that_cannot_be_made_fit_changes_nothing(database, tmp_path):
    store = Store(database)
    fill(store, 3)
    copy = backup.back_up(database, tmp_path / "copy.db", AT)
    store.close()

    def fails(_store):
        raise StoreError("no space left")

    with pytest.raises(StoreError, match="no space left"):
        backup.put_back(copy.path, database, AT, fails)
    assert seen(database) == 3
    assert sorted(p.name for p in tmp_path.iterdir()) == ["copy.db", "test.db"]


def test_older_schema_is_brought_up_to_date_on_the_way(tmp_path):
    old = tmp_path / "old.db"
    engine = create_engine(sqlite_url(old))
    upgrade(engine, "0003")
    engine.dispose()
    assert backup.look_at(old).schema == "0003"
    there = sqlite_url(tmp_path / "kit.db")
    backup.put_back(old, there, AT, nothing)
    assert backup.look_at(tmp_path / "kit.db").schema == SCHEMA
