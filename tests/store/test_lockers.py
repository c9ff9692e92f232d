"""A locker is its holder's alone: nobody sees into another, and forgetting leaves no trace."""

from datetime import timedelta

import pytest

from store import buttons, care_log, dives, items, letters, lockers, outbox, people, tasks, trips
from store.tables import Button, Chat, Item, JournalEntry, Letter, SeenUpdate


def test_chat_that_speaks_first_gets_a_locker_of_its_own(open_chat, noon):
    chat = open_chat("deck")
    assert chat.model_dump() == {
        "id": 1,
        "wire": "wire",
        "address": "deck",
        "locker_id": 1,
        "open_id": None,
        "group": False,
        "topic": None,
        "zone": "UTC",
        "digest_at": "18:00",
        "quiet_from": "22:00",
        "quiet_to": "07:00",
        "units": "metric",
        "reminders": True,
        "dark": False,
        "board_day": None,
        "board_at": None,
        "last_digest_on": None,
        "muted_at": None,
        "hold_until": None,
        "last_intent": None,
        "batch": 0,
        "created_at": noon,
    }


def test_chat_that_speaks_again_is_the_same(open_chat, rows):
    assert (open_chat("deck").id, open_chat("deck").id, len(rows(Chat))) == (1, 1, 1)


def test_same_address_on_another_wire_is_another_chat(store, open_chat, noon):
    first = open_chat("deck")
    other = store.write(lambda s: lockers.open_chat(s, "other wire", "deck", noon))
    assert (other.id != first.id, other.locker_id != first.locker_id) == (True, True)


BY_NUMBER = {
    "item": lambda s, chat, filed: items.get(s, chat.locker_id, filed["item"].id),
    "dive": lambda s, chat, filed: dives.get(s, chat.locker_id, filed["dive"].id),
    "task": lambda s, chat, filed: tasks.get(s, chat.locker_id, filed["care_task"].id),
    "task of a rule": lambda s, chat, filed: tasks.find(
        s, chat.locker_id, filed["item"].id, "", "spray_bag_zip"
    ),
    "button": lambda s, chat, filed: buttons.tapped(s, chat.id, filed["button"].id),
}
LISTS = {
    "items": lambda s, chat, _: items.of_locker(s, chat.locker_id, retired=True),
    "latest dive": lambda s, chat, _: [dives.latest(s, chat.locker_id)],
    "dives": lambda s, chat, _: list(dives.by_item(s, chat.locker_id)),
    "care": lambda s, chat, filed: care_log.of_item(s, chat.locker_id, filed["item"].id),
    "care by item": lambda s, chat, _: list(care_log.by_item(s, chat.locker_id)),
    "manuals": lambda s, chat, _: list(care_log.manuals(s, chat.locker_id)),
    "wishes": lambda s, chat, _: list(care_log.put_off_until(s, chat.locker_id)),
    "tasks": lambda s, chat, _: tasks.of_locker(s, chat.locker_id),
    "trips": lambda s, chat, filed: trips.ahead(s, chat.locker_id, filed["trip"].to_on),
    "buttons": lambda s, chat, _: buttons.latest(s, lockers.find_chat(s, chat.id)),
    "labelled": lambda s, chat, _: [buttons.labelled(s, chat.id, "Done")],
    "notices": lambda s, chat, _: outbox.of_chat(s, chat.id),
    "people": lambda s, chat, _: people.of_locker(s, chat.locker_id),
    "lockers of a person": lambda s, _, filed: people.held(s, filed["person"].key),
    "letters": lambda s, chat, filed: [
        x for x in letters.waiting(s, chat.wire, filed["letter"].send_at, 9) if x.address == chat.address
    ],
}


@pytest.mark.parametrize("query", BY_NUMBER.values(), ids=BY_NUMBER)
def test_number_of_another_locker_finds_nothing(store, everything, query):
    (deck, filed), (boat, _) = everything("deck"), everything("boat")
    found = store.read(lambda s: (query(s, deck, filed), query(s, boat, filed)))
    assert [row is not None for row in found] == [True, False]


