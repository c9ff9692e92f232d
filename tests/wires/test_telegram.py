"""Telegram in a private chat, with the real client against the stand-in: what goes in, what comes out."""

import re

import pytest

from bot.post import Enclosed, Key, Post
from bot.understand.requests import COMMANDS
from scheduler.post import Arrived
from store import people
from tests.conftest import START
from tests.handle.test_imports import HEAD, ROWS, UDDF
from tests.wires.bot_api_html import units
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import (
    ILKA,
    MARA,
    after,
    calls,
    chat_of,
    dives_of,
    settled,
    telegram_up,
    texts,
)

SUIT = "add dry suit, plastic zip, latex seals"
OTHER_CHAT = "That button is too old or not from this chat."
HOSTILE = "<b>Mara</b> & \u202eolo\u202c \x07</i>"
PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)


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


def shown_ids(api):
    return [data for sent in api.sent for row in sent.buttons for _, data in row]


def post(**said):
    return Post(key="k", **said)


# --- words and markup


async def test_answer_comes_as_html_with_its_first_line_bold(wire, api):
    await wire.say("2 dives today, salt, 30 m")
    assert api.sent[-1].html.startswith("<b>Logged: 2 dives, today, salt water, 30 m.")
    assert dives_of(wire.store, ILKA) == 2


async def test_command_menu_is_the_table_of_commands(wire, api):
    menu = api.commands["default", ""]
    assert menu == [(c.name, c.told) for c in COMMANDS if c.told]
    assert len(menu) > 5


@pytest.mark.parametrize("command", [c.name for c in COMMANDS if c.told])
async def test_every_command_is_understood(wire, api, command):
    shown = await wire.say(f"/{command}")
    assert not shown.text.startswith("I did not get that")


async def test_what_people_write_is_escaped_wherever_it_is_shown(wire, api):
    await wire.say(f"call this locker {HOSTILE}")
    assert "<b>Mara</b> &" in api.sent[-1].text
    assert "&lt;b&gt;Mara&lt;/b&gt; &amp;" in api.sent[-1].html
    assert api.refusals == []


async def test_name_of_a_person_cannot_turn_or_break_a_line(wire, api):
    await wire.say("share my locker")
    code = re.search(r"start=(\w+)", api.sent[-1].text)[1]
    api.private(MARA, f"{HOSTILE}\n{'x' * 90}")
    await after(api, wire.store, lambda: api.say(MARA, MARA, f"/start {code}"))
    who = await wire.say("who is in my locker?")
    assert "- <b>Mara</b> & olo </i> xxx" in who.text
    assert not set(who.text) & set("\u202e\u202c\x07")
    assert max(map(len, who.text.splitlines())) < 130


@pytest.mark.parametrize(
    "text",
    [
        "\x00\x07\x1b[2J",
        "\u202e\u2066\u200f",
        "🤿" * 2048,
        "<" * 4096,
        "&#0;&lt;b&gt;</b>",
        "a\n" * 2000,
        "@rinse_bot",
    ],
    ids=["control", "direction", "emoji", "angles", "entities", "lines", "name alone"],
)
async def test_hostile_text_is_answered_once_and_in_words(wire, api, text):
    said = await after(api, wire.store, lambda: api.say(ILKA, ILKA, text))
    assert len(said) == 1
    assert "went wrong" not in said[0]
    assert api.refusals == []


# --- long messages


async def test_long_message_is_split_within_the_limit_and_nothing_is_lost(wire, api):
    lines = [f"<line {n}> & " + "🤿" * 700 for n in range(9)]
    sent = await wire.line.send(
        str(ILKA), post(first="🐟" * 5000, lines=tuple(lines), cautions=("x y " * 1500,))
    )
    parts = texts(api, ILKA)
    assert isinstance(sent, Arrived)
    assert all(0 < units(part) <= 4096 for part in parts)
    everything = "".join("".join(parts).split())
    assert everything == "".join(("🐟" * 5000 + "".join(lines) + "⚠" + "x y " * 1500).split())
    assert api.refusals == []


