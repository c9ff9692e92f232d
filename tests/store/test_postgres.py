"""What is about PostgreSQL alone: its errors in plain words, its schema, units that meet, and who claims what."""

import signal
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import date, timedelta

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, make_url, text
from sqlmodel import SQLModel, select

from store import engine, lockers, outbox, people, postgres, tasks
from store.engine import SCHEMA, Store, once_stored
from store.errors import StoreError
from store.tables import CareTask, Item, Locker, Notice, Person, SeenUpdate
from tests.postgres import Server, name_of

pytestmark = pytest.mark.postgresql
AT_ONCE = 8
FIRST = 1_000
"""The number of a locker that several want at once."""


@pytest.fixture
def raw(database, postgres):
    """Connect to the database without the store."""
    with psycopg.connect(postgres.conninfo(name_of(database)), autocommit=True) as connection:
        yield connection


@pytest.fixture(scope="module")
def strict():
    """Start a server of its own, which wants a password and may be stopped."""
    server = Server(durable=True, auth="scram-sha-256")
    yield server
    server.close()


@pytest.fixture
def fresh(strict):
    """Return the URL of an empty database on it, over loopback."""
    name = strict.create()
    yield strict.url_by_port(name)
    strict.drop(name)


def refusal(url):
    with pytest.raises(StoreError) as refused:
        Store(url).close()
    return str(refused.value)


def shown(url):
    return make_url(url).set(drivername="postgresql+psycopg").render_as_string(hide_password=True)


def together(*works):
    """Do several things at once; return what each gave."""
    with ThreadPoolExecutor(len(works)) as pool:
        return [f.result(60) for f in [pool.submit(w) for w in works]]


# --- what is said ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("driver", ["postgresql", "postgres", "postgresql+psycopg"])
def test_url_with_and_without_its_driver_opens_the_same_database(fresh, noon, driver):
    for _ in range(2):
        with closing(Store(fresh.replace("postgresql", driver, 1))) as opened:
            opened.write(lambda s: s.add(Locker(created_at=noon)))
    with closing(Store(fresh)) as opened:
        assert opened.read(lambda s: len(s.exec(select(Locker)).all())) == 2


def test_no_server_is_said(strict):
    url = strict.url_by_port("kit", port=9)
    said = refusal(url)
    assert said.startswith(f"cannot reach the database server of {shown(url)}: ")
    assert "refused" in said


def test_wrong_password_is_said_and_never_shown(fresh):
    url = fresh.replace("limpet", "barnacle")
    assert refusal(url) == f"the database server refuses user or password of {shown(url)}"
    assert "barnacle" not in refusal(url)


def test_database_that_is_not_there_is_said(strict):
    url = strict.url_by_port("nowhere")
    assert refusal(url) == f"there is no such database or user: {shown(url)}"


def test_newer_database_is_refused(database, raw):
    raw.execute("UPDATE alembic_version SET version_num = '9999'")
    assert refusal(database) == (
        f"the database is newer (schema 9999) than this program (schema {SCHEMA}): update the program"
    )


def test_database_of_a_stranger_is_refused_and_left_alone(postgres):
    name = postgres.create()
    with psycopg.connect(postgres.conninfo(name), autocommit=True) as raw:
        raw.execute("CREATE TABLE wreck (name text)")
        assert refusal(postgres.url(name)) == (
            "that database belongs to another program: it holds tables but no schema version"
        )
        tables = raw.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
    assert tables == [("wreck",)]
    postgres.drop(name)


def test_missing_driver_is_said(database, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "psycopg", None)
    assert refusal(database) == "the driver for that database is not installed: psycopg"


def test_read_that_would_change_something_is_refused(store, noon):
    def change(session):
        session.add(Locker(created_at=noon))
        session.flush()

    with pytest.raises(StoreError, match="is read-only: nothing was stored"):
        store.read(change)
    assert store.read(lambda s: s.exec(select(Locker)).all()) == []


def test_server_that_stops_is_said_and_one_that_is_back_is_used(strict, fresh, noon):
    with closing(Store(fresh)) as opened:
        strict.stop(how=signal.SIGQUIT)
        with pytest.raises(
            StoreError, match=r"went away in the middle|cannot reach the database server"
        ) as refused:
            opened.write(lambda s: s.add(Locker(created_at=noon)))
        assert "limpet" not in str(refused.value)
        strict.start()
        opened.write(lambda s: s.add(Locker(created_at=noon)))
        assert opened.read(lambda s: len(s.exec(select(Locker)).all())) == 1


def test_connection_that_breaks_in_a_unit_stores_nothing_of_the_broken_run(store, raw, noon):
    """The unit is run again on a new connection: nothing was stored before."""
    runs = []

    def unit(session):
        runs.append(session.connection().exec_driver_sql("SELECT pg_backend_pid()").scalar_one())
        session.add(Locker(created_at=noon))
        session.flush()
        if len(runs) == 1:
            raw.execute("SELECT pg_terminate_backend(%s)", (runs[0],))
            time.sleep(0.1)
        session.exec(select(Locker)).all()

    store.write(unit)
    assert len(set(runs)) == 2
    assert store.read(lambda s: len(s.exec(select(Locker)).all())) == 1


