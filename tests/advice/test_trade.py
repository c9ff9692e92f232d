"""Every fact of the trade comes out of the rules. All of it: common practice, no source."""

import pytest

from bot.advice.answer import answer
from bot.advice.model import Advice
from bot.advice.question import About, PartRef, Question, Stated
from bot.advice.rules import Verdict
from store.catalogue import ItemFacts
from store.vocabulary import ItemKind, SealMaterial, Substance, ZipMaterial

S, V, I = Substance, Verdict, ItemKind  # noqa: E741 - the vocabulary's own initials


def ask(
    item: ItemKind,
    part: str,
    about: About = About.WHAT,
    facts: ItemFacts | None = None,
    **more: object,
) -> Advice:
    """Ask about a part of the catalogue."""
    question = Question(about=about, candidates=(PartRef(item=item, part=part),), **more)  # type: ignore[arg-type]
    return answer(question, facts)


PLASTIC = ItemFacts(zip_material=ZipMaterial.PLASTIC, seal_material=SealMaterial.LATEX)
METAL = ItemFacts(zip_material=ZipMaterial.METAL, seal_material=SealMaterial.SILICONE)


@pytest.mark.parametrize(
    ("item", "part", "facts", "verdict", "use"),
    [
        (I.CYLINDER, "neck_ring", None, V.NONE, ()),
        (I.TWINSET, "neck_ring", None, V.NONE, ()),
        (I.STAGE, "outlet_ring", None, V.NONE, ()),
        (I.REGULATOR, "din_ring", None, V.NONE, ()),
        (I.REGULATOR, "hose_swivel", None, V.USE, (S.PFPE_GREASE,)),
        (I.REGULATOR, "first_stage_inside", None, V.TECHNICIAN, ()),
        (I.REGULATOR, "second_stage_inside", None, V.TECHNICIAN, ()),
        (I.CYLINDER, "valve_inside", None, V.TECHNICIAN, ()),
        (I.TWINSET, "barrel_rings", None, V.USE, (S.PFPE_GREASE,)),
        (I.REBREATHER, "head_rings", None, V.USE, (S.PFPE_OIL, S.PFPE_GREASE)),
        (I.REBREATHER, "mouthpiece_rings", None, V.USE, (S.PFPE_OIL, S.PFPE_GREASE)),
        (I.REBREATHER, "loop_rings", None, V.USE, (S.PFPE_OIL, S.PFPE_GREASE)),
        (I.CANISTER_LIGHT, "lid_ring", None, V.NONE, ()),
        (I.HAND_LIGHT, "head_rings", None, V.USE, (S.SILICONE_GREASE, S.PFPE_GREASE)),
        (I.SCOOTER, "hull_rings", None, V.USE, (S.SILICONE_GREASE, S.PFPE_GREASE)),
        (I.BAG, "bag_zip", None, V.USE, (S.SILICONE_SPRAY,)),
        (I.DRY_SUIT, "zip", PLASTIC, V.USE, (S.ZIP_STICK,)),
        (I.DRY_SUIT, "zip_docking_end", PLASTIC, V.USE, (S.ZIP_STICK,)),
        (I.DRY_SUIT, "zip_teeth", PLASTIC, V.NONE, ()),
        (I.DRY_SUIT, "zip_outer_elements", METAL, V.USE, (S.BEESWAX,)),
        (I.DRY_SUIT, "zip_inner_teeth", METAL, V.USE, (S.ZIP_STICK, S.ZIP_LIQUID)),
        (I.DRY_SUIT, "neck_seal", PLASTIC, V.USE, (S.TALC,)),
        (I.DRY_SUIT, "wrist_seals", PLASTIC, V.USE, (S.TALC,)),
        (I.DRY_SUIT, "neck_seal", METAL, V.NONE, ()),
        (I.WETSUIT, "skin", None, V.USE, (S.SUIT_LUBRICANT, S.SOAPY_WATER)),
    ],
)
def test_part_gets_what_the_trade_puts_on_it(item, part, facts, verdict, use):
    told = ask(item, part, facts=facts)
    assert (told.verdict, told.use) == (verdict, use)


