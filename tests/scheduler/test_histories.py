"""Random histories of one locker: whatever was told in whatever order, the due state is that of the facts alone."""

import asyncio
import shutil
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from zoneinfo import ZoneInfo

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import strategies as st
from sqlmodel import select

from scheduler.clock import SetClock, local_date
from scheduler.plan import refresh, wishes_of
from scheduler.policy import evening_of
from scheduler.standing import work_out
from scheduler.tick import next_tick, tick
from store import journal, lockers, tasks
from store.engine import Store, sqlite_url
from store.tables import Care, CareTask, Chat, Dive, DiveItem, Item, ManualNote, Mishap, Snooze, Trip
from store.vocabulary import (
    Condition,
    CylinderMaterial,
    CylinderTest,
    Happening,
    ItemKind,
    Region,
    SealMaterial,
    Task,
    ZipMaterial,
)
from tests.doses import doses, holds_for

from .conftest import MARA, Kit

DAY = timedelta(days=1)
BERLIN = "Europe/Berlin"
LATEX = {"seal_material": SealMaterial.LATEX}
KIT = (
    (ItemKind.DRY_SUIT, {"zip_material": ZipMaterial.PLASTIC, **LATEX}),
    (ItemKind.DRY_SUIT, {"zip_material": ZipMaterial.METAL, **LATEX, "made_on": date(2024, 2, 1)}),
    (ItemKind.REGULATOR, {}),
    (ItemKind.REBREATHER, {}),
    (ItemKind.BAG, {}),
    (ItemKind.PRESSURE_GAUGE, {}),
    (ItemKind.TWINSET, {}),
    (ItemKind.TWINSET, {"region": Region.GERMANY, "made_on": date(2022, 5, 1)}),
    (ItemKind.STAGE, {"region": Region.US, "alloy_6351": True, "made_on": date(2023, 3, 1)}),
    (ItemKind.STAGE, {"hydro_due_on": date(2028, 5, 1), "visual_due_on": date(2028, 3, 1)}),
    (ItemKind.CYLINDER, {"special_permit": True, "cylinder_material": CylinderMaterial.COMPOSITE}),
    (ItemKind.CYLINDER, {"risk_assessed": True, "region": Region.UK}),
)
OF_TEST = {
    CylinderTest.HYDROSTATIC: Task.TEST,
    CylinderTest.VISUAL: Task.INSPECT,
    CylinderTest.VALVE: Task.SERVICE,
    CylinderTest.EDDY_CURRENT: Task.TEST,
}
WISHES = (
    ("18:00", "22:00", "07:00"),
    ("07:00", "22:00", "07:00"),
    ("02:30", "22:00", "02:00"),
    ("06:15", "22:00", "07:00"),
    ("20:00", "12:00", "14:00"),
    ("12:00", "00:00", "00:00"),
    ("23:00", "22:00", "07:00"),
)
"""Hour of the digest, then the quiet hours."""
ZONES = (BERLIN, "Pacific/Auckland", "America/New_York", "Asia/Kathmandu")
STARTS = ("2028-02-27T12:00", "2028-03-10T05:30", "2028-03-25T15:59", "2028-10-26T20:10", "2027-11-05T23:00")
"""Shortly before the leap day and before the days on which clocks change, UTC."""


@dataclass
class Message:
    """What the wire took: at which instant, under which wishes, and of what it spoke."""

    at: datetime
    chat: Chat
    lines: list[tuple[int, str, str, date, str]]
    last_check: bool

    @property
    def local(self) -> datetime:
        """Return the local time of it."""
        return self.at.astimezone(ZoneInfo(self.chat.zone))


@dataclass
class Wire:
    """Takes everything and keeps it."""

    clock: SetClock
    taken: list[Message] = field(default_factory=list)
    wires: tuple[str, ...] = ("wire",)

    async def carry(self, digest) -> None:
        """Keep the digest."""
        lines = [(n.item.id, n.task.part, n.rule.id, n.due_on, n.stage) for n in digest.lines]
        self.taken.append(Message(self.clock.now(), digest.chat, lines, digest.cannot_wait))


