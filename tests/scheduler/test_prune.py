"""What is old goes, batch by batch; facts, and what an undo within the promised time needs, stay."""

import itertools
from datetime import timedelta

import pytest
from sqlmodel import func, select

from bot.conversation import Conversation, Update
from scheduler.clock import SetClock
from scheduler.prune import Keep, prune
from scheduler.tick import tick
from store import retention
from store.tables import (
    Care,
    CareTask,
    Dive,
    DiveImport,
    Invite,
    Item,
    JournalEntry,
    Locker,
    Member,
    Notice,
    Person,
    SeenUpdate,
)
from tests.conftest import START

DAY = timedelta(days=1)
KEEP = Keep(updates=30 * DAY, notices=90 * DAY, journal=180 * DAY, files=30 * DAY)
FOR_EVER = Keep(None, None, None, None)
FACTS = (Item, Dive, Care, Person, Member, Locker, CareTask)


def count(store, table) -> int:
    return store.read(lambda s: s.exec(select(func.count()).select_from(table)).one())


class Writer:
    """Somebody on a wire that numbers its updates and names its messages."""

    def __init__(self, store) -> None:
        ids = (f"button{n:06}" for n in itertools.count())
        self.store, self._conversation = store, Conversation(store, lambda: next(ids))
        self._numbers = itertools.count()

    def say(self, text, at=START, said_at=None, **more):
        number = next(self._numbers)
        update = {"update_id": str(number), "message": str(number), "received": at} | more
        answer = self._conversation.take(
            Update("telegram", "deck", "mara", said_at or at, text=text, **update)
        )
        return answer.reply if answer else None


@pytest.fixture
def clock():
    return SetClock(START)


@pytest.fixture
def writer(store):
    return Writer(store)


def test_updates_go_after_their_days_and_not_before(writer, store):
    writer.say("add scooter", START)
    writer.say("2 dives today", START + 10 * DAY)
    assert prune(store, KEEP, START + 30 * DAY)["updates"] == 0
    assert writer.say("add scooter", START + 30 * DAY, update_id="0") is None  # it acts once
    assert prune(store, KEEP, START + 30 * DAY + timedelta(seconds=1))["updates"] == 1
    assert count(store, SeenUpdate) == 1


def test_update_counts_from_when_it_came_in(writer, store):
    writer.say("add scooter", START, said_at=START - 100 * DAY)
    assert prune(store, KEEP, START + DAY)["updates"] == 0


def test_facts_stay_and_nothing_goes_that_is_for_ever(writer, store):
    for text in (
        "add scooter, dry suit",
        "2 dives today",
        "dry suit serviced today",
        "add torch",
        "undo",
        "share my locker",
    ):
        writer.say(text)
    before = {table: count(store, table) for table in FACTS}
    assert min(before.values()) > 0
    assert set(prune(store, FOR_EVER, START + 9000 * DAY).values()) <= {0, 1}  # a code that ran out
    assert count(store, SeenUpdate) == 6
    prune(store, KEEP, START + 9000 * DAY)
    assert {table: count(store, table) for table in FACTS} == before
    assert [count(store, t) for t in (SeenUpdate, JournalEntry, Invite)] == [0, 0, 0]


def test_undo_works_for_the_promised_time_and_says_so_after_it(writer, store):
    writer.say("add scooter")
    last = START + KEEP.journal
    prune(store, KEEP, last)
    assert writer.say("undo", last).first.startswith("Taken back")
    assert count(store, Item) == 0
    writer.say("add scooter", last)
    later = last + KEEP.journal + timedelta(seconds=1)
    assert prune(store, KEEP, later)["journal"] > 0
    writer.say("undo", later)
    assert count(store, Item) == 1


def test_edit_of_a_message_whose_doings_are_forgotten_does_not_do_them_again(writer, store):
    writer.say("2 dives today", message="7")
    later = START + KEEP.journal + DAY
    prune(store, KEEP, later)
    reply = writer.say("3 dives today", later, said_at=START, message="7", edits=True)
    assert reply.first.startswith("I left things as they were")
    assert [d.dives for d in store.read(lambda s: s.exec(select(Dive)).all())] == [2]


def test_edit_within_the_time_still_corrects(writer, store):
    writer.say("2 dives today", message="7")
    later = START + KEEP.journal - DAY
    prune(store, KEEP, later)
    reply = writer.say("3 dives today", later, said_at=START, message="7", edits=True)
    assert reply.first.startswith("Corrected.")
    assert [d.dives for d in store.read(lambda s: s.exec(select(Dive)).all())] == [3]


class Courier:
    wires = ("telegram",)

    def __init__(self) -> None:
        self.carried = []

    async def carry(self, digest) -> None:
        self.carried.append(digest)


