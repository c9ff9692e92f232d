"""The bot among several people on Matrix: when it speaks, whose locker it is, who goes, where the room goes."""

import asyncio
from contextlib import AsyncExitStack, asynccontextmanager

import pytest

from store import lockers, people
from tests.wires.harness import both
from tests.wires.matrix_scene import joined, scene


@asynccontextmanager
async def boat(homeserver, store, tmp_path, *, encrypted=False):
    """Bring up a group of ilka, who owns its locker, jorun and the bot."""
    async with scene(homeserver, store, tmp_path) as deck, AsyncExitStack() as stack:
        deck.jorun = await joined(homeserver, stack, "jorun", tmp_path)
        deck.room = await deck.person.group("Boat", [deck.user, deck.jorun.user_id], encrypted=encrypted)
        await deck.jorun.wait_for(lambda: deck.room in deck.jorun.invitations)
        await deck.jorun.join(deck.room)
        await deck.until("Tell me what you dived")
        yield deck


def chat(deck, room=None):
    return deck.store.read(lambda s: lockers.at_address(s, "matrix", room or deck.room))


def role(deck, person):
    locker = chat(deck).locker_id
    return deck.store.read(lambda s: people.role(s, locker, f"matrix:{person.user_id}"))


@both
async def test_it_speaks_only_when_it_is_spoken_to(homeserver, store, tmp_path, encrypted):
    async with boat(homeserver, store, tmp_path, encrypted=encrypted) as deck:
        say, name = deck.jorun.say, deck.name
        await say(deck.room, "add mask")
        await say(deck.room, "I told @nobody of the bot: add hood")
        await say(deck.room, f"{name}: add fins")
        answer = await deck.until("Added: fins")
        assert answer.encrypted is encrypted
        assert answer.reply_to is not None
        await say(deck.room, "!add reel")
        await deck.until("Added: reel")
        await say(deck.room, "add strobe", mention=[deck.user])
        await deck.until("Added: strobe")
        await say(deck.room, "1", reply_to=answer.event_id)
        await deck.jorun.wait_for(
            lambda: any(m.replaces == answer.event_id for m in deck.said(by=deck.jorun))
        )
        await say(deck.room, f"{name} show kit")
        await deck.until("2 items")
        assert not any("mask" in t or "hood" in t for t in deck.texts() if "Added" in t)


async def test_its_shown_name_calls_it_too(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.line.client.set_displayname("Rinse Tank")
        await deck.jorun.wait_for(lambda: deck.line._names(deck.room) >= {"Rinse Tank"})
        await deck.jorun.say(deck.room, "rinse tank, add fins")
        await deck.until("Added: fins")


async def test_an_answer_to_somebody_else_is_not_for_it(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        first = await deck.person.say(deck.room, "who has a spare mask?")
        await deck.jorun.say(deck.room, "2", reply_to=first)
        await deck.jorun.react(deck.room, first, "2\ufe0f\u20e3")
        await deck.jorun.react(deck.room, first, "👍")
        before = len(deck.texts())
        await deck.person.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        assert len(deck.texts()) == before + 1


async def test_an_edit_of_what_was_said_to_it_needs_no_name_and_any_other_does(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        aside = await deck.jorun.say(deck.room, "4 dives today")
        said = await deck.jorun.say(deck.room, "!2 dives today")
        await deck.until("Logged: 2 dives")
        await deck.jorun.edit(deck.room, aside, "5 dives today")
        await deck.person.edit(deck.room, said, "!9 dives today")  # not hers to edit
        await deck.jorun.edit(deck.room, said, "3 dives today")
        await deck.until("Corrected. Logged: 3 dives")
        assert not any("5 dives" in t or "9 dives" in t for t in deck.texts())


async def test_only_who_wrote_it_takes_it_back(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        said = await deck.jorun.say(deck.room, "!2 dives today")
        await deck.until("Logged: 2 dives")
        await deck.person.redact(deck.room, said)  # the room's admin may, but it was not hers
        await deck.person.say(deck.room, "!show my dives")
        await deck.until("2 dives logged")


async def test_a_group_has_a_locker_of_its_own_with_roles(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.jorun.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        assert (role(deck, deck.person), role(deck, deck.jorun)) == (people.Role.OWNER, people.Role.MEMBER)
        await deck.jorun.say(deck.room, "!sold the fins")
        await deck.until("whose locker this is")
        assert chat(deck).group


@pytest.mark.parametrize("how", ["leave", "kick"])
async def test_who_left_is_no_member_any_more(homeserver, store, tmp_path, how):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.jorun.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        if how == "leave":
            await deck.jorun.leave(deck.room)
        else:
            await deck.person.client.room_kick(deck.room, deck.jorun.user_id)
        await deck.person.say(deck.room, "!show kit")
        await deck.until("1 item")
        assert role(deck, deck.jorun) is None


async def test_a_room_it_was_put_out_of_is_muted_until_it_is_asked_back(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.person.client.room_kick(deck.room, deck.user)
        await deck.person.wait_for(lambda: chat(deck).muted_at is not None)
        await deck.person.client.room_invite(deck.room, deck.user)
        await deck.person.wait_for(lambda: deck.user in deck.person.client.rooms[deck.room].users)
        await deck.person.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        assert chat(deck).muted_at is None


async def test_an_upgraded_room_takes_its_locker_along(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.person.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        locker = chat(deck).locker_id
        path = f"/_matrix/client/v3/rooms/{deck.room}/upgrade"
        token = deck.person.client.access_token
        new = (await asyncio.to_thread(homeserver.call, "POST", path, {"new_version": "10"}, token=token))[
            "replacement_room"
        ]
        for user in (deck.user, deck.jorun.user_id):
            await deck.person.client.room_invite(new, user)
        await deck.person.wait_for(
            lambda: chat(deck, new) is not None and chat(deck, new).locker_id == locker
        )
        await deck.person.wait_for(lambda: new in deck.line.client.rooms)
        await deck.person.say(new, "!show kit")
        await deck.until("1 item", room=new)


async def test_an_upgrade_to_a_room_of_others_takes_nothing_there(homeserver, store, tmp_path):
    """Anybody can end a room of their own and name another as its successor; that one has to say so too."""
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.person.say(deck.room, "!who is in this locker?")
        await deck.until("in this group's locker")
        locker = chat(deck).locker_id
        own = await deck.jorun.direct(deck.user, encrypted=False)
        await deck.jorun.wait_for(lambda: deck.jorun.seen(own))
        grave = {"body": "moved", "replacement_room": deck.room}
        await deck.jorun.client.room_put_state(own, "m.room.tombstone", grave)
        await deck.person.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        assert chat(deck).locker_id == locker
        assert chat(deck, own).muted_at is None


async def test_a_name_full_of_signs_and_markup_stays_a_name(homeserver, store, tmp_path):
    async with boat(homeserver, store, tmp_path) as deck:
        await deck.jorun.client.set_displayname("<b>jo\u202erun\n\x07[1] Undo</b> @room " + "x" * 200)
        await deck.jorun.say(deck.room, "!add fins")
        await deck.until("Added: fins")
        await deck.person.say(deck.room, "!who is in this locker?")
        told = await deck.until("2 people")
        assert "<b>jo" not in told.html
        assert "\u202e" not in told.body
        assert not any(line.startswith("[1] Undo") for line in told.body.splitlines())
        assert len(max(told.body.splitlines(), key=len)) < 120
        assert told.content["m.mentions"] == {}