class History:
    """One locker to which things happen. Every operation is a message; one that has nothing to act on does nothing."""

    def __init__(self, store: Store, address: str, start: str, wishes: tuple[str, str, str]) -> None:
        self.store = store
        self.clock = SetClock(datetime.fromisoformat(start).replace(tzinfo=UTC))
        self.wire, self._runner = Wire(self.clock), asyncio.Runner()
        self.kit = Kit(store, self.clock, address)
        self.kit.wish(digest_at=wishes[0], quiet_from=wishes[1], quiet_to=wishes[2])

    @property
    def today(self) -> date:
        """Return the date where the diver is."""
        return local_date(self.clock.now(), self.kit.chat.zone)

    def rows(self, table, *, retired: bool = False) -> list:
        """Return the rows of a table that are this locker's."""
        own = select(table).where(table.locker_id == self.kit.locker_id).order_by(table.id)
        found = list(self.store.read(lambda s: s.exec(own).all()))
        return [r for r in found if retired or table is not Item or r.retired_on is None]

    def one(self, table, which: int):
        """Return the row of that place, counted round and round; None if there is none."""
        found = self.rows(table)
        return found[which % len(found)] if found else None

    # what is told

    def add(self, which: int, ago: int) -> None:
        kind, facts = KIT[which % len(KIT)]
        self.kit.add(kind, self.today - ago * DAY, **facts)

    def dive(self, ago: int, dives_done: int, conditions: tuple[str, ...], left_out: int) -> None:
        wet = [i for i in self.rows(Item) if i.kind != ItemKind.BAG]
        used = [i.id for n, i in enumerate(wet) if n != left_out]
        if used:
            self.kit.dive(self.today - ago * DAY, *used, dives_done=dives_done, conditions=conditions)

    def move_dive(self, which: int, ago: int) -> None:
        if dive := self.one(Dive, which):
            self.kit.correct(dive.id, on=self.today - ago * DAY)

    def count_dives(self, which: int, dives_done: int) -> None:
        if dive := self.one(Dive, which):
            self.kit.correct(dive.id, dives=dives_done)

    def remove_dive(self, which: int) -> None:
        if dive := self.one(Dive, which):
            self.kit.remove(dive.id)

    def do(self, which: int, ago: int) -> None:
        """Record the very act that a task asks for, as its button does."""
        if task := self.one(CareTask, which):
            self.kit.care(task.item_id, Task(task.task), self.today - ago * DAY, task.part or None)

    def do_whole(self, which: int, task: Task, ago: int) -> None:
        if item := self.one(Item, which):
            self.kit.care(item.id, task, self.today - ago * DAY)

    def test(
        self, which: int, test: CylinderTest, months_ago: int, next_months: int | None, named: bool
    ) -> None:
        """Record a test of which the month is known, once a month: what corrects an earlier word is another matter."""
        cylinders = [i for i in self.rows(Item) if i.kind in {"twinset", "stage", "cylinder"}]
        if not cylinders:
            return
        item = cylinders[which % len(cylinders)]
        on = (self.today - relativedelta(months=months_ago)).replace(day=1)
        if any(c.item_id == item.id and c.on == on for c in self.rows(Care)):
            return
        next_on = on + relativedelta(months=next_months) if next_months else None
        told = {"test": test} if named else {}
        self.kit.care(
            item.id, OF_TEST[test], on, month_only=True, next_on=next_on, by_technician=True, **told
        )

    def mishap(self, which: int, happened: Happening, ago: int) -> None:
        if item := self.one(Item, which):
            self.kit.mishap(item.id, happened, self.today - ago * DAY)

    def manual(self, which: int, column: str, number: int) -> None:
        if task := self.one(CareTask, which):
            self.kit.manual(task.item_id, part=task.part or None, task=task.task, **{column: number})

    def snooze(self, which: int, days: int) -> None:
        if task := self.one(CareTask, which):
            self.kit.snooze(task.item_id, task.rule, self.today + days * DAY, task.part)

    def trip(self, ahead: int, days: int, dives_planned: int) -> None:
        start = self.today + ahead * DAY
        self.kit.trip(start, start + days * DAY, dives_planned)

    def move_trip(self, which: int, ahead: int) -> None:
        if trip := self.one(Trip, which):
            start = self.today + ahead * DAY
            self.kit.move_trip(trip.id, start, start + (trip.to_on - trip.from_on))

    def cancel(self, which: int) -> None:
        if trip := self.one(Trip, which):
            self.kit.cancel(trip.id)

    def region(self, region: Region | None) -> None:
        self.kit.locker(region=region)

    def zone(self, zone: str) -> None:
        self.kit.move_to(zone)

    def retire(self, which: int) -> None:
        if item := self.one(Item, which):
            self.kit.retire(item.id)

    # what passes

    def wait(self, hours: int) -> None:
        """Let time go by, ringing whenever there is something to do."""
        end = self.clock.now() + timedelta(hours=hours)
        while (at := self.store.read(next_tick)) is not None and at <= end:
            self.clock.set(at)
            self._runner.run(tick(self.store, self.wire, self.clock))
            assert self.store.read(next_tick) != at, "a ring that leaves the same work"
        self.clock.set(end)
        self.kit.refresh()

    # what is looked at

    def due(self) -> set[tuple]:
        """Return the due state as it is kept."""
        return {(t.item_id, t.part, t.rule, t.due_on, t.cause) for t in self.kit.tasks()}

    def told(self) -> int:
        """Return the number of the newest entry of the journal, 0 if there is none."""
        entry = self.store.read(lambda s: journal.latest(s, self.kit.chat_id, MARA))
        return entry.id if entry else 0

    def wished(self) -> set[tuple]:
        """Return what was put off, and until when."""
        return {(n.item_id, n.part, n.rule, n.until_on) for n in self.rows(Snooze)}

    def close(self) -> None:
        """Leave the database as it was found."""
        self._runner.close()
        self.store.write(lambda s: lockers.forget(s, self.kit.locker_id))


