"""The stand-in for the Bot API, proven with the client that the bot uses: updates, buttons, webhook, faults."""

import asyncio
from datetime import timedelta

import pytest
from aiohttp import web
from telegram import (
    BotCommand,
    BotCommandScopeAllGroupChats,
    InlineQueryResultArticle,
    InlineQueryResultsButton,
    InputTextMessageContent,
)
from telegram.error import (
    BadRequest,
    Conflict,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from tests.wires.bot_api_client import CLUB, FORUM, ILKA, Clock, client, keys, three_chats


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


# --- updates


async def test_updates_are_kept_until_confirmed(api, bot):  # Bot API, getUpdates: offset and limit
    for n in range(120):
        api.say(ILKA, ILKA, f"line {n}")
    first = await bot.get_updates(limit=100)
    assert [len(first), len(await bot.get_updates(limit=2)), len(await bot.get_updates())] == [100, 2, 100]
    rest = await bot.get_updates(offset=first[-1].update_id + 1)
    assert [update.message.text for update in rest] == [f"line {n}" for n in range(100, 120)]
    assert [update.message.text for update in await bot.get_updates(offset=-1)] == ["line 119"]
    assert await bot.get_updates(offset=rest[-1].update_id + 1) == ()
    assert api.updates.pending == []


async def test_long_poll_ends_with_news(api, bot):  # Bot API, getUpdates: timeout
    poll = asyncio.create_task(bot.get_updates(timeout=20))
    await api.wait_for(lambda: api.calls[-1][0] == "getUpdates")
    api.say(ILKA, ILKA, "rinsed")
    assert [update.message.text for update in await poll] == ["rinsed"]
    (last,) = await bot.get_updates()
    assert await bot.get_updates(offset=last.update_id + 1, timeout=1) == ()


async def test_older_poll_ends_with_conflict(api, bot):  # Bot API, getUpdates: 409
    older = asyncio.create_task(bot.get_updates(timeout=20))
    await api.wait_for(lambda: api.updates._poll)
    newer = asyncio.create_task(bot.get_updates(timeout=20))
    with pytest.raises(Conflict, match="terminated by other getUpdates request"):
        await older
    api.say(ILKA, ILKA, "rinsed")
    assert len(await newer) == 1


async def test_poll_whose_caller_left_is_no_conflict(api, bot):
    gone = asyncio.create_task(bot.get_updates(timeout=20))
    await api.wait_for(lambda: api.updates._poll)
    gone.cancel()
    await asyncio.gather(gone, return_exceptions=True)
    await api.wait_for(lambda: api.updates._poll is None)
    assert await bot.get_updates() == ()
    assert api.refusals == []


async def test_only_updates_that_were_asked_for(api, bot):  # Bot API, getUpdates: allowed_updates
    await bot.get_updates(allowed_updates=["callback_query", "edited_message"])
    api.edit(ILKA, api.say(ILKA, ILKA, "rinsed"), "rinsed it")
    (update,) = await bot.get_updates()
    assert update.edited_message.text == "rinsed it"


async def test_what_people_send(api, bot):  # Bot API, Message and MessageEntity
    api.say(ILKA, ILKA, "/start abc")
    first = api.say(CLUB, 7, "🐟 @rinse_bot done, mail me@kit.example 1/2")
    api.say(CLUB, 8, "/due@rinse_bot now", reply_to=first)
    api.send_location(ILKA, ILKA, 47.1, 8.2)
    api.send_other(ILKA, ILKA, "sticker")
    api.send_other(ILKA, ILKA, "voice")
    api.join(CLUB, 9)
    api.leave(CLUB, 9)
    start, mention, command, place, sticker, voice, joined, left = [
        u.message for u in await bot.get_updates()
    ]
    assert [start.parse_entity(e) for e in start.entities] == ["/start"]
    assert [mention.parse_entity(e) for e in mention.entities] == ["@rinse_bot"]
    assert [command.parse_entity(e) for e in command.entities] == ["/due@rinse_bot"]
    assert command.reply_to_message.message_id == first
    assert (place.location.latitude, place.location.longitude) == (47.1, 8.2)
    assert (sticker.sticker.emoji, voice.voice.duration) == ("🐟", timedelta(seconds=4))
    assert (joined.new_chat_members[0].id, left.left_chat_member.id) == (9, 9)


async def test_supergroups_count_their_messages_alone(api, bot):  # Bot API, Message: message_id
    assert [api.say(ILKA, ILKA, "a"), api.say(CLUB, ILKA, "b"), api.say(FORUM, ILKA, "c")] == [1, 2, 1]


async def test_pushed_updates_come_twice_and_out_of_order(api, bot):
    api.say(ILKA, ILKA, "rinsed")
    (seen,) = await bot.get_updates()
    again = seen.to_dict()
    api.push({**again, "update_id": seen.update_id + 5})
    api.push(again)
    late = await bot.get_updates(offset=seen.update_id + 1)
    assert [update.update_id - seen.update_id for update in late] == [5, 0]


# --- buttons and inline queries


async def test_taps(api, bot):  # Bot API, CallbackQuery and answerCallbackQuery
    sent = await bot.send_message(ILKA, "due", reply_markup=keys("done"))
    real, forged = (
        api.tap(ILKA, ILKA, sent.message_id, "b0"),
        api.tap_data(ILKA, 7, sent.message_id, "x" * 90),
    )
    first, second = [update.callback_query for update in await bot.get_updates()]
    assert (first.id, first.data, first.message.text, first.from_user.first_name) == (
        real,
        "done",
        "due",
        "Ilka",
    )
    assert (second.id, len(second.data), second.from_user.id) == (forged, 90, 7)
    await bot.answer_callback_query(real, "x" * 200)
    with pytest.raises(BadRequest, match="Message_too_long"):
        await bot.answer_callback_query(forged, "x" * 201)
    with pytest.raises(BadRequest, match="Query is too old"):
        await bot.answer_callback_query("nothing")


async def test_inline(api, bot):  # Bot API, answerInlineQuery and InlineQueryResultsButton
    query = api.inline(ILKA, "due")
    (update,) = await bot.get_updates()
    assert (update.inline_query.id, update.inline_query.query) == (query, "due")
    rows = [
        InlineQueryResultArticle("1", "Due", InputTextMessageContent("<b>reg</b>", parse_mode="HTML")),
        InlineQueryResultArticle("2", "Kit", InputTextMessageContent("kit")),
    ]
    await bot.answer_inline_query(
        query, rows, button=InlineQueryResultsButton("more", start_parameter="a" * 64)
    )
    assert [row["title"] for row in api.inline_answers[query].results] == ["Due", "Kit"]
    for bad_start in ("a" * 65, "a b"):
        with pytest.raises(BadRequest, match="Start_param_invalid"):
            await bot.answer_inline_query(
                query, rows, button=InlineQueryResultsButton("x", start_parameter=bad_start)
            )
    with pytest.raises(BadRequest, match="Result_id_duplicate"):
        await bot.answer_inline_query(query, [rows[0], rows[0]])


async def test_commands(api, bot):  # Bot API, BotCommand and setMyCommands
    await bot.set_my_commands([BotCommand("a" * 32, "d" * 256), BotCommand("due_2", "what is due")])
    await bot.set_my_commands([("due", "what is due")], BotCommandScopeAllGroupChats(), "de")
    assert [command.command for command in await bot.get_my_commands()] == ["a" * 32, "due_2"]
    assert api.commands["all_group_chats", "de"] == [("due", "what is due")]
    for name, words in (("a" * 33, "d"), ("Due", "d"), ("due!", "d"), ("due", "d" * 257), ("due", "")):
        with pytest.raises(BadRequest, match="Bot_command"):
            await bot.set_my_commands([(name, words)])
    many = [(f"c{n}", "words") for n in range(101)]
    await bot.set_my_commands(many[:100])
    with pytest.raises(BadRequest, match="Bot_commands_too_much"):
        await bot.set_my_commands(many)


# --- webhook


class Hook:
    """A webhook that answers as it is told."""

    def __init__(self) -> None:
        self.seen, self.answers = [], []

    async def take(self, request):
        text = (await request.json())["message"]["text"]
        self.seen.append((text, request.headers.get("X-Telegram-Bot-Api-Secret-Token")))
        return web.Response(status=self.answers.pop(0) if self.answers else 200)


@pytest.fixture
async def hook():
    made, app = Hook(), web.Application()
    app.router.add_post("/updates", made.take)
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    made.url = f"http://127.0.0.1:{runner.addresses[0][1]}/updates"
    yield made
    await runner.cleanup()


async def test_webhook_repeats_what_was_not_taken(api, bot, hook):  # Bot API, setWebhook
    hook.answers = [500, 503, 302]
    api.say(ILKA, ILKA, "one")
    await bot.set_webhook(hook.url, secret_token="s3cret")
    api.say(ILKA, ILKA, "two")
    await api.wait_for(lambda: not api.updates.pending)
    assert hook.seen == [("one", "s3cret")] * 4 + [("two", "s3cret")]
    info = await bot.get_webhook_info()
    assert (info.url, info.pending_update_count) == (hook.url, 0)
    assert info.last_error_message == "Wrong response from the webhook: 302 Found"


async def test_webhook_gives_up_in_the_end(api, bot, hook):  # Bot API, setWebhook: "give up after ..."
    hook.answers = [500] * 6
    await bot.set_webhook(hook.url)
    api.say(ILKA, ILKA, "lost")
    api.say(ILKA, ILKA, "kept")
    await api.wait_for(lambda: not api.updates.pending)
    assert hook.seen == [("lost", None)] * 6 + [("kept", None)]
    assert [update["message"]["text"] for update in api.updates.given_up] == ["lost"]


async def test_webhook_and_get_updates_exclude_each_other(api, bot, hook):  # Bot API, getUpdates: 409
    poll = asyncio.create_task(bot.get_updates(timeout=20))
    await api.wait_for(lambda: api.updates._poll)
    await bot.set_webhook(hook.url)
    with pytest.raises(Conflict, match="terminated by setWebhook"):
        await poll
    with pytest.raises(Conflict, match="webhook is active"):
        await bot.get_updates()
    await bot.delete_webhook()
    api.say(ILKA, ILKA, "rinsed")
    await bot.delete_webhook(drop_pending_updates=True)
    assert await bot.get_updates() == ()


@pytest.mark.parametrize(("secret", "good"), [("a", 1), ("aZ9_-" + "x" * 251, 1), ("x" * 257, 0), ("a b", 0)])
async def test_webhook_secret(api, bot, secret, good):  # Bot API, setWebhook: secret_token 1-256
    if good:
        assert await bot.set_webhook("http://127.0.0.1:9/none", secret_token=secret)
    else:
        with pytest.raises(BadRequest, match="Secret token"):
            await bot.set_webhook("http://127.0.0.1:9/none", secret_token=secret)


# --- tokens and faults


async def test_tokens(api):  # Bot API, "Authorizing your bot"
    for token, code in (("1234:other", 401), ("loopback", 404)):
        other = client(api, token)
        with pytest.raises(InvalidToken):
            await other.initialize()
        await other.shutdown()
        assert api.refusals[-1][:2] == ("getMe", code)


async def test_unknown_method(api, bot):
    with pytest.raises(TelegramError, match="not found"):
        await bot.do_api_request("sendWetsuit")
    assert (await bot.do_api_request("GETME"))["username"] == "rinse_bot"


@pytest.mark.parametrize(
    ("kind", "error", "acted"),
    [
        ("502", NetworkError, 0),
        ("500", NetworkError, 0),
        ("garbage", TelegramError, 0),
        ("cut_before", NetworkError, 0),
        ("cut_after", NetworkError, 1),
        ("slow:60", TimedOut, 1),
        ("401", InvalidToken, 0),
        ("429:7", RetryAfter, 0),
    ],
)
async def test_faults(api, bot, kind, error, acted):
    api.fault("sendMessage", kind)
    with pytest.raises(error) as raised:
        await bot.send_message(ILKA, "rinse", read_timeout=1 if kind == "slow:60" else 60)
    if kind == "429:7":
        assert raised.value.retry_after == timedelta(seconds=7)
    assert len(api.sent) == acted
    await bot.send_message(ILKA, "again")
    assert [name for name, _ in api.calls] == ["getMe", "sendMessage", "sendMessage"]


async def test_wait_for_tells_what_stands(api, bot):
    await bot.send_message(ILKA, "rinse", reply_markup=keys("done"))
    with pytest.raises(AssertionError, match=r"(?s)private 501 'Ilka'.*rinse_bot: 'rinse' .*'done'"):
        await api.wait_for(lambda: False, timeout=0.01)
