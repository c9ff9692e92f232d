"""The service as a whole: wires come up, answer, are told apart when they do not, and end when told to."""

import asyncio
import socket
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

import pytest

from bot.service import Service
from bot.settings import Settings
from store.engine import Store
from tests.wires.bot_api import BotApi
from tests.wires.harness import until
from tests.wires.matrix_person import Person

ILKA = 501


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@asynccontextmanager
async def serving(store: Store, **settings) -> AsyncIterator[list[str]]:
    """Run the service and give what it said; at the end it must stop by itself when told."""
    said: list[str] = []
    stop = asyncio.Event()
    port = settings.pop("web_port", None) or free_port()
    service = Service(store, Settings(web_port=port, **settings), said.append)
    running = asyncio.create_task(service.run(stop))
    try:
        yield said
    finally:
        stop.set()
        await asyncio.wait_for(running, 10)


def address(api: BotApi) -> str:
    return api.base_url.removesuffix("/bot")


async def test_message_is_answered_over_polling_and_health_is_told(store):
    async with BotApi() as api:
        api.private(ILKA)
        async with serving(store, telegram_token=api.token, telegram_api=address(api)) as said:
            api.say(ILKA, ILKA, "add scooter")
            await until(lambda: api.chat(ILKA))
            assert api.chat(ILKA)[0].text.startswith("Added: scooter.")
            await until(lambda: "telegram: ok, connected as @rinse_bot, polling" in said)
        assert api.refusals == []


async def test_message_is_answered_over_webhook_and_only_with_the_secret(store):
    port = free_port()
    async with BotApi() as api:
        api.private(ILKA)
        async with serving(
            store,
            web_port=port,
            web_url=f"http://127.0.0.1:{port}",
            telegram_token=api.token,
            telegram_api=address(api),
            telegram_webhook_secret="anemone",
        ) as said:
            await until(lambda: "telegram: ok, connected as @rinse_bot, webhook" in said)
            api.say(ILKA, ILKA, "add scooter")
            await until(lambda: api.chat(ILKA))
            assert api.chat(ILKA)[0].text.startswith("Added: scooter.")
            assert await _post(port, b'{"update_id": 1}', "limpet") == 403
            assert await _post(port, b'{"update_id": 1}', "") == 403
            assert await _post(port, b"no json", "anemone") == 400
            assert await _post(port, b"[]", "anemone") == 400


async def _post(port: int, body: bytes, secret: str) -> int:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = (
        f"POST /telegram HTTP/1.1\r\nHost: x\r\nContent-Length: {len(body)}\r\n"
        f"X-Telegram-Bot-Api-Secret-Token: {secret}\r\nConnection: close\r\n\r\n"
    )
    writer.write(head.encode() + body)
    await writer.drain()
    status = int((await reader.readline()).split()[1])
    writer.close()
    return status


async def test_token_that_is_refused_ends_that_wire_alone_and_is_never_said(store, capfd):
    async with BotApi(token="4711:barnacle-barnacle") as api:
        wrong = "4711:limpet-limpet"
        async with serving(store, telegram_token=wrong, telegram_api=address(api)) as said:
            await until(lambda: "telegram: NOT WELL, the token was refused" in said)
        assert "limpet" not in "".join(said) + "".join(capfd.readouterr())


async def test_wire_out_of_reach_is_tried_again_until_it_is_there(store, monkeypatch):
    monkeypatch.setattr("bot.service._RETRY_S", 0.05)
    async with BotApi() as api:
        api.private(ILKA)
        api.fault("getMe", "502", 3)
        async with serving(store, telegram_token=api.token, telegram_api=address(api)) as said:
            await until(lambda: any("ok, connected" in line for line in said))
            assert any("NOT WELL" in line for line in said)


async def test_both_wires_answer_from_one_service(store, homeserver, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    await asyncio.to_thread(homeserver.register, "both", "kelp")
    async with BotApi() as api, Person(homeserver, "ilka-both", tmp_path) as ilka:
        api.private(ILKA)
        async with serving(
            store,
            telegram_token=api.token,
            telegram_api=address(api),
            matrix_homeserver=homeserver.url,
            matrix_user=homeserver.user_id("both"),
            matrix_password="kelp",
        ) as said:
            await until(lambda: any("matrix: ok, syncing" in line for line in said))
            api.say(ILKA, ILKA, "add scooter")
            room = await ilka.direct(homeserver.user_id("both"), encrypted=True)
            await ilka.wait_for(lambda: ilka.seen(room))
            await ilka.say(room, "add dry suit")
            await ilka.wait_for(lambda: any(m.body.startswith("Added: dry suit") for m in ilka.seen(room)))
            await until(lambda: api.chat(ILKA))


async def test_without_credentials_it_says_which_to_set(store):
    async with serving(store) as said:
        await until(lambda: any("no wire is on" in line for line in said))


@pytest.mark.parametrize("missing", ["matrix_password"])
async def test_matrix_without_password_or_token_says_so(store, missing):
    async with serving(store, matrix_homeserver="http://127.0.0.1:9", matrix_user="@r:reef.test") as said:
        await until(lambda: any("set RINSETANK_MATRIX_PASSWORD" in line for line in said))
