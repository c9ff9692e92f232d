"""Health is made of looks at the real thing: a row is written, the ticks and loops give signs, and no look takes long."""

import asyncio
import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest

from bot.health import ANSWER_S, TICK_S, WIRE_S, Checkup, Health, Pulse
from scheduler.clock import SetClock
from store import meter
from store.engine import SCHEMA
from store.errors import StoreError
from store.exchange.backup import file_of
from store.letters import hold_wire
from tests.conftest import START

WELL, ILL = Health("telegram", well=True, said="ok"), Health("matrix", well=False, said="cannot be reached")


class Bench:
    """A checkup of a store, with everything else in hand."""

    def __init__(self, store) -> None:
        self.seconds, self.wires, self.ended = 0.0, [WELL], []
        self.pulse = Pulse(lambda: self.seconds)
        self.here = True
        self.checkup = Checkup(
            store,
            SetClock(START),
            self.pulse,
            lambda: self.wires,
            lambda: self.ended,
            delivers=lambda: self.here,
        )


@pytest.fixture
def bench(store):
    made = Bench(store)
    yield made
    made.checkup.close()


def found(report, check):
    (one,) = [c for c in report.checks if c.check == check]
    return one


async def test_all_is_well_and_each_check_has_its_value_and_limit(bench):
    alive, ready = await bench.checkup.alive(), await bench.checkup.ready()
    assert (alive.ok, ready.ok) == (True, True)
    assert {c.check for c in alive.checks} == {"write", "tick", "loops"}
    assert {c.check for c in ready.checks} >= {"read", "schema", "wires", "held_chats", "held_wires"}
    assert (found(ready, "schema").value, found(ready, "schema").limit) == (SCHEMA, SCHEMA)
    assert 0 <= found(alive, "write").value <= found(alive, "write").limit == ANSWER_S
    assert all(c["limit"] is not None for c in alive.as_data()["checks"] + ready.as_data()["checks"])


@pytest.mark.sqlite
async def test_writer_that_is_stuck_fails_the_one_and_not_the_other_and_nobody_waits_long(
    bench, store, monkeypatch
):
    monkeypatch.setattr("bot.health.ANSWER_S", 0.5)
    monkeypatch.setattr("bot.health.FRESH_S", 0.2)
    with closing(sqlite3.connect(file_of(store.url), isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        reports = await asyncio.gather(*(bench.checkup.alive() for _ in range(20)))
        other.execute("ROLLBACK")
    assert {(r.ok, found(r, "write").ok) for r in reports} == {(False, False)}
    waited = [found(r, "write").value for r in reports]
    assert min(waited) >= 0.4
    assert max(waited) < 5, "not one after another, which is ten seconds"
    async with asyncio.timeout(60):
        while not (await bench.checkup.alive()).ok:  # noqa: ASYNC110 - a look is what is waited for
            await asyncio.sleep(0.05)
    assert (await bench.checkup.ready()).ok


async def test_many_probes_are_one_look(bench):
    units = []
    leave = meter.listen(lambda event, amount, labels: units.append(event))
    try:
        await asyncio.gather(*(bench.checkup.alive() for _ in range(200)))
    finally:
        leave()
    assert units.count("unit") == 2  # the work and the whole of one


async def test_row_that_cannot_be_stored_fails(bench, store, monkeypatch):
    def full(_work):
        raise StoreError("no space left")

    monkeypatch.setattr(store, "write", full)
    assert found(await bench.checkup.alive(), "write").ok is False


async def test_database_that_does_not_answer_is_not_ready(bench, store, monkeypatch):
    def gone(_work):
        raise StoreError("cannot use the database")

    monkeypatch.setattr(store, "read", gone)
    report = await bench.checkup.ready()
    assert (report.ok, found(report, "read").ok, found(report, "schema").ok) == (False, False, False)


async def test_schema_of_another_program_is_not_ready(bench, monkeypatch):
    monkeypatch.setattr("bot.health.SCHEMA", "9999")
    report = await bench.checkup.ready()
    assert (report.ok, found(report, "schema").value) == (False, SCHEMA)


@pytest.mark.parametrize(("wires", "ok"), [([WELL], True), ([WELL, ILL], True), ([ILL], False), ([], True)])
async def test_traffic_may_come_while_one_wire_is_well(bench, wires, ok):
    bench.wires = wires
    report = await bench.checkup.ready()
    assert report.ok is ok
    assert [found(report, f"wire_{w.wire}").ok for w in wires] == [w.well for w in wires]


async def test_hold_is_told_and_fails_nothing(bench, store):
    store.write(lambda s: hold_wire(s, "telegram", START + timedelta(hours=1)))
    report = await bench.checkup.ready()
    assert (report.ok, found(report, "held_wires").ok, found(report, "held_wires").value) == (
        True,
        False,
        "telegram",
    )


async def test_ticks_that_stop_are_noticed_and_any_sign_of_life_counts(bench):
    bench.seconds = TICK_S + 1.0
    assert found(await bench.checkup.alive(), "tick").ok is False
    bench.pulse.hear("send", 1, {"wire": "telegram", "what": "answer", "outcome": "arrived"})
    assert found(await bench.checkup.alive(), "tick").ok is False  # an answer is no reminder
    bench.pulse.hear("send", 1, {"wire": "telegram", "what": "reminder", "outcome": "again"})
    assert found(await bench.checkup.alive(), "tick").ok is True


async def test_loop_that_no_longer_looks_is_noticed(bench):
    bench.pulse.hear("look", 1, {"wire": "telegram"})
    bench.seconds = WIRE_S + 1.0
    assert found(await bench.checkup.alive(), "look_telegram").ok is False
    bench.pulse.hear("update", 1, {"wire": "telegram", "outcome": "answered"})
    assert found(await bench.checkup.alive(), "look_telegram").ok is True


async def test_where_another_process_delivers_no_sign_is_expected(bench):
    bench.here = False
    bench.pulse.hear("look", 1, {"wire": "telegram"})
    bench.seconds = WIRE_S + 1.0
    assert (await bench.checkup.alive()).ok
    bench.here = True
    assert (await bench.checkup.alive()).ok  # it has just begun
    bench.seconds += TICK_S + 1
    assert (await bench.checkup.alive()).ok is False


async def test_loop_that_ended_by_a_fault_is_named(bench):
    bench.ended = ["post_telegram"]
    report = await bench.checkup.alive()
    assert (report.ok, found(report, "loops").value) == (False, "post_telegram")
