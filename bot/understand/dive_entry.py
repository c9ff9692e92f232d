"""Reads the entry of the log that a message tells of: how deep, how long, in what, with what."""

import re

from bot.understand.dates import OLDEST
from bot.understand.dive_kit import read_kit
from bot.understand.fitness import read_unfit_on_dive
from bot.understand.happenings import read_happenings
from bot.understand.intents import LogDive, RecordCare
from bot.understand.message import Message, first
from bot.understand.quantities import MOST_DIVES, Quantities, SenselessError
from store.vocabulary import Condition, Water

_NOT_THERE = re.compile(
    r"\b(?:not|wasn't|wasnt|isn't|no)\s+(?:in |at )?(?:the |a )?(?:salt(?:water)?|fresh(?:water)?|sea|ocean|lake|quarry|pool|river|brackish)(?: water)?\b"
)
_SECOND_THOUGHT = re.compile(r"\b(?:no,? wait|wait,? no|scratch that|i mean|or rather|actually)\b")


NOT_SO = re.compile(
    r"(?<![\s,;(-])[\s,;(-]++(?:and )?(?:not|instead of|rather than)\s+(?:just |only |in |at )*(?:\d{1,3}(?:[.,]\d)?|one|two|three|four|five|six|salt\w*|fresh\w*|sea|lake|pool|brackish)"
    r"\s*(?:dives?|m|met(?:er|re)s?|min\w*|water|degrees?|c|ft|feet)?(?: (?:as|like) i (?:said|wrote|logged|told you))?\s*[.!)]*$"
)
"""What a figure is said not to be: "3 dives, not 2"."""


def without_denied(m: Message) -> Message:
    """Return the message without the figure that it says was wrong."""
    denied = NOT_SO.search(m.mended)
    return m.again(m.mended[: denied.start()]) if denied and re.search(r"\d", denied.group()) else m


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
    kit = read_kit(m)
    return LogDive(
        dives=None if corrects and q.unnumbered else q.dives,
        on=on,
        water=read_water(m),
        max_depth_m=q.max_depth_m,
        duration_min=q.duration_min,
        min_temp_c=min(q.temps_c, default=None),
        o2_fraction=q.o2_fraction,
        conditions=_conditions(m),
        items=kit.items,
        without=kit.without,
        only=kit.only,
        corrects=corrects,
        happened=() if corrects else _happened(m),
    )


def _happened(m: Message) -> tuple[RecordCare, ...]:
    """Return what befell the kit on the dive, nothing of it twice."""
    told = read_happenings(m)
    known = {(one.happened, one.item) for one in told}
    return (*told, *(one for one in read_unfit_on_dive(m) if (one.happened, one.item) not in known))


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
