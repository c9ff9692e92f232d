"""What is dropped once its time is over, and when that is. Facts are never: they go when a diver says so, and then at once."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TypeVar

from store import attempts, meter, retention
from store.engine import Session, Store

DAILY = timedelta(days=1)
REST_S = 0.05
"""Between two batches whoever writes goes first."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Keep:
    """How long what is kept. None: for ever."""

    updates: timedelta | None
    """Ids of updates that acted; a wire must not bring one again later than that."""
    notices: timedelta | None
    """Reminders that were sent, cancelled or given up."""
    journal: timedelta | None
    """What each message changed: undo and edits reach back that far."""
    files: timedelta | None
    """Dive files that nobody answered. Those that were counted are emptied with the journal."""


def prune(
    store: Store, keep: Keep, now: datetime, stopped: Callable[[], bool] = lambda: False
) -> dict[str, int]:
    """Drop what is old, batch by batch, until nothing is or `stopped`; return how many rows of each kind."""
    by_number = _ByNumber(store, stopped)
    before = {what: None if span is None else now - span for what, span in _spans(keep).items()}
    done = {"invites": store.write(lambda s: retention.drop_invites(s, now))}
    if (cut := before["updates"]) is not None:
        done["updates"] = _drain(
            store, lambda s: retention.old_updates(s, cut), retention.drop_updates, stopped
        )
        store.write(lambda s: attempts.drop_old(s, cut))
    if (old := before["notices"]) is not None:
        done["notices"] = by_number.drain(
            lambda s, after: retention.old_notices(s, old, after), retention.drop_notices
        )
    if (gone := before["journal"]) is not None:
        done["journal"] = by_number.drain(
            lambda s, after: retention.old_entries(s, gone, after), retention.drop_entries
        )
    files = (before["files"], before["journal"])
    done["files"] = _drain(
        store,
        lambda s: retention.old_files(s, *files),
        lambda s, ids: retention.empty_files(s, ids, *files),
        stopped,
    )
    for what, count in done.items():
        meter.tell("pruned", count, what=what)
    return done


def _spans(keep: Keep) -> dict[str, timedelta | None]:
    return {"updates": keep.updates, "notices": keep.notices, "journal": keep.journal, "files": keep.files}


def _drain(
    store: Store,
    find: Callable[[Session], Sequence[T]],
    drop: Callable[[Session, Sequence[T]], int],
    stopped: Callable[[], bool],
) -> int:
    total = 0
    while not stopped() and (found := store.read(find)):
        total += store.write(lambda s, ids=found: drop(s, ids))  # type: ignore[misc]
        time.sleep(REST_S)
    return total


@dataclass(frozen=True, slots=True)
class _ByNumber:
    """Goes through a table by its numbers, so that what stays is looked at once."""

    store: Store
    stopped: Callable[[], bool]

    def drain(
        self, find: Callable[[Session, int], Sequence[int]], drop: Callable[[Session, Sequence[int]], int]
    ) -> int:
        total = after = 0
        while not self.stopped() and (found := self.store.read(lambda s, n=after: find(s, n))):  # type: ignore[misc]
            after = found[-1]
            total += self.store.write(lambda s, ids=found: drop(s, ids))  # type: ignore[misc]
            time.sleep(REST_S)
        return total
