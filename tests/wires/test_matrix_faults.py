"""What goes wrong between the bot and its homeserver, and what hostile people send: nothing is lost, nothing comes twice, nothing stops it."""

import asyncio
import urllib.error
import urllib.parse
from contextlib import suppress

import pytest
from sqlmodel import select

from bot.post import Post
from bot.transports.matrix_account import LoginRefusedError
from scheduler.deliver import Failed
from store import letters
from store.tables import Letter, Notice
from tests.wires.harness import both
from tests.wires.homeserver import Homeserver
from tests.wires.matrix_person import Refused
from tests.wires.matrix_scene import CUT_AFTER, CUT_BEFORE, STALL_AFTER, rush, scene

SEND = r"PUT .*/send/m\.room\.(message|encrypted)/"
LIMITED = (429, {"errcode": "M_LIMIT_EXCEEDED", "error": "slow", "retry_after_ms": 40_000}, {})


@pytest.fixture(autouse=True)
async def _hurry(monkeypatch):
    await rush(monkeypatch)


def count(deck, words):
    return sum(words in text for text in deck.texts())


@both
@pytest.mark.parametrize(
    "act",
    [
        pytest.param(CUT_BEFORE, id="before", marks=pytest.mark.long),
        pytest.param(CUT_AFTER, id="after"),
        pytest.param((502, "<html>bad gateway</html>", {}), id="502"),
        pytest.param((200, "no answer", {}), id="garbage", marks=pytest.mark.long),
    ],
)
async def test_an_answer_survives_a_line_that_breaks_and_comes_once(
    homeserver, store, tmp_path, encrypted, act
):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted, cable=True) as deck:
        fault = deck.cable.next(SEND, act, times=2)
        await deck.ask("add fins", "Added: fins")
        await deck.settled()
        assert fault.times == 0
        assert count(deck, "Added: fins") == 1


@pytest.mark.parametrize(
    "act",
    [pytest.param(CUT_AFTER, id="cut"), pytest.param((502, "", {}), id="502", marks=pytest.mark.long)],
)
async def test_a_sync_that_breaks_is_made_again(homeserver, store, tmp_path, act):
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        fault = deck.cable.next("GET .*/sync", act, times=2)
        await deck.ask("add fins", "Added: fins")
        await deck.person.wait_for(lambda: deck.line.health.well)
        assert fault.times == 0
        assert count(deck, "Added: fins") == 1


@pytest.mark.parametrize(
    ("answer", "seconds"),
    [
        pytest.param(LIMITED, 40, id="field"),
        pytest.param(
            (429, LIMITED[1] | {"retry_after_ms": 1}, {"Retry-After": "70"}),
            70,
            id="header",
            marks=pytest.mark.long,
        ),
        pytest.param((429, "<html>", {"Retry-After": "50"}), 50, id="page", marks=pytest.mark.long),
    ],
)
async def test_a_wait_that_is_asked_for_is_kept_and_heeded(homeserver, store, tmp_path, answer, seconds):
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        deck.cable.next(SEND, answer)
        began = deck.clock.now()
        await deck.person.say(deck.room, "add fins")
        await deck.person.wait_for(
            lambda: store.read(lambda s: letters.state(s, "matrix").hold_until) is not None
        )
        held = store.read(lambda s: letters.state(s, "matrix").hold_until)
        assert seconds <= (held - began).total_seconds() < seconds + 20
        await deck.restart()  # the hold is stored
        await deck.person.say(deck.room, "add mask")
        await deck.person.sync(300)
        assert count(deck, "Added") == 0
        deck.later(seconds=seconds)
        await deck.until("Added: mask")
        assert [t.split(".")[0] for t in deck.texts() if "Added" in t] == ["Added: fins", "Added: mask"]


