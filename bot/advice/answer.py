"""The answer to a question: verdict first, then reason, amount, preparation, cautions and sources."""

from dataclasses import dataclass, replace

from bot.advice.cautions import Caution, cautions
from bot.advice.change import what_would_change
from bot.advice.clarify import ask_fact, ask_part, ask_substance, ask_which, with_facts
from bot.advice.compatibility import Objection, objections, vetoed
from bot.advice.decide import avoid, decide, judge, with_manual
from bot.advice.model import Advice, Because, because_of
from bot.advice.question import About, PartRef, Question
from bot.advice.rings import ring_answer
from bot.advice.rules import ASKED, CLEANING, Rule, Verdict
from bot.advice.sources import OXYGEN_LINES, Status
from bot.advice.substances import names
from bot.advice.target import Target, targets
from bot.advice.temperature import by_temperature
from bot.advice.wording import (
    contaminated_line,
    headline,
    how_often_line,
    join_names,
    judged_line,
    shorten,
    upper_first,
)
from store.catalogue import CATALOGUE, ItemFacts, PartFacts
from store.vocabulary import PartKind, Substance

_GRAVITY = (
    Verdict.NO,
    Verdict.TECHNICIAN,
    Verdict.CLARIFY,
    Verdict.DEPENDS,
    Verdict.NONE,
    Verdict.USE,
    Verdict.YES,
)


def answer(question: Question, item: ItemFacts | None = None) -> Advice:  # noqa: PLR0911 - one a kind of question
    """Answer a question; `item` adds what the diver's own item is known to be. Never raises.

    Of several parts asked about at once the first is answered whole and each further one in a line.
    """
    if question.ring is not None:
        return ring_answer(question.ring)
    if question.rest:
        first = answer(question.model_copy(update={"rest": ()}), item)
        others = [answer(q, item) for q in question.rest]
        if question.substance is not None:  # one refusal outweighs every leave, also when "why" is asked
            first, *others = sorted((first, *others), key=lambda a: _GRAVITY.index(a.verdict))
        spoken = dict.fromkeys(c for a in (first, *others) for c in a.cautions)
        return replace(first, lines=(*(a.short for a in others), *first.lines), cautions=tuple(spoken))
    if (
        question.about in {About.CAN, About.CONTAMINATED}
        and question.substance is None
        and question.unknown_substance
    ):
        return ask_substance(question)
    found = targets(question, item)
    if found[0].ref is None and found[0].facts.kind is None:
        return _of_whole_item(question) or ask_part(question)
    outcomes = [(target, _outcome(question, target)) for target in found]
    missing = next((o for _, o in outcomes if isinstance(o, str)), None)
    if missing is not None:
        return _whatever_it_is(question, missing, found) or ask_fact(question, missing, found)
    ruled = [(target, outcome) for target, outcome in outcomes if isinstance(outcome, Rule)]
    if question.manual:  # what a manual cannot allow on one of the parts, it allows on none
        said = question.manual
        ruled = [(t, r) for t, r in ruled if any(vetoed(s, t.facts) for s in said)] or ruled
    if len({_distinct(question, t, r) for t, r in ruled}) > 1:
        return ask_which(question, ruled)
    return _advise(question, ruled)


def _outcome(question: Question, target: Target) -> Rule | str:
    """Decide, or say what to clean it with if that is the question."""
    if question.cleaning:
        cleaner = next((rule for rule in CLEANING if rule.when.holds(target.facts)), None)
        if cleaner is not None:
            return cleaner
    return decide(target.facts)


def _distinct(question: Question, target: Target, rule: Rule) -> object:
    """Return what must agree for several parts to share one answer."""
    if question.about is About.CAN and question.substance:
        return judge(question.substance, target.facts, rule)[0]
    if question.about is About.CONTAMINATED and question.substance:
        return contaminated_line(
            question.substance, target, rule, target.name, objections(question.substance, target.facts)
        )[0]
    return rule.verdict, rule.use


