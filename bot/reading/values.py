"""Spans to numbers, units and days. What a bare number means hangs on its slot, so "33" is metres in one and minutes in another."""

import re
from collections.abc import Iterable
from datetime import date

from bot.reading.clauses import Span
from bot.reading.numerals import in_figures
from bot.reading.scene import Scene
from bot.understand.counts import count_of
from bot.understand.dates import MONTH, OLDEST, Dates, read_dates
from bot.understand.quantities import (
    COLDEST_C,
    DEEPEST_M,
    HOTTEST_C,
    LONGEST_MIN,
    SenselessError,
    read_quantities,
)
from bot.understand.text import clean
from bot.understand.vocabulary import NUMBERS

_NUMBER = re.compile(r"-?\d+(?:[.,]\d+)?")
_FEET = re.compile(r"\d\s*(?:'|ft\b|fsw\b|f\b)|\bfeet\b|\bfoot\b|\bft\b", re.IGNORECASE)
_METRES = re.compile(r"\d\s*m\b|\bm\b|\bmet(?:re|er)s?\b|\bmtrs?\b|\bmsw\b", re.IGNORECASE)
_NO_DEPTH = re.compile(r"\d\s*(?:bar|psi|kg|%|min\w*|°|deg\w*)", re.IGNORECASE)
_FAHRENHEIT = re.compile(r"°?\s*f\b|\bfahrenheit\b", re.IGNORECASE)
_CELSIUS = re.compile(r"°?\s*c\b|\bcelsius\b", re.IGNORECASE)
_FOOT_M = 0.3048
_TOO_WARM_FOR_C, _WARM_BESIDE_FEET = 42, 33
_SMALL = {"a": 1, "an": 1, "single": 1, "once": 1, "twice": 2, "thrice": 3, "couple": 2, "pair": 2, "both": 2, "double": 2, "dozen": 12, "half": 0}  # fmt: skip
_QUARTERS = {
    "half an hour": 30,
    "half hour": 30,
    "quarter of an hour": 15,
    "three quarters of an hour": 45,
    "three quarters": 45,
}
_HOURS = re.compile(
    r"\b(?:(?P<n>\d+(?:[.,]\d+)?)|an|one|a)\s*(?:h|hr|hrs|hours?)\b(?P<half> and a half)?(?:\s*(?:and\s*)?(?P<more>\d{1,2}))?"
)
_CLOCK = re.compile(r"\b(\d{1,2}):([0-5]\d)\b")
_H_MIN = re.compile(r"\b(\d{1,2})\s*h(?:rs?|ours?)?\s*(\d{1,2})\b")


def numbers(text: str) -> list[float]:
    """Return the numbers in a text, words for numbers included: "ten to thirty" is 10 and 30."""
    plain = re.sub(r"(?<=\d)\s*-\s*(?=\d)", " ", clean(in_figures(text)))
    return [float(n.replace(",", ".")) for n in _NUMBER.findall(plain)]


def count(spans: Iterable[Span]) -> int | None:
    """Return the number of dives or things that spans say; several add up. None if there are none."""
    found = [n for span in spans if (n := one_count(span.text)) is not None]
    return sum(found) if found else None


def one_count(text: str) -> int | None:
    """Return the whole number that a few words say, None if they say none."""
    words = re.findall(r"\d+|[a-z]+", clean(in_figures(text)))
    for word in words:
        if word.isdigit():
            return int(word)
        if word in NUMBERS and word != "a":
            return count_of(word)
        if _SMALL.get(word):
            return _SMALL[word]
    return None


def depth_m(spans: Iterable[Span], scene: Scene) -> float | None:
    """Return the greatest depth said, in metres to a tenth; SenselessError for one that cannot be."""
    return max((d for _, d in depths_m(spans, scene)), default=None)


