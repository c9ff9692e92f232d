"""Who says so. Each rule names one of these; only what was read may be shown as sourced."""

from dataclasses import dataclass
from enum import StrEnum


class Authority(StrEnum):
    """The order of authority, highest first."""

    MAKER = "maker"
    PUBLISHED = "published"
    PRACTICE = "practice"


class Status(StrEnum):
    """How well the source is known: `seen` its words were read, `second_hand` somebody else's statement of them was."""

    SEEN = "seen"
    SECOND_HAND = "second_hand"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Source:
    name: str
    authority: Authority
    status: Status

    def __str__(self) -> str:
        """Name the source for people, with its status where that is weaker than seen."""
        return f"{self.name} (second-hand)" if self.status is Status.SECOND_HAND else self.name


def _seen(name: str) -> Source:
    return Source(name, Authority.PUBLISHED, Status.SEEN)


def _second_hand(name: str) -> Source:
    return Source(name, Authority.PUBLISHED, Status.SECOND_HAND)


PRACTICE = Source("common practice, no source", Authority.PRACTICE, Status.NONE)
MAKER = Source("the maker's manual, as you recorded it", Authority.MAKER, Status.NONE)

EN_144_3 = _seen(
    "EN 144-3:2003 (over 22 %); 46 CFR 197.326(a) (over 40 %); MIL-STD-1330 by the US Navy Diving Manual (over 25 %, second-hand)"
)
CFR_197_326 = _seen("46 CFR 197.326(a), US Coast Guard, commercial diving, over 40 % oxygen")
NOAA_BLENDING = _second_hand(
    "NOAA Diving Manual 15.11.4: partial-pressure fills need cleaned cylinder and valve"
)
AAUS_1992 = _seen(
    "Butler, Mastro, Hulbert, Hamilton: Oxygen safety in the production of enriched air, AAUS 1992"
)
DRUG_LABEL = _seen("US federal drug labels for oxygen cylinders: valves and fittings free of grease and oil")
RUBBER_TABLE = _seen("Molded Dimensions, Chemical Resistance Properties")
EPDM_NOTE = _seen("encyclopedia article 'O-ring': EPDM unsuitable for mineral oil products")
LATEX_1989 = _seen("Voeller et al., Contraception 1989: mineral oil lubricants and latex")
LATEX_1999 = _seen("Rosen and Rosen, South Med J 1999;92(3):305-307: oils and latex film")
LATEX_HANDBOOK = _seen("Family Planning: A Global Handbook, lubricants for latex")
SILICONE_ON_SILICONE = _seen(
    "trade magazine page: silicone oil may partly dissolve a silicone gasket; another page says the opposite"
)
TEXTBOOK_SUIT = _seen(
    "textbook page on diving equipment: no silicone on suit or zip, patches will not bond; paraffin on the outside only"
)
TALC_LIMITS = _seen("Haz-Map, talc: NIOSH REL 2 mg/m3")
CONTAMINATED = _seen(
    "US Navy Supervisor of Salvage, June 2011: potable water is first and last step of decontamination"
)


@dataclass(frozen=True, slots=True)
class OxygenLine:
    """Who draws a line in oxygen content, and for what. `over` is exclusive."""

    over: float
    who: str
    what: str
    status: Status


OXYGEN_LINES: tuple[OxygenLine, ...] = (
    OxygenLine(0.21, "NFPA 53", "oxygen-enriched in general", Status.SECOND_HAND),
    OxygenLine(
        0.22, "EN 144-3:2003 and EN 13949:2003", "separate, oxygen-clean equipment in Europe", Status.SEEN
    ),
    OxygenLine(0.235, "US gas-industry codes", "oxygen-enriched", Status.SECOND_HAND),
    OxygenLine(0.25, "MIL-STD-1330 by the US Navy Diving Manual", "clean for oxygen", Status.SECOND_HAND),
    OxygenLine(0.40, "46 CFR 197.326(a), US Coast Guard", "designed for oxygen", Status.SEEN),
)
"""Different lines for different things; they do not contradict each other."""
