"""Dates in free text, in the diver's zone. A pattern finds the words, dateparser reads them."""

import re
from calendar import month_name
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache
from typing import Literal

from rapidfuzz import process
from rapidfuzz.distance import OSA

from bot.understand.counts import count_of
from bot.understand.quantities import SenselessError
from bot.understand.vocabulary import NUMBERS

_MONTH = r"(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)"
_DAY = r"(?:mon(?:day)?|tue(?:s(?:day)?)?|wed(?:nesday)?|thu(?:rs(?:day)?)?|fri(?:day)?|sat(?:urday)?|sun(?:day)?)"
_ORD = r"\d{1,2}(?:st|nd|rd|th)?"
_NUMBER = r"(?:\d{1,3}|" + "|".join(sorted(NUMBERS, key=len, reverse=True)) + ")"
_RANGE = re.compile(
    rf"\b({_ORD})\s*(?:of\s+)?({_MONTH})?\s*(?:to|until|till|-|through|up to)\s*(?:the\s+)?({_ORD})\s*(?:of\s+)?({_MONTH})\.?\s*(\d{{4}})?\b"
    rf"|\b({_MONTH})\s+({_ORD})\s*(?:to|until|till|-|through)\s*(?:({_MONTH})\s+)?({_ORD})(?:,?\s+(\d{{4}}))?\b"
    r"|\b(\d{4}-\d{2}-\d{2})\s*(?:to|until|till|-|/|through)\s*(\d{4}-\d{2}-\d{2})\b",
)
_SINGLE = re.compile(
    r"\b\d{4}-\d{1,2}-\d{1,2}\b"
    r"|\b\d{1,2}[./]\d{1,2}[./]\d{2,4}\b"
    r"|(?<![\w/.])(?:[0-2]?\d|3[01])/(?:0?[1-9]|1[0-2])\b(?![/.]\d)"
    rf"|\b(?:{_DAY},?\s+)?{_ORD}\s*(?:of\s+)?{_MONTH}\b\.?(?:,?\s+\d{{4}}\b)?"
    rf"|\b{_MONTH}\.?\s+{_ORD}\b(?:,?\s+\d{{4}}\b)?"
    rf"|\b{_MONTH}\s+\d{{4}}\b"
    r"|\b(?:the )?day before yesterday\b|\b(?:the )?day after tomorrow\b"
    r"|\byesterday\b|\btoday\b|\btonight\b|\btomorrow\b|\bthis (?:morning|afternoon|evening)\b|\blast night\b|\bjust now\b"
    rf"|\b(?:(?:last|next|this|on)\s+)?{_DAY}\b(?!\s*zip)"
    rf"|\b{_NUMBER}(?: of)? (?:day|week|month|year)s? ago\b|\ba (?:week|fortnight|month) ago\b"
    rf"|\bin {_NUMBER}(?: of)? (?:day|week|month)s?\b|\bfor {_NUMBER} (?:day|week)s\b|\bfor a week\b"
    r"|\b(?:last|next) (?:week|month|weekend|year)\b"
    r"|\bon the \d{1,2}(?:st|nd|rd|th)\b(?! of| [a-z]{3,9} \d{4}|"
    rf" {_MONTH})"
    rf"|\b(?:in|last|since|until|till) {_MONTH}\b",
)
_MONTH_ONLY = re.compile(rf"\b(?:in|last|since|until|till) ({_MONTH})\b")
_IN_DAYS = re.compile(rf"\b(?:in|for) ({_NUMBER})(?: of)? (day|week|month)s?\b")


@dataclass(frozen=True)
class Dates:
    """Dates found; `rest` is the text without them. `span` holds from and to, `days` an "in n days"."""

    rest: str
    on: date | None = None
    span: tuple[date, date] | None = None
    days: int | None = None
    later: date | None = None
    """A second full date."""


_MONTHS = [m.lower() for m in month_name if len(m) > 3]
_NEAR_NUMBER = re.compile(r"(?:(?<=\d )|(?<=\d(?:st|nd|rd|th) )|(?<= of ))[a-z]{4,}|[a-z]{4,}(?= \d)")