def test_connection_that_breaks_right_after_the_unit_was_stored_takes_nothing_back(store, raw, noon):
    pids = []

    def unit(session):
        pids.append(session.connection().exec_driver_sql("SELECT pg_backend_pid()").scalar_one())
        session.add(Locker(created_at=noon))
        once_stored(
            session, lambda: (raw.execute("SELECT pg_terminate_backend(%s)", (pids[-1],)), time.sleep(0.1))
        )
        return "kept"

    assert (store.write(unit), len(pids)) == ("kept", 1)
    assert store.write(lambda s: len(s.exec(select(Locker)).all())) == 1


# --- the schema --------------------------------------------------------------------------------------------------------


def test_migrated_schema_equals_the_tables(database):
    opened = create_engine(postgres.with_driver(make_url(database)))
    with opened.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []
    opened.dispose()


def test_replicas_that_start_at_once_migrate_once(strict, fresh, noon):
    opened = together(*[lambda: Store(fresh)] * 4)
    try:
        for one in opened:
            one.write(lambda s: s.add(Locker(created_at=noon)))
        assert opened[0].read(lambda s: len(s.exec(select(Locker)).all())) == 4
    finally:
        for one in opened:
            one.close()


def test_migration_that_fails_leaves_nothing_behind(postgres):
    name = postgres.create()
    with psycopg.connect(postgres.conninfo(name), autocommit=True) as raw:
        raw.execute("CREATE TABLE alembic_version (version_num text); CREATE TABLE trip (id int)")
        with pytest.raises(Exception, match="already exists"):
            Store(postgres.url(name))
        tables = raw.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'").fetchall()
    assert sorted(tables) == [("alembic_version",), ("trip",)]
    postgres.drop(name)


def test_instants_are_kept_with_their_zone_and_documents_as_documents(store, everything):
    everything("deck")
    kinds = store.read(
        lambda s: dict(
            s.connection()
            .execute(
                text(
                    "SELECT column_name, data_type FROM information_schema.columns WHERE table_name = 'care_task'"
                    " OR table_name = 'button'"
                )
            )
            .all()
        )
    )
    assert (kinds["notify_at"], kinds["due_on"], kinds["critical"], kinds["intent"]) == (
        "timestamp with time zone",
        "date",
        "boolean",
        "json",
    )


# --- units that meet ---------------------------------------------------------------------------------------------------


def test_units_that_meet_are_run_again_and_count_right(store, database, noon):
    """Each counts what all add to, and says so."""
    store.write(lambda s: s.add(Locker(id=FIRST, created_at=noon, name="0")))

    def count_up(session):
        lockers.take_turn(session, FIRST)
        before = len(session.exec(select(Locker)).all())
        time.sleep(0.002)
        session.add(Locker(created_at=noon, name=str(before)))

    with closing(Store(database)) as other:
        together(*[lambda: store.write(count_up), lambda: other.write(count_up)] * AT_ONCE)
        names = store.read(lambda s: {int(x.name) for x in s.exec(select(Locker))})
        assert names == set(range(2 * AT_ONCE + 1))
        assert store.repeated + other.repeated > 0


def test_third_run_of_a_unit_is_alone(store, database, noon):
    """Whoever was unlucky waits for all others and keeps them waiting: it always ends."""
    runs, others = [], []
    store.write(lambda s: s.add(Locker(id=FIRST, created_at=noon)))

    def add(session):
        lockers.take_turn(session, FIRST)
        session.add(Locker(created_at=noon))

    with closing(Store(database)) as other, ThreadPoolExecutor(1) as pool:

        def unlucky(session):
            runs.append(len(session.exec(select(Locker)).all()))
            others.append(pool.submit(other.write, add))
            if len(runs) < 3:  # somebody is faster
                others[-1].result(20)
            else:
                time.sleep(0.3)
                assert not others[-1].done()
            lockers.take_turn(session, FIRST)
            session.add(Locker(created_at=noon))

        store.write(unlucky)
        others[-1].result(20)
    assert (runs, store.repeated, len(others)) == ([1, 2, 3], 2, 3)


def test_unit_that_asks_to_be_alone_is(store, database, noon):
    runs, waited = [], []

    def add(session):
        session.add(Locker(created_at=noon))

    with closing(Store(database)) as other, ThreadPoolExecutor(1) as pool:

        def shy(session):
            runs.append(len(session.exec(select(Locker)).all()))
            if len(runs) == 1:
                other.write(add)
            postgres.alone(session)
            waited.append(pool.submit(other.write, add))
            time.sleep(0.3)
            assert not waited[0].done()
            return runs

        assert store.write(shy) == [0, 1]
        waited[0].result(20)
    assert store.repeated == 1


def test_what_is_done_once_stored_is_done_once_however_often_the_unit_runs(store, noon):
    done = []
    store.write(lambda s: s.add(Locker(id=FIRST, created_at=noon)))

    def unit(session):
        session.exec(select(Locker)).all()
        time.sleep(0.005)
        lockers.take_turn(session, FIRST)
        session.add(Locker(created_at=noon))
        once_stored(session, lambda: done.append(1))

    together(*[lambda: store.write(unit)] * AT_ONCE)
    assert (len(done), store.repeated > 0) == (AT_ONCE, True)


