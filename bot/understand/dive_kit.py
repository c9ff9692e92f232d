"""Reads what was dived and what stayed ashore: "without the dry suit", "only the regulator", "the regs were not used"."""

import re
from dataclasses import dataclass

from bot.understand.message import Message
from bot.understand.text import clean, joined

_DET = r"(?P<det>(?:(?:the|my|our|any|using|wearing|taking|diving|with|used|use|in|on|bring|take|wear|bringing) )*)"
_PIECE = (
    r"(?P<what>[\w'&+/ -]+?)(?= at home| home\b| ashore| behind| in the | on the | on \w*day| this time| today| yesterday"
    r"| but | with | because | since | from | of | in | on | was | were | is | are | at \d|[,;.!?()]|$)"
)
_WITHOUT = re.compile(
    rf"\b(?:(?:all|everything|the lot|whole kit|full kit|all kit|all gear) (?:but|except(?: for)?|minus|save|bar)|without|not|no|left|minus|except(?: for)?|apart from|excluding|leaving out|didn't|did not|didnt|wasn't|was not|weren't|forgot|skipped) {_DET}{_PIECE}"
)
_NOT_USED = re.compile(
    r"(?:^|[,;.]\s*|\b(?:but|and|while|as|with) )(?P<what>[^,;.]{0,60}?)(?: itself)? (?:"
    r"(?:(?:was|were|is|are|has|have|had|did) not|wasn't|wasnt|weren't|werent|isn't|aren't|didn't|didnt|hasn't|haven't|not)(?: been| get| got| come| go)* (?:used|dived|taken|worn|wet|with me|along|along for it|in the water|needed|on it|there|dive|in use|part of it)"
    r"|(?:(?:was|were|has|have|had|got|been) )*(?:stayed|remained|left|kept)(?: \w+)? (?:at home|home|ashore|dry|behind|on the boat|in the (?:car|van|boat|bag)|on deck|out|unused)"
    r"|(?:(?:was|were) )?(?:unused|at home|ashore)(?= *(?:[,;.]|$)))"
)
_ONLY = re.compile(
    rf"\b(?:only|just|solely|merely|nothing but|nothing else than|nothing other than) (?:(?:did|dived|dove|took|wore|had|it with|them with) )*{_DET}"
    r"(?P<what>[^,;.!?]+)"
)
_ALONE = re.compile(
    r"(?:.*\b(?:with|using|on|used|wore|took|in) |.*[,;.]\s*|^)(?:(?:the|my|our) )*(?P<what>[^,;.]{2,40}?) (?:only|alone|and nothing else|nothing else)(?=\s*(?:[,;.!()]|$| (?:today|yesterday|this time|this|on|in)\b))"
)
_LAST_OF_RUN = re.compile(r"\b(?:with|today|yesterday|dives?|the|my|our|in|on|using)\b")
_BESIDE = frozenset(
    """today yesterday time morning afternoon evening night dive dives dived used salt fresh sea lake pool water quarry ocean tonight
and or plus also home both alone minutes min m metres deep max each x""".split()
)


@dataclass(frozen=True, slots=True)
class KitSaid:
    """Items as said: dived, or left ashore; `only`: nothing but those was dived."""

    items: tuple[str, ...]
    without: tuple[str, ...]
    only: bool


def read_kit(m: Message) -> KitSaid:
    """Return what a message says was dived, and what was not."""
    if not m.item_mentions:
        return KitSaid((), (), only=False)
    pieces = [*_left_out(m), *_unused(m)]
    ashore = tuple(dict.fromkeys(name for _, piece in pieces for name in _named(piece)))
    text = m.text
    for said, _ in pieces:
        text = text.replace(said, " ; ", 1)
    dived = m.again(text)
    items = tuple(i for i in _named(dived) if i not in ashore)
    return KitSaid(items, ashore, only=bool(items) and _is_only(dived))


def _named(m: Message) -> tuple[str, ...]:
    """Return the items as said, none twice: "dry suit" that an item is called is not another drysuit."""
    own = " ".join(joined(clean(name)) for name in m.own_names)
    return tuple(name for name in m.item_mentions if name in m.own_names or name not in own)


def _left_out(m: Message) -> list[tuple[str, Message]]:
    found = []
    for told in _WITHOUT.finditer(m.text):
        piece = m.again(told["what"])
        if _begins_with_item(piece, named=bool(told["det"])) and not piece.tasks:
            found.append((told.group(), piece))
    return found


def _unused(m: Message) -> list[tuple[str, Message]]:
    found = []
    for told in _NOT_USED.finditer(m.text):
        what = (
            _LAST_OF_RUN.split(told["what"])[-1]
            if not re.search(r"\b(?:and|or)\b|&", told["what"])
            else told["what"]
        )
        piece = m.again(what)
        if piece.item_mentions and not piece.tasks:
            found.append((told.group(), piece))
    return found


def _begins_with_item(piece: Message, *, named: bool) -> bool:
    """Tell whether an item is what a phrase is about: it stands first, or after one word where "the" went before."""
    first = piece.item_hits[0][0] if piece.item_hits else None
    own = any(piece.text.startswith(clean(name)) for name in piece.own_names)
    return own or (first is not None and first <= (1 if named else 0))


def _is_only(m: Message) -> bool:
    told = _ONLY.search(m.text)
    if told and _is_nothing_else(m.again(told["what"])):
        return True
    alone = _ALONE.match(m.text)
    return bool(alone and _is_nothing_else(m.again(alone["what"])))


def _is_nothing_else(piece: Message) -> bool:
    """Tell whether a phrase names items and nothing that befell or was done to them."""
    if not piece.item_mentions:
        return False
    if not _begins_with_item(piece, named=True):
        return False
    without_days = piece.again(piece.past.rest)
    named = {i for a, b, _ in without_days.item_hits for i in range(a, b)}
    own = {w for name in piece.own_names for w in piece.again(name).said}
    return all(
        i in named or w in own or w in _BESIDE or not without_days.said_is_content(i) or w.isdigit()
        for i, w in enumerate(without_days.said)
    )
