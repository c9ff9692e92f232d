"""A loopback stand-in for the Telegram Bot API that holds a bot to the published limits."""

import asyncio
import re
import time
from collections.abc import Callable
from types import TracebackType
from typing import Any, Self

import aiohttp
from aiohttp import web

from tests.wires.bot_api_limits import UPLOAD_BYTES, Params, Refused, too_many
from tests.wires.bot_api_methods import Methods
from tests.wires.bot_api_world import Answer, Chat, InlineAnswer, Sent, World

__all__ = ["Answer", "BotApi", "Chat", "InlineAnswer", "Refused", "Sent"]

TOKEN = re.compile(r"\d+:[\w-]+")
PROXY_PAGE = "<html><head><title>502 Bad Gateway</title></head><body>502 Bad Gateway</body></html>"
FAULTS = re.compile(r"502|500|401|cut_before|cut_after|garbage|slow:\d+(\.\d+)?|429:\d+")


class BotApi(World):
    """The server: `async with BotApi() as api`, then a bot with api.base_url and api.base_file_url."""

    def __init__(
        self,
        token: str = "1234:loopback",
        username: str = "rinse_bot",
        pace: float = 1.0,
        clock: Callable[[], float] | None = None,
        wall: Callable[[], float] = time.time,
    ) -> None:
        super().__init__(token, username, pace, clock, wall)
        self.methods = Methods(self)
        self.calls: list[tuple[str, float]] = []
        self.refusals: list[tuple[str, int, str]] = []
        self._faults: list[list[Any]] = []
        self.base_url = self.base_file_url = ""

    async def __aenter__(self) -> Self:
        # Room for a file at its limit and the form around it; _upload refuses the file itself.
        app = web.Application(client_max_size=UPLOAD_BYTES + (1 << 20))
        app.router.add_route("*", "/bot{token}/{method}", self._call)
        app.router.add_get("/file/bot{token}/{path:.+}", self._download)
        # A poll whose caller has gone must not be the one that a newer poll ends with a conflict.
        self._runner = web.AppRunner(app, handler_cancellation=True, access_log=None, shutdown_timeout=0.1)
        await self._runner.setup()
        await web.TCPSite(self._runner, "127.0.0.1", 0).start()
        host, port = self._runner.addresses[0][:2]
        self.base_url, self.base_file_url = f"http://{host}:{port}/bot", f"http://{host}:{port}/file/bot"
        self._session = aiohttp.ClientSession(timeout=aiohttp.ClientTimeout(total=60))
        self._carrier = asyncio.create_task(self.updates.carry(self._session))
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._carrier.cancel()
        await asyncio.gather(self._carrier, return_exceptions=True)
        await self._session.close()
        self.updates.end_poll()
        await self._runner.cleanup()

    # --- for tests

    def fault(self, method: str, kind: str, times: int = 1) -> None:
        """Let the next calls of a method fail ("*": of any method, "file": the download).

        The kinds: 502, 500, 401, 429:SECONDS, garbage and cut_before do not act; cut_after acts and then
        cuts the line; slow:SECONDS acts at once and answers late.
        """
        assert FAULTS.fullmatch(kind), f"no such fault: {kind}"
        self._faults.append([method, kind, times])

    async def wait_for(self, predicate: Callable[[], object], timeout: float = 60.0) -> None:  # noqa: ASYNC109
        """Wait until something is true, or fail with what stands in the chats."""
        end = time.monotonic() + timeout
        while not predicate():
            if time.monotonic() > end:
                raise AssertionError(f"not so after {timeout} s\n{self.state()}")
            await asyncio.sleep(0.005)

    def state(self) -> str:
        """Describe the end of every chat, what waits, and what was refused."""
        lines = [f"updates waiting: {len(self.updates.pending)}; last refusals: {self.refusals[-5:]}"]
        for chat in self.chats.values():
            lines.append(f"{chat.kind} {chat.id} {chat.name!r} ({chat.state})")
            lines += [
                f"  {body['message_id']} {body['from']['first_name']}: {body.get('text', sorted(body))!r} "
                f"{chat.sent[number].buttons if number in chat.sent else ''}"
                for number, body in list(chat.messages.items())[-6:]
            ]
        return "\n".join(lines)

    # --- for the bot

    async def _call(self, request: web.Request) -> web.StreamResponse:
        asked = request.match_info["method"]
        method = self.methods.name(asked)
        name = method or asked
        self.calls.append((name, self.clock()))
        fault = self._fault_of(name)
        if early := self._fails(request, name, fault):
            return early
        try:
            answer = web.json_response({"ok": True, "result": await self._act(request, method)})
        except Refused as refused:
            answer = self._refuse(name, refused)
        except web.HTTPRequestEntityTooLarge:
            answer = self._refuse(name, Refused(413, "Request Entity Too Large"))
        if fault == "cut_after":
            return cut(request)
        if fault.startswith("slow:"):
            await asyncio.sleep(float(fault.removeprefix("slow:")))
        return answer

    async def _download(self, request: web.Request) -> web.StreamResponse:
        self.calls.append(("file", self.clock()))
        if early := self._fails(request, "file", self._fault_of("file")):
            return early
        try:
            return web.Response(body=self._file(request))
        except Refused as refused:
            return self._refuse("file", refused)

    async def _act(self, request: web.Request, method: str | None) -> object:
        """Do what is asked and return the result."""
        self._check_token(request)
        if method is None:
            raise Refused(404, "Not Found")
        return await self.methods.known[method](await read_params(request))

    def _file(self, request: web.Request) -> bytes:
        self._check_token(request)
        kept = dict(self.files.values())
        if request.match_info["path"] not in kept:
            raise Refused(404, "Not Found")
        return kept[request.match_info["path"]]

    def _check_token(self, request: web.Request) -> None:
        token = request.match_info["token"]
        if not TOKEN.fullmatch(token):
            raise Refused(404, "Not Found")
        if token != self.token:
            raise Refused(401, "Unauthorized")

    def _refuse(self, method: str, refused: Refused) -> web.Response:
        self.refusals.append((method, refused.code, refused.description))
        body: dict[str, Any] = {
            "ok": False,
            "error_code": refused.code,
            "description": refused.description,
        }
        if refused.parameters:
            body["parameters"] = refused.parameters
        return web.json_response(body, status=refused.code)

    def _fault_of(self, method: str) -> str:
        """Take the next fault that was ordered for a method, if there is one."""
        for row in self._faults:
            if row[0] in {method, "*"} and row[2] > 0:
                row[2] -= 1
                return str(row[1])
        return ""

    def _fails(self, request: web.Request, method: str, fault: str) -> web.StreamResponse | None:
        """Return the answer of a fault that keeps the call from acting."""
        if fault == "502":
            return web.Response(status=502, text=PROXY_PAGE, content_type="text/html")
        if fault == "500":
            body = {"ok": False, "error_code": 500, "description": "Internal Server Error"}
            return web.json_response(body, status=500)
        if fault == "garbage":
            return web.Response(text="<!doctype html><p>Welcome</p>", content_type="text/html")
        if fault == "cut_before":
            return cut(request)
        if fault == "401":
            return self._refuse(method, Refused(401, "Unauthorized"))
        if fault.startswith("429:"):
            return self._refuse(method, too_many(float(fault.removeprefix("429:"))))
        return None


def cut(request: web.Request) -> web.StreamResponse:
    """Close the line with no answer."""
    if request.transport:
        request.transport.abort()
    return web.Response()


async def read_params(request: web.Request) -> Params:
    """Read the parameters of a call from the address and from a form or a JSON body."""
    values: dict[str, Any] = dict(request.query)
    files: dict[str, tuple[str, bytes]] = {}
    if request.content_type == "application/json":
        values |= await request.json() if request.can_read_body else {}
    else:
        for name, part in (await request.post()).items():
            if isinstance(part, web.FileField):
                files[name] = (part.filename, part.file.read())
            else:
                values[name] = part
    return Params(values, files)
