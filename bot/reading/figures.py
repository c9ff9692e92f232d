"""Puts the spans of a clause in order before they are read: a number is whole and its unit says what it is, whatever the encoder made of it."""

import re
from collections.abc import Sequence
from dataclasses import replace

from bot.reading.clauses import Span
from bot.reading.numerals import IN_WORDS

_IDLE = frozenset("and from to at all in on the out down up off and n a an was is it them with".split())
"""Words that tell of no act by themselves, and are marked as one now and then."""
_HUNDRED = re.compile(r"\b(?:(?:an?|one|two|three) )?hundred(?: and)? $", re.IGNORECASE)


_NUMBER = re.compile(
    r"(?<![\d.,:])\d+(?:[.,:]\d+)*(?:\s?h(?:rs?|ours?)?(?:\s?(?:and\s)?\d{1,2}(?:\s?(?:min\w*|m(?![a-z0-9])))?(?!\s?(?:m\b|ft\b|met|\d)))?(?![a-z]))?",
    re.IGNORECASE,
)
"""A number as one writes it, "1.5", "1:25" or "1h15": a span holds all of it or nothing."""
_FIGURES = frozenset({"n", "depth", "time", "temp"})
_OF_SOMETHING_ELSE = re.compile(
    r"\s?(?:bar|psi|cm|cu\b|cubic|viz|vis\b|visib\w*|kg|km|euro|%)|\s?(?:m|ft|metres?|meters?|feet)\s(?:of\s)?(?:viz|vis\b|visib)",
    re.IGNORECASE,
)
_NUMBERED = re.compile(
    r"(?:\b(?:nr|no|number|num|bar|to)\.?|#)\s?$|\b(?:viz|vis|visibility)(?: was| of| about| only| maybe)*\s$",
    re.IGNORECASE,
)
"""What stands before the number of a dive, or how far one saw."""


_UNITS: dict[str, re.Pattern[str]] = {
    "time": re.compile(r"\s?(?:min(?:ute)?s?|mins?|h|hrs?|hours?)\b", re.IGNORECASE),
    "temp": re.compile(
        r"\s?(?:°\s?[cf]?|deg(?:ree)?s?\b(?:\s?(?:[cf]|celsius|fahrenheit)\b)?|[cf]\b|celsius\b|fahrenheit\b)",
        re.IGNORECASE,
    ),
    "depth": re.compile(r"\s?(?:ft|feet|foot|fsw|msw|met(?:re|er)s?|mtrs?)\b", re.IGNORECASE),
    "n": re.compile(r"\s?(?:x|times)\b", re.IGNORECASE),
}
"""Units that say what a number is, whatever else it may be taken for. "m" and "'" say either of two things."""
_MINUTES = re.compile(r"\s?'")
_METRES = re.compile(r"\d\s?m\b")
_FOR = re.compile(r"\bfor (?:about |only |just )?$", re.IGNORECASE)
_TIMES = re.compile(r"\bx\s?$", re.IGNORECASE)
_DATE = re.compile(r"(?<![\d.,])\d{1,2}\.\d{1,2}\.(?:\d{2,4})?|^\d{1,2}/\d{1,2}\b")


def _whole(span: Span, text: str) -> Span:
    """Return a span of figures with the whole of the number that it begins or ends in, and its unit, which says what it is."""
    for date in _DATE.finditer(text):
        if date.start() <= span.start < date.end():
            return Span("when", date.group(), date.start(), date.end())
    slot, start, end = span.slot, span.start, span.end
    for number in _numbers_of(span, text):
        start, end = min(start, number.start()), max(end, number.end())
        slot, end = _unit_of(number, slot, end, text)
    return replace(span, slot=slot, text=text[start:end], start=start, end=end)


def _numbers_of(span: Span, text: str) -> list[re.Match[str]]:
    """Return the numbers that a span holds or cuts, in figures, else in words."""
    figures = any(c.isdigit() for c in span.text)
    found = _NUMBER.finditer(text) if figures else IN_WORDS.finditer(text)
    return [n for n in found if n.start() < span.end and span.start < n.end()]


def _unit_of(number: re.Match[str], slot: str, end: int, text: str) -> tuple[str, int]:
    """Return what a number is by its unit, and where that ends; the slot it was given where no unit tells."""
    given = slot
    for named, unit in _UNITS.items():
        if told := unit.match(text, number.end()):
            slot, end = named, max(end, told.end())
    if slot == "depth" and _MINUTES.match(text, number.end()) and _METRES.search(text):
        slot, end = "time", number.end() + 1
    if (
        slot == given
        and number.end() == end
        and not _LONG.match(text, end)
        and (said := _SAID_BEFORE.search(text[: number.start()]))
    ):
        slot = "time" if said["time"] else "temp"
    if _TIMES.search(text[: number.start()]):
        slot = "n"
    bare_for = slot == "depth" and number.end() == end and _FOR.search(text[: number.start()])
    return (
        "time" if bare_for or ("h" in number.group().casefold() and number.group()[0].isdigit()) else slot
    ), end