def from_facts(store: Store, locker_id: int, today: date, called=lambda item_id: item_id) -> set[tuple]:
    """Return the due state that the facts give."""
    standing = store.read(lambda s: work_out(s, locker_id, today))
    return {(called(i.item.id), d.part, d.rule.id, d.due_on, d.cause) for i in standing for d in i.dues}


def told_anew(history: History, store: Store, address: str, shuffle) -> set[tuple]:
    """Write the final facts into another database at one go, in another order; return the due state kept there.

    Notes from manuals keep their order: of two that speak of one act, the newest counts.
    """
    facts = {t: history.rows(t, retired=True) for t in (Item, Dive, Care, Mishap, Snooze, Trip)}
    notes = history.rows(ManualNote)
    used = history.store.read(lambda s: s.exec(select(DiveItem)).all())
    region = history.store.read(lambda s: lockers.locker(s, history.kit.locker_id)).region
    now, chat = history.clock.now(), history.kit.chat

    def unit(session):
        other = lockers.open_chat(session, "wire", address, now)
        other.zone = chat.zone
        lockers.locker(session, other.locker_id).region = region
        numbers: dict[tuple[type, int], int] = {}

        def copy(row):
            new = type(row)(**{**row.model_dump(exclude={"id"}), "locker_id": other.locker_id})
            if hasattr(new, "item_id"):
                new.item_id = numbers[Item, new.item_id]
            session.add(new)
            session.flush()
            numbers[type(row), row.id] = new.id

        for row in shuffle(facts.pop(Item)):
            copy(row)
        for row in [*shuffle([row for rows in facts.values() for row in rows]), *notes]:
            copy(row)
        for link in used:
            if (Dive, link.dive_id) in numbers:
                dive_id, item_id = numbers[Dive, link.dive_id], numbers[Item, link.item_id]
                session.add(DiveItem(dive_id=dive_id, item_id=item_id))
        session.flush()
        refresh(session, other, now)
        was = {new: old for (table, old), new in numbers.items() if table is Item}
        kept = tasks.of_locker(session, other.locker_id)
        due = {(was[t.item_id], t.part, t.rule, t.due_on, t.cause) for t in kept}
        lockers.forget(session, other.locker_id)
        return due

    return store.write(unit)


