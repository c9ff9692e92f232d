"""Reads questions: which part is meant and which facts are stated; what is asked and of which substance stand beside."""

import re

from bot.advice.question import About, PartRef, Question, Stated
from bot.understand import vocabulary as v
from bot.understand.about import has_happened, is_choice, is_cleaning, is_done, read_about
from bot.understand.intents import Ask
from bot.understand.message import RELATED, Message, first
from bot.understand.stuff import manual_substances, quotes_manual, read_all, read_substance, unknown_name
from store.catalogue import CATALOGUE
from store.vocabulary import Elastomer, ItemKind, Motion, PartKind

_NOT_GAS = re.compile(
    r"\b(?:no|not|never|without|nor|doesnt|doesn't|isn't|isnt|don't|dont|away from|free of|none)\b[^.?,;]{0,30}?\b(?:gas|air|oxygen)\b(?! (?:grease|oil|lubricant|lube|compatible|safe|clean|cleaned))"
)
_NOT_MOVING = re.compile(
    r"\b(?:nothing|not|never|doesnt|doesn't|isnt|isn't|no|without)\b(?: \w+){0,2}? (?:mov|motion|turn|slid|rotat|spin|twist)\w*"
)
_NEOPRENE_SEAL = re.compile(
    r"\bneoprene (?:\w+ )?(?:seal|neck|wrist|cuff|oring)|chloroprene|(?:seal|cuff)s? (?:\w+ )?neoprene|neoprene$"
)
_CONTRAST = re.compile(r"\b(?:when|while|whereas|unlike|but|than|like)\b")
_LEFT_OUT = re.compile(
    r"\b(?:away from|except(?: for)?|apart from|other than)\s+(?:the |a |my )?\w+(?: \w+)?"
)
_NO_RINGS = {PartKind.BODY_SEAL, PartKind.FABRIC, PartKind.SUIT_SKIN, PartKind.SKIRT}
_NEGATIONS = {"not", "no", "isn't", "isnt", "nor", "without", "never"}
_UNCLEANED = re.compile(
    r"\b(?:over|on top of) (?:the |it\b|old)|\bold (?:\w+ )?(?:wax|grease|lubricant|stick|film)\b|\bcrust\b|\bcaked\b|\bgunked\b|\bbuilt up\b|\bwithout (?:brushing|cleaning|washing)\b"
    r"|\b(?:another|second|fresh|more) (?:layer|coat)\b|\btop (?:it )?up\b"
)
_NOT_BUT = re.compile(r"\bnot (?:the |my |a )?\w+(?: \w+)? but\b")
_HOT_CAR = re.compile(
    r"\b(?:hot|closed|parked|sunny) (?:car|van|boot|trunk)\b|\bcar in the sun\b|\bcar (?:boot|trunk)\b"
)
_HOT_CAR_C = 40.0
"""What a closed car in the sun reaches at least; an inference, it decides nothing by itself."""
_SUIT_WORDS = frozenset({"neck", "wrist", "cuff", "suit", "drysuit"})


def read_question(m: Message) -> Ask | None:
    """Read a question about what goes on a part; None if nothing of the trade is named."""
    stated = read_stated(m)
    parts = _candidates(m, stated)
    substance = read_substance(m)
    if not (parts or m.kinds or substance or stated.kind or not v.VAGUE.isdisjoint(m.said)):
        return None
    about = read_about(m, substance, of_manual=quotes_manual(m))
    unknown = unknown_name(m) if substance is None else None
    if unknown and about is About.WHAT:
        about = About.CONTAMINATED if is_done(m) else About.CAN
    several = _several(m) if about is About.WHAT and substance is None else []
    others = _other_items(m, parts) if about in {About.CAN, About.CONTAMINATED} and substance else ()
    question = Question(
        about=about,
        candidates=several[0] if several else parts,
        rest=tuple(
            Question(about=about, candidates=refs, item=first(m.kinds), stated=stated) for refs in several[1:]
        )
        or tuple(
            Question(
                about=about, candidates=_candidates(c, Stated()), item=first(c.kinds), substance=substance
            )
            for c in others
        ),
        item=first(m.kinds),
        substance=substance,
        weighed=read_all(m) if is_choice(m) else (),
        happened=about is About.CONTAMINATED and has_happened(m) and not quotes_manual(m),
        unknown_substance=unknown,
        stated=stated,
        manual=manual_substances(m) if quotes_manual(m) else None,
        cleaning=about in {About.WHAT, About.HOW_MUCH, About.HOW}
        and is_cleaning(m)
        and v.VAGUE.isdisjoint(m.said),
    )
    return Ask(question=question, said=m.raw[:200])


_AND = re.compile(r"\s*(?:,|\band\b|&|\+|;)\s*")


_FURTHER = re.compile(r"(?:the |my |our |a |an |also |on |to |both )*[\w' -]{2,40}?(?: with [\w -]+)?\W*")
_VERBS = frozenset(
    "is are was were has have had do does did can could may should will need needs keeps it they".split()
)


