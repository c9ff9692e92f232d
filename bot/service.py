"""The bot as a service: every wire that has credentials, the reminders, the answers and the web endpoint, until told to stop."""

import asyncio
import faulthandler
import os
import signal
from collections.abc import Callable, Coroutine
from contextlib import AsyncExitStack, suppress
from typing import Any

import structlog

from bot.access import Access, Patience
from bot.apart import Apart
from bot.chores import chores
from bot.conversation import Conversation
from bot.health import Health
from bot.main import token
from bot.settings import Settings
from bot.transports.web import Application, application, serving
from bot.transports.web_watch import add_health, add_metrics
from bot.watch import Watch
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
FINISH_S, CLOSE_S = 6.0, 1.0
"""How long what is under way may take to end once the service is told to stop, and each wire to close after that."""
HELD_S, IN_HAND_S = 60.0, 300.0
"""How long the interpreter may be held, and how long a message may be in hand: some times the largest file on a slow machine."""
_TOLD_TWICE, _HANGS = 130, 70
_RETRY_S, _LONGEST_RETRY_S = 2.0, 60.0
log = structlog.get_logger(__name__)


class Service:
    """What runs, and how it is. Lines come up on their own: one that is out of reach keeps no other waiting.

    Every process answers what the web endpoint brings. Delivery, polling and syncing run where the helm is held.
    """

    def __init__(self, store: Store, settings: Settings, say: Callable[[str], None]) -> None:
        """Put everything together; `say` tells whoever started it, one line at a time."""
        self._store, self._settings, self._say = store, settings, say
        self._clock, self._apart = SystemClock(), Apart()
        self._conversation = Conversation(
            store,
            token,
            settings.web_url,
            Access(settings.access, settings.listed),
            Patience(),
            run=self._apart,
        )
        self._lines: dict[str, Any] = {}
        self._postmen: dict[str, Postman] = {}
        self._told: dict[str, Health] = {}
        self._tasks: list[asyncio.Task[None]] = []
        self._loops: list[asyncio.Task[None]] = []
        """Those of the delivery, which is a task itself."""
        self._delivery: list[asyncio.Task[None]] = []
        self._rings: set[asyncio.Task[None]] = set()
        self._stopping = self._delivering = False
        self._watched = Watch(
            store,
            self._clock,
            self._healths,
            self._ended,
            delivers=lambda: self._delivering,
            backup_dir=settings.backup_dir,
        )

    async def run(self, stop: asyncio.Event) -> None:
        """Run until `stop` is set, then finish what is under way. OSError if a web address cannot be had."""
        self._apart.begin()
        loop = asyncio.get_running_loop()
        self._helm = Helm(self._store.url, lambda wire: loop.call_soon_threadsafe(self._heard, wire))
        hook = self._telegram() if self._settings.telegram_token is not None else None
        self._do(self._tasks, self._watch(), "watch")
        self._do(self._tasks, self._steer(), "helm")
        try:
            async with AsyncExitStack() as sites:
                for app, host, port in self._sites(hook):
                    await sites.enter_async_context(serving(app, host, port))
                await stop.wait()
                self._take_no_more()
        finally:
            self._take_no_more()
            await self._finish()
            self._apart.close()
            self._watched.close()

    def _do(self, tasks: list[asyncio.Task[None]], work: Coroutine[Any, Any, None], name: str) -> None:
        tasks.append(asyncio.create_task(work, name=name))

    def _healths(self) -> list[Health]:
        """Return how the wires are; where another process polls them, none is this one's."""
        if not self._delivering and self._webhook is None:
            return []
        return [line.health for line in self._lines.values()]

    def _ended(self) -> list[str]:
        """Name the loops that ended by a fault of ours."""
        over = (t for t in (*self._tasks, *self._delivery, *self._loops) if t.done() and not t.cancelled())
        return [t.get_name() for t in over if t.exception() is not None]

    async def _steer(self) -> None:
        """Deliver while this process is at the helm; stop the moment it is not, before another begins."""
        while True:
            while not self._helm.held:  # noqa: ASYNC110 - it may lapse without anybody to tell
                await asyncio.sleep(LOOK_S)
            self._say("delivery: here")
            delivering = asyncio.create_task(self._deliver(), name="delivery")
            self._delivery = [delivering]
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
            self._do(
                tasks, self._keep_up(TELEGRAM, self._lines[TELEGRAM], self._poll(wires, tasks)), TELEGRAM
            )
        if self._settings.matrix_homeserver is not None and self._settings.matrix_user is not None:
            line = self._lines[MATRIX] = self._matrix()
            self._do(tasks, self._keep_up(MATRIX, line, self._sync(line, wires, tasks)), MATRIX)
        beside = chores(self._store, self._settings, self._clock)
        alarm = start(self._store, wires, self._clock, lambda _: None, beside)
        self._loops, self._delivering = tasks, True
        try:
            await asyncio.Event().wait()
        finally:
            self._delivering = False
            alarm.shutdown()
            for task in tasks:
                task.cancel()
            self._postmen.clear()
            await asyncio.gather(alarm.finish(), *tasks, return_exceptions=True)
            if MATRIX in self._lines:
                await _closed(self._lines.pop(MATRIX))

    def _stands(self, wire: str, line: Any, wires: Wires, tasks: list[asyncio.Task[None]]) -> None:  # noqa: ANN401 - a line of either wire
        """Begin to send on a line that is up, once however often it came up."""
        if wire not in wires.wires:
            wires.open(wire, line)
            postman = self._postmen[wire] = Postman(self._store, wire, wires, self._clock)
            self._do(tasks, postman.run(), f"post_{wire}")

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
        self._do(self._tasks, self._keep_up(WIRE, line, line.log_in), WIRE)

        async def delivered(told: str, body: bytes) -> int:
            return 503 if self._stopping else await line.webhook(webhook[1], told, body)  # it comes again

        return delivered

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

    async def stay_awake(self) -> None:
        """End the process, which is begun anew, when one piece of work keeps all others waiting; then it counts as attempted.

        What holds the interpreter from C stops this loop too: then a timer that needs no interpreter ends it.
        """
        while True:
            faulthandler.dump_traceback_later(HELD_S, exit=True)
            if self._conversation.attempts.longest_s > IN_HAND_S:
                log.error("update_hangs", seconds=IN_HAND_S)
                os._exit(_HANGS)
            await asyncio.sleep(HELD_S / 10)

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

    def _sites(
        self, hook: Callable[[str, bytes], Coroutine[Any, Any, int]] | None
    ) -> list[tuple[Application, str, int]]:
        """Return what is served, where."""
        settings, checkup = self._settings, self._watched.checkup
        self._say(f"web: calendars on http://{settings.web_host}:{settings.web_port}")
        if settings.telegram_token is None and settings.matrix_homeserver is None:
            self._say(
                "no wire is on: set RINSETANK_TELEGRAM_TOKEN or RINSETANK_MATRIX_HOMESERVER (see deploy/)"
            )
        app = application(self._store, self._clock, hook)
        add_health(app, checkup.alive, checkup.ready)
        sites = [(app, settings.web_host, settings.web_port)]
        if settings.metrics_port not in {None, settings.web_port}:
            sites.append((Application(), settings.web_host, settings.metrics_port or 0))
        add_metrics(sites[-1][0], self._watched.page, _secret(settings.metrics_token))
        return sites

    def _take_no_more(self) -> None:
        """Take no update, begin no delivery: what is in hand is finished, what is not begun stays stored."""
        self._stopping = True
        for task in self._tasks:
            if not task.done() and not task.cancelling():
                task.cancel()

    async def _finish(self) -> None:
        """Wait for what is in hand, at the helm still; what takes too long is left to its lease, or comes again."""
        with suppress(TimeoutError):
            async with asyncio.timeout(FINISH_S):
                await asyncio.gather(*self._tasks, *self._rings, return_exceptions=True)
        for line in self._lines.values():
            await _closed(line)
        await asyncio.to_thread(self._helm.close)


async def serve(store: Store, settings: Settings, say: Callable[[str], None]) -> None:
    """Run the service until the process is told to stop; OSError if the web address cannot be had."""
    stop = asyncio.Event()

    def told() -> None:
        if stop.is_set():
            os._exit(_TOLD_TWICE)  # the store is sound at any instant
        stop.set()

    for name in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(name, told)
    await asyncio.to_thread(catch_up, store, SystemClock(), stop.is_set)
    service = Service(store, settings, say)
    guard = asyncio.create_task(service.stay_awake())
    try:
        await service.run(stop)
    finally:
        guard.cancel()
        faulthandler.cancel_dump_traceback_later()


async def _closed(line: Any) -> None:  # noqa: ANN401 - a line of either wire
    """Close a line, or leave it if that takes too long."""
    with suppress(TimeoutError):
        async with asyncio.timeout(CLOSE_S):
            await line.close()


def _secret(held: Any) -> str:  # noqa: ANN401 - a SecretStr or None
    return "" if held is None else str(held.get_secret_value())
