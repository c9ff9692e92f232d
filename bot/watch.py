"""What watches the service: signs of life, metrics and reports, put together for the web endpoint."""

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

from bot.health import Checkup, Health, Pulse
from bot.metrics import CONTENT_TYPE, Metrics
from scheduler.clock import Clock
from store import meter
from store.engine import Store
from store.exchange.backup import file_of, newest


class Watch:
    """Listens from the moment it is made until it is closed."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        wires: Callable[[], Sequence[Health]],
        ended: Callable[[], Sequence[str]],
        *,
        delivers: Callable[[], bool] = lambda: True,
        backup_dir: Path | None = None,
    ) -> None:
        """Watch a service by how its wires are, which of its loops ended by a fault, and whether it delivers."""
        self._store, self._clock, self._wires, self._backup_dir = store, clock, wires, backup_dir
        self._delivers = delivers
        self._file = file_of(store.url)
        self._pulse, self._metrics = Pulse(), Metrics(["telegram", "matrix"])
        self.checkup = Checkup(store, clock, self._pulse, wires, ended, delivers=delivers)
        self._leave = (meter.listen(self._pulse.hear), meter.listen(self._metrics.hear))

    async def page(self) -> tuple[bytes, str]:
        """Return the page of metrics and its content type."""
        metrics, now = self._metrics, self._clock.now()
        metrics.set_standing(await self.checkup.standing(), now)
        metrics.set_wires(self._wires())
        metrics.set("delivers", float(self._delivers()))
        metrics.set("tick_age", self._pulse.tick_age_s if self._delivers() else 0)
        metrics.set("repeated", self._store.repeated)
        if self._file is not None and self._file.parent.is_dir():
            metrics.set("disk_free", shutil.disk_usage(self._file.parent).free)
        if self._backup_dir is not None:
            made = newest(self._backup_dir)
            metrics.set("backup_age", (now - made.at).total_seconds() if made else float("inf"))
        return metrics.page(), CONTENT_TYPE

    def close(self) -> None:
        """Listen no more."""
        for leave in self._leave:
            leave()
        self.checkup.close()
