"""The web endpoint: the calendar feed, behind a link that nobody can guess, and updates that a wire delivers."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from hashlib import sha256

import structlog
from aiohttp import web
from aiohttp.web import Application

from bot.handle.calendar import MIME, NAME, calendar_of
from scheduler.clock import Clock
from store import lockers
from store.engine import Session, Store
from store.errors import StoreError

__all__ = ["Application", "application", "serving"]
TELEGRAM_PATH = "/telegram"
FRESH_S = 3600
"""How long a calendar program may keep what it fetched."""
CLOSE_S = 2.0
_STORE, _CLOCK = web.AppKey("store", Store), web.AppKey("clock", Clock)
Hook = Callable[[str, bytes], Awaitable[int]]
"""Takes the secret that came with a delivery and its body, and returns the HTTP status."""
_SECRET = "X-Telegram-Bot-Api-Secret-Token"  # noqa: S105 - the name of a header (Bot API, setWebhook)
log = structlog.get_logger(__name__)


def application(store: Store, clock: Clock, telegram: Hook | None = None) -> web.Application:
    """Return the application; `telegram` takes what that wire delivers."""
    app = web.Application()
    app[_STORE], app[_CLOCK] = store, clock
    app.router.add_get("/calendar/{token:[A-Za-z0-9_-]{8,64}}.ics", _calendar)
    if telegram is not None:

        async def delivered(request: web.Request) -> web.Response:
            return web.Response(status=await telegram(request.headers.get(_SECRET, ""), await request.read()))

        app.router.add_post(TELEGRAM_PATH, delivered)
    return app


async def _calendar(request: web.Request) -> web.Response:
    """Answer with the calendar of the locker whose link it is; a wrong link finds nothing, whatever is wrong with it."""
    store, clock, token = request.app[_STORE], request.app[_CLOCK], request.match_info["token"]
    try:
        content = await asyncio.to_thread(store.read, lambda session: _content(session, token, clock))
    except StoreError as error:
        log.error("store_unusable", wire="web", reason=str(error))  # noqa: TRY400 - one line, no trace: not a bug
        raise web.HTTPServiceUnavailable(headers={"Retry-After": "60"}) from error
    if content is None:
        raise web.HTTPNotFound(text="There is no such calendar.")
    tag = f'"{sha256(content).hexdigest()[:32]}"'
    headers = {
        "ETag": tag,
        "Cache-Control": f"private, max-age={FRESH_S}",
        "Content-Disposition": f'inline; filename="{NAME}"',
        "X-Content-Type-Options": "nosniff",
    }
    if request.headers.get("If-None-Match") == tag:
        return web.Response(status=304, headers=headers)
    return web.Response(body=content, content_type=MIME, charset="utf-8", headers=headers)


def _content(session: Session, token: str, clock: Clock) -> bytes | None:
    chat = lockers.chat_of_calendar(session, token)
    return None if chat is None else calendar_of(session, chat, clock.now())


@asynccontextmanager
async def serving(app: web.Application, host: str, port: int) -> AsyncIterator[None]:
    """Serve meanwhile; OSError if the address cannot be had. At the end requests in hand have `CLOSE_S` to be answered."""
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=CLOSE_S)
    await runner.setup()
    try:
        await web.TCPSite(runner, host, port).start()
        yield
    finally:
        await runner.cleanup()