@pytest.mark.parametrize(
    ("item", "part", "facts", "substance", "verdict"),
    [
        (I.CYLINDER, "neck_ring", None, S.PFPE_GREASE, V.NO),
        (I.REGULATOR, "din_ring", None, S.PFPE_GREASE, V.NO),
        (I.REGULATOR, "hose_swivel", None, S.SILICONE_GREASE, V.NO),
        (I.REGULATOR, "hose_swivel", None, S.PFPE_GREASE, V.YES),
        (I.REGULATOR, "first_stage_inside", None, S.PFPE_GREASE, V.TECHNICIAN),
        (I.SCOOTER, "hull_rings", None, S.PETROLEUM_JELLY, V.DEPENDS),
        (I.CANISTER_LIGHT, "lid_ring", None, S.SILICONE_GREASE, V.NO),
        (I.DRY_SUIT, "zip", PLASTIC, S.PARAFFIN_WAX, V.NO),
        (I.DRY_SUIT, "zip", METAL, S.SILICONE_SPRAY, V.NO),
        (I.DRY_SUIT, "zip_teeth", PLASTIC, S.SOAPY_WATER, V.YES),
        (I.DRY_SUIT, "neck_seal", PLASTIC, S.PETROLEUM_JELLY, V.NO),
        (I.DRY_SUIT, "neck_seal", PLASTIC, S.MINERAL_OIL, V.NO),
        (I.DRY_SUIT, "fabric", PLASTIC, S.SILICONE_SPRAY, V.NO),
        (I.WETSUIT, "skin", None, S.BABY_OIL, V.DEPENDS),
        (I.WETSUIT, "skin", None, S.SOAPY_WATER, V.YES),
    ],
)
def test_substance_on_part_is_judged_as_the_trade_does(item, part, facts, substance, verdict):
    assert ask(item, part, About.CAN, facts, substance=substance).verdict == verdict


def test_silicone_spray_on_a_suit_zip_is_refused_before_the_material_is_known():
    assert ask(I.DRY_SUIT, "zip", About.CAN, substance=S.SILICONE_SPRAY).verdict == V.NO


def test_technician_is_told_which_grease_the_trade_uses():
    assert "oxygen-compatible PFPE grease" in ask(I.REGULATOR, "first_stage_inside").short


def test_zip_of_unknown_material_is_asked_for():
    told = ask(I.DRY_SUIT, "zip")
    assert (told.verdict, [c.label for c in told.choices]) == (V.CLARIFY, ["plastic", "metal"])


def test_seals_of_unknown_material_are_asked_for():
    assert [c.label for c in ask(I.DRY_SUIT, "seals").choices] == ["latex", "silicone", "neoprene"]


def test_amount_is_enough_to_make_the_ring_shine():
    told = ask(I.TWINSET, "barrel_rings", About.HOW_MUCH)
    assert told.short.startswith("Isolation manifold barrel O-rings: enough to make the ring shine")


def test_ring_is_taken_out_wiped_and_looked_at():
    said = ask(I.HAND_LIGHT, "head_rings").text
    assert ("without a sharp tool" in said, "lint-free" in said, "nicks" in said) == (True, True, True)


@pytest.mark.parametrize("part", ["zip", "zip_docking_end"])
def test_zip_is_brushed_before_it_is_lubricated(part):
    assert "Never lubricant upon lubricant" in ask(I.DRY_SUIT, part, facts=PLASTIC).text


def test_lubricant_on_an_unbrushed_zip_is_refused():
    told = ask(I.DRY_SUIT, "zip_docking_end", About.CAN, substance=S.ZIP_STICK, stated=Stated(uncleaned=True))
    assert told.verdict == V.NO


def test_docking_end_is_lubricated_about_every_ten_dives():
    assert ask(I.DRY_SUIT, "zip_docking_end", About.HOW_OFTEN, PLASTIC).short.endswith(
        "about every 10 dives."
    )


@pytest.mark.parametrize("substance", [S.SILICONE_GREASE, S.PETROLEUM_JELLY, S.COOKING_OIL])
def test_wrong_grease_on_an_oxygen_part_takes_it_out_of_service(substance):
    told = ask(I.STAGE, "outlet_ring", About.CONTAMINATED, ItemFacts(o2_fraction=0.5), substance=substance)
    assert (told.verdict, told.use, "Out of oxygen service" in told.short) == (V.TECHNICIAN, (), True)


def test_makers_petroleum_jelly_on_a_scooter_ring_goes_before_ours():
    told = ask(I.SCOOTER, "hull_rings", manual=(S.PETROLEUM_JELLY,))
    assert (told.use, told.because[0].authority) == ((S.PETROLEUM_JELLY,), "maker")


def test_makers_silicone_on_a_gas_part_is_repeated_and_refused():
    told = ask(I.REGULATOR, "hose_swivel", manual=(S.SILICONE_GREASE,))
    assert (told.use, "conflicts" in told.lines[0]) == ((S.PFPE_GREASE,), True)


def test_rules_of_practice_say_that_they_have_no_source():
    assert ask(I.HAND_LIGHT, "head_rings").because[0].source == "common practice, no source"
