"""Reads wishes about the bot itself: zone, hours, units, country."""

import re
from datetime import time
from functools import lru_cache
from zoneinfo import available_timezones

from bot.understand.intents import SetPreference
from bot.understand.lexicon import lexicon
from bot.understand.message import Message
from bot.understand.quantities import SenselessError
from bot.understand.text import words
from store.catalogue import CATALOGUE
from store.vocabulary import Region, Units

_ZONE = re.compile(r"\b(?:time ?zone|zone|tz)\b")
_ZONE_NAME = re.compile(r"\b([A-Za-z]+(?:/[A-Za-z_+\-0-9]+){1,2}|UTC|GMT)\b")
_CLOCK = r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am|pm|o'clock)?"
_QUIET = re.compile(
    rf"\b(?:quiet(?: hours?| time)?|no (?:messages?|reminders?|pings?)|do not disturb|don'?t (?:disturb|message|write|ping|bother|text)|silence|silent|leave me alone)\b.*?{_CLOCK}\s*(?:to|-|until|till|and)\s*{_CLOCK}"
)
_DIGEST = re.compile(
    rf"\b(?:digest|reminders?|remind me|message me|ping me|notify me|summary|daily)\b.*?\bat\s+{_CLOCK}\b|\b(?:digest|reminder|summary)(?: hour| time)?\b(?: to| is|:)?\s+{_CLOCK}\b"
)
_UNITS = re.compile(r"\b(metric|imperial|feet|fahrenheit|metres|meters|celsius)\b")
_UNITS_SET = re.compile(r"\b(?:units?|use|switch to|in|prefer|show)\b")
_REGION_SET = re.compile(
    r"\b(?:i live in|i am in|i'm in|im in|we are in|my country is|country|region|my region is|based in|living in)\b"
)
_REGIONS: dict[str, Region] = {
    "united states": Region.US, "usa": Region.US, "us": Region.US, "america": Region.US,
    "canada": Region.CANADA,
    "united kingdom": Region.UK, "uk": Region.UK, "britain": Region.UK, "england": Region.UK, "scotland": Region.UK, "wales": Region.UK, "great britain": Region.UK, "northern ireland": Region.UK,
    "germany": Region.GERMANY, "deutschland": Region.GERMANY,
    "switzerland": Region.SWITZERLAND,
    "australia": Region.AUSTRALIA,
    "new zealand": Region.NEW_ZEALAND, "nz": Region.NEW_ZEALAND,
    "south africa": Region.SOUTH_AFRICA,
    "european union": Region.EU, "eu": Region.EU,
}  # fmt: skip
_EU = frozenset(
    "austria belgium bulgaria croatia cyprus czechia denmark estonia finland france greece hungary ireland italy latvia lithuania luxembourg malta netherlands poland portugal romania slovakia slovenia spain sweden norway iceland".split()
)


_FORGET_WORD = re.compile(
    r"^(?:forget|drop|unlearn)(?: the word| what)? (?P<word>[\w' -]{2,30}?)(?: means| is)?$"
)
_MEANS = re.compile(
    r"^(?:my |the |our )?(?P<word>[\w' -]{2,30}?) (?:is|means|stands for|=|is made of|contains) (?:just |really |a |an |the |my )*(?P<rest>.{3,80})$"
)
_CALL = re.compile(
    r"^(?:i |we )?call (?:the |my |our )?(?P<rest>.{3,60}?) (?:the |a |my )?(?P<word>[\w'-]{2,30})$"
)


_NOT_NAMES = frozenset(
    "tube bottle jar tin label product answer thing choice lid box shop stuff tank ring same".split()
)


def _is_free(word: str) -> bool:
    """Tell whether a word can become the diver's own: one plain word that means nothing here, or words nobody knows."""
    said = words(word)
    if len(said) == 1:
        return not lexicon().is_of_the_trade(word) and word not in _NOT_NAMES
    return not any(lexicon().knows(w) for w in said)


