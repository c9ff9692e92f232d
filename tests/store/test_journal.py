"""Whatever one message changed can be taken back, row by row and value by value."""

from datetime import date, time, timedelta

import pytest

from store import dives, items, journal, lockers
from store.catalogue import ItemFacts
from store.tables import Care, Chat, Dive, DiveItem, Item, JournalEntry, Locker, ManualNote, Snooze, Trip
from store.vocabulary import ItemKind

TODAY = date(2026, 6, 10)
FACTS = (Item, Dive, DiveItem, Care, ManualNote, Snooze, Trip, Chat, Locker)
MARA = "wire:mara"


def entry_of(chat, at, actor=MARA):
    """Return an entry of a chat that works with its own locker."""
    return JournalEntry(
        chat_id=chat.id, at=at, actor=actor, locker_id=chat.locker_id, intent="test", changes=[]
    )


@pytest.fixture
def message(store, noon):
    """Return a function that does some work as one message of a chat; it returns what can be taken back."""

    def run(chat, work, *, forget=False):
        def unit(session):
            journal.watch(session)
            work(session)
            return journal.keep(session, entry_of(chat, noon), forget=forget)

        return store.write(unit)

    return run


@pytest.fixture
def take_back(store, noon):
    """Return a function that undoes the newest message of a person in a chat; it returns the tables touched."""

    def run(chat, actor=MARA):
        def unit(session):
            entry = journal.latest(session, chat.id, actor)
            return journal.undo(session, entry, noon + timedelta(minutes=1)) if entry else None

        return store.write(unit)

    return run


@pytest.fixture
def facts(rows):
    """Return a function that reads every row of the diver's facts."""
    return lambda: {table.__name__: rows(table) for table in FACTS}


def change_all(session, filed):
    """Change every column that a diver can change of every row."""
    chat = session.get_one(Chat, filed["button"].chat_id)
    chat.zone, chat.digest_at, chat.quiet_from, chat.quiet_to, chat.units = (
        "Asia/Tokyo",
        "06:00",
        "20:00",
        "05:00",
        "imperial",
    )
    new = {
        Locker: {"region": "DE", "name": "Harbour"},
        Item: {"name": "box", "kind": "mask", "facts": {"o2_fraction": 0.5}, "retired_on": TODAY},
        Dive: {
            "on": date(2024, 2, 29),
            "dives": 3,
            "water": "salt",
            "max_depth_m": 31.5,
            "duration_min": 50,
            "min_temp_c": -1.0,
            "o2_fraction": 0.32,
            "conditions": ["ice", "silt"],
        },
        Care: {"part": "bag_zip", "task": "rinse", "substance": "talc", "on": date(2025, 12, 31)},
        ManualNote: {"part": "bag_zip", "substances": None, "task": "clean", "every_dives": 5},
        Snooze: {"until_on": date(2027, 1, 1)},
        Trip: {"to_on": date(2026, 7, 1), "dives": None, "water": "fresh", "min_temp_c": 4.0},
    }
    keys = {
        Locker: filed["item"].locker_id,
        **{type(row): row.id for name, row in filed.items() if type(row) in new},
    }
    for table, values in new.items():
        row = session.get_one(table, keys[table])
        for name, value in values.items():
            setattr(row, name, value)
        session.add(row)


def test_undo_of_added_rows_removes_exactly_those(everything, open_chat, facts, message, take_back, noon):
    everything("deck")
    chat = open_chat("boat")
    before = facts()

    def add_one_of_each(session):
        item = items.add(session, chat.locker_id, ItemKind.BAG, "bag", facts=ItemFacts(), on=TODAY, by=MARA)
        dive = Dive(
            locker_id=chat.locker_id, on=TODAY, dives=1, conditions=[], logged_at=noon, logged_by=MARA
        )
        dives.add(session, dive, [item.id])
        of_item = {"locker_id": chat.locker_id, "item_id": item.id}
        session.add(Care(**of_item, task="clean", on=TODAY, done_by=MARA, logged_at=noon))
        session.add(ManualNote(**of_item, text="dry", noted_at=noon))
        session.add(Snooze(**of_item, rule="rinse", until_on=TODAY))
        session.add(Trip(locker_id=chat.locker_id, from_on=TODAY, to_on=TODAY))

    assert message(chat, add_one_of_each)
    added = {name: len(some) - len(before[name]) for name, some in facts().items()}
    assert added == {table.__name__: 0 if table in {Chat, Locker} else 1 for table in FACTS}
    assert set(take_back(chat)) == {"item", "dive", "dive_item", "care", "manual_note", "snooze", "trip"}
    assert facts() == before


def test_undo_of_changed_rows_restores_every_value(everything, facts, message, take_back):
    chat, filed = everything("deck")
    everything("boat")
    before = facts()
    assert message(chat, lambda s: change_all(s, filed))
    changed = {name for name, some in facts().items() if some != before[name]}
    assert changed == {table.__name__ for table in FACTS} - {"DiveItem"}
    take_back(chat)
    assert facts() == before


@pytest.mark.parametrize(
    "table",
    [
        "dive_item",
        "snooze",
        "trip",
        *(
            pytest.param(
                table,
            )
            for table in ("care", "manual_note")
        ),
    ],
)
def test_undo_of_removed_row_brings_back_the_same_row(everything, facts, message, take_back, table):
    chat, filed = everything("deck")
    before = facts()
    assert message(chat, lambda s: s.delete(s.merge(filed[table])))
    assert facts()[type(filed[table]).__name__] == []
    assert take_back(chat) == [table]
    assert facts() == before


