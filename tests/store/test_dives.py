"""The dive log as the due dates see it."""

from datetime import date

import pytest

from store import dives, items
from store.catalogue import ItemFacts
from store.dives import Dived
from store.tables import Dive
from store.vocabulary import ItemKind


@pytest.fixture
def kit(store, open_chat, noon):
    """Open a chat with two items; return the chat and their numbers."""
    chat = open_chat("deck")

    def add(session):
        return [
            items.add(session, chat.locker_id, kind, kind, facts=ItemFacts(), on=noon.date(), by="mara").id
            for kind in (ItemKind.MASK, ItemKind.FINS)
        ]

    return chat, store.write(add)


@pytest.fixture
def log(store, kit, noon):
    """Return a function that logs an entry."""

    def run(on, dives_done, item_ids, **said):
        dive = Dive(
            locker_id=kit[0].locker_id,
            on=on,
            dives=dives_done,
            conditions=said.pop("conditions", []),
            logged_at=noon,
            logged_by="mara",
            **said,
        )
        return store.write(lambda s: dives.add(s, dive, item_ids))

    return run


def test_dives_by_item_are_sorted_by_date_however_logged(store, kit, log):
    chat, (mask, fins) = kit
    log(date(2026, 6, 9), 2, [mask, fins], duration_min=40, conditions=["sand", "silt"])
    log(date(2026, 6, 1), 1, [fins])
    assert store.read(lambda s: dives.by_item(s, chat.locker_id)) == {
        mask: [Dived(date(2026, 6, 9), 2, frozenset({"sand", "silt"}), 80)],
        fins: [
            Dived(date(2026, 6, 1), 1, frozenset(), 0),
            Dived(date(2026, 6, 9), 2, frozenset({"sand", "silt"}), 80),
        ],
    }


def test_dives_counted_are_dives_not_entries(store, kit, log):
    chat, _ = kit
    counted = [store.read(lambda s: dives.count(s, chat.locker_id))]
    for n in (2, 3):
        log(date(2026, 6, n), n, [])
        counted.append(store.read(lambda s: dives.count(s, chat.locker_id)))
    assert counted == [0, 2, 5]


def test_latest_dive_is_the_one_logged_last(store, kit, log):
    chat, _ = kit
    log(date(2026, 6, 9), 1, [])
    last = log(date(2026, 6, 1), 1, [])
    assert store.read(lambda s: dives.latest(s, chat.locker_id).id) == last.id


def test_items_set_again_replace_those_before(store, kit, log):
    _, (mask, fins) = kit
    dive = log(date(2026, 6, 9), 1, [mask])
    seen = []
    for wanted in ([fins, mask], [fins], [], [mask, mask]):
        store.write(lambda s, w=wanted: dives.set_items(s, s.get_one(Dive, dive.id), w))
        seen.append(store.read(lambda s: dives.items_of(s, dive.id)))
    assert seen == [[mask, fins], [fins], [], [mask]]


def test_log_of_a_locker_is_oldest_first(store, kit, log):
    chat, _ = kit
    log(date(2026, 6, 9), 2, [])
    log(date(2026, 6, 1), 1, [])
    assert store.read(lambda s: dives.log(s, chat.locker_id)) == [
        (date(2026, 6, 1), 1),
        (date(2026, 6, 9), 2),
    ]
