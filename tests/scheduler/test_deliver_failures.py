"""When a wire fails or the machine stops: tried again, given up in the end, and nothing is lost."""

import asyncio
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest

from scheduler.clock import SetClock
from scheduler.deliver import Failed, deliver
from scheduler.policy import NOTICES
from scheduler.tick import next_tick, tick
from store import lockers
from store.engine import Store
from store.outbox import LEASE
from store.vocabulary import ItemKind

YEAR_AGO, HALF_YEAR_AGO = date(2025, 6, 10), date(2025, 12, 10)
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin."""
SIX = "2026-06-10T18:00+02:00"
ATTEMPTS = NOTICES.attempts
GAUGE, BAG = ("gauge_check", "due"), ("spray_bag_zip", "due")
DOWN = Failed("line down")


@pytest.fixture
def bag(kit):
    """Own a bag whose zip is due today; return its number."""
    return kit.add(ItemKind.BAG, HALF_YEAR_AGO)


def states(kit):
    return [(n.rule, n.state) for n in kit.notices()]


# --- failures ----------------------------------------------------------------------------------------------------------


async def test_failure_of_one_chat_does_not_stop_the_other(open_kit, ring, courier):
    for address in ("deck", "boat"):
        open_kit(address).add(ItemKind.BAG, HALF_YEAR_AGO)
    courier.answers.append(DOWN)
    assert (await ring(SIX), [chat for _, chat, _ in courier.taken]) == (1, ["boat"])


@pytest.mark.parametrize("forgotten", ["pier", "boat", "deck"])
async def test_chat_forgotten_meanwhile_does_not_stop_the_others(
    open_kit, store, courier, monkeypatch, forgotten
):
    """Two are under way at once, the third is not claimed yet: that one is never told."""
    monkeypatch.setattr("scheduler.deliver.CHATS_AT_ONCE", 2)
    kits = {address: open_kit(address) for address in ("pier", "boat", "deck")}
    for kit in kits.values():
        kit.add(ItemKind.BAG, HALF_YEAR_AGO)

    class Forgetting:
        wires = ("wire",)

        async def carry(self, digest):
            taken = await courier.carry(digest)
            store.write(lambda s: lockers.forget(s, kits[forgotten].locker_id))
            return taken

    clock = courier.clock
    clock.set(HOUR)
    await tick(store, Forgetting(), clock)
    others = set(kits) - {"deck"} if forgotten == "deck" else set(kits)
    assert sorted(chat for _, chat, _ in courier.taken) == sorted(others)
    kept = [address for address in kits if address != forgotten]
    assert [states(kits[a]) for a in kits] == [[("spray_bag_zip", "sent")] if a in kept else [] for a in kits]


async def test_failure_is_tried_again_with_growing_gaps_and_then_given_up(kit, bag, store, ring, courier):
    courier.answers += [DOWN] * 20
    tried = []
    at = HOUR
    while at is not None and at < HOUR + timedelta(days=1):
        tried.append(at)
        await ring(at.isoformat())
        at = store.read(next_tick)
    gaps = [(b - a).total_seconds() for a, b in pairwise(tried)]
    assert gaps == [30, 60, 120, 240, 480, 960, 1920]
    assert (len(courier.keys), courier.taken) == (ATTEMPTS, [])
    assert [(n.state, n.attempts, n.error) for n in kit.notices()] == [("dead", ATTEMPTS, "line down")]


async def test_failure_before_the_retry_is_not_tried(bag, ring, courier):
    courier.answers.append(DOWN)
    times = ("2026-06-10T18:00:00+02:00", "2026-06-10T18:00:29+02:00", "2026-06-10T18:00:30+02:00")
    assert [await ring(at) for at in times] == [0, 0, 1]


async def test_same_notices_have_the_same_key_at_each_attempt(kit, bag, ring, courier):
    courier.answers += [DOWN] * 2
    for at in ("2026-06-10T18:00+02:00", "2026-06-10T18:00:30+02:00", "2026-06-10T18:01:30+02:00"):
        await ring(at)
    assert (len(courier.keys), len(set(courier.keys)), len(kit.notices())) == (3, 1, 1)


async def test_new_notice_is_not_given_up_with_an_old_one(kit, bag, store, ring, courier):
    courier.answers += [DOWN] * ATTEMPTS
    at = HOUR
    for _ in range(ATTEMPTS - 1):
        await ring(at.isoformat())
        at = store.read(next_tick)
    kit.wish(digest_at="19:03")
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    await ring(at.isoformat())
    assert dict(states(kit)) == {"spray_bag_zip": "dead", "gauge_check": "pending"}


async def test_chat_that_is_gone_is_muted(kit, bag, ring, courier):
    courier.answers.append(Failed("blocked", gone=True))
    kit.add(ItemKind.BAG, HALF_YEAR_AGO + timedelta(days=1))
    assert [await ring(at) for at in (SIX, "2026-06-11T18:00+02:00", "2026-07-11T18:00+02:00")] == [0, 0, 0]
    assert (kit.chat.muted_at, len(courier.keys)) == (HOUR, 1)
    assert [(n.state, n.error) for n in kit.notices()] == [("dead", "blocked")]


def test_chat_that_was_gone_and_speaks_again_is_told_again(talk, store):
    talk.say("add dry suit, plastic zip, latex seals")
    chat = store.write(lambda s: lockers.open_chat(s, "replay", "deck", talk.now))
    store.write(lambda s: setattr(lockers.find_chat(s, chat.id), "muted_at", talk.now))
    talk.say("2 dives today, salt")
    assert [sent.chat for sent in talk.until("2026-06-10T20:00+00:00")] == ["deck"]


async def test_wait_of_the_wire_holds_the_chat_and_only_time_ends_it(kit, bag, ring, courier, clock):
    courier.answers.append(Failed("flood", wait=timedelta(minutes=10)))
    await ring(SIX)
    assert kit.chat.hold_until == HOUR + timedelta(minutes=10)
    kit.wish(digest_at="18:05")
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    times = ("2026-06-10T18:05+02:00", "2026-06-10T18:09:59+02:00", "2026-06-10T18:10+02:00")
    assert [await ring(at) for at in times] == [0, 0, 1]
    assert courier.taken == [(HOUR + timedelta(minutes=10), "deck", [GAUGE, BAG])]


async def test_wait_of_the_wire_holds_no_other_chat(open_kit, bag, ring, courier):
    other = open_kit("boat")
    other.wish(digest_at="18:01")
    other.add(ItemKind.BAG, HALF_YEAR_AGO)
    courier.answers.append(Failed("flood", wait=timedelta(minutes=10)))
    assert [await ring(at) for at in (SIX, "2026-06-10T18:01+02:00")] == [0, 1]
    assert [chat for _, chat, _ in courier.taken] == ["boat"]


# --- crashes -----------------------------------------------------------------------------------------------------------


class PowerCutError(BaseException):
    """What a test throws where the machine stops."""


class Brittle:
    """The real store until its power is cut: before its write number `last`, or straight after it."""

    def __init__(self, store: Store, last: int, *, after: bool):
        self.store, self.left, self.after, self.cut = store, last, after, False

    def write(self, work):
        last, self.left = self.left == 0, self.left - 1
        self.cut = self.cut or (last and not self.after)
        if self.cut:
            raise PowerCutError
        self.cut = last
        done = self.store.write(work)
        if last:
            raise PowerCutError
        return done


async def run(store, courier, start, days=1):
    """Let time go by in steps of half a minute around the hour, as the alarm does, on the store as it is."""
    clock = courier.clock
    for n in range(days * 12):
        clock.set(start + timedelta(seconds=30 * n))
        await tick(store, courier, clock)


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("write", range(5))
async def test_power_cut_at_any_write_loses_nothing(open_kit, store, courier, clock, write, after):
    """The writes of a tick with two chats: sweep, claim; settle each and find nothing more to claim, as it comes."""
    kits = {address: open_kit(address) for address in ("deck", "boat")}
    for kit in kits.values():
        kit.add(ItemKind.BAG, HALF_YEAR_AGO)
    clock.set(HOUR)
    brittle = Brittle(store, write, after=after)
    with pytest.raises(PowerCutError):
        await tick(brittle, courier, clock)
    await asyncio.gather(*(asyncio.all_tasks() - {asyncio.current_task()}), return_exceptions=True)
    carried = {chat for _, chat, _ in courier.taken}
    in_flight = [a for a in carried if states(kits[a]) == [("spray_bag_zip", "claimed")]]
    most = {(2, False): {2}, (2, True): {1}, (3, False): {1}, (3, True): {0, 1}, (4, False): {0, 1}}
    assert len(in_flight) in most.get((write, after), {0})
    await run(store, courier, HOUR)
    assert sorted(chat for _, chat, _ in courier.taken) == sorted(["deck", "boat", *in_flight])
    assert await deliver(store, courier, SetClock(HOUR + timedelta(hours=2))) == 0


async def test_power_cut_between_carry_and_settle_repeats_the_same_key(kit, bag, store, courier, ring):
    """A wire that knows the key can refuse the repeat."""

    class Cut:
        wires = ("wire",)

        async def carry(self, digest):
            await courier.carry(digest)
            raise PowerCutError

    courier.clock.set(HOUR)
    with pytest.raises(PowerCutError):
        await tick(store, Cut(), courier.clock)
    assert states(kit) == [("spray_bag_zip", "claimed")]
    times = [HOUR + LEASE - timedelta(seconds=1), HOUR + LEASE]
    assert [await ring(at.isoformat()) for at in times] == [0, 1]
    assert (courier.keys[0] == courier.keys[1], states(kit)) == (True, [("spray_bag_zip", "sent")])


async def test_power_cut_and_a_new_start_on_the_file_loses_nothing(kit, bag, store, database, courier):
    courier.clock.set(HOUR)
    courier.answers.append(RuntimeError("power cut"))
    with pytest.raises(RuntimeError):
        await tick(store, courier, courier.clock)
    store.close()
    again = Store(database)
    try:
        await run(again, courier, HOUR)
    finally:
        again.close()
    assert courier.taken == [(HOUR + LEASE, "deck", [BAG])]
