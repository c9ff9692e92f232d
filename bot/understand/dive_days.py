"""Reads dives of several days told in one breath: one entry a day, the first holding the others."""

import re
from datetime import date, timedelta

from bot.understand.counts import A_DAY, bare_count, count_of
from bot.understand.dates import MONTH, read_dates
from bot.understand.dive_entry import build_dive
from bot.understand.intents import LogDive
from bot.understand.message import Message
from bot.understand.quantities import SenselessError
from bot.understand.spans import Span, past_span

_MOST_DAYS = 14
_WEEKDAY = r"(?:(?:mon|tue|wed|wednes|thu|thur|fri|sat|satur|sun)s?|(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)days?)\b(?!'s)"
_DAY = rf"(?:(?:on |last |this |early |late )*(?:{_WEEKDAY}|yesterday\b|today\b))"
_JOIN = r"(?:\s*(?:,\s*and\b|[,&+/]|\band\b|\bthen\b)\s*|\s+)"
_LIST = re.compile(rf"\b{_DAY}(?:{_JOIN}{_DAY})+(?!\w|\s+(?:was|were|is|got|had|we|i)\b)")
_ONE_DAY = re.compile(rf"\b{_DAY}")
_ORDINAL = r"\d{1,2}(?:st|nd|rd|th)?"
_NUMBERED_DAYS = re.compile(
    rf"(?:^\W*|\b(?:on (?:the )?|the |dove |dived |diving |dives? ))(?P<days>{_ORDINAL}(?:\s*(?:,\s*and\b|[,&+]|\band\b)\s*(?:the )?{_ORDINAL})+)\s*(?:of )?(?P<month>{MONTH})\b"
)
_EACH = re.compile(
    r"\b(?:dives?|dips?|one|two|three|four|once|twice|[1-9]) (?:on )?each\b|\beach (?:on|of|day)\b|\b(?:every|per|a|each)(?: single)? day\b|\bdaily\b"
    r"|\b(?:on )?(?:both|all (?:two|three|four|five|\d)) days\b"
)
_EVERY_DAY = re.compile(r"\b(?:every|each)(?: single)? day\b|\bdaily\b|\ba day\b|\bper day\b")
_FOR_ALL = re.compile(
    r"^\W*(?:all|both|each|always|every|everything|deepest|max|maximum|max\.?|never deeper|together|the lot)\b"
)
_SHARED = (
    "water",
    "max_depth_m",
    "duration_min",
    "min_temp_c",
    "o2_fraction",
    "conditions",
    "items",
    "without",
    "only",
)


def read_days(m: Message) -> LogDive | None:
    """Return the entries of a message that tells of several days; None if it tells of one.

    Dives that were told per day are an entry a day; a number told of the days together is one entry of the last day,
    or an entry a day where it divides by the days that are named.
    """
    return _of_span(m) or _list_and_more(m) or _of_list(m) or _day_by_day(m)


def _of_span(m: Message) -> LogDive | None:
    """Read "every day from 3 to 7 June, 2 a day", "dived monday to friday", "last weekend 2 dives per day"."""
    span = Span(*m.past.span, rest=m.past.rest) if m.past.span else past_span(m.mended, m.today)
    if span is None or m.again(span.rest).past.on is not None:
        return None
    written, rest = m.past.span is not None, span.rest
    daily = A_DAY.search(rest)
    told = m.again(_EVERY_DAY.sub(" ", A_DAY.sub(" ", rest)))
    number = count_of(daily["n"] or daily["n2"]) if daily else None
    q = told.quantities()
    counted = None if q.unnumbered else q.dives
    each = number or (counted or 1 if _EACH.search(rest) else None)
    if each is None and counted is None and span.days_named:
        each = 1
    if each is None:
        return _on_last(told, span.end) if span.days_named else None
    if (span.end - span.start).days >= _MOST_DAYS:
        raise SenselessError(f"I log up to {_MOST_DAYS} days at a time: tell me week by week.")
    days = [span.start + timedelta(days=n) for n in range((span.end - span.start).days + 1)]
    return _each(told, [day for day in days if written or day <= m.today], each)


