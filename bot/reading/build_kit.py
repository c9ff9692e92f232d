"""Clauses that tell what is in the kit, is new in it, or has left it."""

import re
from dataclasses import dataclass, field, replace

from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.link import is_one, kind_of, mention_in
from bot.reading.numerals import in_figures
from bot.reading.scene import Scene
from bot.understand.add import read_item_facts
from bot.understand.intents import AddItem, Intent, RecordCare, RetireItem, Several
from bot.understand.text import visible
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import ItemKind, Task

MOST_OF_A_SORT = 12
_TIGHT = re.compile(
    r"[\s.:()\-]*(?:x|sets?|pairs?|pcs?|pieces|of|my|the|our|own|good|big|small|old|new|and)?[\s.:()\-]*(?:x|of|my|the)?\s*",
    re.IGNORECASE,
)
"""What may stand between a count or a fact and the item it belongs to."""
_ALIKE = {ItemKind.CYLINDER: "cylinder", ItemKind.STAGE: "stage", ItemKind.TWINSET: "twinset"}


@dataclass
class Piece:
    """One item of a list, with all that is said of it."""

    item: Span
    counts: list[Span] = field(default_factory=list)
    facts: list[Span] = field(default_factory=list)
    names: list[Span] = field(default_factory=list)
    done: list[RecordCare] = field(default_factory=list)
    """What was done to it before it came into the kit of the bot: "serviced in May"."""
    apart: list[list[Span]] = field(default_factory=list)
    """Facts of each of several alike: "two stages, one with 50 %, one with oxygen"."""


def add(clause: Clause, scene: Scene) -> AddItem | None:
    """Return the items that a clause adds, in its order; None if it names none."""
    pieces = pieces_of(clause, scene)
    known = [(piece, kind) for piece in pieces if (kind := kind_of(piece.item, scene)) is not None]
    unread = tuple(visible(p.item.text)[:40] for p in pieces if kind_of(p.item, scene) is None)
    if not known:
        return AddItem(unread=unread) if unread else None
    head, *rest = (one for piece, kind in known for one in _each(piece, kind, scene))
    return head.model_copy(update={"also": tuple(rest), "unread": unread})


def _each(piece: Piece, kind: ItemKind, scene: Scene) -> list[AddItem]:
    """Return one addition for all of a sort, or one for each of those that are told apart and one for the rest."""
    counted = values.count(piece.counts[:1]) or 1
    number = max(1, min(counted if counted > 1 else max(counted, len(piece.apart)), MOST_OF_A_SORT))
    told = piece.apart if len(piece.apart) <= number else []
    rows = [(own, 1) for own in told] + ([([], number - len(told))] if number > len(told) else [])
    return [
        AddItem(
            kind=kind,
            name=visible(piece.names[0].text)[:40] or None if piece.names else None,
            facts=facts_of(piece.item, [*piece.facts, *own], kind, scene),
            count=many,
            done=tuple(piece.done),
        )
        for own, many in rows
    ]


def facts_of(item: Span | None, facts: list[Span], kind: ItemKind, scene: Scene) -> ItemFacts:
    """Return what spans say of an item of that kind; SenselessError for impossible numbers."""
    name = CATALOGUE[kind].name
    said = [in_figures(t) for t in (*(f.text for f in facts), item.text if item else "")]
    read = read_item_facts(scene.of(f"{name}, {', '.join(said)}"), kind)
    for one in said:
        alone = read_item_facts(scene.of(f"{name}, {one}"), kind).model_dump(
            exclude_none=True, exclude_defaults=True
        )
        read = read.model_copy(update={n: v for n, v in alone.items() if getattr(read, n) is None})
    if not CATALOGUE[kind].tested and read.volume_l is not None:
        read = read.model_copy(update={"volume_l": None})
    if kind in _ALIKE and read.volume_l is None and item is not None and (size := _litres(item.text)):
        read = read.model_copy(update={"volume_l": size})
    return read.model_copy(update={"remarks": _remarks(item, facts, kind, scene)})


