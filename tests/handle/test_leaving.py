"""Forgetting: asked twice, done whole, and what stays is said. That nothing is left is tested in tests/store/test_forget.py."""

import pytest

from tests.handle.test_sharing import Deck, code_in


@pytest.fixture
def deck(store):
    return Deck(store)


def test_nothing_goes_before_the_second_tap(talk):
    talk.say("add scooter")
    told = talk.say("forget me")
    assert told.first == "This deletes everything: 1 item, 0 dives, all care records, for good."
    assert [o.label for o in told.offers] == ["Send me my data first", "Delete it all", "Keep it"]
    sure = talk.tap("Delete it all")
    assert (sure.first, sure.data["done"]) == ("Sure? It cannot be brought back.", False)
    assert talk.say("show kit").data["items"] == ["scooter"]


def test_keeping_it_keeps_it(talk):
    talk.say("add scooter")
    talk.say("forget me")
    talk.tap("Delete it all")
    assert talk.tap("Keep it").data["items"] == ["scooter"]


def test_data_can_be_had_first(talk):
    talk.say("add scooter")
    talk.say("forget me")
    assert [f.name for f in talk.tap("Send me my data first").files] == ["rinse-tank-data.json"]


def test_what_stays_with_others_is_said_and_is_without_a_name(deck):
    deck.say("mara", "add scooter")
    deck.say("ilka", f"join {code_in(deck.say('mara', 'share'))}")
    deck.say("ilka", "3 dives today with the scooter")
    told = deck.say("ilka", "forget me")
    assert any("without your name" in line for line in told.lines)
    deck.tap("ilka", "Delete it all")
    gone = deck.tap("ilka", "Yes, for good")
    assert gone.lines == ("1 locker of others keeps the record of the kit, without your name.",)
    log = deck.say("mara", "show my dives")
    assert log.first == "3 dives logged."
    assert not any("Ilka" in line for line in log.lines)


def test_who_shares_it_is_counted_before(deck):
    deck.say("mara", "add scooter")
    deck.say("ilka", f"join {code_in(deck.say('mara', 'share'))}")
    told = deck.say("mara", "forget me")
    assert "1 other person will lose it too." in told.lines
