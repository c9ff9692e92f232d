"""From facts to tasks and from tasks to notices: both may be run again at will and add nothing."""

from datetime import UTC, date, datetime, timedelta

import pytest

from scheduler.standing import work_out
from store.vocabulary import ItemKind, SealMaterial, Task, ZipMaterial

TODAY = date(2026, 6, 10)
DAY = timedelta(days=1)
LONG_AGO = date(2025, 6, 10)
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin."""


def dump(rows):
    return [row.model_dump() for row in rows]


def told(kit):
    return [(n.rule, n.part, n.due_on, n.stage) for n in kit.notices()]


@pytest.fixture
def busy(kit):
    """Fill a locker with kit, dives, care, a manual and a wish, so that there is much to work out."""
    suit = kit.add(
        ItemKind.DRY_SUIT, LONG_AGO, zip_material=ZipMaterial.PLASTIC, seal_material=SealMaterial.LATEX
    )
    regulator = kit.add(ItemKind.REGULATOR, LONG_AGO)
    twinset = kit.add(ItemKind.TWINSET, LONG_AGO)
    kit.locker(region="DE")
    kit.dive(TODAY - 5 * DAY, suit, regulator, twinset, dives_done=12, conditions=("sand", "polluted"))
    kit.dive(TODAY, suit, regulator, twinset, dives_done=2)
    kit.care(suit, Task.CLEAN, TODAY - 2 * DAY)
    kit.care(twinset, Task.TEST, date(2021, 5, 20))
    kit.manual(regulator, task=Task.SERVICE, every_months=24)
    kit.snooze(suit, "suit_valves", TODAY + 3 * DAY)
    return kit


# --- the same facts, the same tasks ------------------------------------------------------------------------------------


def test_refresh_again_changes_nothing(busy):
    before = dump(busy.tasks())
    busy.refresh()
    assert (dump(busy.tasks()), len(before)) == (before, 28)


def test_refresh_after_a_sweep_changes_nothing(busy, clock):
    clock.set(HOUR)
    busy.sweep()
    before = dump(busy.tasks())
    busy.refresh()
    assert dump(busy.tasks()) == before


def test_tasks_thrown_away_are_worked_out_alike(busy, store):
    def without_id(rows):
        kept = {"id", "was_due_on", "was_told"}  # what was said before is remembered, not derived
        return [{k: v for k, v in row.items() if k not in kept} for row in dump(rows)]

    before = without_id(busy.tasks())
    with_all = busy.tasks()
    store.write(lambda s: [s.delete(s.merge(task)) for task in with_all])
    busy.refresh()
    assert without_id(busy.tasks()) == before


def test_tasks_are_the_due_states_of_the_facts(busy, store):
    standing = store.read(lambda s: work_out(s, busy.locker_id, TODAY))
    expected = {
        (i.item.id, d.part, d.rule.id, d.due_on, d.cause, d.rule.critical) for i in standing for d in i.dues
    }
    assert {(t.item_id, t.part, t.rule, t.due_on, t.cause, t.critical) for t in busy.tasks()} == expected


# --- sweeping ----------------------------------------------------------------------------------------------------------


def test_sweep_before_the_hour_finds_nothing(kit, clock):
    kit.add(ItemKind.BAG, TODAY - 182 * DAY)
    clock.set(HOUR - timedelta(seconds=1))
    assert (kit.sweep(), kit.notices()) == (0, [])


def test_sweep_at_the_hour_makes_the_notice(kit, clock):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    clock.set(HOUR)
    assert kit.sweep() == 1
    (notice,) = dump(kit.notices())
    assert notice == {
        "id": 1,
        "key": f"{kit.locker_id}/{bag}/bag_zip/spray_bag_zip/2026-06-10/1",
        "locker_id": kit.locker_id,
        "chat_id": kit.chat_id,
        "item_id": bag,
        "trip_id": None,
        "part": "bag_zip",
        "rule": "spray_bag_zip",
        "due_on": TODAY,
        "stage": "due",
        "send_at": HOUR,
        "state": "pending",
        "attempts": 0,
        "sent_as": None,
        "lease_until": None,
        "sent_at": None,
        "error": None,
    }


def test_sweep_again_adds_no_notice(busy, clock):
    clock.set(HOUR)
    busy.sweep()
    before = (dump(busy.tasks()), dump(busy.notices()))
    assert len(before[1]) > 0
    assert (busy.sweep(), dump(busy.tasks()), dump(busy.notices())) == (0, *before)


def test_sweep_of_tasks_that_lost_what_was_told_adds_no_notice(busy, store, clock):
    """As after a restart from facts alone: the keys of the outbox remember."""
    clock.set(HOUR)
    busy.sweep()
    before = dump(busy.notices())
    forgotten = busy.tasks()
    store.write(lambda s: [s.delete(s.merge(task)) for task in forgotten])
    busy.refresh()
    assert (busy.sweep() > 0, dump(busy.notices())) == (True, before)


def test_sweep_day_by_day_tells_each_stage_once(kit, clock):
    kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO)
    for n in range(-35, 16):
        clock.set(HOUR + n * DAY)
        kit.sweep()
    stages = [(n.send_at - HOUR, n.stage) for n in kit.notices()]
    assert stages == [(0 * DAY, "due"), (7 * DAY, "overdue"), (15 * DAY, "overdue")]


def test_sweep_tells_ahead_where_a_technician_needs_weeks(kit, clock):
    kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO + 28 * DAY)
    for n in range(30):
        clock.set(HOUR + n * DAY)
        kit.sweep()
    assert [(n.send_at - HOUR, n.stage) for n in kit.notices()] == [(0 * DAY, "ahead"), (28 * DAY, "due")]


def test_sweep_of_two_lockers_gives_each_its_own(open_kit, clock):
    deck, boat = open_kit("deck"), open_kit("boat")
    for kit in (deck, boat):
        kit.add(ItemKind.BAG, date(2025, 12, 10))
    clock.set(HOUR)
    assert deck.sweep() == 2
    owners = [{(n.locker_id, n.chat_id) for n in kit.notices()} for kit in (deck, boat)]
    assert owners == [{(deck.locker_id, deck.chat_id)}, {(boat.locker_id, boat.chat_id)}]


# --- what tells nothing ------------------------------------------------------------------------------------------------


def test_retired_item_tells_nothing_until_that_is_undone(kit, clock):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO)
    before = [(t.rule, t.due_on) for t in kit.tasks()]
    kit.retire(gauge)
    clock.set(HOUR)
    assert (kit.tasks(), kit.sweep(), kit.notices()) == ([], 0, [])
    kit.undo()
    assert [(t.rule, t.due_on) for t in kit.tasks()] == before
    kit.sweep()
    assert told(kit) == [("gauge_check", "", TODAY, "due")]


def test_muted_chat_is_told_nothing(kit, clock):
    kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO)
    kit.wish(muted_at=clock.now())
    clock.set(HOUR)
    kit.sweep()
    assert (kit.notices(), kit.sweep()) == ([], 0)


def test_test_by_law_without_a_known_date_tells_nothing(kit):
    twinset = kit.add(ItemKind.TWINSET, LONG_AGO)
    task = kit.task(twinset, "hydro_test")
    assert (task.due_on, task.notify_at) == (None, None)


@pytest.mark.parametrize(
    ("locker", "item", "months"),
    [(None, None, 12), ("DE", None, 30), ("DE", "GB", 12), ("GB", "DE", 30)],
    ids=["nobody said", "locker", "item before locker", "item before locker too"],
)
def test_test_by_law_follows_the_region_of_the_item_then_of_the_locker(kit, locker, item, months):
    # Germany 30 months: BetrSichV 2015, Tabelle 12, 7.6 b; UK 12: BS EN ISO 18119:2018 as quoted by two bodies
    kit.locker(region=locker)
    stage = kit.add(ItemKind.STAGE, LONG_AGO, region=item)
    kit.care(stage, Task.INSPECT, date(2025, 5, 5), test="visual")
    expected = {12: date(2026, 5, 31), 30: date(2027, 11, 30)}[months]
    assert kit.task(stage, "visual_inspection").due_on == expected
