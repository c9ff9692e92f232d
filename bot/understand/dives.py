"""Reads dives, of one day or several, and corrections of the last entry."""

import re

from bot.understand.dive_days import read_days
from bot.understand.dive_entry import build_dive, without_denied
from bot.understand.dive_kit import read_kit
from bot.understand.intents import LogDive
from bot.understand.message import Message

_DIVED = re.compile(
    r"\b(?:dives?|dived|dove|diving|dip|dips|dunk|splash|bimble|snorkel|freedive|freediving|logged|log|bottom time|penetration|session|sessions|deco dive)\b",
)
STRONG = re.compile(
    r"\b(?:dived|dove|did|logged|log|went|back from|got back|came back|surfaced|just out|done|today|yesterday|finished|out of the|had|got in|been)\b"
)
_CORRECTION = re.compile(
    r"^(?:no|nope|sorry|actually|correction|wrong|oops|wait|i meant|meant|make (?:it|that)|change (?:it|that|the last)|correct (?:it|that|the last)|it was|that was|i mean)\b",
)
AHEAD = re.compile(
    r"\b(?:next|upcoming|coming) (?:dives?|diving|dip)\b"
    r"|\b(?:will|i'll|we'll|gonna|going to|planning|planning to|plan to|planned|want to|wanna|hope to|hoping to|about to|booked)(?: (?!log|add|record|enter|note|put|report|correct|tell)\w+){0,2} (?:dive|dives|diving)\b(?! (?:computer|light|shop|kit|gear|log)\b)"
)
"""Dives that are only thought of."""
_CLAUSES = re.compile(r"\s*(?:[,;]|\band\b|\bbut\b|(?<!\d)\.\s)\s*")


def _behind(m: Message) -> Message | None:
    """Return the message without the clauses that speak of dives ahead; None if nothing else is told."""
    if not AHEAD.search(m.plain):
        return m
    kept = [
        clause for clause in _CLAUSES.split(m.mended) if clause and not AHEAD.search(m.again(clause).plain)
    ]
    return m.again(", ".join(kept)) if kept else None


_NOT_DIVED = re.compile(
    r"\b(?:cancell?ed|called off|blown out|no dives?|no diving|(?:didn't|did not|didnt|couldn't|could not) (?:get to )?dive|was off|got scrubbed|postponed|(?:not|never) (?:going to dive|diving)|won't dive|wont dive)\b"
)


_TANKS = re.compile(
    r"^\W*(?:(?:i|we|did|just|dived|dove|done|used|burned|burnt|breathed|went through|had|another) )*(?P<n>\d{1,2}|one|two|three|four|five|six) tanks?(?: of (?:air|gas|nitrox))?\b"
    r"(?=\s*(?:[;,.!]|$| (?:today|yesterday|this|in the (?:sea|lake|ocean|pool|quarry|river)|salt\w*|fresh\w*|off the|from the boat)\b))(?!.*\b(?:fill\w*|full|empty|bought|buy|sold|rent\w*|need\w*|add\w*|new|test\w*|hydro|visual|rins\w*|wash\w*|inspect\w*|serviced|leak\w*|rust\w*|due)\b)"
)
"""Tanks breathed are dives; tanks that something was done to are kit."""
_DID_N = re.compile(
    r"\b(?:did|done|dived|dove|made|logged) (?:only |just |another )?(?:\d{1,2}|one|two|three|four|five|six) (?:today|yesterday|on \w+day|this (?:morning|afternoon|evening)|last night)\b"
)


_SOMEBODY_ELSE = re.compile(
    r"^(?:and |so |btw |hey )*(?:my|his|her|their|the) (?:buddy|mate|friend|wife|husband|brother|sister|son|daughter|neighbou?r|boss|colleague|dad|mum|mom)s?(?: \w+)? (?:was|were|did|does|had|has|went|got|logged|dived|dove|made|is|goes)\b(?!.*\b(?:we|i|us|with my|with me|my (?:kit|gear))\b)"
)
_SUPPOSES = re.compile(
    r"^(?:so |and |but |what )*(?:if|suppose|supposing|imagine|in case|say) (?:i|we) (?:dived?|do|did|go|went|log)\b"
)


def read_dive(m: Message) -> LogDive | None:
    """Read one or more dives logged in free text; None if nothing speaks of a dive. SenselessError for impossible numbers."""
    if tanks := _TANKS.match(m.text):
        m = m.again(f"{m.text[: tanks.start('n')]}{tanks['n']} dives{m.text[tanks.end() :]}")
    told = _behind(m)
    return None if told is None or _NOT_DIVED.search(m.plain) else _read(told)


_KIT_PUT_RIGHT = re.compile(r"\b(?:without|only|just|except|not used|not dived|weren't used|wasn't used)\b")


def _of_kit(m: Message) -> bool:
    """Tell whether a correction says what stayed ashore: "no, without the dry suit"."""
    if not _KIT_PUT_RIGHT.search(m.plain) or m.tasks or m.substances:
        return False
    kit = read_kit(m)
    return bool(kit.without or kit.only)


def _read(m: Message) -> LogDive | None:
    corrects = bool(_CORRECTION.search(m.plain))
    m = without_denied(m) if corrects else m
    q = m.quantities()
    counted = None if q.unnumbered else q.dives
    figures = sum(x is not None for x in (counted, q.duration_min, q.max_depth_m, q.o2_fraction)) + bool(
        q.temps_c
    )
    dived = bool(_DIVED.search(m.plain))
    waters = bool(m.waters)
    if corrects and (figures or waters or m.conditions or m.past.on or _of_kit(m)):
        return build_dive(m, q, corrects=True)
    if _SOMEBODY_ELSE.search(m.plain) or _SUPPOSES.search(m.plain):
        return None
    told = bool(STRONG.search(m.plain)) or bool(m.past.on)
    places = waters or bool(m.conditions)
    if (
        (dived and (figures or told or places))
        or (figures >= 2)
        or (figures and places)
        or (figures and told and m.kinds)
        or (counted and told and (places or m.kinds))
        or (counted and _DID_N.search(m.mended) and not m.tasks and not m.parts)
    ):
        return read_days(m) or build_dive(m, q, corrects=False)
    return None
