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
                lambda s: buttons.show(s, lockers.chat_by_id(s, chat.id), offers, lambda: f"t{next(tokens)}")
            )
        ]

    return run


def test_latest_buttons_are_those_of_the_newest_message_in_order(store, open_chat, show):
    chat = open_chat("deck")
    show(chat, "Old")
    ids = show(chat, "Done", "Later", "Why")
    found = store.read(
        lambda s: [(b.id, b.label, b.intent) for b in buttons.latest(s, lockers.chat_by_id(s, chat.id))]
    )
    assert found == [
        (i, label, {"says": label}) for i, label in zip(ids, ("Done", "Later", "Why"), strict=True)
    ]


def test_latest_buttons_after_a_message_without_any_are_none(store, open_chat, show):
    chat = open_chat("deck")
    show(chat, "Done")
    show(chat)
    assert store.read(lambda s: buttons.latest(s, lockers.chat_by_id(s, chat.id))) == []


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
