"""Telegram by webhook: the stand-in delivers over HTTP to the bot's own web endpoint."""

import hmac
import json

import aiohttp
import pytest
from aiohttp import web

from bot.transports.web import TELEGRAM_PATH, application
from store.errors import StoreError
from tests.conftest import START
from tests.wires.bot_api import BotApi
from tests.wires.bot_api_updates import SECRET_HEADER
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import ILKA, after, bring_up, calls, dives_of, settled, texts

SECRET = "kelp-and-salt_1"
UPDATE = {
    "update_id": 7,
    "message": {
        "message_id": 1,
        "date": int(START.timestamp()),
        "chat": {"id": ILKA, "type": "private", "first_name": "Ilka"},
        "from": {"id": ILKA, "is_bot": False, "first_name": "Ilka"},
        "text": "2 dives today, salt",
    },
}


class Hooked:
    """The bot behind its web endpoint."""

    def __init__(self, api, up, url):
        self.api, self.up, self.url = api, up, url

    async def post(self, body, secret=SECRET):
        """Deliver something and return the status of the answer."""
        headers = {} if secret is None else {SECRET_HEADER: secret}
        async with (
            aiohttp.ClientSession() as session,
            session.post(self.url, data=body, headers=headers) as answer,
        ):
            return answer.status


@pytest.fixture
async def hooked(store):
    clock = LiveClock(START)
    async with BotApi(pace=20, wall=lambda: clock.now().timestamp()) as api:
        api.private(ILKA, "Ilka")
        up = None

        async def take(told, body):
            return await up.line.webhook(SECRET, told, body)

        runner = web.AppRunner(application(store, clock, take), access_log=None)
        await runner.setup()
        await web.TCPSite(runner, "127.0.0.1", 0).start()
        host, port = runner.addresses[0][:2]
        url = f"http://{host}:{port}{TELEGRAM_PATH}"
        up = await bring_up(api, store, clock, (url, SECRET))
        yield Hooked(api, up, url)
        await up.stop()
        await runner.cleanup()


async def test_delivered_message_is_answered(hooked, store):
    api = hooked.api
    said = await after(api, store, lambda: api.say(ILKA, ILKA, "2 dives today, salt"))
    assert said[0].startswith("Logged: 2 dives, today")
    assert (calls(api, "getUpdates"), api.updates.given_up) == (0, [])
    assert api.updates.webhook.secret == SECRET
    assert api.updates.webhook.max_connections == 10


async def test_tap_inline_question_and_coming_are_delivered_too(hooked, store):
    api = hooked.api
    await after(api, store, lambda: api.say(ILKA, ILKA, "2 dives today, salt"))
    await after(api, store, lambda: api.tap(ILKA, ILKA, api.chat(ILKA)[-1].message_id, "Undo"))
    assert dives_of(store, ILKA) == 0
    query = api.inline(ILKA, "what do I put on the neck ring?")
    await until(lambda: query in api.inline_answers)
    api.group(-700, "Harbour Club").state = "left"
    (greeting,) = await after(api, store, lambda: api.add_bot(-700, ILKA))
    assert greeting.startswith("Tell me what you dived")


@pytest.mark.parametrize("secret", [None, "", "kelp", SECRET + "x", SECRET.upper(), "é" * 15, "\udcff"])
async def test_delivery_without_the_secret_is_refused_and_does_nothing(hooked, store, secret):
    told = "" if secret is None else secret
    assert await hooked.up.line.webhook(SECRET, told, json.dumps(UPDATE).encode()) == 403
    if secret is not None and secret.isprintable():
        assert await hooked.post(json.dumps(UPDATE), secret) == 403
    assert dives_of(store, ILKA) == 0
    assert hooked.api.sent == []


async def test_secret_is_compared_in_constant_time(hooked, monkeypatch):
    compared, compare = [], hmac.compare_digest
    monkeypatch.setattr("hmac.compare_digest", lambda a, b: compared.append((a, b)) or compare(a, b))
    assert await hooked.post(json.dumps(UPDATE), "kelp") == 403
    assert compared == [(SECRET.encode(), b"kelp")]


async def test_no_secret_set_lets_nobody_in(hooked):
    assert await hooked.up.line.webhook("", "", json.dumps(UPDATE).encode()) == 403


@pytest.mark.parametrize(
    "body",
    [
        "",
        "{",
        "null",
        "[]",
        "{}",
        "7",
        '{"update_id": 1, "message": {}}',
        '{"update_id": 1, "message": 3}',
        "[" * 99_999,
    ],
    ids=["empty", "cut", "null", "list", "nothing", "number", "no message", "odd message", "nested"],
)
async def test_garbage_is_refused_and_the_next_delivery_is_taken(hooked, store, body):
    assert await hooked.post(body) == 400
    assert await hooked.post(json.dumps(UPDATE)) == 200
    await settled(hooked.api, store)
    assert dives_of(store, ILKA) == 2


async def test_kind_of_update_that_nobody_asked_for_is_taken_and_let_go(hooked):
    assert await hooked.post(json.dumps({"update_id": 1, "poll_of_the_day": {"x": 1}})) == 200
    assert hooked.api.sent == []


async def test_delivery_that_comes_twice_acts_once(hooked, store):
    assert [await hooked.post(json.dumps(UPDATE)) for _ in range(3)] == [200, 200, 200]
    await settled(hooked.api, store)
    assert len(texts(hooked.api, ILKA)) == 1
    assert dives_of(store, ILKA) == 2


async def test_delivery_is_taken_only_once_it_is_stored(hooked, store, monkeypatch):
    write, failures = store.write, [3]

    def failing(work, *of):
        if failures[0] > 0:
            failures[0] -= 1
            raise StoreError("out of reach")
        return write(work, *of)

    monkeypatch.setattr(store, "write", failing)
    statuses = [await hooked.post(json.dumps(UPDATE))]
    failures[0] = 0
    statuses.append(await hooked.post(json.dumps(UPDATE)))
    assert statuses == [503, 200]
    await settled(hooked.api, store)
    assert dives_of(store, ILKA) == 2


async def test_update_that_nobody_can_handle_holds_up_none(hooked, store, monkeypatch):
    handle = hooked.up.line.handle

    async def breaking(update):
        if update.update_id == 7:
            raise ZeroDivisionError
        await handle(update)

    monkeypatch.setattr(hooked.up.line, "handle", breaking)
    assert await hooked.post(json.dumps(UPDATE)) == 200
    assert await hooked.post(json.dumps(UPDATE | {"update_id": 8})) == 200
    await settled(hooked.api, store)
    assert dives_of(store, ILKA) == 2


async def test_polling_takes_over_from_a_webhook(hooked, store):
    await hooked.up.stop()
    hooked.api.updates.set_webhook(hooked.api.updates.webhook, None, drop=False)
    polling = await bring_up(hooked.api, store, hooked.up.bot.clock)
    said = await after(hooked.api, store, lambda: hooked.api.say(ILKA, ILKA, "2 dives today, salt"))
    await polling.stop()
    assert said[0].startswith("Logged: 2 dives, today")
    assert calls(hooked.api, "getUpdates") > 0
