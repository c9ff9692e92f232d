"""A whole database goes from one kind to the other and back, as it was, or stays where it is."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlmodel import SQLModel, select

from store import lockers, move, people
from store.engine import Store, sqlite_url
from store.errors import StoreError
from store.tables import Chat, Item, Letter, Locker, SeenUpdate, WireState

NUMBERED = ("care_task", "item", "dive", "letter")
WAYS = [
    ("sqlite", "postgresql"),
    ("postgresql", "sqlite"),
    ("sqlite", "sqlite"),
    ("postgresql", "postgresql"),
]


@pytest.fixture
def new(postgres, postgres_template, tmp_path):
    """Return a function that gives the URL of an empty database of a kind: with the tables, or without any."""
    made = []

    def make(kind, *, bare=False):
        if kind == "sqlite":
            made.append(None)
            return sqlite_url(tmp_path / f"{len(made)}.db")
        made.append(postgres.create(*([] if bare else [postgres_template])))
        return postgres.url(made[-1])

    yield make
    for name in made:
        if name is not None:
            postgres.drop(name)


@pytest.fixture
def way(request, new):
    """Open a database and an empty one to move it to."""
    kinds = getattr(request, "param", WAYS[0])
    with closing(Store(new(kinds[0]))) as source, closing(Store(new(kinds[1], bare=True))) as target:
        yield source, target


@pytest.fixture
def store(way):
    """Return the database that is moved: it is filled as other tests fill theirs."""
    return way[0]


def everything_of(opened):
    """Return every row of every table, by table and key."""

    def read(session):
        return {
            str(m.class_.__tablename__): sorted(
                (row.model_dump() for row in session.exec(select(m.class_))), key=repr
            )
            for m in SQLModel._sa_registry.mappers
        }

    return opened.read(read)


@pytest.mark.parametrize("way", WAYS, indirect=True, ids=["-to-".join(w) for w in WAYS])
def test_every_row_arrives_as_it_was_and_numbers_go_on(way, everything, noon):
    source, target = way
    for address in ("deck", "Boot", "ärger 🤿"):
        everything(address)
    source.write(lambda s: lockers.seen(s, "wire", "7", noon + timedelta(microseconds=123_456)))
    source.write(lambda s: s.add(WireState(wire="wire", position="s12", hold_until=noon)))
    last = {name: _remove_last(source, name) for name in NUMBERED}
    told = []
    counted = move.move(source, target, lambda table, rows: told.append((table, rows)))
    assert everything_of(target) == everything_of(source)
    assert counted == {name: len(rows) for name, rows in everything_of(source).items()}
    assert dict(told) == {name: n for name, n in counted.items() if n}
    assert {name: _add_one(target, name) for name in NUMBERED} == {name: n + 1 for name, n in last.items()}
    assert target.write(lambda s: lockers.open_chat(s, "wire", "new", noon).id) == counted["chat"] + 1
    assert target.write(lambda s: lockers.seen(s, "wire", "7", noon))


def _table(name):
    return next(m.class_ for m in SQLModel._sa_registry.mappers if m.class_.__tablename__ == name)


def _remove_last(opened, name):
    """Remove the newest row of a table and return its number, which is never to be used again."""

    def unit(session):
        row = session.exec(select(_table(name)).order_by(_table(name).id.desc())).first()
        session.delete(row)
        return row.id

    return opened.write(unit)


def _add_one(opened, name):
    def unit(session):
        old = session.exec(select(_table(name)).limit(1)).one()
        row = type(old)(**(old.model_dump(exclude={"id"}) | ({"part": "new"} if name == "care_task" else {})))
        session.add(row)
        session.flush()
        return row.id

    return opened.write(unit)


@pytest.mark.parametrize("way", WAYS[:2], indirect=True, ids=["-to-".join(w) for w in WAYS[:2]])
def test_no_document_and_the_document_null_stay_two_things(way, everything):
    source, target = way
    chats = [everything(address)[0].id for address in ("a", "b")]
    source.write(lambda s: s.exec(text(f"UPDATE chat SET last_intent = 'null' WHERE id = {chats[0]}")))
    source.write(lambda s: s.exec(text(f"UPDATE chat SET last_intent = NULL WHERE id = {chats[1]}")))
    move.move(source, target, lambda *_: None)
    asked = text("SELECT last_intent IS NULL FROM chat ORDER BY id")
    assert [bool(x) for x in target.read(lambda s: s.exec(asked).scalars().all())] == [False, True]


@pytest.mark.parametrize("way", WAYS[:2], indirect=True, ids=["-to-".join(w) for w in WAYS[:2]])
def test_target_that_holds_something_is_refused_and_left_alone(way, everything, noon):
    source, target = way
    everything("deck")
    target.write(lambda s: people.meet(s, "wire:ola", "Ola", noon))
    before = everything_of(target)
    with pytest.raises(StoreError, match="the target is not empty, it holds person: nothing was changed"):
        move.move(source, target, lambda *_: None)
    assert everything_of(target) == before


@pytest.mark.parametrize("way", WAYS[:2], indirect=True, ids=["-to-".join(w) for w in WAYS[:2]])
def test_move_that_breaks_off_leaves_the_target_empty_and_can_be_done_again(way, everything):
    source, target = way
    everything("deck")

    def stop(table, _rows):
        if table == "notice":
            raise KeyError("the cable")

    with pytest.raises(KeyError):
        move.move(source, target, stop)
    assert not any(everything_of(target).values())
    move.move(source, target, lambda *_: None)
    assert everything_of(target) == everything_of(source)


def test_what_arrives_otherwise_is_refused_and_nothing_kept(way, everything):
    source, target = way
    everything("deck")

    def alter(table, _rows):
        if table == "item":
            session.exec(text("UPDATE item SET name = 'another'"))

    session = None
    original = target.write

    def write(work):
        def unit(inner):
            nonlocal session
            session = inner
            return work(inner)

        return original(unit)

    target.write = write
    with pytest.raises(StoreError, match="item did not arrive as it was: nothing was kept"):
        move.move(source, target, alter)
    assert not any(everything_of(target).values())


def test_word_that_postgresql_cannot_hold_is_refused_and_nothing_kept(way, everything):
    source, target = way
    _, filed = everything("deck")
    source.write(lambda s: setattr(s.get_one(Item, filed["item"].id), "name", "bag\x00"))
    with pytest.raises(StoreError, match="item did not arrive as it was"):
        move.move(source, target, lambda *_: None)
    assert not any(everything_of(target).values())


def test_source_that_is_not_there_is_refused_and_not_made(tmp_path):
    with pytest.raises(StoreError, match="there is no database"):
        move.open_source(sqlite_url(tmp_path / "none.db"))
    assert not (tmp_path / "none.db").exists()


def test_many_rows_are_carried_in_pieces(way, noon, monkeypatch):
    monkeypatch.setattr(move, "ROWS", 7)
    source, target = way
    source.write(lambda s: s.add_all(SeenUpdate(wire="w", update_id=str(n), seen_at=noon) for n in range(50)))
    source.write(
        lambda s: s.add_all(Letter(wire="w", address=str(n), body={}, send_at=noon) for n in range(20))
    )
    told = []
    assert move.move(source, target, lambda *at: told.append(at))["seen_update"] == 50
    assert [n for table, n in told if table == "seen_update"] == [7, 14, 21, 28, 35, 42, 49, 50]


def test_shell_moves_and_says_how_much(run_shell, new, noon):
    source, target = new("sqlite"), new("postgresql", bare=True)
    with closing(Store(source)) as opened:
        opened.write(lambda s: lockers.open_chat(s, "wire", "deck", noon))
    done = run_shell("move", "--from", source, "--to", target)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Moved and compared: 2 rows of ")
    with closing(Store(target)) as opened:
        assert opened.read(lambda s: len(s.exec(select(Chat)).all())) == 1
    again = run_shell("move", "--from", source, "--to", target)
    assert (again.returncode, again.stdout) == (2, "")
    assert (
        again.stderr.splitlines()[-1]
        == "rinsetank: the target is not empty, it holds locker, chat: nothing was changed"
    )


@pytest.fixture
def run_shell():
    """Return a function that runs the command."""
    tool = Path(sys.executable).parent / "rinsetank"
    return lambda *args: subprocess.run([tool, *args], capture_output=True, text=True, check=False)


def test_file_keeps_the_rows_of_a_move_after_it_is_closed(way, everything, new):
    source, _ = way
    everything("deck")
    url = new("sqlite")
    with closing(Store(url)) as target:
        move.move(source, target, lambda *_: None)
    with closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as raw:
        assert raw.execute("SELECT count(*) FROM locker").fetchone() == (1,)
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
    with closing(Store(url)) as again:
        assert again.read(lambda s: len(s.exec(select(Locker)).all())) == 1
