"""Dates in free text, in the diver's zone. A pattern finds the words; dateparser reads those that are not plain numbers."""

import re
from calendar import day_name, month_name
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Literal

from dateutil.relativedelta import relativedelta
from rapidfuzz import process
from rapidfuzz.distance import OSA

from bot.understand.counts import count_of
from bot.understand.quantities import SenselessError
from bot.understand.vocabulary import NUMBERS

OLDEST = date(1950, 1, 1)
"""Nothing of this kit was dived or cared for before."""

MONTH = r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)"
_WHOLE_DAY = r"(?:monday|tuesday|wednesday|thursday|friday|saturday|sunday|mon|tues?|thu(?:rs?)?|fri)"
_SHORT_DAY = r"(?<!the )(?<!we )(?<!i )(?<!and )(?<!in )(?<!he )(?<!she )(?<!just )(?<!no )(?<!full )(?<!hot )(?:sat|sun|wed)(?!\s+(?:in|on|down|at|there|for|around|out|up|was|is|cream|screen))"
DAY = rf"(?:{_WHOLE_DAY}|{_SHORT_DAY})"
_ORD = r"\d{1,2}(?:st|nd|rd|th)?"
NUMBER = r"(?:\d{1,4}|a couple|" + "|".join(sorted(NUMBERS, key=len, reverse=True)) + ")"
_YEAR = r"\d{4}(?!\s*(?:x\s*)?(?:more )?(?:dives?|dips?)\b)"
"""Four figures that count no dives."""
_TO = r"\s*(?:to|until|till|-|through|up to)\s*(?:the\s+)?"
_ON = rf"(?:on\s+)?(?:{DAY},?\s+(?:the\s+)?)?"
_RANGE = re.compile(
    rf"\b(?:{DAY},?\s+)?({_ORD})\.?\s*(?:of\s+)?({MONTH})?(?:,?\s+({_YEAR}))?{_TO}(?:{DAY},?\s+)?({_ORD})\.?\s*(?:of\s+)?({MONTH})\b\.?(?:,?\s+({_YEAR})\b)?"
    rf"|\b({MONTH})\s+({_ORD})(?:,?\s+({_YEAR}))?{_TO}(?:({MONTH})\s+)?({_ORD})(?:,?\s+({_YEAR}))?\b"
    r"|\b(\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}(?:[./]\d{2,4})?)\.?\s*(?:to|until|till|-|/|through)\s*(\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4})\b"
    r"|(?<![\d.,/])((?:[0-2]?\d|3[01])(?:\.(?:(?:0?[1-9]|1[0-2])\.)?)?)\s*(?:to|until|till|-|through)\s*((?:[0-2]?\d|3[01])\.(?:0?[1-9]|1[0-2])\.(?:20\d{2}|\d{2}(?!\d|\s*(?:m\b|min|dive)))?)(?!\d)"
    r"|(?<![\d.,/])((?:[0-2]?\d|3[01])/(?:0?[1-9]|1[0-2]))\s*(?:to|until|till|-|through)\s*((?:[0-2]?\d|3[01])/(?:0?[1-9]|1[0-2]))\b(?!/|\s*(?:m\b|%))",
)
_SINGLE = re.compile(
    rf"\b{_ON}\d{{4}}-\d{{1,2}}-\d{{1,2}}\b"
    rf"|\b{_ON}\d{{1,2}}[./]\d{{1,2}}[./]\d{{2,4}}\b"
    r"|(?<![\w/.])(?:[0-2]?\d|3[01])/(?:0?[1-9]|1[0-2])\b(?![/.]\d)"
    r"|(?:^|(?<=\bon )|(?<=\bthe )|(?<=\bfrom )|(?<=\bsince )|(?<=\buntil )|(?<=\btill )|(?<=\bby ))(?:[0-2]?\d|3[01])\.(?:0?[1-9]|1[0-2])\.(?=[\s,:;]|$)(?!\s*\d{4})"
    rf"|\b{_ON}(?:the\s+)?{_ORD}\s*(?:of\s+)?{MONTH}\b\.?(?:,?\s+{_YEAR}\b)?"
    rf"|\b{_ON}{MONTH}\.?\s+{_ORD}\b(?:,?\s+{_YEAR}\b)?"
    rf"|\b{MONTH},?\s+{_YEAR}\b|\b{MONTH} '\d{{2}}\b"
    r"|(?<![\w/.-])(?:19|20)\d{2}[-/](?:0?[1-9]|1[0-2])\b(?![-/.]\d)|(?<![\w/.-])(?:0?[1-9]|1[0-2])[/.](?:19|20)\d{2}\b"
    r"|\b(?:the )?day before yesterday\b|\b(?:the )?day after tomorrow\b"
    r"|\byesterday\b|\btoday\b|\btonight\b|\btomorrow\b|\bthis (?:morning|afternoon|evening)\b|\blast night\b|\bjust now\b"
    rf"|\b(?:(?:last|next|this|on)\s+)?{DAY}\b(?!\s*zip)"
    rf"|\b{NUMBER}(?: of)? (?:day|week|month|year)s? ago\b|\ba fortnight ago\b"
    rf"|\bin {NUMBER}(?: of)? (?:day|week|month)s?\b|\bfor {NUMBER} (?:day|week)s?\b"
    r"|\b(?:last|next) (?:week|month|weekend|year)\b"
    rf"|\b(?:(?:until|till|by) )?(?:the )?(?:end|beginning|start|middle) of (?:{MONTH}\b(?:,? {_YEAR}\b)?|(?:(?:this|next|the) )?(?:week|month|year)\b)"
    r"|\bon the \d{1,2}(?:st|nd|rd|th)\b"
    rf"|\b(?:in|last|since|until|till) {MONTH}\b(?:,? {_YEAR}\b)?(?! ?\d)",
)
_BETWEEN = re.compile(
    rf"\bbetween (?:the )?({_ORD}(?: (?:of )?{MONTH})?|{MONTH} {_ORD}) and (?=(?:the )?\d|{MONTH})"
)
_NUMERIC = re.compile(r"(\d{1,2})[./](\d{1,2})(?:[./](\d{2}|\d{4}))?")
_MONTH_ONLY = re.compile(rf"(?:in|last|since|until|till) ({MONTH}(?:,? \d{{4}})?)")
_MONTH_YEAR = re.compile(rf"{MONTH},?(?: \d{{4}})?")
_SHORT_YEAR = re.compile(rf"({MONTH}) '(\d{{2}})")
_NUMERIC_MONTH = re.compile(r"(?P<month>\d{1,2})[/.](?P<year>\d{4})|(?P<year1>\d{4})[-/](?P<month1>\d{1,2})")
_MONTH_PART = re.compile(
    rf"(?:(?:until|till|by) )?(?:the )?(?P<part>end|beginning|start|middle) of (?:(?P<month>{MONTH}(?:,? \d{{4}})?)|(?:(?P<which>this|next|the) )?(?P<unit>week|month|year))"
)
_COUNTED = re.compile(rf"(?:(in|for) )?({NUMBER})(?: of)? (day|week|month|year)s?( ago)?")
_UNIT_DAYS = {"day": 1, "week": 7, "month": 30, "year": 365}


