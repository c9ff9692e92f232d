"""Opening a database, and units of work that happen whole or not at all."""

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import make_url, text
from sqlmodel import select

import store.engine
from store import lockers
from store.engine import SCHEMA, Store, sqlite_url
from store.errors import StoreError
from store.tables import Locker


def path_of(url):
    return Path(make_url(url).database)


def regions(opened):
    return opened.read(lambda s: [locker.region for locker in s.exec(select(Locker).order_by(Locker.id))])


def add(session, noon, region):
    session.add(Locker(created_at=noon, region=region))


def refusal(path):
    """Open a file that must be refused, and return the reason and whether the file is as it was."""
    before = path.read_bytes()
    with pytest.raises(StoreError) as refused:
        Store(sqlite_url(path))
    return str(refused.value), path.read_bytes() == before


@pytest.mark.sqlite
@pytest.mark.parametrize("way", ["read", "write"])
def test_connection_is_durable_and_checks_foreign_keys(store, way):
    def pragmas(session):
        return {
            name: session.exec(text(f"PRAGMA {name}")).scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "secure_delete", "busy_timeout")
        }

    full = 2
    assert getattr(store, way)(pragmas) == {
        "journal_mode": "wal",
        "synchronous": full,
        "foreign_keys": 1,
        "secure_delete": 1,
        "busy_timeout": 5_000,
    }


@pytest.mark.sqlite
def test_new_file_and_what_lies_beside_it_are_for_their_user_alone(tmp_path, noon):
    path = tmp_path / "locker" / "kit.db"
    with closing(Store(sqlite_url(path))) as opened:
        opened.write(lambda s: add(s, noon, "DE"))
        modes = {p.name: p.stat().st_mode & 0o777 for p in (path.parent, *path.parent.iterdir())}
    assert modes == {"locker": 0o700, "kit.db": 0o600, "kit.db-wal": 0o600, "kit.db-shm": 0o600}


@pytest.mark.sqlite
def test_file_that_is_there_keeps_its_mode(tmp_path):
    path = tmp_path / "kit.db"
    path.touch()
    path.chmod(0o640)
    Store(sqlite_url(path)).close()
    assert path.stat().st_mode & 0o777 == 0o640


def test_unit_of_work_that_raises_is_rolled_back_whole(store, noon):
    def half_done(session):
        add(session, noon, "DE")
        session.flush()
        add(session, noon, "GB")
        raise KeyError("half way")

    with pytest.raises(KeyError, match="half way"):
        store.write(half_done)
    assert regions(store) == []


def test_unit_of_work_after_one_that_raised_is_kept(store, noon):
    with pytest.raises(ZeroDivisionError):
        store.write(lambda _: 1 / 0)
    store.write(lambda s: add(s, noon, "DE"))
    assert regions(store) == ["DE"]


@pytest.mark.sqlite
def test_read_that_changes_something_keeps_nothing(store, noon):
    def change(session):
        add(session, noon, "DE")
        session.flush()

    store.read(change)
    assert regions(store) == []


def test_read_during_a_write_sees_the_state_before_it(store, noon):
    def write_and_look(session):
        add(session, noon, "DE")
        session.flush()
        return regions(store)

    assert (store.write(write_and_look), regions(store)) == ([], ["DE"])


