"""Reminders on several wires: sent again by the same key where nobody knows, held, moved, and never waiting for another."""

import asyncio
from datetime import UTC, date, datetime, timedelta

import pytest

from scheduler.deliver import Failed, deliver
from scheduler.tick import tick
from store import letters
from store.outbox import LEASE
from store.vocabulary import ItemKind, Task

TODAY = date(2026, 6, 10)
YEAR_AGO, HALF_YEAR_AGO = date(2025, 6, 10), date(2025, 12, 10)
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin."""
SIX = "2026-06-10T18:00+02:00"
RETRY = "2026-06-10T18:00:30+02:00"
TOMORROW = "2026-06-11T18:00+02:00"
GAUGE, BAG = ("gauge_check", "due"), ("spray_bag_zip", "due")
UNSURE = Failed("the line broke before the answer", unsure=True)
PATIENCE_S = 10.0


@pytest.fixture
def bag(kit):
    """Own a bag whose zip is due today; return its number."""
    return kit.add(ItemKind.BAG, HALF_YEAR_AGO)


def said(courier):
    return [lines for _, _, lines in courier.taken]


# --- nobody knows whether it arrived -----------------------------------------------------------------------------------


async def test_unsure_failure_goes_again_by_the_same_key_alone_and_what_came_since_later(
    kit, bag, ring, courier
):
    courier.answers.append(UNSURE)
    await ring(SIX)
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    assert [await ring(at) for at in (RETRY, "2026-06-10T18:03+02:00", TOMORROW)] == [1, 0, 1]
    assert said(courier) == [[BAG], [GAUGE]]
    assert (courier.keys[0] == courier.keys[1], len(set(courier.keys)), len(courier.keys)) == (True, 2, 3)
    assert {n.rule: (n.state, n.attempts, n.sent_as) for n in kit.notices()} == {
        "spray_bag_zip": ("sent", 2, None),
        "gauge_check": ("sent", 1, None),
    }


async def test_unsure_failure_many_times_over_keeps_its_key(kit, bag, ring, courier):
    courier.answers += [UNSURE] * 3
    await ring(SIX)
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    for at in (RETRY, "2026-06-10T18:01:30+02:00", "2026-06-10T18:03:30+02:00"):
        await ring(at)
    assert (len(courier.keys), len(set(courier.keys)), said(courier)) == (4, 1, [[BAG]])


async def test_sure_failure_goes_again_with_all_that_became_due_meanwhile(kit, bag, ring, courier):
    courier.answers.append(Failed("line down"))
    await ring(SIX)
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    await ring(RETRY)
    assert (said(courier), len(set(courier.keys))) == ([[GAUGE, BAG]], 2)


async def test_unsure_failure_then_a_refusal_of_the_repeat_still_keeps_its_key(kit, bag, ring, courier):
    """The wire was too busy for the repeat; the first may have arrived all the same."""
    courier.answers += [UNSURE, Failed("flood", wait=timedelta(minutes=3))]
    await ring(SIX)
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    for at in (RETRY, "2026-06-10T18:03:30+02:00"):
        await ring(at)
    assert (said(courier), len(courier.keys), len(set(courier.keys))) == ([[BAG]], 3, 1)


async def test_unsure_failure_keeps_its_key_when_part_of_it_was_done_since(kit, bag, ring, courier):
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    courier.answers.append(UNSURE)
    await ring(SIX)
    kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    await ring(RETRY)
    assert (said(courier), len(set(courier.keys))) == ([[GAUGE]], 1)


async def test_unsure_failure_that_waits_out_the_night_keeps_its_key(kit, bag, ring, courier):
    courier.answers.append(UNSURE)
    await ring("2026-06-10T21:59:45+02:00")
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    for at in ("2026-06-10T22:00:20+02:00", "2026-06-11T07:00+02:00"):
        await ring(at)
    assert (said(courier), len(courier.keys), len(set(courier.keys))) == ([[BAG]], 2, 1)


class PowerCutError(BaseException):
    """What a test throws where the machine stops."""


async def test_lease_that_ran_out_is_sent_again_by_the_same_key_and_what_came_since_later(
    kit, bag, store, courier, clock, ring
):
    class Cut:
        wires = ("wire",)

        async def carry(self, digest):
            await courier.carry(digest)
            raise PowerCutError

    clock.set(HOUR)
    with pytest.raises(PowerCutError):
        await tick(store, Cut(), clock)
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    assert await ring((HOUR + LEASE).isoformat()) == 1
    assert (said(courier), len(set(courier.keys))) == ([[BAG], [BAG]], 1)
    await ring(TOMORROW)
    assert said(courier)[2:] == [[GAUGE]]


# --- other wires, other chats ------------------------------------------------------------------------------------------


async def test_wire_that_is_not_carried_is_left_alone(kit, bag, ring, courier):
    courier.wires = ("other wire",)
    assert [await ring(at) for at in (SIX, RETRY)] == [0, 0]
    assert [(n.state, n.attempts, n.send_at, n.lease_until) for n in kit.notices()] == [
        ("pending", 0, HOUR, None)
    ]
    courier.wires = ("other wire", "wire")
    assert await ring("2026-06-10T18:01+02:00") == 1
    assert [(n.state, n.attempts) for n in kit.notices()] == [("sent", 1)]


async def test_slow_chat_does_not_delay_the_others_however_many(open_kit, store, courier, clock, monkeypatch):
    monkeypatch.setattr("scheduler.deliver.CHATS_AT_ONCE", 4)
    for n in range(10):
        open_kit(f"chat {n}").add(ItemKind.BAG, HALF_YEAR_AGO)
    gate, others = asyncio.Event(), asyncio.Event()

    class Slow:
        wires = ("wire",)
        at_once = 0

        async def carry(self, digest):
            Slow.at_once += 1
            assert Slow.at_once <= 4
            if digest.chat.address == "chat 0":
                await gate.wait()
            Slow.at_once -= 1
            done = await courier.carry(digest)
            if len(courier.taken) == 9:
                others.set()
            return done

    clock.set(HOUR)
    ringing = asyncio.create_task(tick(store, Slow(), clock))
    await asyncio.wait_for(others.wait(), PATIENCE_S)
    assert "chat 0" not in {chat for _, chat, _ in courier.taken}
    gate.set()
    assert await asyncio.wait_for(ringing, PATIENCE_S) == 10
    assert sorted(chat for _, chat, _ in courier.taken) == [f"chat {n}" for n in range(10)]


# --- what a wire says of a chat ----------------------------------------------------------------------------------------


async def test_chat_that_moved_is_told_at_its_new_address_at_once(kit, bag, ring, courier):
    courier.answers.append(Failed("moved", moved_to="pier"))
    assert await ring(SIX) == 1
    assert courier.taken == [(HOUR, "pier", [BAG])]
    assert (kit.chat.address, kit.chat.muted_at) == ("pier", None)
    assert [n.state for n in kit.notices()] == ["sent"]


async def test_chat_that_cannot_be_moved_is_muted_and_not_tried_without_end(
    kit, bag, open_kit, ring, courier
):
    open_kit("pier").add(ItemKind.MASK, TODAY)
    courier.answers += [Failed("moved", moved_to="pier")] * 20
    assert await ring(SIX) == 0
    assert (kit.chat.address, kit.chat.muted_at is not None, len(courier.keys)) == ("deck", True, 1)


@pytest.fixture
def three(open_kit):
    """Open three lockers with something due a minute apart: deck, boat, pier."""
    kits = [open_kit(address) for address in ("deck", "boat", "pier")]
    for n, kit in enumerate(kits):
        kit.wish(digest_at=f"18:0{n}")
        kit.add(ItemKind.BAG, HALF_YEAR_AGO)
    return kits


def at(minutes):
    return (HOUR + timedelta(minutes=minutes)).isoformat()


async def test_wait_told_to_a_second_chat_holds_the_whole_wire_until_it_is_over(three, ring, courier, store):
    courier.answers += [Failed("flood", wait=timedelta(minutes=n)) for n in (10, 5)]
    seen = [await ring(at(n)) for n in (0, 1)]
    assert store.read(lambda s: letters.state(s, "wire").hold_until) == HOUR + timedelta(minutes=6)
    seen += [await ring(at(n)) for n in (2, 5.9, 6, 9.9, 10)]
    assert seen == [0, 0, 0, 0, 2, 0, 1]
    assert [n.attempts for n in three[2].notices()] == [1]
    assert [chat for _, chat, _ in courier.taken[:-1]] in (["boat", "pier"], ["pier", "boat"])
    assert courier.taken[-1] == (HOUR + timedelta(minutes=10), "deck", [BAG])


async def test_wait_told_to_a_second_chat_when_the_first_is_over_holds_that_chat_alone(three, ring, courier):
    courier.answers += [
        Failed("flood", wait=timedelta(minutes=1)),
        None,
        Failed("flood", wait=timedelta(minutes=9)),
    ]
    assert [await ring(at(n)) for n in (0, 1)] == [0, 1]
    assert [await ring(at(n)) for n in (2, 10)] in ([1, 1], [0, 2])


async def test_wait_for_all_chats_holds_the_wire_at_once(three, ring, courier):
    courier.answers.append(Failed("flood", wait=timedelta(minutes=5), everywhere=True))
    assert [await ring(at(n)) for n in (0, 1, 2, 4.9, 5)] == [0, 0, 0, 0, 3]


async def test_hold_of_one_wire_leaves_the_others(three, ring, courier, store):
    store.write(lambda s: letters.hold_wire(s, "other wire", HOUR + timedelta(hours=1)))
    courier.wires = ("other wire", "wire")
    assert await ring(at(0)) == 1


async def test_nothing_of_a_held_wire_is_claimed(three, store, courier, clock):
    store.write(lambda s: letters.hold_wire(s, "wire", HOUR + timedelta(hours=1)))
    clock.set(HOUR)
    three[0].sweep()
    assert await deliver(store, courier, clock) == 0
    assert [(n.state, n.attempts, n.lease_until) for n in three[0].notices()] == [("pending", 0, None)]
