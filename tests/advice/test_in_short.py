"""The card's few words say what the long answer says, and never less of a danger."""

import itertools

import pytest

from bot.advice.answer import answer
from bot.advice.in_short import NOTHING, TECHNICIAN, in_short
from bot.advice.question import About, PartRef, Question
from bot.advice.rules import Verdict
from bot.advice.substances import STUFF, is_hydrocarbon, is_silicone, names
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import SealMaterial, Substance, ZipMaterial
from tests.doses import doses

FACTS = [
    ItemFacts(o2_fraction=o2, zip_material=zip_material, seal_material=seals)
    for o2, zip_material, seals in itertools.product(
        (None, 0.21, 0.32, 1.0), (None, *ZipMaterial), (None, *SealMaterial)
    )
]
FEW = FACTS[::7]
"""Of seven rows one: each gas, zip and seal is among them."""
PARTS = [(kind, part) for kind in CATALOGUE.values() for part in kind.parts]


def facts_of(facts):
    return str(sorted(facts.model_dump(exclude_none=True).values(), key=str))


@pytest.mark.parametrize("facts", [f for f in FACTS if f in FEW], ids=facts_of)
def test_short_answer_is_the_long_one(facts):
    compare(facts)


@pytest.mark.long
@pytest.mark.parametrize("facts", [f for f in FACTS if f not in FEW], ids=facts_of)
def test_short_answer_is_the_long_one_whatever_is_known(facts):
    compare(facts)


def compare(facts):
    for kind, part in PARTS:
        if not part.fits(facts):
            continue
        short = in_short(part.facts(facts), None)
        ref = PartRef(item=kind.kind, part=part.key)
        long = answer(Question(about=About.WHAT, candidates=(ref,), item=kind.kind), facts)
        where = (kind.name, part.name, facts)
        match long.verdict:
            case Verdict.TECHNICIAN:
                assert short.put == TECHNICIAN, where
            case Verdict.NONE:
                assert (short.put, short.bare) == (NOTHING, True), where
            case Verdict.USE:
                assert short.put == names(long.use[:2]), where
                assert short.how_much, where
            case _:
                assert short.put.startswith("ask first"), where


@doses(FEW, FACTS)
@pytest.mark.parametrize("said", Substance)
def test_no_manual_makes_a_card_put_an_oil_or_a_silicone_where_gas_is(said, dose):
    names = {STUFF[s].name for s in Substance if is_hydrocarbon(s) or is_silicone(s)}
    for (_, part), facts in itertools.product(PARTS, dose):
        known = part.facts(facts)
        if known.gas:
            put = in_short(known, (said,)).put.partition(" (")[0]
            assert put not in names, (part.name, said)


def test_what_the_manual_says_is_marked_as_its_word_or_as_a_conflict():
    ring = CATALOGUE["scooter"].part("hull_rings").facts(ItemFacts())
    assert in_short(ring, (Substance.PETROLEUM_JELLY,)).put == "petroleum jelly (its manual)"
    swivel = CATALOGUE["regulator"].part("hose_swivel").facts(ItemFacts())
    told = in_short(swivel, (Substance.SILICONE_GREASE,))
    assert told.put == "oxygen-compatible PFPE grease (the manual says otherwise: ask its maker)"
    assert in_short(ring, ()).put == "nothing: clean and dry (its manual)"


@pytest.mark.parametrize(
    ("kind", "part", "never"),
    [
        ("twinset", "neck_ring", "any lubricant"),
        ("regulator", "hose_swivel", "other oil, fat, wax, silicone, powder"),
        ("dry_suit", "zip_docking_end", "any other lubricant"),
        ("dry_suit", "seals", "any lubricant"),
        ("scooter", "hull_rings", "powder, solvent, penetrating oil"),
        ("twinset", "bands", ""),
    ],
)
def test_what_never_goes_on_it_is_named_by_families(kind, part, never):
    facts = ItemFacts(zip_material=ZipMaterial.PLASTIC, seal_material=SealMaterial.LATEX)
    assert in_short(CATALOGUE[kind].part(part).facts(facts), None).never == never
