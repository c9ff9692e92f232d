"""Published values that the advice rests on, each with its source beside it."""

import pytest

from bot.advice.cautions import cautions
from bot.advice.compatibility import objections
from store.catalogue import PartFacts
from store.vocabulary import Elastomer, Motion, PartKind, Substance

E, S = Elastomer, Substance


def ring(elastomer: Elastomer) -> PartFacts:
    """Return a moving ring of that rubber, out of the gas."""
    return PartFacts(kind=PartKind.O_RING, motion=Motion.DYNAMIC, gas=False, elastomer=elastomer)


# Molded Dimensions, Chemical Resistance Properties (oil and gasoline: NR, IIR, EPDM rated poor; NBR good to excellent,
# FKM excellent); Voeller et al., Contraception 1989 (mineral oil on latex film); encyclopedia article "O-ring" (EPDM).
@pytest.mark.parametrize("elastomer", [E.NR, E.IIR, E.EPDM])
@pytest.mark.parametrize("oil", [S.MINERAL_OIL, S.PETROLEUM_JELLY, S.BABY_OIL])
def test_hydrocarbon_on_rubber_it_attacks_is_refused_as_a_matter_of_safety(elastomer, oil):
    assert objections(oil, ring(elastomer))[0].safety


# Molded Dimensions, Chemical Resistance Properties: the same oil on NBR and FKM.
@pytest.mark.parametrize("elastomer", [E.NBR, E.FKM])
def test_hydrocarbon_on_rubber_it_spares_is_not_refused_for_the_rubbers_sake(elastomer):
    assert objections(S.PETROLEUM_JELLY, ring(elastomer)) == ()


# Encyclopedia article "O-ring" (EPDM: good resistance to silicone); Family Planning: A Global Handbook for Providers
# (silicone and water-based lubricants are safe on latex).
@pytest.mark.parametrize("elastomer", [E.EPDM, E.NR])
def test_silicone_is_not_refused_for_the_sake_of_epdm_or_latex(elastomer):
    assert objections(S.SILICONE_GREASE, ring(elastomer)) == ()


# Molded Dimensions (NR in water: excellent); Voeller et al. 1989 (glycerol 5 min: no significant change).
def test_water_based_lubricant_is_not_refused_on_latex():
    assert objections(S.SUIT_LUBRICANT, PartFacts(kind=PartKind.BODY_SEAL, gas=False, elastomer=E.NR)) == ()


# Rosen and Rosen, South Med J 1999; 92(3):305-307: vegetable oil deteriorates latex rapidly.
def test_vegetable_oil_on_latex_is_refused():
    assert objections(S.COOKING_OIL, ring(E.NR))[0].id == "vegetable_oil_on_latex"


# A trade magazine page (silicone oil may partly dissolve a silicone gasket) against a popular science page: disputed.
def test_silicone_on_silicone_rubber_is_refused_and_called_disputed():
    told = objections(S.SILICONE_GREASE, ring(E.VMQ))[0]
    assert (told.id, "disagree" in told.why) == ("silicone_on_silicone", True)


def oxygen_lines(fraction: float) -> set[str]:
    """Return which oxygen cautions a fraction calls for."""
    facts = PartFacts(kind=PartKind.O_RING, motion=Motion.DYNAMIC, gas=True, o2_fraction=fraction)
    return {c.id for c in cautions(facts) if c.id.startswith("oxygen_over")}


# EN 144-3:2003, scope: over 22 %. 46 CFR 197.326(a): over 40 %. Both exclusive: 22.0 is not over 22, 40.0 not over 40.
@pytest.mark.parametrize(
    ("fraction", "lines"),
    [
        (0.21, set()),
        (0.22, set()),
        (0.221, {"oxygen_over_22"}),
        (0.40, {"oxygen_over_22"}),
        (0.401, {"oxygen_over_22", "oxygen_over_40"}),
        (1.0, {"oxygen_over_22", "oxygen_over_40"}),
    ],
)
def test_oxygen_lines_are_exclusive(fraction, lines):
    assert oxygen_lines(fraction) == lines


# NOAA Diving Manual 15.11.4 and 64 FR 71242 (second-hand): blending with pure oxygen counts as over 40 %.
def test_pure_oxygen_blending_is_oxygen_service_whatever_the_mix():
    facts = PartFacts(kind=PartKind.O_RING, gas=True, o2_fraction=0.32, pure_oxygen_fill=True)
    assert "pure_oxygen_fill" in {c.id for c in cautions(facts)}


# Voeller et al., Contraception 1989 (doi 10.1016/0010-7824(89)90018-8): about 90 % less strength in 60 s; quoted only.
def test_latex_objection_quotes_the_study():
    told = objections(S.MINERAL_OIL, ring(E.NR))[0]
    assert ("90 %" in told.why, "1989" in told.source.name) == (True, True)
