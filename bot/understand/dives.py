"""Reads dives, of one day or several, and corrections of the last entry."""

import re

from bot.understand.counts import bare_count
from bot.understand.dates import OLDEST
from bot.understand.happenings import read_happenings
from bot.understand.intents import LogDive
from bot.understand.message import Message, first
from bot.understand.quantities import MOST_DIVES, Quantities, SenselessError
from store.vocabulary import Condition, Water

_DIVED = re.compile(
    r"\b(?:dives?|dived|dove|diving|dip|dips|dunk|splash|bimble|snorkel|freedive|freediving|logged|log|bottom time|penetration|session|sessions|deco dive)\b",
)
STRONG = re.compile(
    r"\b(?:dived|dove|did|logged|log|went|back from|got back|came back|surfaced|just out|done|today|yesterday|finished|out of the|had|got in|been)\b"
)
_CORRECTION = re.compile(
    r"^(?:no|nope|sorry|actually|correction|wrong|oops|wait|i meant|meant|make (?:it|that)|change (?:it|that|the last)|correct (?:it|that|the last)|it was|that was|i mean)\b",
)
_WITHOUT = re.compile(
    r"\b(?:without|not|no|left|minus)\s+(?:the |my |a |any )?([\w ]+?)(?:\s+(?:at home|ashore|this time|today)|[,;.]|$)"
)
_NOT_THERE = re.compile(
    r"\b(?:not|wasn't|wasnt|isn't|no)\s+(?:in |at )?(?:the |a )?(?:salt(?:water)?|fresh(?:water)?|sea|ocean|lake|quarry|pool|river|brackish)(?: water)?\b"
)
_SECOND_THOUGHT = re.compile(r"\b(?:no,? wait|wait,? no|scratch that|i mean|or rather|actually)\b")
_NOT_DIVED = re.compile(
    r"\b(?:cancell?ed|called off|blown out|no dives?|no diving|(?:didn't|did not|didnt|couldn't|could not) (?:get to )?dive|was off|got scrubbed|postponed|(?:not|never) (?:going to dive|diving)|won't dive|wont dive)\b"
)


def read_dive(m: Message) -> LogDive | None:
    """Read one or more dives logged in free text; None if nothing speaks of a dive. SenselessError for impossible numbers."""
    if _NOT_DIVED.search(m.plain):
        return None
    corrects = bool(_CORRECTION.search(m.plain))
    q = m.quantities()
    counted = None if q.unnumbered else q.dives
    figures = sum(x is not None for x in (counted, q.duration_min, q.max_depth_m, q.o2_fraction)) + bool(
        q.temps_c
    )
    dived = bool(_DIVED.search(m.plain))
    waters = bool(m.waters)
    if corrects and (figures or waters or m.conditions or m.past.on):
        return build_dive(m, q, corrects=True)
    told = bool(STRONG.search(m.plain)) or bool(m.past.on)
    places = waters or bool(m.conditions)
    if (
        (dived and (figures or told or places))
        or (figures >= 2)
        or (figures and places)
        or (figures and told and m.kinds)
        or (counted and told and (places or m.kinds))
    ):
        return _several_days(m) or build_dive(m, q, corrects=False)
    return None


def build_dive(m: Message, q: Quantities, *, corrects: bool) -> LogDive:
    """Return the entry that a message tells of, whatever it leaves out; SenselessError for a day that cannot be."""
    if q.dives is not None and q.dives > MOST_DIVES:
        raise SenselessError(f"{q.dives} dives in one entry is a lot: log up to {MOST_DIVES} at a time.")
    on = m.past.on
    if on is not None and on < OLDEST:
        raise SenselessError(f"{on:%d %B %Y} is before this kit was dived: check the year.")
    if on is not None and on > m.today:
        raise SenselessError(
            f"{on:%d %B %Y} lies ahead: a dive is logged once it is done. For plans, say: trip 12 to 19 December, 14 dives."
        )
    without = _WITHOUT.search(m.plain)
    ashore = m.again(without.group(1)).item_mentions if without else ()
    return LogDive(
        dives=None if corrects and q.unnumbered else q.dives,
        on=on,
        water=read_water(m),
        max_depth_m=q.max_depth_m,
        duration_min=q.duration_min,
        min_temp_c=min(q.temps_c, default=None),
        o2_fraction=q.o2_fraction,
        conditions=_conditions(m),
        items=tuple(i for i in m.item_mentions if i not in ashore),
        without=ashore,
        corrects=corrects,
        happened=() if corrects else read_happenings(m),
    )


_CLAUSES = re.compile(r"\s*(?:[,;+&]|\band\b|\bthen\b|\bplus\b|\.\s)\s*")
_MOST_DAYS = 14


def _several_days(m: Message) -> LogDive | None:
    """Read "2 dives on Monday, 1 on Tuesday": one entry a day, the first holding the others. None if one day is told.

    A kind of water told but once is that of all days.
    """
    days: list[list[str]] = []
    for clause in _CLAUSES.split(m.mended):
        if _begins_a_day(m.again(clause)):
            days.append([clause])
        elif days:
            days[-1].append(clause)
        else:
            return None
    told = [_day(m.again(", ".join(day))) for day in days[:_MOST_DAYS]]
    if len(told) < 2 or len({dive.on for dive in told}) < len(told):
        return None
    waters = {dive.water for dive in told if dive.water}
    shared = {"water": next(iter(waters))} if len(waters) == 1 else {}
    head, *others = (dive.model_copy(update=shared) for dive in told)
    return head.model_copy(update={"also": tuple(others)})


def _begins_a_day(clause: Message) -> bool:
    return clause.past.on is not None and _count(clause) is not None


def _count(clause: Message) -> int | None:
    """Return the number of dives of a clause in which "dives" may go without saying."""
    q = clause.quantities()
    return q.dives if q.dives is not None else bare_count(clause.past.rest)


def _day(day: Message) -> LogDive:
    read = build_dive(day, day.quantities(), corrects=False)
    return read if read.dives is not None else read.model_copy(update={"dives": _count(day)})


def read_water(m: Message) -> Water | None:
    """Take the last kind of water where a correction names two ("not salt, fresh"), else the first."""
    if (thought := _SECOND_THOUGHT.search(m.plain)) and (better := m.again(m.plain[thought.end() :]).waters):
        return first(better)
    denied = _NOT_THERE.search(m.plain)
    told = m.again(m.plain[: denied.start()] + " " + m.plain[denied.end() :]).waters if denied else m.waters
    if denied and told:
        return first(told)
    if Water.POOL in m.waters:
        return Water.POOL
    if Water.BRACKISH in m.waters:
        return Water.BRACKISH
    return first(m.waters)


def _conditions(m: Message) -> tuple[Condition, ...]:
    found = set(m.conditions)
    if re.search(r"\bno (?:sand|silt|surf|ice|oil|waves)\b", m.plain):
        found -= {c for c in found if re.search(rf"\bno {c.value}\b", m.plain)}
    return tuple(c for c in Condition if c in found)
