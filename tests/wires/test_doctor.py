"""The doctor looks at the wires: reached or not, taken or refused, the clock beside theirs."""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest

from bot.doctor import examine
from bot.settings import Settings
from bot.transports import probe
from tests.wires.bot_api import BotApi


async def examined(database, **settings) -> list[tuple[str, bool, str]]:
    found = await asyncio.to_thread(examine, database, Settings(**settings))
    return [(f.what, f.well, f.said) for f in found if f.what in {"telegram", "matrix", "access", "wires"}]


def address(api: BotApi) -> str:
    return api.base_url.removesuffix("/bot")


async def test_telegram_that_is_well(database):
    async with BotApi() as api:
        found = await examined(database, telegram_token=api.token, telegram_api=address(api))
    assert ("telegram", True, "the token is taken: @rinse_bot") in found
    assert ("access", True, "open: everybody who finds the bot may write") in found
    assert all(well for _, well, _ in found)


async def test_telegram_token_that_is_refused(database):
    async with BotApi() as api:
        found = await examined(database, telegram_token="4711:limpet-limpet", telegram_api=address(api))
    assert found[-1] == ("telegram", False, "the token was refused: copy it again from whoever gave it out")


async def test_wire_that_cannot_be_reached(database):
    found = await examined(
        database,
        telegram_token="4711:limpet-limpet",
        telegram_api="http://127.0.0.1:9",
        matrix_homeserver="http://127.0.0.1:9",
        matrix_user="@r:reef.test",
        matrix_password="kelp",
    )
    assert [(what, well) for what, well, _ in found] == [
        ("access", True),
        ("telegram", False),
        ("matrix", False),
    ]
    assert all("cannot be reached" in said for _, well, said in found if not well)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (
            {"matrix_homeserver": "http://127.0.0.1:9"},
            "set RINSETANK_MATRIX_USER, such as @rinse:reef.example",
        ),
        (
            {"matrix_homeserver": "http://127.0.0.1:9", "matrix_user": "@r:reef.test"},
            "set RINSETANK_MATRIX_PASSWORD or RINSETANK_MATRIX_TOKEN",
        ),
        (
            {"telegram_webhook_secret": "anemone"},
            "a webhook secret is set, but no RINSETANK_WEB_URL: updates are fetched by polling",
        ),
        (
            {"access": "invite"},
            "invite, but nobody is listed: write to the bot, it says who you are, and put that into RINSETANK_ALLOWED",
        ),
    ],
)
async def test_what_is_missing_is_named(database, settings, said):
    assert said in [told for _, well, told in await examined(database, **settings) if not well]


async def test_matrix_token_is_checked_against_the_homeserver(database, homeserver):
    def of(**more):
        return examined(database, matrix_homeserver=homeserver.url, **more)

    token = await asyncio.to_thread(homeserver.warden_token)
    mine = await of(matrix_user="@rinse:reef.test", matrix_token="limpet-limpet")
    assert mine[-1][1:] == (False, "the login is refused (M_UNKNOWN_TOKEN): set a new token, or the password")
    other = await of(matrix_user="@rinse:reef.test", matrix_token=token)
    assert other[-1][1] is False
    assert "not of @rinse:reef.test: set RINSETANK_MATRIX_USER" in other[-1][2]
    later = await of(matrix_user="@rinse:reef.test", matrix_password="kelp")
    assert later[-1][1:] == (True, "@rinse:reef.test will log in with the password at the first start")


@pytest.mark.parametrize(("off_s", "well"), [(0, True), (20, True), (-20, True), (60, False), (-3600, False)])
async def test_clock_that_is_off_is_told(off_s, well):
    async with BotApi() as api:
        now = datetime.now(UTC) + timedelta(seconds=off_s)
        found = await probe.reached(address(api), now)
    assert found[0] is well
    assert well or "this clock is off by" in found[1]