def _on_last(told: Message, day: date) -> LogDive:
    entry = build_dive(told, told.quantities(), corrects=False)
    _refuse_ahead(day, told.today)
    return entry.model_copy(update={"on": day})


def _each(told: Message, days: list[date], dives: int) -> LogDive:
    """Return the same entry for each of the days; what befell the kit stands with the last."""
    q = told.quantities()
    q.dives, q.unnumbered = dives, False
    entry = build_dive(told, q, corrects=False)
    for day in days:
        _refuse_ahead(day, told.today)
    *before, last = (entry.model_copy(update={"on": day}) for day in sorted(set(days)))
    return _joined([*(one.model_copy(update={"happened": ()}) for one in before), last])


def _refuse_ahead(day: date, today: date) -> None:
    if day > today:
        raise SenselessError(
            f"{day:%d %B %Y} lies ahead: a dive is logged once it is done. For plans, say: trip 12 to 19 December, 14 dives."
        )


def _joined(entries: list[LogDive]) -> LogDive:
    head, *others = entries
    return head.model_copy(update={"also": tuple(others)})


def _of_list(m: Message) -> LogDive | None:
    """Read "dived mon, tue and wed", "2 dives each on sat and sun", "2 dives on the 3rd and 4th of June"."""
    named = _days_listed(m)
    if named is None:
        return None
    days, rest = named
    told = m.again(_EVERY_DAY.sub(" ", A_DAY.sub(" ", rest)))
    daily = A_DAY.search(rest)
    q = told.quantities()
    counted = count_of(daily["n"] or daily["n2"]) if daily else None if q.unnumbered else q.dives
    if counted is None or daily or _EACH.search(rest):
        return _each(told, days, counted or 1)
    if counted % len(days) == 0:
        return _each(told, days, counted // len(days))
    return _on_last(told, max(days))


def _list_and_more(m: Message) -> LogDive | None:
    """Read "3 dives on 12, 13 and 14 April, 2 on 16 April": a list of days, and days told after it."""
    listed = _NUMBERED_DAYS.search(m.mended)
    if listed is None:
        return None
    clauses = _each_clause(m.mended[listed.end() :])
    told = [m.again(clause) for clause in clauses]
    at = next((n for n, clause in enumerate(told) if _begins_a_day(clause) or _is_a_day(clause)), None)
    if at is None:
        return None
    head = _of_list(m.again(", ".join((m.mended[: listed.end()], *clauses[:at]))))
    rest = m.again(", ".join(clauses[at:]))
    tail = read_days(rest) or _day(rest)
    if head and tail.dives is None:
        tail = tail.model_copy(update={"dives": head.dives})
    entries = [
        one.model_copy(update={"also": ()}) for told in (head, tail) if told for one in (told, *told.also)
    ]
    if head is None or len({one.on for one in entries}) < len(entries):
        return None
    return _joined(_with_shared(entries, m.again("")))


def _is_a_day(clause: Message) -> bool:
    """Tell whether a clause names a day and nothing else."""
    return clause.past.on is not None and not re.search(r"\w", clause.past.rest)


def _days_listed(m: Message) -> tuple[list[date], str] | None:
    """Return the days of a list of at least two, and the text without it; None where counts stand between days."""
    text = m.mended
    if numbered := _NUMBERED_DAYS.search(text):
        found = [
            read_dates(f"{n} {numbered['month']}", m.today, "past").on
            for n in re.findall(r"\d{1,2}", numbered["days"])
        ]
        return _distinct(found), _cut(text, numbered)
    listed = _LIST.search(text)
    if listed is None:
        return None
    after = text[listed.end() :]
    if bare_count(after) is not None and _ONE_DAY.search(after):
        return None
    found = [_day_of(word.group(), m.today) for word in _ONE_DAY.finditer(listed.group())]
    days = _distinct(found)
    return (days, _cut(text, listed)) if len(days) > 1 else None


def _day_of(word: str, today: date) -> date | None:
    plain = re.sub(r"^(?:on |last |this |early |late )+", "", word).removesuffix("'s")
    if plain not in {"yesterday", "today"}:
        plain = plain[:3]
    return read_dates(f" {_LONG.get(plain, plain)}", today, "past").on


_LONG = {
    "mon": "monday", "tue": "tuesday", "wed": "wednesday", "thu": "thursday", "fri": "friday", "sat": "saturday", "sun": "sunday",
}  # fmt: skip


def _distinct(days: list[date | None]) -> list[date]:
    return list(dict.fromkeys(day for day in days if day is not None))


def _cut(text: str, match: re.Match[str]) -> str:
    return f"{text[: match.start()]} ; {text[match.end() :]}"


_CLAUSES = re.compile(r"\s*(?:[,;:+&]|\band\b|\bthen\b|\bplus\b|(?<![\d.])\.+\s)\s*(?!\d{2}\b(?<=:\d\d))")


_DAY_COLON = re.compile(rf"(?P<day>\b(?:{_DAY}|{MONTH}|\d{{1,2}}\.\d{{1,2}}\.))\s*:")
_DIVED = re.compile(r"\b(?:dived|dove|diving|again|also|another)\b|\btoo\W*$")


def _day_by_day(m: Message) -> LogDive | None:
    """Read "2 dives on Monday, 1 on Tuesday"; None if one day is told.

    What stands ahead of the first day, and what is said of all, holds for every day; so does a kind of water told once.
    """
    lead: list[str] = []
    days: list[list[str]] = []
    shared: list[str] = []
    for clause in _each_clause(m.mended):
        told = m.again(clause)
        if _begins_a_day(told):
            days.append([clause])
        elif shared or (days and _FOR_ALL.match(clause)):
            shared.append(clause)
        elif days:
            days[-1].append(clause)
        elif told.past.on is not None:
            return None
        else:
            lead.append(clause)
    entries = [_day(m.again(", ".join(day))) for day in days[:_MOST_DAYS]]
    if len(entries) < 2 or len({dive.on for dive in entries}) < len(entries):
        return None
    return _joined(_with_shared(entries, m.again(", ".join((*lead, *shared)))))


def _with_shared(entries: list[LogDive], said: Message) -> list[LogDive]:
    """Give every entry what was said of all and not of itself."""
    of_all = build_dive(said, said.quantities(), corrects=False)
    waters = {dive.water for dive in entries if dive.water}
    common = {name: value for name in _SHARED if (value := getattr(of_all, name))}
    if len(waters) == 1 and "water" not in common:
        common["water"] = next(iter(waters))
    told = [
        dive.model_copy(update={n: v for n, v in common.items() if not getattr(dive, n)}) for dive in entries
    ]
    *before, last = told
    return [*before, last.model_copy(update={"happened": (*of_all.happened, *last.happened)})]


def _each_clause(text: str) -> list[str]:
    """Split a text into clauses, of which none holds two days: "fri 1 dive sat 2 dives" are two."""
    found: list[str] = []
    for clause in _CLAUSES.split(_DAY_COLON.sub(r"\g<day> ", text)):
        days = list(_ONE_DAY.finditer(clause))
        if len(days) < 2:
            found.append(clause)
            continue
        ahead = re.search(r"\d|\b(?:one|two|three|four|once|twice)\b", clause[: days[0].start()])
        cuts = [d.end() for d in days[:-1]] if ahead else [d.start() for d in days[1:]]
        found += [clause[a:b].strip() for a, b in zip([0, *cuts], [*cuts, len(clause)], strict=True)]
    return [clause for clause in found if clause.strip()]


def _begins_a_day(clause: Message) -> bool:
    return clause.past.on is not None and _count(clause) is not None


def _count(clause: Message) -> int | None:
    """Return the number of dives of a clause in which "dives" may go without saying."""
    q = clause.quantities()
    told = q.dives if q.dives is not None else bare_count(clause.past.rest)
    return 1 if told is None and _DIVED.search(clause.plain) else told


def _day(day: Message) -> LogDive:
    read = build_dive(day, day.quantities(), corrects=False)
    return read if read.dives is not None else read.model_copy(update={"dives": _count(day)})
