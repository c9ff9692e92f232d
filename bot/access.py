"""Who may write to this bot, and how fast."""

import time
from collections.abc import Callable, Collection
from enum import StrEnum

from bot.updates import Update
from scheduler.limits import Window
from store import lockers, people
from store.engine import Session

AT_ONCE, WITHIN_S = 40, 60.0
"""Messages of one person: what a boat without signal sends when it comes back into reach is let through."""
ASIDES = 200
"""Questions in passing: one is asked with each letter typed."""
WRONG_CODES, WRONG_WITHIN_S = 5, 3600.0
_MOST_WATCHED = 10_000


class Mode(StrEnum):
    """Who may write: everybody, those who are listed, or those who are listed and whom a code let in."""

    OPEN = "open"
    LIST = "list"
    INVITE = "invite"


class Access:
    """Lets people in. `listed` holds people and chats, each as wire and address: "telegram:4711"."""

    def __init__(self, mode: Mode = Mode.OPEN, listed: Collection[str] = ()) -> None:
        """Let in by a mode."""
        self._mode, self._listed = mode, frozenset(listed)

    def admits(self, session: Session, update: Update) -> bool:
        """Tell whether somebody may write; where a code lets in, a group that somebody opened is open to all in it."""
        who = people.key(update.wire, update.actor)
        if self._mode is Mode.OPEN or {who, people.key(update.wire, update.chat)} & self._listed:
            return True
        if self._mode is Mode.LIST:
            return False
        known = people.find(session, who)
        if known is not None and known.admitted:
            return True
        return update.group and lockers.at_address(session, update.wire, update.chat) is not None

    @property
    def by_code(self) -> bool:
        """Tell whether a valid code lets a stranger in."""
        return self._mode is not Mode.LIST


class Patience:
    """Counts what each person sends, in this process: enough against a stuck key or a script."""

    def __init__(
        self, most: int = AT_ONCE, within_s: float = WITHIN_S, seconds: Callable[[], float] = time.monotonic
    ) -> None:
        """Let so many through in so many seconds."""
        self._most, self._within_s, self._seconds = most, within_s, seconds
        self._people: dict[str, Window] = {}
        self._told: dict[str, float] = {}

    def spend(self, person: str) -> float:
        """Count one and return 0 if it is let through, else how many seconds the person has to wait."""
        now = self._seconds()
        if len(self._people) > _MOST_WATCHED:
            self._people = {p: w for p, w in self._people.items() if not w.idle(now)}
        window = self._people.setdefault(person, Window(self._most, self._within_s))
        wait_s = window.wait_s(now)
        if wait_s <= 0:
            window.take(now)
        return wait_s

    def spent(self, person: str) -> bool:
        """Tell whether nothing more of a person would be let through now."""
        window = self._people.get(person)
        return window is not None and window.wait_s(self._seconds()) > 0

    def tells(self, person: str) -> bool:
        """Tell whether it is time to say so: once, and again after a while."""
        now = self._seconds()
        if now - self._told.get(person, -self._within_s) < self._within_s:
            return False
        self._told = {p: at for p, at in self._told.items() if now - at < self._within_s} | {person: now}
        return True
