"""What people put on kit: the classes, never a brand, and what is chemically true of each."""

from dataclasses import dataclass
from enum import StrEnum

from store.vocabulary import Substance


class Base(StrEnum):
    """The stuff that does the lubricating (or cleaning)."""

    PFPE = "pfpe"
    SILICONE = "silicone"
    HYDROCARBON = "hydrocarbon"
    VEGETABLE = "vegetable"
    WAX = "wax"
    ZIP_WAX = "zip_wax"
    WATER = "water"
    POWDER = "powder"
    SOLVENT = "solvent"


class Trait(StrEnum):
    FILM = "film"
    """Leaves a film that stays."""
    BURNS = "burns"
    """Must not meet compressed or enriched breathing gas."""
    CREEPS = "creeps"
    """Soaks into cloth: no adhesive holds afterwards."""
    CLEANS = "cleans"
    """Used and rinsed off."""
    HARSH = "harsh"
    """Attacks plastics, coatings or rubber when left on or used neat."""


@dataclass(frozen=True, slots=True)
class Stuff:
    id: Substance
    name: str
    base: Base
    traits: frozenset[Trait]


def _stuff(substance: Substance, name: str, base: Base, *traits: Trait) -> tuple[Substance, Stuff]:
    return substance, Stuff(substance, name, base, frozenset(traits))


_S, _T, _B = Substance, Trait, Base

STUFF: dict[Substance, Stuff] = dict(
    (
        _stuff(_S.PFPE_GREASE, "oxygen-compatible PFPE grease", _B.PFPE, _T.FILM),
        _stuff(_S.PFPE_OIL, "oxygen-compatible PFPE oil", _B.PFPE, _T.FILM),
        _stuff(_S.SILICONE_GREASE, "silicone grease", _B.SILICONE, _T.FILM, _T.BURNS, _T.CREEPS),
        _stuff(_S.SILICONE_SPRAY, "silicone spray", _B.SILICONE, _T.FILM, _T.BURNS, _T.CREEPS),
        _stuff(_S.PETROLEUM_JELLY, "petroleum jelly", _B.HYDROCARBON, _T.FILM, _T.BURNS),
        _stuff(_S.ZIP_STICK, "soft zip stick (no paraffin, no silicone)", _B.ZIP_WAX, _T.FILM, _T.BURNS),
        _stuff(_S.ZIP_LIQUID, "fine liquid zip lubricant", _B.ZIP_WAX, _T.FILM, _T.BURNS),
        _stuff(_S.BEESWAX, "beeswax", _B.WAX, _T.FILM, _T.BURNS),
        _stuff(_S.PARAFFIN_WAX, "paraffin wax", _B.HYDROCARBON, _T.FILM, _T.BURNS),
        _stuff(_S.TALC, "unscented talc", _B.POWDER),
        _stuff(_S.SUIT_LUBRICANT, "water-based suit lubricant", _B.WATER, _T.CLEANS),
        _stuff(_S.SOAPY_WATER, "soapy water", _B.WATER, _T.CLEANS),
        _stuff(_S.BABY_OIL, "baby oil", _B.HYDROCARBON, _T.FILM, _T.BURNS),
        _stuff(_S.MINERAL_OIL, "mineral oil", _B.HYDROCARBON, _T.FILM, _T.BURNS),
        _stuff(_S.PENETRATING_OIL, "penetrating oil", _B.HYDROCARBON, _T.FILM, _T.BURNS, _T.HARSH),
        _stuff(_S.COOKING_OIL, "cooking oil or fat", _B.VEGETABLE, _T.FILM, _T.BURNS),
        _stuff(_S.SUNSCREEN, "sunscreen", _B.HYDROCARBON, _T.FILM, _T.BURNS, _T.HARSH),
        _stuff(_S.FRESH_WATER, "fresh water", _B.WATER, _T.CLEANS),
        _stuff(_S.WHITE_VINEGAR, "white vinegar", _B.WATER, _T.CLEANS, _T.HARSH),
        _stuff(_S.DISINFECTANT, "disinfectant", _B.WATER, _T.CLEANS),
        _stuff(_S.LITHIUM_GREASE, "mineral grease", _B.HYDROCARBON, _T.FILM, _T.BURNS),
        _stuff(_S.GRAPHITE, "graphite", _B.POWDER, _T.BURNS),
        _stuff(_S.SOLVENT, "organic solvent", _B.SOLVENT, _T.BURNS, _T.HARSH),
        _stuff(_S.TOOTHPASTE, "toothpaste", _B.WATER, _T.CLEANS, _T.HARSH),
        _stuff(_S.HAND_CREAM, "hand cream", _B.HYDROCARBON, _T.FILM, _T.BURNS),
    ),
)

OILY = frozenset({Base.HYDROCARBON, Base.VEGETABLE})


def is_hydrocarbon(substance: Substance) -> bool:
    """Tell whether the class counts as an oil or fat for the safety rules; waxes count too."""
    return STUFF[substance].base in OILY | {Base.WAX}


def is_silicone(substance: Substance) -> bool:
    """Tell whether the class is a silicone."""
    return STUFF[substance].base is Base.SILICONE


def names(substances: tuple[Substance, ...]) -> str:
    """Join names for a sentence, best first."""
    listed = [STUFF[s].name for s in substances]
    return listed[0] if len(listed) == 1 else ", ".join(listed[:-1]) + " or " + listed[-1] if listed else ""