async def test_each_part_closes_the_tags_it_opens(wire, api):
    await wire.line.send(str(ILKA), post(first="a b " * 2000, cautions=("c d " * 2000,)))
    assert len(api.sent) > 3
    for sent in api.sent:
        assert sent.html.count("<b>") == sent.html.count("</b>")
        assert sent.html.count("<i>") == sent.html.count("</i>")


async def test_buttons_stand_under_the_last_part(wire, api):
    keys = (Key(id="one", label="One"), Key(id="two", label="x" * 300))
    sent = await wire.line.send(str(ILKA), post(first="x", lines=("y " * 3000,), keys=keys))
    *before, last = api.chat(ILKA)
    assert [b.buttons for b in before] == [[]] * len(before)
    assert [data for row in last.buttons for _, data in row] == ["one", "two"]
    assert sent == Arrived()


async def test_part_that_failed_is_sent_again_and_those_before_it_are_not(wire, api):
    long = post(first="first", lines=tuple(f"{n} " + "y" * 4090 for n in range(3)))
    one_by_one = wire.line.send.__self__._pacer
    turns = []

    async def turn(chat, **_):
        turns.append(chat)
        if len(turns) == 3:
            api.fault("sendMessage", "502")

    one_by_one.turn = turn
    failed = await wire.line.send(str(ILKA), long)
    assert (failed.done, failed.under) == (2, str(api.sent[-1].message_id))
    await wire.line.send(str(ILKA), long.model_copy(update={"done": failed.done, "under": failed.under}))
    assert [text.split()[0] for text in texts(api, ILKA)] == ["first", "0", "1", "2"]


# --- buttons


async def test_ids_of_buttons_are_opaque_and_short_enough(wire, api):
    for text in (SUIT, "2 dives today", "what is due?", "share my locker", "add regulator"):
        await wire.say(text)
    ids = shown_ids(api)
    assert len(ids) > 8
    assert len(set(ids)) == len(ids)
    assert all(len(i.encode()) <= 64 and re.fullmatch(r"[\w-]{20,}", i) for i in ids)


async def test_tapped_message_gives_way_to_what_the_tap_did(wire, api):
    await wire.say(SUIT)
    await wire.say("2 dives today, salt")
    await wire.say("what is due?")
    last, count = api.chat(ILKA)[-1], len(api.sent)
    done = await wire.tap("All done")
    assert (len(api.sent), last.edits) == (count, 1)
    assert done.text == last.text != ""
    await until(lambda: calls(api, "answerCallbackQuery") == 1)


async def test_tap_that_settles_nothing_leaves_its_message_standing(wire, api):
    await wire.say(SUIT)
    shown = await wire.say("what is due?")
    count = len(api.sent)
    await wire.say("2 dives today, salt")
    due = await wire.say("what is due?")
    await wire.tap("Why")
    assert due.text in texts(api, ILKA)
    assert shown.text in texts(api, ILKA)
    assert len(api.sent) == count + 3


async def test_two_taps_on_one_button_do_it_once(wire, api):
    await wire.say(SUIT)
    await wire.say("2 dives today, salt")
    await wire.say("what is due?")
    message = api.chat(ILKA)[-1].message_id
    data = dict(pair for row in api.chat(ILKA)[-1].buttons for pair in row)["All done"]
    api.tap_data(ILKA, ILKA, message, data)
    api.tap_data(ILKA, ILKA, message, data)
    await settled(api, wire.store)
    before = await wire.say("what is due?")
    assert before.text.startswith("Nothing is due by")
    await until(lambda: calls(api, "answerCallbackQuery") == 2)


@pytest.mark.parametrize("data", ["", "x" * 64, "\x00\u202e", "🤿" * 16, "../../etc", "' OR 1=1 --"])
async def test_forged_button_does_nothing(wire, api, data):
    await wire.say("hello")
    message = api.chat(ILKA)[-1].message_id
    said = await after(api, wire.store, lambda: api.tap_data(ILKA, ILKA, message, data))
    assert [text.split("\n")[0] for text in said] == [OTHER_CHAT]
    await until(lambda: calls(api, "answerCallbackQuery") == 1)


