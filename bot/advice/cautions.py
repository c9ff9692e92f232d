"""What the diver is told besides the answer. A row fires only on facts that are known, so knowing more never removes one."""

from dataclasses import dataclass

from bot.advice.sources import (
    AAUS_1992,
    CFR_197_326,
    EN_144_3,
    EPDM_NOTE,
    LATEX_HANDBOOK,
    NOAA_BLENDING,
    PRACTICE,
    TALC_LIMITS,
    TEXTBOOK_SUIT,
    Source,
)
from store.catalogue.facts import PartFacts
from store.catalogue.when import When, kinds
from store.vocabulary import Elastomer, Load, Motion
from store.vocabulary import PartKind as K


@dataclass(frozen=True, slots=True)
class Caution:
    id: str
    when: When
    text: str
    source: Source = PRACTICE
    on_card: str = ""
    """The same where no part stands before it; "" where `text` says it by itself."""


_ZIPS = kinds(K.ZIP, K.ZIP_DOCKING_END, K.ZIP_TEETH, K.ZIP_OUTER_ELEMENTS, K.ZIP_INNER_TEETH)

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "life_support", When(gas=True), "Life support: the maker's manual and a qualified technician decide."
    ),
    Caution(
        "neck_ring",
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC, upstream=True),
        "Nothing can close this ring off under water. A greased one can be squeezed out and empty the cylinder.",
        on_card="Cylinder neck: nothing can close its ring off under water. A greased one can be squeezed out and empty the cylinder.",
    ),
    Caution(
        "never_oil_in_gas",
        When(gas=True),
        "Never an oil, fat or silicone here: in compressed or oxygen-rich gas a wrong grease can burn.",
        AAUS_1992,
        "Where breathing gas touches: never an oil, fat or silicone. In compressed or oxygen-rich gas a wrong grease can burn.",
    ),
    Caution(
        "reach",
        When(kinds=kinds(K.O_RING), motion=Motion.DYNAMIC, gas=True),
        "Inside a regulator or a valve it is a technician's job.",
        on_card="Rings that move in gas: inside a regulator or a valve they are a technician's job.",
    ),
    Caution(
        "oxygen_over_22",
        When(gas=True, o2_over=0.22),
        "Over 22 % oxygen the lines differ: Europe asks for its own oxygen-clean gear from here, the US Navy cleans over 25 %, US diving law over 40 %.",
        EN_144_3,
    ),
    Caution(
        "oxygen_over_40",
        When(gas=True, o2_over=0.40),
        "Over 40 % oxygen: oxygen service by every authority. Only oxygen-cleaned parts, opened by a technician.",
        CFR_197_326,
    ),
    Caution(
        "pure_oxygen_fill",
        When(gas=True, pure_oxygen_fill=True),
        "Blended with pure oxygen: cylinder and valve saw 100 % and are in oxygen service whatever the final mix.",
        NOAA_BLENDING,
    ),
    Caution(
        "latex",
        When(elastomers=frozenset({Elastomer.NR})),
        "Never oil, petroleum jelly, grease, sunscreen or hand cream on latex.",
        LATEX_HANDBOOK,
    ),
    Caution(
        "epdm",
        When(elastomers=frozenset({Elastomer.EPDM})),
        "Never a petroleum product on EPDM rubber.",
        EPDM_NOTE,
    ),
    Caution(
        "glue",
        When(bonded=True),
        "Keep silicone away: it creeps, and no glue or patch holds there afterwards.",
        TEXTBOOK_SUIT,
        "Glued and sewn parts of the suit: keep silicone away. It creeps, and no glue or patch holds there afterwards.",
    ),
    Caution(
        "lubricant_on_lubricant",
        When(kinds=_ZIPS),
        "Never lubricant upon lubricant: brush first.",
        on_card="Zips: never lubricant upon lubricant. Brush first.",
    ),
    Caution(
        "powder_dust",
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.NR})),
        "Do not breathe the dust: powder in the open, upwind.",
        TALC_LIMITS,
        "Powder: do not breathe the dust. Powder in the open, upwind.",
    ),
    Caution(
        "flood",
        When(kinds=kinds(K.O_RING), loads=frozenset({Load.WATER})),
        "One hair across the ring floods it: look before every closing.",
        on_card="Rings that keep water out: one hair across the ring floods it. Look before every closing.",
    ),
    Caution(
        "battery_gas",
        When(kinds=kinds(K.CONTACT, K.BATTERY)),
        "A flooded battery can gas, burn or burst: keep it away from you and follow the maker.",
    ),
    Caution("sorbent", When(kinds=kinds(K.SORBENT)), "Sorbent is caustic: gloves, and keep it dry."),
)


def cautions(facts: PartFacts) -> tuple[Caution, ...]:
    """Return the cautions that these facts call for, gravest first."""
    return tuple(row for row in CAUTIONS if row.when.holds(facts))