@pytest.mark.parametrize("query", LISTS.values(), ids=LISTS)
def test_list_holds_one_row_of_two_lockers(store, everything, query):
    (deck, filed), (boat, other) = everything("deck"), everything("boat")
    mine, theirs = store.read(lambda s: (query(s, deck, filed), query(s, boat, other)))
    assert (len(mine), len(theirs)) == (1, 1)
    assert repr(mine) != repr(theirs)


def test_count_of_dives_is_of_one_locker(store, everything):
    chat, _ = everything("deck")
    everything("boat")
    assert store.read(lambda s: dives.count(s, chat.locker_id)) == 1


def test_name_taken_in_another_locker_is_free_here(store, everything, open_chat):
    everything("deck")
    boat = open_chat("boat")
    item = Item(kind="bag", name="deck", facts={}, added_on=boat.created_at.date(), added_by="ola")
    added = store.write(
        lambda s: items.add(
            s, boat.locker_id, item.kind, item.name, facts=items.facts_of(item), on=item.added_on, by="ola"
        )
    )
    assert added.name == "deck"


def test_name_taken_in_this_locker_gets_a_number(store, everything):
    chat, filed = everything("deck")
    old = filed["item"]

    def add(session):
        return items.add(
            session, chat.locker_id, old.kind, "Deck", facts=items.facts_of(old), on=old.added_on, by="mara"
        ).name

    assert [store.write(add) for _ in range(2)] == ["Deck 2", "Deck 3"]


def test_reminders_go_to_the_first_chat_that_is_not_muted(store, everything, noon):
    chat, _ = everything("deck")
    second = Chat(wire="wire", address="tablet", locker_id=chat.locker_id, created_at=noon)
    store.write(lambda s: s.add(second))

    def mute(chat_id):
        def work(session):
            lockers.find_chat(session, chat_id).muted_at = noon

        return work

    found = [store.read(lambda s: lockers.reminder_chat(s, chat.locker_id))]
    for row in (chat, second):
        store.write(mute(row.id))
        found.append(store.read(lambda s: lockers.reminder_chat(s, chat.locker_id)))
    assert [row and row.address for row in found] == ["deck", "tablet", None]


def test_chats_of_lockers_are_the_ones_that_get_the_reminders(store, everything):
    chats = [everything(address)[0] for address in ("deck", "boat")]
    found = store.read(lambda s: tasks.chats_of(s, [c.locker_id for c in chats]))
    assert {locker: chat.address for locker, chat in found.items()} == {c.locker_id: c.address for c in chats}


def test_forget_deletes_every_row_of_the_locker_and_of_no_other(store, everything, rows, noon):
    everything("boat")
    store.write(lambda s: lockers.seen(s, "wire", "1", noon))
    before = rows()
    chat, _ = everything("deck")
    grown = {name for name, some in rows().items() if len(some) > len(before[name])}
    of_several = {
        "seen_update",
        "attempt",
        "wire_state",
        "loan",
    }  # an update's id names nobody; loans: test_loans.py
    assert grown == set(before) - of_several
    store.write(lambda s: lockers.forget(s, chat.locker_id))
    left = {name: some for name, some in rows().items() if some != before[name]}
    assert {name: [row["key"] for row in some] for name, some in left.items()} == {
        "person": ["wire:boat", "wire:deck"]
    }  # who may be in other lockers
    store.write(lambda s: people.forget_strangers(s, ["wire:boat", "wire:deck"]))
    assert rows() == before


def test_forget_deletes_every_chat_that_opened_the_locker(store, everything, rows, noon):
    chat, _ = everything("deck")
    store.write(
        lambda s: s.add(Chat(wire="wire", address="tablet", locker_id=chat.locker_id, created_at=noon))
    )
    store.write(lambda s: (lockers.forget(s, chat.locker_id), people.forget_strangers(s, ["wire:deck"])))
    assert {name: some for name, some in rows().items() if some} == {}


