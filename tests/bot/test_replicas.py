"""Two replicas on one database take the same updates at the same time: each acts once, in order, and counts right."""

import re
from collections import defaultdict
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from itertools import count

import pytest
from sqlmodel import func, select

from bot.conversation import Conversation
from bot.updates import Update
from scheduler.standing import work_out
from store import tasks
from store.engine import Store
from store.tables import Chat, Dive, JournalEntry, Letter, Locker, Person, SeenUpdate
from tests.conftest import START
from tests.doses import doses

pytestmark = pytest.mark.postgresql
FEW, MANY = (6, 4), (200, 10)
"""How many chats, and how many messages of each."""
SENDERS = 4
"""Of each replica."""


def update(chat, n):
    """Return the n-th message of a chat: so many dives."""
    return Update(
        "telegram",
        str(chat),
        str(chat),
        START + timedelta(minutes=n),
        text=f"{n} dives today, salt",
        update_id=f"{chat}/{n}",
        message=f"{chat}/{n}",
        by_post=True,
    )


def send(replica, chats, messages):
    """Hand in what some chats say, message by message, and return how many acted."""
    return sum(replica.take(update(chat, n)) is not None for n in range(1, messages + 1) for chat in chats)


def tokens(of):
    return map(f"{of}{{}}".format, count()).__next__


@doses(FEW, MANY)
def test_messages_that_come_twice_on_two_replicas_act_once_in_order_and_count_right(store, database, dose):
    chats, messages = dose
    with closing(Store(database)) as other, ThreadPoolExecutor(2 * SENDERS) as pool:
        replicas = [Conversation(store, tokens("a")), Conversation(other, tokens("b"))]
        shares = [range(n, chats, SENDERS) for n in range(SENDERS)]
        each = [s for s in shares for _ in replicas]
        acted = sum(pool.map(send, replicas * SENDERS, each, [messages] * len(each)))
        print(f"\n{store.repeated + other.repeated} of {2 * chats * messages} runs met another")
    assert acted == chats * messages

    def read(session):
        rows = session.exec(
            select(Chat.address, Dive.dives).join(Dive, Dive.locker_id == Chat.locker_id).order_by(Dive.id)
        ).all()
        tables = (Chat, Locker, Person, SeenUpdate, Letter, JournalEntry)
        return rows, [session.exec(select(func.count()).select_from(t)).one() for t in tables]

    rows, counts = store.read(read)
    in_order = defaultdict(list)
    for address, dives in rows:
        in_order[address].append(dives)
    assert in_order == {str(chat): list(range(1, messages + 1)) for chat in range(chats)}
    assert counts == [chats] * 3 + [chats * messages] * 3


def test_people_of_one_locker_who_write_at_once_on_two_replicas_lose_nothing(store, database):
    """A group: one chat, many people, two replicas."""

    def say(replica, n):
        said = Update(
            "telegram",
            "-100",
            f"person {n}",
            START + timedelta(minutes=n),
            text=f"{n} dives today, salt",
            update_id=str(n),
            group=True,
            by_post=True,
        )
        return replica.take(said)

    with closing(Store(database)) as other, ThreadPoolExecutor(8) as pool:
        replicas = [Conversation(store, tokens("a")), Conversation(other, tokens("b"))]
        answers = list(pool.map(say, replicas * 12, [n for n in range(1, 13) for _ in replicas]))
    assert sum(a is not None for a in answers) == 12
    assert sorted(store.read(lambda s: s.exec(select(Dive.dives)).all())) == list(range(1, 13))


def test_chats_of_one_locker_that_write_at_once_on_two_replicas_leave_it_as_its_facts_say(store, database):
    """Each sees its own view: what hangs on what both told must not be worked out from one of them."""
    at = map(START.__add__, map(timedelta, count())).__next__
    numbers = count()

    def say(replica, who, text, when):
        told = Update("telegram", who, who, when, text=text, update_id=str(next(numbers)), by_post=True)
        return replica.take(told).reply

    with closing(Store(database)) as other, ThreadPoolExecutor(8) as pool:
        replicas = [Conversation(store, tokens("a")), Conversation(other, tokens("b"))]
        say(replicas[0], "mara", "add dry suit, plastic zip, latex seals, scooter", START)
        shared = say(replicas[0], "mara", "share my locker", START)
        code = re.search(r"[A-Z0-9]{4}(?:-[A-Z0-9]{4})+", " ".join((shared.first, *shared.lines))).group()
        people = ["mara", *(f"guest {n}" for n in range(5))]
        for who in people[1:]:
            assert say(replicas[1], who, f"join {code}", START).data["done"]
        for when in [at() for _ in range(6)]:
            said = (
                "2 dives today, salt",
                "waxed the zip",
                "add torch",
                "powdered the seals",
                "3 dives today, sand",
                "add torch",
            )
            list(pool.map(say, replicas * 3, people, said, [when] * 6))
    today = when.date()

    def read(session):
        (locker_id,) = session.exec(select(Dive.locker_id).distinct())
        kept = {(t.item_id, t.part, t.rule): t.due_on for t in tasks.of_locker(session, locker_id)}
        standing = work_out(session, locker_id, today)
        right = {(i.item.id, d.part, d.rule.id): d.due_on for i in standing for d in i.dues}
        return kept, right, [i.item.name for i in standing], session.exec(select(Dive)).all()

    kept, right, names, dives = store.read(read)
    assert kept == right
    assert len(names) == len(set(names)) == 2 + 12
    assert sum(d.dives for d in dives) == 6 * 5


def test_who_is_forgotten_is_forgotten_while_nobody_writes(store):
    replica = Conversation(store, tokens("a"))
    for n, text in enumerate(("add torch", "forget me", "delete it all", "yes, for good")):
        replica.take(Update("telegram", "1", "1", START, text=text, update_id=str(n)))
    assert (store.repeated, store.read(lambda s: s.exec(select(Person)).all())) == (1, [])


def test_guess_at_a_code_is_counted_once_however_often_its_unit_runs(store, monkeypatch):
    replica = Conversation(store, tokens("a"))
    spent = []
    monkeypatch.setattr(replica._guesses, "spend", spent.append)
    write, runs = store.write, []

    def again(work, chat=None):
        def unit(session):
            runs.append(work(session))
            if len(runs) == 1:
                session.connection().exec_driver_sql("DO $$ BEGIN RAISE SQLSTATE '40001'; END $$")
            return runs[-1]

        return write(unit, chat)

    monkeypatch.setattr(store, "write", again)
    answer = replica.take(Update("telegram", "1", "1", START, text="join ABCD-EFGH-2345", update_id="1"))
    assert (len(runs), answer.reply.data.get("done"), spent) == (2, False, ["telegram:1"])
