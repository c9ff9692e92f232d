"""Reads where the diver is or lives, for the zone of the reminders and the law of the tests."""

import re

from bot.understand.intents import SetPreference
from bot.understand.message import Message
from bot.understand.places import region_of, zone_of_offset, zone_of_place, zones
from bot.understand.quantities import SenselessError

_ZONE = re.compile(r"\b(?:time ?zone|zone|tz)\b")
_ZONE_NAME = re.compile(r"\b([A-Za-z]+(?:/[A-Za-z_+\-0-9]+){1,2}|UTC|GMT)\b")
_REGION_SET = re.compile(
    r"\b(?:i live (?:in|on)|i am in|i'm in|im in|we are in|my country is|country|region|my region is|based in|living in)\b"
)
_HERE = re.compile(
    r"^(?:hi|hello|hey|ok|so|now|and|just)?[\s,]*(?:(?:i'm|im|we're|were|i|we|have|has|just|back|now|currently|am|are|being|will be|safely|on the road|travelling|traveling|abroad|away)[\s,]+)*"
    r"(?P<how>in|at|landed in|landed at|arrived in|arrived at|got to|flew to|moved to|relocated to|live in|live on|living in|living on|based in|home in|staying in|touched down in)\s+"
    r"(?P<place>[a-z' .-]{2,40}?)(?:,\s*(?P<land>[a-z' ]{2,30}?))?(?:\s+(?:now|currently|today|again|at the moment|from now on))*(?:\s+since .*|(?P<while>(?:\s+(?:this week|next week|for \w+ \w+))*(?:\s+(?:until|till) .*)?))[\s.!]*$"
)
_TIME_WORDS = frozenset(
    "i am i'm im we are we're use set switch put me show my the our clock time is to on it in now please".split()
)
_MOST_WORDS = 3
"""Words of the longest name of a place."""


def read_whereabouts(m: Message) -> SetPreference | None:
    """Read a zone by name, a city for its zone, a country for its law; None if none is spoken of.

    SenselessError for a zone that does not exist.
    """
    if (_ZONE.search(m.plain) or _BY_OFFSET.match(m.text)) and (offset := zone_of_offset(m.text)):
        return SetPreference(zone=offset)
    if _ZONE.search(m.plain) or re.fullmatch(r"\s*[A-Za-z]+/[A-Za-z_/]+\s*", m.raw):
        return SetPreference(zone=_zone(m.raw))
    if read := _by_time(m.text) or _by_place(m):
        return read
    region = region_of(m.plain) if _REGION_SET.search(m.plain) else None
    if region:
        return SetPreference(region=region)
    home = _HOME.match(m.text)
    if home and (zone := zone_of_place(home["place"])):
        return SetPreference(zone=zone)
    if home and not m.item_mentions and not m.parts:
        raise SenselessError(
            f"I know neither the law nor one single zone of {home['place'].strip().title()}. For the hour of reminders say a city or a zone: zone Asia/Tokyo."
        )
    return None


_BY_OFFSET = re.compile(
    r"^(?:(?:i am|i'm|im|we are|we're|use|set|switch|put|me|us|my|our|the|clock|time|to|on|in|is|it|now|at|please|go|by) )*(?:utc|gmt)\s*[+-]"
)
_HOME = re.compile(
    r"^(?:(?:hi|hey|and|now|so|ok) )*(?:(?:i|we) (?:live|am living|are living) (?:in|on)|(?:my |our )?(?:country|region)(?: is|:)?)\s+(?P<place>(?!a\b|an\b|the (?!us|uk|states|netherlands|philippines|bahamas|maldives)\w|my\b|fear\b|hope\b)[a-z' .,-]{2,40}?)[\s.!]*$"
)


_USE_TIME = re.compile(
    r"\b(?:use|switch(?: me| over)?(?: to| on to)?|set(?: me| the clock| my clock| it)?(?: to| on)|put me on|go(?: by| on| with)|change(?: me)?(?: it)? to|show(?: me)?(?: things| it| all)? in|i am on|i'm on|im on|we are on|we're on|now on|is now) (?:the )?(?P<time>[a-z' ]{2,40}? time)\b(?![a-z' ]*\d)"
)


_LAST_CLAUSE = re.compile(r"[,;.] (?P<time>[a-z' ]{2,40} time)[\s.!]*$")
_SET_CLOCK = re.compile(
    r"\b(?:set|change|switch|move|put)(?: my| the| your| me)* (?:clock|time|times)(?: zone)? (?:to|on) (?P<place>[a-z' ]{2,30}?)(?: time)?(?: (?:now|please|for|until|till|from)\b.*)?[\s.!]*$"
)


def _by_time(text: str) -> SetPreference | None:
    """Read "my time is Auckland time"."""
    if told := _SET_CLOCK.search(text):
        return SetPreference(zone=zone) if (zone := zone_of_place(told["place"])) else None
    if told := _USE_TIME.search(text) or _LAST_CLAUSE.search(text):
        text = told["time"]
    *before, last = text.strip(" .!").split() or [""]
    if last != "time":
        return None
    for size in range(min(_MOST_WORDS, len(before)), 0, -1):
        zone = zone_of_place(" ".join(before[-size:]))
        if zone and set(before[:-size]) <= _TIME_WORDS:
            return SetPreference(zone=zone)
    return None


def _by_place(m: Message) -> SetPreference | None:
    """Read "we are in Lisbon now"; passing through a country says nothing of where kit is tested."""
    here = _HERE.match(m.text)
    if here is None or m.item_mentions or m.parts:
        return None
    zone = zone_of_place(here["place"])
    region = region_of(" ".join(filter(None, (here["place"], here["land"]))))
    passing = here["how"] in _PASSING or (bool(here["while"]) and zone is not None)
    if passing:
        region = None
    return SetPreference(zone=zone, region=region) if zone or region else None


_PASSING = frozenset(
    {"at", "landed in", "landed at", "arrived in", "arrived at", "got to", "flew to", "touched down in"}
)


def _zone(raw: str) -> str:
    """Return the IANA name for a zone or a city said in the message."""
    names = zones()
    if (m := _ZONE_NAME.search(raw)) and m.group(1).casefold() in names:
        return names[m.group(1).casefold()]
    tail = (
        re.split(r"\b(?:time ?zone|zone|tz|is|to|in|=)\b|:", raw, flags=re.IGNORECASE)[-1]
        .strip(" .!?\"'")
        .casefold()
    )
    if known := names.get(tail) or zone_of_place(tail):
        return known
    raise SenselessError(
        "I do not know that zone. Say it like: zone Europe/Berlin, or zone America/New_York."
    )
