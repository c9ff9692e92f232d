"""Spans of days told in words: "next week", "10 days from 12 December", "whole of March", "Friday to Sunday"."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta

from bot.understand.counts import count_of
from bot.understand.dates import DAY, MONTH, NUMBER, read_date_here, read_dates
from bot.understand.quantities import SenselessError

_WEEK = re.compile(
    r"\b(?:(?:all|whole|during|over|for|the)(?: of)? ){0,4}(?P<which>this|next|coming) (?P<what>(?<!this )week|weekend)\b"
)
_LENGTH = rf"(?P<n>{NUMBER}|the|one)?\s*(?P<unit>day|night|week|fortnight)s?"
_LENGTH_FROM = re.compile(
    rf"\b{_LENGTH}\b(?P<where>[^.;\d]{{0,60}}?)[,\s]+(?:from|starting|starts?|beginning|as of|leaving|departing)(?: on)?\s+(?P<date>(?!now\b).+)"
)
_FOR_LENGTH = re.compile(rf"\s*(?:,\s*(?:for\s+)?|for\s+|x\s*)(?:about\s+)?{_LENGTH}\b")
_WHOLE_MONTH = re.compile(
    rf"\b(?:the )?(?:whole|all|entire)(?: month)?(?: of)? (?P<month>{MONTH})\b(?: (?P<year>\d{{4}})\b)?"
)
_WEEKDAYS = re.compile(
    rf"\b(?:from )?(?:(?P<next>next)|this)? ?(?P<first>{DAY})\s*(?:to|till?|until|through|-)\s*(?:next )?(?P<last>{DAY})\b"
)
_UNIT_DAYS = {"day": 1, "night": 1, "week": 7, "fortnight": 14}
_LONGEST = 366
SATURDAY = 5


@dataclass(frozen=True, slots=True)
class Span:
    """First and last day; `rest` is the text without them."""

    start: date
    end: date
    rest: str
    days_named: bool = True
    """Its days were named, or counted; False of a week or weekend as a whole, and of "since Monday"."""


def read_span(text: str, today: date) -> Span | None:
    """Read the first span that lies ahead or runs today; None if none is told in words. SenselessError if too long."""
    return (
        _length(text, today)
        or _whole_month(text, today)
        or _weekdays(text, today)
        or _this_or_next(text, today)
    )


_PAST_DAYS = re.compile(
    rf"\b(?:(?:from |between )?(?P<first>{DAY})\s*(?:to|till?|until|through|thru|-|and)\s*(?P<last>{DAY}|yesterday|today|now)|since (?P<since>{DAY}|yesterday))\b"
)
_BACK = re.compile(
    r"\b(?:(?:over|during|on|in|for|all) )?(?:(?:the )?(?P<which>last|past|this|previous) |the |all |whole )(?:(?P<n>\d{1,2}|two|three|four|five|six|seven|ten|couple of) days?|(?P<unit>weekend|week))\b"
)


def past_span(text: str, today: date) -> Span | None:
    """Read the last span that has begun, told by weekdays or as a week, a weekend or some days; None if none is told."""
    if m := _PAST_DAYS.search(text):
        if " and " in m.group() and not m.group().startswith("between"):
            return None
        last = m["last"] or "today"
        end = today if last in {"today", "now"} else _last_day(last, today)
        start = _last_day(m["first"] or m["since"], end)
        return Span(start, end, _cut(text, m.start(), m.end()), days_named=m["since"] is None)
    if not (m := _BACK.search(text)):
        return None
    rest = _cut(text, m.start(), m.end())
    if m["n"]:
        number = 2 if m["n"] == "couple of" else count_of(m["n"])
        return Span(today - timedelta(days=max(number, 1) - 1), today, rest) if number <= _LONGEST else None
    earlier = m["which"] in {"last", "past", "previous"}
    if m["unit"] == "week":
        start = monday(today) - timedelta(days=7 * earlier)
        return Span(start, min(start + timedelta(days=6), today), rest, days_named=False)
    sunday = today - timedelta(days=(today.weekday() + 1) % 7)
    saturday = sunday - timedelta(days=1) if today.weekday() != SATURDAY or earlier else today
    return Span(saturday, min(saturday + timedelta(days=1), today), rest, days_named=False)


def _last_day(word: str, until: date) -> date:
    """Return the last such day that is not after `until`."""
    if word == "yesterday":
        return until - timedelta(days=1)
    return until - timedelta(days=(until.weekday() - _weekday(word)) % 7)


def weekend(today: date, *, following: bool = False) -> tuple[date, date]:
    """Return Saturday and Sunday of this week, or of the one after."""
    saturday = monday(today) + timedelta(days=SATURDAY + 7 * following)
    return saturday, saturday + timedelta(days=1)


def monday(day: date) -> date:
    """Return the Monday of the week of a day."""
    return day - timedelta(days=day.weekday())


def _this_or_next(text: str, today: date) -> Span | None:
    if not (m := _WEEK.search(text)):
        return None
    following = m["which"] == "next" or (m["which"] == "coming" and m["what"] == "week")
    if m["what"] == "weekend":
        start, end = weekend(today, following=following)
    else:
        start = monday(today) + timedelta(days=7 * following)
        end = start + timedelta(days=6)
    return Span(max(start, today), end, _cut(text, m.start(), m.end()))


def _length(text: str, today: date) -> Span | None:
    if m := _LENGTH_FROM.search(text):
        told = read_date_here(m["date"], today, "future")
        idiom = (
            told is not None and not m["where"].strip() and re.match(DAY, m["date"])
        )  # "a week from Friday"
        if told and told.on and not idiom:
            rest = f"{text[: m.start()]} ; {m['where']} ; {told.rest}"
            return _lasting(told.on, m, rest)
    told = read_dates(text, today, "future")
    before, _, after = told.rest.partition(" ; ")
    if told.on and told.days is None and (m := _FOR_LENGTH.match(after)):
        return _lasting(told.on, m, f"{before} ; {after[m.end() :]}")
    return None


def _lasting(start: date, m: re.Match[str], rest: str) -> Span:
    said = m["n"]
    number = 1 if said in {None, "the"} else 2 if said == "a couple" else count_of(said)
    days = number * _UNIT_DAYS[m["unit"]] + (m["unit"] == "night")
    if not 1 <= days <= _LONGEST:
        raise SenselessError("A trip lasts from a day to a year: try 12 to 19 December.")
    return Span(start, start + timedelta(days=days - 1), rest)


def _whole_month(text: str, today: date) -> Span | None:
    if not (m := _WHOLE_MONTH.search(text)):
        return None
    start = read_dates(f"{m['month']} {m['year']}" if m["year"] else f"in {m['month']}", today, "future").on
    if start is None:
        return None
    if start < today and not m["year"]:
        start = start if start.month == today.month else start + relativedelta(years=1)
    return Span(start, start + relativedelta(months=1, days=-1), _cut(text, m.start(), m.end()))


def _weekdays(text: str, today: date) -> Span | None:
    if not (m := _WEEKDAYS.search(text)):
        return None
    first, last = _weekday(m["first"]), _weekday(m["last"])
    start = today + timedelta(days=(first - today.weekday()) % 7)
    if m["next"] and monday(start) == monday(today):
        start += timedelta(days=7)
    return Span(start, start + timedelta(days=(last - first) % 7), _cut(text, m.start(), m.end()))


def _weekday(word: str) -> int:
    return ("mon", "tue", "wed", "thu", "fri", "sat", "sun").index(word[:3])


def _cut(text: str, start: int, end: int) -> str:
    return f"{text[:start]} ; {text[end:]}"