def test_what_was_to_be_done_once_stored_is_not_done_if_nothing_was(store):
    done = []

    def unit(session):
        once_stored(session, lambda: done.append(1))
        raise KeyError("half way")

    with pytest.raises(KeyError):
        store.write(unit)
    assert done == []


def test_units_of_one_chat_act_one_after_another_and_never_meet(store, database, noon):
    inside, most = Counter(), []

    def unit(session):
        inside["now"] += 1
        most.append(inside["now"])
        before = len(session.exec(select(Locker)).all())
        time.sleep(0.002)
        session.add(Locker(created_at=noon, name=str(before)))
        session.flush()
        inside["now"] -= 1

    with closing(Store(database)) as other:
        together(*[lambda: store.write(unit, "t:1"), lambda: other.write(unit, "t:1")] * AT_ONCE)
        assert (max(most), store.repeated + other.repeated) == (1, 0)


def test_chat_that_takes_long_keeps_no_other_waiting(store, noon):
    going, done = threading.Event(), threading.Event()

    def slow(session):
        going.set()
        assert done.wait(20)
        session.add(Locker(created_at=noon))

    def quick(session):
        assert going.wait(20)
        session.add(Person(key="b", since=noon))

    def other():
        store.write(quick, "t:2")
        done.set()

    together(lambda: store.write(slow, "t:1"), other)
    assert done.is_set()


@pytest.mark.parametrize("chat", [None, "t:1"])
def test_one_update_that_races_on_two_replicas_acts_once(store, database, noon, chat):
    def unit(session, n):
        if lockers.seen(session, "wire", str(n), noon):
            return False
        session.add(Locker(created_at=noon))
        return True

    with closing(Store(database)) as other:
        acted = together(
            *(
                lambda n=n, at=at: at.write(lambda s: unit(s, n), chat)
                for n in range(12)
                for at in (store, other)
            )
        )
        assert sum(acted) == 12
        counts = store.read(lambda s: [len(s.exec(select(t)).all()) for t in (Locker, SeenUpdate)])
        assert counts == [12, 12]


def test_same_person_met_first_by_two_at_once_is_one_person(store, database, noon):
    with closing(Store(database)) as other:
        met = [
            lambda at=at: at.write(lambda s: people.meet(s, "wire:mara", "Mara", noon))
            for at in (store, other)
        ]
        together(*met * 4)
        assert len(store.read(lambda s: s.exec(select(Person)).all())) == 1


# --- claims ------------------------------------------------------------------------------------------------------------


def test_claims_at_once_never_overlap(store, database, noon):
    def fill(session):
        for n in range(60):
            chat = lockers.open_chat(session, "wire", f"chat {n}", noon)
            session.add(
                Notice(
                    key=str(n),
                    locker_id=chat.locker_id,
                    chat_id=lockers.number(chat.id),
                    due_on=date(2026, 6, 10),
                    stage="due",
                    send_at=noon + timedelta(seconds=n),
                )
            )

    store.write(fill)
    later = noon + timedelta(minutes=5)

    def claim_all(at):
        taken = []
        while found := at.write(lambda s: outbox.claim(s, later, 7, ["wire"])):
            taken += [n.key for notices in found.values() for n in notices]
            if not any(found.values()):
                break
        return taken

    with closing(Store(database)) as other:
        taken = together(*[lambda at=at: claim_all(at) for at in (store, other, store, other)])
        rest = claim_all(store)
    keys = [key for some in taken for key in some] + rest
    assert sorted(keys, key=int) == [str(n) for n in range(60)]


def test_task_that_another_sweep_has_taken_is_left_to_it(store, database, noon):
    def fill(session):
        chat = lockers.open_chat(session, "wire", "deck", noon)
        item = Item(
            locker_id=chat.locker_id, kind="bag", name="bag", facts={}, added_on=noon.date(), added_by="m"
        )
        session.add(item)
        session.flush()
        for n in range(4):
            session.add(
                CareTask(
                    locker_id=chat.locker_id,
                    item_id=item.id,
                    part=str(n),
                    rule="spray_bag_zip",
                    task="lubricate",
                    critical=False,
                    notify_at=noon,
                    changed_at=noon,
                )
            )

    store.write(fill)
    with closing(Store(database)) as other:

        def first(session):
            mine = [t.part for t in tasks.to_notify(session, noon, 3)]
            theirs = other.write(lambda s: [t.part for t in tasks.to_notify(s, noon, 3)])
            return mine, theirs

        assert store.write(first) == (["0", "1", "2"], ["3"])


def test_pool_of_writers_is_as_large_as_told(database, noon):
    inside = threading.Barrier(3, timeout=20)
    with closing(Store(database, writers=3)) as opened:
        together(*[lambda: opened.write(lambda _: inside.wait())] * 3)
    assert engine.WRITERS >= 2
