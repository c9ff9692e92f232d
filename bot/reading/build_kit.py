"""Clauses that tell what is in the kit, is new in it, or has left it."""

import re
from dataclasses import dataclass, field, replace

from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.link import kind_of, mention
from bot.reading.scene import Scene
from bot.understand.add import read_item_change, read_item_facts
from bot.understand.cylinders import read_cylinder
from bot.understand.intents import AddItem, RecordCare, RetireItem
from bot.understand.text import visible
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import ItemKind

MOST_OF_A_SORT = 12
_TIGHT = re.compile(
    r"[\s.:()\-]*(?:x|sets?|pairs?|pcs?|pieces|of|my|the|our|own|good|big|small|old|new|and)?[\s.:()\-]*(?:x|of|my|the)?\s*",
    re.IGNORECASE,
)
"""What may stand between a count or a fact and the item it belongs to."""
_ALIKE = {ItemKind.CYLINDER: "cylinder", ItemKind.STAGE: "stage", ItemKind.TWINSET: "twinset"}


@dataclass
class _Piece:
    """One item of a list, with all that is said of it."""

    item: Span
    counts: list[Span] = field(default_factory=list)
    facts: list[Span] = field(default_factory=list)
    names: list[Span] = field(default_factory=list)


def add(clause: Clause, scene: Scene) -> AddItem | None:
    """Return the items that a clause adds, in its order; None if it names none."""
    pieces = _pieces(clause, scene)
    known = [(piece, kind) for piece in pieces if (kind := kind_of(piece.item, scene)) is not None]
    unread = tuple(visible(p.item.text)[:40] for p in pieces if kind_of(p.item, scene) is None)
    if not known:
        return AddItem(unread=unread) if unread else None
    head, *rest = (_one(piece, kind, scene) for piece, kind in known)
    return head.model_copy(update={"also": tuple(rest), "unread": unread})


def _one(piece: _Piece, kind: ItemKind, scene: Scene) -> AddItem:
    number = values.count(piece.counts[:1]) or 1
    return AddItem(
        kind=kind,
        name=visible(piece.names[0].text)[:40] or None if piece.names else None,
        facts=facts_of(piece.item, piece.facts, kind, scene),
        count=max(1, min(number, MOST_OF_A_SORT)),
    )


def facts_of(item: Span | None, facts: list[Span], kind: ItemKind, scene: Scene) -> ItemFacts:
    """Return what spans say of an item of that kind; SenselessError for impossible numbers."""
    name = CATALOGUE[kind].name
    said = ", ".join([*(f.text for f in facts), item.text if item else ""])
    read = read_item_facts(scene.of(f"{name}, {said}"), kind)
    if not CATALOGUE[kind].tested and read.volume_l is not None:
        read = read.model_copy(update={"volume_l": None})
    if kind in _ALIKE and read.volume_l is None and item is not None and (size := _litres(item.text)):
        return read.model_copy(update={"volume_l": size})
    return read


_TWIN = re.compile(
    r"\b(?:double|twin|mono|single|2 ?x)s?[ -]?(\d{1,2}(?:[.,]\d)?)(?:'?s|l|lt)?\b", re.IGNORECASE
)
_MOST_LITRES = 20


def _litres(text: str) -> float | None:
    """Return the litres of a cylinder that goes by its size: "double 12"."""
    found = _TWIN.search(text)
    litres = float(found[1].replace(",", ".")) if found else None
    return litres if litres is not None and 1 < litres <= _MOST_LITRES else None


_SIZED = re.compile(
    r"\b\d{1,2}(?:[.,]\d)?\s?(?:l|lt|ltr|litres?|liters?)\b|\b(?:al|alu|steel|s)\s?\d{2,3}s?\b", re.IGNORECASE
)


def _is_cylinder(span: Span, scene: Scene) -> bool:
    """Tell whether a size stands for a cylinder that is not named: "single 15l steel"."""
    return bool(_SIZED.search(span.text)) and any(CATALOGUE[k].tested for k in scene.of(span.text).kinds)


def _beside_cylinder(span: Span, pieces: list[_Piece], scene: Scene) -> bool:
    """Tell whether the item right before or after is a cylinder, whose size it then is."""
    before = next((p for p in reversed(pieces) if p.item.end <= span.start), None)
    after = next((p for p in pieces if p.item.start >= span.end), None)
    near = [p for p in (before, after) if p is not None]
    return any((k := kind_of(p.item, scene)) is not None and CATALOGUE[k].tested for p in near)