@dataclass(frozen=True)
class Dates:
    """Dates found; `rest` is the text without them. `span` holds from and to, `days` an "in n days"."""

    rest: str
    on: date | None = None
    span: tuple[date, date] | None = None
    days: int | None = None
    later: date | None = None
    """A second full date, such as the day of coming home."""
    month_only: bool = False
    """Only a month, or a part of one behind us, was said; `on` is its first day."""


_CALENDAR_WORDS = [w.lower() for w in (*month_name, *day_name) if len(w) > 3]
_NEAR_NUMBER = re.compile(
    r"(?:(?<=\d )|(?<=\d(?:st|nd|rd|th) )|(?<= of ))[a-z]{4,}|(?<![a-z])[a-z]{4,}+(?= \d)|\b[a-z]{4,8}day\b"
)

_RUN_ON = re.compile(r"\b(yesterday|today|tonight|(?:mon|tues|wednes|thurs|fri|satur|sun)day)'?s\b")


def _mended(text: str) -> str:
    """Mend misspelt months and weekdays, so that a test date is never silently taken for today."""
    text = _RUN_ON.sub(r"\1 ", text)
    return _NEAR_NUMBER.sub(lambda m: _calendar_word(m.group()), text)


@lru_cache(maxsize=4096)
def _calendar_word(word: str) -> str:
    near = process.extractOne(word, _CALENDAR_WORDS, scorer=OSA.distance, score_cutoff=1)
    return near[0] if near and near[0][0] == word[0] else word


@lru_cache(maxsize=64)  # several readers ask it of the same text, and it is the longest search of all
def _found(text: str) -> tuple[str, re.Match[str] | None]:
    """Return a text with its calendar words mended, and the first date or range in it."""
    text = _BETWEEN.sub(r"\1 to ", _mended(text))
    return text, _RANGE.search(text) or _SINGLE.search(text)


