"""A fact or a wish changes, and what is told changes with it; taking it back takes that back."""

from datetime import UTC, date, datetime, timedelta

import pytest

from store import care_log
from store.tables import Item, Trip
from store.vocabulary import ItemKind, Task, ZipMaterial

TODAY = date(2026, 6, 10)
DAY = timedelta(days=1)
LONG_AGO = date(2025, 6, 10)
HOUR = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin."""
LAMP = ("film_water_rings", "head_rings")
"""A rule counted in dives (20) and months (6), and its part."""


def dump(rows):
    return [row.model_dump() for row in rows]


# --- a fact changes, the date moves ------------------------------------------------------------------------------------


def test_due_date_moves_with_a_dive_added_corrected_and_undone(kit):
    lamp = kit.add(ItemKind.HAND_LIGHT, date(2026, 3, 1))
    states = []

    def note():
        task = kit.task(lamp, *LAMP)
        states.append((task.due_on, task.cause))

    note()
    dive = kit.dive(date(2026, 6, 1), lamp, dives_done=20)
    note()
    kit.correct(dive, on=date(2026, 5, 1))
    note()
    kit.correct(dive, dives=19)
    note()
    for _ in range(3):
        kit.undo()
        note()
    calendar = (date(2026, 9, 1), "time")
    assert states == [
        calendar,
        (date(2026, 6, 1), "20 dives"),
        (date(2026, 5, 1), "20 dives"),
        calendar,
        (date(2026, 5, 1), "20 dives"),
        (date(2026, 6, 1), "20 dives"),
        calendar,
    ]


def test_due_date_moves_when_care_is_recorded_and_undone(kit):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO)
    seen = [kit.task(gauge, "gauge_check").due_on]
    kit.care(gauge, Task.TEST, TODAY)
    seen.append(kit.task(gauge, "gauge_check").due_on)
    kit.undo()
    seen.append(kit.task(gauge, "gauge_check").due_on)
    assert seen == [TODAY, date(2027, 6, 10), TODAY]


def test_due_date_that_moved_is_told_again(kit, clock):
    lamp = kit.add(ItemKind.HAND_LIGHT, date(2026, 3, 1))
    dive = kit.dive(TODAY, lamp, dives_done=20)
    clock.set(HOUR)
    kit.sweep()
    clock.set(HOUR + DAY - timedelta(hours=1))
    kit.correct(dive, on=TODAY + DAY)
    clock.set(HOUR + DAY)
    kit.sweep()
    rings = [(n.due_on, n.stage) for n in kit.notices() if (n.rule, n.part) == LAMP]
    assert rings == [(TODAY, "due"), (TODAY + DAY, "due")]


def test_dive_without_the_item_moves_nothing(kit):
    lamp, mask = kit.add(ItemKind.HAND_LIGHT, date(2026, 3, 1)), kit.add(ItemKind.MASK, date(2026, 3, 1))
    before = dump(t for t in kit.tasks() if t.item_id == lamp)
    kit.dive(TODAY, mask, dives_done=50)
    assert dump(t for t in kit.tasks() if t.item_id == lamp) == before


def test_facts_that_change_the_parts_change_the_tasks(kit):
    def zip_parts():
        return {t.part for t in kit.tasks() if t.part.startswith("zip")}

    def made_of(material):
        return lambda s: setattr(s.get_one(Item, suit), "facts", {"zip_material": material})

    suit = kit.add(ItemKind.DRY_SUIT, TODAY, zip_material=ZipMaterial.PLASTIC)
    seen = [zip_parts()]
    kit.change(made_of("metal"))
    seen.append(zip_parts())
    kit.undo()
    seen.append(zip_parts())
    plastic, metal = {"zip_docking_end", "zip_teeth"}, {"zip_outer_elements", "zip_inner_teeth"}
    assert seen == [plastic, metal, plastic]


# --- the maker's manual ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("note", "due_on"),
    [
        ({"task": Task.SERVICE, "every_months": 24}, date(2027, 6, 10)),
        ({"task": Task.SERVICE, "every_months": 6}, date(2025, 12, 10)),
        ({"task": Task.RINSE, "every_months": 24}, TODAY),
        ({"task": Task.SERVICE, "part": "hose_swivel", "every_months": 24}, TODAY),
        ({"task": Task.SERVICE, "substances": ["pfpe_grease"]}, TODAY),
    ],
    ids=["longer", "shorter", "another act", "another part", "no interval"],
)
def test_interval_of_the_manual_goes_before_ours(kit, note, due_on):
    regulator = kit.add(ItemKind.REGULATOR, LONG_AGO)
    kit.manual(regulator, **note)
    assert kit.task(regulator, "regulator_service").due_on == due_on


def test_interval_of_the_manual_never_goes_before_the_law(kit):
    stage = kit.add(ItemKind.STAGE, LONG_AGO)
    kit.locker(region="DE")
    kit.care(stage, Task.TEST, date(2024, 6, 1))
    kit.manual(stage, task=Task.TEST, every_months=120)
    # Germany 60 months: BetrSichV 2015, Tabelle 12, 7.6 b
    assert kit.task(stage, "hydro_test").due_on == date(2029, 6, 30)


# --- not now -----------------------------------------------------------------------------------------------------------


def test_snoozed_task_is_silent_and_then_told_once(kit, clock):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    kit.snooze(bag, "spray_bag_zip", TODAY + 3 * DAY, part="bag_zip")
    for n in range(12):
        clock.set(HOUR + n * DAY)
        kit.sweep()
    assert [(n.send_at - HOUR, n.stage) for n in kit.notices()] == [(3 * DAY, "due")]


def test_snoozed_task_told_before_is_told_again_at_the_same_stage(kit, clock):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    clock.set(HOUR)
    kit.sweep()
    kit.snooze(bag, "spray_bag_zip", TODAY + DAY, part="bag_zip")
    clock.set(HOUR + DAY)
    assert [kit.sweep(), kit.sweep()] == [1, 0]
    assert [(n.send_at - HOUR, n.stage) for n in kit.notices()] == [(0 * DAY, "due"), (DAY, "due")]


def test_snoozed_task_that_was_told_leaves_no_wish_behind(kit, store, clock):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    kit.snooze(bag, "spray_bag_zip", TODAY + DAY, part="bag_zip")
    clock.set(HOUR + DAY)
    kit.sweep()
    assert store.read(lambda s: care_log.put_off_until(s, kit.locker_id)) == {}


def test_snooze_until_the_due_date_is_silent_ahead_of_it(kit, clock):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO + 28 * DAY)
    kit.snooze(gauge, "gauge_check", TODAY + 28 * DAY)
    for n in range(30):
        clock.set(HOUR + n * DAY)
        kit.sweep()
    assert [(n.send_at - HOUR, n.stage) for n in kit.notices()] == [(28 * DAY, "due")]


def test_snooze_undone_is_told_today(kit):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    seen = [kit.task(bag, "spray_bag_zip", "bag_zip").notify_at]
    kit.snooze(bag, "spray_bag_zip", TODAY + 3 * DAY, part="bag_zip")
    seen.append(kit.task(bag, "spray_bag_zip", "bag_zip").notify_at)
    kit.undo()
    seen.append(kit.task(bag, "spray_bag_zip", "bag_zip").notify_at)
    assert seen == [HOUR, HOUR + 3 * DAY, HOUR]


def test_snooze_of_one_task_leaves_the_others(kit):
    gauge, bag = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO), kit.add(ItemKind.BAG, date(2025, 12, 10))
    kit.snooze(bag, "spray_bag_zip", TODAY + 3 * DAY, part="bag_zip")
    assert kit.task(gauge, "gauge_check").notify_at == HOUR


def test_care_done_during_a_snooze_is_not_asked_for(kit, clock):
    bag = kit.add(ItemKind.BAG, date(2025, 12, 10))
    kit.snooze(bag, "spray_bag_zip", TODAY + 3 * DAY, part="bag_zip")
    kit.care(bag, Task.LUBRICATE, TODAY, part="bag_zip")
    clock.set(HOUR + 3 * DAY)
    assert (kit.sweep(), kit.task(bag, "spray_bag_zip", "bag_zip").due_on) == (0, date(2026, 12, 10))


def test_snoozed_reminder_ahead_of_time_is_told_again_on_the_day_wished(kit, clock):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO + 28 * DAY)
    clock.set(HOUR)
    kit.sweep()
    kit.snooze(gauge, "gauge_check", TODAY + DAY)
    clock.set(HOUR + DAY)
    kit.sweep()
    assert [(n.send_at - HOUR, n.stage) for n in kit.notices()] == [(0 * DAY, "ahead"), (DAY, "ahead")]


# --- wishes ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wish", "at"),
    [
        ({"zone": "America/New_York"}, "2026-06-10T22:00+00:00"),
        ({"zone": "Asia/Tokyo"}, "2026-06-11T09:00+00:00"),  # its hour has passed today
        ({"digest_at": "20:30"}, "2026-06-10T18:30+00:00"),
        ({"quiet_from": "17:00"}, "2026-06-11T05:00+00:00"),
    ],
)
def test_wish_changed_moves_the_hour_and_undo_moves_it_back(kit, wish, at):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO)
    kit.wish(**wish)
    moved = kit.task(gauge, "gauge_check").notify_at
    kit.undo()
    assert (moved, kit.task(gauge, "gauge_check").notify_at) == (datetime.fromisoformat(at), HOUR)


def test_zone_in_which_it_is_already_tomorrow_has_its_own_today(kit, clock):
    gauge = kit.add(ItemKind.PRESSURE_GAUGE, LONG_AGO + DAY)
    clock.set(datetime(2026, 6, 10, 15, 30, tzinfo=UTC))
    kit.wish(zone="Asia/Tokyo")
    assert kit.task(gauge, "gauge_check").notify_at == datetime(2026, 6, 11, 9, tzinfo=UTC)


# --- through the conversation ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "undone"),
    [
        ("2 dives today, salt", "Taken back: dive log."),
        ("the manual says talc on the seals", "Taken back: note from a manual."),
    ],
)
def test_undo_of_a_message_answers_what_was_taken_back(talk, said, undone):
    talk.say("add dry suit, plastic zip, latex seals")
    talk.say(said)
    assert talk.say("undo").first == undone


def test_call_of_a_trip_whose_reason_goes_before_the_ring_gives_way_to_the_last_check(kit, store, clock):
    kit.locker(region="DE")
    twinset = kit.add(ItemKind.TWINSET, date(2020, 1, 1), hydro_due_on=date(2026, 10, 1))
    trip = kit.trip(date(2026, 9, 20), date(2026, 10, 5), 10)

    def next_call():
        return store.read(lambda s: s.get_one(Trip, trip)).notify_at

    clock.set(next_call() + timedelta(seconds=5))
    kit.retire(twinset)
    kit.sweep()
    assert (next_call().date(), kit.notices()) == (date(2026, 9, 19), [])
