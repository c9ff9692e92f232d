"""The way of a message through the rooms: text to clauses, each to what it means, together to one intent."""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from bot.advice.question import About
from bot.reading import (
    build_care,
    build_dive,
    build_fact,
    build_fix,
    build_kit,
    build_manual,
    build_mishap,
    build_other,
    build_share,
    build_trip,
    build_wish,
    choose,
    gates,
    leftover,
)
from bot.reading.borders import clauses_of
from bot.reading.build_fix import puts_right_a_figure
from bot.reading.clauses import Clause
from bot.reading.clean import one_line
from bot.reading.encoder import Encoder
from bot.reading.link import mention_in, refs_of, whole_parts
from bot.reading.scene import Scene
from bot.understand.intents import (
    Ask,
    ForgetMe,
    Help,
    Intent,
    LogDive,
    Misunderstood,
    RecordCare,
    RetireItem,
    Several,
    Undo,
)
from bot.understand.kit import only_a_part
from bot.understand.quantities import SenselessError
from store.catalogue import CATALOGUE
from store.vocabulary import Task


@dataclass(frozen=True)
class Reading:
    """What a message was read as. `intent` None: nothing of it could be made out."""

    intent: Intent | None
    clauses: tuple[Clause, ...] = ()
    lacking: tuple[Misunderstood, ...] = ()
    """Questions for clauses whose kind is plain and that name too little."""
    unused: tuple[str, ...] = ()
    """Figures that were said and not used."""

    @property
    def sure(self) -> float:
        """Return how sure the least sure clause is, from 0 to 1."""
        return min((c.sure for c in self.clauses), default=0.0)


BY_PATTERN = frozenset("manual trip fix_trip drop_trip snooze wish word share forget undo fact".split())
"""Kinds whose readers find figures by themselves, whatever the spans say."""

Builder = Callable[[Clause, Scene], Intent | None]
_BUILDERS: dict[str, Builder] = {
    "dive": build_dive.log,
    "fix_dive": build_fix.correct,
    "drop_dive": build_fix.remove,
    "kit": build_kit.add,
    "fact": build_fact.change,
    "gone": build_kit.retire,
    "care": build_care.record,
    "mishap": build_mishap.happened,
    "manual": build_manual.manual,
    "trip": build_trip.trip,
    "fix_trip": build_trip.fix_trip,
    "drop_trip": build_trip.drop_trip,
    "snooze": build_other.snooze,
    "wish": build_wish.wish,
    "word": build_wish.word,
    "share": build_share.share,
    "forget": lambda _c, _s: ForgetMe(),
    "undo": lambda _c, _s: Undo(),
    "due": build_other.due,
    "why": build_other.why,
    "history": build_other.history,
    "show_kit": build_other.show_kit,
    "show_dives": build_other.show_dives,
    "show_trip": build_trip.show_trip,
    "board": build_other.board,
    "paper": build_other.paper,
    "export": build_other.export,
    "help": lambda _c, _s: Help(),
    "chat": build_other.chat,
    "other": build_other.other,
}
"""Which function makes which kind of clause into an intent; `ask` stands apart, since it carries the last question on."""


def read(raw: str, scene: Scene, encoder: Encoder, context: str, last: Intent | None) -> Reading:
    """Read a message."""
    scene = replace(scene, about=context)
    clauses = clauses_of(one_line(raw), encoder, context)
    intents: list[Intent] = []
    lacking: list[Misunderstood] = []
    for clause in clauses:
        try:
            made = of_clause(clause, scene, last)
        except SenselessError as said:  # the rest of the message still counts
            made = Misunderstood(problem=str(said))
        if made is None:
            lacking += [asks] if (asks := choose.lacking(clause)) else []
            continue
        intents.append(made)
        scene = _after(clause, scene)
        last = made if isinstance(made, Ask) else last
    if (told := _across(clauses, intents, scene)) is not None:
        intents.append(told)
    if not intents:
        return Reading(None, clauses, tuple(lacking))
    return Reading(
        choose.together(intents),
        clauses,
        tuple(lacking),
        (*leftover.unused(clauses, BY_PATTERN), *leftover.beyond(clauses, one_line(raw))),
    )


