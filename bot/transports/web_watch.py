"""Health and metrics over HTTP: for whoever watches the service, with nothing in them of whoever uses it."""

import hmac
from collections.abc import Awaitable, Callable

from aiohttp import web

from bot.health import Report

Ask = Callable[[], Awaitable[Report]]
Page = Callable[[], Awaitable[tuple[bytes, str]]]
"""Returns the page of metrics and its content type."""
_PASSED_ON = ("Forwarded", "X-Forwarded-For", "X-Real-Ip", "Via")
"""What a proxy says of whom it asks for."""


def add_health(app: web.Application, alive: Ask, ready: Ask) -> None:
    """Answer `/healthz` and `/readyz` with 200 or 503 and each check."""

    def answering(ask: Ask) -> Callable[[web.Request], Awaitable[web.Response]]:
        async def answer(_request: web.Request) -> web.Response:
            report = await ask()
            headers = {"Cache-Control": "no-store"}
            return web.json_response(report.as_data(), status=200 if report.ok else 503, headers=headers)

        return answer

    app.router.add_get("/healthz", answering(alive))
    app.router.add_get("/readyz", answering(ready))


def add_metrics(app: web.Application, page: Page, token: str) -> None:
    """Answer `/metrics` to who has the token; without one, to whoever asks directly and not through a proxy."""

    async def metrics(request: web.Request) -> web.Response:
        told = request.headers.get("Authorization", "")
        if token and not hmac.compare_digest(
            told.encode(errors="surrogateescape"), f"Bearer {token}".encode()
        ):
            raise web.HTTPUnauthorized(headers={"WWW-Authenticate": "Bearer"})
        if not token and any(name in request.headers for name in _PASSED_ON):
            raise web.HTTPNotFound
        body, content_type = await page()
        return web.Response(body=body, headers={"Content-Type": content_type, "Cache-Control": "no-store"})

    app.router.add_get("/metrics", metrics)
