"""Finds the dates told of a cylinder or a part: of manufacture, of a test, of the next one; a month, or a day where one was said."""

import re
from dataclasses import dataclass
from datetime import date
from typing import Literal

from bot.understand.dates import MONTH, read_date_here
from bot.understand.message import Message
from store.vocabulary import CylinderTest

TESTS: tuple[tuple[CylinderTest, re.Pattern[str]], ...] = (
    (CylinderTest.EDDY_CURRENT, re.compile(r"\beddy\b")),
    (
        CylinderTest.HYDROSTATIC,
        re.compile(r"\b(?:hydro\w*|hydro'd|hydrostatic\w*|t[uü]v|pressure test(?:ed)?|periodic test)\b"),
    ),
    (CylinderTest.VISUAL, re.compile(r"\b(?:visual\w*|vip|viz|vis|internal inspection)\b")),
)
"""Words for a test, the more telling first."""

_OF_PARTS = r"(?:cells?|sensors?|hoses?|seals?|batter(?:y|ies)|zips?|zippers?|o-?rings?|diaphragms?|mouthpieces?|valves?)"
_THINGS = rf"(?:cylinder|tank|bottle|twinset|doubles|stage|pony|cylinders|tanks|bottles|{_OF_PARTS})"
_MADE = re.compile(
    r"\b(?:made|manufactured|manufacture(?:d)?(?: date)?|manufacturing date|built|produced|production date|date of (?:manufacture|production)|dom|date code|dated|mfg|mfd"
    rf"|(?:all|both) from(?=\W+(?:in )?(?:{MONTH}|\d))"
    rf"|(?:{_THINGS}|it|they|one|ones|that|new) ?(?:'s|'re|is|are|was|were|came|comes) (?:all |both )?from(?=\W+(?:in )?(?:{MONTH}|\d))"
    rf"|(?:the |a |its |with )?(?<!due )date (?:code )?(?:printed |stamped |marked |written )?(?:on|of) (?:it|them|the (?:{_THINGS}|label|bag|package|box|side))"
    rf"|(?:label|bag|package|box|marking|print|{_OF_PARTS}) (?:says?|reads?|shows?|states?|dated|is dated|is stamped|stamped)(?! (?:due|next)))"
    r"\b(?: (?:in|on|is|was|were|of|date|says?|reads?|the|my|stage|twinset|doubles|tank|cylinder|pony|bottle))*[\s:,]*(?=\S)"
)
_YEAR = re.compile(r"(?:in )?((?:19|20)\d\d)\b(?![-/.]\d)")
_SHORT_STAMP = re.compile(
    rf"(?:in )?(?:(?P<number>0?[1-9]|1[0-2])\s?[/.-]\s?|(?P<name>{MONTH})\.? ?'?)(?P<year>\d{{2}})\b(?!\d|[/.-]\d|\s?(?:st|nd|rd|th)\b)"
)
_LONGEST_DATE = 40
_MONTHS = "jan feb mar apr may jun jul aug sep oct nov dec".split()


@dataclass(frozen=True, slots=True)
class Told:
    """A date told in a text, from the word that says of what (`start`) to behind the date (`end`).

    `month_only`: only the month was told; `on` is its first day.
    """

    on: date
    start: int
    end: int
    month_only: bool


def _month_here(text: str, today: date, prefer: Literal["past", "future"]) -> tuple[date, int, bool] | None:
    """Read the date a text begins with, its year told, how far it reaches, and whether it is a month only.

    Two digits of a year follow `prefer`.
    """
    text = text[:_LONGEST_DATE]
    if short := _SHORT_STAMP.match(text):
        month = int(short["number"]) if short["number"] else _MONTHS.index(short["name"][:3]) + 1
        year = 2000 + int(short["year"])
        return (
            date(year - 100 if prefer == "past" and year > today.year else year, month, 1),
            short.end(),
            True,
        )
    found = read_date_here(text, today, prefer)
    if found is None or found.on is None:
        return None
    end = len(text) - len(found.rest)
    dated = re.search(r"\d{4}|'\d\d|[/.]\d\d\b", text[:end])
    return (found.on, end, found.month_only) if dated else None


_TEST_MADE = re.compile(
    r"\b(?:hydro|visual|vip|eddy|test|inspection|service|overhaul)(?: (?:was|were|got|has been|is))?\s*$"
    r"|\b(?:hydro|visual|vip|eddy current test|pressure test|inspection|service|check)\b(?: (?:of|on|for) [^,;.]{2,40}?)?(?: (?:was|were|got|has been|is))?\s*$"
)
"""A test that "was made" is one that was done; what was manufactured is the cylinder."""


