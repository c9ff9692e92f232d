"""The stand-in for the Bot API, proven with the client that the bot uses: what is sent, how fast, and where to."""

from datetime import timedelta

import pytest
from telegram import ReplyParameters
from telegram.error import BadRequest, ChatMigrated, Forbidden, NetworkError, RetryAfter

from tests.wires.bot_api import BotApi
from tests.wires.bot_api_client import CLUB, FORUM, ILKA, Clock, client, keys, three_chats
from tests.wires.bot_api_html import parse_html


@pytest.fixture(autouse=True)
def lengths_of_time(monkeypatch):
    """Let the client give lengths of time as such; as plain numbers they are deprecated."""
    monkeypatch.setenv("PTB_TIMEDELTA", "true")


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
async def api(clock):
    async with three_chats(clock) as served:
        yield served


@pytest.fixture
async def bot(api):
    async with client(api) as made:
        yield made


# --- what a message may hold


@pytest.mark.parametrize("text", ["x" * 4096, "🐟" * 2048, "<b>" + "&lt;" * 4096 + "</b>"])
async def test_text_of_4096_units_passes(api, bot, text):  # Bot API, sendMessage: after entities parsing
    await bot.send_message(ILKA, text, parse_mode="HTML")
    assert len(api.chat(ILKA)[0].text.encode("utf-16-le")) == 2 * 4096


@pytest.mark.parametrize("text", ["x" * 4097, "🐟" * 2048 + "x"])
async def test_text_of_4097_units_is_refused(api, bot, text):  # Bot API, sendMessage
    with pytest.raises(BadRequest, match="Message is too long"):
        await bot.send_message(ILKA, text)
    sent = await bot.send_message(ILKA, "short")
    with pytest.raises(BadRequest, match="Message is too long"):  # Bot API, editMessageText
        await bot.edit_message_text(text, ILKA, sent.message_id)
    assert api.refusals == [
        ("sendMessage", 400, "Bad Request: message is too long"),
        ("editMessageText", 400, "Bad Request: message is too long"),
    ]


@pytest.mark.parametrize("text", ["", "  \n ", "<b></b>", "<i> </i>\n"])
async def test_empty_text_is_refused(api, bot, text):  # Bot API, sendMessage: 1 to 4096
    with pytest.raises(BadRequest, match="Message text is empty"):
        await bot.send_message(ILKA, text, parse_mode="HTML")


async def test_caption_holds_1024(api, bot):  # Bot API, sendDocument and sendPhoto
    await bot.send_document(ILKA, b"rinse", caption="c" * 1024)
    await bot.send_photo(ILKA, b"reef", caption="c" * 1024)
    with pytest.raises(BadRequest, match="Message caption is too long"):
        await bot.send_document(ILKA, b"rinse", caption="c" * 1025)
    assert [len(sent.text) for sent in api.chat(ILKA)] == [1024, 1024]


@pytest.mark.parametrize("data", ["x", "x" * 64, "ü" * 32])
async def test_button_holds_64_bytes(api, bot, data):  # Bot API, InlineKeyboardButton: 1-64 bytes
    await bot.send_message(ILKA, "rinsed?", reply_markup=keys(data))
    assert api.chat(ILKA)[0].buttons == [[("b0", data)]]


@pytest.mark.parametrize("data", ["", "x" * 65, "ü" * 33])
async def test_button_of_65_bytes_is_refused(api, bot, data):  # Bot API, InlineKeyboardButton
    with pytest.raises(BadRequest, match="Button_data_invalid"):
        await bot.send_message(ILKA, "rinsed?", reply_markup=keys("ok", data))
    assert api.sent == []


# --- HTML


