"""The client of the bot, turned to the stand-in: what the tests of the Bot API share."""

import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup
from telegram.request import HTTPXRequest

from tests.wires.bot_api import BotApi

ILKA, CLUB, FORUM = 501, -700, -1000900
NO_TLS = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
"""Loopback speaks plain HTTP, and reading the certificates of the machine takes a fifth of a second."""


class Clock:
    """A clock that stands until it is moved."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


PATIENCE_S = 60.0
"""In life a call is given up after five seconds, which on a machine with other things to do says nothing of the wire."""


def line() -> HTTPXRequest:
    """Return a connection that goes straight to loopback, whatever proxy the machine has and however busy it is."""
    return HTTPXRequest(
        connection_pool_size=8,
        read_timeout=PATIENCE_S,
        write_timeout=PATIENCE_S,
        connect_timeout=PATIENCE_S,
        pool_timeout=PATIENCE_S,
        media_write_timeout=PATIENCE_S,
        httpx_kwargs={"verify": NO_TLS, "trust_env": False},
    )


def client(api: BotApi, token: str = "") -> Bot:
    """Return the real client, with the stand-in as its server."""
    return Bot(
        token or api.token,
        base_url=api.base_url,
        base_file_url=api.base_file_url,
        request=line(),
        get_updates_request=line(),
    )


@asynccontextmanager
async def three_chats(clock: Clock) -> AsyncIterator[BotApi]:
    """Serve one private chat, one group and one forum."""
    async with BotApi(clock=clock) as api:
        api.private(ILKA)
        api.group(CLUB, "Harbour club")
        api.group(FORUM, "Blue water", "supergroup", forum=True)
        yield api


def keys(*data: str) -> InlineKeyboardMarkup:
    """Return one row of buttons: b0, b1 and so on."""
    return InlineKeyboardMarkup(
        [[InlineKeyboardButton(f"b{n}", callback_data=d) for n, d in enumerate(data)]]
    )
