"""Matrix against a real homeserver: what is said, tapped, edited, taken back, sent and kept over a restart."""

import asyncio

from bot.post import Enclosed, Key, Post
from store import lockers
from tests.handle.test_imports import HEAD, ROWS, UDDF
from tests.wires.harness import both, split_buttons
from tests.wires.matrix_person import Person
from tests.wires.matrix_scene import scene

SERVICE = "Service: regulator set, OVERDUE"


async def dived(deck):
    await deck.ask("add regulator set, 32%", "Added: regulator set")


async def reminded(deck):
    """Bring a reminder with its two reactions."""
    await dived(deck)
    await deck.ask("regs serviced on 1 May 2025", "Noted: regulator set serviced")
    deck.later(hours=7)
    assert await deck.ring() == 1
    await deck.person.wait_for(lambda: sum(m.reacts_to is not None for m in deck.said()) == 2)
    return await deck.until(SERVICE)


@both
async def test_a_message_is_answered_by_a_notice_with_markup_and_plain_words(
    homeserver, store, tmp_path, encrypted
):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await deck.ask("add <b>mask & co</b>", "mask")
        answer = (
            await deck.ask("add dry suit, plastic zip, latex seals", "Added: dry suit")
        ) and await deck.until("Added: dry suit")
        assert (answer.msgtype, answer.encrypted) == ("m.notice", encrypted)
        assert answer.html.startswith("<b>Added: dry suit.</b><br>")
        assert "<" not in answer.body
        assert split_buttons(answer.body)[1] == ("Undo",)
        assert all(m.encrypted is encrypted for m in deck.said() if m.reacts_to is None)


@both
async def test_a_reminder_is_a_notice_with_both_reactions_and_one_tap_does_it(
    homeserver, store, tmp_path, encrypted
):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        reminder = await reminded(deck)
        assert reminder.msgtype == "m.notice"
        put = [m.reacts_to for m in deck.said() if m.reacts_to is not None]
        assert put == [(reminder.event_id, "✅"), (reminder.event_id, "⏰")]
        tap = await deck.person.react(deck.room, reminder.event_id, "✅")
        done = await deck.until("Noted: Service, regulator set: done today")
        assert done.replaces == reminder.event_id
        await deck.person.redact(deck.room, tap)
        await deck.until("Taken back with your message: care record")


async def test_a_loud_reminder_is_a_plain_message(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path, loud=True) as deck:
        reminder = await reminded(deck)
        assert reminder.msgtype == "m.text"
        others = [m for m in deck.said() if m.reacts_to is None and m.event_id != reminder.event_id]
        assert {m.msgtype for m in others} == {"m.notice"}
        await deck.person.react(deck.room, reminder.event_id, "⏰")
        await deck.person.wait_for(lambda: any(m.replaces == reminder.event_id for m in deck.said()))
        assert "Noted" not in deck.texts()[-1]
        assert await deck.ring() == 0


