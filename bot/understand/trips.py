"""Reads trips ahead: planned, asked for or called off."""

import re
from dataclasses import dataclass
from datetime import date

from dateutil.relativedelta import relativedelta

from bot.understand.counts import A_DAY, count_of
from bot.understand.dates import DAY, MONTH, read_dates
from bot.understand.dive_entry import read_water
from bot.understand.dives import AHEAD, STRONG
from bot.understand.intents import Misunderstood, PlanTrip
from bot.understand.message import Message
from bot.understand.places import is_place
from bot.understand.quantities import (
    COLDEST_C,
    HOTTEST_C,
    MOST_OF_TRIP,
    Quantities,
    SenselessError,
    read_quantities,
)
from bot.understand.spans import read_span
from bot.understand.vocabulary import PAST_TASKS

A_TRIP = r"(?:trips?|holidays?|vacation|liveaboard|expedition|safari|dive week|course week)"
_TRIP = re.compile(
    rf"\b(?:{A_TRIP}|travelling|traveling|going to|off to|away|plan)\b|^(?:i |we )?(?:leave|leaving|departing|flying|fly|fly out) (?:on|to|for)\b|\bto pack\b|\b(?:i|we) pack\b"
)
_AWAY = re.compile(
    r"\b(?:days?|nights?|weeks?|fortnight|weekend) (?:of diving |diving )?(?:in|at|on|around|off|near) (?!the\b|a\b)\w+"
)
_BARE = re.compile(r"\W*(?:trip|diving|away)?\W*(?:(?:in|to|at|for)? ?[a-z]+\W*){0,2}")
_DIVED = re.compile(r"\b(?:dived|dove|logged|did|got back|came back|back from|was|were|had)\b")
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
    told = bool(_TRIP.search(m.plain) or AHEAD.search(m.plain)) or (when.in_words and _is_away(m, when))
    if not told and when.end is None:
        return None
    q, temps = _figures(when.rest)
    daily = A_DAY.search(when.rest)
    if not told and (when.in_words or not (q.dives or m.waters or temps)):
        return None
    if when.start is None and (not re.search(r"\btrip\b", m.plain) or not PAST_TASKS.isdisjoint(m.said)):
        return None
    _refuse_behind(m, when)
    if _is_dived(m, when) or _is_behind(m):
        return None
    if when.start is not None and (when.end or when.start) < m.today:
        raise SenselessError(f"{when.start:%d %B %Y} lies behind us: give a trip ahead, or log its dives.")
    return PlanTrip(
        from_on=when.start,
        to_on=when.end or (None if when.in_words else _later(m)),
        dives=_counted(_dives(q, daily, when)),
        water=read_water(m),
        min_temp_c=min(temps, default=None),
        max_temp_c=max(temps) if len(temps) > 1 else None,
    )


_LONGEST = 366


def _counted(dives: int | None) -> int | None:
    """Return the dives of a trip; SenselessError for more than a trip can hold."""
    if dives is not None and dives > MOST_OF_TRIP:
        raise SenselessError(f"{dives:,} dives on one trip is a lot: I plan up to {MOST_OF_TRIP}.")
    return dives


def _later(m: Message) -> date | None:
    """Return the day of coming home where it is told apart; SenselessError for one more than a year off."""
    on, later = m.future.on, m.future.later
    if on is None or later is None or later < on:
        return None
    if (later - on).days > _LONGEST:
        raise SenselessError("A trip lasts from a day to a year: try 12 to 19 December.")
    return later


_WAS_TRIP = re.compile(
    rf"\b{A_TRIP}\b(?: \w+){{0,4}}? (?:was|were|went|ended|is over|is done|has been)\b|\b(?:was|were) (?:on|away on) (?:a|the|my|our) {A_TRIP}\b"
)


def _refuse_behind(m: Message, when: _When) -> None:
    """Refuse a trip told as past: a trip is planned, of one that was the dives are logged."""
    if when.start is None or not _WAS_TRIP.search(m.plain) or m.quantities().dives is not None:
        return
    last = m.past.span[1] if m.past.span else m.past.on
    if last is not None and last < m.today:
        raise SenselessError(
            f"That trip lies behind us: log its dives instead, like: 2 dives on {last.day} {last:%B}."
        )


_HEAD = re.compile(
    rf"^(?:(?:a|the|my|our|day|boat|club|new|plan|planned|planning|add|another|next|hi|ok|please) )*{A_TRIP}\b(?! (?:report|was|were|is over|is done|done|over|ended))"
)
_STRONGLY = re.compile(
    r"\b(?:dived|dove|did|logged|went|back from|got back|came back|surfaced|just out|done|yesterday|finished|had|got in|been)\b"
)


def _is_dived(m: Message, when: _When) -> bool:
    """Tell whether a single day, or days in words, are told with a verb of what was done; "trip today" is none."""
    q = m.quantities()
    figures = q.max_depth_m is not None or q.duration_min is not None  # told of what was dived
    ahead = _HEAD.match(m.plain) and not _WAS_TRIP.search(m.plain) and not figures
    told = _STRONGLY if ahead else STRONG
    if (when.end is not None and not when.in_words) or not told.search(m.plain):
        return False
    return when.start is None or when.start <= m.today or (when.in_words and bool(_DIVED.search(m.plain)))


