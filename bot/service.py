"""The bot as a service: every wire that has credentials, the reminders, the answers and the web endpoint, until told to stop."""

import asyncio
import signal
from collections.abc import Callable, Coroutine
from typing import Any

import structlog

from bot.access import Access, Patience
from bot.conversation import Conversation
from bot.health import Health
from bot.main import token
from bot.settings import Settings
from bot.wires import Wires
from scheduler.clock import SystemClock
from scheduler.limits import TELEGRAM, Allowance, Pacer
from scheduler.post import Postman
from scheduler.tick import catch_up, start
from store.engine import Store

HEALTH_EVERY_S = 60
FINISH_S = 8
"""How long what is under way may take to end once the service is told to stop."""
_RETRY_S, _LONGEST_RETRY_S = 2.0, 60.0
log = structlog.get_logger(__name__)


class Service:
    """What runs, and how it is. Lines come up on their own: one that is out of reach keeps no other waiting."""

    def __init__(self, store: Store, settings: Settings, say: Callable[[str], None]) -> None:
        """Put everything together; `say` tells whoever started it, one line at a time."""
        self._store, self._settings, self._say = store, settings, say
        self._clock = SystemClock()
        self._conversation = Conversation(
            store, token, settings.web_url, Access(settings.access, settings.listed), Patience()
        )
        self._wires = Wires(store, self._conversation, self._clock)
        self._lines: list[Any] = []
        self._told: dict[str, Health] = {}
        self._tasks: list[asyncio.Task[None]] = []

    async def run(self, stop: asyncio.Event) -> None:
        """Run until `stop` is set, then finish what is under way. OSError if the web address cannot be had."""
        hook = self._telegram() if self._settings.telegram_token is not None else None
        if self._settings.matrix_homeserver is not None and self._settings.matrix_user is not None:
            self._matrix()
        self._do(self._watch())
        alarm = start(self._store, self._wires, self._clock, lambda _: None)
        try:
            await self._web(hook, stop)
        finally:
            alarm.shutdown(wait=False)
            await self._finish()

    def _do(self, work: Coroutine[Any, Any, None]) -> None:
        self._tasks.append(asyncio.create_task(work))

    def _stands(self, wire: str, line: Any, postman: Postman) -> None:  # noqa: ANN401 - a line of either wire
        """Begin to send on a line that is up, once however often it came up."""
        if wire not in self._wires.wires:
            self._wires.open(wire, line)
            self._do(postman.run())

    def _postman(self, wire: str) -> Postman:
        return Postman(self._store, wire, self._wires, self._clock)

    def _telegram(self) -> Callable[[str, bytes], Coroutine[Any, Any, int]] | None:
        """Bring Telegram up; return what takes deliveries, None if it polls."""
        from bot.transports.telegram import WIRE, Telegram, client  # noqa: PLC0415 - only where that wire is on

        settings = self._settings
        postman = self._postman(WIRE)
        bot = client(_secret(settings.telegram_token), settings.telegram_api)
        line = Telegram(bot, self._conversation, self._clock, Pacer(TELEGRAM), postman.ring)
        secret = _secret(settings.telegram_webhook_secret)
        webhook = (
            (f"{settings.web_url.rstrip('/')}/telegram", secret) if secret and settings.web_url else None
        )

        async def listen() -> None:
            await line.open(webhook)
            self._stands(WIRE, line, postman)
            if webhook is None:
                await line.poll()

        self._lines.append(line)
        self._do(self._keep_up(WIRE, line, listen))
        return (lambda told, body: line.webhook(secret, told, body)) if webhook else None

    def _matrix(self) -> None:
        from bot.transports.matrix import WIRE, Matrix  # noqa: PLC0415 - only where that wire is on
        from bot.transports.matrix_account import Account  # noqa: PLC0415 - same

        settings = self._settings
        postman = self._postman(WIRE)
        account = Account(
            settings.matrix_homeserver or "",
            settings.matrix_user or "",
            settings.data_folder / "matrix",
            _secret(settings.matrix_password) or None,
            _secret(settings.matrix_token) or None,
        )
        line = Matrix(
            account,
            self._conversation,
            self._store,
            self._clock,
            pacer=Pacer(Allowance(settings.matrix_per_second)),
            ring=postman.ring,
            servers=settings.trusted_servers,
            loud=settings.matrix_loud,
        )

        async def listen() -> None:
            await line.open()
            self._stands(WIRE, line, postman)
            await line.listen()

        self._lines.append(line)
        self._do(self._keep_up(WIRE, line, listen))

    async def _keep_up(self, wire: str, line: Any, listen: Callable[[], Coroutine[Any, Any, None]]) -> None:  # noqa: ANN401
        """Bring a line up until it stands; a login that is refused is not tried again, everything else is."""
        pause = _RETRY_S
        while True:
            try:
                await listen()
            except Exception as error:  # noqa: BLE001 - each wire has errors of its own
                refused = line.refuses(error)
                line.health = Health(wire, well=False, said=refused or "cannot be reached")
                log.warning("wire_down", wire=wire, reason=refused or type(error).__name__)
                if refused:
                    return
                await asyncio.sleep(pause)
                pause = min(_LONGEST_RETRY_S, pause * 2)
            else:
                return

    async def _watch(self) -> None:
        """Tell the health of each wire when it changes, and log it every minute."""
        elapsed = 0
        while True:
            for line in self._lines:
                health = line.health
                if self._told.get(health.wire) != health:
                    self._told[health.wire] = health
                    self._say(f"{health.wire}: {'ok, ' if health.well else 'NOT WELL, '}{health.said}")
                if elapsed % HEALTH_EVERY_S == 0:
                    log.info("wire_health", wire=health.wire, well=health.well, said=health.said)
            await asyncio.sleep(1)
            elapsed += 1

    async def _web(
        self, hook: Callable[[str, bytes], Coroutine[Any, Any, int]] | None, stop: asyncio.Event
    ) -> None:
        from bot.transports.web import application, serve  # noqa: PLC0415 - as above

        settings = self._settings
        self._say(f"web: calendars on http://{settings.web_host}:{settings.web_port}")
        if not self._lines:
            self._say(
                "no wire is on: set RINSETANK_TELEGRAM_TOKEN or RINSETANK_MATRIX_HOMESERVER (see deploy/)"
            )
        app = application(self._store, self._clock, hook)
        await serve(app, settings.web_host, settings.web_port, stop)

    async def _finish(self) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.wait(self._tasks, timeout=FINISH_S)
        for line in self._lines:
            await line.close()


async def serve(store: Store, settings: Settings, say: Callable[[str], None]) -> None:
    """Run the service until the process is told to stop; OSError if the web address cannot be had."""
    stop = asyncio.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(name, stop.set)
    catch_up(store, SystemClock())
    await Service(store, settings, say).run(stop)


def _secret(held: Any) -> str:  # noqa: ANN401 - a SecretStr or None
    return "" if held is None else str(held.get_secret_value())