async def test_reminder_that_was_sent_is_not_sent_again_for_being_forgotten(writer, store, clock):
    """A notice whose task stands as it was told stays, since a task may be worked out anew."""
    writer.say("add dry suit, latex seals")
    writer.say("2 dives today")
    courier = Courier()
    for day in range(30):
        clock.forward(DAY)
        if day == 10:
            writer.say("2 dives today", clock.now())
        await tick(store, courier, clock)
    clock.forward(100 * DAY)
    sent, told = count(store, Notice), len(courier.carried)
    assert prune(store, KEEP, clock.now())["notices"] > 0
    stays = store.read(lambda s: s.exec(select(Notice)).all())
    assert 0 < len(stays) < sent

    def tell_anew(session):
        for task in session.exec(select(CareTask)):
            task.told, task.notify_at = None, clock.now()
            session.add(task)

    keys = {n.key for n in stays if n.state == "sent"}
    store.write(tell_anew)
    await tick(store, courier, clock)
    again = store.read(lambda s: s.exec(select(Notice).where(Notice.sent_at == clock.now())).all())
    assert [n.key for n in again if n.key in keys] == []
    assert told <= len(courier.carried)


def test_pending_and_claimed_notices_never_go(writer, store):
    writer.say("add scooter")
    rows = [
        Notice(
            key=state,
            locker_id=1,
            chat_id=1,
            rule="x",
            due_on=START.date(),
            stage="due",
            send_at=START,
            state=state,
        )
        for state in ("pending", "claimed", "sent", "cancelled", "dead")
    ]
    store.write(lambda s: s.add_all(rows))
    assert prune(store, KEEP, START + 91 * DAY)["notices"] == 3
    left = store.read(lambda s: s.exec(select(Notice.state)).all())
    assert sorted(left) == ["claimed", "pending"]


def test_file_that_was_counted_in_between_is_not_emptied(writer, store):
    writer.say("add scooter")
    row = {
        "locker_id": 1,
        "name": "log",
        "content": {"x": 1},
        "answers": {},
        "sent_at": START,
        "sent_by": "mara",
    }
    store.write(lambda s: s.add(DiveImport(**row, state="shown")))
    cuts = (START + DAY, START)
    ids = store.read(lambda s: retention.old_files(s, *cuts))

    def count(session):
        session.exec(select(DiveImport)).one().state = "counted"

    store.write(count)
    assert (len(ids), store.write(lambda s: retention.empty_files(s, ids, *cuts))) == (1, 0)


def test_files_nobody_answered_are_dropped_and_counted_ones_are_emptied_with_the_journal(writer, store):
    writer.say("add scooter")
    content = {"dives": [], "kit": [], "skipped": ["x"]}

    def add(session, state):
        row = DiveImport(
            locker_id=1, name="log", content=content, answers={}, state=state, sent_at=START, sent_by="mara"
        )
        session.add(row)

    store.write(lambda s: [add(s, state) for state in ("shown", "counted", "dropped", "waiting")])

    def held():
        rows = store.read(lambda s: s.exec(select(DiveImport).order_by(DiveImport.id)).all())
        return [(r.state, bool(r.content)) for r in rows]

    prune(store, KEEP, START + 30 * DAY)
    assert held() == [("shown", True), ("counted", True), ("dropped", True), ("waiting", True)]
    assert prune(store, KEEP, START + 31 * DAY)["files"] == 2
    assert held() == [("dropped", False), ("counted", True), ("dropped", True), ("dropped", False)]
    assert prune(store, KEEP, START + 181 * DAY)["files"] == 1
    assert held() == [("dropped", False), ("counted", False), ("dropped", True), ("dropped", False)]
    assert prune(store, KEEP, START + 999 * DAY)["files"] == 0


def test_it_goes_in_batches_and_ends_when_told(store, monkeypatch):
    monkeypatch.setattr(retention, "BATCH", 10)
    old = [
        SeenUpdate(wire=w, update_id=str(n), seen_at=START) for w in ("telegram", "matrix") for n in range(35)
    ]
    store.write(lambda s: s.add_all(old))
    sizes, write = [], store.write

    def counted(work):
        before = count(store, SeenUpdate)
        done = write(work)
        sizes.append(before - count(store, SeenUpdate))
        return done

    monkeypatch.setattr(store, "write", counted)
    calls = itertools.count()
    prune(store, KEEP, START + 31 * DAY, lambda: next(calls) >= 3)
    assert (sum(sizes), max(sizes)) == (30, 10)
    prune(store, KEEP, START + 31 * DAY)
    assert (count(store, SeenUpdate), max(sizes)) == (0, 10)


def test_journal_ends_at_the_first_page_with_nothing_old(writer, store, monkeypatch):
    monkeypatch.setattr(retention, "BATCH", 2)
    for day in range(6):
        writer.say("2 dives today", START + day * DAY)
    assert prune(store, KEEP, START + KEEP.journal + 2 * DAY + timedelta(hours=1))["journal"] == 3
    assert count(store, JournalEntry) == 3