_DIVES_BEHIND = re.compile(
    r"\b(?:dived|dove|logged|did (?!book|plan)|made|done|got back|came back|back from|went|was|were|been|(?:have )?had (?:a |\d+ |some |great |good |nice |two |three )*(?:dives?|dips?))\b"
)
_NOT_YET = re.compile(r"\b(?:next|again|plan|planned|planning|will|going|gonna|booked|trip to|want)\b")


def _is_behind(m: Message) -> bool:
    """Tell whether days written out are told as past: "dived every day from 3 to 7 June"."""
    span = m.past.span
    if span is None or span[1] > m.today or _NOT_YET.search(m.plain) or _dated(m):
        return False
    fresh = (m.today - span[1]).days <= _FRESH_DAYS and not _TRIP.search(m.plain)
    return bool(_DIVES_BEHIND.search(m.plain)) or (fresh and m.quantities().dives is not None)


_FRESH_DAYS = 31
"""So long after days that are told without a year and without a trip, dives are meant that were done."""


def _dated(m: Message) -> bool:
    """Tell whether the year was told, so that both readings are the same days and only the verb tells."""
    return m.future.span == m.past.span and not _DIVES_BEHIND.search(m.plain)


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
    text = A_DAY.sub(" ; ", text)
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
    rf"|\bwhat (?:do|should|must|to)(?: i| we)?(?: need| have)?(?: to)? (?:take|bring)(?: along| with (?:me|us)| (?:on|for|to) (?:the|my|our) {A_TRIP})?$"
    rf"|^(?:please |can you )*(?:show|see|list|open|display)(?: me)?(?: the| my| our| all| next)* {A_TRIP}(?: list| plan| checklist)?$"
    rf"|\b{A_TRIP} (?:check ?list|list|plan|overview|prep|preparation)s?\b(?! (?:a|for|to)\b)"
    rf"|\bwhen(?: is|'s|s| does| do| are)?(?: the| my| our| we| i)*(?: next)? (?:{A_TRIP}|leave|leaving)\b"
    rf"|\bhow (?:long|many days)(?: is it)? (?:until|till|to|before)(?: the| my| our)?(?: next)? {A_TRIP}\b"
    rf"|\b(?:due|overdue|to do|do|done|doing|needed|needs|ready|finish|service|check|left)\b(?: \w+){{0,3}} (?:before|for|ahead of)(?: the| my| our)(?: next)? {A_TRIP}\b"
    rf"|^(?:my|the|our|next|my next|our next|upcoming)+ {A_TRIP}$|^trips$|^(?:what|which) trips?\b.*\b(?:planned|coming|have)\b"
)
_CANCELS = re.compile(
    rf"\b(?:cancel|delete|remove|drop|scrap|scrub|forget|erase|call off|bin|ditch|skip|skipp)(?:l?ed|led|s|ped|bed)?(?:(?! before| after| during| for| until) [\w']+){{0,3}}? {A_TRIP}\b"
    rf"|\b{A_TRIP}(?: to \w+(?: \w+)?)?(?: is| was| has been| got|'s)?(?: now| all| been)* (?:cancel?led|off|called off|scrapped|scrubbed|not happening|dead|fell through|fallen through)\b"
    rf"|\b{A_TRIP}(?: (?>(?:to|in|of|on|for|at|and|the|\d[\w.]*|{MONTH}|{DAY}|[a-z]{{4,}})(?= ))){{1,8}}? (?:is|was|has been|got)(?: now| all| been)* (?:cancel?led|off|called off|scrapped|scrubbed|not happening)\b(?! (?:the|to|by|a|my|in)\b)"
    rf"|\b(?:no|not going on(?: the| my| our| a)?|not doing(?: the| my| our)?|we are not going on(?: the)?)(?: the| my)? {A_TRIP}(?: after all| any ?more)\b"
    r"|\b(?:not|no longer|isn't|aren't|ain't) (?:going|travelling|traveling|flying|off|heading|driving)(?: (?:to|on) (?!dive\b|be\b|do\b)[\w ]{2,30}?)? (?:after all|any ?more|any longer|now)\b"
    rf"|\bno {A_TRIP} (?:in|to|this|on|from|next) (?:the )?[a-z\d]+\b|\b(?:won't|wont|will not|can't|cannot|cant) (?:be )?(?:go|going|make it|do|travel)(?! (?:to |on )?(?:dive|be|do|the (?:shop|pool|doctor|lake|water|bottom|gym))\b)(?: to| on)? (?:[\w ]{{2,30}}? )?(?:after all|any ?more|{A_TRIP})\b"
    r"|\bno longer (?:going|travelling|traveling|flying) to \w+|\b(?:call(?:ed)?|calling) (?:off )?(?:the|my|our) (?:whole )?(?:trip|holiday|liveaboard)(?: off)?\b"
)
_PLACE_OFF = re.compile(
    rf"^(?:so |well |ok |sorry |bad news |unfortunately |looks like |our |the |my )*(?P<place>[a-z']+(?: [a-z']+)?)(?: {A_TRIP})? (?:is|has been|got|was|'s|isn't|won't be|not)(?: now| just| all| been)* (?:off|cancel?led|called off|scrapped|scrubbed|not happening|happening|not going to happen|dead|history)\b(?! (?:the|to|by|a|my|in)\b)"
    r"|^(?:so |well |ok |sorry |we |i |i'm |we're |have |had to |are |am )*(?:cancel(?:led|ed)?|scrap(?:ped)?|scrub(?:bed)?|drop(?:ped)?|forget|bin(?:ned)?|ditch(?:ed)?|skip(?:ped|ping)?|call(?:ed)? off|not doing)"
    r" (?P<named>(?:the )?[a-z']+(?: [a-z']+)?)(?: this year| after all| any ?more| now)?$"
)