def _remarks(item: Span | None, facts: list[Span], kind: ItemKind, scene: Scene) -> tuple[str, ...] | None:
    """Return what is said of an item and is no fact that a rule looks at: "yellow", "with bungees". It tells one from others."""
    found: list[str] = []
    if (
        CATALOGUE[kind].tested
        and item is not None
        and re.search(r"\d{2,3}", item.text)
        and not _litres(item.text)
    ):
        found.append(visible(item.text)[:40])  # "HP100": how divers call it
    for fact in facts:
        said = visible(fact.text).strip(" ,;.")[:40]
        plain = scene.of(f"{CATALOGUE[kind].name}, {in_figures(said)}")
        known = (
            read_item_facts(plain, kind) != ItemFacts()
            or scene.of(said).substances
            or _SAYS_LITTLE.fullmatch(said)
        )
        is_new = said.casefold().startswith("new ")
        if len(said) > 2 and not known and not is_new and not scene.of(said).kinds:
            found.append(said)
    return tuple(dict.fromkeys(found))[:8] or None


_SAYS_LITTLE = re.compile(
    r"[\W\d]*(?:(?:brand|very|quite|all|is|are|a|the|my|own|ones?|new|old|good|used|standard|normal|other|same|big|small|full|complete|whole|oxygen|o2|air|nitrox|trimix|helium|deco|dive|diving)[\W\d]*)+",
    re.IGNORECASE,
)


def _as_gas(fact: Span) -> Span:
    """Return a bare number told of one of several as the oxygen share that divers mean by it: "one with 50"."""
    bare = fact.text.strip().isdecimal() and _LEAN <= int(fact.text) <= _PURE
    return replace(fact, text=f"{fact.text} % oxygen") if bare else fact


_LEAN, _PURE = 21, 100
_TWIN = re.compile(
    r"\b(?:double|twin|mono|single|steel|alu|ali|alumini?um|2 ?x)s?[ -]?(\d{1,2}(?:[.,]\d)?)(?:'?s|l|lt)?\b",
    re.IGNORECASE,
)
_BARE_SIZE = re.compile(r"(\d{1,2})(?:'?s)?")
_MOST_LITRES = 20


def _litres(text: str) -> float | None:
    """Return the litres of a cylinder that goes by its size: "double 12"."""
    found = _TWIN.search(text) or _BARE_SIZE.fullmatch(text.strip())
    litres = float(found[1].replace(",", ".")) if found else None
    return litres if litres is not None and 1 < litres <= _MOST_LITRES else None


_SIZED = re.compile(
    r"\b\d{1,2}(?:[.,]\d)?\s?(?:l|lt|ltr|litres?|liters?)\b|\b(?:al|alu|steel|s)\s?\d{2,3}s?\b", re.IGNORECASE
)


def _is_cylinder(span: Span, scene: Scene) -> bool:
    """Tell whether a size stands for a cylinder that is not named: "single 15l steel"."""
    return bool(_SIZED.search(span.text)) and any(CATALOGUE[k].tested for k in scene.of(span.text).kinds)


def _beside_cylinder(span: Span, pieces: list[Piece], scene: Scene) -> bool:
    """Tell whether the item right before or after is a cylinder, whose size it then is."""
    before = next((p for p in reversed(pieces) if p.item.end <= span.start), None)
    after = next((p for p in pieces if p.item.start >= span.end), None)
    near = [p for p in (before, after) if p is not None]
    return any((k := kind_of(p.item, scene)) is not None and CATALOGUE[k].tested for p in near)


def pieces_of(clause: Clause, scene: Scene) -> list[Piece]:  # noqa: C901 - a rule each
    """Give each count, fact and name to the item it belongs to: the next one if nothing stands between, else the one before."""
    items = _distinct([s for s in clause.of("item") if s.id not in {"all", "it"}], clause, scene)
    pieces = [
        Piece(_suit(item, clause))
        for item in items
        if not _POCKET.match(clause.text, item.end - clause.start) and not _is_rented(item, clause)
    ]
    for span in clause.spans:
        if span.slot == "fact" and _is_cylinder(span, scene) and not _beside_cylinder(span, pieces, scene):
            pieces.append(Piece(replace(span, slot="item", id="cylinder", sure=0.0)))
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
        if span.slot == "n" and before is not None and _OF_THOSE.match(clause.text, span.end - clause.start):
            before.counts[:] = [span]  # "undersuit, two of them actually"
            continue
        owner = after if after is not None and (before is None or _leads(span, after, clause)) else before
        if owner is None:
            continue
        if (
            span.slot in {"fact", "gas"}
            and owner is before
            and _ONE_OF_THEM.search(clause.text, owner.item.end - clause.start, span.start - clause.start)
        ):
            owner.apart.append([_as_gas(span)])
            continue
        if owner is after and span.slot == "fact" and _counts_it(span, owner, scene):
            owner.counts.append(span)  # "6 wetties"
            continue
        {"n": owner.counts, "name": owner.names}.get(span.slot, owner.facts).append(
            _of_seals(span, clause) if span.slot == "fact" else span
        )
    for piece in pieces:
        if not piece.counts and (number := _bare_count(piece.item, clause)):
            piece.counts.append(number)
    _add_done(pieces, clause, scene)
    return pieces