@pytest.mark.parametrize(
    ("markup", "reason"),
    [
        ("a <reg> b", 'Unsupported start tag "reg" at byte offset 2'),
        ("ä <h1>x</h1>", 'Unsupported start tag "h1" at byte offset 3'),
        ("depth < 30 m", 'Unsupported start tag "" at byte offset 6'),
        ("depth <30 m>", 'Unsupported start tag "30" at byte offset 6'),
        ("depth <30", "Unclosed start tag at byte offset 6"),
        ("<b><i>x</b></i>", 'Unmatched end tag at byte offset 7, expected "</i>", found "</b>"'),
        ("<b>x</i>", 'Unmatched end tag at byte offset 4, expected "</b>", found "</i>"'),
        ("x</b>", "Unexpected end tag at byte offset 1"),
        ("<b>x", 'Can\'t find end tag corresponding to start tag "b"'),
        ("<i>x</i ", "Unclosed end tag at byte offset 4"),
        ("<span>x</span>", 'Tag "span" must have class "tg-spoiler" at byte offset 0'),
        ('<a href="x>y</a>', "Unclosed start tag at byte offset 0"),
        ("<br>", 'Unsupported start tag "br" at byte offset 0'),
    ],
)
async def test_html_is_refused_word_for_word(api, bot, markup, reason):  # Bot API, HTML style
    with pytest.raises(BadRequest):
        await bot.send_message(ILKA, markup, parse_mode="HTML")
    assert api.refusals[-1][2] == f"Bad Request: can't parse entities: {reason}"


async def test_html_is_read(api, bot):  # Bot API, HTML style
    markup = "<b>O-ring</b> <i>3 &lt; 4 &amp; &#233; &quot;</i> &nbsp; <a href='http://kit.example'>here</a>"
    sent = await bot.send_message(ILKA, markup, parse_mode="HTML")
    assert sent.text == 'O-ring 3 < 4 & é " &nbsp; here'
    assert [(e.type, sent.parse_entity(e)) for e in sent.entities] == [
        ("bold", "O-ring"),
        ("italic", '3 < 4 & é "'),
        ("text_link", "here"),
    ]
    assert api.chat(ILKA)[0].html == markup


async def test_text_without_parse_mode_is_plain(api, bot):  # Bot API, sendMessage: parse_mode
    await bot.send_message(ILKA, "depth < 30 m & <b>")
    assert api.chat(ILKA)[0].text == "depth < 30 m & <b>"


def test_entities_count_in_utf16_and_survive_trimming():  # Bot API, MessageEntity
    parsed = parse_html("🐟<blockquote expandable>a</blockquote><tg-spoiler>b</tg-spoiler>")
    assert [(e["type"], e["offset"], e["length"]) for e in parsed.entities] == [
        ("blockquote", 2, 1),
        ("spoiler", 3, 1),
    ]


# --- how fast


async def test_one_a_second_in_a_chat_after_a_burst_of_three(api, bot, clock):  # Bots FAQ
    for n in range(3):
        await bot.send_message(ILKA, f"line {n}")
    with pytest.raises(RetryAfter) as refused:
        await bot.send_message(ILKA, "one too many")
    assert refused.value.retry_after == timedelta(seconds=1)
    clock.now += 0.9
    with pytest.raises(RetryAfter):
        await bot.edit_message_text("edits count too", ILKA, 1)
    clock.now += 0.1
    await bot.edit_message_text("edits count too", ILKA, 1)
    with pytest.raises(RetryAfter):
        await bot.send_message(ILKA, "still too many")
    assert api.refusals[0] == ("sendMessage", 429, "Too Many Requests: retry after 1")


async def test_thirty_a_second_over_all_chats(api, bot, clock):  # Bots FAQ
    for n in range(31):
        api.private(600 + n, f"Diver {n}")
    for n in range(30):
        await bot.send_message(600 + n, "rinse")
    with pytest.raises(RetryAfter):
        await bot.send_message(630, "rinse")
    clock.now += 1 / 30
    await bot.send_message(630, "rinse")


async def test_twenty_a_minute_in_a_group(api, bot, clock):  # Bots FAQ
    for _ in range(20):
        await bot.send_message(CLUB, "rinse")
        clock.now += 1
    with pytest.raises(RetryAfter) as refused:
        await bot.send_message(CLUB, "rinse")
    assert refused.value.retry_after == timedelta(seconds=40)
    await bot.send_message(ILKA, "another chat is not held up")
    clock.now += 40
    await bot.send_message(CLUB, "rinse")


