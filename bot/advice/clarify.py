"""What is asked back, and the choices that complete the question."""

from bot.advice.cautions import cautions
from bot.advice.model import Advice, Choice
from bot.advice.question import PartRef, Question
from bot.advice.rules import ASKED, Rule, Verdict
from bot.advice.substances import STUFF
from bot.advice.target import Target
from bot.advice.wording import join_names, shorten
from store.catalogue import CATALOGUE
from store.vocabulary import PartKind, Substance


def _clarify(short: str, choices: list[Choice], part: str | None = None) -> Advice:
    return Advice(Verdict.CLARIFY, part, shorten(short), choices=tuple(choices))


def with_facts(question: Question, **facts: object) -> Question:
    """Complete a question by facts."""
    return question.model_copy(update={"stated": question.stated.model_copy(update=facts)})


def ask_fact(question: Question, name: str, found: tuple[Target, ...]) -> Advice:
    """Ask for the one fact that the answer hinges on."""
    asked, options = ASKED[name]
    spoken = tuple(dict.fromkeys(c.text for t in found for c in cautions(t.facts)))
    choices = tuple(Choice(label, with_facts(question, **{name: value})) for label, value in options)
    return Advice(
        Verdict.CLARIFY,
        join_names([t.name for t in found]),
        shorten(asked),
        choices=choices,
        cautions=spoken,
        lines=("The answer hinges on it.",),
    )


def ask_which(question: Question, ruled: list[tuple[Target, Rule]]) -> Advice:
    """Ask which part is meant; where the parts lie on several items, ask for the item first."""
    items = list(dict.fromkeys(t.ref.item for t, _ in ruled if t.ref))
    if len(items) > 1 and len(ruled) > 4:
        by_item = [
            Choice(
                CATALOGUE[item].name,
                question.model_copy(
                    update={
                        "item": item,
                        "candidates": tuple(t.ref for t, _ in ruled if t.ref and t.ref.item == item),
                    }
                ),
            )
            for item in items
        ]
        return _clarify("On which piece of kit?", by_item)
    by_part: dict[str, list[PartRef]] = {}
    for target, _ in ruled:
        if target.ref:
            by_part.setdefault(target.name, []).append(target.ref)
    choices = [
        Choice(name, question.model_copy(update={"candidates": tuple(refs)}))
        for name, refs in by_part.items()
    ]
    return _clarify("Which one? They are not treated alike.", choices)


def ask_part(question: Question) -> Advice:
    """Ask which part is meant, of the item named or of none."""
    asked, options = ASKED["kind"]
    if question.item is not None:
        kind = CATALOGUE[question.item]
        parts = [p for p in kind.parts if p.kind not in _SELDOM_ASKED and p.care]
        choices = [
            Choice(p.name, question.model_copy(update={"candidates": (PartRef(item=kind.kind, part=p.key),)}))
            for p in parts
        ]
        return _clarify(f"Which part of the {kind.name}?", choices, kind.name)
    return _clarify(
        f"Which part do you mean? {asked}",
        [Choice(label, with_facts(question, kind=value)) for label, value in options],
    )


_SELDOM_ASKED = {PartKind.SHELL, PartKind.FABRIC, PartKind.HOSE, PartKind.BODY, PartKind.LENS, PartKind.METAL}
_LABEL_CLASSES = (
    Substance.PFPE_GREASE,
    Substance.SILICONE_GREASE,
    Substance.PETROLEUM_JELLY,
    Substance.ZIP_STICK,
    Substance.SUIT_LUBRICANT,
)


def ask_substance(question: Question) -> Advice:
    """Ask what an unknown tube is made of."""
    choices = [Choice(STUFF[s].name, replace_substance(question, s)) for s in _LABEL_CLASSES]
    return _clarify("I know classes, not names on tubes. What does the label say it is made of?", choices)


def replace_substance(question: Question, substance: Substance) -> Question:
    """Complete a question about an unknown tube with the class its label names."""
    return question.model_copy(
        update={"substance": substance, "learned": question.unknown_substance, "unknown_substance": None}
    )