def _pieces(clause: Clause, scene: Scene) -> list[_Piece]:
    """Give each count, fact and name to the item it belongs to: the next one if nothing stands between, else the one before."""
    items = _distinct([s for s in clause.of("item") if s.id not in {"all", "it"}], clause, scene)
    pieces = [_Piece(item) for item in items]
    for span in clause.spans:
        if span.slot == "fact" and _is_cylinder(span, scene) and not _beside_cylinder(span, pieces, scene):
            pieces.append(_Piece(replace(span, slot="item", id="cylinder", sure=0.0)))
    pieces.sort(key=lambda p: p.item.start)
    for span in clause.spans:
        if (
            any(p.item.start == span.start for p in pieces)
            or span.slot not in {"n", "fact", "name", "gas", "every"}
            or not pieces
        ):
            continue
        after = next((p for p in pieces if p.item.start >= span.end), None)
        before = next((p for p in reversed(pieces) if p.item.end <= span.start), None)
        owner = after if after is not None and (before is None or _leads(span, after, clause)) else before
        if owner is None:
            continue
        {"n": owner.counts, "name": owner.names}.get(span.slot, owner.facts).append(span)
    return pieces


_WITHIN = re.compile(r"\s*(?:with|w/?|in|its|for|of)?(?: (?:a|an|the|its|my))?[\s/-]*", re.IGNORECASE)


def _distinct(items: list[Span], clause: Clause, scene: Scene) -> list[Span]:
    """Return the items without what only says the one before again: "camera with alu housing"."""
    kept: list[Span] = []
    for item in items:
        before = kept[-1] if kept else None
        if before is not None and kind_of(before, scene) is kind_of(item, scene):
            facts = [s for s in clause.of("fact") if before.end <= s.start and s.end <= item.start]
            gap = clause.text[
                before.end - clause.start : (facts[0].start if facts else item.start) - clause.start
            ]
            if _WITHIN.fullmatch(gap):
                continue
        if before is not None and _are_its_cylinders(before, item, clause, scene):
            continue
        kept.append(item)
    return kept


_TWO = re.compile(r"\b(?:two|2|both|double|twin)\b", re.IGNORECASE)


def _are_its_cylinders(before: Span, item: Span, clause: Clause, scene: Scene) -> bool:
    """Tell whether two cylinders named after a twinset are what it is made of."""
    if kind_of(before, scene) is not ItemKind.TWINSET or kind_of(item, scene) is not ItemKind.CYLINDER:
        return False
    return bool(_TWO.search(clause.text[before.end - clause.start : item.start - clause.start]))


def _leads(span: Span, piece: _Piece, clause: Clause) -> bool:
    """Tell whether a span stands right before an item, but for facts of the same one."""
    at = span.end
    while at < piece.item.start:
        between = next((s for s in clause.spans if at <= s.start < piece.item.start), None)
        gap = clause.text[at - clause.start : (between.start if between else piece.item.start) - clause.start]
        if not _TIGHT.fullmatch(gap):
            return False
        if between is None:
            return True
        at = between.end
    return True


def change(clause: Clause, scene: Scene) -> AddItem | RecordCare | None:
    """Return the facts that a clause tells of an item that is in the kit; None if it tells none that are kept."""
    m = scene.of(clause.text)
    if (told := read_cylinder(m) or read_item_change(m)) is not None and isinstance(
        told, AddItem | RecordCare
    ):
        return told
    spans = [s for s in clause.of("item") if s.id != "all"]
    named = next((s for s in spans if kind_of(s, scene) is not None), None)
    of = mention(named, scene) if named else next((mention(s, scene) for s in spans), None) or scene.item
    kind = kind_of(named, scene) if named else next(iter(scene.of(of).kinds), None) if of else None
    if of is None or kind is None:
        return None
    said = [*clause.of("fact"), *clause.of("gas")]
    facts = facts_of(named, said, kind, scene)
    if facts.o2_fraction is None and (gas := values.oxygen(clause.of("gas"))):
        facts = facts.model_copy(update={"o2_fraction": gas})
    if facts.o2_fraction is None and any(re.search(r"\boxygen\b|\bo2\b", s.text.casefold()) for s in said):
        facts = facts.model_copy(update={"o2_fraction": 1.0})
    return AddItem(kind=kind, of=of, facts=facts) if facts != ItemFacts() else None


def retire(clause: Clause, scene: Scene) -> RetireItem:
    """Return which item has left the kit."""
    named = (mention(s, scene) for s in (*clause.of("item"), *clause.of("left")) if s.id != "all")
    return RetireItem(item=next((n for n in named if n), None))