async def test_pace_speeds_every_rate_up(clock):
    async with BotApi(pace=10, clock=clock) as api, client(api) as bot:
        api.group(CLUB, "Harbour club")
        for _ in range(20):
            await bot.send_message(CLUB, "rinse")
            clock.now += 0.1
        with pytest.raises(RetryAfter) as refused:
            await bot.send_message(CLUB, "rinse")
        assert refused.value.retry_after == timedelta(seconds=4)


async def test_answers_and_actions_are_free(api, bot):  # Bots FAQ speaks of messages
    for n in range(3):
        await bot.send_message(ILKA, f"line {n}", reply_markup=keys("done"))
    for n in range(5):
        await bot.send_chat_action(ILKA, "typing")
        query = api.tap(ILKA, ILKA, 1, "b0")
        await bot.answer_callback_query(query, f"noted {n}", show_alert=True)
        assert (api.answers[query].text, api.answers[query].alert) == (f"noted {n}", True)


# --- chats that do not answer


async def test_chats_that_cannot_be_reached(api, bot):  # Bot API answers 400 and 403
    with pytest.raises(BadRequest, match="Chat not found"):
        await bot.send_message(999, "anyone?")
    api.block(ILKA)
    with pytest.raises(Forbidden, match="bot was blocked by the user"):
        await bot.send_message(ILKA, "anyone?")
    api.unblock(ILKA)
    await bot.send_message(ILKA, "good")
    api.deactivate(ILKA)
    with pytest.raises(Forbidden, match="user is deactivated"):
        await bot.send_message(ILKA, "anyone?")
    api.kick(FORUM)
    with pytest.raises(Forbidden, match="bot was kicked from the supergroup chat"):
        await bot.send_message(FORUM, "anyone?")
    await bot.leave_chat(CLUB)
    with pytest.raises(Forbidden, match="bot is not a member of the group chat"):
        await bot.send_message(CLUB, "anyone?")
    changes = [update.my_chat_member for update in await bot.get_updates()]
    assert [(c.chat.id, c.old_chat_member.status, c.new_chat_member.status) for c in changes] == [
        (ILKA, "member", "kicked"),
        (ILKA, "kicked", "member"),
        (FORUM, "member", "kicked"),
        (CLUB, "member", "left"),
    ]


async def test_group_becomes_supergroup(api, bot):  # Bot API, ResponseParameters: migrate_to_chat_id
    api.migrate(CLUB, -1000700)
    with pytest.raises(ChatMigrated) as moved:
        await bot.send_message(CLUB, "rinse")
    assert moved.value.new_chat_id == -1000700
    await bot.send_message(-1000700, "rinse")
    old, new = [update.message for update in await bot.get_updates()]
    assert (old.chat.id, old.migrate_to_chat_id) == (CLUB, -1000700)
    assert (new.chat.id, new.migrate_from_chat_id) == (-1000700, CLUB)


async def test_reply_to_what_is_gone(api, bot):  # Bot API, ReplyParameters
    with pytest.raises(BadRequest, match="Message to be replied not found"):
        await bot.send_message(ILKA, "yes", reply_parameters=ReplyParameters(77))
    await bot.send_message(
        ILKA, "yes", reply_parameters=ReplyParameters(77, allow_sending_without_reply=True)
    )
    said = api.say(ILKA, ILKA, "rinsed")
    sent = await bot.send_message(ILKA, "noted", reply_parameters=ReplyParameters(said))
    assert sent.reply_to_message.text == "rinsed"
    assert [each.reply_to for each in api.chat(ILKA)] == [None, said]


async def test_topics_of_a_forum(api, bot):  # Bot API, sendMessage: message_thread_id
    api.say(FORUM, ILKA, "rinsed", thread=8)
    await bot.send_message(FORUM, "noted", message_thread_id=8)
    with pytest.raises(BadRequest, match="Message thread not found"):
        await bot.send_message(FORUM, "noted", message_thread_id=9)
    (update,) = await bot.get_updates()
    assert (update.message.message_thread_id, update.message.is_topic_message) == (8, True)
    assert update.message.reply_to_message.forum_topic_created
    assert api.chat(FORUM)[0].thread == 8


# --- changing messages