_OF_THOSE = re.compile(r"\s+of (?:them|those|these)\b", re.IGNORECASE)
_RENTED = re.compile(r"\b(?:rent\w*|hired?|hiring|borrow\w*)\b", re.IGNORECASE)
_STOP = re.compile(r"[.;!?](?=\s|$)|\bbut\b")


def _is_rented(item: Span, clause: Clause) -> bool:
    """Tell whether an item is named in a sentence on kit that is rented, which is not the diver's."""
    at = item.start - clause.start
    begins = max((m.end() for m in _STOP.finditer(clause.text, 0, at)), default=0)
    ends = next((m.start() for m in _STOP.finditer(clause.text, at)), len(clause.text))
    return bool(_RENTED.search(clause.text, begins, ends))


def _counts_it(fact: Span, piece: Piece, scene: Scene) -> bool:
    """Tell whether a bare number right before an item says how many, since it is no cylinder that goes by its size."""
    kind = kind_of(piece.item, scene)
    return (
        fact.text.isdecimal()
        and int(fact.text) <= MOST_OF_A_SORT
        and kind is not None
        and not CATALOGUE[kind].tested
    )


_POCKET = re.compile(r"\s+(?:pocket|bag|bracket|mount)\b", re.IGNORECASE)
_ONE_OF_THEM = re.compile(
    r"\b(?:one|1|the other|other|another)\s(?:(?:with|of|has|is|for|in|at|holds)\s(?:\w+\s)?)?$",
    re.IGNORECASE,
)
_SEALS = re.compile(r"latex|silicone|neoprene", re.IGNORECASE)
_SUIT = re.compile(r"suits?", re.IGNORECASE)
_WET = re.compile(
    r"\b\d(?:[.,]\d)?\s?(?:mm|mil)\b|\b\w+ mil\b|open cell|shorty|semi[- ]?dry|spring", re.IGNORECASE
)
_DRY = re.compile(
    r"tri-?lam|membrane|zip|seal|cuff|compressed|crushed|vulcani|shell|attached boots", re.IGNORECASE
)
_NUMBER_BEFORE = re.compile(
    r"\b(\d{1,2}|two|three|four|five|six|seven|eight|nine|ten)\s+(?:[a-z]+\s+)?$", re.IGNORECASE
)


def _suit(item: Span, clause: Clause) -> Span:
    """Return "suit" as a wetsuit where its thickness is told and nothing that only a dry suit has."""
    if _SUIT.fullmatch(item.text) and item.id == "dry_suit":
        near = clause.text[max(0, item.start - clause.start - 30) : item.end - clause.start + 30]
        if _WET.search(near) and not _DRY.search(near):
            return replace(item, id="wetsuit", text="wetsuit", sure=1.0)
    return item


def _of_seals(fact: Span, clause: Clause) -> Span:
    """Return a material that stands beside a part as what it is of: "neck and wrists latex"."""
    beside = any(0 <= p.start - fact.end <= 2 or 0 <= fact.start - p.end <= 2 for p in clause.of("part"))
    return replace(fact, text=f"{fact.text} seals") if beside and _SEALS.fullmatch(fact.text) else fact


def _bare_count(item: Span, clause: Clause) -> Span | None:
    """Return a number right before an item that nothing else took: "4 student regs"."""
    told = _NUMBER_BEFORE.search(clause.text[: item.start - clause.start])
    at = clause.start + told.start(1) if told else 0
    if told is None or any(s.start <= at < s.end for s in clause.spans):
        return None
    return Span("n", told[1], at, at + len(told[1]))


def _add_done(pieces: list[Piece], clause: Clause, scene: Scene) -> None:
    """Give each service or test told in a list to the item before it, with its day."""
    for act in clause.of("act"):
        owner = next((p for p in reversed(pieces) if p.item.end <= act.start), None)
        if owner is None or act.id not in {"service", "test", "inspect"}:
            continue
        when = tuple(s for s in clause.of("when") if act.end <= s.start < act.end + _NEAR)
        on, month_only = values.on_of(when, scene, "tell me once it is done.")
        if on is not None and act.id == "service":
            owner.done.append(RecordCare(task=Task.SERVICE, on=on, month_only=month_only, by_technician=True))


