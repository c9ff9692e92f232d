"""Reads trips ahead: planned, asked for or called off; and how far off a reminder should be."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from bot.understand.counts import count_of
from bot.understand.dates import DAY
from bot.understand.dives import STRONG, read_water
from bot.understand.intents import PlanTrip, Snooze
from bot.understand.message import Message, first
from bot.understand.quantities import COLDEST_C, HOTTEST_C, Quantities, SenselessError, read_quantities
from bot.understand.spans import monday, read_span, weekend
from bot.understand.vocabulary import NUMBERS, PAST_TASKS

_NUMBER = r"\d{1,3}|" + "|".join(sorted(NUMBERS, key=len, reverse=True))
_A_TRIP = r"(?:trips?|holidays?|vacation|liveaboard|expedition|safari|dive week|course week)"
_TRIP = re.compile(
    rf"\b(?:{_A_TRIP}|travelling|traveling|going to|off to|away|plan)\b|\bto pack\b|\b(?:i|we) pack\b"
)
_AWAY = re.compile(
    r"\b(?:days?|nights?|weeks?|fortnight|weekend) (?:of diving |diving )?(?:in|at|on|around|off|near) (?!the\b|a\b)\w+"
)
_BARE = re.compile(r"\W*(?:trip|diving|away)?\W*(?:(?:in|to|at|for)? ?[a-z]+\W*){0,2}")
_DIVED = re.compile(r"\b(?:dived|dove|logged|did|got back|came back|back from|was|were|had)\b")
_A_DAY = re.compile(
    rf"\b(?P<n>{_NUMBER})\s*(?:(?:x )?dives? )?(?:a|per|each|every|/)\s*day\b|\b(?P<n2>{_NUMBER}) dives? daily\b"
)
_DEGREES = r"(?P<{0}>-?\d{{1,2}})\s*(?:°\s*c?|c|deg\w*(?: c\b| celsius)?)?"
_ON_LAND = re.compile(
    rf"(?<![\w.,/-]){_DEGREES.format('before')}\s*(?:on (?:the )?(?:deck|land|boat|surface)|in the (?:air|sun|shade)|outside|ashore|topside)\b"
    r"|\b(?:on deck|deck|air|outside|topside|ashore)(?: temp\w*)?\s*(?:is |of |: ?)?(?P<behind>-?\d{1,2})\b(?!\s*(?:m\b|ft|%|dives?|l\b|min))"
)
_IN_WATER = re.compile(
    rf"(?<![\w.,/-]){_DEGREES.format('before')}\s*(?:in (?:the )?(?:water|sea|lake)|under ?water|down below|at depth)\b"
    r"|\b(?:in the water|water)(?: temp\w*)?\s*(?:is |of |: ?)?(?P<behind>-?\d{1,2})\b(?!\s*(?:m\b|ft|%|dives?|l\b|min|to\b|-))"
)


@dataclass(frozen=True, slots=True)
class _When:
    start: date | None
    end: date | None
    rest: str
    in_words: bool


def read_trip(m: Message) -> PlanTrip | None:
    """Read a planned trip: dates ahead, dives, water, temperatures."""
    when = _when(m)
    told = bool(_TRIP.search(m.plain)) or (when.in_words and _is_away(m, when))
    if not told and when.end is None:
        return None
    q, temps = _figures(when.rest)
    daily = _A_DAY.search(when.rest)
    if not told and (when.in_words or not (q.dives or m.waters or temps)):
        return None
    if when.start is None and (not re.search(r"\btrip\b", m.plain) or not PAST_TASKS.isdisjoint(m.said)):
        return None
    if (when.end is None or when.in_words) and STRONG.search(m.plain):
        if when.start is None or when.start <= m.today:
            return None
        if when.in_words and _DIVED.search(m.plain):
            return None
    if when.start is not None and (when.end or when.start) < m.today:
        raise SenselessError(f"{when.start:%d %B %Y} lies behind us: give a trip ahead, or log its dives.")
    return PlanTrip(
        from_on=when.start,
        to_on=when.end or (None if when.in_words else m.future.later),
        dives=_dives(q, daily, when),
        water=read_water(m),
        min_temp_c=min(temps, default=None),
        max_temp_c=max(temps) if len(temps) > 1 else None,
    )


def _when(m: Message) -> _When:
    """Prefer days written out ("13-14 June") to words for them ("this weekend")."""
    if m.future.span is not None:
        return _When(*m.future.span, rest=m.future.rest, in_words=False)
    if (span := read_span(m.mended, m.today)) is not None:
        return _When(span.start, span.end, span.rest, in_words=True)
    return _When(m.future.on, None, m.future.rest, in_words=False)


def _is_away(m: Message, when: _When) -> bool:
    """Tell whether days are all that a message tells, or days at some place."""
    if m.tasks or m.parts or m.item_mentions or m.substances:
        return False
    if "this" in m.said and not _AWAY.search(m.mended):  # of this weekend, dives may be told that are done
        return False
    q, temps = _figures(when.rest)
    return bool(_AWAY.search(m.mended) or _BARE.fullmatch(when.rest) or q.dives or temps)


def _figures(text: str) -> tuple[Quantities, tuple[float, ...]]:
    """Read numbers and temperatures; those "on deck" and "in the water" need no degrees."""
    text = _A_DAY.sub(" ; ", text)
    apart: list[float] = []
    for pattern in (_ON_LAND, _IN_WATER):
        if found := pattern.search(text):
            apart.append(float(found["before"] or found["behind"]))
            text = f"{text[: found.start()]} ; {text[found.end() :]}"
    if not all(COLDEST_C <= t <= HOTTEST_C for t in apart):
        raise SenselessError(f"{max(apart):g} °C cannot be: {COLDEST_C} to {HOTTEST_C} works.")
    q = read_quantities(text)
    return q, (*q.temps_c, *apart)


def _dives(q: Quantities, daily: re.Match[str] | None, when: _When) -> int | None:
    if daily is None or (q.dives is not None and not q.unnumbered):
        return q.dives
    if when.start is None or when.end is None:
        return None
    return count_of(daily["n"] or daily["n2"]) * ((when.end - when.start).days + 1)


_SHOWS = re.compile(
    rf"\bpack(?:ing)? ?list\b|\bwhat (?:do|should|must|shall|can|to)(?: i| we)?(?: need| have)?(?: to)? (?:pack|bring)\b"
    rf"|\bwhat (?:do|should|must|to)(?: i| we)?(?: need| have)?(?: to)? (?:take|bring)(?: along| with (?:me|us)| (?:on|for|to) (?:the|my|our) {_A_TRIP})?$"
    rf"|^(?:please |can you )*(?:show|see|list|open|display)(?: me)?(?: the| my| our| all| next)* {_A_TRIP}(?: list| plan| checklist)?$"
    rf"|\b{_A_TRIP} (?:check ?list|list|plan|overview|prep|preparation)s?\b(?! (?:a|for|to)\b)"
    rf"|\bwhen(?: is|'s|s| does| do| are)?(?: the| my| our| we| i)*(?: next)? (?:{_A_TRIP}|leave|leaving)\b"
    rf"|\bhow (?:long|many days)(?: is it)? (?:until|till|to|before)(?: the| my| our)?(?: next)? {_A_TRIP}\b"
    rf"|\b(?:due|overdue|to do|do|done|doing|needed|needs|ready|finish|service|check|left)\b(?: \w+){{0,3}} (?:before|for|ahead of)(?: the| my| our)(?: next)? {_A_TRIP}\b"
    rf"|^(?:my|the|our|next|my next|our next|upcoming)+ {_A_TRIP}$|^trips$|^(?:what|which) trips?\b.*\b(?:planned|coming|have)\b"
)
_CANCELS = re.compile(
    rf"\b(?:cancel|delete|remove|drop|scrap|scrub|forget|erase|call off|bin|ditch|skip|skipp)(?:l?ed|led|s|ped|bed)?(?:(?! before| after| during| for| until) \w+){{0,3}}? {_A_TRIP}\b"
    rf"|\b{_A_TRIP}(?: to \w+(?: \w+)?)?(?: is| was| has been| got|'s)?(?: now| all| been)* (?:cancel?led|off|called off|scrapped|scrubbed|not happening|dead|fell through|fallen through)\b"
    rf"|\b(?:no|not going on(?: the| my| our| a)?|not doing(?: the| my| our)?|we are not going on(?: the)?)(?: the| my)? {_A_TRIP}(?: after all| any ?more)\b"
    r"|\b(?:not|no longer|isn't|aren't|ain't) (?:going|travelling|traveling|flying|off)(?: to (?!dive\b|be\b|do\b)[\w ]{2,30}?)? after all\b"
    r"|\bno longer (?:going|travelling|traveling|flying) to \w+|\b(?:call(?:ed)?|calling) (?:off )?(?:the|my|our) (?:whole )?(?:trip|holiday|liveaboard)(?: off)?\b"
)
_KEPT = re.compile(r"\b(?:don't|dont|do not|not yet|should i|if|never)\b")


def read_trip_wish(m: Message) -> PlanTrip | None:
    """Read a wish to see the planned trip ("packing list", "when is my trip?") or to call it off."""
    if m.parts or m.substances or m.item_mentions:
        return None
    if _CANCELS.search(m.plain) and not m.tasks:
        kept = bool(_KEPT.search(m.plain))
        return PlanTrip(cancels=not kept, shows=kept)
    dated = m.future.span is not None or re.search(r"\d", m.text)
    return PlanTrip(shows=True) if _SHOWS.search(m.plain) and not dated else None


_SNOOZE = re.compile(
    r"^(?:please )?(?:snooze|later|not now|remind me|postpone|in a bit|ask me|tomorrow|nag me|leave it|wait|hold|delay|push|put (?:it|that|this) off|not today|maybe later)\b|\bsnooze\b|\bremind me (?:again )?(?:later|in|on|tomorrow|next|after|when)\b|\bpostpone\b"
    r"|^(?:not (?:before|until|till)|until|till) |^(?:later |maybe )*(?:only )?after (?:(?:the|my|our|this) (?:\w+ )?)?(?:trip|holiday|weekend)$"
    r"|^in (?:\w+ )?(?:days?|weeks?|months?|fortnight)(?: time)?$|^next (?:week|month|weekend)$|^no (?:more )?(?:reminders?|messages) (?:today|tonight|tomorrow|this|until|till|before|for)\b"
)
_HOW_LONG = re.compile(rf"\b({_NUMBER}) (?:more )?(day|week|month|fortnight)s?\b(?! ago)")
_LENGTHS = {"day": 1, "week": 7, "fortnight": 14, "month": 30}
_AFTER_TRIP = re.compile(
    rf"\b(?:after|end of|back from|home from)(?:(?: the| my| our| this)(?: \w+)?)? {_A_TRIP}\b|\b(?:once|when|until|till) (?:i am|i'm|we are|we're|im) (?:back|home)\b"
)
_WEEKEND = re.compile(r"\b(?P<after>after|over)?\s?(?:the |this |(?P<next>next ))weekend\b")


def read_snooze(m: Message) -> Snooze | None:
    """Read a wish to be reminded later: by days, until a date, after the trip; nothing filled means "pick for me"."""
    if not _SNOOZE.search(m.plain):
        return None
    item = first(m.item_mentions)
    refs = () if item else tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    return Snooze(item=item, refs=refs, **_until(m))


def _until(m: Message) -> dict[str, date | int | bool]:
    """Return the field of `Snooze` that was said, if any."""
    if _AFTER_TRIP.search(m.plain):
        return {"after_trip": True}
    length = _HOW_LONG.search(m.plain)
    if m.future.days is not None:
        return {"days": m.future.days}
    if length is not None:
        return {"days": count_of(length.group(1)) * _LENGTHS[length.group(2)]}
    if m.future.on == m.today and re.match(r"no", m.plain):  # "not today": until tomorrow
        return {"days": 1}
    until = _in_words(m) or m.future.on
    return {"until": until} if until else {}


def _in_words(m: Message) -> date | None:
    """Read "not before the weekend", "next week" where no day is named."""
    if re.search(rf"\b{DAY}\b|\d", m.plain):
        return None
    if told := _WEEKEND.search(m.plain):
        saturday, sunday = weekend(m.today, following=bool(told["next"]))
        return sunday + timedelta(days=1) if told["after"] else saturday
    return monday(m.today) + timedelta(days=7) if re.search(r"\bnext week\b", m.plain) else None
