"""Telegram in groups: when the bot speaks, whose the locker is, who may do what, where an answer goes."""

import re

import pytest

from bot.post import Enclosed, Post
from store import lockers, people
from tests.conftest import START
from tests.handle.test_imports import HEAD, ROWS
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import (
    CLUB,
    FORUM,
    MARA,
    MOVED,
    NOBODY_IN_PARTICULAR,
    OLA,
    after,
    calls,
    chat_of,
    dives_of,
    settled,
    telegram_up,
    texts,
)

SUIT = "@rinse_bot add dry suit, plastic zip, latex seals"


@pytest.fixture
async def up(store):
    async with telegram_up(store, LiveClock(START)) as running:
        running.api.group(CLUB, "Harbour Club")
        running.api.group(FORUM, "Blue water", "supergroup", forum=True)
        for number, name in ((MARA, "Mara"), (OLA, "Ola")):
            running.api.person(number, name)
        yield running


@pytest.fixture
def api(up):
    return up.api


@pytest.fixture
def say(up, store):
    """Say something in a group and return what came of it."""

    async def said(person, text, chat=CLUB, **more):
        return await after(up.api, store, lambda: up.api.say(chat, person, text, **more))

    return said


def roles(store, address=CLUB):
    def work(session):
        chat = lockers.at_address(session, "telegram", str(address))
        return {int(m.person[9:]): m.role for m in people.of_locker(session, chat.locker_id)}

    return store.read(work)


def key(api, label, chat=CLUB):
    """Return the newest message with a button of that label, and what the button holds."""
    for sent in reversed(api.chat(chat)):
        if held := dict(pair for row in sent.buttons for pair in row).get(label):
            return sent.message_id, held
    raise AssertionError(f"no button {label!r}: {texts(api, chat)}")


# --- when it speaks


@pytest.mark.parametrize(
    "text",
    [
        "2 dives today",
        "hello all",
        "@rinse_bot_two 2 dives",
        "@other_bot 2 dives",
        "/due@other_bot",
        "x/due",
        "",
    ],
)
async def test_bot_keeps_out_of_what_is_not_said_to_it(api, say, store, text):
    assert await say(MARA, text) == []
    assert chat_of(store, CLUB) is None


@pytest.mark.parametrize(
    "text",
    [
        "@rinse_bot 2 dives today",
        "@Rinse_Bot 2 dives today",
        "2 dives today @rinse_bot",
        "2 dives today, @RINSE_BOT",
    ],
)
async def test_bot_answers_to_its_name_in_any_case(api, say, store, text):
    (answer,) = await say(MARA, text)
    assert answer.startswith("Logged: 2 dives, today")
    assert dives_of(store, CLUB) == 2


@pytest.mark.parametrize("text", ["/dives", "/dives@rinse_bot", "/dives@Rinse_Bot", "/DIVES"])
async def test_bot_answers_to_a_command(say, text):
    (answer,) = await say(MARA, text)
    assert answer.startswith("0 dives logged.")


async def test_bot_answers_to_a_reply_to_its_own_message_alone(api, say, store):
    await say(MARA, "@rinse_bot hello")
    assert await say(OLA, "2 dives today", reply_to=1) == []
    mine = api.chat(CLUB)[-1].message_id
    assert len(await say(OLA, "2 dives today", reply_to=mine)) == 1
    assert dives_of(store, CLUB) == 2


async def test_name_under_a_picture_or_a_file_counts(api, say, store):
    entity = {"caption_entities": [{"type": "mention", "offset": 0, "length": 10}]}
    document = {"document": api.keep_document("log.csv", (HEAD + ROWS).encode())}
    assert await after(api, store, lambda: api.receive(CLUB, MARA, document, "our log")) == []
    (answer,) = await after(
        api, store, lambda: api.receive(CLUB, MARA, document | entity, "@rinse_bot our log")
    )
    assert answer.startswith("log.csv: 3 dives")