def depths_m(spans: Iterable[Span], scene: Scene) -> list[tuple[Span, float]]:
    """Return the depths said in order, each with its span: two of "24 and 19", the deeper of "10 to 30"."""
    said = [s for s in spans if not _NO_DEPTH.search(s.text)]
    whole = " ".join(s.text for s in said)
    feet = bool(_FEET.search(whole)) or (scene.imperial and not _METRES.search(whole))
    found: list[tuple[Span, float]] = []
    for span in said:
        known = [abs(n) * (_FOOT_M if feet else 1.0) for n in numbers(span.text)]
        for depth in known:
            if not 0 < depth <= DEEPEST_M:
                raise SenselessError(f"A depth of {depth:g} m cannot be: up to {DEEPEST_M} m works.")
        if known and not _AND.search(span.text):
            known = [max(known)]
        found += [(span, round(depth, 1)) for depth in known]
    return found


_AND = re.compile(r"\band\b|[&+,/]\s*(?=\d)|\bthen\b", re.IGNORECASE)
"""Between two figures: they are of two dives, not from one to the other."""


def minutes(spans: Iterable[Span]) -> int | None:
    """Return the longest time said, in minutes; SenselessError for one that cannot be."""
    return max((m for _, m in times_min(spans)), default=None)


def times_min(spans: Iterable[Span]) -> list[tuple[Span, int]]:
    """Return the times said in order, each with its span; SenselessError for one that cannot be."""
    found: list[tuple[Span, int]] = []
    for span in spans:
        worded = clean(span.text).replace("-", " ")
        text = worded if worded in _QUARTERS else clean(in_figures(span.text))
        both = numbers(text) if _BOTH.fullmatch(text) else [_minutes(text)]
        for minutes in both:
            if minutes is None:
                continue
            if not 0 < minutes <= LONGEST_MIN:
                raise SenselessError(f"A dive of {minutes:g} minutes cannot be: up to {LONGEST_MIN} works.")
            found.append((span, round(minutes)))
    return found


_BOTH = re.compile(r"\d{1,3}(?: min\w*)?(?:\s*(?:and|&|\+|/)\s*\d{1,3})+(?: min\w*)?")


def _minutes(text: str) -> float | None:
    if text in _QUARTERS:
        return _QUARTERS[text]
    if m := (_CLOCK.search(text) or _H_MIN.search(text)):
        return int(m[1]) * 60 + int(m[2])
    if m := _HOURS.search(text):
        hours = float((m["n"] or "1").replace(",", ".")) + (0.5 if m["half"] else 0)
        rest = text[m.end() :]
        more = float(m["more"] or 0) or next(iter(numbers(rest)), 0.0)
        return hours * 60 + (15 if "quarter" in rest else more)
    known = numbers(text)
    return max(known) if known else None


def temps_c(spans: Iterable[Span], scene: Scene, beside: str = "") -> tuple[float, ...]:
    """Return the temperatures said, in Celsius; SenselessError for one that cannot be. `beside`: words that may hold feet."""
    feet = bool(_FEET.search(beside)) and not _METRES.search(beside)
    found: list[float] = []
    for span in spans:
        for n in numbers(span.text.replace("minus ", "-")):
            fahrenheit = bool(_FAHRENHEIT.search(span.text)) or (
                not _CELSIUS.search(span.text)
                and (scene.imperial or n > (_WARM_BESIDE_FEET if feet else _TOO_WARM_FOR_C))
            )
            found.append(round((n - 32) / 1.8, 1) if fahrenheit else n)
    for t in found:
        if not COLDEST_C <= t <= HOTTEST_C:
            raise SenselessError(f"{t:g} °C cannot be: {COLDEST_C} to {HOTTEST_C} works.")
    return tuple(found)


def oxygen(spans: Iterable[Span]) -> float | None:
    """Return the richest oxygen fraction that words for gas say, None if they say none."""
    found: list[float] = []
    for span in spans:
        text = clean(span.text)
        read = read_quantities(text).o2_fraction
        if read is None and re.search(r"\bo2\b|\boxygen\b", text) and not numbers(text):
            read = 1.0
        if read is None and (known := [n for n in numbers(text) if 18 <= n <= 100]):
            read = max(known) / 100
        if read is not None:
            found.append(read)
    return max(found) if found else None