@pytest.mark.xfail(
    strict=True,
    reason="store/journal.py notes no rows that the database removes along with another; no handler removes an item or a dive",
)
def test_undo_of_removed_row_brings_back_what_went_with_it(everything, facts, message, take_back):
    chat, filed = everything("deck")
    before = facts()
    message(chat, lambda s: s.delete(s.get_one(Dive, filed["dive"].id)))
    take_back(chat)
    assert facts() == before


def test_undo_of_changed_items_of_a_dive_restores_the_links(everything, facts, message, take_back):
    chat, filed = everything("deck")
    before = facts()

    def swap(session):
        other = items.add(
            session, chat.locker_id, ItemKind.MASK, "mask", facts=ItemFacts(), on=TODAY, by=MARA
        )
        dives.set_items(session, session.get_one(Dive, filed["dive"].id), [other.id])

    message(chat, swap)
    take_back(chat)
    assert facts() == before


def test_undo_again_goes_further_back(everything, store, message, take_back):
    chat, filed = everything("deck")
    names = ["deck", "first", "second", "third"]

    def rename(to):
        def work(session):
            session.get_one(Item, filed["item"].id).name = to

        return work

    for name in names[1:]:
        message(chat, rename(name))
    seen = []
    while True:
        seen.append(store.read(lambda s: s.get_one(Item, filed["item"].id).name))
        if seen[-1] == "deck":
            break
        take_back(chat)
    assert seen == list(reversed(names))


def test_undo_keeps_later_edits_to_other_columns(everything, store, message, take_back):
    chat, filed = everything("deck")

    def deeper(session):
        session.get_one(Dive, filed["dive"].id).max_depth_m = 40.0

    def saltier(session):
        session.get_one(Dive, filed["dive"].id).water = "salt"

    message(chat, deeper)
    store.write(saltier)
    take_back(chat)
    dive = store.read(lambda s: s.get_one(Dive, filed["dive"].id))
    assert (dive.max_depth_m, dive.water) == (None, "salt")


def test_undo_of_changes_in_several_flushes_restores_the_first_value(everything, facts, message, take_back):
    chat, filed = everything("deck")
    before = facts()

    def twice(session):
        dive = session.get_one(Dive, filed["dive"].id)
        for water in ("salt", "fresh"):
            dive.water = water
            session.flush()

    message(chat, twice)
    take_back(chat)
    assert facts() == before


def test_undo_of_a_row_that_has_gone_since_skips_it(everything, store, facts, message, take_back):
    chat, filed = everything("deck")

    def later(session):
        session.get_one(Snooze, filed["snooze"].id).until_on = date(2027, 1, 1)

    message(chat, later)
    store.write(lambda s: s.delete(s.get_one(Snooze, filed["snooze"].id)))
    before = facts()
    assert take_back(chat) == ["snooze"]
    assert facts() == before


def test_latest_entry_is_of_this_chat_and_person_only(everything, store, message):
    (deck, filed), (boat, _) = everything("deck"), everything("boat")

    def rename(session):
        session.get_one(Item, filed["item"].id).name = "renamed"

    message(deck, rename)
    asked = ((deck.id, MARA), (deck.id, "wire:deck"), (boat.id, "wire:boat"))
    newest = store.read(lambda s: [journal.latest(s, *of) for of in asked])
    assert [(entry.chat_id, entry.intent) for entry in newest] == [
        (deck.id, "test"),
        (deck.id, "x"),
        (boat.id, "x"),
    ]
    assert store.read(lambda s: journal.latest(s, boat.id, MARA)) is None


def test_latest_entry_after_everything_was_undone_is_none(everything, store, take_back):
    chat, _ = everything("deck")
    assert take_back(chat, "wire:deck") == []
    assert store.read(lambda s: journal.latest(s, chat.id, "wire:deck")) is None


def test_message_that_changes_nothing_leaves_no_entry(everything, rows, message):
    chat, filed = everything("deck")
    before = rows(JournalEntry)

    def same_again(session):
        item = session.get_one(Item, filed["item"].id)
        item.name = str(item.name)
        session.add(item)

    assert not message(chat, same_again)
    assert rows(JournalEntry) == before


def test_message_that_is_not_to_be_undone_changes_facts_and_leaves_no_entry(everything, rows, message):
    chat, filed = everything("deck")
    before = rows(JournalEntry)

    def rename(session):
        session.get_one(Item, filed["item"].id).name = "renamed"

    assert message(chat, rename, forget=True) is None
    assert rows(JournalEntry) == before
    assert [row["name"] for row in rows(Item)] == ["renamed"]


def test_state_of_delivery_is_nobody_s_to_undo(open_chat, noon, message):
    chat = open_chat("deck")

    def deliver(session):
        row = lockers.find_chat(session, chat.id)
        row.last_digest_on, row.hold_until, row.muted_at = TODAY, noon, noon

    assert not message(chat, deliver)


def test_session_after_keep_is_no_longer_watched(store, open_chat, noon):
    chat = open_chat("deck")

    def unit(session):
        journal.watch(session)
        journal.keep(session, entry_of(chat, noon))
        lockers.find_chat(session, chat.id).digest_at = f"{time(6):%H:%M}"
        session.flush()
        return "journal" in session.info

    assert not store.write(unit)
