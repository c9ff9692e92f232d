"""What must not meet what.

The first row that applies answers "can I put L on X"; safety rows come first and nothing overrules them, not even a
recorded manual.
"""

from dataclasses import dataclass
from functools import lru_cache

from bot.advice.rules import Verdict
from bot.advice.sources import (
    AAUS_1992,
    DRUG_LABEL,
    EPDM_NOTE,
    LATEX_1989,
    LATEX_1999,
    LATEX_HANDBOOK,
    PRACTICE,
    RUBBER_TABLE,
    SILICONE_ON_SILICONE,
    TEXTBOOK_SUIT,
    Source,
)
from bot.advice.substances import STUFF, Base, Trait
from store.catalogue.facts import PartFacts
from store.catalogue.when import When, kinds
from store.vocabulary import Elastomer, Motion, Substance, ZipMaterial
from store.vocabulary import PartKind as K


@dataclass(frozen=True, slots=True)
class Objection:
    """A reason why a class of substance should not go on a part of certain facts."""

    id: str
    when: When
    why: str
    bases: frozenset[Base] = frozenset()
    traits: frozenset[Trait] = frozenset()
    besides: frozenset[Substance] = frozenset()
    """Substances the row spares, though base or trait would name them."""
    verdict: Verdict = Verdict.NO
    safety: bool = False
    source: Source = PRACTICE

    def applies(self, substance: Substance, facts: PartFacts) -> bool:
        """Tell whether the row certainly speaks against putting the substance on a part of these facts."""
        stuff = STUFF[substance]
        named = stuff.base in self.bases or bool(stuff.traits & self.traits)
        return named and substance not in self.besides and self.when.holds(facts)


def _rubber(*elastomers: Elastomer) -> When:
    return When(elastomers=frozenset(elastomers))


_SEALS = kinds(K.O_RING, K.MOVING_SEALS)
_ZIPS = kinds(K.ZIP, K.ZIP_DOCKING_END, K.ZIP_TEETH, K.ZIP_OUTER_ELEMENTS, K.ZIP_INNER_TEETH)

