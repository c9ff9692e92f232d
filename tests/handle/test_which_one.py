"""Oil on one of several: nothing is noted in silence, and nothing is guessed."""

import pytest


@pytest.fixture
def deck(talk):
    return talk.has_said("add stage 50%", "add stage 80%")


def out(talk):
    return [line for line in talk.say("show kit").lines if "OUT OF OXYGEN SERVICE" in line]


def test_the_gas_tells_which_one(deck):
    told = deck.say("I got oil on the stage 50% valve")
    assert any(line.startswith("Noted for today") for line in told.lines)
    (line,) = out(deck)
    assert "50 %" in line.split(":")[0]


def test_of_several_it_asks_and_notes_once_tapped(deck):
    told = deck.say("I got oil on the stage valve")
    assert told.lines[0].startswith("On which one?")
    assert out(deck) == []
    assert len(told.offers) == 2
    deck.say("I got oil on the stage valve")
    noted = deck.tap(told.offers[1].label)
    assert any(line.startswith("Noted for today") for line in noted.lines)
    (line,) = out(deck)
    assert line.startswith(f"- {told.offers[1].label} (")


def test_names_that_hold_each_other_are_told_apart(talk):
    talk.say("add stage")
    talk.say("add stage")
    talk.say("I got oil on the stage valve")
    talk.tap("stage cylinder 2")
    (line,) = out(talk)
    assert line.startswith("- stage cylinder 2")


def test_forgetting_the_last_dive_twice_takes_two_dives_and_nothing_else(talk):
    talk.say("2 dives yesterday")
    talk.say("3 dives today")
    talk.say("add scooter")
    assert talk.say("forget the last dive").first.startswith("Out of the log: 3 dives")
    assert talk.say("forget the last dive").first.startswith("Out of the log: 2 dives")
    assert talk.say("forget the last dive").first == "No dive is logged yet, so there is nothing to correct."
    assert talk.say("show kit").data["items"] == ["scooter"]
