"""The real homeserver and the person's client themselves: what the wire's tests lean on holds.

Those tests fail where it does not; which of it does not is told here, at length.
"""

import asyncio
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
from collections.abc import AsyncIterator
from pathlib import Path

import pytest

from tests.wires.harness import both
from tests.wires.homeserver import Homeserver
from tests.wires.matrix_person import Person, Refused


@pytest.fixture
async def ilka(homeserver: Homeserver, tmp_path: Path) -> AsyncIterator[Person]:
    """Return a person of her own for each test."""
    async with Person(homeserver, f"ilka-{time.monotonic_ns()}", tmp_path) as person:
        yield person


@pytest.fixture
async def odo(homeserver: Homeserver, tmp_path: Path) -> AsyncIterator[Person]:
    """Return the one she writes to."""
    async with Person(homeserver, f"odo-{time.monotonic_ns()}", tmp_path) as person:
        yield person


async def together(ilka: Person, odo: Person, *, encrypted: bool) -> str:
    room = await ilka.direct(odo.user_id, encrypted=encrypted)
    await odo.wait_for(lambda: room in odo.invitations)
    await odo.join(room)
    return room


async def say_dives(ilka: Person, room: str, count: int) -> None:
    for number in range(count):
        await ilka.say(room, f"dive {number}")


@both
async def test_two_people_talk(ilka: Person, odo: Person, encrypted: bool) -> None:
    room = await together(ilka, odo, encrypted=encrypted)
    first = await ilka.say(room, "rinsed it", html="<b>rinsed</b> it", mention=[odo.user_id])
    await odo.wait_for(lambda: odo.seen(room))
    answer = await odo.say(room, "good", reply_to=first)
    await ilka.wait_for(lambda: ilka.seen(room))

    (told,), (answered,) = odo.seen(room), ilka.seen(room)
    assert (told.event_id, told.sender, told.msgtype) == (first, ilka.user_id, "m.text")
    assert (told.body, told.html, told.encrypted) == ("rinsed it", "<b>rinsed</b> it", encrypted)
    assert told.content["m.mentions"] == {"user_ids": [odo.user_id]}
    assert (answered.event_id, answered.body, answered.reply_to) == (answer, "good", first)
    assert await ilka.members(room) == {ilka.user_id, odo.user_id}


@pytest.mark.long
@both
async def test_edits_redactions_and_reactions_arrive(ilka: Person, odo: Person, encrypted: bool) -> None:
    room = await together(ilka, odo, encrypted=encrypted)
    kept, gone = await ilka.say(room, "40 minutes"), await ilka.say(room, "wrong room")
    edit = await ilka.edit(room, kept, "45 minutes")
    await ilka.redact(room, gone)
    reaction = await ilka.react(room, kept, "👍")
    await odo.wait_for(lambda: any(seen.reacts_to for seen in odo.seen(room)))

    by_id = {seen.event_id: seen for seen in odo.seen(room)}
    assert list(by_id) == [kept, gone, edit, reaction]
    assert (by_id[edit].replaces, by_id[edit].body) == (kept, "45 minutes")
    assert by_id[gone].redacted
    assert by_id[reaction].reacts_to == (kept, "👍")
    assert not by_id[reaction].encrypted
    (standing,) = odo.standing(room)
    assert (standing.event_id, standing.body) == (kept, "45 minutes")

    await ilka.redact(room, edit)
    await odo.wait_for(lambda: odo.standing(room)[0].body == "40 minutes")


@pytest.mark.long
@both
async def test_files_and_places_arrive(ilka: Person, odo: Person, encrypted: bool) -> None:
    room = await together(ilka, odo, encrypted=encrypted)
    content = bytes(range(256)) * 40
    await ilka.send_file(room, "dives.uddf", content, "application/xml")
    await ilka.send_location(room, 36.5, 28.2)
    file, place = await odo.wait_for(lambda: len(odo.seen(room)) == 2 and odo.seen(room))

    assert (file.msgtype, file.body, file.content["info"]["mimetype"]) == (
        "m.file",
        "dives.uddf",
        "application/xml",
    )
    assert ("key" in file.file) == encrypted
    assert await odo.download(file) == content
    assert (place.msgtype, place.content["geo_uri"]) == ("m.location", "geo:36.5,28.2")


@pytest.mark.long
@both
async def test_the_same_transaction_is_one_message(ilka: Person, odo: Person, encrypted: bool) -> None:
    room = await together(ilka, odo, encrypted=encrypted)
    once = await ilka.say(room, "only once", txn="wash-1")
    assert await ilka.say(room, "only once", txn="wash-1") == once
    await ilka.say(room, "after")
    await odo.wait_for(lambda: odo.seen(room) and odo.seen(room)[-1].body == "after")
    assert [seen.body for seen in odo.seen(room)] == ["only once", "after"]


