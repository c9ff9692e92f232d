"""What a copy that was put back must not say again: nothing was kept of what went out since it was made."""

from datetime import datetime

from scheduler.clock import local_date
from scheduler.sweep import SWEEP, sweep
from scheduler.trips import EVE
from store import after_restore
from store.engine import Session, Store


def settle(store: Store, now: datetime) -> None:
    """Have all that was to be told by now wait for the next day's message of its chat, and forget what cannot wait.

    So nothing is said twice on one day, and nothing that is due is lost. What was told since the copy was made may be
    told once more, the day after.
    """
    while store.write(lambda s: sweep(s, now)) == SWEEP:
        pass
    store.write(lambda s: _wait(s, now))


def _wait(session: Session, now: datetime) -> None:
    after_restore.drop_letters(session)
    after_restore.cancel_calls(session, str(EVE))
    for zone in after_restore.zones(session):
        after_restore.count_as_reminded(session, zone, local_date(now, zone))