def of_clause(clause: Clause, scene: Scene, last: Intent | None) -> Intent | None:  # noqa: PLR0911 - a rule each
    """Return what a clause means: an intent, why nothing is noted, or the question what was meant. None if it cannot be made out."""
    clause = _as_care(_of_the_entry(whole_parts(clause, scene), scene), scene)
    good_again = clause.text.rstrip().endswith("?") and _is_tainted(last)
    if good_again and (carried := build_other.ask(clause, scene, last)) is not None:
        return carried
    if gates.is_asked(clause):
        return build("ask", clause, scene, last) or build(clause.other, clause, scene, last)
    if (refused := gates.refused(clause)) is not None:
        return refused
    made = build(clause.kind, clause, scene, last)
    if (told := _taint(clause, scene)) is not None:
        if _keeps_taint(made, clause):
            return made
        beside = made is not None and choose.is_sure(clause) and clause.kind in _TOLD_BESIDE
        return Several(of=(made, told)) if beside and made is not None else told
    takes_back = scene.about == "dive" and {clause.kind, clause.other} == {"drop_dive", "undo"}
    if choose.is_sure(clause) or choose.takes_out(clause, made) or (takes_back and made is not None):
        return made
    second = build(clause.other, clause, scene, last) if clause.other in choose.LABELS else None
    both = [
        (clause, kind, i)
        for kind, i in ((clause.kind, made), (clause.other, second))
        if i is not None and kind in choose.LABELS
    ]
    return choose.asked(both) if both else made


def _as_care(clause: Clause, scene: Scene) -> Clause:
    """Return an unsure clause on a substance as care where no breathing gas is near: "and the zip got beeswax"."""
    unsure = {clause.kind, clause.other} == {"mishap", "care"} and not choose.is_sure(clause)
    if not unsure or not clause.of("stuff") or not clause.of("part") or "contaminated" in clause.ids("act"):
        return clause
    refs = [r for p in clause.of("part") for r in refs_of(p, scene.item, scene)]
    if not refs or any(CATALOGUE[r.item].part(r.part).gas for r in refs):
        return clause
    return replace(clause, kind="care", other="mishap", sure=max(clause.sure, choose.SURE_TO_ACT))


_OWN_FIGURES = frozenset({"n", "depth", "time", "when"})


def _is_tainted(last: Intent | None) -> bool:
    """Tell whether the last question was about something that got where it should not be."""
    return isinstance(last, Ask) and last.question.about is About.CONTAMINATED


_DELETES = re.compile(r"\b(?:delete|erase|remove|scrap|take out)\b", re.IGNORECASE)
_FORGOTTEN = re.compile(
    r"\b(?:forgot|missed|left out|omitted)\b(?: to \w+)?(?: \w+)? (?:another|second|third|2nd|3rd|one more|a|one) (?:\w+ )?(?:dive|one|dip)\b",
    re.IGNORECASE,
)
_NOT_SO_MANY = re.compile(
    r"\b(?:\d|one|two|three|four|five|six) (?:dives?|dips?),? (?:and )?not (?:\d|one|two|three|four|five|six)\b(?! (?:m|ft|metres|meters|feet)\b)",
    re.IGNORECASE,
)
_WAS_ONLY = re.compile(
    r"\b(?:was|were|is|it's) (?:only|just|actually|really) (?:\w+) (?:dives?|dips?)\b|\bdives? (?:was|were)\b.*\bnot\b",
    re.IGNORECASE,
)