@pytest.mark.long
async def test_a_group_has_a_name_and_can_be_left(ilka: Person, odo: Person) -> None:
    room = await ilka.group("Wreck week", [odo.user_id], encrypted=False)
    await odo.wait_for(lambda: room in odo.invitations)
    await odo.join(room)
    assert odo.client.rooms[room].name == "Wreck week"
    await odo.leave(room)
    assert await ilka.members(room) == {ilka.user_id}


@pytest.mark.long
async def test_nothing_is_missed_in_a_long_silence(ilka: Person, odo: Person) -> None:
    room = await together(ilka, odo, encrypted=False)
    await odo.sync()
    await say_dives(ilka, room, 70)
    await odo.sync()
    assert [seen.body for seen in odo.seen(room)] == [f"dive {number}" for number in range(70)]


@pytest.mark.long
async def test_waiting_in_vain_tells_what_was_seen(ilka: Person, odo: Person) -> None:
    room = await together(ilka, odo, encrypted=False)
    await ilka.say(room, "here I am")
    with pytest.raises(AssertionError, match="here I am"):
        await odo.wait_for(lambda: False, timeout=1)


@pytest.mark.long
async def test_a_real_limit_refuses_and_can_be_lifted(tmp_path: Path) -> None:
    server = Homeserver(tmp_path / "strict", rc_message=(0.1, 3))
    server.start()
    try:
        async with Person(server, "ilka", tmp_path) as ilka:
            room = await ilka.group("Quarry", [], encrypted=False)
            began = time.monotonic()
            with pytest.raises(Refused, match="M_LIMIT_EXCEEDED") as refused:
                await say_dives(ilka, room, 20)
            assert time.monotonic() - began < 5
            assert 0 < refused.value.retry_after_ms <= 10_000

            server.override_ratelimit(ilka.user_id)
            await say_dives(ilka, room, 20)
    finally:
        server.stop()


@pytest.mark.long
async def test_a_restart_keeps_everything_and_a_pause_hangs(tmp_path: Path) -> None:
    server = Homeserver(tmp_path / "frail")
    server.start()
    try:
        async with Person(server, "ilka", tmp_path) as ilka, Person(server, "odo", tmp_path) as odo:
            room = await together(ilka, odo, encrypted=True)
            await ilka.say(room, "before")
            await asyncio.to_thread(server.restart)
            await ilka.say(room, "after")
            await odo.wait_for(lambda: [seen.body for seen in odo.seen(room)] == ["before", "after"])

            server.pause()
            with pytest.raises(TimeoutError):
                await asyncio.wait_for(ilka.say(room, "later"), 1)
            server.resume()
            await ilka.say(room, "now")
            await odo.wait_for(lambda: odo.seen(room)[-1].body == "now")
    finally:
        server.stop()


@pytest.mark.long
def test_the_server_does_not_outlive_a_killed_test_run(tmp_path: Path) -> None:
    """Even paused: the run is killed without a chance to clean up."""
    run = (
        "import os, signal, sys, pathlib; from tests.wires.homeserver import Homeserver;"
        "server = Homeserver(pathlib.Path(sys.argv[1])); server.start(); server.pause();"
        "print(server.port, flush=True); os.kill(os.getpid(), signal.SIGKILL)"
    )
    root = Path(__file__).parents[2]
    killed = subprocess.run(
        [sys.executable, "-c", run, str(tmp_path)],
        capture_output=True,
        text=True,
        check=False,
        cwd=root,
        timeout=90,
    )
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    until = time.monotonic() + 10
    while listening(int(killed.stdout)):
        assert time.monotonic() < until
        time.sleep(0.05)


def listening(port: int) -> bool:
    with socket.socket() as tried:
        tried.settimeout(0.5)  # a paused server takes connections at once, the system does that for it
        return tried.connect_ex(("127.0.0.1", port)) == 0


@pytest.mark.long
async def test_a_stopped_server_refuses_connections(tmp_path: Path) -> None:
    server = Homeserver(tmp_path / "gone")
    server.start()
    user = server.register("ilka")
    token = server.warden_token()
    assert (
        server.call("GET", f"/_synapse/admin/v2/users/{urllib.parse.quote(user)}", token=token)["name"]
        == user
    )
    server.stop()
    with pytest.raises(OSError, match="refused"):
        server.call("GET", "/_matrix/client/versions")
