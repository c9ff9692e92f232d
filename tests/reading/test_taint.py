"""Whatever burns, told in whatever words of a part in breathing gas, takes it out of oxygen service: the whole product.

The ways of telling are common practice, no source; that hydrocarbons, fats and silicones burn in enriched gas is what the advice's
own tables say, each with its source.
"""

from datetime import date

import pytest

from bot.advice.question import About
from bot.advice.substances import STUFF, Trait
from bot.reading import gates
from bot.reading.acts import told
from bot.understand.intents import Ask, LogDive, RecordCare, Several
from bot.understand.reader import Context, Talk, understand
from store.vocabulary import ItemKind, Substance

TODAY = date(2026, 6, 10)
WORDS = {
    Substance.SILICONE_GREASE: "silicone grease",
    Substance.SILICONE_SPRAY: "silicone spray",
    Substance.PETROLEUM_JELLY: "petroleum jelly",
    Substance.ZIP_STICK: "zip stick",
    Substance.ZIP_LIQUID: "liquid zip lubricant",
    Substance.BEESWAX: "beeswax",
    Substance.PARAFFIN_WAX: "candle wax",
    Substance.BABY_OIL: "baby oil",
    Substance.MINERAL_OIL: "engine oil",
    Substance.PENETRATING_OIL: "penetrating oil",
    Substance.COOKING_OIL: "olive oil",
    Substance.SUNSCREEN: "sunscreen",
    Substance.LITHIUM_GREASE: "lithium grease",
    Substance.GRAPHITE: "graphite",
    Substance.SOLVENT: "white spirit",
    Substance.HAND_CREAM: "hand cream",
}
TELLINGS = (
    "{stuff} on {part}",
    "got {stuff} on {part}",
    "there is {stuff} on {part}",
    "there's some {stuff} on {part} now",
    "found {stuff} all over {part}",
    "i smeared {stuff} on {part}",
    "dropped {stuff} on {part} this morning",
    "{stuff} leaked onto {part}",
    "{part} is full of {stuff}",
    "{part} has {stuff} on it",
    "oh no, {stuff} got on {part} in the car",
    "touched {part} with {stuff} on my hands",
    "{part} met {stuff} yesterday",
    "somehow {stuff} dripped over {part}",
    "so much {stuff} around {part}!",
    "2 dives today 30 m, {stuff} on {part}",
)
PARTS = ("the stage valve", "the second stage", "the valve of my twinset", "the mouthpiece of the regulator")


def acts(intent):
    """Return everything that an intent would do, flat."""
    if isinstance(intent, Several):
        return [a for one in intent.of for a in acts(one)]
    if isinstance(intent, LogDive):
        return [a for one in intent.happened for a in acts(one)]
    return [intent, *intent.also] if isinstance(intent, RecordCare) else [intent]


def taints(intent, substance):
    """Tell whether something of an intent puts that substance onto a part in breathing gas, as having happened."""
    return any(
        (isinstance(a, Ask) and a.question.happened and a.question.substance is substance)
        or (isinstance(a, RecordCare) and a.substance is substance)
        for a in acts(intent)
    )


def test_every_class_that_burns_is_in_the_product():
    assert set(WORDS) == {s for s, stuff in STUFF.items() if Trait.BURNS in stuff.traits}


@pytest.mark.parametrize("substance", WORDS)
def test_whatever_burns_is_heard_however_it_is_told(substance):
    silent = [
        said
        for telling in TELLINGS
        for part in PARTS
        if not taints(understand(said := telling.format(stuff=WORDS[substance], part=part), TODAY), substance)
    ]
    assert silent == []


@pytest.mark.parametrize("part", PARTS)
@pytest.mark.parametrize(
    "said",
    [
        "no oil on {part}",
        "never put oil on {part}",
        "what if oil gets on {part}?",
        "can i put silicone grease on {part}?",
        "i almost got sunscreen on {part}",
        "my buddy has hand cream on {part}",
    ],
)
def test_what_is_asked_denied_or_supposed_taints_nothing(said, part):
    read = understand(said.format(part=part), TODAY)
    assert not any(taints(read, s) for s in WORDS)


def test_the_gate_alone_hears_it_whatever_the_encoder_made_of_the_clause(monkeypatch):
    said = "oil on the stage valve"
    assert taints(understand(said, TODAY), Substance.MINERAL_OIL)
    monkeypatch.setattr(gates, "taint", lambda *_: None)
    heard = [
        taints(
            understand(f"{t.format(stuff='graphite', part='the second stage')}", TODAY), Substance.GRAPHITE
        )
        for t in TELLINGS
    ]
    assert not all(heard)  # the gate is what makes the product whole


def test_fuel_on_a_regulator_is_oil_and_wiping_it_does_not_clear_it():
    spilt = understand("the deckhand spilt diesel all ower the reg thats on my stage", TODAY)
    assert isinstance(spilt, Ask)
    assert (spilt.question.happened, spilt.question.substance) == (True, Substance.MINERAL_OIL)
    asked = understand(
        "I have wiped it with a paper. It is good again, no?",
        TODAY,
        Context(last=spilt, talk=Talk(about="mishap")),
    )
    questions = [a.question for a in told(asked) if isinstance(a, Ask)]
    assert [(q.about, q.happened) for q in questions] == [(About.CONTAMINATED, False)]


def test_the_suit_of_who_has_a_wetsuit_only_is_the_wetsuit():
    asked = understand(
        "can i use baby oil to get in the suit its so tight", TODAY, Context(names=("wetsuit", "fins"))
    )
    assert isinstance(asked, Ask)
    assert asked.question.item is ItemKind.WETSUIT