def _of_the_entry(clause: Clause, scene: Scene) -> Clause:
    """Return a clause on dives as one that puts the last entry right, where it tells of no dive of its own right after one was logged."""
    slots = {s.slot for s in clause.spans}
    if clause.kind == "dive" and _WAS_ONLY.search(clause.text):
        return replace(clause, kind="fix_dive", other="dive")
    if clause.kind == "dive" and clause.other == "drop_dive" and _DELETES.search(clause.text):
        return replace(clause, kind="drop_dive", other="dive", flags=clause.flags - {"not"})
    if clause.kind == "fix_dive" and _FORGOTTEN.search(clause.text) and slots & {"depth", "time"}:
        return replace(clause, kind="dive", other="fix_dive", sure=max(clause.sure, choose.SURE_TO_ACT))
    if clause.kind == "dive" and (puts_right_a_figure(clause.text) or _NOT_SO_MANY.search(clause.text)):
        return replace(clause, kind="fix_dive", other="dive")
    either = {clause.kind, clause.other} == {"dive", "fix_dive"} and not choose.is_sure(clause)
    if (
        scene.about == "dive"
        and (either or clause.kind == "dive")
        and slots
        and not slots & ({"n", "when"} if either else _OWN_FIGURES)
    ):
        return replace(clause, kind="fix_dive", other="dive", sure=max(clause.sure, choose.SURE_TO_ACT))
    return clause


_TOLD_BESIDE = frozenset({"dive", "fix_dive", "care"})


def _across(clauses: Sequence[Clause], intents: Sequence[Intent], scene: Scene) -> Ask | None:
    """Return a taint that is told across a border of clauses, where none of them told it."""
    tells = any(
        isinstance(i, Several | RecordCare) or (isinstance(i, Ask) and i.question.happened) for i in intents
    )
    if (
        tells
        or len(clauses) < _MORE_THAN_ONE
        or any(c.flags & {"not", "will", "if", "they"} for c in clauses)
    ):
        return None
    text = scene.message.raw
    return _taint(Clause("mishap", text, 0, len(text)), scene)


_MORE_THAN_ONE = 2
_OTHERS_DO = re.compile(
    r"\W*(?:(?:and|so|but|well)\W+)*(?:my|our|the|a|some) (?:\w+ )?(?:cousin|brother|sister|friend|buddy|mate|father|dad|uncle|wife|husband|guy|neighbou?r|instructor|colleague)s? (?:puts?|uses?|does|always|greases?|sprays|rubs)\b(?!.*\bmy\b)",
    re.IGNORECASE,
)


def _taint(clause: Clause, scene: Scene) -> Ask | None:
    """Return that something that burns got on a part in breathing gas, if a clause tells that."""
    words = build_other.in_words(clause, scene)
    if "they" in clause.flags and _OTHERS_DO.match(clause.text):
        return None
    at = gates.taint(clause, words)
    return build_mishap.tainted(at, words, clause) if at is not None else None


def _keeps_taint(made: Intent | None, clause: Clause) -> bool:
    """Tell whether what was made of a clause says so itself: as a mishap, or as care that its handler marks."""
    if isinstance(made, RecordCare):
        return choose.is_sure(clause) and any(
            a.task is Task.LUBRICATE and a.substance for a in (made, *made.also)
        )
    return isinstance(made, Ask) and made.question.happened and bool(made.question.candidates)


def build(kind: str, clause: Clause, scene: Scene, last: Intent | None) -> Intent | None:
    """Return a clause as an intent of that kind, None if what it needs is not said."""
    if kind == "ask":
        return build_other.ask(clause, scene, last)
    builder = _BUILDERS.get(kind)
    made = builder(clause, scene) if builder else None
    if isinstance(made, LogDive) and made == LogDive(corrects=True):
        return None  # it says of nothing what it was
    if isinstance(made, RetireItem) and (
        made.item is None
        or _TAKEN_OFF.search(clause.text)
        or clause.of("part")
        or (clause.sure < choose.VERY_SURE and only_a_part(scene.of(clause.text), made.item))
    ):
        return None
    return made


_TAKEN_OFF = re.compile(r"\b(?:after|before|between) (?:the|each|every|a) (?:dive|dives)\b", re.IGNORECASE)
"""Kit that is taken off after the dive has not left."""


def _after(clause: Clause, scene: Scene) -> Scene:
    """Return the scene for the next clause, which may speak of "it"."""
    items = [
        m for s in clause.of("item") if s.id not in {"all", "it"} and (m := mention_in(s, clause, scene))
    ]
    parts = clause.of("part")
    return scene.after(items, parts[-1].text if parts else None)
