"""Reads a wish to see the dives logged, and changes of an entry named by its day: put right, moved, taken back."""

import re
from datetime import date

from bot.understand.dates import MONTH, read_date_here
from bot.understand.dive_entry import NOT_SO, build_dive, without_denied
from bot.understand.intents import LogDive, ShowKit
from bot.understand.message import Message
from bot.understand.quantities import SenselessError

_SHOW_LOG = re.compile(
    r"(?:(?:please|pls|can you|could you|can i|could i|show|list|see|view|display|open|tell|what's|whats|what is|what are|me|us|in|all|of) )*"
    r"(?:(?:my|the|our|all|logged|(?:last|latest|recent|previous|past)(?: few| \d+| ten| five| three| two)?) )*"
    r"(?:dives|dive (?:log|list|history|book|entries)|log ?book|(?<=my )log|(?<=the )log|(?<=show )log)(?: so far| please| pls| again| list| for me| now| thanks| thx| you have| i (?:put in|logged|entered|have))*"
    r"|(?:what|which) (?:dives )?(?:did|have) i (?:dived?|logged?|done)(?: so far| lately| recently)?"
    r"|(?:show|see)(?: me)?(?: my| the)? last dive|(?:my |the )?last dive"
)


_ASKS_LOG = re.compile(
    r"^(?:(?:hi|hey|ok|please|pls|so|and) )*(?:"
    r"(?:which|what) dives (?:have|do|did|are|were|has) (?:you|i|we|it|in|there|on|stored|logged)\b"
    r"|(?:(?:can|could|may|let|want|like|would|i|i'd|we|me|you|to|please|just) )*(?:see|look at|view|show|have a look at|check|browse|read|list|get a list of)(?: me| us)?(?: all| of| the| my| our| list)* (?:\w+ ){0,2}?(?:dives|dive log|dive list|dive history|log ?book)\b"
    r"|(?:what's|what is|whats|what do you have) in (?:my|the|our) (?:dive )?log(?: ?book)?\b"
    r"|(?:what|which|how many) (?:dives )?(?:did|have) (?:i|we) (?:log|logged|put in|enter|entered|tell you|told you)\b"
    r")(?!.*\b(?:left|until|till|due|before|needs?|last service|computer|light|kit|trip|plan\w*|should|pack)\b)[\w' ]{0,60}$"
)


def read_log(m: Message) -> ShowKit | None:
    """Read a wish to see the dives logged: "show my dives", "dive log", "which dives have you got"."""
    asked = _SHOW_LOG.fullmatch(m.plain) or (
        _ASKS_LOG.search(m.plain) and not m.item_mentions and not m.parts
    )
    return ShowKit(dives=True) if asked else None


_DIVE = (
    r"(?:dives?|dips?|dive's|entry|entries)\b"
    r"(?! (?:pool|tank|computer|bag|knife|light|torch|site|shop|boat|club|trip|holiday|gear|kit|reel|watch|skin)s?\b)"
)
_BETWEEN = (
    r"(?: (?:the|my|our|that|this|a|an|one|all|both|last|latest|wrong|extra|first|second|third|logged|log|entry|entries|for|of|from|on"
    rf"|[a-z]+day(?:'?s)?|(?:sat|sun|mon|tue|wed|thu|fri)|morning(?:'?s)?|evening(?:'?s)?|\d\w*|{MONTH}))*"
)
_REMOVES = re.compile(
    rf"^(?:(?:please|pls|hi|hey|no|nope|sorry|ok|oops|so|and|just|actually|wrong|wait|but|don't|dont|do|not|never|to|i|we|want|need|have|would|like) )*"
    rf"(?:delete|remove|erase|forget|scrap|scratch|cancel|wipe|strike|get rid of|take out|take off)\b{_BETWEEN} {_DIVE}"
)
_NEVER_WAS = re.compile(
    rf"\b(?:no {_DIVE}|(?:did not|didn't|didnt|haven't|never) (?:dived?|do (?:a|any|the) {_DIVE})|{_DIVE})[^?]{{0,120}}?\b(?:after all|never happened|did not happen|didn't happen|didnt happen)\b"
    rf"|\bthere (?:was|were) no {_DIVE}"
)
_KEEPS = re.compile(r"\b(?:don't|dont|do not|never|not) (?:delete|remove|erase|scrap|cancel|wipe|strike)\b")
_ALL_OR_NUMBERED = re.compile(
    r"\b(?:all|every|both|my|these|those) (?:of )?(?:my |the |logged )?dives\b|\bdive (?:no |nr |number |# ?)?\d+\b(?! (?:june|may))|\b\d+ dives\b|\b(?:dive )?log(?: ?book)?\b"
)
_OF_DAY = re.compile(
    rf"^(?P<lead>(?:no|nope|sorry|actually|oops|wait|wrong day|correction|please|move|change|correct|shift|put|set|fix|edit|date of|the|my|our|that|those|all|i said|said)[\s,:]+){{0,8}}"
    rf"(?:{_DIVE}\s+(?:logged\s+)?(?:for|on|of|from|in)?\s*(?P<after>.+)|(?P<before>.+?)(?:'s|s)?\s+{_DIVE}(?P<tail>.*))$"
)
_CHANGE_VERB = re.compile(r"^(?:\w+[\s,:]+){0,3}?(?:move|change|correct|shift|put|set|fix|edit)\b")
_SAID_OF_IT = re.compile(
    r"^\W*(?:was|were|is|had|should be|should have been|must be|must have been)\b\s*(?:really |actually |in fact |only )*(?P<what>.+)$"
)
_CHANGED_TO = re.compile(r"^[\s;]*(?:to\b|[:,=]|->)\s*(?P<what>.+)$")
_NTH = re.compile(r"(?:on )?(?:the )?(\d{1,2})(?:st|nd|rd|th)\b")