_SAID_BEFORE = re.compile(
    r"\b(?:(?P<time>run ?time|bottom time|dive time|duration|lasted|minutes?)|water(?: temp\w*)?|temp(?:erature)?|sea|lake)(?: was| is| has| had| of| at| about|:)* $",
    re.IGNORECASE,
)
_LONG = re.compile(r"\s?(?:m|'|x|dives?)(?![a-z])", re.IGNORECASE)
_AT_CLOCK = re.compile(r"\b(?:at|um|à) (?:\d|1\d|2[0-3])[h:][0-5]\d\b", re.IGNORECASE)
_OF_THE_CLOCK = re.compile(r"(?:[5-9]|1\d|2[0-3])h(?:[0-5]\d)?", re.IGNORECASE)
_DIVE = re.compile(r"\bdive $", re.IGNORECASE)
_OF_THAT_DIVE = re.compile(r"\s?[:,=-]?\s?\d")
_OF_PEOPLE = re.compile(
    r"\s(?:\w+ )?(?:divers?|students?|people|persons?|guests?|kids?|clients?|buddies|friends|of us|participants|snorkell?ers)\b",
    re.IGNORECASE,
)
_SPOKEN_TIME = re.compile(r"\b(?:an?|half|quarters?|minutes?|hours?|zero)\b", re.IGNORECASE)


def _is_figure(span: Span, text: str) -> bool:  # noqa: PLR0911 - a rule each
    """Tell whether a number is a depth or a count at all: "200 bar", "dive no. 412" and "5 m viz" are none."""
    if not any(c.isdigit() for c in span.text):
        words = span.text
        if words.casefold() in {"one", "a", "an"}:
            return span.slot == "n"
        return span.slot not in {"depth", "time", "temp"} or bool(
            IN_WORDS.search(words) or _SPOKEN_TIME.search(words)
        )
    if span.slot == "time" and _OF_THE_CLOCK.fullmatch(span.text.strip()):
        return False  # "a) 10h00 with students"
    numbered = _DIVE.search(text[: span.start]) and _OF_THAT_DIVE.match(text, span.end)
    if numbered and span.text.isdecimal():
        return False  # "dive 1 30 m, dive 2 22 m"
    if span.slot not in {"n", "depth"}:
        return True
    before = _NUMBERED.search(text[: span.start])
    word = before.group().strip().casefold() if before else ""
    counts = span.slot == "n" and word in {"no", "to"}
    bar_to = word == "to" and "bar" not in text[max(0, span.start - 12) : span.start]
    other = _OF_SOMETHING_ELSE
    if span.slot == "n" and _OF_PEOPLE.match(text, span.end):
        return False
    return (before is None or counts or bar_to) and not (
        other.match(text, span.end) or other.search(span.text)
    )


def mended(spans: Sequence[Span], text: str) -> tuple[Span, ...]:
    """Join days told in two pieces ("March" "last year"), take a hundred into its number, and leave out what is no act or figure."""
    found: list[Span] = []
    for told in _sentences_apart(spans):
        before = found[-1] if found else None
        if any(m.start() <= told.start < m.end() for m in _AT_CLOCK.finditer(text)):
            continue  # "at 9h30 I dived"
        span = _figure(told, text)
        if (span.slot in {"act", "when"} and span.text.casefold() in _IDLE) or not _is_figure(span, text):
            continue
        if before is not None and before.end > span.start:
            continue  # a unit that was marked apart from its number
        if before is not None and _goes_on(before, span, text):
            found[-1] = replace(before, text=text[before.start : span.end], end=span.end)
            continue
        if span.slot in _FIGURES and (more := _HUNDRED.search(text, before.end if before else 0, span.start)):
            span = replace(span, text=text[more.start() : span.end], start=more.start())
        found.append(span)
    return tuple(_cold_enough(_of_one_unit(_no_days(found), text), text))


_DAY_AND_FIGURE = re.compile(r"((?:mon|tue|wed|thu|fri|sat|sun)[a-z]*)\s+(\d{1,2})", re.IGNORECASE)


def _count_of_day(n: int, span: Span, spans: list[Span]) -> Span:
    """Return a small bare number between a day and a depth with its unit as how many dives that were: "today 1, 30 m"."""
    before, after = spans[n - 1] if n else None, spans[n + 1] if n + 1 < len(spans) else None
    small = span.slot == "depth" and span.text.isdecimal() and int(span.text) <= _FEW
    beside = before is not None and before.slot == "when" and after is not None and after.slot == "depth"
    return replace(span, slot="n") if small and beside and after and not after.text.isdecimal() else span


_FEW = 4


