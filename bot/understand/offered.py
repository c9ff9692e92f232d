"""Matches a typed answer to the buttons of the last message: by number, by label give or take a slip, by yes and no.

Only a message that holds nothing but a button's own words is taken for that button: anything more is told anew.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from rapidfuzz import fuzz
from rapidfuzz.distance import OSA

from bot.understand.about import is_question
from bot.understand.intents import (
    AddItem,
    ForgetMe,
    ImportDives,
    Intent,
    LogDive,
    PlanTrip,
    RetireItem,
    SetPreference,
    Undo,
)
from bot.understand.lexicon import canonical, content
from bot.understand.message import Message
from bot.understand.text import clean, joined, words


@dataclass(frozen=True)
class Offer:
    """A button of the last message: its label and what a tap on it means."""

    label: str
    intent: Intent


_CLOSE = 75
_SHORT_ANSWER = 6
_FILLERS = frozenset(
    """a an the my our mine ours his her its it it's this that that's these those they they're is are was were be i i'd i'm
we me us he she think guess mean meant say said would like take pick choose make please pls ok okay yes yeah yep well so just
only one ones number of for with in at on to and both sure probably maybe hi hey um er oh ah there thing kind type sort""".split()
)
"""Words around a choice that do not change it; verbs of what was done to kit are not among them."""
_OF_FACTS = frozenset(
    "seal seals zip zipper cuffs neck wrist percent pct max maximum richest gas made sees see material at most".split()
)
"""What a fact was asked of, said again with the answer: "latex seals"."""
_STATES = re.compile(r"(?:they|these|those|it) (?:are|is|was|were)\b")
_NEGATIONS = frozenset(
    "not no never don't dont doesn't isn't isnt wasn't neither nor nothing none without except wrong".split()
)


def chosen(m: Message, offers: Sequence[Offer]) -> Intent | None:
    """Return what is meant by a number, a label or a label with a slip, or by a bare yes, no or "all done"; else None."""
    if m.text.isascii() and m.text.isdigit() and len(m.text) <= 2 and 1 <= int(m.text) <= len(offers):
        return offers[int(m.text) - 1].intent
    said = m.text.strip(" .!")
    exact = next((o for o in offers if said == clean(o.label)), None)
    answer = exact or _nearly(m, said, offers) or _answered(said, offers)
    return answer.intent if answer else None


def loosely_chosen(m: Message, offers: Sequence[Offer]) -> Intent | None:
    """Match a short answer to the one button that shares most words with it ("it is metal", "the neck one")."""
    asks = is_question(m) and ("?" in m.raw or not _STATES.match(m.plain))
    if len(m.said) > _SHORT_ANSWER or asks:
        return None
    told = {token for word, token in zip(m.said, m.tokens, strict=True) if word not in _FILLERS}
    shared = sorted(
        ((len(told & _content(o)), -n) for n, o in enumerate(offers) if _may_mean(m, o)), reverse=True
    )
    if not shared or shared[0][0] == 0 or (len(shared) > 1 and shared[0][0] == shared[1][0]):
        return None
    return offers[-shared[0][1]].intent


def _nearly(m: Message, said: str, offers: Sequence[Offer]) -> Offer | None:
    if "?" in m.raw:
        return None
    close = [
        (fuzz.ratio(said, clean(o.label)), -n)
        for n, o in enumerate(offers)
        if _may_mean(m, o) and _digits(said) == _digits(clean(o.label))
    ]
    best, at = max(close, default=(0.0, 0))
    return offers[-at] if best >= _CLOSE else None


def _may_mean(m: Message, offer: Offer) -> bool:
    """Tell whether a message holds nothing but the words of a button, with every figure and every "not" as they stand there."""
    if _is_final(offer):
        return False
    label = words(joined(clean(offer.label)))
    if _NEGATIONS.isdisjoint(m.said) != _NEGATIONS.isdisjoint(label):
        return False
    own = {*label, *map(canonical, label), *words(clean(offer.label))}
    own |= _OF_FACTS if isinstance(offer.intent, AddItem) and offer.intent.item_id is not None else set()
    pairs = zip(m.said, m.tokens, strict=True)
    return all(w in _FILLERS or w in own or token in own or _is_slip(w, label) for w, token in pairs)


def _is_slip(word: str, label: Sequence[str]) -> bool:
    """Tell whether a word is one of a label's, misspelt; a figure never is."""
    if len(word) < 4 or _digits(word):
        return False
    allowed = 1 if len(word) < 7 else 2
    return any(OSA.distance(word, w, score_cutoff=allowed) <= allowed for w in label if not _digits(w))


