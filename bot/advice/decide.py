"""From facts to a rule, or to the one fact that is missing. Pure, total: every combination of facts has an outcome."""

from dataclasses import replace
from functools import lru_cache

from bot.advice.compatibility import SUITS_IF_MAKER_ASKS, Objection, objections, vetoed
from bot.advice.rules import ASKABLE, ASKED, RULES, Rule, Verdict
from bot.advice.substances import STUFF, Trait
from store.catalogue.facts import PartFacts
from store.vocabulary import Substance


@lru_cache(maxsize=8192)
def decide(facts: PartFacts) -> Rule | str:
    """Return the rule that says what goes on a part of these facts, or the name of the fact to ask for.

    A missing fact is asked only where the answer hinges on it.
    """
    if facts.kind is None:
        return "kind"
    askable = ASKABLE.get(facts.kind, ())
    for rule in RULES:
        missing = rule.when.unknown(facts)
        if missing is None or any(name not in askable for name in missing):
            continue
        if not missing:
            return _safe(rule, facts)
        outcomes = [decide(_with(facts, missing[0], value)) for _, value in ASKED[missing[0]][1]]
        agreed = {(o.verdict, o.use) if isinstance(o, Rule) else o for o in outcomes}
        return outcomes[-1] if len(agreed) == 1 else missing[0]
    raise AssertionError("the last rule applies to everything")


def _safe(rule: Rule, facts: PartFacts) -> Rule:
    """Drop what a safety row forbids on these very facts; a rule left with nothing gives way to "nothing on it"."""
    left = tuple(s for s in rule.use if vetoed(s, facts) is None)
    if left == rule.use:
        return rule
    return replace(rule, use=left, headline="") if left else RULES[-1]


def _with(facts: PartFacts, name: str, value: object) -> PartFacts:
    return replace(facts, **{name: value})  # type: ignore[arg-type]  # a column of PartFacts


def judge(substance: Substance, facts: PartFacts, rule: Rule) -> tuple[Verdict, Objection | None]:
    """Answer "can I put this on it" for a part whose rule is known: the verdict, and the row that objects if one does."""
    against = objections(substance, facts)
    if against:
        return against[0].verdict, against[0]
    if substance in rule.use:
        return (Verdict.TECHNICIAN if rule.verdict is Verdict.TECHNICIAN else Verdict.YES), None
    return _unlisted(substance, facts, rule), None


def _unlisted(substance: Substance, facts: PartFacts, rule: Rule) -> Verdict:
    traits = STUFF[substance].traits
    if substance is Substance.FRESH_WATER or (Trait.CLEANS in traits and substance is Substance.SOAPY_WATER):
        return Verdict.YES
    if Trait.CLEANS in traits:
        return Verdict.DEPENDS
    if any(when.holds(facts) and substance in fits for when, fits in SUITS_IF_MAKER_ASKS):
        return Verdict.DEPENDS
    if rule.verdict is Verdict.TECHNICIAN:
        return Verdict.TECHNICIAN
    if {STUFF[substance].base} & {STUFF[s].base for s in rule.use}:
        return Verdict.DEPENDS
    return Verdict.NO


def with_manual(rule: Rule, facts: PartFacts, manual: tuple[Substance, ...]) -> tuple[Rule, Objection | None]:
    """Let the maker's instruction overrule our rule, unless a safety row forbids it; return the rule and that row.

    An empty instruction means "nothing on it". A veto leaves our rule as it was.
    """
    veto = next((row for s in manual if (row := vetoed(s, facts))), None)
    if veto or rule.verdict is Verdict.TECHNICIAN:
        return rule, veto
    verdict = Verdict.USE if manual else Verdict.NONE
    return replace(rule, verdict=verdict, use=manual, headline=""), None


def avoid(facts: PartFacts) -> tuple[Substance, ...]:
    """Return the classes that must not go on a part of these facts, in the order of the vocabulary."""
    return tuple(s for s in Substance if objections(s, facts))