async def test_answer_is_a_reply_to_what_was_asked(api, say):
    await say(MARA, "hello all")
    asked = api.say(CLUB, OLA, "@rinse_bot what is due?")
    await until(lambda: api.chat(CLUB))
    assert [sent.reply_to for sent in api.chat(CLUB)] == [asked]


async def test_answer_to_a_deleted_message_comes_all_the_same(api, say, store, up):
    up.bot.tasks[1].cancel()
    asked = api.say(CLUB, MARA, "@rinse_bot hello")
    await until(lambda: not api.updates.pending)
    del api.chats[CLUB].messages[asked]
    up.bot.start("telegram", up.line, up.postman, up.line.poll())
    await settled(api, store)
    assert [sent.reply_to for sent in api.chat(CLUB)] == [None]


@pytest.mark.parametrize(
    "who",
    [
        {"from": NOBODY_IN_PARTICULAR, "sender_chat": {"id": CLUB, "type": "group", "title": "Harbour Club"}},
        {"from": {"id": 9, "is_bot": True, "first_name": "Other"}},
        {
            "from": {"id": 777000, "is_bot": False, "first_name": "T"},
            "sender_chat": {"id": -9, "type": "channel"},
        },
        {"from": None, "sender_chat": {"id": -9, "type": "channel"}},
    ],
    ids=["anonymous", "bot", "forwarded by a channel", "channel"],
)
async def test_who_is_nobody_in_particular_is_not_listened_to(api, store, who):
    body = api.message(api.chats[CLUB], api.person(MARA), {"text": "/due@rinse_bot"})
    body["entities"] = [{"type": "bot_command", "offset": 0, "length": 14}]
    body = {k: v for k, v in (body | who).items() if v is not None}
    assert await after(api, store, lambda: api.updates.put("message", body)) == []
    assert chat_of(store, CLUB) is None


# --- whose locker


async def test_group_has_a_locker_of_its_own(api, say, store):
    await say(MARA, "2 dives today, salt", MARA)
    await say(MARA, "@rinse_bot 3 dives today, salt")
    assert (dives_of(store, MARA), dives_of(store, CLUB)) == (2, 3)


async def test_first_who_speaks_owns_the_locker_of_a_group(say, store):
    await say(MARA, "@rinse_bot hello")
    await say(OLA, "@rinse_bot hello")
    assert roles(store) == {MARA: "owner", OLA: "member"}


async def test_who_added_the_bot_owns_the_locker_of_a_group(api, say, store):
    api.chats[CLUB].state = "left"
    (greeting,) = await after(api, store, lambda: api.add_bot(CLUB, OLA))
    assert greeting.startswith("Tell me what you dived")
    await say(MARA, "@rinse_bot hello")
    assert roles(store) == {OLA: "owner", MARA: "member"}


async def test_who_hides_while_adding_the_bot_owns_nothing(api, say, store):
    api.chats[CLUB].state = "left"
    api.people[1087968824] = NOBODY_IN_PARTICULAR
    assert await after(api, store, lambda: api.add_bot(CLUB, 1087968824)) == []
    await say(MARA, "@rinse_bot hello")
    assert roles(store) == {MARA: "owner"}


async def test_members_log_and_record_care_and_only_the_owner_and_whom_they_named_remove(api, say, store):
    await say(MARA, SUIT)
    await say(OLA, "@rinse_bot 2 dives today, salt")
    assert (await say(OLA, "@rinse_bot rinsed the dry suit"))[0].startswith("Noted")
    refused = "Only Mara, whose locker this is, or somebody they named can do that."
    for text in ("@rinse_bot retire dry suit", "@rinse_bot export my data", "/export"):
        assert (await say(OLA, text))[0].startswith(refused), text
    assert (await say(OLA, "/forget"))[0].startswith("Say that to me in a chat of your own.")
    await say(MARA, "@rinse_bot who is in my locker?")
    message, held = key(api, "Ola: let remove")
    await after(api, store, lambda: api.tap_data(CLUB, OLA, message, held))
    assert roles(store)[OLA] == "member"
    await after(api, store, lambda: api.tap_data(CLUB, MARA, message, held))
    assert roles(store)[OLA] == "keeper"
    assert (await say(OLA, "@rinse_bot retire dry suit"))[0].startswith("dry suit is out of your kit")


