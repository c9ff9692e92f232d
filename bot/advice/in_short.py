"""What goes on a part in a few words, for a card: the same rules and manuals as the long answer."""

from dataclasses import dataclass

from bot.advice.decide import avoid, decide, with_manual
from bot.advice.rules import ASKED, Rule, Verdict
from bot.advice.substances import STUFF, Trait, names
from store.catalogue.facts import PartFacts
from store.vocabulary import Substance

NOTHING = "nothing: clean and dry"
TECHNICIAN = "technician only"
_S = Substance
_LUBRICANTS = frozenset({_S.PFPE_GREASE, _S.SILICONE_GREASE, _S.PETROLEUM_JELLY, _S.MINERAL_OIL, _S.BEESWAX})
"""Whatever forbids these forbids all lubricants."""
_FAMILIES = (
    ("oil, fat, wax", frozenset({_S.MINERAL_OIL, _S.COOKING_OIL, _S.BEESWAX})),
    ("petroleum jelly", frozenset({_S.PETROLEUM_JELLY})),
    ("silicone", frozenset({_S.SILICONE_GREASE})),
    ("powder", frozenset({_S.TALC})),
    ("solvent", frozenset({_S.SOLVENT})),
    ("penetrating oil", frozenset({_S.PENETRATING_OIL})),
    ("sunscreen", frozenset({_S.SUNSCREEN})),
)
_MOST = 3
_CHOICES = 2


@dataclass(frozen=True, slots=True)
class InShort:
    """An answer for a card. `bare`: nothing goes on it. `harmless`: and no lubricant is known to harm it."""

    put: str
    bare: bool
    how_much: str
    never: str
    harmless: bool = False


def in_short(facts: PartFacts, manual: tuple[Substance, ...] | None) -> InShort:
    """Answer for a part; `manual`: what its maker's manual says goes on it, None if that is silent."""
    rule = decide(facts)
    never = _never(avoid(facts), used=isinstance(rule, Rule) and _films(rule.use))
    if not isinstance(rule, Rule):
        return InShort(f"ask first: {ASKED[rule][0].rstrip('?').lower()}?", False, "", never)
    veto = None
    if manual is not None:
        rule, veto = with_manual(rule, facts, manual)
    if rule.verdict is Verdict.TECHNICIAN:
        return InShort(TECHNICIAN, False, "", never)
    conflict = (
        " (the manual says otherwise: ask its maker)" if veto else "" if manual is None else " (its manual)"
    )
    if not rule.use:
        harmless = not manual and not facts.gas and not _LUBRICANTS & set(avoid(facts))
        return InShort(f"{NOTHING}{conflict}", True, "", never, harmless)
    return InShort(f"{names(rule.use[:_CHOICES])}{conflict}", False, _amount(rule), never)


def _films(use: tuple[Substance, ...]) -> bool:
    return any(Trait.FILM in STUFF[s].traits for s in use)


def _amount(rule: Rule) -> str:
    """Return how much as a few words: what stands before the first pause of the sentence."""
    return rule.amount.value.partition(". ")[0].partition(":")[0].partition(";")[0].rstrip(".")


def _never(against: tuple[Substance, ...], *, used: bool) -> str:
    """Name what must not go on it by families, the gravest first; "" if nothing is known to harm it."""
    said = set(against)
    if said >= _LUBRICANTS:
        return "any other lubricant" if used else "any lubricant"
    families = [name for name, members in _FAMILIES if members <= said]
    if families[:1] == ["oil, fat, wax"] and "petroleum jelly" in families:
        families.remove("petroleum jelly")  # an oil too
    told = ", ".join(families[:_MOST])
    return f"other {told}" if used and told.startswith("oil") else told  # the right one may be an oil