def _digits(text: str) -> list[str]:
    return re.findall(r"\d+", text)


def _content(offer: Offer) -> set[str]:
    label = clean(offer.label)
    said = {w for text in (label, joined(label)) for w in words(text) if w not in _FILLERS}
    return {*map(canonical, said), *content(label)}


def _is_final(offer: Offer) -> bool:
    """Tell whether a button takes away what was kept: it wants its exact words."""
    i = offer.intent
    return (
        isinstance(i, ForgetMe | RetireItem | Undo)
        or (isinstance(i, LogDive) and i.removes)
        or (isinstance(i, PlanTrip) and i.cancels)
        or (isinstance(i, SetPreference) and i.forget)
        or (isinstance(i, ImportDives) and (i.drops or i.replaces))
    )


_YES = re.compile(
    r"(?:yes|yep|yeah|yup|y|sure|ok|okay|go|go ahead|go on|do it|do that|please do|do so|confirm|confirmed|right|correct|count (?:them|it|these|those)"
    r"|log (?:it|them)|add (?:it|them)|import (?:it|them)|keep (?:it|them)|all of them)(?: all)?(?:,? (?:please|pls|thanks|thank you|go ahead|do it|count (?:them|it)|add it|log it))*"
)
_NO = re.compile(
    r"(?:no|nope|nah|n|don't|do not|drop (?:it|them|that)|leave (?:it|them)|forget (?:it|them)|discard(?: it| them)?|throw (?:it|them) away|never ?mind|cancel|better not|rather not)"
    r"(?: all)?(?:,? (?:please|pls|thanks|thank you|drop (?:it|them)|don't|do not))*"
)
_ALL_DONE = re.compile(
    r"(?:(?:it is|it's|its|that is|that's|they are|they're|i am|i'm|we are|we're|i have|i've|yes|ok|okay|now|and|is|are),? )*"
    r"(?:all|everything|every one|it all|them all|all of it|all of them)?(?: is| are| was| were| has been| got)? ?(?:done|finished)(?: them all| it all| all| now| already| today| with (?:it|them|that) all| all of (?:it|them))*"
    r"|(?:i |we |have |just )*(?:did|done) (?:it|them|that|all|everything)(?: all| of it| of them)*(?: today| now| already)?"
)


def _answered(said: str, offers: Sequence[Offer]) -> Offer | None:
    """Return the button that a bare "yes", "no" or "all done" stands for, where just one can be meant.

    An act of care is never recorded by a bare yes: "ok" often means no more than "I have read it".
    """
    if _ALL_DONE.fullmatch(said):
        return next((o for o in offers if clean(o.label) in {"all done", "done"}), None)
    drop = next((o for o in offers if _drops(o)), None)
    if drop is not None and _NO.fullmatch(said):
        return drop
    if not offers or not _YES.fullmatch(said) or _is_final(offers[0]):
        return None
    others = [o for o in offers if not isinstance(o.intent, Undo)]
    alone = len(others) == 1 and isinstance(others[0].intent, AddItem | LogDive)
    agrees = said not in {"ok", "okay", "right", "correct", "sure"}
    return offers[0] if _counts(offers[0]) or (alone and agrees) else None


def _drops(offer: Offer) -> bool:
    return isinstance(offer.intent, ImportDives) and offer.intent.drops


def _counts(offer: Offer) -> bool:
    return isinstance(offer.intent, ImportDives) and offer.intent.counts
