"""What the tests of this floor share: a locker to fill, a clock to set, and a wire that is told what to do."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

import pytest

from scheduler.clock import SetClock, local_date
from scheduler.deliver import Failed
from scheduler.digest import Digest
from scheduler.plan import refresh
from scheduler.sweep import sweep
from scheduler.tick import tick
from store import care_log, dives, items, journal, lockers, mishaps, outbox, tasks, trips
from store.catalogue import ItemFacts
from store.engine import Session, Store
from store.tables import Care, CareTask, Chat, Dive, Item, JournalEntry, ManualNote, Mishap, Notice, Trip
from store.vocabulary import Happening, ItemKind, Task

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
"""Two in the afternoon in Berlin, four hours before the hour of the reminders."""
MARA = "wire:mara"


class Kit:
    """One chat's locker, changed as the conversation does it: facts first, then a refresh, in one unit of work."""

    def __init__(self, store: Store, clock: SetClock, address: str) -> None:
        self._store, self._clock = store, clock
        chat = store.write(lambda s: lockers.open_chat(s, "wire", address, clock.now()))
        self.chat_id, self.locker_id = lockers.number(chat.id), chat.locker_id
        self.wish(zone="Europe/Berlin")

    def change(self, work: Callable[[Session], Any]) -> Any:
        """Do some work as one message."""
        now = self._clock.now()

        def unit(session: Session) -> Any:
            journal.watch(session)
            done = work(session)
            session.flush()
            refresh(session, lockers.find_chat(session, self.chat_id), now)
            journal.keep(session, self._entry("test", now))
            return done

        return self._store.write(unit)

    def _entry(self, intent: str, at: datetime) -> JournalEntry:
        return JournalEntry(
            chat_id=self.chat_id, at=at, actor=MARA, locker_id=self.locker_id, intent=intent, changes=[]
        )

    def wish(self, **columns: Any) -> None:
        """Set wishes of the chat."""
        self.change(lambda s: _set(lockers.find_chat(s, self.chat_id), columns))

    def locker(self, **columns: Any) -> None:
        """Set columns of the locker."""
        self.change(lambda s: _set(lockers.locker(s, self.locker_id), columns))

    def add(self, kind: ItemKind, on: date, **facts: Any) -> int:
        """Add an item on a day."""
        return self.change(
            lambda s: (
                items.add(s, self.locker_id, kind, kind.value, facts=ItemFacts(**facts), on=on, by=MARA).id
            )
        )

    def retire(self, item_id: int) -> None:
        """Take an item out of the kit today."""
        self.change(lambda s: _set(s.get_one(Item, item_id), {"retired_on": self._clock.now().date()}))

    def dive(self, on: date, *item_ids: int, dives_done: int = 1, conditions: tuple[str, ...] = ()) -> int:
        """Log an entry."""
        row = Dive(
            locker_id=self.locker_id,
            on=on,
            dives=dives_done,
            conditions=list(conditions),
            logged_at=self._clock.now(),
            logged_by=MARA,
        )
        return self.change(lambda s: dives.add(s, row, item_ids).id)

    def correct(self, dive_id: int, **columns: Any) -> None:
        """Correct an entry."""
        self.change(lambda s: _set(s.get_one(Dive, dive_id), columns))

    def remove(self, dive_id: int) -> None:
        """Take an entry out of the log."""
        self.change(lambda s: dives.remove(s, s.get_one(Dive, dive_id)))

    def care(self, item_id: int, task: Task, on: date, part: str | None = None, **told: Any) -> None:
        """Record an act of care; `told` are further columns of it."""
        row = Care(
            locker_id=self.locker_id,
            item_id=item_id,
            part=part,
            task=task,
            on=on,
            done_by=MARA,
            logged_at=self._clock.now(),
            **told,
        )
        self.change(lambda s: care_log.add(s, row).id)

    def mishap(self, item_id: int, happened: Happening, on: date) -> None:
        """Record what befell an item."""
        row = Mishap(
            locker_id=self.locker_id,
            item_id=item_id,
            happened=happened,
            on=on,
            told_by=MARA,
            logged_at=self._clock.now(),
        )
        self.change(lambda s: mishaps.add(s, row).id)

    def trip(self, from_on: date, to_on: date, dives_planned: int | None = None) -> int:
        """Plan a trip."""
        row = Trip(locker_id=self.locker_id, from_on=from_on, to_on=to_on, dives=dives_planned)
        return self.change(lambda s: trips.add(s, row).id)

    def move_trip(self, trip_id: int, from_on: date, to_on: date) -> None:
        """Move a trip, of which nothing has been said on its new days."""
        moved = {"from_on": from_on, "to_on": to_on, "told": None}
        self.change(lambda s: _set(s.get_one(Trip, trip_id), moved))

    def cancel(self, trip_id: int) -> None:
        """Drop a trip."""
        self.change(lambda s: trips.cancel(s, s.get_one(Trip, trip_id)))

    def move_to(self, zone: str) -> None:
        """Change the zone as the conversation does it: across the date line today may come once more."""

        def wish(session: Session) -> None:
            chat = lockers.find_chat(session, self.chat_id)
            chat.zone = zone
            if chat.last_digest_on is not None:
                chat.last_digest_on = min(chat.last_digest_on, local_date(self._clock.now(), zone))

        self.change(wish)

    def manual(self, item_id: int, **said: Any) -> None:
        """Record what a manual says."""
        note = ManualNote(
            locker_id=self.locker_id, item_id=item_id, text="", noted_at=self._clock.now(), **said
        )
        self.change(lambda s: care_log.note_manual(s, note).id)

    def snooze(self, item_id: int, rule: str, until: date, part: str = "") -> None:
        """Put a task off."""
        self.change(lambda s: care_log.put_off(s, self.locker_id, item_id, part, rule, until=until).id)

    def undo(self) -> None:
        """Take the last message back."""

        def unit(session: Session) -> None:
            entry = journal.latest(session, self.chat_id, MARA)
            assert entry is not None
            journal.watch(session)
            journal.undo(session, entry, self._clock.now())
            chat, now = lockers.find_chat(session, self.chat_id), self._clock.now()
            refresh(session, chat, now, takes_back=True)
            journal.keep(session, self._entry("undo", now), forget=True)

        self._store.write(unit)

    def refresh(self) -> None:
        """Work the tasks out again."""
        now = self._clock.now()
        self._store.write(lambda s: refresh(s, lockers.find_chat(s, self.chat_id), now))

    def sweep(self) -> int:
        """Turn tasks whose hour has come to notices."""
        return self._store.write(lambda s: sweep(s, self._clock.now()))

    @property
    def chat(self) -> Chat:
        """Return the chat."""
        return self._store.read(lambda s: lockers.find_chat(s, self.chat_id))

    def tasks(self) -> list[CareTask]:
        """Return the care tasks."""
        return self._store.read(lambda s: tasks.of_locker(s, self.locker_id))

    def task(self, item_id: int, rule: str, part: str = "") -> CareTask | None:
        """Return one care task."""
        return self._store.read(lambda s: tasks.find(s, self.locker_id, item_id, part, rule))

    def notices(self) -> list[Notice]:
        """Return every notice of the chat."""
        return list(self._store.read(lambda s: outbox.of_chat(s, self.chat_id)))


