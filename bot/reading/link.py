"""Spans to kit of this diver, and to kinds, substances and parts of the catalogue. The diver's own names go first."""

import re
from dataclasses import replace

from bot.advice.question import PartRef
from bot.advice.substances import STUFF
from bot.reading.clauses import Clause, Span
from bot.reading.scene import Scene
from bot.understand.care import read_refs
from bot.understand.names import names_in
from store.catalogue import CATALOGUE
from store.vocabulary import ItemKind, Substance

_KINDS = {k.value: k for k in ItemKind}
_SUBSTANCES = {s.value: s for s in Substance}
_SURE, _SURER = 0.67, 0.9
"""From which chance on the learned kind goes before the words of the catalogue."""


def kind_of(span: Span, scene: Scene) -> ItemKind | None:
    """Return the kind of kit that a span names, None if it names none that is known."""
    learned = _KINDS.get(span.id or "")
    named = scene.of(span.text).kinds
    if learned in named or (learned is not None and span.sure >= (_SURER if named else _SURE)):
        return learned
    return named[0] if named else None


def mention(span: Span, scene: Scene) -> str | None:
    """Return words for the item that a span names, by which it is found in the kit: its own name, or words of its kind.

    None for "it" where nothing was spoken of, and for kit that is not known.
    """
    if own := names_in(scene.of(span.text).text, scene.names):
        return own[0]
    if span.id == "it":
        return scene.item
    kind = kind_of(span, scene)
    if kind is None:
        return span.text if span.id == "other" else None
    if kind in scene.of(span.text).kinds:
        return span.text
    sized = any(c.isdigit() for c in span.text)
    return f"{span.text} {CATALOGUE[kind].name}" if sized else CATALOGUE[kind].name


_QUANTIFIED = re.compile(
    r"\b(?:all|both|every|each|any)(?: (?:of|the|my|our|these|those|\d+|two|three|four|five|six))*\s*$",
    re.IGNORECASE,
)
_COUNTED = re.compile(r"(?<![\d.,/:-])(?:[2-9]|1\d)\s+$")
_BESIDE = re.compile(r"\s*(?:-|of|for)?\s*")


def mention_in(span: Span, clause: Clause, scene: Scene) -> str | None:
    """Return `mention` with what stands right before it and tells one item from others: its gas, its size, "both"."""
    named = mention(span, scene)
    if named is None or span.id in {"it", "all"} or named in scene.names:
        return named
    start = span.start
    for fact in reversed(
        [s for s in clause.spans if s.slot in {"fact", "gas", "name"} and s.end <= span.start]
    ):
        if not _BESIDE.fullmatch(clause.text[fact.end - clause.start : start - clause.start]):
            break
        start = fact.start
    before = clause.text[start - clause.start : span.start - clause.start]
    many = _QUANTIFIED.search(clause.text[: start - clause.start]) or _COUNTED.search(
        clause.text[: start - clause.start]
    )
    return " ".join(f"{many.group().strip() if many else ''} {before.strip()} {named}".split())


def whole_parts(clause: Clause, scene: Scene) -> Clause:
    """Return a clause with a part that was marked in two pieces as one: "oxygen" and "sensors"."""
    found: list[Span] = []
    for span in clause.spans:
        last = found[-1] if found else None
        pair = (
            last is not None
            and {last.slot, span.slot} == {"part", "item"}
            and 0 <= span.start - last.end <= 1
        )
        if last is not None and pair:
            text = clause.text[last.start - clause.start : span.end - clause.start]
            if scene.of(text).parts and not scene.of(span.text).kinds and not scene.of(last.text).kinds:
                found[-1] = Span("part", text, last.start, span.end)
                continue
        found.append(span)
    return clause if len(found) == len(clause.spans) else replace(clause, spans=tuple(found))


_FUELS = re.compile(
    r"\b(?:diesel|petrol|gasoline|fuel|kerosene|paraffin oil|hydraulic \w+|(?:engine|motor|outboard|two[- ]stroke|chain|gear\w*|compressor|bearing) (?:oil|grease)|outboard mix)\b",
    re.IGNORECASE,
)
"""Of the class of mineral oil, where they are told as what got on a part; in the water they are a condition of the dive."""


def substance_of(span: Span, scene: Scene) -> Substance | None:
    """Return the class of a substance named, None if it is none that is known."""
    named = scene.of(span.text).substances
    if named:
        return named[0][2]
    if _FUELS.search(span.text):
        return Substance.MINERAL_OIL
    return _SUBSTANCES.get(span.id or "") if span.sure >= _SURE else None


def spelled(span: Span, scene: Scene) -> str:
    """Return words of the catalogue for a span that the catalogue's readers would not know, else the span as it stands."""
    if span.slot in {"item", "left"}:
        return mention(span, scene) or span.text
    if span.slot == "stuff" and not scene.of(span.text).substances and (known := substance_of(span, scene)):
        return STUFF[known].name.partition(" (")[0]
    return span.text


def refs_of(
    part: Span | str, item: str | None, scene: Scene, kind: ItemKind | None = None
) -> tuple[PartRef, ...]:
    """Return the parts of the catalogue that words name, on the item they were said of; none of another kind of item."""
    words = part if isinstance(part, str) else part.text
    if item is None and kind is None:
        return read_refs(scene.of(words))
    named = scene.of(item).kinds if item else ()
    kinds = set(named) or ({kind} if kind else set())
    found = read_refs(scene.of(f"{words} of the {item if named or kind is None else CATALOGUE[kind].name}"))
    return tuple(r for r in found if r.item in kinds) if kinds else found


_ONE = re.compile(
    r"\b(?:one|wan|1|a|an|another)\s+(?:of\s+)?(?:the|my|our|those|these)?\s*(?:\w+\s+)?$", re.IGNORECASE
)


def is_one(item: Span, clause: Clause) -> bool:
    """Tell whether one of several alike is spoken of."""
    return bool(_ONE.search(clause.text[: item.start - clause.start]))
