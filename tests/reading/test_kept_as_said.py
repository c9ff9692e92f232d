"""What is said of kit and no rule needs is kept in the diver's words; settings, trips, papers and own words in words nobody listed."""

from datetime import date, time

import pytest

from bot.reading.acts import told
from bot.understand.intents import (
    AddItem,
    Export,
    ForgetMe,
    PlanTrip,
    RecordManual,
    SetPreference,
    Several,
    ShareLocker,
)
from bot.understand.reader import Context, Talk, understand
from store.vocabulary import Substance, Task

TODAY = date(2026, 6, 10)


def meant(text, about="", item=None):
    return understand(text, TODAY, Context(talk=Talk(about=about, item=item)))


@pytest.mark.parametrize(
    ("text", "item", "remark"),
    [
        ("and the socks are neoprene", "dry suit", "socks are neoprene"),
        ("it has bungees, black", "regulator set", "bungees"),
        ("Housing is grey", None, "grey"),
    ],
)
def test_what_no_rule_needs_is_kept_in_the_divers_words(text, item, remark):
    read = meant(text, "fact", item)
    assert isinstance(read, AddItem)
    assert read.of is not None
    assert any(remark in r for r in read.facts.remarks or ())


def test_several_alike_are_told_apart_by_what_is_said_of_each():
    read = meant("I have two regs, one yellow, one black, and a torch")
    assert [(a.kind.value, a.facts.remarks) for a in (read, *read.also)] == [
        ("regulator", ("yellow",)),
        ("regulator", ("black",)),
        ("hand_light", None),
    ]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("no messages btween 10pm n 5am plssss", {"quiet_from": time(22), "quiet_to": time(5)}),
        ("the board every monday would be lekker", {"board_day": "monday"}),
        ("weekly picture off , too much", {"board_day": "never"}),
        (
            "with the candle i mean paraffin, we always did it with the candles of the church",
            {"word": "candle", "substance": Substance.PARAFFIN_WAX},
        ),
    ],
)
def test_wishes_in_other_words(text, wanted):
    assert meant(text) == SetPreference(**wanted)


def test_an_item_goes_by_the_word_that_stands_for_it():
    read = meant("when write velha i mean old jacket wing")
    assert isinstance(read, AddItem)
    assert (read.of, read.name) == ("old jacket wing", "velha")


def test_each_interval_of_a_manual_is_of_its_own_act():
    read = meant(
        "the paper that came with the scooter says check the shaft seal every fifty dives and change it every two years"
    )
    assert isinstance(read, Several)
    assert [(m.task, m.every_dives, m.every_months) for m in read.of if isinstance(m, RecordManual)] == [
        (Task.INSPECT, 50, None),
        (Task.REPLACE, None, 24),
    ]


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        (
            "make it the eleventh to the fifteenth the barge is late",
            (date(2026, 6, 11), date(2026, 6, 15), None),
        ),
        ("bring it forward by a week, they had a place free", (None, None, -7)),
    ],
)
def test_a_trip_is_changed_in_words(text, wanted):
    read = meant(text, "trip")
    assert isinstance(read, PlanTrip)
    assert read.changes
    assert (read.from_on, read.to_on, read.by_days) == wanted


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("give me a file with everything, i change perhaps the phone", Export),
        ("I hereby withdraw my consent; kindly delete all that you hold concerning me.", ForgetMe),
        ("new code for karim pls he lost his and mina out", ShareLocker),
    ],
)
def test_requests_in_other_words(text, kind):
    assert isinstance(told(meant(text))[0], kind)


@pytest.mark.parametrize(
    "text", ["please do not forget me", "show my c card", "the gas is off", "wipe everything down"]
)
def test_what_only_sounds_like_a_request_is_none(text):
    assert not isinstance(meant(text), Export | ForgetMe)
    assert not getattr(meant(text), "cancels", False)