def _other_items(m: Message, parts: tuple[PartRef, ...]) -> tuple[Message, ...]:
    """Return the clauses that set further items beside the parts found: "on the torch and the regulator"."""
    asked = next((s for s in reversed(m.sentences) if s.parts or s.kinds), m)
    clauses = [asked.again(c) for c in _AND.split(asked.text)]
    covered = {kind for ref in parts for kind in RELATED.get(ref.item, (ref.item,))} | {
        ref.item for ref in parts
    }
    told = [c for c in clauses if c.kinds or c.parts]
    return (
        tuple(
            c
            for c in told
            if _FURTHER.fullmatch(c.text) or c is told[0]
            if _VERBS.isdisjoint(c.said) or c is told[0]
            if not ({*c.kinds, *(ref.item for ref in c.parts if not c.kinds)} & covered)
        )
        if len(told) > 1 and parts
        else ()
    )


def _several(m: Message) -> list[tuple[PartRef, ...]]:
    """Return the parts of each clause where a question names several one after the other, else nothing."""
    clauses = [m.again(clause) for clause in _AND.split(m.text)]
    if len(clauses) < 2 or not all(_TELLS.intersection(c.tokens) and c.parts for c in clauses):
        return []
    stated = Stated()
    found = [_candidates(c, stated) for c in clauses]
    distinct = len({ref for refs in found for ref in refs}) == sum(map(len, found))
    return found if distinct else []


_TELLS = v.TELLING | {"zip", "seal"}


def read_stated(m: Message) -> Stated:
    """Read the physical facts that a message states."""
    facts: dict[str, object] = {}
    for start, _, (name, value) in m.stated:
        if not (start and m.said[start - 1] in _NEGATIONS):
            facts.setdefault(name, value)
    if _UNCLEANED.search(m.plain):
        facts["uncleaned"] = True
    if _NOT_GAS.search(m.plain):
        facts["gas"] = False
    if _NOT_MOVING.search(m.plain):
        facts["motion"] = Motion.STATIC
    if facts.get("elastomer") is Elastomer.CR and not _NEOPRENE_SEAL.search(m.plain):
        facts.pop("elastomer")
    q = m.quantities()
    if q.o2_fraction is not None:
        facts["o2_fraction"] = q.o2_fraction
    temps = [*q.temps_c, *((_HOT_CAR_C,) if _HOT_CAR.search(m.plain) else ())]
    if temps:
        facts |= {"min_temp_c": min(temps), "max_temp_c": max(temps)}
    kind = _kind(m)
    if kind:
        facts["kind"] = kind
    return Stated.model_validate(facts)


def _kind(m: Message) -> PartKind | None:
    """Tell a ring or a zip by its word; a "seal" that moves or meets gas, and is no suit's, is a ring."""
    tokens = set(m.tokens)
    if "oring" in tokens:
        return PartKind.O_RING
    if "zip" in tokens:
        return PartKind.ZIP
    described = any(name in {"motion", "gas"} for _, _, (name, _) in m.stated)
    return PartKind.O_RING if "seal" in tokens and described and not tokens & _SUIT_WORDS else None


def _candidates(m: Message, stated: Stated) -> tuple[PartRef, ...]:
    """Return the parts that the words name best; of two set against each other, the first; none for a bare "O-ring"."""
    found = (_parts_before_contrast(m.asked_last) if m.asked_last is not m else {}) or _parts_before_contrast(
        m
    )
    if stated.kind is PartKind.O_RING:
        found = {r: w for r, w in found.items() if CATALOGUE[r.item].part(r.part).kind not in _NO_RINGS}
    if m.kinds and m.asked_last is not m:
        found = {r: w for r, w in found.items() if r.item in m.kinds} or found
    if not found:
        return _of_items(m, stated)
    strongest = max(map(len, found.values()))
    best = [ref for ref, named in found.items() if len(named) == strongest]
    return tuple(sorted(best, key=lambda r: (r.item, r.part)))


def _parts_before_contrast(m: Message) -> dict[PartRef, frozenset[str]]:
    text = _NOT_BUT.sub(" ", _LEFT_OUT.sub(" ", m.plain))
    if contrast := _CONTRAST.search(text):
        head = m.again(text[: contrast.start()]).parts
        if head:
            return head
    return m.again(text).parts if text != m.plain else m.parts


def _of_items(m: Message, stated: Stated) -> tuple[PartRef, ...]:
    """Return the parts of that kind on the items named, or the part mostly meant by the item's own name."""
    refs: list[PartRef] = []
    for kind in m.kinds:
        item = CATALOGUE[kind]
        rings = [p.key for p in item.parts if stated.kind and p.kind is stated.kind and p.care]
        keys = rings or ([item.main] if item.main and stated.kind is None else [])
        refs += [PartRef(item=ItemKind(kind), part=key) for key in keys]
    return tuple(refs)