def _whatever_it_is(question: Question, missing: str, found: tuple[Target, ...]) -> Advice | None:
    """Answer a "can I" or a "what now" that comes out the same whichever way the missing fact lies; None otherwise."""
    if (
        question.about not in {About.CAN, About.CONTAMINATED}
        or question.substance is None
        or not found[0].ref
    ):
        return None
    told = [answer(with_facts(question, **{missing: value})) for _, value in ASKED[missing][1]]
    if len({a.verdict for a in told}) > 1 or told[0].verdict in {Verdict.CLARIFY, Verdict.DEPENDS}:
        return None
    facts = found[0].facts
    against = objections(question.substance, facts) or objections(question.substance, _filled(facts, missing))
    spoken = cautions(facts)
    return Advice(
        told[0].verdict,
        join_names([t.name for t in found]),
        told[0].short,
        use=told[0].use
        if told[0].verdict in {Verdict.USE, Verdict.YES} and len({a.use for a in told}) == 1
        else (),
        avoid=avoid(facts),
        lines=tuple(o.why for o in against[:1]),
        cautions=tuple(c.text for c in spoken),
        because=(*map(because_of, against[:1]), *map(because_of, spoken)),
    )


def _filled(facts: PartFacts, name: str) -> PartFacts:
    return replace(facts, **{name: ASKED[name][1][0][1]})  # type: ignore[arg-type]  # a column of PartFacts


def _of_whole_item(question: Question) -> Advice | None:
    """Answer about an item as a whole: what to clean it with, or a substance that is the same to all its seals."""
    if question.item is None:
        return None
    kind = CATALOGUE[question.item]
    if question.cleaning:
        parts = [p.facts(ItemFacts()) for p in kind.parts]
        facts = PartFacts(kind=PartKind.BODY, gas=any(p.gas for p in parts), loop=any(p.loop for p in parts))
        target = Target(kind.name, facts)
        rule = _outcome(question, target)
        return _advise(question, [(target, rule)]) if isinstance(rule, Rule) else None
    if question.substance is None or question.about not in {About.CAN, About.CONTAMINATED}:
        return None
    refs = tuple(
        PartRef(item=kind.kind, part=p.key)
        for p in kind.parts
        if p.kind in {PartKind.O_RING, PartKind.MOVING_SEALS}
    )
    asked = question.model_copy(update={"candidates": refs})
    ruled = [(t, r) for t in targets(asked) if isinstance(r := decide(t.facts), Rule)] if refs else []
    if not ruled or len({_distinct(question, t, r) for t, r in ruled}) > 1:
        return None
    told = _advise(question, ruled[:1], f"seals of the {kind.name}")
    if told.verdict is not Verdict.NO:
        return told
    reason = told.lines[:1]  # what goes on them instead differs from ring to ring
    return replace(
        told, use=(), lines=(*reason, "What does go on it depends on the part: ask for one by name.")
    )


def _advise(question: Question, ruled: list[tuple[Target, Rule]], called: str | None = None) -> Advice:
    target, rule = ruled[0]
    name = called or join_names([t.name for t, _ in ruled])
    veto: Objection | None = None
    if question.manual is not None:
        rule, veto = with_manual(rule, target.facts, question.manual)
    rule, warmed, measured = by_temperature(rule, target.facts)
    said = _verdict(question, target, rule, name)
    spoken = tuple(cautions(target.facts))
    because = [
        *measured,
        *said.because,
        because_of(rule, maker=question.manual is not None and veto is None),
        *map(because_of, spoken),
    ]
    lines = [*warmed, *said.lines]
    if veto is not None and question.manual:
        lines.insert(
            0,
            f"Your note says the maker's manual asks for {names(question.manual)}: that conflicts. {veto.why} Ask the maker or a technician before anything goes on it.",
        )
        because.insert(0, because_of(veto))
    return Advice(
        verdict=said.verdict,
        part=name,
        short=shorten(said.short),
        use=said.use if said.verdict in {Verdict.USE, Verdict.YES} else (),
        avoid=avoid(target.facts),
        lines=tuple(lines),
        cautions=tuple(c.text for c in spoken),
        because=tuple(dict.fromkeys(because)),
    )


@dataclass(frozen=True, slots=True)
class _Said:
    verdict: Verdict
    short: str
    use: tuple[Substance, ...]
    lines: tuple[str, ...]
    because: tuple[Because, ...] = ()


