"""Buttons of a chat: the newest message has the word."""

from itertools import count

import pytest

from store import buttons, lockers
from store.tables import Button


@pytest.fixture
def show(store):
    """Return a function that shows buttons with these labels in a chat and returns their ids."""
    tokens = count(1)

    def run(chat, *labels):
        offers = [(label, {"says": label}) for label in labels]
        return [
            b.id
            for b in store.write(
                lambda s: buttons.show(s, lockers.find_chat(s, chat.id), offers, lambda: f"t{next(tokens)}")
            )
        ]

    return run


def test_latest_buttons_are_those_of_the_newest_message_in_order(store, open_chat, show):
    chat = open_chat("deck")
    show(chat, "Old")
    ids = show(chat, "Done", "Later", "Why")
    found = store.read(
        lambda s: [(b.id, b.label, b.intent) for b in buttons.latest(s, lockers.find_chat(s, chat.id))]
    )
    assert found == [
        (i, label, {"says": label}) for i, label in zip(ids, ("Done", "Later", "Why"), strict=True)
    ]


def test_latest_buttons_after_a_message_without_any_are_none(store, open_chat, show):
    chat = open_chat("deck")
    show(chat, "Done")
    show(chat)
    assert store.read(lambda s: buttons.latest(s, lockers.find_chat(s, chat.id))) == []


def test_label_shown_twice_names_the_newest(store, open_chat, show):
    chat = open_chat("deck")
    show(chat, "Done")
    newest = show(chat, "Done")
    assert store.read(lambda s: buttons.labelled(s, chat.id, "Done").id) == newest[0]


def test_old_button_still_works_until_thirty_messages_later(store, open_chat, show, rows):
    chat, other = open_chat("deck"), open_chat("boat")
    kept = show(other, "Done")
    ids = [show(chat, "Done")[0] for _ in range(31)]
    found = store.read(lambda s: [buttons.tapped(s, chat.id, i) is not None for i in ids])
    assert found == [False] + [True] * 30
    assert len(rows(Button)) == 30 + len(kept)


def test_buttons_placed_under_a_message_are_found_by_it(store, open_chat, show):
    chat, other = open_chat("deck"), open_chat("boat")
    ids, elsewhere, later = show(chat, "Done", "Later"), show(other, "Done"), show(chat, "Why")
    for placed, message in ((ids, "m1"), (elsewhere, "m1"), (later, "m2")):
        store.write(lambda s, p=placed, m=message: buttons.place_under(s, p, m))

    def under(of, message):
        return [b.id for b in store.read(lambda s: buttons.under(s, of.id, message))]

    assert [under(chat, m) for m in ("m1", "m2", "m3")] == [ids, later, []]
    assert [under(other, m) for m in ("m1", "m2")] == [elsewhere, []]


def test_buttons_that_took_the_place_of_others_are_the_ones_under_it(store, open_chat, show):
    chat = open_chat("deck")
    old, new = show(chat, "Done", "Later"), show(chat, "Undo")
    for ids in (old, new):
        store.write(lambda s, i=ids: buttons.place_under(s, i, "m1"))
    assert [b.id for b in store.read(lambda s: buttons.under(s, chat.id, "m1"))] == new
    assert store.read(lambda s: buttons.tapped(s, chat.id, old[0]).label) == "Done"


def test_placing_no_buttons_moves_none(store, open_chat, show, rows):
    show(open_chat("deck"), "Done")
    before = rows(Button)
    store.write(lambda s: buttons.place_under(s, (), "m1"))
    assert rows(Button) == before


def test_button_speaks_of_the_locker_it_was_shown_for(store, open_chat, rows):
    chat, other = open_chat("deck"), open_chat("boat")
    tokens = iter("ab")
    for locker_id in (None, other.locker_id):
        store.write(
            lambda s, i=locker_id: buttons.show(
                s, lockers.find_chat(s, chat.id), [("Done", {})], lambda: next(tokens), i
            )
        )
    assert [(b["id"], b["locker_id"]) for b in rows(Button)] == [("a", None), ("b", other.locker_id)]
