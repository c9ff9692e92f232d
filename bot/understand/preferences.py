"""Reads wishes about the bot itself: reminders, hours, units, words of the diver's own; zone and country stand beside."""

import re
from datetime import time

from bot.understand.intents import SetPreference
from bot.understand.lexicon import lexicon
from bot.understand.message import Message
from bot.understand.quantities import SenselessError
from bot.understand.text import words
from bot.understand.vocabulary import NUMBERS
from bot.understand.whereabouts import read_whereabouts
from store.catalogue import CATALOGUE
from store.vocabulary import Units

_CLOCK = r"(\d{1,2})(?:[:.h](\d{2}))?\s*(am\b|pm\b|o'clock(?! in the)|(?:o'clock )?in the (?:morning|afternoon|evening)|at night)?"
_QUIET = re.compile(
    rf"\b(?:quiet(?: hours?| time)?|no (?:messages?|reminders?|pings?)|do not disturb|don'?t (?:disturb|message|write|ping|bother|text)|silence|silent|leave me alone)\b.{{0,60}}?{_CLOCK}\s*(?:to|-|until|till|and)\s*{_CLOCK}"
)
_DIGEST = re.compile(
    rf"\b(?:digest|reminders?|remind me|message me|ping me|notify me|summary|daily)\b.{{0,60}}?\bat\s+{_CLOCK}\b|\b(?:digest|reminder|summary)(?: hour| time)?\b(?: to| is|:)?\s+{_CLOCK}\b"
)
_DIGEST_WORD = re.compile(
    r"\b(?:digest|reminders?|remind me|message me|ping me|notify me|summary|daily)\b[^?]{0,60}?\b(?:at|to|is|around)? ?(noon|midday|midnight)\b"
)
_UNITS = re.compile(r"\b(metric|imperial|feet|fahrenheit|metres|meters|celsius)\b")
_UNITS_SET = re.compile(r"\b(?:units?|use|switch to|in|prefer|show)\b")
_REMINDERS = (
    r"(?:reminders?|reminding(?: me)?|notifications?|notices|nagging|nagging me|pings|pinging me|messages)"
)
_REMINDERS_OFF = re.compile(
    rf"(?:please |pls |ok |no )*(?:(?:turn|switch|shut) off(?: the| my| all| these)* {_REMINDERS}|(?:turn|switch|shut)(?: the| my| all)* {_REMINDERS} off"
    rf"|(?:stop|no more|mute|pause|disable|no|end|kill|cancel)(?: sending| the| my| all| me| with| your| these| any)* {_REMINDERS}|{_REMINDERS} (?:off|no)"
    rf"|(?:do not|don't|dont|stop|never) (?:remind(?:ing)?|nag(?:ging)?) me|i (?:do not|don't|dont) want(?: any)?(?: more)? {_REMINDERS})(?: please| any ?more| at all| now| to me| altogether| for good)*"
)
_REMINDERS_ON = re.compile(
    rf"(?:please |pls |ok )*(?:(?:turn|switch) (?:back )?on(?: the| my| all)* {_REMINDERS}|(?:turn|switch)(?: the| my| all)* {_REMINDERS} (?:back )?on"
    rf"|(?:start|resume|enable|unmute|restart)(?: sending| the| my| all)* {_REMINDERS}|{_REMINDERS} (?:back |are )?on|{_REMINDERS} (?:back|again)|start reminding me|remind me again|i (?:do )?want(?: my| the)? {_REMINDERS})(?: again| please| pls| now| back)*"
)
_QUIET_OFF = re.compile(
    r"(?:please |pls |ok )*(?:(?:no(?: more)?|stop|remove|end|delete|clear|cancel|disable|turn off|switch off)(?: the| my| all)* quiet(?: hours?| times?)|(?:turn |switch )?(?:the |my )?quiet(?: hours?| times?)(?: are| is)? (?:off|none|over|gone|no))(?: please| any ?more)*"
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
    return _switched(m.plain) or _hours(m) or read_whereabouts(m) or _units(m)


_HOURS = {
    name: n
    for name, n in NUMBERS.items()
    if len(name) > 2 and name not in {"couple", "pair", "dozen", "both", "another", "twice", "once"}
}
_HOUR = rf"(?P<hour>\d{{1,2}}|{'|'.join(_HOURS)})"
_SPOKEN = re.compile(
    rf"\b(?P<part>half past|half|quarter past|quarter after|(?:a )?quarter to|quarter till|(?<=at )(?:5|10|20|25|five|twenty) (?:past|to)) {_HOUR}\b(?![:.]?\d)"
)
_WORD_HOUR = re.compile(
    rf"\b(?P<lead>at|from|to|until|till|between|and|around|about) (?P<hour>{'|'.join(_HOURS)})\b(?! (?:days?|weeks?|months?|dives?))"
)


def _in_figures(text: str) -> str:
    """Write a time said in words as figures: "half past seven" is 7:30."""
    return _WORD_HOUR.sub(lambda w: f"{w['lead']} {_HOURS[w['hour']]}", _SPOKEN.sub(_spoken, text))


def _spoken(said: re.Match[str]) -> str:
    hour = int(said["hour"]) if said["hour"].isdigit() else _HOURS[said["hour"]]
    part = said["part"].removeprefix("a ")
    count = {"half": 30, "quarter": 15}.get(part.split()[0])
    minutes = (
        (_HOURS.get(part.split()[0]) or int(part.split()[0].replace("twenty", "20")))
        if count is None
        else count
    )
    if part.endswith((" to", " till")):
        hour, minutes = (hour - 1) % 24 or 12, 60 - minutes
    return f"{hour}:{minutes:02}" if 0 <= minutes < 60 else said.group()


def _hours(m: Message) -> SetPreference | None:
    m = m.again(_in_figures(m.text))
    if quiet := _QUIET.search(m.text):
        hours = quiet.groups()
        return SetPreference(quiet_from=_clock(*hours[:3]), quiet_to=_clock(*hours[3:]))
    if (digest := _DIGEST.search(m.text)) and m.future.on is None:
        found = digest.groups()
        return SetPreference(digest_at=_clock(*(found[:3] if found[0] else found[3:])))
    return _digest_in_words(m)


def _units(m: Message) -> SetPreference | None:
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
    half = half or ""
    late = half == "pm" or half.endswith(("evening", "afternoon")) or (half == "at night" and h > 4)
    if late and h < 12:
        h += 12
    elif half in {"am", "at night"} and h == 12:
        h = 0
    if h == 24 and m == 0:
        h = 0
    if not (0 <= h < 24 and 0 <= m < 60):
        raise SenselessError(f"{hour}:{minute or '00'} is no time of day: 18:00 or 7 pm works.")
    return time(h, m)


def _switched(text: str) -> SetPreference | None:
    """Read reminders or quiet hours switched on or off altogether."""
    if _REMINDERS_OFF.fullmatch(text):
        return SetPreference(reminders=False)
    if _REMINDERS_ON.fullmatch(text):
        return SetPreference(reminders=True)
    never = time(0)
    return SetPreference(quiet_from=never, quiet_to=never) if _QUIET_OFF.fullmatch(text) else None


def _digest_in_words(m: Message) -> SetPreference | None:
    named = _DIGEST_WORD.search(m.text)
    if named is None or m.future.on is not None or m.item_mentions or m.parts:
        return None
    return SetPreference(digest_at=time(12 if named.group(1) in {"noon", "midday"} else 0))
