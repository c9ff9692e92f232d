"""What the service does now and then: dropping what is old, and backups."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from bot.settings import Settings
from scheduler.clock import Clock
from scheduler.prune import DAILY, prune
from scheduler.tick import Chore
from store.engine import Store
from store.errors import StoreError
from store.exchange import backup

SOON = timedelta(minutes=2)
"""After a start there is more urgent work."""
LOOK = timedelta(minutes=10)
"""How often to look whether a backup is due."""


def chores(store: Store, settings: Settings, clock: Clock) -> list[Chore]:
    """Return what is to be done for a store."""
    found = [
        Chore("prune", DAILY, SOON, lambda stopped: prune(store, settings.keep, clock.now(), stopped)),
    ]
    if settings.backup_dir is not None and backup.file_of(store.url) is not None:
        backups = Backups(
            store.url, settings.backup_dir, timedelta(hours=settings.backup_every_h), settings.backup_keep
        )
        found.append(Chore("backup", LOOK, SOON, lambda stopped: backups.make(clock.now(), stopped)))
    return found


@dataclass(frozen=True, slots=True)
class Backups:
    """Copies of a database in a folder: one each `every`, the newest `keep` of them."""

    url: str
    folder: Path
    every: timedelta
    keep: int

    def make(self, now: datetime, stopped: Callable[[], bool]) -> bool:
        """Make one if it is time, and delete older ones once it was looked at; tell whether it was time. StoreError if it fails."""
        before = backup.newest(self.folder)
        if before is not None and now - before.at < self.every:
            return False

        def going_on(_part: float) -> None:
            if stopped():
                raise StoreError("told to stop in the middle of a backup: it is made after the next start")

        backup.back_up(self.url, self.folder / backup.name_at(now), now, going_on)
        backup.drop_old(self.folder, self.keep)
        return True
