"""What would change a verdict: each fact turned the other way, and what the rules would say then."""

from dataclasses import replace

from bot.advice.decide import decide
from bot.advice.rules import Rule, Verdict
from bot.advice.substances import names
from store.catalogue.facts import PartFacts
from store.vocabulary import Elastomer, Motion, OpenedBy, PartKind, ZipMaterial

_RINGS = frozenset({PartKind.O_RING, PartKind.MOVING_SEALS})
_ZIPS = frozenset({PartKind.ZIP})
_TURNED: tuple[tuple[frozenset[PartKind], str, object, str], ...] = (
    (_RINGS, "motion", Motion.STATIC, "if it stayed still"),
    (_RINGS, "motion", Motion.DYNAMIC, "if it turned or slid"),
    (_RINGS, "gas", True, "if breathing gas touched it"),
    (_RINGS, "gas", False, "if no breathing gas touched it"),
    (_RINGS, "opened_by", OpenedBy.TECHNICIAN, "if it sat inside a regulator or valve"),
    (_RINGS, "elastomer", Elastomer.VMQ, "if the ring were silicone rubber"),
    (_RINGS, "bonded", True, "if something glued were next to it"),
    (_ZIPS, "zip_material", ZipMaterial.PLASTIC, "if the teeth were plastic"),
    (_ZIPS, "zip_material", ZipMaterial.METAL, "if the teeth were metal"),
    (frozenset({PartKind.BODY_SEAL}), "elastomer", Elastomer.NR, "if the seals were latex"),
    (frozenset({PartKind.BODY_SEAL}), "elastomer", Elastomer.VMQ, "if the seals were silicone"),
    (frozenset({PartKind.BODY_SEAL}), "elastomer", Elastomer.CR, "if the seals were neoprene"),
)


def what_would_change(facts: PartFacts, rule: Rule) -> tuple[str, ...]:
    """Return a line for each single fact that would give another verdict, "" lines left out; none changes: nothing."""
    told = []
    for kinds, name, value, words in _TURNED:
        if facts.kind not in kinds or getattr(facts, name) == value:
            continue
        other = decide(replace(facts, **{name: value}))  # type: ignore[arg-type]  # a column of PartFacts
        if isinstance(other, Rule) and (other.verdict, other.use) != (rule.verdict, rule.use):
            told.append(f"- {words}: {_briefly(other)}")
    return ("It would change:", *told) if told else ()


def _briefly(rule: Rule) -> str:
    if rule.verdict is Verdict.TECHNICIAN:
        return "a technician's job"
    return names(rule.use) if rule.use else "nothing on it"