def _set(row: Any, columns: dict[str, Any]) -> None:
    for name, value in columns.items():
        setattr(row, name, value)


@dataclass
class Courier:
    """The wires, which are outside: keeps what it takes, or first answers (or raises) what it was told to."""

    clock: SetClock
    answers: list[Failed | Exception] = field(default_factory=list)
    taken: list[tuple[datetime, str, list[tuple[str, str]]]] = field(default_factory=list)
    """(when, address, [(rule, stage)]) of every message, in order."""
    keys: list[str] = field(default_factory=list)
    """The key of every digest that was handed over, taken or not."""
    wires: tuple[str, ...] = ("wire",)

    async def carry(self, digest: Digest) -> Failed | None:
        """Take the digest unless told otherwise."""
        self.keys.append(digest.key)
        answer = self.answers.pop(0) if self.answers else None
        if isinstance(answer, Exception):
            raise answer
        if answer is None:
            said = [(line.rule.id, line.stage) for line in digest.lines]
            self.taken.append((self.clock.now(), digest.chat.address, said))
        return answer


@pytest.fixture
def clock() -> SetClock:
    """Set the clock to noon, UTC."""
    return SetClock(NOON)


@pytest.fixture
def courier(clock: SetClock) -> Courier:
    """Return a wire that takes everything until told otherwise."""
    return Courier(clock)


@pytest.fixture
def open_kit(store: Store, clock: SetClock) -> Callable[..., Kit]:
    """Return a function that opens the locker of a chat, on the test's clock unless given another."""
    return lambda address, on=clock: Kit(store, on, address)


@pytest.fixture
def kit(open_kit: Callable[..., Kit]) -> Kit:
    """Open one locker."""
    return open_kit("deck")


@pytest.fixture
def ring(store: Store, courier: Courier, clock: SetClock) -> Callable[[str], Any]:
    """Return a function that sets the clock and ticks once; it returns how many messages went out."""

    async def at(moment: str) -> int:
        clock.set(datetime.fromisoformat(moment))
        return await tick(store, courier, clock)

    return at
