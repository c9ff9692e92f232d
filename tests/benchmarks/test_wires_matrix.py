"""Matrix beside a bare echo of the same library on the same homeserver: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate."""

import asyncio
import statistics
import time
from datetime import timedelta

import pytest
from sqlmodel import select

from scheduler.limits import Allowance, Pacer
from store.tables import Notice
from tests.benchmarks.measure import Place, of
from tests.wires.conftest import homeserver
from tests.wires.matrix_person import Person
from tests.wires.matrix_scene import scene

__all__ = ["homeserver"]
pytestmark = pytest.mark.benchmark
MESSAGES = 100
DONE = "✅"
ROOMS, DAYS, RATE = 60, 3, 20.0


async def echo(client, room):
    """Answer every message with its own words."""
    while True:
        await client.sync(5_000)
        for event in client.seen(room):
            if event.event_id not in client.answered:
                client.answered.add(event.event_id)
                await client.say(room, f"echo {event.body}")


async def round_trips(person, room, say, is_answer):
    """Return the milliseconds from each message to its answer, and how many answers came more than once."""
    took = []
    for n in range(MESSAGES):
        start = time.perf_counter()
        await person.say(room, say(n))
        await person.wait_for(lambda n=n: any(is_answer(m, n) for m in person.seen(room)[-3:]))
        took.append((time.perf_counter() - start) * 1000)
    answers = [m for m in person.seen(room) if m.reacts_to is None]
    return took, len(answers)


@pytest.mark.parametrize("encrypted", [False, True], ids=["plain", "encrypted"])
async def test_from_message_to_answer(table, homeserver, store, tmp_path, encrypted):
    async with (
        Person(homeserver, f"echo-{encrypted}".lower(), tmp_path) as other,
        Person(homeserver, f"mara-{encrypted}".lower(), tmp_path) as mara,
    ):
        other.answered = set()
        room = await mara.direct(other.user_id, encrypted=encrypted)
        await other.wait_for(lambda: room in other.invitations)
        await other.join(room)
        task = asyncio.create_task(echo(other, room))
        base, _ = await round_trips(
            mara, room, lambda n: f"word {n}", lambda m, n: m.body == f"echo word {n}"
        )
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        before = len(deck.texts())
        ours, answers = await round_trips(
            deck.person,
            deck.room,
            lambda n: f"1 dive today, salt, {n % 30 + 5} m",
            lambda m, n: f" {n + 1} dive{'s' if n else ''} in all" in m.body,
        )
    table.row(
        Place.BESIDE,
        f"from message to answer, Matrix, {'encrypted' if encrypted else 'plain'}",
        f"{of(ours)}; {answers - before - MESSAGES} repeated",
        f"a bare echo by the same library on the same homeserver {of(base)}",
        f"{statistics.median(ours) / statistics.median(base):.1f} x",
    )


async def test_reminders_to_many_rooms(table, homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path) as deck:
        rooms = [deck.room, *[await deck.person.direct(deck.user, encrypted=False) for _ in range(ROOMS - 1)]]
        for room in rooms:
            await deck.person.say(room, "add regulator set, 32%")
            await deck.person.say(room, "add dry suit, plastic zip, latex seals")
        for room in rooms:
            await deck.until("Added: dry suit", room=room)
        deck.line._sender._pacer = Pacer(Allowance(RATE))
        told, asked, took = 0, 0, 0.0
        for _ in range(DAYS):
            deck.clock.forward(timedelta(days=1))
            for room in rooms:
                await deck.person.say(room, "1 dive today, salt, 20 m")
            for room in rooms:
                await deck.person.wait_for(lambda r=room: "Logged" in (deck.texts(r) or [""])[-1])
            seen = sum(len(deck.said(r)) for r in rooms)
            deck.clock.set(deck.clock.now().replace(hour=18, minute=5))
            start = time.perf_counter()
            asked += await deck.ring()
            took += time.perf_counter() - start
            await deck.person.sync(500)
            told += sum(len(deck.said(r)) for r in rooms) - seen
            deck.clock.set(deck.clock.now().replace(hour=12))
        marked = [
            m.reacts_to[0] for r in rooms for m in deck.said(r) if m.reacts_to and m.reacts_to[1] == DONE
        ]
        came = {m.event_id for r in rooms for m in deck.said(r) if m.reacts_to is None} & set(marked)
        notices = store.read(lambda s: s.exec(select(Notice)).all())
    share, refused = told / took / RATE, sum(notice.attempts > 1 for notice in notices)
    lost, twice = asked - len(came), len(marked) - len(came)
    table.row(
        Place.DELIVERY,
        f"reminders on Matrix to {ROOMS} rooms on {DAYS} days",
        f"{told / took:.1f} events a second; {lost} lost, {twice} twice, {refused} refused",
        f"the pace that is set, {RATE:.0f} a second",
        f"{share:.1%}",
        goal="at least 95 %, none refused",
        met=share >= 0.95 and not refused,
    )
    assert (asked, lost, twice) == (ROOMS * DAYS, 0, 0)
