"""The clock jumps, forward and back: nobody is told twice, nobody is left untold, and the night stays quiet.

`tests/test_year.py` holds the days on which clocks change, and two months without a process.
"""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from sqlmodel import select

from scheduler.clock import SystemClock
from scheduler.tick import Alarm, tick
from store.outbox import LEASE
from store.tables import Notice

from .script import Said, say

HOUR, DAY, YEAR = timedelta(hours=1), timedelta(days=1), timedelta(days=365)
MORNING = datetime(2026, 6, 10, 9, tzinfo=UTC)
EVENING = datetime(2026, 6, 10, 18, 30, tzinfo=UTC)
"""The hour of the reminders is over, the quiet hours are ahead."""


class Jumpy:
    """A clock that jumps, and with it the diver who is told."""

    wires = ("wire",)

    def __init__(self, store) -> None:
        self.at, self.store, self.breaks = MORNING, store, False
        self.told: list[tuple[datetime, list[tuple]]] = []
        self._said = 0

    def now(self) -> datetime:
        return self.at

    async def carry(self, digest) -> None:
        if self.breaks:
            raise KeyboardInterrupt
        self.told.append((self.at, [(n.item.name, n.task.part, n.rule.id, n.due_on) for n in digest.lines]))

    def say(self, text: str) -> None:
        """Say something now."""
        say(self.store, [Said("c0", self._said, text, self.at)])
        self._said += 1

    def ring(self) -> list[tuple]:
        """Let the alarm ring; return of what was told."""
        before = len(self.told)
        asyncio.run(tick(self.store, self, self))
        return [line for _, lines in self.told[before:] for line in lines]

    def days(self, first: datetime, days: int) -> list[tuple]:
        """Ring every four hours for some days and return of what was told."""
        heard = []
        for hours in range(0, 24 * days, 4):
            self.at = first + hours * HOUR
            heard += self.ring()
        return heard

    def waiting(self) -> list[Notice]:
        """Return the notices that are on their way."""
        on_the_way = select(Notice).where(Notice.state.in_(("pending", "claimed")))
        return list(self.store.read(lambda s: s.exec(on_the_way).all()))


@pytest.fixture
def jumpy(store) -> Jumpy:
    """Give a diver who rinses after each dive day, and who dived today."""
    opened = Jumpy(store)
    opened.say("add dry suit, plastic zip, latex seals")
    opened.say("2 dives today, salt, 30 m")
    return opened


def rinses(told: list[tuple]) -> list[str]:
    """Return for which days a rinse was asked for."""
    return [str(on) for _, _, rule, on in told if rule == "rinse"]


@pytest.mark.parametrize("by", [HOUR, DAY, YEAR], ids=["hour", "day", "year"])
def test_clock_set_forward_tells_what_is_due_then_once(jumpy, by):
    jumpy.at = EVENING - HOUR + by
    jumpy.ring()
    assert len(jumpy.told) <= 1
    heard = jumpy.days(jumpy.at, 3)
    told = [line for _, lines in jumpy.told for line in lines]
    assert heard or jumpy.told
    assert len(told) == len(set(told)), "told twice"
    assert len({at.date() for at, _ in jumpy.told}) == len(jumpy.told), "two messages a day"


def test_clock_set_forward_into_the_night_waits_for_the_morning(jumpy):
    jumpy.at = EVENING.replace(hour=23)
    assert jumpy.ring() == []
    jumpy.at = datetime(2026, 6, 11, 7, 0, 1, tzinfo=UTC)
    assert rinses(jumpy.ring()) == ["2026-06-10"]


@pytest.mark.parametrize("by", [HOUR, DAY, YEAR], ids=["hour", "day", "before it began"])
def test_clock_set_back_repeats_nothing_and_loses_nothing(jumpy, by):
    jumpy.at = EVENING
    first = jumpy.ring()
    assert rinses(first) == ["2026-06-10"]
    jumpy.at -= by
    assert jumpy.ring() == []
    heard = jumpy.days(EVENING - by, 2)
    assert heard == [], "what was told is not told again"
    jumpy.at = EVENING + DAY - 2 * HOUR
    jumpy.say("1 dive today, salt, 20 m")
    assert rinses(jumpy.days(EVENING + DAY, 2)) == ["2026-06-11"]


def test_clock_set_back_before_what_is_due_was_told_puts_it_off_only(jumpy):
    jumpy.at = EVENING - YEAR
    assert jumpy.ring() == []
    jumpy.at = EVENING
    assert rinses(jumpy.ring()) == ["2026-06-10"]


@pytest.mark.parametrize(("by", "within"), [(2 * DAY, 3), (YEAR, 1)], ids=["two days", "year"])
def test_clock_that_was_ahead_and_is_put_right_silences_nobody(jumpy, by, within):
    """Up to a day ahead may be the date line, which is waited for."""
    jumpy.at = EVENING + by
    assert jumpy.ring() != []
    jumpy.at = EVENING + DAY - 2 * HOUR
    jumpy.say("1 dive today, salt, 20 m")
    assert rinses(jumpy.days(EVENING + DAY - HOUR, within)) == ["2026-06-11"]


def test_lease_of_a_clock_that_was_ahead_ends_no_later_than_any_other(jumpy):
    jumpy.at, jumpy.breaks = EVENING + 2 * HOUR, True
    with pytest.raises(KeyboardInterrupt):
        jumpy.ring()
    assert {n.state for n in jumpy.waiting()} == {"claimed"}
    jumpy.at, jumpy.breaks = EVENING, False
    jumpy.ring()
    jumpy.at = EVENING + LEASE
    assert rinses([*jumpy.ring(), *(line for _, lines in jumpy.told for line in lines)]) != []


async def test_alarm_rings_on_after_the_clock_was_set_back(monkeypatch):
    rung = []

    async def work() -> None:
        rung.append(1)

    monkeypatch.setattr("scheduler.tick.EVERY_S", 0.1)
    alarm = Alarm(SystemClock())
    alarm.ring(timedelta(seconds=0.1), SystemClock().now(), work)
    alarm.start()
    await asyncio.sleep(0.5)
    before = len(rung)
    assert before > 0
    with time_machine.travel(SystemClock().now() - HOUR, tick=True):
        await asyncio.sleep(1)
        after = len(rung) - before
        alarm.shutdown()
    assert after > 0
