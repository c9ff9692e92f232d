"""Reads how far off a reminder should be: by days, until a date, after the trip."""

import re
from datetime import date, timedelta

from bot.understand.counts import count_of
from bot.understand.dates import DAY, MONTH
from bot.understand.intents import Snooze
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.spans import monday, weekend
from bot.understand.trips import A_TRIP
from bot.understand.vocabulary import NUMBERS, PAST_TASKS

_NUMBER = r"\d{1,6}|" + "|".join(sorted(NUMBERS, key=len, reverse=True))
_PUT_OFF = re.compile(
    r"^(?:please |pls |can you |just |ok |let's |lets )*(?:leave|skip|hold off(?: on| with)?|park|shelve|defer|put off|delay|push back|wait with|move|push) (?:it|that|this|the|my|our|all|everything|those|these)\b(?!.*\b(?:dry|drying|soak|soaking|hang|hanging|open|overnight)\b)"
    rf".*?\b(?:until|till|til|after|for (?:now|later|\d+|a|an|another|one|two|three|four|the next)|(?:to|back to) (?:on |the )?(?:{DAY}|next|tomorrow|after|end|weekend|{MONTH}|\d{{1,2}}(?:st|nd|rd|th|\.\d| {MONTH})))\b"
    r"|^(?:please |pls )*(?:do not|don't|dont|stop|no need to|quit) (?:remind(?:ing)?|nag(?:ging)?|tell(?:ing)?|bug(?:ging)?|bother(?:ing)?|ping(?:ing)?|pester(?:ing)?)(?: me| us)?(?: again| any ?more)* (?:about|of|for|with)\b"
    r"|^(?:please |pls )*(?:no (?:more )?|stop (?:the )?)reminders? (?:for|about|of|on) (?:the|my|our)\b"
    r"|^(?:please |pls )*i (?:do not|don't|dont) (?:want|need)(?: any)?(?: more)? (?:reminders?|messages?) (?:for|about|of|on)\b|^(?:please |pls )*(?:mute|silence|ignore) (?:the|my|our)\b"
    r"|^(?:please |pls )*never (?:remind|nag|tell|bug|bother|ping|pester) (?:me|us)(?: again| any ?more)? (?:about|of|for|with)\b"
    r"|^(?:the |my )?[\w ]{2,30} can wait\b"
)
_SNOOZE = re.compile(
    r"^(?:please )?(?:snooze|later|not now|remind (?:me|us)|postpone|in a bit|ask me|tomorrow|nag me|leave it|wait|hold|delay|push|put (?:it|that|this) off|not today|maybe later)\b|\bsnooze\b|\bremind (?:me|us) (?:again )?(?:later|in|on|tomorrow|next|after|when)\b|\bpostpone\b"
    r"|^(?:not (?:before|until|till)|until|till) |^(?:later |maybe )*(?:only )?after (?:(?:the|my|our|this) (?:\w+ )?)?(?:trip|holiday|weekend)$"
    r"|^in (?:\w+ )?(?:days?|weeks?|months?|fortnight)(?: time)?$|^next (?:week|month|weekend)$|^no (?:more )?(?:reminders?|messages) (?:today|tonight|tomorrow|this|until|till|before|for)\b"
)
_HOW_LONG = re.compile(rf"\b({_NUMBER}) (?:more )?(day|week|month|fortnight|year)s?\b(?! ago)")
_LENGTHS = {"day": 1, "week": 7, "fortnight": 14, "month": 30, "year": 365}
_AFTER_TRIP = re.compile(
    rf"\b(?:after|end of|back from|home from)(?:(?: the| my| our| this)(?: \w+)?)? {A_TRIP}\b|\b(?:once|when|until|till) (?:i am|i'm|we are|we're|im) (?:back|home)\b"
)
_WEEKEND = re.compile(r"\b(?P<after>after|over)?\s?(?:the |this |(?P<next>next ))weekend\b")


_LONGEST = 366
_TOO_LONG = "I can put a reminder off from one day to a year: snooze 3 days, or snooze until Friday. To stop them all, say: reminders off."
_FOREVER = re.compile(
    r"\b(?:forever|for ever|for good|indefinitely|permanently|for always|always|ever again|never again|never (?:remind|nag|tell|bug|bother|ping|pester)|never ever|until (?:further notice|never|hell freezes over|i die)|for (?:years|decades|life|eternity|all time|a very long time|a century))\b|^snooze (?:never|ever)\b"
)

_NO_LENGTH = re.compile(
    r"(?<!\w)-\s*\d+ (?:day|week|month|year)s?\b|\b(?:zero|0|no) (?:days?|weeks?|months?)\b|\b(?:until|till|til) (?:20\d\d|21\d\d|the year \d+)\s*$|\bnever\s*$"
)
_UNTIL = re.compile(r"\b(?:until|till|til)\b")


def read_snooze(m: Message) -> Snooze | None:
    """Read a wish to be reminded later: by days, until a date, after the trip; nothing filled means "pick for me"."""
    of_kit = bool(m.item_mentions or m.parts or _AFTER_TRIP.search(m.plain))
    put_off = of_kit and _PUT_OFF.search(m.plain) and PAST_TASKS.isdisjoint(m.said)
    if not (put_off or _SNOOZE.search(m.plain)):
        return None
    item = first(m.item_mentions)
    refs = () if item else tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    return Snooze(item=item, refs=refs, **_until(m))


def _until(m: Message) -> dict[str, date | int | bool]:
    """Return the field of `Snooze` that was said, if any."""
    if _AFTER_TRIP.search(m.plain):
        return {"after_trip": True}
    if _FOREVER.search(m.plain) or _NO_LENGTH.search(m.text):
        raise SenselessError(_TOO_LONG)
    length = _HOW_LONG.search(m.plain)
    days = m.future.days
    if days is None and length is not None:
        days = count_of(length.group(1)) * _LENGTHS[length.group(2)]
    if days is not None:
        if not 1 <= days <= _LONGEST:
            raise SenselessError(_TOO_LONG)
        return {"days": days}
    if m.future.on == m.today and re.match(r"no", m.plain):  # "not today": until tomorrow
        return {"days": 1}
    until = _in_words(m) or m.future.on
    if until is not None and not 0 <= (until - m.today).days <= _LONGEST:
        raise SenselessError(_TOO_LONG)
    if until is None and _UNTIL.search(m.plain):
        raise SenselessError("I did not get until when. Say: snooze 3 days, or snooze until Friday.")
    return {"until": until} if until else {}


def _in_words(m: Message) -> date | None:
    """Read "not before the weekend", "next week" where no day is named."""
    if re.search(rf"\b{DAY}\b|\d", m.plain):
        return None
    if told := _WEEKEND.search(m.plain):
        saturday, sunday = weekend(m.today, following=bool(told["next"]))
        return sunday + timedelta(days=1) if told["after"] else saturday
    return monday(m.today) + timedelta(days=7) if re.search(r"\bnext week\b", m.plain) else None
