"""Telegram in a private chat: messages that are edited, chats that are gone, reminders."""

from datetime import UTC, datetime, timedelta

import pytest

from store import lockers, people
from tests.conftest import START
from tests.handle.test_imports import HEAD, ROWS
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import (
    ILKA,
    after,
    calls,
    chat_of,
    dives_of,
    firsts,
    settled,
    telegram_up,
)

SUIT = "add dry suit, plastic zip, latex seals"


@pytest.fixture
def clock():
    return LiveClock(START)


@pytest.fixture
async def wire(store, clock):
    async with telegram_up(store, clock) as up:
        yield up.person


@pytest.fixture
def api(wire):
    return wire.api


# --- edits


async def test_edit_corrects_what_the_message_did(wire, api):
    message = api.say(ILKA, ILKA, "2 dives today, salt, 30 m")
    await settled(api, wire.store)
    said = await after(api, wire.store, lambda: api.edit(ILKA, message, "3 dives today, salt, 20 m"))
    assert said[0].startswith("Corrected. Logged: 3 dives, today, salt water, 20 m.")
    assert dives_of(wire.store, ILKA) == 3


async def test_edit_that_leaves_the_words_alone_does_nothing(wire, api):
    message = api.say(ILKA, ILKA, "2 dives today, salt, 30 m")
    await settled(api, wire.store)
    said = await after(api, wire.store, lambda: api.edit(ILKA, message, "2 dives today, salt, 30 m "))
    assert said == []
    assert dives_of(wire.store, ILKA) == 2


async def test_message_can_be_edited_there_and_back(wire, api):
    message = api.say(ILKA, ILKA, "2 dives today, salt")
    await settled(api, wire.store)
    for text, count in (("3 dives today, salt", 3), ("2 dives today, salt", 2), ("4 dives today, fresh", 4)):
        await after(api, wire.store, lambda t=text: api.edit(ILKA, message, t))
        assert dives_of(wire.store, ILKA) == count


async def test_edit_makes_good_what_was_not_understood(wire, api):
    message = api.say(ILKA, ILKA, "qwertz asdf")
    await settled(api, wire.store)
    await after(api, wire.store, lambda: api.edit(ILKA, message, "2 dives today, salt"))
    assert dives_of(wire.store, ILKA) == 2


async def test_edit_that_comes_twice_corrects_once(wire, api):
    message = api.say(ILKA, ILKA, "2 dives today, salt")
    await settled(api, wire.store)
    api.edit(ILKA, message, "3 dives today, salt")
    update = dict(api.updates.pending[-1].update)
    await settled(api, wire.store)
    assert await after(api, wire.store, lambda: api.push(update)) == []
    assert dives_of(wire.store, ILKA) == 3


async def test_edit_the_day_after_means_the_day_of_the_message(wire, api, clock):
    message = api.say(ILKA, ILKA, "2 dives today, salt")
    await settled(api, wire.store)
    clock.set(START + timedelta(days=1))
    await after(api, wire.store, lambda: api.edit(ILKA, message, "3 dives today, salt"))
    assert "- 3 dives, 10 June" in (await wire.say("show my dives")).text.replace("yesterday", "10 June")


async def test_edit_that_comes_too_late_is_refused_kindly(wire, api):
    message = api.say(ILKA, ILKA, SUIT)
    await settled(api, wire.store)
    await wire.say("the zip of my dry suit is metal")
    await wire.say("retire dry suit")
    said = await after(api, wire.store, lambda: api.edit(ILKA, message, "add wetsuit"))
    assert said[0].startswith("I left things as they were: later messages build on that one")
    assert "wetsuit" not in (await wire.say("show kit")).text


async def test_new_words_under_a_file_do_nothing(wire, api):
    message = api.send_document(ILKA, ILKA, "log.csv", (HEAD + ROWS).encode(), "my log")
    await settled(api, wire.store)
    body = api.chats[ILKA].messages[message] | {"caption": "2 dives today", "edit_date": int(api.wall())}
    assert await after(api, wire.store, lambda: api.updates.put("edited_message", body)) == []
    assert dives_of(wire.store, ILKA) == 0


# --- chats that are gone


async def test_blocked_chat_is_muted_until_somebody_writes_again(wire, api):
    await wire.say("hello")
    api.block(ILKA)
    await until(lambda: chat_of(wire.store, ILKA).muted_at)
    api.unblock(ILKA)
    await wire.say("hello")
    assert chat_of(wire.store, ILKA).muted_at is None


@pytest.mark.parametrize("state", ["blocked", "deactivated"])
async def test_chat_that_refuses_is_muted_and_not_tried_again(wire, api, state):
    await wire.say("hello")
    before = calls(api, "sendMessage")
    api.chats[ILKA].state = state
    body = api.message(api.chats[ILKA], api.person(ILKA), {"text": "what is due?"})
    api.updates.put("message", body)
    await settled(api, wire.store)
    assert calls(api, "sendMessage") == before + 1
    assert chat_of(wire.store, ILKA).muted_at is not None


async def test_reminder_to_a_chat_that_is_gone_is_not_tried_again(wire, api, clock):
    await wire.say(SUIT)
    api.deactivate(ILKA)
    clock.set(datetime(2027, 6, 10, 18, tzinfo=UTC))
    before = calls(api, "sendMessage")
    await wire.ring()
    clock.set(datetime(2027, 6, 11, 18, tzinfo=UTC))
    await wire.ring()
    assert calls(api, "sendMessage") == before + 1
    assert chat_of(wire.store, ILKA).muted_at is not None


# --- reminders


async def test_reminder_comes_with_buttons_and_gives_way_to_what_was_done(wire, api, clock):
    await wire.say(SUIT)
    clock.set(datetime(2026, 12, 10, 18, 30, tzinfo=UTC))
    (reminder,) = await wire.ring()
    assert "Done" in reminder.buttons
    last = api.chat(ILKA)[-1]
    shown = await wire.tap("Done")
    assert (last.edits, shown.text) == (1, last.text)
    assert await wire.ring() == []


async def test_order_within_a_chat_is_kept(wire, api):
    for n in range(2, 9):
        api.say(ILKA, ILKA, f"{n} dives today, salt")
    await settled(api, wire.store)
    assert [f.split(",")[0] for f in firsts(api, ILKA)] == [f"Logged: {n} dives" for n in range(2, 9)]


async def test_locker_belongs_to_who_opened_the_chat(wire, api):
    await wire.say("hello")
    owner = wire.store.read(
        lambda s: people.of_locker(s, lockers.at_address(s, "telegram", str(ILKA)).locker_id)
    )
    assert [(m.person, m.role) for m in owner] == [(f"telegram:{ILKA}", "owner")]