def test_chat_that_was_forgotten_starts_afresh(store, everything):
    chat, _ = everything("deck")
    store.write(lambda s: (lockers.forget(s, chat.locker_id), people.forget_strangers(s, ["wire:deck"])))
    again, _ = everything("deck")
    assert store.read(lambda s: len(items.of_locker(s, again.locker_id))) == 1


def test_update_that_comes_twice_was_seen(store, rows, noon):
    times = (noon, noon + timedelta(days=1))
    seen = [store.write(lambda s, at=at: lockers.seen(s, "wire", "7", at)) for at in times]
    assert (seen, len(rows(SeenUpdate))) == ([False, True], 1)


def test_update_of_a_unit_that_failed_was_not_seen(store, noon):
    def fail(session):
        lockers.seen(session, "wire", "7", noon)
        raise KeyError

    with pytest.raises(KeyError):
        store.write(fail)
    assert not store.write(lambda s: lockers.seen(s, "wire", "7", noon))


def test_number_of_a_row_not_stored_is_refused():
    with pytest.raises(ValueError, match="not been stored"):
        lockers.number(None)


# --- muted and moved ---------------------------------------------------------------------------------------------------


def at_address(store, address, wire="wire"):
    return store.read(lambda s: lockers.at_address(s, wire, address))


def test_chat_muted_keeps_the_first_instant_until_it_speaks_again(store, open_chat, noon):
    open_chat("deck")
    seen = [at_address(store, "deck").muted_at]
    for hours in (1, 2):
        at = noon + timedelta(hours=hours)
        store.write(lambda s, at=at: lockers.mute(s, "wire", "deck", at))
        seen.append(at_address(store, "deck").muted_at)
    open_chat("deck")
    seen.append(at_address(store, "deck").muted_at)
    assert seen == [None, noon + timedelta(hours=1), noon + timedelta(hours=1), None]


def test_mute_is_of_one_chat_on_one_wire(store, open_chat, rows, noon):
    open_chat("deck")
    open_chat("boat")
    store.write(lambda s: lockers.open_chat(s, "other wire", "deck", noon))
    store.write(lambda s: lockers.mute(s, "wire", "deck", noon))
    store.write(lambda s: lockers.mute(s, "wire", "nowhere", noon))
    muted = {(c["wire"], c["address"]): c["muted_at"] is not None for c in rows(Chat)}
    assert muted == {("wire", "deck"): True, ("wire", "boat"): False, ("other wire", "deck"): False}


@pytest.mark.parametrize("began", [True, False])
def test_chat_stays_what_it_began_as_and_is_spoken_to_where_it_was_last(store, noon, began):
    for group, topic in ((began, "7"), (not began, "8"), (False, None)):
        store.write(lambda s, g=group, t=topic: lockers.open_chat(s, "wire", "deck", noon, group=g, topic=t))
        chat = at_address(store, "deck")
        assert (chat.group, chat.topic) == (began, topic)


@pytest.mark.parametrize(
    ("address", "wire", "after", "found"),
    [
        ("boat", "wire", 1, True),
        ("boat", "wire", 0, False),
        ("boat", "wire", -1, False),
        ("deck", "wire", 1, False),
        ("boat", "other wire", 1, False),
    ],
    ids=["held", "just over", "long over", "the chat itself", "another wire"],
)
def test_others_held_tells_of_other_chats_of_the_wire_in_a_hold(
    store, open_chat, noon, address, wire, after, found
):
    open_chat("deck")
    store.write(
        lambda s: setattr(
            lockers.open_chat(s, wire, address, noon), "hold_until", noon + timedelta(seconds=after)
        )
    )
    assert store.read(lambda s: lockers.others_held(s, "wire", "deck", noon)) is found


def test_chat_that_moved_takes_everything_and_its_letters_along(store, everything, rows):
    chat, _ = everything("deck")
    everything("boat")
    before = rows()
    store.write(lambda s: lockers.move_chat(s, "wire", "deck", "pier"))
    after = rows()
    assert (at_address(store, "pier").id, at_address(store, "deck")) == (chat.id, None)
    changed = {name for name in after if after[name] != before[name]}
    assert changed == {"chat", "letter"}
    assert sorted(row["address"] for row in after["letter"]) == ["boat", "pier"]


