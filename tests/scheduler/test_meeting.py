"""Two who meet on PostgreSQL: what each worked out from its own view must be as if one had come after the other."""

import threading
import time
from contextlib import closing
from datetime import date, timedelta

import pytest
from sqlmodel import select

from scheduler.deliver import Failed, heed
from scheduler.sweep import sweep
from store import letters, lockers, people
from store.engine import Store
from store.tables import Locker, Trip
from store.vocabulary import ItemKind

from .conftest import NOON, Kit

pytestmark = pytest.mark.postgresql
SOON = timedelta(seconds=5)


@pytest.fixture
def other(store, database):
    """Open the same database as another process does."""
    with closing(Store(database)) as opened:
        yield opened


@pytest.fixture
def kit(store, clock):
    made = Kit(store, clock, "deck")
    made.locker(region="DE")
    return made


def seen_from(kit, store):
    """Return the same kit as another process sees it."""
    there = object.__new__(Kit)
    there.__dict__.update(kit.__dict__, _store=store)
    return there


def meet(store, outer, inner):
    """Have a unit of work take its view, another store meanwhile, and the first go on; return how often the first ran."""
    runs = []

    def unit(session):
        session.exec(select(Locker.id)).all()
        runs.append(1)
        if len(runs) == 1:
            inner()
        outer(session)

    store.write(unit)
    return len(runs)


def notify_at(kit):
    return {(t.item_id, t.rule, t.part): t.notify_at for t in kit.tasks()}


def trip_of(store, trip_id):
    return store.read(lambda s: s.get_one(Trip, trip_id))


def test_call_of_a_trip_that_meets_a_new_item_is_that_of_all_the_kit(kit, store, other, clock):
    kit.add(ItemKind.TWINSET, date(2020, 1, 1), hydro_due_on=date(2026, 10, 1))
    trip = kit.trip(date(2026, 9, 20), date(2026, 10, 5), 10)
    clock.set(trip_of(store, trip).notify_at + SOON)
    there = seen_from(kit, other)
    runs = meet(
        store,
        lambda s: sweep(s, clock.now()),
        lambda: there.add(ItemKind.TWINSET, date(2020, 1, 1), hydro_due_on=date(2026, 9, 25)),
    )
    said = trip_of(store, trip).notify_at
    kit.refresh()
    assert (runs, said) == (2, trip_of(store, trip).notify_at)


def test_sweep_that_meets_another_hour_goes_by_it(kit, store, other, clock):
    kit.add(ItemKind.TWINSET, date(2020, 1, 1), hydro_due_on=date(2026, 7, 1))
    clock.set(min(at for at in notify_at(kit).values() if at) + SOON)
    there = seen_from(kit, other)
    runs = meet(store, lambda s: sweep(s, clock.now()), lambda: there.wish(digest_at="20:00"))
    swept = notify_at(kit)
    kit.refresh()
    assert (runs, swept) == (2, notify_at(kit))


def test_second_chat_that_is_told_to_wait_at_once_holds_the_wire(store, other):
    for address in ("deck", "pier"):
        store.write(lambda s, a=address: lockers.open_chat(s, "wire", a, NOON))
    flood = Failed("flood", wait=timedelta(seconds=30))
    meet(
        store,
        lambda s: heed(s, "wire", "deck", flood, NOON),
        lambda: other.write(lambda s: heed(s, "wire", "pier", flood, NOON)),
    )
    assert store.read(lambda s: letters.state(s, "wire").hold_until) is not None


@pytest.fixture
def guest(store):
    """Let somebody into the first of two lockers, on a bot that wants an invitation; return the lockers."""

    def fill(session):
        both = [Locker(created_at=NOON), Locker(created_at=NOON)]
        session.add_all(both)
        session.flush()
        for locker, owner in zip(both, ("mara", "ilka"), strict=True):
            people.meet(session, owner, owner, NOON)
            people.join(session, locker.id, owner, NOON)
        people.meet(session, "jorun", "Jorun", NOON)
        into(session, both[0].id)
        return [locker.id for locker in both]

    return store.write(fill)


def into(session, locker_id):
    people.join(session, locker_id, "jorun", NOON)
    people.admit(session, "jorun")


def out_of(session, locker_id):
    people.leave(session, locker_id, "jorun")
    people.dismiss(session, "jorun")


def admitted(store):
    return store.read(lambda s: people.find(s, "jorun").admitted)


def test_who_is_taken_out_of_one_locker_while_joining_another_stays_admitted(store, other, guest):
    first, second = guest
    meet(store, lambda s: out_of(s, first), lambda: other.write(lambda s: into(s, second)))
    assert admitted(store)


def test_who_is_taken_out_of_both_at_once_is_not(store, other, guest):
    first, second = guest
    store.write(lambda s: into(s, second))
    meet(store, lambda s: out_of(s, first), lambda: other.write(lambda s: out_of(s, second)))
    assert not admitted(store)


def test_two_that_meet_do_not_stop_a_stranger_until_the_longest_ends(store, other, database, guest):
    going, over = threading.Event(), threading.Event()

    def long(session):
        session.exec(select(Locker.id)).all()
        going.set()
        assert over.wait(20)

    with closing(Store(database)) as third:
        longest = threading.Thread(target=third.write, args=(long,))
        longest.start()
        assert going.wait(20)
        take = lambda s: lockers.take_turn(s, guest[0])  # noqa: E731 - one line of work
        assert meet(store, take, lambda: other.write(take)) == 2
        start = time.monotonic()
        other.write(lambda s: s.exec(select(Locker.id)).first())
        took = time.monotonic() - start
        over.set()
        longest.join(20)
    assert took < 5