def _verdict(question: Question, target: Target, rule: Rule, name: str) -> _Said:  # noqa: PLR0911 - one a kind of question
    match question.about:
        case About.CAN if question.substance:
            return _judged(question.substance, target, rule, name, allowed=question.manual or ())
        case About.CONTAMINATED if question.substance:
            return _contaminated(question.substance, target, rule, name)
        case About.HOW_OFTEN:
            return _Said(
                rule.verdict,
                how_often_line(target, rule, name),
                rule.use,
                (headline(rule, name), *_reason(rule)),
            )
        case About.HOW_MUCH:
            if not rule.use:
                return _Said(
                    rule.verdict, f"{upper_first(name)}: none. It stays clean and dry.", (), _reason(rule)
                )
            much = rule.amount.value
            return _Said(
                rule.verdict,
                f"{upper_first(name)}: {much[0].lower()}{much[1:]}",
                rule.use,
                (headline(rule, name), *_reason(rule)),
            )
        case About.HOW:
            return _Said(rule.verdict, headline(rule, name), rule.use, (*_steps(rule), *_reason(rule)))
        case About.WHY:
            return _Said(
                rule.verdict, headline(rule, name), rule.use, (*_reason(rule), *_sources(target, rule))
            )
        case _ if question.weighed:
            return _weighed(question.weighed, target, rule, name)
        case _:
            return _Said(rule.verdict, headline(rule, name), rule.use, (*_reason(rule), *_steps(rule)))


def _judged(
    substance: Substance, target: Target, rule: Rule, name: str, allowed: tuple[Substance, ...]
) -> _Said:
    verdict, objection = judge(substance, target.facts, rule)
    if (
        substance in allowed
        and vetoed(substance, target.facts) is None
        and rule.verdict is not Verdict.TECHNICIAN
    ):
        verdict, objection = Verdict.YES, None
    lines: tuple[str, ...] = (
        *((objection.why,) if objection else ()),
        f"What goes on it: {headline(rule, name)}",
        *_reason(rule),
    )
    because = (because_of(objection),) if objection else ()
    if verdict is Verdict.YES:
        lines = (*_reason(rule), *_steps(rule))
    use = (substance,) if verdict is Verdict.YES else rule.use if rule.verdict is Verdict.USE else ()
    return _Said(verdict, judged_line(verdict, substance, name), use, lines, because)


def _weighed(weighed: tuple[Substance, ...], target: Target, rule: Rule, name: str) -> _Said:
    """Pick from substances set against each other; none of them may be the answer."""
    suits = tuple(s for s in weighed if judge(s, target.facts, rule)[0] is Verdict.YES)
    if not suits and all(judge(s, target.facts, rule)[0] is Verdict.NO for s in weighed):
        said = _judged(weighed[0], target, rule, name, ())
        return _Said(Verdict.NO, f"None of these on the {name}.", said.use, said.lines, said.because)
    use = suits if rule.verdict is Verdict.USE and suits else rule.use
    first = (
        f"{upper_first(name)}: {names(use[:1])}."
        if suits and rule.verdict is Verdict.USE
        else headline(rule, name)
    )
    return _Said(rule.verdict, first, use, (*_reason(rule), *_steps(rule)))


def _contaminated(substance: Substance, target: Target, rule: Rule, name: str) -> _Said:
    against = objections(substance, target.facts)
    verdict, short, lines, use = contaminated_line(substance, target, rule, name, against)
    return _Said(verdict, short, use, lines, tuple(map(because_of, against[:1])))


def _reason(rule: Rule) -> tuple[str, ...]:
    return (f"{rule.why}",)


def _steps(rule: Rule) -> tuple[str, ...]:
    amount = (f"How much: {rule.amount.value}",) if rule.use and rule.verdict is Verdict.USE else ()
    return (*(f"{n}. {step.value}" for n, step in enumerate(rule.steps, 1)), *amount)


def _sources(target: Target, rule: Rule) -> tuple[str, ...]:
    spoken: list[Rule | Caution] = [rule, *cautions(target.facts)]
    return (
        "Says who:",
        *(f"- {row.id}: {row.source}" for row in spoken),
        *_oxygen_lines(target.facts),
        *what_would_change(target.facts, rule),
        "The maker's manual of your item goes before all of this.",
    )


def _oxygen_lines(facts: PartFacts) -> tuple[str, ...]:
    """Show who draws which line in oxygen content, with what applies to the fraction that is known."""
    if not facts.gas:
        return ()
    known = facts.o2_fraction
    told = [
        f"- over {line.over * 100:g} %: {line.who}{' (second-hand)' if line.status is Status.SECOND_HAND else ''}, {line.what}"
        f"{'' if known is None else ': applies' if known > line.over else ': does not apply'}"
        for line in OXYGEN_LINES
    ]
    return ("Oxygen lines" + (f", at {known * 100:g} %:" if known else ":"), *told)