_NEAR = 40
"""Letters after an act within which its day stands."""


_WITHIN = re.compile(r"\s*\(?(?:with|w/?|in|its|for|of)?(?: (?:a|an|the|its|my))?[\s/-]*", re.IGNORECASE)


def _distinct(items: list[Span], clause: Clause, scene: Scene) -> list[Span]:
    """Return the items without what only says the one before again: "camera with alu housing"."""
    kept: list[Span] = []
    for item in items:
        before = kept[-1] if kept else None
        same = any(kind_of(k, scene) is kind_of(item, scene) for k in kept)
        if same and _ON_THE.search(clause.text[: item.start - clause.start]):
            continue  # "twin twelves, two regs on the twins"
        if before is not None and kind_of(before, scene) is kind_of(item, scene):
            facts = [s for s in clause.of("fact") if before.end <= s.start and s.end <= item.start]
            gap = clause.text[
                before.end - clause.start : (facts[0].start if facts else item.start) - clause.start
            ]
            if _WITHIN.fullmatch(gap):
                kept[-1] = replace(
                    before,
                    text=clause.text[before.start - clause.start : item.end - clause.start],
                    end=item.end,
                )
                continue
        if before is not None and kind_of(before, scene) is kind_of(item, scene) and _AGAIN.search(item.text):
            continue  # "the undersuit, the woolly one"
        if (
            before is not None
            and not scene.of(before.text).kinds
            and kind_of(before, scene) is kind_of(item, scene)
            and item.start - before.end <= _CLOSE
        ):
            kept[-1] = item  # a word that nobody knows right before the item itself
            continue
        if before is not None and _are_its_cylinders(before, item, clause, scene):
            continue
        kept.append(item)
    return kept


_CLOSE = 4
_ON_THE = re.compile(r"\b(?:on|for|of|with|to|in|from) (?:the|my|each)\s+$", re.IGNORECASE)
_AGAIN = re.compile(r"\bones?$", re.IGNORECASE)
_TWO = re.compile(r"\b(?:two|2|both|double|twin)\b", re.IGNORECASE)


def _are_its_cylinders(before: Span, item: Span, clause: Clause, scene: Scene) -> bool:
    """Tell whether two cylinders named after a twinset are what it is made of."""
    if kind_of(before, scene) is not ItemKind.TWINSET or kind_of(item, scene) is not ItemKind.CYLINDER:
        return False
    return bool(_TWO.search(clause.text[before.end - clause.start : item.start - clause.start]))


_SENTENCE = re.compile(r"\.\s")


def _leads(span: Span, piece: Piece, clause: Clause) -> bool:
    """Tell whether a span stands right before an item, but for facts of the same one."""
    at = span.end
    while at < piece.item.start:
        between = next((s for s in clause.spans if at <= s.start < piece.item.start), None)
        gap = clause.text[at - clause.start : (between.start if between else piece.item.start) - clause.start]
        if not _TIGHT.fullmatch(gap) or (span.slot != "n" and _SENTENCE.search(gap)):
            return False
        if between is None:
            return span.slot == "n" or not re.search(r"\band\b", gap, re.IGNORECASE)
        at = between.end
    return True


_OLD_ONE = re.compile(
    r"\b(old|broken|cracked|torn|flooded|dented|damaged|leaking|dead|burst) (?:one|wan|1)\b", re.IGNORECASE
)


def retire(clause: Clause, scene: Scene) -> Intent:
    """Return which items have left the kit."""
    spans = [s for s in (*clause.of("item"), *clause.of("left")) if s.id != "all"]
    named = [(m, is_one(s, clause)) for s in spans if (m := mention_in(s, clause, scene))]
    if not named and scene.item and (which := _OLD_ONE.search(clause.text)):
        item = re.sub(r"^(?:brand )?new ", "", scene.item, flags=re.IGNORECASE)
        return RetireItem(item=f"{which[1].casefold()} {item}")
    gone = [RetireItem(item=item, one=one) for item, one in dict(named).items()]
    return Several(of=tuple(gone)) if len(gone) > 1 else gone[0] if gone else RetireItem()