async def test_who_left_the_group_is_no_member_any_more(api, say, store):
    await say(MARA, "@rinse_bot hello")
    await say(OLA, "@rinse_bot hello")
    await after(api, store, lambda: api.leave(CLUB, OLA))
    assert roles(store) == {MARA: "owner"}
    await say(OLA, "@rinse_bot hello")
    assert roles(store) == {MARA: "owner", OLA: "member"}


async def test_code_does_not_open_another_locker_in_a_group(api, say, store):
    await say(MARA, "2 dives today", MARA)
    (shared,) = await say(MARA, "share my locker", MARA)
    code = re.search(r"start=(\w+)", shared)[1]
    (answer,) = await say(OLA, f"/start@rinse_bot {code}")
    assert answer.startswith("Join from a chat of your own")


async def test_button_of_a_private_chat_does_nothing_in_a_group(api, say, store):
    await say(MARA, "2 dives today", MARA)
    _, undo = key(api, "Undo", MARA)
    await say(MARA, "@rinse_bot hello")
    (answer,) = await after(api, store, lambda: api.tap_data(CLUB, MARA, api.chat(CLUB)[-1].message_id, undo))
    assert answer.startswith("That button is too old or not from this chat.")
    assert dives_of(store, MARA) == 2


async def test_edit_of_what_was_said_to_the_bot_corrects_it(api, say, store):
    message = api.say(CLUB, MARA, "@rinse_bot 2 dives today, salt")
    await settled(api, store)
    await after(api, store, lambda: api.edit(CLUB, message, "@rinse_bot 3 dives today, salt"))
    assert dives_of(store, CLUB) == 3


# --- topics


async def test_topic_is_kept(api, say):
    await say(MARA, "/due@rinse_bot", FORUM, thread=7)
    await say(MARA, "/due@rinse_bot", FORUM, thread=8)
    await say(MARA, "/calendar@rinse_bot", FORUM, thread=7)
    assert [sent.thread for sent in api.chat(FORUM)][:3] == [7, 8, 7]
    assert {sent.thread for sent in api.chat(FORUM)[2:]} == {7}


async def test_tap_in_a_topic_is_answered_there(api, say, store):
    await say(MARA, SUIT, FORUM, thread=7)
    await say(MARA, "/kit@rinse_bot", FORUM, thread=7)
    message, held = key(api, "dry suit", FORUM)
    await after(api, store, lambda: api.tap_data(FORUM, MARA, message, held))
    assert {sent.thread for sent in api.chat(FORUM)} == {7}


async def test_message_and_file_for_a_topic_that_is_gone_come_to_the_chat_at_large(up, api):
    files = (
        Enclosed(name="a.ics", mime="text/calendar", content=b"x"),
        Enclosed(name="a.png", mime="image/png", content=b"y"),
    )
    await up.line.send(str(FORUM), Post(key="k", first="Here.", files=files, topic="99", group=True))
    shown = [(s.text, s.document, s.photo, s.thread) for s in api.chat(FORUM)]
    assert shown == [("Here.", None, None, None), ("", ("a.ics", b"x"), None, None), ("", None, b"y", None)]


async def test_reply_in_a_topic_that_nobody_addressed_is_none_to_the_bot(say):
    assert await say(MARA, "hello all", FORUM, thread=7) == []


# --- moved, gone


async def test_group_that_became_another_keeps_its_locker(api, say, store):
    await say(MARA, "@rinse_bot 2 dives today, salt")
    await after(api, store, lambda: api.migrate(CLUB, MOVED, MARA))
    await say(OLA, "@rinse_bot 3 dives today, fresh", MOVED)
    assert chat_of(store, CLUB) is None
    assert dives_of(store, MOVED) == 5