def test_writers_in_many_threads_queue(store, noon):
    store.write(lambda s: add(s, noon, "first"))

    def count_up(session):
        lockers.take_turn(session, 1)
        before = len(list(session.exec(select(Locker))))
        add(session, noon, str(before))

    threads = [threading.Thread(target=store.write, args=(count_up,)) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert regions(store) == ["first", *(str(n) for n in range(1, 13))]


def test_two_stores_on_one_database_see_each_other(store, database, noon):
    with closing(Store(database)) as other:
        store.write(lambda s: add(s, noon, "DE"))
        other.write(lambda s: add(s, noon, "GB"))
        assert (regions(store), regions(other)) == (["DE", "GB"], ["DE", "GB"])


def test_two_stores_on_one_database_writing_at_once_lose_nothing(store, database, noon):
    store.write(lambda s: add(s, noon, "first"))

    def count_up(session):
        lockers.take_turn(session, 1)
        before = len(list(session.exec(select(Locker))))
        add(session, noon, str(before))

    def often(opened):
        for _ in range(8):
            opened.write(count_up)

    with closing(Store(database)) as other:
        threads = [threading.Thread(target=often, args=(opened,)) for opened in (store, other)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert regions(store) == ["first", *(str(n) for n in range(1, 17))]


def test_database_closed_and_opened_again_kept_everything(database, noon):
    with closing(Store(database)) as first:
        first.write(lambda s: add(s, noon, "DE"))
    with closing(Store(database)) as second:
        assert regions(second) == ["DE"]


def test_empty_file_becomes_a_database(tmp_path):
    path = tmp_path / "fresh.db"
    path.touch()
    with closing(Store(sqlite_url(path))) as opened:
        assert opened.read(lambda s: store.engine.schema_version(s.connection())) == SCHEMA


@pytest.mark.sqlite
def test_locked_database_is_refused_in_one_line(database, monkeypatch):
    monkeypatch.setattr(store.engine, "_BUSY_MS", 1)
    path = path_of(database)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        said, unchanged = refusal(path)
    expected = f"the database sqlite:///{path} is locked by another program: close that one and try again"
    assert (said, unchanged) == (expected, True)


@pytest.mark.sqlite
def test_write_to_locked_database_changes_nothing_and_works_later(database, noon, monkeypatch):
    monkeypatch.setattr(store.engine, "_BUSY_MS", 1)
    path = path_of(database)
    with closing(Store(database)) as opened:
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(StoreError) as refused:
                opened.write(lambda s: add(s, noon, "DE"))
        locked = regions(opened)
        opened.write(lambda s: add(s, noon, "GB"))
        assert (str(refused.value), locked, regions(opened)) == (
            f"the database sqlite:///{path} is locked by another program: close that one and try again",
            [],
            ["GB"],
        )


@pytest.mark.parametrize("content", [b"short", b"a letter to a friend\n" * 500], ids=["short", "long"])
def test_file_that_is_no_database_is_refused(tmp_path, content):
    path = tmp_path / "letter.db"
    path.write_bytes(content)
    assert refusal(path) == (f"sqlite:///{path} is not a database file", True)


@pytest.mark.sqlite
def test_database_of_a_newer_program_is_refused(database):
    path = path_of(database)
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE alembic_version SET version_num = '9999'")
        other.commit()
    assert refusal(path) == (
        f"the database is newer (schema 9999) than this program (schema {SCHEMA}): update the program",
        True,
    )


@pytest.mark.parametrize("mode", ["wal", "delete"])
def test_database_of_a_stranger_is_refused(tmp_path, mode):
    path = tmp_path / "stranger.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute(f"PRAGMA journal_mode={mode}")
        other.execute("CREATE TABLE wreck (name TEXT)")
        other.commit()
    assert refusal(path) == (
        "that database belongs to another program: it holds tables but no schema version",
        True,
    )


def test_migration_that_fails_leaves_nothing_behind(tmp_path):
    path = tmp_path / "half.db"
    with closing(sqlite3.connect(path)) as other:
        other.executescript(
            "PRAGMA journal_mode=wal; CREATE TABLE alembic_version (version_num TEXT); CREATE TABLE trip (id INTEGER);"
        )
    assert refusal(path) == (f"cannot use the database sqlite:///{path}: table trip already exists", True)


def test_folder_that_cannot_be_made_is_refused(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(StoreError) as refused:
        sqlite_url(tmp_path / "file" / "rinsetank.db")
    assert str(refused.value) == f"cannot make the folder {tmp_path / 'file'}: File exists"


def test_folder_in_the_place_of_the_file_is_refused(tmp_path):
    with pytest.raises(StoreError) as refused:
        Store(sqlite_url(tmp_path))
    assert str(refused.value) == f"cannot use the database sqlite:///{tmp_path}: unable to open database file"


@pytest.mark.parametrize(
    ("url", "said"),
    [
        ("kit.db", "'kit.db' is no database URL: say it like sqlite:///kit.db"),
        ("sqlite://", "a database in memory forgets everything: give a file, like sqlite:///kit.db"),
        ("sqlite:///:memory:", "a database in memory forgets everything: give a file, like sqlite:///kit.db"),
    ],
)
def test_url_that_names_no_file_is_refused(url, said):
    with pytest.raises(StoreError) as refused:
        Store(url)
    assert str(refused.value) == said


@pytest.mark.parametrize(
    "folder",
    [
        "two words",
        "schräg",
        "deck#2",
        *(
            pytest.param(
                name,
            )
            for name in ("what?", "50%41")
        ),
    ],
)
def test_url_of_a_path_names_that_path(tmp_path, folder):
    path = tmp_path / folder / "rinsetank.db"
    assert path_of(sqlite_url(path)) == path