OBJECTIONS: tuple[Objection, ...] = (
    Objection(
        "hydrocarbon_in_gas",
        When(gas=True),
        "An oil or fat can ignite in compressed or oxygen-rich gas.",
        bases=frozenset({Base.HYDROCARBON, Base.VEGETABLE, Base.WAX, Base.ZIP_WAX}),
        safety=True,
        source=DRUG_LABEL,
    ),
    Objection(
        "solvent_in_gas",
        When(gas=True),
        "What a solvent leaves behind can burn in compressed or oxygen-rich gas, and it attacks rubber.",
        bases=frozenset({Base.SOLVENT}),
        safety=True,
    ),
    Objection(
        "not_oxygen_compatible",
        When(gas=True),
        "It is not oxygen-compatible: what touches breathing gas gets PFPE, whatever the mix.",
        bases=frozenset({Base.SILICONE}),
        traits=frozenset({Trait.BURNS}),
        safety=True,
        source=AAUS_1992,
    ),
    Objection(
        "film_before_shut_off",
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC, upstream=True),
        "A lubricated neck ring can be squeezed out of its seat and empty the cylinder, and nobody can mend that under water.",
        traits=frozenset({Trait.FILM}),
        bases=frozenset({Base.POWDER}),
        safety=True,
    ),
    Objection(
        "powder_in_gas",
        When(gas=True),
        "Powder there is breathed, and jams what has to move.",
        bases=frozenset({Base.POWDER}),
        safety=True,
    ),
    Objection(
        "cleaner_before_shut_off",
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC, upstream=True),
        "Nothing stays on this ring, no cleaner either: soapy water, rinsed off, and fitted dry.",
        traits=frozenset({Trait.CLEANS}),
        besides=frozenset({Substance.FRESH_WATER, Substance.SOAPY_WATER}),
        safety=True,
    ),
    Objection(
        "hydrocarbon_on_latex",
        _rubber(Elastomer.NR),
        "Oil ruins latex, fast: thin film lost about 90 % of its strength in a minute of mineral oil.",
        bases=frozenset({Base.HYDROCARBON}),
        safety=True,
        source=LATEX_1989,
    ),
    Objection(
        "vegetable_oil_on_latex",
        _rubber(Elastomer.NR),
        "Vegetable oil makes latex deteriorate rapidly.",
        bases=frozenset({Base.VEGETABLE}),
        safety=True,
        source=LATEX_1999,
    ),
    Objection(
        "wax_or_grease_on_latex",
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.NR})),
        "Latex seals take talc and nothing greasy.",
        traits=frozenset({Trait.FILM}),
        source=LATEX_HANDBOOK,
    ),
    Objection(
        "hydrocarbon_on_epdm",
        _rubber(Elastomer.EPDM),
        "Mineral oil products swell EPDM.",
        bases=frozenset({Base.HYDROCARBON}),
        safety=True,
        source=EPDM_NOTE,
    ),
    Objection(
        "hydrocarbon_on_butyl",
        _rubber(Elastomer.IIR),
        "Oil attacks butyl rubber.",
        bases=frozenset({Base.HYDROCARBON}),
        safety=True,
        source=RUBBER_TABLE,
    ),
    Objection(
        "silicone_near_glue",
        When(bonded=True),
        "Silicone creeps into the cloth, and no glue or patch holds there afterwards.",
        traits=frozenset({Trait.CREEPS}),
        source=TEXTBOOK_SUIT,
    ),
    Objection(
        "silicone_on_silicone",
        _rubber(Elastomer.VMQ),
        "Silicone lubricant on silicone rubber is doubtful: it may swell it, and sources disagree.",
        bases=frozenset({Base.SILICONE}),
        source=SILICONE_ON_SILICONE,
    ),
    Objection(
        "hydrocarbon_on_silicone_rubber",
        _rubber(Elastomer.VMQ),
        "Oil swells silicone rubber.",
        bases=frozenset({Base.HYDROCARBON}),
        source=RUBBER_TABLE,
    ),
    Objection(
        "film_on_static_ring",
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC),
        "Nothing slides on it: clean and dry. (A seal maker's guide coats every ring lightly on fitting; the manual of this item decides.)",
        traits=frozenset({Trait.FILM}),
        bases=frozenset({Base.POWDER}),
    ),
    Objection(
        "lubricant_on_lubricant",
        When(kinds=_ZIPS, uncleaned=True),
        "Never lubricant upon lubricant: old film holds grit and salt. Brush first, then lubricate.",
        traits=frozenset({Trait.FILM}),
    ),
    Objection(
        "wax_on_plastic_zip",
        When(kinds=_ZIPS, zip_material=ZipMaterial.PLASTIC),
        "A plastic zip wants a soft stick free of paraffin and silicone, at the docking end only.",
        bases=frozenset({Base.HYDROCARBON, Base.WAX, Base.SILICONE, Base.VEGETABLE, Base.PFPE, Base.POWDER}),
    ),
    Objection(
        "film_on_plastic_teeth",
        When(kinds=kinds(K.ZIP_TEETH)),
        "Plastic teeth run on clean; lubricant holds grit. Only the docking end takes the stick.",
        traits=frozenset({Trait.FILM}),
        bases=frozenset({Base.POWDER}),
    ),
    Objection(
        "oil_on_zip",
        When(kinds=_ZIPS),
        "Oil and grease hold grit and salt in a zip and creep into its tape.",
        bases=frozenset({Base.VEGETABLE, Base.SOLVENT, Base.POWDER}),
        traits=frozenset({Trait.HARSH}),
    ),
    Objection(
        "grease_on_contact",
        When(kinds=kinds(K.CONTACT, K.BATTERY, K.SENSOR, K.SORBENT)),
        "A film insulates contacts and spoils cells and sorbent; nothing wet or sharp goes on them either.",
        traits=frozenset({Trait.FILM, Trait.HARSH}),
        bases=frozenset({Base.POWDER}),
    ),
    Objection(
        "water_in_cylinder",
        When(kinds=kinds(K.SHELL)),
        "Water inside a cylinder rusts it and may have flooded the valve: it is opened and looked at before the next fill.",
        bases=frozenset({Base.WATER}),
        verdict=Verdict.TECHNICIAN,
    ),
    Objection(
        "wet_sorbent",
        When(kinds=kinds(K.SORBENT)),
        "Sorbent stays dry until you dive it, and wet it is caustic.",
        bases=frozenset({Base.WATER}),
    ),
    Objection(
        "film_on_lens",
        When(kinds=kinds(K.LENS)),
        "A film on a lens blurs it, and oils and solvents craze clear plastics.",
        traits=frozenset({Trait.FILM}),
        bases=frozenset({Base.SOLVENT}),
    ),
    Objection(
        "grease_on_valve_flap",
        When(kinds=kinds(K.VALVE)),
        "Grease and powder make a valve flap stick or leak.",
        traits=frozenset({Trait.FILM}),
        bases=frozenset({Base.POWDER}),
    ),
    Objection(
        "powder_on_seal_ring",
        When(kinds=_SEALS),
        "Powder in a sealing groove is a leak.",
        bases=frozenset({Base.POWDER}),
    ),
    Objection(
        "harsh_on_rubber",
        When(kinds=kinds(K.O_RING, K.MOVING_SEALS, K.BODY_SEAL, K.SUIT_SKIN, K.SKIRT, K.FABRIC)),
        "It attacks rubber, plastic or glue.",
        traits=frozenset({Trait.HARSH}),
        bases=frozenset({Base.SOLVENT}),
    ),
)

SUITS_IF_MAKER_ASKS: tuple[tuple[When, frozenset[Substance]], ...] = (
    (When(kinds=_SEALS, motion=Motion.DYNAMIC, gas=False), frozenset({Substance.PETROLEUM_JELLY})),
    (When(kinds=kinds(K.SUIT_SKIN)), frozenset({Substance.BABY_OIL})),
    (
        When(kinds=kinds(K.ZIP, K.ZIP_OUTER_ELEMENTS), zip_material=ZipMaterial.METAL),
        frozenset({Substance.PARAFFIN_WAX}),
    ),
    (
        When(kinds=kinds(K.ZIP), watertight=False),
        frozenset({Substance.PARAFFIN_WAX, Substance.BEESWAX, Substance.ZIP_LIQUID}),
    ),
    (
        When(kinds=kinds(K.METAL), gas=False),
        frozenset(
            {
                Substance.SILICONE_GREASE,
                Substance.SILICONE_SPRAY,
                Substance.MINERAL_OIL,
                Substance.WHITE_VINEGAR,
            }
        ),
    ),
    (When(kinds=kinds(K.LENS)), frozenset({Substance.TOOTHPASTE})),
    (When(kinds=kinds(K.BODY_SEAL)), frozenset({Substance.TALC})),
)
"""Harmless or usual, but only on the maker's word: the answer is "depends"."""


@lru_cache(maxsize=8192)
def objections(substance: Substance, facts: PartFacts) -> tuple[Objection, ...]:
    """Return every row that certainly speaks against the substance on a part of these facts, gravest first."""
    return tuple(row for row in OBJECTIONS if row.applies(substance, facts))


def vetoed(substance: Substance, facts: PartFacts) -> Objection | None:
    """Return the safety row that forbids the substance whatever a manual says, or None."""
    return next((row for row in objections(substance, facts) if row.safety), None)
