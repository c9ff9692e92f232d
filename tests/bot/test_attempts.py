"""An update over which the process died twice is put aside, its writer is told once, and the next one is served."""

import subprocess
import sys
import threading
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest
from sqlmodel import select

from bot.conversation import Conversation, Update
from bot.doctor import _set_aside
from bot.health import Checkup, Pulse
from store.attempts import aside, drop_old
from store.counts import standing
from store.errors import StoreError
from store.tables import Attempt, Dive, Letter

NOW = datetime.now(UTC)


class DiedError(BaseException):
    """Ends what is under way as the end of the process would: nothing is stored, and nobody says why."""


def update(number, text="2 dives today", **more):
    return Update(
        "boat",
        "deck",
        "mara",
        NOW,
        text=text,
        update_id=str(number),
        message=str(number),
        by_post=True,
        **more,
    )


def conversation(store):
    """Return what a process that was begun anew has."""
    return Conversation(store, map(f"{id(object())}-{{}}-{next(_NUMBERS)}".format, count()).__next__)


_NUMBERS = count()


def dies(store, told):
    died = conversation(store)

    def ends(*_):
        raise DiedError

    died._answer = ends
    with pytest.raises(DiedError):
        died.take(told)


def letters(store):
    return [row.body["first"] for row in store.read(lambda s: s.exec(select(Letter)).all())]


def test_what_ended_the_process_twice_is_put_aside_told_once_and_the_next_is_served(store):
    for _ in range(2):
        dies(store, update(1))
    assert letters(store) == []
    for _ in range(3):  # the wire may bring it again all the same
        conversation(store).take(update(1))
    conversation(store).take(update(2, "3 dives today"))
    first, *more = letters(store)
    assert first == "That was too much for me, twice, so I set it aside. Nothing of it was stored."
    assert len(more) == 1
    assert [d.dives for d in store.read(lambda s: s.exec(select(Dive)).all())] == [3]


def test_what_ended_the_process_once_is_done(store):
    dies(store, update(1))
    conversation(store).take(update(1))
    assert [d.dives for d in store.read(lambda s: s.exec(select(Dive)).all())] == [2]
    assert store.read(lambda s: s.exec(select(Attempt)).all()) == []


def test_nothing_is_left_of_what_came_to_an_end(store):
    talk = conversation(store)
    talk.take(update(1))
    talk.take(update(2, None, file=("log.csv", b"no log")))  # an error is an end too
    assert store.read(lambda s: s.exec(select(Attempt)).all()) == []


def test_database_out_of_reach_is_no_fault_of_the_message(store, monkeypatch):
    talk, write = conversation(store), store.write

    def gone(*_):
        raise StoreError("gone")

    for _ in range(4):
        monkeypatch.setattr(store, "write", gone)
        with pytest.raises(StoreError):
            talk.take(update(1))
    monkeypatch.setattr(store, "write", write)
    talk.take(update(1))
    assert [d.dives for d in store.read(lambda s: s.exec(select(Dive)).all())] == [2]


def test_what_died_once_is_tried_with_nothing_else_in_hand(store):
    dies(store, update(1))
    talk, seen = conversation(store), []
    inside, go_on = threading.Event(), threading.Event()
    answer = talk._answer

    def watched(session, told, sent):
        seen.append(told.update_id)
        if told.update_id == "1":
            inside.set()
            go_on.wait(10)
        return answer(session, told, sent)

    talk._answer = watched
    suspect = threading.Thread(target=talk.take, args=[update(1)])
    suspect.start()
    assert inside.wait(10)
    other = threading.Thread(target=talk.take, args=[update(2)])
    other.start()
    other.join(0.3)
    rows = {r.update_id: r.times for r in store.read(lambda s: s.exec(select(Attempt)).all())}
    assert (seen, rows) == (["1"], {"1": 2})  # the other is not even begun: no death can be put down to it
    go_on.set()
    suspect.join(10)
    other.join(10)
    assert seen == ["1", "2"]


def test_whoever_watches_is_told_without_a_word_of_it(store):
    for _ in range(2):
        dies(store, update(1, "forget my secret wife"))
    conversation(store).take(update(1, "forget my secret wife"))
    assert store.read(lambda s: standing(s, NOW)).set_aside == 1
    said = store.read(_set_aside)
    assert not said.well
    assert "boat 1, a text of 21 characters" in said.said
    assert store.read(lambda s: [r.what for r in aside(s, NOW - timedelta(days=1))]) == [
        "a text of 21 characters"
    ]
    assert store.write(lambda s: drop_old(s, NOW + timedelta(days=1))) == 1
    assert store.read(_set_aside).well


async def test_health_tells_of_it_and_goes_on(store):
    for _ in range(2):
        dies(store, update(1))
    conversation(store).take(update(1))

    class Now:
        def now(self):
            return NOW

    checkup = Checkup(store, Now(), Pulse(), list, list)
    report = await checkup.ready()
    checkup.close()
    assert [(c.ok, c.value) for c in report.checks if c.check == "set_aside"] == [(False, 1)]
    assert report.ok


@pytest.mark.sqlite
def test_an_attempt_waits_for_no_disk(store):
    with store._noting.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 1  # NORMAL: no sync at a commit
    with store._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2  # FULL


HELD = """
import asyncio, re
from types import SimpleNamespace
from bot import service
service.HELD_S = 0.5
async def main():
    talk = SimpleNamespace(attempts=SimpleNamespace(longest_s=%s))
    asyncio.create_task(service.Service.stay_awake(SimpleNamespace(_conversation=talk)))
    await asyncio.sleep(0.2)
    %s
asyncio.run(main())
service.faulthandler.cancel_dump_traceback_later()
"""


@pytest.mark.parametrize(
    ("longest_s", "work", "status"),
    [
        ("0", "re.fullmatch('(?:a|aa)+b', 'a' * 80)", 1),
        ("1e9", "await asyncio.sleep(30)", 70),
        ("0", "await asyncio.sleep(1)", 0),
    ],
    ids=["held from C", "too long in hand", "all is well"],
)
def test_process_that_is_held_ends(longest_s, work, status):
    ran = subprocess.run(
        [sys.executable, "-c", HELD % (longest_s, work)], timeout=60, check=False, capture_output=True
    )
    assert ran.returncode == status, ran.stderr