# --- what can happen ---------------------------------------------------------------------------------------------------

which, ago = st.integers(0, 40), st.integers(0, 60)
ACTS = {
    "add": st.tuples(which, st.integers(0, 800)),
    "dive": st.tuples(
        st.integers(0, 20),
        st.integers(1, 12),
        st.sampled_from([(), (), (Condition.SAND.value,), (Condition.POLLUTED.value, Condition.OIL.value)]),
        st.integers(-1, 5),
    ),
    "move_dive": st.tuples(which, ago),
    "count_dives": st.tuples(which, st.integers(1, 30)),
    "remove_dive": st.tuples(which),
    "do": st.tuples(which, ago),
    "do_whole": st.tuples(which, st.sampled_from(list(Task)), ago),
    "test": st.tuples(
        which,
        st.sampled_from(list(CylinderTest)),
        st.integers(0, 70),
        st.none() | st.integers(1, 60),
        st.booleans(),
    ),
    "mishap": st.tuples(which, st.sampled_from(list(Happening)), ago),
    "manual": st.one_of(
        st.tuples(which, st.just("every_dives"), st.integers(1, 40)),
        st.tuples(which, st.sampled_from(["every_months", "every_days"]), st.integers(1, 50)),
        st.tuples(which, st.just("every_hours"), st.sampled_from([0.5, 10.0, 37.5])),
    ),
    "snooze": st.tuples(which, st.integers(1, 40)),
    "trip": st.tuples(st.integers(0, 70), st.integers(0, 14), st.integers(0, 30)),
    "move_trip": st.tuples(which, st.integers(0, 60)),
    "cancel": st.tuples(which),
    "region": st.tuples(st.sampled_from([None, *Region])),
    "zone": st.tuples(st.sampled_from(ZONES)),
    "retire": st.tuples(which),
    "wait": st.tuples(st.integers(1, 24 * 30)),
}


def acts(*often: str):
    """Draw what happens, some of it oftener than the rest, each with whether it is taken back at once."""
    names = [*ACTS, *often]
    one = st.sampled_from(names).flatmap(lambda name: st.tuples(st.just(name), ACTS[name], st.booleans()))
    return st.lists(one, min_size=6, max_size=16)


@pytest.fixture(scope="module")
def stores(template, tmp_path_factory) -> Iterator[tuple[Store, Store]]:
    """Open two databases for all the histories of this file; each history takes its locker away again."""
    opened = []
    for name in ("kept", "anew"):
        path = tmp_path_factory.mktemp("histories") / f"{name}.db"
        shutil.copy(template, path)
        opened.append(Store(sqlite_url(path)))
    yield opened[0], opened[1]
    for store in opened:
        store.close()


@pytest.fixture(scope="module")
def addresses() -> Iterator[str]:
    """Give each history a chat of its own."""
    return (f"deck {n}" for n in count())


FIRST = [
    *(("add", (n, 500), False) for n in (0, 2, 7, 8)),
    ("dive", (2, 9, (), 1), False),
    ("dive", (30, 12, (Condition.SAND.value,), -1), False),
    ("trip", (25, 7, 10), False),
]
"""What the diver owns, dived and plans before anything else happens."""