@both
async def test_choices_are_taken_by_number_by_reply_and_by_keycap(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await dived(deck)
        first = await deck.until("Added: regulator set")
        await deck.ask("add dry suit, plastic zip, latex seals", "Added: dry suit")
        await deck.ask("1", "Taken back")  # of the newest message: its Undo
        assert "dry suit" not in (await shown(deck, "show kit", "1 item"))
        await deck.person.say(deck.room, "1", reply_to=first.event_id)
        await deck.person.wait_for(lambda: any(m.replaces == first.event_id for m in deck.said()))
        await deck.ask("add fins", "Added: fins")
        fins = await deck.until("Added: fins")
        await deck.person.react(deck.room, fins.event_id, "1\ufe0f\u20e3")
        await deck.person.wait_for(lambda: any(m.replaces == fins.event_id for m in deck.said()))
        await deck.ask("show kit", "0 items")


async def shown(deck, text, words):
    await deck.ask(text, words)
    return (await deck.until(words)).body


async def test_reactions_and_numbers_under_what_is_not_the_bots_say_nothing(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path) as deck:
        mine = await deck.ask("add fins", "Added: fins")
        await deck.person.react(deck.room, mine, "1\ufe0f\u20e3")
        await deck.person.react(deck.room, mine, "✅")
        greeting = deck.said()[0]
        await deck.person.react(deck.room, greeting.event_id, "🤿")
        await deck.settled()
        assert len(deck.texts()) == 3


@both
async def test_an_edit_corrects_and_counts_once_and_only_its_writers_does(
    homeserver, store, tmp_path, encrypted
):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await dived(deck)
        said = await deck.ask("2 dives today, salt, 30 m", "Logged: 2 dives")
        await deck.person.edit(deck.room, said, "3 dives today, salt, 30 m")
        await deck.until("Corrected. Logged: 3 dives")
        await deck.person.edit(deck.room, said, "3 dives today, salt, 30 m")  # unchanged
        await deck.person.edit(deck.room, deck.said()[0].event_id, "9 dives today")  # not theirs
        await deck.settled()
        assert not any("9 dives" in t for t in deck.texts())
        assert sum("Corrected" in t for t in deck.texts()) == 1
        await deck.ask("show my dives", "3 dives logged")


@both
async def test_a_message_taken_back_takes_back_what_it_did(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        said = await deck.ask("2 dives today, salt, 30 m", "Logged: 2 dives")
        await deck.person.redact(deck.room, said)
        await deck.until("Taken back with your message: dive log")
        await deck.ask("show my dives", "0 dives logged")


@both
async def test_files_come_in_and_go_out(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await dived(deck)
        await deck.person.send_file(deck.room, "log.csv", (HEAD + ROWS).encode(), "text/csv")
        await deck.until("log.csv: 3 dives, 3 new")
        await deck.person.send_file(deck.room, "june.uddf", UDDF.encode(), "application/xml")
        await deck.until("june.uddf: 1 dive, 1 new")
        await deck.person.send_file(deck.room, "bad.uddf", b"<uddf", "application/xml")
        await deck.until("Nothing was stored")
        await deck.person.say(deck.room, "send my calendar")
        sent = await deck.until(".ics")
        assert ("key" in sent.file) is encrypted
        assert (await deck.person.download(sent)).startswith(b"BEGIN:VCALENDAR")


async def test_a_place_sets_the_zone(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path) as deck:
        await deck.person.send_location(deck.room, 36.4, 28.2)
        await deck.until("Athens")
        chat = store.read(lambda s: lockers.at_address(s, "matrix", deck.room))
        assert chat.zone == "Europe/Athens"


async def test_a_thread_is_kept_and_notices_and_pictures_are_no_talk(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path) as deck:
        root = await deck.ask("add fins", "Added: fins")
        relation = {
            "rel_type": "m.thread",
            "event_id": root,
            "is_falling_back": True,
            "m.in_reply_to": {"event_id": root},
        }
        text = {"msgtype": "m.text", "body": "add mask", "m.relates_to": relation}
        said = await deck.person.send(deck.room, "m.room.message", text)
        answer = await deck.until("Added: mask")
        assert answer.thread == root
        await deck.person.edit(deck.room, said, "add hood")
        assert (await deck.until("Corrected. Added: hood")).thread == root
        await deck.person.send(deck.room, "m.room.message", {"msgtype": "m.notice", "body": "add boots"})
        await deck.person.send(
            deck.room, "m.room.message", {"msgtype": "m.image", "body": "x.jpg", "url": "mxc://reef.test/x"}
        )
        assert (await deck.until("I cannot read pictures")).thread is None
        assert not any("boots" in t for t in deck.texts())


async def test_long_answers_are_split_and_no_event_is_too_large(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path, encrypted=True) as deck:
        lines = tuple('"\u6f5c\u6c34\U0001f93f" <&> ' * 60 for _ in range(120))
        keys = tuple(Key(id=f"k{n}", label='"\U0001f93f' * 300) for n in range(40))
        post = Post(key="long", first="The long one", lines=lines, keys=keys)
        before = len(deck.said())
        arrived = await deck.line.send(deck.room, post)
        await deck.person.wait_for(lambda: deck.said() and "[40]" in deck.said()[-1].body)
        sent = deck.said()[before:]
        assert len(sent) > 3
        assert arrived.message == sent[-1].event_id
        whole = "\n".join(m.body for m in sent)
        assert [whole.count(line.strip()[:40]) > 0 for line in lines] == [True] * len(lines)
        assert await deck.line.send(deck.room, post) == arrived  # the same again is the same events
        await deck.settled()
        assert len([m for m in deck.said()[before:] if m.body in whole]) == len(sent)


@both
async def test_a_restart_is_the_same_device_and_reads_old_and_new(homeserver, store, tmp_path, encrypted):
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await dived(deck)
        device = deck.line.client.device_id
        await deck.stop()
        said = [await deck.person.say(deck.room, f"{n + 1} dives on {n + 1} June, salt") for n in range(3)]
        await deck.start()
        assert deck.line.client.device_id == device
        await deck.until("6 dives in all")
        await deck.restart()
        await deck.person.redact(deck.room, said[0])  # of a message from before
        await deck.until("Taken back with your message")
        await deck.ask("show my dives", "5 dives logged")
        assert sum("Logged" in t for t in deck.texts()) == 3


@both
async def test_a_long_absence_is_filled_in_order_and_nothing_twice(
    homeserver, store, tmp_path, monkeypatch, encrypted
):
    narrow = {"room": {"timeline": {"limit": 3}}}
    monkeypatch.setattr("bot.transports.matrix._FILTER", narrow)
    monkeypatch.setattr("bot.transports.matrix_fetch.PAGE", 4)
    async with scene(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        await dived(deck)
        await deck.stop()
        for n in range(12):
            await deck.person.say(deck.room, f"1 dive on {n + 1} May 2026, salt")
        await deck.start()
        await deck.until("12 dives in all")
        told = [
            t.split(" in all")[0].rpartition(" ")[0].split()[-1]
            for t in deck.texts()
            if "Logged: 1 dive" in t
        ]
        assert told == [str(n) for n in range(1, 13)]


async def test_what_was_said_with_the_invitation_is_answered_and_what_was_said_before_is_not(
    homeserver, store, tmp_path
):
    async with scene(homeserver, store, tmp_path) as deck:
        await deck.stop()
        room = await deck.person.group("Boat", [], encrypted=False)
        await deck.person.say(room, "add mask")
        await deck.person.client.room_invite(room, deck.user)
        await deck.person.say(room, "add fins")
        await deck.start()
        await deck.until("Added: fins", room=room)
        assert not any("mask" in t for t in deck.texts(room) if "Added" in t)


async def test_invitations_from_elsewhere_are_declined(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path, servers=["reef.test"]) as deck:
        deck.line._servers = frozenset({"wreck.test"})
        room = await deck.person.direct(deck.user, encrypted=False)

        def membership():
            path = f"/_matrix/client/v3/rooms/{room}/state/m.room.member/{deck.user}"
            return homeserver.call("GET", path, token=deck.person.client.access_token)["membership"]

        while await asyncio.to_thread(membership) == "invite":
            await deck.person.sync(50)
        assert await asyncio.to_thread(membership) == "leave"


async def test_a_token_logs_in_and_stays_the_same_device(homeserver, store, tmp_path):
    async with Person(
        homeserver, f"keeper-{tmp_path.name[-12:].replace('_', '-').lower()}x", tmp_path
    ) as other:
        device, held = other.client.device_id, other.client.access_token
    async with scene(homeserver, store, tmp_path / "a") as deck:
        await deck.stop()
        deck.name, deck.login = other.name, {"token": held}
        deck.folder = tmp_path / "b"
        await deck.start()
        assert deck.line.client.device_id == device
        room = await deck.person.direct(deck.user, encrypted=True)
        await deck.until("Tell me what you dived", room=room)
        await deck.restart()
        await deck.person.say(room, "add fins")
        await deck.until("Added: fins", room=room)


async def test_a_retry_is_the_same_event_even_for_a_file(homeserver, store, tmp_path):
    async with scene(homeserver, store, tmp_path) as deck:
        post = Post(
            key="twice", first="The file", files=(Enclosed(name="a.txt", mime="text/plain", content=b"a"),)
        )
        for _ in range(2):
            await deck.line.send(deck.room, post)
        await deck.settled()
        assert [m.body for m in deck.said() if m.body in {"The file", "a.txt"}] == ["The file", "a.txt"]