def read_dates(text: str, today: date, prefer: Literal["past", "future"]) -> Dates:
    """Find the first date or range of a cleaned text; SenselessError for one that no calendar has."""
    text, m = _found(text)
    if m is None:
        return Dates(text)
    if m.re is _RANGE:
        return Dates(_without(text, m), span=_range(m, today, prefer))
    phrase = _bare(m)
    counted = _COUNTED.fullmatch(phrase)
    if counted and not counted.group(4):
        days = _count(counted.group(2)) * _UNIT_DAYS[counted.group(3)]
        return Dates(_without(text, m), on=today + timedelta(days=days), days=days)
    second = _SINGLE.search(text[m.end() :])
    dated = second and re.search(r"\d", second.group()) and not re.match(r"in |for ", second.group())
    later = _parse(_bare(second), today, prefer) if second and dated else None
    return Dates(
        _without(text, m), on=_parse(phrase, today, prefer), later=later, month_only=_is_month(phrase, prefer)
    )


def read_date_here(text: str, today: date, prefer: Literal["past", "future"]) -> Dates | None:
    """Read the date that a text begins with; `rest` is what follows it. None if it begins with none."""
    found = read_dates(text, today, prefer)
    before, _, after = found.rest.partition(" ; ")
    if found.on is None or before.strip(" ,:(") or " ; " not in found.rest:
        return None
    return replace(found, rest=after)


def _is_month(phrase: str, prefer: str) -> bool:
    if _MONTH_PART.fullmatch(phrase):
        return prefer == "past"
    patterns = (_MONTH_ONLY, _MONTH_YEAR, _SHORT_YEAR, _NUMERIC_MONTH)
    return any(pattern.fullmatch(phrase) for pattern in patterns)


def _bare(match: re.Match[str]) -> str:
    return match.group().strip(" ,.").removeprefix("on ").removeprefix("the ").strip()


def _count(word: str) -> int:
    return 2 if word == "a couple" else count_of(word)


def _without(text: str, match: re.Match[str]) -> str:
    return text[: match.start()] + " ; " + text[match.end() :]


def _range(match: re.Match[str], today: date, prefer: Literal["past", "future"]) -> tuple[date, date]:
    """Return first and last day; where no year is told, the next such days, or the last that have begun."""
    groups = match.groups()
    if numeric := next(((a, b) for a, b in (groups[12:14], groups[14:16], groups[16:18]) if a), None):
        return _numeric_range(*numeric, today, prefer)
    d1, m1, y1, d2, m2, y2, mm1, dd1, yy1, mm2, dd2, yy2 = groups[:12]
    day1, month1, year1 = (d1, m1 or m2, y1) if m2 else (dd1, mm1, yy1)
    day2, month2, year2 = (d2, m2, y2) if m2 else (dd2, mm2 or mm1, yy2)
    if prefer == "past" and not (year1 or year2):
        return _behind(f"{day1} {month1}", f"{day2} {month2}", today)
    end = _parse(f"{day2} {month2} {year2 or ''}".strip(), today, "future")
    start = _parse(f"{day1} {month1} {year1 or end.year}", today, "future")
    if start > end and start.month > end.month and not year1:
        start = _parse(f"{day1} {month1} {end.year - 1}", today, "future")
    if start > end and year1 and not year2:
        end = _parse(
            f"{day2} {month2} {start.year + (month2 != month1 and end.month < start.month)}", today, "future"
        )
    return _ordered(start, end)


def _behind(first: str, last: str, today: date) -> tuple[date, date]:
    """Return the last such days that have begun."""
    start = _parse(first, today, "past")
    end = _parse(f"{last} {start.year}", today, "past")
    return _ordered(start, end if end >= start else _parse(f"{last} {start.year + 1}", today, "past"))


def _numeric_range(
    first: str, last: str, today: date, prefer: Literal["past", "future"]
) -> tuple[date, date]:
    """Read days in figures ("14.-21.8.", "12.12.-19.12.2026"); what the first lacks stands with the last."""
    first, last = first.strip("."), last.strip(".")
    end = _parse(last, today, "past" if prefer == "past" else "future")
    if re.fullmatch(r"\d{1,2}", first):
        first = f"{first}.{end.month}"
    dated = re.search(r"\d{4}|[./]\d+[./]\d", first)
    start = _parse(first if dated else f"{first}.{end.year}".replace("/", "."), today, "future")
    if start > end and not dated:
        start = _parse(f"{first}.{end.year - 1}".replace("/", "."), today, "future")
    if prefer == "future" and end < today and not re.search(r"\d{4}|[./]\d+[./]\d", last):
        start, end = _next_year(start), _next_year(end)
    return _ordered(start, end)


def _next_year(day: date) -> date:
    return day + relativedelta(years=1)