async def test_button_of_another_chat_does_nothing_in_this_one_nor_there(wire, api):
    await wire.say(SUIT)
    await wire.say("2 dives today, salt")
    undo = dict(pair for row in api.sent[-1].buttons for pair in row)["Undo"]
    api.private(MARA, "Mara")
    await after(api, wire.store, lambda: api.say(MARA, MARA, "3 dives today"))
    theirs = api.chat(MARA)[-1].message_id
    said = await after(api, wire.store, lambda: api.tap_data(MARA, MARA, theirs, undo))
    assert said[0].startswith(OTHER_CHAT)
    assert (dives_of(wire.store, ILKA), dives_of(wire.store, MARA)) == (2, 3)


async def test_button_under_a_message_that_the_wire_no_longer_shows_still_works(wire, api):
    await wire.say("2 dives today, salt")
    undo = dict(pair for row in api.sent[-1].buttons for pair in row)["Undo"]
    said = await after(api, wire.store, lambda: api.tap_data(ILKA, ILKA, 99_999, undo))
    assert [text.split(":")[0] for text in said] == ["Taken back"]
    assert dives_of(wire.store, ILKA) == 0


# --- photos, files, places


async def test_picture_is_not_read_and_its_caption_is(wire, api):
    said = await after(api, wire.store, lambda: api.send_photo(ILKA, ILKA, PNG))
    assert said[0].startswith("I cannot read pictures.")
    await after(api, wire.store, lambda: api.send_photo(ILKA, ILKA, PNG, "2 dives today, salt"))
    assert dives_of(wire.store, ILKA) == 2


@pytest.mark.parametrize("kind", ["sticker", "voice", "video", "video_note", "audio"])
async def test_what_cannot_be_read_is_told_so(wire, api, kind):
    said = await after(api, wire.store, lambda: api.send_other(ILKA, ILKA, kind))
    assert said[0].startswith("I can only read text and dive log files.")


@pytest.mark.parametrize(("name", "content", "found"), [("log.csv", HEAD + ROWS, 3), ("log.uddf", UDDF, 1)])
async def test_dive_log_file_is_taken_in(wire, api, name, content, found):
    shown = await wire.send_file(name, content.encode())
    assert shown.text.startswith(f"{name}: {found} dive")
    label = next(b for b in shown.buttons if b.startswith(("Count", "none")))
    shown = await wire.tap(label)
    if label.startswith("none"):
        await wire.tap(f"Count {found} dive{'s' * (found > 1)}")
    assert dives_of(wire.store, ILKA) == found


async def test_path_in_the_name_of_a_file_is_not_kept(wire, api):
    shown = await wire.send_file("../..\\etc/\u202eday.csv", (HEAD + ROWS).encode())
    assert shown.text.startswith("day.csv: 3 dives")


async def test_nameless_file_is_read_by_its_content(wire, api):
    document = api.keep_document("x", UDDF.encode())
    del document["file_name"]
    said = await after(api, wire.store, lambda: api.receive(ILKA, ILKA, {"document": document}))
    assert said[0].startswith("log: 1 dive")


async def test_file_that_says_it_is_too_large_is_not_fetched(wire, api):
    document = api.keep_document("log.csv", b"date\n") | {"file_size": 21 << 20}
    said = await after(api, wire.store, lambda: api.receive(ILKA, ILKA, {"document": document}))
    assert said[0].startswith("That file is too large: I read up to 20 MB.")
    assert calls(api, "getFile") == 0


async def test_file_that_hides_its_size_is_too_large_all_the_same(wire, api):
    document = api.keep_document("log.csv", bytes(21 << 20)) | {"file_size": 10}
    said = await after(api, wire.store, lambda: api.receive(ILKA, ILKA, {"document": document}))
    assert said[0].startswith("That file is too large: I read up to 20 MB.")


@pytest.mark.parametrize("fault", ["502", "cut_before", "401", "500"])
@pytest.mark.parametrize("method", ["getFile", "file"])
async def test_file_that_cannot_be_fetched_is_asked_for_again(wire, api, method, fault):
    api.fault(method, fault)
    said = await after(api, wire.store, lambda: api.send_document(ILKA, ILKA, "log.csv", b"date\n"))
    assert said[0].startswith("I could not fetch that file. Please send it again.")


