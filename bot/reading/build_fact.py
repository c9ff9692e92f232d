"""Clauses that tell a fact of kit that is known already: its gas, its material, its name, or whatever tells it from others."""

import re
from dataclasses import replace

from bot.reading import values
from bot.reading.build_kit import Piece, facts_of, pieces_of
from bot.reading.clauses import Clause, Span
from bot.reading.link import kind_of, mention_in
from bot.reading.scene import Scene
from bot.understand.add import read_item_change
from bot.understand.cylinders import read_cylinder
from bot.understand.intents import AddItem, Intent, RecordCare, Several
from bot.understand.text import visible
from store.catalogue import ItemFacts

_NEAR = 40
"""Letters between a part and what is said of it."""
_SEALS = re.compile(r"latex|silicone|neoprene", re.IGNORECASE)
_OF_SEALS = re.compile(r"seal|neck|wrist|cuff", re.IGNORECASE)
_OXYGEN = re.compile(r"\boxygen\b|\bo2\b", re.IGNORECASE)


def change(clause: Clause, scene: Scene) -> Intent | None:
    """Return the facts that a clause tells of items that are in the kit; None if it tells none."""
    m = scene.of(clause.text)
    if isinstance(by_rule := read_cylinder(m) or read_item_change(m), AddItem | RecordCare):
        return by_rule
    found = [a for piece in pieces_of(clause, scene) if (a := _of_piece(piece, clause, scene)) is not None]
    if len(found) > 1:
        return Several(of=tuple(found))
    return found[0] if found else _of_the_last(clause, scene)


def _of_piece(piece: Piece, clause: Clause, scene: Scene) -> AddItem | None:
    said = [*piece.facts, *(one for own in piece.apart for one in own)]
    of = mention_in(piece.item, clause, scene)
    if of is None or kind_of(piece.item, scene) is None:
        return None
    return _changed(of, replace(piece, facts=said), clause, scene)


def _of_the_last(clause: Clause, scene: Scene) -> AddItem | None:
    """Return what a clause tells of the item last spoken of: "it has bungees, black"."""
    if not scene.item or not scene.of(scene.item).kinds:
        return None
    facts = [*clause.of("fact"), *clause.of("gas")]
    item = Span("item", scene.item, clause.start, clause.start)
    return _changed(scene.item, Piece(item, facts=facts, names=list(clause.of("name"))), clause, scene)


def _changed(of: str, piece: Piece, clause: Clause, scene: Scene) -> AddItem | None:
    kind = kind_of(piece.item, scene)
    if kind is None:
        return None
    said = [_with_part(s, clause) for s in piece.facts]
    facts = facts_of(piece.item, [s for s in said if s.slot != "gas"], kind, scene)
    if facts.o2_fraction is None:
        gas = values.oxygen([s for s in said if s.slot == "gas"])
        gas = gas or (1.0 if any(_OXYGEN.search(s.text) for s in said) else None)
        facts = facts.model_copy(update={"o2_fraction": gas})
    name = visible(piece.names[0].text)[:40] or None if piece.names else None
    return AddItem(kind=kind, of=of, facts=facts, name=name) if facts != ItemFacts() or name else None


def _with_part(fact: Span, clause: Clause) -> Span:
    """Return a fact with the part it is of, as it was said: "the socks are neoprene"."""
    part = next((p for p in clause.of("part") if -_NEAR < p.start - fact.start < _NEAR), None)
    if part is None or fact.slot == "gas" or (_SEALS.fullmatch(fact.text) and _OF_SEALS.search(part.text)):
        return fact
    start, end = min(part.start, fact.start), max(part.end, fact.end)
    return replace(fact, text=clause.text[start - clause.start : end - clause.start], start=start, end=end)