def test_made(m: Message) -> Message:
    """Write "the hydro was made on" as done."""
    made = re.search(r"\bmade\b", m.text)
    return (
        m.again(f"{m.text[: made.start()]}done{m.text[made.end() :]}")
        if made and _TEST_MADE.search(m.text[: made.start()])
        else m
    )


def made_of(m: Message) -> Told | None:
    """Find the date of manufacture; January where only the year is told."""
    text = m.mended
    for word in _MADE.finditer(text):
        rest = text[word.end() :]
        if (
            word.group().startswith("made")
            and _TEST_MADE.search(text[: word.start()])
            and not _YEAR.match(rest)
        ):
            continue
        if told := _month_here(rest, m.today, "past"):
            return Told(told[0], word.start(), word.end() + told[1], told[2])
        if year := _YEAR.match(rest):
            return Told(date(int(year.group(1)), 1, 1), word.start(), word.end() + year.end(), True)
    return None


def cut_made(m: Message) -> tuple[date | None, Message]:
    """Return the date of manufacture told, and the message without it."""
    told = made_of(m)
    return (told.on, m.again(text_without(m.mended, told))) if told else (None, m)


def text_without(text: str, *told: Told) -> str:
    """Return a text without what tells of those dates."""
    for one in sorted(told, key=lambda t: -t.start):
        text = f"{text[: one.start]} ; {text[one.end :]}"
    return text


_SHORT = re.compile(r"(?<![\w/.-])(0?[1-9]|1[0-2])[/.](1[3-9]|[2-9]\d)(?![\w/-]|\.\d)")


def spelled_out(m: Message) -> Message:
    """Write "05/24" as the month it is where a test is told: no calendar has a 24th month."""
    if named_test(m.plain) is None and not m.has("tested", "test", "inspected", "serviced"):
        return m
    written = _SHORT.sub(lambda short: f"{short.group(1)}/20{short.group(2)}", m.text)
    return m.again(written) if written != m.text else m


@dataclass(frozen=True, slots=True)
class Mark(Told):
    """A date stamped or due. `stamped`: only a stamp was spoken of, which may be of the test or of the next one."""

    test: CylinderTest
    stamped: bool


_TRIGGER = re.compile(
    r"\b(?:due|next|valid|good|expires?|expiry|needs?|runs? out|in test|in date|(?P<stamp>stamp(?:ed|s)?(?: mark)?))\b"
)
_FILL = re.compile(
    r"(?:[\s:,]+(?:again|next|dates?|by|on|in|for|is|was|until|till|to|thru|through|hydro\w*|visual|vip|inspection|test|retest|due|says?|shows?|reads?|the|it|one|eddy|current|at|end|of|mark|stamp|and|an?|its|my|doubles|twinset|tank|cylinder|stage|pony)\b){0,12}[\s:,(]*"
)


def marks_of(m: Message) -> list[Mark]:
    """Find the dates that a message tells as stamped or due, each once."""
    text, found, reached = m.mended, list[Mark](), 0
    for word in _TRIGGER.finditer(text):
        if word.start() < reached:
            continue
        fill = _FILL.match(text, word.end())
        begins = fill.end() if fill else word.end()
        told = _month_here(text[begins:], m.today, "future")
        if told is None:
            continue
        between = text[word.start() : begins]
        test = named_test(between) or _named_last(text[reached : word.start()])
        if test is None:
            test = CylinderTest.VISUAL if "inspection" in between else CylinderTest.HYDROSTATIC
        stamped = bool(word["stamp"]) and not re.search(r"\b(?:due|next)\b", between)
        reached = begins + told[1]
        found.append(Mark(told[0], word.start(), reached, told[2], test, stamped))
    return found


def named_test(text: str) -> CylinderTest | None:
    """Return the most telling test that a text names, None if it names none."""
    return next((test for test, words in TESTS if words.search(text)), None)


def _named_last(text: str) -> CylinderTest | None:
    """Return the test named nearest to the end of a text."""
    said = [(hit.start(), test) for test, words in TESTS for hit in words.finditer(text)]
    return max(said)[1] if said else None


def without_told(m: Message) -> Message:
    """Return the message without the dates that tell of the cylinder itself."""
    made = made_of(m)
    told = [*marks_of(m), *([made] if made else [])]
    return m.again(text_without(m.mended, *told)) if told else m