@pytest.mark.parametrize(
    "content",
    [
        b"<uddf>" + b"<a>" * 200_000,
        b'<!DOCTYPE u [<!ENTITY a "xx"><!ENTITY b "&a;&a;&a;&a;">]><uddf>&b;</uddf>',
        b"\x89PNG\r\n\x1a\n\x00\x00",
        b"\x00" * 5000,
        b"",
    ],
    ids=["nested", "entities", "picture", "zeros", "empty"],
)
async def test_hostile_file_is_refused_in_words(wire, api, content):
    said = await after(api, wire.store, lambda: api.send_document(ILKA, ILKA, "log.uddf", content))
    assert len(said) == 1
    assert "Nothing was stored." in said[0]
    assert "went wrong" not in said[0]


async def test_file_goes_out_with_its_answer(wire, api):
    await wire.say(SUIT)
    shown = await wire.say("calendar")
    ((name, content),) = shown.files
    assert name.endswith(".ics")
    assert content.startswith(b"BEGIN:VCALENDAR")


async def test_picture_goes_out_as_a_picture(wire, api):
    await wire.line.send(
        str(ILKA), post(first="Here.", files=(Enclosed(name="a.png", mime="image/png", content=PNG),))
    )
    assert [(s.text, s.photo, s.document) for s in api.chat(ILKA)] == [("Here.", None, None), ("", PNG, None)]


async def test_picture_that_the_wire_takes_for_none_goes_out_as_a_file(wire, api):
    large = PNG + bytes(10 << 20)
    await wire.line.send(
        str(ILKA), post(first="Here.", files=(Enclosed(name="a.png", mime="image/png", content=large),))
    )
    assert api.chat(ILKA)[-1].document == ("a.png", large)
    assert api.refusals == []


async def test_place_sets_the_zone(wire, api):
    said = await after(api, wire.store, lambda: api.send_location(ILKA, ILKA, 38.7, -9.1))
    assert said[0].startswith("Noted: zone Europe/Lisbon")
    assert chat_of(wire.store, ILKA).zone == "Europe/Lisbon"


# --- in passing


async def test_question_is_answered_in_any_chat_without_a_locker(wire, api):
    query = api.inline(MARA, "what do I put on the neck ring?")
    await until(lambda: query in api.inline_answers)
    (result,) = api.inline_answers[query].results
    assert result["input_message_content"]["message_text"].startswith("<b>")
    assert api.inline_answers[query].personal
    assert chat_of(wire.store, MARA) is None


@pytest.mark.parametrize("words", ["", "hello there", "forget me", "2 dives today", "<b>" * 80])
async def test_other_words_find_nothing_in_passing(wire, api, words):
    query = api.inline(MARA, words)
    await until(lambda: query in api.inline_answers)
    assert api.inline_answers[query].results == []
    assert chat_of(wire.store, MARA) is None


async def test_link_with_a_code_joins_the_locker(wire, api):
    await wire.say(SUIT)
    await wire.say("share my locker")
    code = re.search(r"https://t\.me/rinse_bot\?start=([A-Za-z0-9_-]{1,64})\b", api.sent[-1].text)[1]
    api.private(MARA, "Mara")
    said = await after(api, wire.store, lambda: api.say(MARA, MARA, f"/start {code}"))
    assert said[0].startswith("You are in. Open here now: Ilka's locker.")
    await after(api, wire.store, lambda: api.say(MARA, MARA, "2 dives today, salt"))
    assert dives_of(wire.store, ILKA) == 2
    assert "2 dives" in (await wire.say("show kit")).text


async def test_link_with_a_wrong_code_joins_nothing(wire, api):
    said = await after(api, wire.store, lambda: api.say(MARA, MARA, "/start 7K3D92QM4HXD"))
    assert said[0].startswith("That code is wrong")
    assert wire.store.read(lambda s: len(people.held(s, f"telegram:{MARA}"))) == 1