def _ordered(start: date, end: date) -> tuple[date, date]:
    if not 0 <= (end - start).days <= 366:
        raise SenselessError("A trip ends after it begins, within a year: try 12 to 19 December.")
    return start, end


@lru_cache(maxsize=2048)
def _parse(phrase: str, today: date, prefer: str) -> date:
    if m := _NUMERIC_MONTH.fullmatch(phrase):
        return date(int(m["year"] or m["year1"]), int(m["month"] or m["month1"]), 1)
    if m := _SHORT_YEAR.fullmatch(phrase):
        phrase = f"{m.group(1)} 20{m.group(2)}"
    if m := _NUMERIC.fullmatch(re.sub(rf"^{DAY},?\s+", "", phrase)):
        return _numeric(m, today, prefer)
    if m := _MONTH_PART.fullmatch(phrase):
        return _part(m, today, prefer)
    if phrase in {"tonight", "just now"}:
        return today
    if prefer == "past" and re.fullmatch(DAY, phrase) and today.strftime("%A").lower().startswith(phrase[:3]):
        return today
    return _by_library(_plain(phrase), today, prefer)


def _part(match: re.Match[str], today: date, prefer: str) -> date:
    """Read "end of August": ahead the day itself, behind us the first day of the month, which is all that is known."""
    if match["month"]:
        first = _parse(re.sub(r",? (?=\d)", " ", match["month"]), today, prefer)
        first, length = first.replace(day=1), relativedelta(months=1)
        if prefer == "future" and match["month"].isalpha() and first.month == today.month:
            first = today.replace(day=1)
    else:
        later = match["which"] == "next"
        length = {
            "week": relativedelta(days=7),
            "month": relativedelta(months=1),
            "year": relativedelta(years=1),
        }[match["unit"]]
        begun = {
            "week": today - timedelta(days=today.weekday()),
            "month": today.replace(day=1),
            "year": today.replace(month=1, day=1),
        }
        first = begun[match["unit"]] + (length if later else relativedelta())
    if prefer == "past":
        return first
    half = (first + length - first) // 2
    return {"end": first + length - timedelta(days=1), "middle": first + half}.get(match["part"], first)


_SHORT = re.compile(r"\b(?:mon|tues?|wed|thu(?:rs?)?|fri|sat|sun)\b")
_WHOLE = {name[:3].lower(): name.lower() for name in day_name}


def _plain(phrase: str) -> str:
    """Write what the library does not read in words that it does."""
    if phrase in {"last weekend", "next weekend"}:
        return "last sunday" if phrase.startswith("last") else "next saturday"
    if m := _COUNTED.fullmatch(phrase):
        return f"{_count(m.group(2))} {m.group(3)}s ago"
    if m := _MONTH_ONLY.fullmatch(phrase):
        return m.group(1)
    phrase = re.sub(rf"^{DAY},?\s+(?:the\s+)?(?=\d|{MONTH})", "", phrase)
    return _SHORT.sub(lambda m: _WHOLE[m.group()[:3]], phrase)


def _numeric(match: re.Match[str], today: date, prefer: str) -> date:
    """Read day.month.year, or month first where only that can be; two digits of a year are of this century."""
    first, second = int(match.group(1)), int(match.group(2))
    day, month = (second, first) if second > 12 >= first else (first, second)
    year = int(match.group(3) or today.year)
    try:
        found = date(year + 2000 if year < 100 else year, month, day)
    except ValueError as error:
        raise SenselessError(f"No calendar has a {match.group()}: try 12 June or 2026-06-12.") from error
    if match.group(3) is None and prefer == "past" and found > today:
        return found.replace(year=found.year - 1) if (found.month, found.day) != (2, 29) else found
    return found


def _by_library(phrase: str, today: date, prefer: str) -> date:
    import dateparser  # noqa: PLC0415 - slow to import, and most messages hold no date

    day = re.match(r"(\d{1,2})(?:st|nd|rd|th)?\b(?! (?:day|week|month|year))", phrase)
    settings = {
        "RELATIVE_BASE": datetime(today.year, today.month, today.day, 12),  # noqa: DTZ001 - a calendar day, no instant
        "PREFER_DATES_FROM": prefer,
        "DATE_ORDER": "DMY",
        "PREFER_DAY_OF_MONTH": "first" if _MONTH_YEAR.fullmatch(phrase) else "current",
    }
    impossible = day is not None and not 1 <= int(day.group(1)) <= 31
    found = None if impossible else dateparser.parse(phrase, languages=["en"], settings=settings)
    if found is None:
        raise SenselessError(f"No calendar has a {phrase}: try 12 June or 2026-06-12.")
    on: date = found.date()
    return on
