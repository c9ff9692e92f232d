"""Reads dives and corrections of the last one, trips, and how far off a reminder should be."""

import re

from bot.understand.counts import count_of
from bot.understand.dates import OLDEST
from bot.understand.intents import LogDive, PlanTrip, Snooze
from bot.understand.message import Message, first
from bot.understand.quantities import MOST_DIVES, Quantities, SenselessError
from bot.understand.vocabulary import NUMBERS
from store.vocabulary import Condition, Water

_NUMBER = r"\d{1,3}|" + "|".join(sorted(NUMBERS, key=len, reverse=True))
_DIVED = re.compile(
    r"\b(?:dives?|dived|dove|diving|dip|dips|dunk|splash|bimble|snorkel|freedive|freediving|logged|log|bottom time|penetration|session|sessions|deco dive)\b",
)
_STRONG = re.compile(
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
    r"\b(?:cancell?ed|called off|blown out|no dives?|no diving|(?:didn't|did not|didnt|couldn't|could not) (?:get to )?dive|was off|got scrubbed|postponed)\b"
)
_HOW_LONG = re.compile(rf"\b({_NUMBER}) (?:more )?(day|week|month)s?\b(?! ago)")
_TRIP = re.compile(
    r"\b(?:trip|holiday|vacation|liveaboard|expedition|safari|travelling|traveling|going to|off to|away|dive week|course week|plan)\b"
)
_SNOOZE = re.compile(
    r"^(?:please )?(?:snooze|later|not now|remind me|postpone|in a bit|ask me|tomorrow|nag me|leave it|wait|hold|delay|push|put (?:it|that|this) off|not today|maybe later)\b|\bsnooze\b|\bremind me (?:again )?(?:later|in|on|tomorrow|next)\b|\bpostpone\b"
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
        return _dive(m, q, corrects=True)
    told = bool(_STRONG.search(m.plain)) or bool(m.past.on)
    places = waters or bool(m.conditions)
    if (
        (dived and (figures or told or places))
        or (figures >= 2)
        or (figures and places)
        or (figures and told and m.kinds)
        or (counted and told and (places or m.kinds))
    ):
        return _dive(m, q, corrects=False)
    return None


def _dive(m: Message, q: Quantities, *, corrects: bool) -> LogDive:
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
        water=_water(m),
        max_depth_m=q.max_depth_m,
        duration_min=q.duration_min,
        min_temp_c=min(q.temps_c, default=None),
        o2_fraction=q.o2_fraction,
        conditions=_conditions(m),
        items=tuple(i for i in m.item_mentions if i not in ashore),
        without=ashore,
        corrects=corrects,
    )


def _water(m: Message) -> Water | None:
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


def read_trip(m: Message) -> PlanTrip | None:
    """Read a planned trip: dates ahead, dives, water, temperatures."""
    if not _TRIP.search(m.plain) and m.future.span is None:
        return None
    q = m.quantities("future")
    span = m.future.span
    start = span[0] if span else m.future.on
    if not _TRIP.search(m.plain) and not (q.dives or m.waters or q.temps_c):
        return None
    if start is None and not re.search(r"\btrip\b", m.plain):
        return None
    if span is None and _STRONG.search(m.plain) and (start is None or start <= m.today):
        return None
    if start is not None and (span[1] if span else start) < m.today:
        raise SenselessError(f"{start:%d %B %Y} lies behind us: give a trip ahead, or log its dives.")
    temps = q.temps_c
    return PlanTrip(
        from_on=start,
        to_on=span[1] if span else m.future.later,
        dives=q.dives,
        water=_water(m),
        min_temp_c=min(temps, default=None),
        max_temp_c=max(temps) if len(temps) > 1 else None,
    )


def read_snooze(m: Message) -> Snooze | None:
    """Read a wish to be reminded later: by days or until a date; both None means "pick for me"."""
    if not _SNOOZE.search(m.plain):
        return None
    if (length := _HOW_LONG.search(m.plain)) and m.future.days is None:
        days = count_of(length.group(1)) * {"day": 1, "week": 7, "month": 30}[length.group(2)]
        return Snooze(days=days, item=first(m.item_mentions))
    if m.future.days is not None:
        return Snooze(days=m.future.days, item=first(m.item_mentions))
    return Snooze(until=m.future.on, item=first(m.item_mentions))