def oxygen_of(text: str) -> float | None:
    """Return the oxygen fraction by which words name an item: "the oxygen stage" is 1, "the 50 % bottle" is 0.5."""
    plain = clean(text)
    read = read_quantities(plain).o2_fraction
    return (
        1.0
        if read is None and re.search(r"\bo2\b|\boxygen\b(?! (?:cell|sensor|clean|compatible|grease))", plain)
        else read
    )


_YEAR_SAID = re.compile(r"\b(?:of )?(last|this) (?:year|yr)\b")
_ORDINALS = {w: n for n, w in enumerate("first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth thirteenth fourteenth fifteenth sixteenth seventeenth eighteenth nineteenth twentieth".split(), 1)} | {"twenty first": 21, "twenty second": 22, "twenty third": 23, "twenty fourth": 24, "twenty fifth": 25, "twenty sixth": 26, "twenty seventh": 27, "twenty eighth": 28, "twenty ninth": 29, "thirtieth": 30, "thirty first": 31}  # fmt: skip
_ORDINAL = re.compile(
    rf"\b(?:{'|'.join(sorted(_ORDINALS, key=len, reverse=True))})\b(?=\s*(?:of\b|to\b|till\b|until\b|{MONTH}|$))"
)


_NITE = re.compile(r"\bnite\b", re.IGNORECASE)
_OF_YEAR = re.compile(r" (?:of|in) (?=(?:19|20)\d\d\b)")
_LASTS = re.compile(r"\d+ (?:days?|weeks?|months?|years?|hours?|minutes?)\b")
_WORDED = re.compile(r"\b(?:first|second|third|\w+(?:th|tieth))\b", re.IGNORECASE)


def ordinals_in_figures(text: str) -> str:
    """Write days of a month that are told in words as figures: "the eleventh" is "the 11th"."""
    plain = text.casefold().replace("-", " ") if _WORDED.search(text) else text
    return _ORDINAL.sub(lambda m: f"{_ORDINALS[m.group()]}th", plain)


def days(span: Span, scene: Scene) -> Dates:
    """Return the day that a span says, read as lying in the past where that is open; `on` is None if it says none."""
    said = ordinals_in_figures(_NITE.sub("night", span.text))
    text = scene.of(_OF_YEAR.sub(" ", in_figures(said))).mended
    if re.search(MONTH, text):
        text = _YEAR_SAID.sub(lambda m: str(scene.today.year - (m[1] == "last")), text)
    found = read_dates(text, scene.today, "past")
    if found.on is None and (
        day := re.fullmatch(r"(?:the |day |on the )?(\d{1,2})(?:st|nd|rd|th)?\.?", text)
    ):
        found = read_dates(f"on the {day[1]}th", scene.today, "past")
    if found.on is None and not text.startswith(("in ", "last ", "since ")) and not _LASTS.search(text):
        found = read_dates(f"in {text}", scene.today, "past")
    return found


def past_day(span: Span, scene: Scene, *, ahead: str) -> Dates:
    """Return the day of something that happened. SenselessError for one that lies ahead, with `ahead` as the reason."""
    found = days(span, scene)
    if found.on is not None and found.on > scene.today:
        raise SenselessError(f"{found.on:%d %B %Y} lies ahead: {ahead}")
    if found.on is not None and found.on < OLDEST:
        raise SenselessError(f"{found.on:%d %B %Y} is before this kit was made: check the year.")
    return found


def on_of(spans: Iterable[Span], scene: Scene, ahead: str) -> tuple[date | None, bool]:
    """Return the first day that spans say, and whether only a month was said."""
    for span in spans:
        found = past_day(span, scene, ahead=ahead)
        if found.on is not None:
            return found.on, found.month_only
    return None, False
