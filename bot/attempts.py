"""An update that ends the process is not begun for ever: the third time it is put aside, and the next one is served."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from typing import TypeVar

import structlog

from bot.updates import Update
from store import attempts
from store.engine import Session, Store
from store.errors import StoreError

T = TypeVar("T")
MOST_BEGUN = 2
"""Attempts that never ended, after which an update is put aside."""
log = structlog.get_logger(__name__)


class Attempts:
    """Notes what is in hand. What died once is tried again with nothing else in hand, so that no other is blamed."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._changed = threading.Condition()
        self._in_hand: dict[int, float] = {}
        self._numbers = count()
        self._alone = False
        self._stumbled: set[tuple[str, str]] = set()
        """What came to an end here that could not be noted, as the database was out of reach: it killed nobody."""

    @property
    def longest_s(self) -> float:
        """Return how long the longest piece of work has been in hand."""
        now = time.monotonic()
        return max((now - since for since in list(self._in_hand.values())), default=0.0)

    def run(self, update: Update, work: Callable[[], T], put_aside: Callable[[], T]) -> T:
        """Do what an update asks for; `put_aside` in its place if it never came to an end before."""
        with self._among_others():
            if not self._begun_before(update, alone=False):
                return self._to_its_end(update, work)
        with self._by_itself():
            before = self._begun_before(update, alone=True)
            log.warning("update_begun_again", wire=update.wire, times=before)
            return put_aside() if before >= MOST_BEGUN else self._to_its_end(update, work)

    def _begun_before(self, update: Update, *, alone: bool) -> int:
        if (key := key_of(update)) is None:
            return 0
        now = update.received or update.at

        def note(session: Session) -> int:
            if key in self._stumbled:
                attempts.end(session, key)
            return attempts.begin(session, key, what_of(update), now, alone=alone)

        try:
            before = self._store.note(note)
        except StoreError:  # the unit of work itself says so
            return 0
        self._stumbled.discard(key)
        return before

    def _to_its_end(self, update: Update, work: Callable[[], T]) -> T:
        """Do it; an error is an end too, whatever the database says to it."""
        try:
            return work()
        except StoreError:
            if (key := key_of(update)) is not None:
                self._stumbled.add(key)
            raise

    @contextmanager
    def _among_others(self) -> Iterator[None]:
        number = next(self._numbers)
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            self._in_hand[number] = time.monotonic()
        try:
            yield
        finally:
            with self._changed:
                del self._in_hand[number]
                self._changed.notify_all()

    @contextmanager
    def _by_itself(self) -> Iterator[None]:
        with self._changed:
            self._changed.wait_for(lambda: not self._alone)
            self._alone = True
            self._changed.wait_for(lambda: not self._in_hand)
            self._in_hand[-1] = time.monotonic()
        try:
            yield
        finally:
            with self._changed:
                del self._in_hand[-1]
                self._alone = False
                self._changed.notify_all()


def key_of(update: Update) -> tuple[str, str] | None:
    """Return what names an update; None on a wire where nothing comes twice."""
    return (update.wire, update.update_id) if update.update_id is not None and update.by_post else None


def what_of(update: Update) -> str:
    """Say what an update is, without a word of it."""
    if update.file is not None:
        return f"a file of {len(update.file[1]):,} bytes"
    if update.text is not None:
        return f"a text of {len(update.text):,} characters"
    return "a tap or the like"