def _months_mended(text: str) -> str:
    """Mend misspelt months, so that a test date is never silently taken for today."""
    return _NEAR_NUMBER.sub(lambda m: _mended(m.group()), text)


@lru_cache(maxsize=4096)
def _mended(word: str) -> str:
    near = process.extractOne(word, _MONTHS, scorer=OSA.distance, score_cutoff=1)
    return near[0] if near and near[0][0] == word[0] and len(near[0]) > 3 else word


def read_dates(text: str, today: date, prefer: Literal["past", "future"]) -> Dates:
    """Find the first date or range of a cleaned text; SenselessError for one that no calendar has."""
    text = _months_mended(text)
    if m := _RANGE.search(text):
        return Dates(_without(text, m), span=_range(m, today))
    m = _SINGLE.search(text)
    if m is None:
        return Dates(text)
    phrase = m.group().strip().removeprefix("on ").strip()
    days = _days(phrase)
    if days is not None:
        return Dates(_without(text, m), on=today + timedelta(days=days), days=days)
    return Dates(
        _without(text, m), on=_parse(phrase, today, prefer), later=_later(text[m.end() :], today, prefer)
    )


def _later(rest: str, today: date, prefer: Literal["past", "future"]) -> date | None:
    """Return a second date that was named in full, such as the day of coming home; None if there is none."""
    m = _SINGLE.search(rest)
    return (
        _parse(m.group().strip().removeprefix("on ").strip(), today, prefer)
        if m and m.group()[-1:] and re.search(r"\d", m.group())
        else None
    )


def _days(phrase: str) -> int | None:
    if m := _IN_DAYS.fullmatch(phrase):
        return count_of(m.group(1)) * {"day": 1, "week": 7, "month": 30}[m.group(2)]
    return 7 if phrase == "for a week" else None


def _without(text: str, match: re.Match[str]) -> str:
    return text[: match.start()] + " ; " + text[match.end() :]


def _range(match: re.Match[str], today: date) -> tuple[date, date]:
    d1, m1, d2, m2, year, mm1, dd1, mm2, dd2, myear, iso1, iso2 = match.groups()
    if iso1:
        start, end = _parse(iso1, today, "future"), _parse(iso2, today, "future")
    elif m2:
        end = _parse(f"{d2} {m2} {year or ''}".strip(), today, "future")
        start = _parse(f"{d1} {m1 or m2} {end.year}", today, "future")
    else:
        end = _parse(f"{dd2} {mm2 or mm1} {myear or ''}".strip(), today, "future")
        start = _parse(f"{dd1} {mm1} {end.year}", today, "future")
    if start > end:
        start = _parse(f"{start.day} {start.strftime('%B')} {start.year - 1}", today, "past")
    if not 0 <= (end - start).days <= 366:
        raise SenselessError("A trip ends after it begins, within a year: try 12 to 19 December.")
    return start, end


@lru_cache(maxsize=2048)
def _parse(phrase: str, today: date, prefer: str) -> date:
    import dateparser  # noqa: PLC0415 - slow to import, and most messages hold no date

    if phrase in {"tonight", "just now"}:
        return today
    if phrase in {"last weekend", "next weekend"}:
        phrase = "last sunday" if phrase.startswith("last") else "next saturday"
    if m := _MONTH_ONLY.fullmatch(phrase):
        phrase = f"1 {m.group(1)}"
    phrase = re.sub(rf"^(?:{_DAY},?\s+|(?:on )?the )(?=\d)", "", phrase)
    if (
        prefer == "past"
        and re.fullmatch(_DAY, phrase)
        and today.strftime("%A").lower().startswith(phrase[:3])
    ):
        return today
    base = datetime(today.year, today.month, today.day, 12)  # noqa: DTZ001 - calendar arithmetic only, no instant
    settings = {
        "RELATIVE_BASE": base,
        "PREFER_DATES_FROM": prefer,
        "DATE_ORDER": "DMY",
        "PREFER_DAY_OF_MONTH": "first",
    }
    found = dateparser.parse(phrase, languages=["en"], settings=settings)
    if found is None:
        raise SenselessError(f"No calendar has a {phrase}: try 12 June or 2026-06-12.")
    on: date = found.date()
    return on