async def test_edit(api, bot, clock):  # Bot API, editMessageText
    sent = await bot.send_message(ILKA, "due", reply_markup=keys("done"))
    clock.now += 9
    with pytest.raises(BadRequest, match="Message is not modified"):
        await bot.edit_message_text(
            "<b></b>due", ILKA, sent.message_id, parse_mode="HTML", reply_markup=keys("done")
        )
    await bot.edit_message_text("due", ILKA, sent.message_id, reply_markup=keys("later"))
    await bot.edit_message_text("done", ILKA, sent.message_id)
    clock.now += 9
    (stands,) = api.chat(ILKA)
    assert (stands.text, stands.buttons, stands.edits, stands.at) == ("done", [], 2, 100.0)
    with pytest.raises(BadRequest, match="Message to edit not found"):
        await bot.edit_message_text("done", ILKA, 55)
    said = api.say(ILKA, ILKA, "mine")
    with pytest.raises(BadRequest, match="Message can't be edited"):
        await bot.edit_message_text("yours", ILKA, said)


async def test_edit_keyboard_and_delete(api, bot, clock):  # Bot API, editMessageReplyMarkup, deleteMessage
    sent = await bot.send_message(ILKA, "due", reply_markup=keys("done", "later"))
    await bot.edit_message_reply_markup(ILKA, sent.message_id, reply_markup=keys("done"))
    with pytest.raises(AssertionError, match="no button 'b1'"):
        api.tap(ILKA, ILKA, sent.message_id, "b1")
    await bot.edit_message_reply_markup(ILKA, sent.message_id)
    clock.now += 9
    with pytest.raises(BadRequest, match="Message is not modified"):
        await bot.edit_message_reply_markup(ILKA, sent.message_id)
    assert await bot.delete_message(ILKA, sent.message_id)
    assert (api.chat(ILKA), [each.deleted for each in api.sent]) == ([], [True])
    with pytest.raises(BadRequest, match="Message to delete not found"):
        await bot.delete_message(ILKA, sent.message_id)


# --- files


async def test_files_both_ways(api, bot):  # Bot API, sendDocument, getFile
    await bot.send_document(
        ILKA, b"BEGIN:VCALENDAR", filename="kit.ics", caption="<b>kit</b>", parse_mode="HTML"
    )
    assert api.chat(ILKA)[0].document == ("kit.ics", b"BEGIN:VCALENDAR")
    assert (api.chat(ILKA)[0].text, api.chat(ILKA)[0].html) == ("kit", "<b>kit</b>")
    await bot.send_photo(ILKA, b"reef")
    assert api.chat(ILKA)[1].photo == b"reef"
    api.send_document(ILKA, ILKA, "dives.csv", b"depth;18", caption="last week")
    api.send_photo(ILKA, ILKA, b"gauge")
    document, photo = [update.message for update in await bot.get_updates()]
    assert (document.caption, document.document.file_name) == ("last week", "dives.csv")
    assert await (await bot.get_file(document.document)).download_as_bytearray() == b"depth;18"
    assert await (await photo.photo[-1].get_file()).download_as_bytearray() == b"gauge"
    with pytest.raises(BadRequest, match="Invalid file_id"):
        await bot.get_file("nothing")
    again = await bot.send_document(ILKA, document.document.file_id)
    assert again.document.file_size == 8


async def test_file_sizes(api, bot, clock):  # Bot API, getFile 20 MB; Sending files 10 MB and 50 MB
    for extra in (0, 1):
        api.send_document(ILKA, ILKA, "video.mp4", bytes((20 << 20) + extra))
    small, big = [update.message.document for update in await bot.get_updates()]
    assert (await bot.get_file(small)).file_size == 20 << 20
    with pytest.raises(BadRequest, match="File is too big"):
        await bot.get_file(big)
    await bot.send_photo(ILKA, bytes(10 << 20))
    with pytest.raises(BadRequest, match="too big for a photo"):
        await bot.send_photo(ILKA, bytes((10 << 20) + 1))
    await bot.send_document(ILKA, bytes(50 << 20))
    for size in ((50 << 20) + 1, 52 << 20):
        with pytest.raises(NetworkError, match="Request Entity Too Large"):
            await bot.send_document(ILKA, bytes(size))