async def test_group_whose_move_is_told_from_the_new_side_first_keeps_its_locker(api, say, store):
    await say(MARA, "@rinse_bot 2 dives today, salt")
    api.group(MOVED, "Harbour Club", "supergroup")
    await after(api, store, lambda: api.receive(MOVED, MARA, {"migrate_from_chat_id": CLUB}))
    await after(api, store, lambda: api.receive(CLUB, MARA, {"migrate_to_chat_id": MOVED}))
    assert dives_of(store, MOVED) == 2


async def test_answer_follows_a_group_that_moved_meanwhile(api, say, store):
    await say(MARA, "@rinse_bot hello")
    old = len(api.chat(CLUB))
    api.group(MOVED, "Harbour Club", "supergroup")
    api.chats[CLUB].moved_to = MOVED
    api.say(MOVED, OLA, "hello all")
    await say(MARA, "@rinse_bot 2 dives today, salt")
    assert (len(api.chat(CLUB)), len(api.chat(MOVED))) == (old, 1)
    assert api.chat(MOVED)[0].text.startswith("Logged: 2 dives")
    assert dives_of(store, MOVED) == 2


async def test_message_of_the_same_number_in_the_group_before_is_another(api, say, store):
    await say(MARA, "@rinse_bot hello")
    old = api.say(CLUB, MARA, "@rinse_bot 2 dives today, salt")
    await settled(api, store)
    await after(api, store, lambda: api.migrate(CLUB, MOVED, MARA))
    api._ids[MOVED] = old - 1
    new = api.say(MOVED, MARA, "@rinse_bot 3 dives yesterday, fresh")
    assert new == old
    await settled(api, store)
    await after(api, store, lambda: api.edit(MOVED, new, "@rinse_bot 4 dives yesterday, fresh"))
    assert dives_of(store, MOVED) == 2 + 4


async def test_answer_that_moved_does_not_quote_or_replace_a_stranger_of_the_same_number(up, api):
    api.group(MOVED, "Harbour Club", "supergroup")
    await up.line.send(str(MOVED), Post(key="a", first="Stays.", group=True))
    (there,) = api.chat(MOVED)
    moved = Post(key="b", first="New.", group=True, replaces=f"{CLUB}/{there.message_id}")
    await up.line.send(str(MOVED), moved)
    quoting = Post(key="c", first="Late.", group=True, answers=f"{CLUB}/{there.message_id}")
    await up.line.send(str(MOVED), quoting)
    assert [(s.text, s.edits, s.reply_to) for s in api.chat(MOVED)] == [
        ("Stays.", 0, None),
        ("New.", 0, None),
        ("Late.", 0, None),
    ]


async def test_group_that_threw_the_bot_out_is_muted_and_heard_again_once_it_is_back(api, say, store):
    await say(MARA, "@rinse_bot hello")
    await after(api, store, lambda: api.kick(CLUB, MARA))
    assert chat_of(store, CLUB).muted_at is not None
    (greeting,) = await after(api, store, lambda: api.add_bot(CLUB, OLA))
    assert greeting.startswith("Tell me what you dived")
    assert chat_of(store, CLUB).muted_at is None
    assert roles(store)[MARA] == "owner"


@pytest.mark.parametrize("state", ["kicked", "left"])
async def test_group_that_refuses_is_muted_and_not_tried_again(api, say, store, state):
    await say(MARA, "@rinse_bot hello")
    before = calls(api, "sendMessage")
    body = api.message(api.chats[CLUB], api.person(MARA), {"text": "/due"})
    body["entities"] = [{"type": "bot_command", "offset": 0, "length": 4}]
    api.chats[CLUB].state = state
    assert await after(api, store, lambda: api.updates.put("message", body)) == []
    assert calls(api, "sendMessage") == before + 1
    assert chat_of(store, CLUB).muted_at is not None


async def test_lively_group_is_answered_within_what_the_wire_allows(api, say, store):
    for n in range(2, 32):
        api.say(CLUB, MARA + n % 3, f"@rinse_bot {n} dives today, salt")
    await settled(api, store)
    assert len(api.chat(CLUB)) == 30
    assert api.refusals == []