def _place_is_off(m: Message) -> bool:
    """Tell whether a place is called off, which stands for the trip there: "Croatia is off"."""
    found = _PLACE_OFF.search(m.plain)
    place = (found["place"] or found["named"] or "") if found else ""
    return is_place(re.sub(rf"^(?:the|our|my) | {A_TRIP}$", "", place))


_KEPT = re.compile(r"\b(?:don't|dont|do not|not yet|should i|if|never)\b")


def read_trip_wish(m: Message) -> PlanTrip | None:
    """Read a wish to see the planned trip ("packing list", "when is my trip?") or to call it off."""
    if m.parts or m.substances or m.item_mentions:
        return None
    if (_CANCELS.search(m.plain) or _place_is_off(m)) and not m.tasks:
        if _KEPT.search(m.plain):
            return PlanTrip(shows=True)
        start, end = _days_off(m)
        return PlanTrip(cancels=True, from_on=start, to_on=end)
    dated = m.future.span is not None or re.search(r"\d", m.text)
    return PlanTrip(shows=True) if _SHOWS.search(m.plain) and not dated else None


_MONTH_NAMED = re.compile(rf"\b(?P<month>{MONTH})\b(?: (?P<year>20\d\d)\b)?")
_NO_DAY = re.compile(r"\b(?:today|now|tonight|just now|yesterday)\b")


def _days_off(m: Message) -> tuple[date | None, date | None]:
    """Return the days by which a trip that is off was named: a day, a span, or a whole month; none if it was not."""
    if m.future.span is not None and m.past.span is not None:
        return _nearer(m.past.span, m.future.span, m.today)
    if span := read_span(m.mended, m.today):
        return span.start, span.end
    on = m.future.on
    of_month = m.future.month_only or re.search(r"\b(?:next|this) month\b", m.plain)
    if on is not None and not of_month and not _NO_DAY.search(m.plain):
        past = m.past.on or on
        start, _ = _nearer((past, past), (on, on), m.today)
        return start, None
    first = _month_off(m)
    return (first, first + relativedelta(months=1, days=-1)) if first else (None, None)


def _month_off(m: Message) -> date | None:
    """Return the first day of the month named, the running one or the next of that name; None if none is."""
    if which := re.search(r"\b(next|this) month\b", m.plain):
        return m.today.replace(day=1) + relativedelta(months=which.group(1) == "next")
    if not (named := _MONTH_NAMED.search(m.mended)):
        return None
    month = read_dates(f"in {named['month']} {named['year'] or ''}".strip(), m.today, "future").on
    if month is None:
        return None
    running = month.month == m.today.month and not named["year"]
    return (m.today if running else month).replace(day=1)


_RUNNING_DAYS = 31


def _nearer(behind: tuple[date, date], ahead: tuple[date, date], today: date) -> tuple[date, date]:
    """Return the days that are nearer to today: a trip may be called off while it runs."""
    recent = behind[0] <= today and (today - behind[0]).days <= _RUNNING_DAYS
    return behind if recent and today - behind[0] < ahead[0] - today else ahead


_NEXT_DIVE = re.compile(
    r"^(?:(?:my|our|the|and|so) )*(?:next|upcoming|coming|following) (?:dives?|diving|dive day) (?:is|are|will be|would be|should be|comes|on|planned|due)\b"
)


def read_next_dive(m: Message) -> Misunderstood | None:
    """Read "next dive is on Sunday", which tells too little for a trip: the line that plans one is offered."""
    on = m.future.on
    if on is None or on < m.today or not _NEXT_DIVE.match(m.plain) or re.search(rf"\b{A_TRIP}\b", m.plain):
        return None
    day = f"{on.day} {on:%B}"
    return Misunderstood(
        problem=f"Dives are logged once they are done. If you want to be ready by {day}, plan it as a trip.",
        suggestions=(f"trip {day}, 2 dives", f"what is due by {day}?"),
    )