def read_own_word(m: Message) -> SetPreference | None:
    """Read what a word of the diver's own stands for, or that it is to be forgotten; words of the trade are not taken."""
    known = {own.word for own in m.own}
    if (gone := _FORGET_WORD.match(m.text)) and gone.group("word").strip() in known:
        return SetPreference(word=gone.group("word").strip(), forget=True)
    told = _MEANS.match(m.text) or _CALL.match(m.text)
    if told is None or "?" in m.raw:
        return None
    word = told.group("word").strip()
    if word not in known and not _is_free(word):
        return None
    rest = m.again(told.group("rest"))
    if rest.substances:
        return SetPreference(word=word, substance=rest.substances[0][2])
    if len(rest.parts) == 1 or (
        rest.parts and len({CATALOGUE[r.item].part(r.part).name for r in rest.parts}) == 1
    ):
        return SetPreference(word=word, part=next(iter(rest.parts)))
    return None


def read_preference(m: Message) -> SetPreference | None:
    """Read one preference; None if none is spoken of. SenselessError for hours or zones that do not exist."""
    if quiet := _QUIET.search(m.text):
        hours = quiet.groups()
        return SetPreference(quiet_from=_clock(*hours[:3]), quiet_to=_clock(*hours[3:]))
    if _ZONE.search(m.plain) or re.fullmatch(r"\s*[A-Za-z]+/[A-Za-z_/]+\s*", m.raw):
        return SetPreference(zone=_zone(m.raw))
    if (digest := _DIGEST.search(m.text)) and m.future.on is None:
        found = digest.groups()
        return SetPreference(digest_at=_clock(*(found[:3] if found[0] else found[3:])))
    if _REGION_SET.search(m.plain) and (region := _region(m.plain)):
        return SetPreference(region=region)
    units = _UNITS.search(m.plain)
    if (
        units
        and (_UNITS_SET.search(m.plain) or len(m.said) == 1)
        and (len(m.said) <= 9 or "from now on" in m.plain)
        and not re.search(r"\d", m.text)
    ):
        imperial = units.group(1) in {"imperial", "feet", "fahrenheit"}
        return SetPreference(units=Units.IMPERIAL if imperial else Units.METRIC)
    return None


def _clock(hour: str, minute: str | None, half: str | None) -> time:
    h, m = int(hour), int(minute or 0)
    if half == "pm" and h < 12:
        h += 12
    if half == "am" and h == 12:
        h = 0
    if h == 24 and m == 0:
        h = 0
    if not (0 <= h < 24 and 0 <= m < 60):
        raise SenselessError(f"{hour}:{minute or '00'} is no time of day: 18:00 or 7 pm works.")
    return time(h, m)


@lru_cache(maxsize=1)
def _zones() -> dict[str, str]:
    zones = available_timezones()
    names = {z.casefold(): z for z in zones}
    for z in sorted(zones):
        if "/" in z and not z.startswith(("Etc/", "SystemV/", "US/")):
            names.setdefault(z.rsplit("/", 1)[1].replace("_", " ").casefold(), z)
    return names


def _zone(raw: str) -> str:
    """Return the IANA name for a zone or a city said in the message."""
    names = _zones()
    if (m := _ZONE_NAME.search(raw)) and m.group(1).casefold() in names:
        return names[m.group(1).casefold()]
    tail = re.split(r"\b(?:zone|tz|is|to|in|=)\b|:", raw, flags=re.IGNORECASE)[-1].strip(" .!?\"'").casefold()
    if tail in names:
        return names[tail]
    raise SenselessError(
        "I do not know that zone. Say it like: zone Europe/Berlin, or zone America/New_York."
    )


def _region(text: str) -> Region | None:
    padded = f" {text} "
    for name, region in _REGIONS.items():
        if f" {name} " in padded or f" the {name} " in padded:
            return region
    return Region.EU if any(f" {name} " in padded for name in _EU) else None
