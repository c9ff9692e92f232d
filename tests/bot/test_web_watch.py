"""Health and metrics over real HTTP on loopback: from a whole service, and who may read them."""

import asyncio
from contextlib import asynccontextmanager

import aiohttp
import pytest

from bot.service import Service
from bot.settings import Settings
from tests.wires.bot_api import BotApi
from tests.wires.test_service import free_port


class Site:
    def __init__(self, session, port, said):
        self._session, self._port, self.said = session, port, said

    async def get(self, path, port=None, **headers):
        for _ in range(200):
            try:
                async with self._session.get(
                    f"http://127.0.0.1:{port or self._port}{path}", headers=headers
                ) as got:
                    return got.status, await got.text(), got.headers
            except aiohttp.ClientConnectorError:
                await asyncio.sleep(0.02)
        raise AssertionError("it never came up")


@asynccontextmanager
async def site(store, **settings):
    port, stop, said = free_port(), asyncio.Event(), []
    service = Service(store, Settings(web_port=port, **settings), said.append)
    running = asyncio.create_task(service.run(stop))
    try:
        async with aiohttp.ClientSession() as session:
            yield Site(session, port, said)
    finally:
        stop.set()
        await asyncio.wait_for(running, 10)


async def test_health_of_a_whole_service(store):
    async with BotApi() as api:
        api.private(501)
        address = api.base_url.removesuffix("/bot")
        async with site(store, telegram_token=api.token, telegram_api=address) as at:
            for _ in range(300):
                status, text, headers = await at.get("/readyz")
                if status == 200 and "wire_telegram" in text:
                    break
                await asyncio.sleep(0.05)
            assert (status, headers["Content-Type"].split(";")[0], headers["Cache-Control"]) == (
                200,
                "application/json",
                "no-store",
            )
            assert '"check": "wire_telegram", "ok": true' in text
            status, text, _ = await at.get("/healthz")
            assert (status, '"check": "look_telegram", "ok": true' in text) == (200, True)
            assert [word for word in (api.token, "rinse_bot", "501", store.url) if word in text] == []
            assert (await at.get("/metrics"))[0] == 200


async def test_postman_that_dies_by_a_fault_of_ours_fails_health(store, monkeypatch):
    async def dies(_self):
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr("scheduler.post.Postman.run", dies)
    async with BotApi() as api:
        address = api.base_url.removesuffix("/bot")
        async with site(store, telegram_token=api.token, telegram_api=address) as at:
            for _ in range(100):
                status, text, _ = await at.get("/healthz")
                if status == 503:
                    break
                await asyncio.sleep(0.1)
            assert (status, '"value": "post_telegram"' in text) == (503, True)


async def test_delivery_before_the_wire_stands_comes_again(store):
    hook = {"telegram_webhook_secret": "anemone", "web_url": "http://127.0.0.1:9"}
    async with site(store, telegram_token="4711:limpet", telegram_api="http://127.0.0.1:9", **hook) as at:
        assert (await at.get("/readyz"))[0] == 503
        async with at._session.post(
            f"http://127.0.0.1:{at._port}/telegram",
            json={"update_id": 1},
            headers={"X-Telegram-Bot-Api-Secret-Token": "anemone"},
        ) as got:
            assert got.status == 503


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "Via", "X-Real-IP"])
async def test_metrics_without_a_token_are_not_for_who_comes_through_a_proxy(store, header):
    async with site(store) as at:
        assert (await at.get("/metrics"))[0] == 200
        assert (await at.get("/metrics", **{header: "192.0.2.7"}))[0] == 404


async def test_metrics_with_a_token_are_for_who_has_it(store):
    async with site(store, metrics_token="barnacle-barnacle") as at:
        assert (await at.get("/metrics"))[0] == 401
        assert (await at.get("/metrics", Authorization="Bearer limpet"))[0] == 401
        got = await at.get("/metrics", Authorization="Bearer barnacle-barnacle", Via="1.1 reef")
        assert (got[0], got[2]["Content-Type"]) == (200, "text/plain; version=0.0.4; charset=utf-8")
        assert "barnacle" not in got[1]


async def test_metrics_on_a_port_of_their_own_are_there_alone(store):
    port = free_port()
    async with site(store, metrics_port=port) as at:
        assert (await at.get("/metrics", port))[0] == 200
        assert [(await at.get("/metrics"))[0], (await at.get("/healthz", port))[0]] == [404, 404]
