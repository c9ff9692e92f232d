"""On the way to a wire: one message a day, at the right hour, of what is still true, and nothing is lost."""

from datetime import UTC, date, datetime, timedelta

import pytest

from scheduler.deliver import Failed
from scheduler.tick import next_tick, tick
from store.vocabulary import ItemKind, Task

TODAY = date(2026, 6, 10)
YEAR_AGO, HALF_YEAR_AGO = date(2025, 6, 10), date(2025, 12, 10)
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin."""
SIX = "2026-06-10T18:00+02:00"
GAUGE, BAG = ("gauge_check", "due"), ("spray_bag_zip", "due")
DOWN = Failed("line down")


@pytest.fixture
def bag(kit):
    """Own a bag whose zip is due today; return its number."""
    return kit.add(ItemKind.BAG, HALF_YEAR_AGO)


def states(kit):
    return [(n.rule, n.state) for n in kit.notices()]


# --- one message -------------------------------------------------------------------------------------------------------


async def test_everything_due_goes_as_one_message_critical_first(kit, bag, ring, courier):
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    kit.add(ItemKind.BAG, date(2025, 12, 1))
    assert await ring(SIX) == 1
    older_bag = ("spray_bag_zip", "overdue")
    assert courier.taken == [(HOUR, "deck", [GAUGE, older_bag, BAG])]
    assert states(kit) == [("spray_bag_zip", "sent"), ("gauge_check", "sent"), ("spray_bag_zip", "sent")]


async def test_message_sent_is_not_sent_again(kit, bag, ring, courier):
    assert [await ring(f"2026-06-10T18:00:{s:02}+02:00") for s in (0, 1, 59)] == [1, 0, 0]
    assert kit.chat.last_digest_on == TODAY


async def test_second_message_of_a_day_waits_for_the_hour_of_the_next(kit, bag, ring, courier, clock):
    await ring(SIX)
    clock.set(datetime.fromisoformat("2026-06-10T19:00+02:00"))
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    seen = [await ring(at) for at in ("2026-06-10T19:01+02:00", "2026-06-11T17:59+02:00")]
    seen.append(await ring("2026-06-11T18:00+02:00"))
    assert seen == [0, 0, 1]
    assert courier.taken[1:] == [(HOUR + timedelta(days=1), "deck", [GAUGE])]


async def test_two_months_of_silence_give_one_message(kit, bag, ring, courier):
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    mask = kit.add(ItemKind.MASK, YEAR_AGO)
    kit.dive(TODAY, mask, conditions=("polluted",))
    seen = [
        await ring(at)
        for at in ("2026-08-10T18:00+02:00", "2026-08-10T18:00:20+02:00", "2026-08-11T18:00+02:00")
    ]
    assert seen == [1, 0, 0]
    expected = {
        ("gauge_check", "overdue"),
        ("wash_dirty", "overdue"),
        ("disinfect_breathed", "overdue"),
        ("spray_bag_zip", "overdue"),
    }  # the rinse has lapsed
    (_, _, said) = courier.taken[0]
    assert (set(said), len(said), said[-1][0]) == (expected, 4, "spray_bag_zip")


async def test_notices_queued_on_many_days_go_as_one_line_a_task(kit, bag, store, clock, courier, ring):
    """As when the wire held the chat for weeks while the sweeps went on."""
    for n in range(0, 62, 7):
        clock.set(HOUR + timedelta(days=n))
        kit.sweep()
    assert states(kit) == [("spray_bag_zip", "pending")] * 2
    await ring("2026-08-12T18:00+02:00")
    assert [said for _, _, said in courier.taken] == [[("spray_bag_zip", "overdue")]]
    assert states(kit) == [("spray_bag_zip", "cancelled"), ("spray_bag_zip", "sent")]


async def test_two_chats_get_their_own(open_kit, ring, courier):
    deck, boat = open_kit("deck"), open_kit("boat")
    deck.add(ItemKind.BAG, HALF_YEAR_AGO)
    boat.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    assert await ring(SIX) == 2
    assert sorted(courier.taken) == [(HOUR, "boat", [GAUGE]), (HOUR, "deck", [BAG])]


async def test_two_chats_in_two_zones_get_it_at_their_own_hour(open_kit, store, courier, clock):
    for address, zone in (("deck", "Europe/Berlin"), ("boat", "America/New_York")):
        kit = open_kit(address)
        kit.wish(zone=zone)
        kit.add(ItemKind.BAG, HALF_YEAR_AGO)
    end = HOUR + timedelta(days=2)
    while (at := store.read(next_tick)) is not None and at <= end:
        clock.set(at)
        await tick(store, courier, clock)
    assert [(at, chat) for at, chat, _ in courier.taken] == [
        (HOUR, "deck"),
        (HOUR + timedelta(hours=6), "boat"),
    ]


# --- quiet hours -------------------------------------------------------------------------------------------------------


async def test_nothing_is_sent_in_quiet_hours_and_it_goes_at_their_end(kit, bag, ring, courier):
    """As when the program was down in the evening."""
    night = ("10T22:00:00", "10T22:00:20", "10T23:59:59", "11T00:00:00", "11T06:59:59", "11T07:00:00")
    assert [await ring(f"2026-06-{at}+02:00") for at in night] == [0, 0, 0, 0, 0, 1]
    assert courier.taken == [(datetime(2026, 6, 11, 5, tzinfo=UTC), "deck", [BAG])]


async def test_fact_after_the_hour_is_not_told_at_once(kit, ring, clock):
    clock.set(datetime.fromisoformat("2026-06-10T19:30+02:00"))
    mask = kit.add(ItemKind.MASK, TODAY)
    kit.dive(TODAY, mask)
    assert await ring("2026-06-10T19:30:20+02:00") == 0


async def test_retry_that_falls_into_quiet_hours_waits_for_their_end(kit, bag, ring, courier):
    courier.answers.append(DOWN)
    await ring("2026-06-10T21:59:45+02:00")
    assert [await ring(at) for at in ("2026-06-10T22:00:20+02:00", "2026-06-11T07:00+02:00")] == [0, 1]
    assert len(courier.keys) == 2


async def test_waiting_out_the_night_does_not_count_as_an_attempt_of_the_wire(kit, bag, store, ring, courier):
    await ring("2026-06-10T23:00+02:00")
    courier.answers.append(DOWN)
    await ring("2026-06-11T07:00+02:00")
    assert store.read(next_tick) == datetime.fromisoformat("2026-06-11T07:00:30+02:00")


# --- what is no longer true --------------------------------------------------------------------------------------------


async def test_task_done_before_the_hour_is_not_sent(kit, bag, ring, courier):
    kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    assert (await ring(SIX), courier.keys, kit.notices()) == (0, [], [])


@pytest.mark.parametrize("change", ["done", "retired", "put off"])
async def test_notice_is_read_again_when_its_hour_comes(kit, bag, ring, courier, clock, change):
    kit.add(ItemKind.PRESSURE_GAUGE, YEAR_AGO)
    courier.answers.append(DOWN)
    await ring(SIX)
    if change == "done":
        kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    elif change == "retired":
        kit.retire(bag)
    else:
        kit.snooze(bag, "spray_bag_zip", TODAY + timedelta(days=2), part="bag_zip")
    await ring("2026-06-10T18:00:30+02:00")
    assert [said for _, _, said in courier.taken] == [[GAUGE]]
    assert dict(states(kit)) == {"gauge_check": "sent", "spray_bag_zip": "cancelled"}
    if change == "put off":
        await ring("2026-06-12T18:00+02:00")
        assert [said for _, _, said in courier.taken] == [[GAUGE], [BAG]]


async def test_notices_that_are_all_done_meanwhile_send_nothing(kit, bag, ring, courier):
    courier.answers.append(DOWN)
    await ring(SIX)
    kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    assert await ring("2026-06-10T18:00:30+02:00") == 0
    assert (courier.taken, states(kit)) == ([], [("spray_bag_zip", "cancelled")])
    assert kit.chat.last_digest_on is None


async def test_task_due_again_after_its_notice_was_cancelled_is_told(kit, bag, ring, courier, clock):
    courier.answers.append(DOWN)
    await ring(SIX)
    kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    await ring("2026-06-10T18:00:30+02:00")
    kit.undo()
    for minutes in range(1, 25 * 60, 60):
        clock.set(HOUR + timedelta(minutes=minutes))
        await ring(clock.now().isoformat())
    assert [said for _, _, said in courier.taken] == [[BAG]]


async def test_more_chats_than_a_round_holds_are_all_served_at_once(open_kit, courier, ring, monkeypatch):
    monkeypatch.setattr("scheduler.deliver.CHATS_AT_ONCE", 2)
    for n in range(5):
        open_kit(f"deck {n}").add(ItemKind.BAG, date(2025, 12, 10))
    assert await ring("2026-06-10T18:00+02:00") == 5
    assert sorted(address for _, address, _ in courier.taken) == [f"deck {n}" for n in range(5)]
