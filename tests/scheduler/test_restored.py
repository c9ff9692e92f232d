"""An older copy that was put back says nothing twice on that day, and nothing that is due is lost."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from bot.conversation import Conversation, Update
from bot.main import token
from scheduler.clock import SetClock
from scheduler.restored import settle
from scheduler.tick import tick
from store.engine import Store
from store.exchange import backup
from store.tables import Chat, Dive, Letter, Notice

pytestmark = pytest.mark.sqlite

MORNING = datetime(2026, 6, 10, 8, tzinfo=UTC)
"""Six in the evening is the hour of the reminders."""
WIRE = "telegram"


@dataclass
class Courier:
    """Keeps what it carried: task, item and stage of each line, and the trips."""

    wires: tuple[str, ...] = (WIRE,)
    said: list[tuple[str, ...]] = field(default_factory=list)

    async def carry(self, digest):
        self.said += [(line.rule.id, line.item.name, line.stage) for line in digest.lines]
        self.said += [("trip", str(call.days_before)) for call in digest.trips]
        self.said += [("board",)] if digest.board else []


class Deck:
    """A bot that goes on, is copied, goes on, and is put back."""

    def __init__(self, database, folder):
        self.url, self.folder, self.clock = database, folder, SetClock(MORNING)
        self.courier, self.numbers = Courier(), iter(range(1000))
        self.store = Store(database)

    def say(self, text, number=None):
        conversation = Conversation(self.store, token)
        number = str(next(self.numbers)) if number is None else number
        update = {"update_id": number, "by_post": True}
        return conversation.take(Update(WIRE, "deck", "mara", self.clock.now(), text=text, **update))

    async def until(self, at):
        """Ring each hour until an instant and return what was said."""
        before = len(self.courier.said)
        while self.clock.now() < at:
            self.clock.forward(min(timedelta(hours=1), at - self.clock.now()))
            await tick(self.store, self.courier, self.clock)
        return self.courier.said[before:]

    def back_up(self):
        return backup.back_up(self.url, self.folder / "copy.db", self.clock.now())

    def restore(self):
        self.store.close()
        now = self.clock.now()
        backup.put_back(self.folder / "copy.db", self.url, now, lambda s: settle(s, now))
        self.store = Store(self.url)

    def rows(self, table):
        return self.store.read(lambda s: list(s.exec(select(table)).all()))


@pytest.fixture
def deck(database, tmp_path):
    made = Deck(database, tmp_path)
    yield made
    made.store.close()


async def test_what_was_said_between_copy_and_restore_is_not_said_again_that_day(deck):
    deck.say("add dry suit, latex seals")
    deck.say("2 dives today")
    deck.back_up()
    said = await deck.until(MORNING.replace(hour=19))
    assert said
    deck.say("add torch")
    deck.say("3 dives today")
    deck.restore()
    assert [d.dives for d in deck.rows(Dive)] == [2]
    assert await deck.until(MORNING.replace(hour=23)) == []
    later = await deck.until(MORNING + timedelta(days=1, hours=12))
    assert later  # at most once more, a day later: a copy cannot know that it was said


async def test_what_nobody_heard_of_is_told_the_day_after(deck):
    deck.say("add dry suit, latex seals")
    deck.say("2 dives today")
    deck.back_up()
    deck.clock.forward(timedelta(hours=20))  # the machine broke at once
    deck.restore()
    today = await deck.until(MORNING + timedelta(hours=24))
    told = await deck.until(MORNING + timedelta(days=2, hours=12))
    assert (today, bool(told)) == ([], True)


async def test_what_was_sent_before_the_copy_is_never_sent_again(deck):
    deck.say("add dry suit, latex seals")
    deck.say("2 dives today")
    said = await deck.until(MORNING.replace(hour=19))
    deck.back_up()
    deck.restore()
    again = await deck.until(MORNING + timedelta(days=2, hours=12))
    assert said
    assert [line for line in again if line in said] == []


async def test_claimed_at_the_copy_waits_like_the_rest(deck):
    deck.say("add dry suit, latex seals")
    deck.say("2 dives today")
    deck.courier.wires = ()
    await deck.until(MORNING.replace(hour=19))
    now = deck.clock.now()

    def claim(session):
        for notice in session.exec(select(Notice)):
            notice.state, notice.lease_until = "claimed", now + timedelta(minutes=2)
            notice.sent_as, notice.attempts = "abc", 1
            session.add(notice)

    deck.store.write(claim)
    deck.back_up()
    deck.restore()
    deck.courier.wires = (WIRE,)
    assert await deck.until(MORNING.replace(hour=23)) == []
    assert await deck.until(MORNING + timedelta(days=1, hours=12))


async def test_answers_that_waited_are_not_sent_again(deck):
    deck.say("add dry suit")
    assert len(deck.rows(Letter)) == 1
    deck.back_up()
    deck.restore()
    assert deck.rows(Letter) == []


async def test_update_that_acted_before_the_copy_does_not_act_again_and_a_later_one_does(deck):
    deck.say("2 dives today", "7")
    deck.back_up()
    deck.say("3 dives today", "8")
    deck.restore()
    assert deck.say("2 dives today", "7") is None
    assert deck.say("3 dives today", "8") is not None
    assert [d.dives for d in deck.rows(Dive)] == [2, 3]


async def test_last_check_of_a_trip_is_not_said_twice_and_one_to_come_is_said(deck):
    deck.say("add dry suit, latex seals, scooter")
    deck.say("trip 11 to 14 June, 6 dives, salt")
    deck.back_up()
    deck.restore()
    assert ("trip", "1") in await deck.until(MORNING.replace(hour=20))  # its hour had not come
    deck.restore()
    assert [line for line in await deck.until(MORNING.replace(hour=23)) if line[0] == "trip"] == []


async def test_key_of_a_message_is_not_that_of_another_from_before(deck):
    """On Matrix a key that was used stands for the message sent by it: another under it would never be seen."""
    keys = []

    async def carry(digest):
        keys.append((digest.key, tuple(sorted(line.item.name for line in digest.lines))))

    deck.courier.carry = carry
    deck.back_up()
    deck.say("add dry suit, latex seals")
    deck.say("2 dives today")
    await deck.until(MORNING.replace(hour=19))
    deck.restore()
    deck.say("add scooter")
    deck.say("2 dives today")
    await deck.until(MORNING + timedelta(days=1, hours=12))
    (one, suit), (other, scooter) = keys[:2]
    assert (suit == scooter, one == other) == (False, False)


async def test_each_zone_has_its_own_day(deck):
    deck.say("zone Pacific/Auckland")
    deck.clock.forward(timedelta(hours=10))
    deck.back_up()
    deck.restore()
    (chat,) = deck.rows(Chat)
    assert chat.last_digest_on.isoformat() == "2026-06-11"


async def test_board_whose_hour_passed_comes_once_the_day_after(deck):
    deck.say("add scooter")

    def board(session):
        chat = session.exec(select(Chat)).one()
        chat.board_day, chat.board_at = MORNING.weekday(), MORNING - timedelta(days=14)
        session.add(chat)

    deck.store.write(board)
    deck.back_up()
    deck.restore()
    today = await deck.until(MORNING.replace(hour=23))
    later = await deck.until(MORNING + timedelta(days=6))
    assert (today, later) == ([], [("board",)])