@both
async def test_a_reminder_cut_off_before_it_is_settled_comes_once(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted, cable=True) as deck:
        await deck.ask("add regulator set, 32%", "Added: regulator set")
        await deck.ask("regs serviced on 1 May 2025", "Noted: regulator set")
        deck.later(hours=7)
        fault = deck.cable.next(SEND, STALL_AFTER)
        ringing = asyncio.create_task(deck.ring())
        await fault.met.wait()
        for task in asyncio.all_tasks():
            if getattr(task.get_coro(), "__qualname__", "") == "_carry":
                task.cancel()
        ringing.cancel()
        await asyncio.gather(ringing, return_exceptions=True)
        await deck.kill()
        assert [n.state for n in store.read(lambda s: s.exec(select(Notice)).all()) if n.state == "claimed"]
        await deck.start()
        deck.later(minutes=3)
        assert await deck.ring() == 1
        await deck.person.wait_for(lambda: sum(m.reacts_to is not None for m in deck.said()) == 2)
        assert count(deck, "Service: regulator set") == 1


@both
async def test_an_answer_cut_off_by_a_kill_comes_once(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted, cable=True) as deck:
        fault = deck.cable.next(SEND, STALL_AFTER)
        await deck.person.say(deck.room, "add fins")
        await fault.met.wait()
        await deck.kill()
        await deck.start()
        await deck.settled()
        assert count(deck, "Added: fins") == 1


async def test_a_kill_between_sync_and_handling_and_between_handling_and_answer_loses_nothing(
    homeserver, store, tmp_path
):
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        handled = asyncio.Event()

        async def never(*_):
            handled.set()
            await asyncio.Event().wait()

        deck.line._handle = never
        await deck.person.say(deck.room, "2 dives today, salt")
        await handled.wait()
        await deck.kill()
        deck.cable.next(SEND, CUT_BEFORE, times=10_000)
        await deck.start()
        await deck.person.wait_for(lambda: store.read(lambda s: s.exec(select(Letter)).first()) is not None)
        await deck.kill()
        deck.cable.mend()
        deck.later(minutes=5)
        await deck.start()
        await deck.until("Logged: 2 dives")
        await deck.ask("show my dives", "2 dives logged")