def test_chat_that_moved_to_where_somebody_spoke_already_takes_its_place_if_that_is_empty(
    store, everything, open_chat, noon, rows
):
    chat, _ = everything("deck")
    before = rows()
    newer = open_chat("pier")
    store.write(
        lambda s: (
            people.meet(s, "wire:deck", "Deck", noon),
            people.join(s, newer.locker_id, "wire:deck", noon),
            s.add(Letter(wire="wire", address="pier", body={}, send_at=noon)),
        )
    )
    store.write(lambda s: lockers.move_chat(s, "wire", "deck", "pier"))
    assert (at_address(store, "pier").id, at_address(store, "deck")) == (chat.id, None)
    after = rows()
    assert {name for name in after if after[name] != before[name]} == {"chat", "letter"}
    assert [len(after[name]) for name in ("chat", "letter", "locker", "member")] == [1, 2, 1, 1]
    assert [(row["address"], row["body"]) for row in after["letter"]] == [
        ("pier", {"text": "deck"}),
        ("pier", {}),
    ]


def test_chat_that_moved_to_where_others_keep_kit_is_muted_and_nothing_is_lost(store, everything, rows):
    everything("deck")
    everything("boat")
    before = rows()
    store.write(lambda s: lockers.move_chat(s, "wire", "deck", "boat"))
    after = rows()
    assert {name for name in after if after[name] != before[name]} == {"chat", "letter"}
    assert [row["address"] for row in after["letter"]] == ["boat", "boat"]
    assert at_address(store, "deck").muted_at is not None
    assert at_address(store, "boat").muted_at is None


@pytest.mark.parametrize(("address", "to"), [("deck", "deck"), ("nowhere", "pier"), ("nowhere", "deck")])
def test_move_of_nothing_to_nowhere_changes_nothing(store, everything, rows, address, to):
    everything("deck")
    before = rows()
    store.write(lambda s: lockers.move_chat(s, "wire", address, to))
    assert rows() == before


def test_move_is_of_one_wire(store, open_chat, noon):
    open_chat("deck")
    store.write(lambda s: lockers.open_chat(s, "other wire", "deck", noon))
    store.write(lambda s: lockers.move_chat(s, "other wire", "deck", "pier"))
    found = [at_address(store, a, w) is not None for w in ("wire", "other wire") for a in ("deck", "pier")]
    assert found == [True, False, False, True]


def test_locker_forgotten_is_no_longer_open_anywhere(store, open_chat):
    deck, boat = open_chat("deck"), open_chat("boat")
    store.write(lambda s: setattr(lockers.find_chat(s, boat.id), "open_id", deck.locker_id))
    store.write(lambda s: lockers.forget(s, deck.locker_id))
    assert (at_address(store, "boat").open_id, at_address(store, "boat").locker_id) == (None, boat.locker_id)


def test_locker_forgotten_takes_buttons_and_journal_of_it_in_other_chats(store, open_chat, noon, rows):
    """Someone worked with it from a chat of their own."""
    deck, boat = open_chat("deck"), open_chat("boat")

    def work(session):
        for n, locker_id in enumerate((deck.locker_id, None)):
            button = Button(id=str(n), chat_id=boat.id, batch=1, place=n, label="x", intent={})
            button.locker_id = locker_id
            session.add(button)
            session.add(
                JournalEntry(
                    chat_id=boat.id,
                    at=noon,
                    actor="wire:ilka",
                    locker_id=locker_id or boat.locker_id,
                    intent="x",
                    changes=[],
                )
            )

    store.write(work)
    store.write(lambda s: lockers.forget(s, deck.locker_id))
    assert [b["id"] for b in rows(Button)] == ["1"]
    assert [e["locker_id"] for e in rows(JournalEntry)] == [boat.locker_id]
