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
from scheduler import limits
from scheduler.clock import SystemClock
from scheduler.limits import Pacer
from scheduler.post import Postman
from scheduler.tick import catch_up, start
from store.engine import Store
from store.helm import Helm

TELEGRAM, MATRIX = "telegram", "matrix"
HEALTH_EVERY_S = 60
LOOK_S = 0.1
"""How soon it is seen that the helm was lost."""
FINISH_S = 8
"""How long what is under way may take to end once the service is told to stop."""
_RETRY_S, _LONGEST_RETRY_S = 2.0, 60.0
log = structlog.get_logger(__name__)


class Service:
    """What runs, and how it is. Lines come up on their own: one that is out of reach keeps no other waiting.

    Every process answers what the web endpoint brings. Delivery, polling and syncing run where the helm is held.
    """

    def __init__(self, store: Store, settings: Settings, say: Callable[[str], None]) -> None:
        """Put everything together; `say` tells whoever started it, one line at a time."""
        self._store, self._settings, self._say = store, settings, say
        self._clock = SystemClock()
        self._conversation = Conversation(
            store, token, settings.web_url, Access(settings.access, settings.listed), Patience()
        )
        self._lines: dict[str, Any] = {}
        self._postmen: dict[str, Postman] = {}
        self._told: dict[str, Health] = {}
        self._tasks: list[asyncio.Task[None]] = []
        self._rings: set[asyncio.Task[None]] = set()

    async def run(self, stop: asyncio.Event) -> None:
        """Run until `stop` is set, then finish what is under way. OSError if the web address cannot be had."""
        loop = asyncio.get_running_loop()
        self._helm = Helm(self._store.url, lambda wire: loop.call_soon_threadsafe(self._heard, wire))
        hook = self._telegram() if self._settings.telegram_token is not None else None
        self._do(self._tasks, self._watch())
        self._do(self._tasks, self._steer())
        try:
            await self._web(hook, stop)
        finally:
            await self._finish()

    def _do(self, tasks: list[asyncio.Task[None]], work: Coroutine[Any, Any, None]) -> None:
        tasks.append(asyncio.create_task(work))

    async def _steer(self) -> None:
        """Deliver while this process is at the helm; stop the moment it is not, before another begins."""
        while True:
            while not self._helm.held:  # noqa: ASYNC110 - it may lapse without anybody to tell
                await asyncio.sleep(LOOK_S)
            self._say("delivery: here")
            delivering = asyncio.create_task(self._deliver())
            try:
                while self._helm.held:  # noqa: ASYNC110 - as above
                    await asyncio.sleep(LOOK_S)
                log.warning("helm_lost")
                for postman in self._postmen.values():
                    postman.abandon()
            finally:
                delivering.cancel()
                await asyncio.wait([delivering], timeout=FINISH_S)
            self._say("delivery: elsewhere")

    async def _deliver(self) -> None:
        """Carry what is due and what was asked, over lines that are brought up, until cancelled."""
        wires = Wires(self._store, self._conversation, self._clock, lambda: self._helm.held)
        tasks: list[asyncio.Task[None]] = []
        if TELEGRAM in self._lines:
            self._do(tasks, self._keep_up(TELEGRAM, self._lines[TELEGRAM], self._poll(wires, tasks)))
        if self._settings.matrix_homeserver is not None and self._settings.matrix_user is not None:
            line = self._lines[MATRIX] = self._matrix()
            self._do(tasks, self._keep_up(MATRIX, line, self._sync(line, wires, tasks)))
        alarm = start(self._store, wires, self._clock, lambda _: None)
        try:
            await asyncio.Event().wait()
        finally:
            alarm.shutdown(wait=False)
            for task in tasks:
                task.cancel()
            self._postmen.clear()
            if tasks:
                await asyncio.wait(tasks)
            if MATRIX in self._lines:
                await self._lines.pop(MATRIX).close()

    def _stands(self, wire: str, line: Any, wires: Wires, tasks: list[asyncio.Task[None]]) -> None:  # noqa: ANN401 - a line of either wire
        """Begin to send on a line that is up, once however often it came up."""
        if wire not in wires.wires:
            wires.open(wire, line)
            postman = self._postmen[wire] = Postman(self._store, wire, wires, self._clock)
            self._do(tasks, postman.run())

    def _ring(self, wire: str) -> None:
        """Say that a letter was stored: to the postman, who may be in another process."""
        if not self._heard(wire):
            call = asyncio.create_task(asyncio.to_thread(self._helm.ring, wire))
            self._rings.add(call)
            call.add_done_callback(self._rings.discard)

    def _heard(self, wire: str) -> bool:
        """Ring for the postman of this process; False if there is none."""
        postman = self._postmen.get(wire)
        if postman is not None:
            postman.ring()
        return postman is not None

    def _telegram(self) -> Callable[[str, bytes], Coroutine[Any, Any, int]] | None:
        """Make the line to Telegram; return what takes deliveries, None if it polls."""
        from bot.transports.telegram import WIRE, Telegram, client  # noqa: PLC0415 - only where that wire is on

        bot = client(_secret(self._settings.telegram_token), self._settings.telegram_api)
        line = self._lines[WIRE] = Telegram(
            bot, self._conversation, self._clock, Pacer(limits.TELEGRAM), lambda: self._ring(WIRE)
        )
        webhook = self._webhook
        if webhook is None:
            return None
        self._do(self._tasks, self._keep_up(WIRE, line, line.log_in))
        return lambda told, body: line.webhook(webhook[1], told, body)

    @property
    def _webhook(self) -> tuple[str, str] | None:
        """Return where Telegram is to deliver updates and the secret that comes with them, None if we poll."""
        secret, url = _secret(self._settings.telegram_webhook_secret), self._settings.web_url
        return (f"{url.rstrip('/')}/telegram", secret) if secret and url else None

    def _poll(self, wires: Wires, tasks: list[asyncio.Task[None]]) -> Callable[[], Coroutine[Any, Any, None]]:
        line = self._lines[TELEGRAM]

        async def listen() -> None:
            await line.open(self._webhook)
            self._stands(TELEGRAM, line, wires, tasks)
            if self._webhook is None:
                await line.poll()

        return listen

    def _matrix(self) -> Any:  # noqa: ANN401 - loaded only where that wire is on
        from bot.transports.matrix import WIRE, Matrix  # noqa: PLC0415 - only where that wire is on
        from bot.transports.matrix_account import Account  # noqa: PLC0415 - same

        settings = self._settings
        account = Account(
            settings.matrix_homeserver or "",
            settings.matrix_user or "",
            settings.data_folder / "matrix",
            _secret(settings.matrix_password) or None,
            _secret(settings.matrix_token) or None,
        )
        return Matrix(
            account,
            self._conversation,
            self._store,
            self._clock,
            pacer=Pacer(limits.Allowance(settings.matrix_per_second)),
            ring=lambda: self._ring(WIRE),
            servers=settings.trusted_servers,
            loud=settings.matrix_loud,
        )

    def _sync(
        self,
        line: Any,  # noqa: ANN401 - as above
        wires: Wires,
        tasks: list[asyncio.Task[None]],
    ) -> Callable[[], Coroutine[Any, Any, None]]:
        async def listen() -> None:
            await line.open()
            self._stands(MATRIX, line, wires, tasks)
            await line.listen()

        return listen

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
            for line in self._lines.values():
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
        if self._settings.telegram_token is None and self._settings.matrix_homeserver is None:
            self._say(
                "no wire is on: set RINSETANK_TELEGRAM_TOKEN or RINSETANK_MATRIX_HOMESERVER (see deploy/)"
            )
        app = application(self._store, self._clock, hook)
        await serve(app, settings.web_host, settings.web_port, stop)

    async def _finish(self) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.wait([*self._tasks, *self._rings], timeout=FINISH_S)
        for line in self._lines.values():
            await line.close()
        await asyncio.to_thread(self._helm.close)


async def serve(store: Store, settings: Settings, say: Callable[[str], None]) -> None:
    """Run the service until the process is told to stop; OSError if the web address cannot be had."""
    stop = asyncio.Event()
    for name in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(name, stop.set)
    catch_up(store, SystemClock())
    await Service(store, settings, say).run(stop)


def _secret(held: Any) -> str:  # noqa: ANN401 - a SecretStr or None
    return "" if held is None else str(held.get_secret_value())