def read_dive_change(m: Message) -> LogDive | None:
    """Read that an entry is to go, or that the entry of a day is to be put right or moved to another day.

    SenselessError where no single entry is meant.
    """
    return _removed(m) or _of_day(m) or _of_last(m) or _moved(m) or _contrasted(m)


def _removed(m: Message) -> LogDive | None:
    denied = _NEVER_WAS.search(m.plain) and not re.search(r"\b(?:going to|will|won't|gonna)\b", m.plain)
    if not (denied or _REMOVES.search(m.plain)) or m.item_mentions:
        return None
    if _KEEPS.search(m.plain):
        raise SenselessError("Then it stays: nothing was changed.")
    on = m.past.on
    if denied and on is None:
        return None
    if on is None and (_ALL_OR_NUMBERED.search(m.plain) or re.search(r"\d", m.text)):
        raise SenselessError("I take back one entry at a time, by its day: delete the dive of 12 May.")
    if on is not None and on > m.today:
        raise SenselessError(f"{on:%d %B %Y} lies ahead: no dive of that day is logged.")
    return LogDive(corrects=True, removes=True, was_on=on)


def _of_day(m: Message) -> LogDive | None:
    text = without_denied(m).mended
    if changes := bool(_CHANGE_VERB.match(m.plain)):  # else "12 May to 13 May" would be a span of days
        text = text.replace(" to ", " ; to ", 1)
    told = _OF_DAY.match(text)
    if told is None:
        return None
    was = read_date_here(told["after"] or told["before"], m.today, "past")
    if was is None or was.on is None or was.on > m.today:
        return None
    rest = was.rest if told["after"] else (told["tail"] if not was.rest.strip(" '") else "")
    said = _SAID_OF_IT.match(rest) or (_CHANGED_TO.match(rest) if changes else None)
    if said is None:
        return None
    begins = said["what"].split(",")[0]
    return _corrected(m.again(said["what"]), was.on) if _corrected(m.again(begins), was.on) else None


def _of_last(m: Message) -> LogDive | None:
    told = _LAST.match(without_denied(m).mended)
    said = _SAID_OF_IT.match(told["rest"]) if told else None
    return _corrected(m.again(said["what"]), None) if said else None


_LAST = re.compile(rf"^(?:the |my |our |no |sorry |actually )*(?:last|latest) {_DIVE}(?P<rest>.+)$")


def _corrected(m: Message, was_on: date | None) -> LogDive | None:
    """Read what is true of the entry of a day; None if nothing is said that it could hold."""
    if was_on and (nth := _NTH.fullmatch(m.mended.strip(" .!"))):
        return LogDive(corrects=True, was_on=was_on, on=_same_month(was_on, int(nth.group(1))))
    read = build_dive(m, m.quantities(), corrects=True).model_copy(update={"was_on": was_on})
    return read if read != LogDive(corrects=True, was_on=was_on) else None


def _same_month(day: date, number: int) -> date:
    try:
        return day.replace(day=number)
    except ValueError as error:
        raise SenselessError(f"{day:%B} has no {number}: try 12 June.") from error


_WAS = r"(?:was|were|is|happened|took place|should be|should have been)"
_NOT_THAT_DAY = re.compile(
    rf"^(?P<lead>.*?\b{_DIVE} {_WAS} (?:really |actually |in fact )*)(?:on )?(?P<on>.+?)[\s,;]+(?:and )?not (?:on )?(?P<was>[^,;]+)$"
)


def _moved(m: Message) -> LogDive | None:
    """Read "the dive was on Saturday, not Sunday"."""
    told = _NOT_THAT_DAY.match(m.mended.strip(" .!"))
    if told is None:
        return None
    on, was = (read_date_here(told[name], m.today, "past") for name in ("on", "was"))
    if on is None or was is None or on.rest.strip(" ,") or was.rest.strip() or was.on is None:
        return None
    return _corrected(m.again(told["on"]), was.on)


_LEAD = re.compile(r"^(?:no|nope|sorry|oops|wait|actually|correction|wrong|hm+|ah|oh|pls|please)[\s,:]+")


def _contrasted(m: Message) -> LogDive | None:
    """Read "on Sunday it was 3 dives, not 2" as putting that day's entry right."""
    denied = NOT_SO.search(m.mended)
    if denied is None or m.tasks:
        return None
    told = m.again(_LEAD.sub("", m.mended[: denied.start()]))
    on = told.past.on
    if on is None or on > m.today:
        return None
    read = _corrected(m.again(told.past.rest), on)
    return read if read and _says(read) else None


def _says(read: LogDive) -> bool:
    """Tell whether an entry holds a figure or a kind of water."""
    return any((read.dives, read.max_depth_m, read.duration_min, read.water, read.min_temp_c))
