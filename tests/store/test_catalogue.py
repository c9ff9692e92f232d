"""The tables of kinds and parts hold together."""

from collections import Counter

import pytest

from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import Elastomer, ItemKind, PartKind, SealMaterial, ZipMaterial

PARTS = [part for kind in CATALOGUE.values() for part in kind.parts]
KINDS = pytest.mark.parametrize("kind", CATALOGUE.values(), ids=CATALOGUE)


def tidy(words):
    """Return the words as they should stand: lower case, none empty, none twice."""
    return tuple(dict.fromkeys(word.strip().lower() for word in words if word.strip()))


def test_catalogue_has_every_kind_of_item():
    assert set(CATALOGUE) == set(ItemKind)


def test_catalogue_has_parts_of_every_kind_of_item():
    assert [kind for kind, entry in CATALOGUE.items() if not entry.parts] == []


@KINDS
def test_keys_of_an_item_are_unique(kind):
    assert [key for key, n in Counter(p.key for p in kind.parts).items() if n > 1] == []


@KINDS
def test_main_part_of_an_item_exists(kind):
    assert kind.main is None or kind.part(kind.main).key == kind.main


@KINDS
def test_facts_asked_for_are_facts_of_an_item(kind):
    assert set(kind.asks) <= set(ItemFacts.model_fields)


@KINDS
def test_words_for_an_item_are_lower_case_and_given_once(kind):
    assert (kind.words, len(kind.words) > 0) == (tidy(kind.words), True)


@KINDS
def test_key_of_a_part_is_a_plain_lower_case_name(kind):
    assert [
        p.key for p in kind.parts if not p.key.isidentifier() or p.key != p.key.lower() or not p.name
    ] == []


@KINDS
def test_words_for_a_part_are_lower_case_and_given_once(kind):
    assert {p.key: p.words for p in kind.parts} == {p.key: tidy(p.words) for p in kind.parts}
    assert [p.key for p in kind.parts if not p.words] == []


def test_detail_points_at_a_whole_of_the_same_item():
    details = [(kind, p) for kind in CATALOGUE.values() for p in kind.parts if p.part_of]
    wholes = [(kind.part(p.part_of).key, kind.part(p.part_of).part_of) for kind, p in details]
    assert (wholes, len(details) > 0) == ([(p.part_of, None) for _, p in details], True)


@pytest.mark.parametrize("name", ["zip", "seals"])
def test_care_of_a_dry_suit_is_scheduled_on_the_whole_or_its_details_never_on_both(name):
    suit = CATALOGUE["dry_suit"]
    details = {p.care for p in suit.parts if p.part_of == name}
    assert details == {not suit.part(name).care}


def test_oxygen_of_an_item_reaches_only_parts_that_gas_touches():
    rich = ItemFacts(o2_fraction=0.5)
    told = {(p.gas, p.facts(rich).o2_fraction) for p in PARTS if p.o2_fraction is None}
    assert told == {(True, 0.5), (False, None)}


@pytest.mark.parametrize(
    ("material", "keys"),
    [
        (ZipMaterial.PLASTIC, {"zip_docking_end", "zip_teeth"}),
        (ZipMaterial.METAL, {"zip_outer_elements", "zip_inner_teeth"}),
        (None, {"zip_docking_end", "zip_teeth", "zip_outer_elements", "zip_inner_teeth"}),
    ],
)
def test_zip_details_that_fit_follow_the_material(material, keys):
    facts = ItemFacts(zip_material=material)
    assert {p.key for p in CATALOGUE["dry_suit"].parts if p.part_of == "zip" and p.fits(facts)} == keys


@pytest.mark.parametrize(
    ("material", "elastomer"),
    [
        (None, None),
        (SealMaterial.LATEX, Elastomer.NR),
        (SealMaterial.SILICONE, Elastomer.VMQ),
        (SealMaterial.NEOPRENE, Elastomer.CR),
    ],
)
def test_rubber_of_the_seals_follows_what_was_said(material, elastomer):
    suit, facts = CATALOGUE["dry_suit"], ItemFacts(seal_material=material)
    told = {p.facts(facts).elastomer for p in suit.parts if p.kind is PartKind.BODY_SEAL}
    assert told == {elastomer}


def test_part_of_another_item_is_refused():
    with pytest.raises(KeyError, match="zip_teeth"):
        CATALOGUE["bag"].part("zip_teeth")