# --- due states --------------------------------------------------------------------------------------------------------


@doses(2, 14)
def test_due_state_kept_over_any_history_is_that_of_the_facts(stores, addresses, dose):
    """Kept up to date, worked out from scratch and told anew in another order are one; what is undone never was."""

    @holds_for(
        dose,
        st.sampled_from(STARTS),
        acts("dive", "remove_dive", "move_dive", "do", "do", "test"),
        st.randoms(use_true_random=False),
    )
    def _(start, happens, random):
        def shuffle(rows):
            return random.sample(rows, len(rows))

        history = History(stores[0], next(addresses), start, WISHES[0])
        try:
            for name, told, taken_back in [*FIRST, *happens]:
                before, entries = history.due(), history.told()
                getattr(history, name)(*told)
                if taken_back and history.told() > entries:
                    history.kit.undo()
                    assert history.due() == before, f"undone: {name} {told}"
                assert history.due() == from_facts(history.store, history.kit.locker_id, history.today)
            assert history.due() == told_anew(history, stores[1], next(addresses), shuffle)
        finally:
            history.close()


# --- messages ----------------------------------------------------------------------------------------------------------


def at_local(on: date, hour: str, zone: str) -> datetime:
    """Return the first instant at which clocks there show an hour; in a gap, as much after the gap as it would have been."""
    return datetime.combine(on, time.fromisoformat(hour), ZoneInfo(zone)).astimezone(UTC)


def is_quiet(at: datetime, chat: Chat) -> bool:
    """Tell whether clocks there show a time in the quiet hours."""
    clock = f"{at.astimezone(ZoneInfo(chat.zone)):%H:%M:%S}"
    start, end = f"{chat.quiet_from}:00", f"{chat.quiet_to}:00"
    return start <= clock < end if start <= end else clock >= start or clock < end


def is_the_hour(at: datetime, chat: Chat) -> bool:
    """Tell whether it is the hour of the digest, or the end of quiet hours that swallow that hour."""
    on = local_date(at, chat.zone)
    digest = at_local(on, chat.digest_at, chat.zone)
    return at == (at_local(on, chat.quiet_to, chat.zone) if is_quiet(digest, chat) else digest)


def check_hours(history: History) -> None:
    """Check that what is to be told is told later than now, at the diver's hour and never in the quiet."""
    now, chat = history.clock.now(), history.kit.chat
    planned = [t.notify_at for t in history.kit.tasks() if t.notify_at]
    calls = [(t.notify_at, t.from_on) for t in history.rows(Trip) if t.notify_at]
    hours = [at for at, from_on in calls if at != evening_of(from_on - DAY, wishes_of(chat))]
    for at in [*planned, *hours]:
        assert is_the_hour(at, chat), f"{at.astimezone(ZoneInfo(chat.zone))}"
    for at in [*planned, *(at for at, _ in calls)]:
        assert at >= now
        assert not is_quiet(at, chat)


def check_messages(history: History) -> None:
    """Check that there was one message a day but for last checks, none in the quiet, and each notice in one of them."""
    sent, notices = history.wire.taken, history.kit.notices()
    days = Counter((m.chat.zone, m.local.date()) for m in sent if not m.last_check)
    assert [day for day, n in days.items() if n > 1] == []
    assert [m.local for m in sent if is_quiet(m.at, m.chat)] == []
    assert [m.local for m in sent if not m.last_check and not is_the_hour(m.at, m.chat)] == []
    assert len({n.key for n in notices}) == len(notices)
    lines = [(m.at, line) for m in sent for line in m.lines]
    told = [(n.sent_at, (n.item_id, n.part, n.rule, n.due_on, n.stage)) for n in notices if not n.trip_id]
    assert sorted(lines) == sorted(t for t in told if t[0])