@both
async def test_the_same_sync_twice_acts_once(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        before = store.read(lambda s: letters.state(s, "matrix").position)
        await deck.ask("2 dives today, salt", "Logged: 2 dives")
        await deck.stop()
        store.write(lambda s: letters.set_position(s, "matrix", before))
        await deck.start()
        await deck.ask("show my dives", "2 dives logged")
        assert count(deck, "Logged") == 1


async def test_a_homeserver_that_restarts_and_hangs_is_found_again(store, tmp_path):
    server = Homeserver(tmp_path / "frail")
    await asyncio.to_thread(server.start)
    try:
        async with scene(server, store, tmp_path, encrypted=True) as deck:
            await deck.ask("add fins", "Added: fins")
            await asyncio.to_thread(server.restart)
            await deck.ask("add mask", "Added: mask")
            server.pause()
            sent = asyncio.create_task(deck.person.say(deck.room, "add hood"))
            await asyncio.sleep(0.2)
            server.resume()
            await sent
            await deck.until("Added: hood")
            assert count(deck, "Added") == 3
    finally:
        await asyncio.to_thread(server.stop)


def log_out(server, deck):
    user, device = urllib.parse.quote(deck.user), deck.line.client.device_id
    server.call("DELETE", f"/_synapse/admin/v2/users/{user}/devices/{device}", token=server.warden_token())


@both
async def test_a_device_that_was_logged_out_logs_in_as_another_and_works_on(
    homeserver, store, tmp_path, encrypted
):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        device = deck.line.client.device_id
        await asyncio.to_thread(log_out, homeserver, deck)
        await deck.person.wait_for(
            lambda: deck.line.client.device_id not in {"", device} and deck.line.health.well
        )
        await deck.ask("add fins", "Added: fins")
        assert list((tmp_path / "bot").glob(f"*_{device}.db")) == []


async def test_a_token_that_expired_softly_is_renewed_for_the_same_device(
    homeserver, store, tmp_path, monkeypatch
):
    monkeypatch.setattr("bot.transports.matrix.SYNC_MS", 1000)  # it is renewed between two syncs
    async with scene(homeserver, store, tmp_path, encrypted=True, cable=True) as deck:
        device, held = deck.line.client.device_id, deck.line.client.access_token
        expired = (401, {"errcode": "M_UNKNOWN_TOKEN", "error": "expired", "soft_logout": True}, {})
        deck.cable.next(SEND, expired)  # the sender hears of it first
        await deck.person.say(deck.room, "add fins")
        await deck.person.wait_for(lambda: deck.line.client.access_token not in {"", held})
        deck.later(seconds=20)
        await deck.until("Added: fins")
        deck.cable.next("GET .*/sync", expired)
        await deck.ask("add mask", "Added: mask")
        assert deck.line.client.device_id == device
        await deck.restart()
        assert deck.line.client.device_id == device
        await deck.ask("add hood", "Added: hood")


async def test_a_token_without_a_password_that_is_taken_away_ends_the_loop_and_says_so(
    homeserver, store, tmp_path
):
    async with scene(homeserver, store, tmp_path) as deck:
        held = deck.line.client.access_token
        await deck.stop()
        deck.login = {"token": held}
        (tmp_path / "bot" / "login.json").unlink()
        await deck.start()
        await deck.ask("add fins", "Added: fins")
        await asyncio.to_thread(log_out, homeserver, deck)
        with pytest.raises(LoginRefusedError, match="set a new one"):
            await asyncio.wait_for(asyncio.shield(deck.bot.tasks[0]), 15)
        assert not deck.line.health.well
        assert "set a new one" in deck.line.health.said
        assert not deck.bot.tasks[1].done()


@pytest.mark.parametrize(
    "act",
    [pytest.param((502, "<html>", {}), id="502"), pytest.param(LIMITED, id="429", marks=pytest.mark.long)],
)
async def test_a_homeserver_that_is_not_well_is_no_refusal_of_the_login(homeserver, store, tmp_path, act):
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        await deck.stop()
        (tmp_path / "bot" / "login.json").write_text("{half")
        deck.cable.next("POST .*/login", act)
        with pytest.raises(Exception, match=r"None|M_LIMIT") as failed:
            await deck.start()
        assert deck.line.refuses(failed.value) is None
        await deck.line.close()
        deck.login = {"password": "wrong"}
        with pytest.raises(LoginRefusedError, match="password was refused"):
            await deck.start()
        await deck.line.close()
        deck.login = {"password": "kelp"}
        await deck.start()
        await deck.ask("add fins", "Added: fins")


async def test_a_message_waits_for_no_line_that_is_not_there(homeserver, store, tmp_path, monkeypatch):
    monkeypatch.setattr("bot.transports.matrix_send.READY_S", 0.05)
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        await deck.stop()
        deck.cable.next("GET .*/sync", CUT_BEFORE, times=10_000)
        await deck.start()
        failed = await deck.line.send(deck.room, Post(key="k", first="x"))
        assert isinstance(failed, Failed)
        assert failed.everywhere
        assert not failed.gone


@pytest.mark.parametrize(
    "act",
    [pytest.param(CUT_AFTER, id="after"), pytest.param(CUT_BEFORE, id="before", marks=pytest.mark.long)],
)
@pytest.mark.parametrize("request_", ["POST .*/keys/upload", "POST .*/keys/claim", "PUT .*/sendToDevice/"])
async def test_a_kill_between_keys_breaks_no_encrypted_room(homeserver, store, tmp_path, request_, act):
    async with scene(homeserver, store, tmp_path, cable=True) as deck:
        await deck.stop()
        (tmp_path / "bot" / "login.json").unlink()  # a new device, with all its keys to come
        fault = deck.cable.next(request_, act)
        await deck.start()
        room = deck.room = await deck.person.direct(deck.user, encrypted=True)
        await deck.person.wait_for(fault.met.is_set)
        await deck.kill()
        await deck.start()
        await deck.until("Tell me what you dived", room=room)
        await deck.ask("add fins", "Added: fins")
        await deck.restart()
        await deck.ask("add mask", "Added: mask")


async def test_what_cannot_be_read_is_told_once_and_a_late_key_makes_it_act(
    homeserver, store, tmp_path, monkeypatch
):
    async with scene(homeserver, store, tmp_path, encrypted=True) as deck:
        held, client = [], deck.line.client
        take = client._handle_decrypt_to_device
        monkeypatch.setattr(client, "_handle_decrypt_to_device", held.append)
        deck.person.client.invalidate_outbound_session(deck.room)
        await deck.person.say(deck.room, "add fins")
        await deck.person.wait_for(lambda: deck.line._unread and held)
        for event in held:
            take(event)
        monkeypatch.setattr(client, "_handle_decrypt_to_device", take)
        await deck.until("Added: fins")
        monkeypatch.setattr(client, "_handle_decrypt_to_device", lambda _: None)
        monkeypatch.setattr("bot.transports.matrix.UNREAD_S", 0.1)
        deck.person.client.invalidate_outbound_session(deck.room)
        for text in ("add mask", "add hood", "add boots"):
            await deck.person.say(deck.room, text)
        await deck.until("could not read that")
        monkeypatch.setattr(client, "_handle_decrypt_to_device", take)
        await deck.person.wait_for(lambda: not deck.line._unread)
        deck.person.client.invalidate_outbound_session(deck.room)
        await deck.settled()
        assert count(deck, "could not read that") == 1


HOSTILE = [
    {"m.relates_to": value}
    for value in (
        7,
        "x",
        ["m.replace"],
        {"rel_type": ["m.replace"], "event_id": {}},
        {"rel_type": "m.thread", "event_id": 5},
        {"m.in_reply_to": 3},
    )
] + [
    {"formatted_body": {"a": 1}, "format": 7},
    {"m.mentions": {"user_ids": 5}},
    {"m.mentions": {"user_ids": [["@x"]]}},
    {"msgtype": ["m.text"]},
    {"body": {"a": [1]}},
    {"body": "x" * 40_000},
    {
        "m.relates_to": {"rel_type": "m.replace", "event_id": "$none"},
        "m.new_content": {"msgtype": ["m.text"], "body": 7},
    },
    {"msgtype": "m.file", "url": 7, "info": {"size": "9"}},
    {"msgtype": "m.file", "url": "mxc://reef.test/none", "file": {"key": 5}, "body": "\u202ex\n"},
    {"msgtype": "m.location", "geo_uri": "geo:999,999"},
]


@both
async def test_nothing_that_a_hostile_person_sends_stops_it(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        said = await deck.ask("2 dives today, salt", "Logged: 2 dives")
        odd_ones = [
            ("m.room.message", {"msgtype": "m.text", "body": "what is due?"} | odd) for odd in HOSTILE
        ]
        if encrypted:  # what the homeserver would not let through
            odd_ones += [
                ("m.room.message", {}),
                ("m.room.member", {"membership": "leave"}),
                ("m.room.tombstone", {"replacement_room": "!x:reef.test", "body": "x"}),
                ("m.room.encrypted", {"algorithm": "m.megolm.v1.aes-sha2"}),
            ]
        taken = 0
        for kind, content in odd_ones:
            with suppress(Refused):
                await deck.person.send(deck.room, kind, content)
                taken += 1
        assert taken > 8
        raw = deck.person.client.access_token
        for n, (kind, content) in enumerate(
            (
                ("m.room.encrypted", {"algorithm": "m.megolm.v1.aes-sha2", "ciphertext": 5}),
                (
                    "m.room.encrypted",
                    {
                        "algorithm": "m.megolm.v1.aes-sha2",
                        "ciphertext": "???",
                        "sender_key": "x",
                        "session_id": "y",
                        "device_id": "z",
                    },
                ),
                (
                    "m.reaction",
                    {"m.relates_to": {"rel_type": "m.annotation", "event_id": "$none", "key": "✅"}},
                ),
                (
                    "m.reaction",
                    {"m.relates_to": {"rel_type": "m.annotation", "event_id": said, "key": "²\u20e3"}},
                ),
                ("m.reaction", {"m.relates_to": [1]}),
            )
        ):
            path = f"/_matrix/client/v3/rooms/{deck.room}/send/{kind}/odd{n}"
            with suppress(urllib.error.HTTPError):
                await asyncio.to_thread(homeserver.call, "PUT", path, content, token=raw)
        await deck.ask("show my dives", "2 dives logged")
        assert deck.line.health.well
        assert deck.line.client.rooms[deck.room].member_count == 2