def _no_days(spans: list[Span]) -> list[Span]:
    """Return bare numbers beside depths that were taken for days as depths: "12, 11, 9 m", "sat 12 m and 14 m, sun 20"."""
    if not any(s.slot == "depth" for s in spans):
        return spans
    found: list[Span] = []
    spans = [_count_of_day(n, s, spans) for n, s in enumerate(spans)]
    for n, span in enumerate(spans):
        after = spans[n + 1] if n + 1 < len(spans) else None
        told = _DAY_AND_FIGURE.fullmatch(span.text) if span.slot == "when" else None
        earlier = any(s.slot == "when" for s in spans[:n])
        if told and earlier:
            found.append(replace(span, text=told[1], end=span.start + told.end(1)))
            found.append(Span("depth", told[2], span.start + told.start(2), span.end))
        elif span.slot == "when" and span.text.isdecimal() and after is not None and after.slot == "depth":
            found.append(replace(span, slot="depth"))
        else:
            found.append(span)
    return found


def _cold_enough(spans: list[Span], text: str) -> list[Span]:
    """Return a bare number that was taken for warmth as a depth, where another one is told in degrees and a depth beside: "26 m, then 18, 9 degrees"."""
    temps = [s for s in spans if s.slot == "temp"]
    told = [s for s in temps if any(u in s.text.casefold() for u in ("deg", "°", "c", "f", "grad"))]
    if not told or not any(s.slot == "depth" for s in spans):
        return spans
    bare = {id(s) for s in temps if s not in told and not _SAID_BEFORE.search(text[: s.start])}
    return [replace(s, slot="depth") if id(s) in bare else s for s in spans]


_LISTED = re.compile(r",\s*|\s*&\s*|\s+(?:and|n)\s+")
_LEAST_LISTED = 2


def _of_one_unit(spans: list[Span], text: str) -> list[Span]:
    """Return "25, 22, 15 min" as three times: a unit at the end of a list is that of its bare numbers, of two at least."""
    found = list(spans)
    for n, span in enumerate(found):
        first = n
        while (
            first
            and _is_bare(found[first - 1])
            and _LISTED.fullmatch(text[found[first - 1].end : found[first].start])
        ):
            first -= 1
        if span.slot == "time" and not span.text.isdecimal() and n - first >= _LEAST_LISTED:
            found[first:n] = [replace(s, slot="time") for s in found[first:n]]
    return found


def _is_bare(span: Span) -> bool:
    return span.slot in {"depth", "time"} and span.text.isdecimal()


_STOP = re.compile(r"(?<=\d)[.;]\s+(?=\d)")


def _sentences_apart(spans: Sequence[Span]) -> list[Span]:
    """Return spans of figures cut where a sentence ends in them, the first part as a depth; without words that only count the item behind them."""
    found: list[Span] = []
    for n, span in enumerate(spans):
        after = spans[n + 1] if n + 1 < len(spans) else None
        if (
            span.slot == "item"
            and span.text.casefold() in _COUNTS_ITEMS
            and after is not None
            and after.slot == "item"
        ):
            continue
        last = found[-1] if found else None
        if (
            last is not None
            and {span.slot, last.slot} <= {"item", "left"}
            and (span.slot == last.slot or last.text.casefold() in {"can", "left"})
            and span.id == last.id
            and span.start - last.end <= 1
        ):
            words = f"{last.text} {span.text}"  # "LED torch": one item in two pieces
            found[-1] = replace(
                last, slot=span.slot, text=words, end=span.end, sure=max(last.sure, span.sure)
            )
            continue
        stop = _STOP.search(span.text) if span.slot in _FIGURES else None
        if stop is None:
            found.append(span)
            continue
        first = "depth" if span.slot == "temp" else span.slot
        at = span.start + stop.end()
        found.append(Span(first, span.text[: stop.start()], span.start, span.start + stop.start()))
        found.append(replace(span, text=span.text[stop.end() :], start=at))
    return found


_COUNTS_ITEMS = frozenset({"both", "all", "each", "every", "the", "my"})


def _figure(span: Span, text: str) -> Span:
    is_temp = span.slot == "gas" and (
        _UNITS["temp"].fullmatch(span.text.lstrip("-0123456789.,"))
        or (span.text.isdecimal() and _UNITS["temp"].match(text, span.end))
    )
    return _whole(span, text) if span.slot in _FIGURES or is_temp else span


def _goes_on(before: Span, span: Span, text: str) -> bool:
    """Tell whether a day only has its year told apart."""
    is_year = span.slot == before.slot == "when" and _YEAR.fullmatch(span.text)
    return bool(is_year) and not text[before.end : span.start].strip(" ,")


_YEAR = re.compile(
    r"(?:of )?(?:last|this) (?:year|yr|summer|winter|spring|autumn)|(?:19|20)\d\d", re.IGNORECASE
)