@doses(2, 8)
def test_message_over_any_history_comes_at_its_hour_and_once(stores, addresses, dose):
    @holds_for(
        dose,
        st.sampled_from(STARTS),
        st.sampled_from(WISHES),
        acts("wait", "wait", "wait", "wait", "dive", "trip"),
    )
    def _(start, wishes, happens):
        history = History(stores[0], next(addresses), start, wishes)
        try:
            for name, told, taken_back in [*FIRST, *happens, ("wait", (24 * 45,), False)]:
                entries = history.told()
                getattr(history, name)(*told)
                if taken_back and history.told() > entries:
                    history.kit.undo()
                check_hours(history)
            check_messages(history)
        finally:
            history.close()


@doses(2, 5)
def test_sweep_and_refresh_again_add_nothing_after_any_history(stores, addresses, dose):
    @holds_for(dose, st.sampled_from(STARTS), st.sampled_from(WISHES), acts("wait", "dive", "trip"))
    def _(start, wishes, happens):
        history = History(stores[0], next(addresses), start, wishes)

        def kept():
            trips = [t.model_dump() for t in history.rows(Trip)]
            notices = [n.model_dump() for n in history.kit.notices()]
            return [t.model_dump() for t in history.kit.tasks()], trips, notices, history.wished()

        try:
            for name, told, _ in [*FIRST, *happens]:
                getattr(history, name)(*told)
            history.clock.forward(3 * DAY)
            history.kit.refresh()
            before = kept()
            history.kit.refresh()
            assert kept() == before
            history.clock.forward(DAY)
            history.kit.sweep()
            before = kept()
            assert history.kit.sweep() == 0
            assert kept() == before
        finally:
            history.close()


# --- known to be wrong -------------------------------------------------------------------------------------------------

TODAY = date(2026, 6, 10)


def test_undo_of_care_restores_what_was_put_off(kit):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    kit.snooze(bag, "spray_bag_zip", TODAY + 20 * DAY, "bag_zip")
    before = kit.task(bag, "spray_bag_zip", "bag_zip").notify_at
    kit.care(bag, Task.LUBRICATE, TODAY, "bag_zip")
    kit.undo()
    assert kit.task(bag, "spray_bag_zip", "bag_zip").notify_at == before


def test_age_told_later_of_the_same_replacement_counts(kit):
    rebreather = kit.add(ItemKind.REBREATHER, TODAY)
    kit.care(rebreather, Task.REPLACE, TODAY, "cells")
    kit.care(rebreather, Task.REPLACE, TODAY, "cells", made_on=date(2025, 3, 1))
    assert kit.task(rebreather, "replace_cells", "cells").due_on == date(2026, 9, 1)


def test_stamp_of_a_test_outlives_the_same_test_told_again_without_it(kit):
    told = {"test": CylinderTest.HYDROSTATIC, "month_only": True}
    twinset = kit.add(ItemKind.TWINSET, TODAY)
    kit.care(twinset, Task.TEST, date(2026, 5, 1), **told, next_on=date(2028, 5, 1))
    kit.care(twinset, Task.TEST, date(2026, 5, 1), **told)
    assert kit.task(twinset, "hydro_test").due_on == date(2028, 5, 31)


def test_refresh_in_the_night_leaves_the_morning_after_it_as_planned(kit, clock):
    kit.wish(digest_at="22:30", quiet_from="22:00", quiet_to="07:00")
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    before = kit.task(bag, "spray_bag_zip", "bag_zip").notify_at
    clock.set(at_local(TODAY + DAY, "05:00", BERLIN))
    kit.refresh()
    assert kit.task(bag, "spray_bag_zip", "bag_zip").notify_at == before


async def test_rinse_that_lapsed_during_an_outage_is_not_asked_for(kit, courier, ring):
    mask = kit.add(ItemKind.MASK, TODAY)
    kit.dive(TODAY, mask)
    assert (await ring("2026-08-10T18:00+02:00"), courier.taken) == (0, [])
