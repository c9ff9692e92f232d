"""Clauses that tell what befell kit: a mishap to record, or a substance that got where it should not be."""

import re

from bot.advice.question import About, PartRef, Question, Stated
from bot.advice.substances import STUFF, Trait
from bot.reading import values
from bot.reading.build_care import AHEAD, HAPPENED, TASKS, record, targets
from bot.reading.clauses import Clause, Span
from bot.reading.link import kind_of, mention_in, refs_of, substance_of
from bot.reading.scene import Scene
from bot.understand.intents import Ask, RecordCare
from bot.understand.message import Message
from store.vocabulary import Happening, ItemKind, Substance


def happened(clause: Clause, scene: Scene) -> RecordCare | Ask | None:
    """Return what befell kit: a mishap to record, or a substance that got where it should not be. None if nothing is named."""
    stuff = [(s, substance_of(s, scene)) for s in clause.of("stuff")]
    told = [s.id for s in clause.of("act") if s.id]
    items = [s for s in clause.of("item") if s.id != "all"]
    parts = list(clause.of("part"))
    if stuff and (not told or "contaminated" in told or not any(t in HAPPENED for t in told)):
        known = next((s for s in stuff if s[1] is not None), stuff[0])
        return got_on(known, items, parts, clause, scene)
    if any(t in TASKS for t in told):
        return record(clause, scene)  # what was done about it as well
    befell = [(s, _as_worded(s)) for s in clause.of("act") if s.id in HAPPENED]
    if not befell:
        return None
    on, _ = values.on_of(clause.of("when"), scene, AHEAD)
    whole: list[Span | None] = [*items] or [None]
    acts = [
        RecordCare(happened=_behind(item, befell), on=on).model_copy(update=row)
        for item in whole
        for row in targets([item] if item else [], parts[:1] if len(items) < 2 else [], clause, scene)
    ]
    return acts[0].model_copy(update={"also": tuple(acts[1:])}) if acts else None


_RUST = re.compile(r"\b(?:rust\w*|corro\w*|verdigris|green)\b", re.IGNORECASE)


def _as_worded(act: Span) -> Happening:
    """Return what befell, where its own word tells: rust is corrosion whatever it was taken for."""
    return Happening.CORRODED if _RUST.search(act.text) else HAPPENED[act.id or ""]


def _behind(item: Span | None, befell: list[tuple[Span, Happening]]) -> Happening:
    """Return what befell an item: what is told right behind it, else the first."""
    return next((what for act, what in befell if item is not None and act.start >= item.end), befell[0][1])


def tainted(at: tuple[PartRef, ...] | ItemKind, words: Message, clause: Clause) -> Ask:
    """Return that something that burns got on a part or an item in breathing gas."""
    burning = next(s for _, _, s in words.substances if Trait.BURNS in STUFF[s].traits)
    kind = at if isinstance(at, ItemKind) else next(iter(words.kinds), None)
    question = Question(
        about=About.CONTAMINATED,
        candidates=() if isinstance(at, ItemKind) else at,
        item=kind,
        substance=burning,
        happened=True,
        stated=_gas_of(words.plain),
    )
    return Ask(question=question, said=clause.text[-200:])


def _gas_of(said: str | None) -> Stated:
    """Return the gas by which one of several cylinders is told: "the oxygen stage"."""
    return Stated(o2_fraction=values.oxygen_of(said)) if said else Stated()


def got_on(
    stuff: tuple[Span, Substance | None], items: list[Span], parts: list[Span], clause: Clause, scene: Scene
) -> Ask | None:
    """Return that a substance got on a part; the handler notes what that takes out of oxygen service."""
    span, substance = stuff
    of = next((m for s in items if (m := mention_in(s, clause, scene))), None) or scene.item
    kind = next((k for s in items if (k := kind_of(s, scene))), None)
    if kind is None and of:
        kind = next(iter(scene.of(of).kinds), None)
    refs: tuple[PartRef, ...] = ()
    for part in parts:
        refs = refs_of(part, of, scene, kind)
        if refs:
            break
    if not refs and kind is None and not parts:
        return None
    question = Question(
        about=About.CONTAMINATED,
        candidates=refs,
        item=kind,
        substance=substance,
        happened=True,
        unknown_substance=None if substance else span.text[:40],
        stated=_gas_of(of),
    )
    said = f"{clause.text} ({of})" if of and of not in clause.text else clause.text
    return Ask(question=question, said=said[-200:])
