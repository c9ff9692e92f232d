"""Scores of the encoder to clauses: what kind each is, how it is told, and which spans of words it holds."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from bot.reading.labels import FLAGS, IDS, KINDS, SLOTS, columns
from bot.reading.numerals import IN_WORDS
from bot.reading.pieces import Pieces

Scores: TypeAlias = NDArray[np.float32]
"""A row for each piece, a column for each label of `labels.HEADS`: logits."""

_AT = columns()
_LIKELY = 0.5
_NOT_TOLD = KINDS.index("lead")


@dataclass(frozen=True, slots=True)
class Span:
    """Words that fill a slot. `start` and `end` are places in the text."""

    slot: str
    text: str
    start: int
    end: int
    id: str | None = None
    """What they stand for, of the ids of that slot; None where the slot has none."""
    sure: float = 1.0
    """How likely the id is, from 0 to 1."""


@dataclass(frozen=True, slots=True)
class Clause:
    """A piece of a message that tells, asks or wants one kind of thing."""

    kind: str
    text: str
    start: int
    end: int
    flags: frozenset[str] = frozenset()
    spans: tuple[Span, ...] = ()
    sure: float = 1.0
    """How likely the kind is, from 0 to 1."""
    other: str = "chat"
    """The kind that is likely next."""

    def of(self, slot: str) -> tuple[Span, ...]:
        """Return its spans of a slot in order."""
        return tuple(s for s in self.spans if s.slot == slot)

    def ids(self, slot: str) -> tuple[str, ...]:
        """Return what its spans of a slot stand for, each once."""
        return tuple(dict.fromkeys(s.id for s in self.of(slot) if s.id))


def decode(scores: Scores, pieces: Pieces, text: str) -> tuple[Clause, ...]:
    """Return the clauses of a text in order; empty if it has no words. Words before the first clause belong to none."""
    rows = [n for n, place in enumerate(pieces.places) if place is not None]
    if not rows:
        return ()
    spans = _spans(scores, pieces, rows, text)
    starts = _borders(scores, pieces, rows)
    clauses: list[Clause] = []
    for n, first in enumerate(starts):
        own = rows[first : starts[n + 1] if n + 1 < len(starts) else len(rows)]
        start = _place(pieces, own[0])[0]
        end = _place(pieces, own[-1])[1]
        kinds = _softmax(scores[own][:, _AT["kind"]].mean(axis=0))
        kinds[_NOT_TOLD] = 0.0
        order = np.argsort(-kinds)
        flags = _sigmoid(scores[own][:, _AT["flags"]].mean(axis=0))
        clauses.append(
            Clause(
                kind=KINDS[order[0]],
                text=text[start:end],
                start=start,
                end=end,
                flags=frozenset(f for f, p in zip(FLAGS, flags, strict=True) if p > _LIKELY),
                spans=tuple(s for s in spans if start <= s.start < end),
                sure=float(kinds[order[0]]),
                other=KINDS[order[1]],
            )
        )
    return tuple(clauses)


def _borders(scores: Scores, pieces: Pieces, rows: Sequence[int]) -> list[int]:
    """Return at which of the rows a clause begins; at least one does."""
    chance = _sigmoid(scores[:, _AT["border"]][:, 0])
    found = [n for n, row in enumerate(rows) if pieces.begins[row] and chance[row] > _LIKELY]
    return found or [0]


def _spans(scores: Scores, pieces: Pieces, rows: Sequence[int], text: str) -> tuple[Span, ...]:
    """Join neighbouring words of a slot. The pieces of a word vote together, so that no span ends inside one."""
    runs: list[tuple[str, list[int]]] = []
    slot = ""
    for own in _words(pieces, rows, text):
        row = scores[own][:, _AT["tag"]]
        votes = row[:, 1:].reshape(len(own), len(SLOTS), 2)
        named = np.logaddexp(votes[:, :, 0], votes[:, :, 1]).mean(axis=0)
        best = int(named.argmax())
        if row[:, 0].mean() >= named[best]:
            slot = ""
            continue
        begins = votes[0, best, 0] > votes[0, best, 1]
        if SLOTS[best] == slot and not begins:
            runs[-1][1].extend(own)
        else:
            runs.append((SLOTS[best], list(own)))
        slot = SLOTS[best]
    found = [_span(named_slot, own, scores, pieces, text) for named_slot, own in runs]
    return tuple(_mended(found, text))


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
    "n": re.compile(r"\s?x\b", re.IGNORECASE),
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
    found = _NUMBER.finditer(text) if figures else IN_WORDS.finditer(text.casefold())
    return [n for n in found if n.start() < span.end and span.start < n.end()]


def _unit_of(number: re.Match[str], slot: str, end: int, text: str) -> tuple[str, int]:
    """Return what a number is by its unit, and where that ends; the slot it was given where no unit tells."""
    for named, unit in _UNITS.items():
        if told := unit.match(text, number.end()):
            slot, end = named, max(end, told.end())
    if slot == "depth" and _MINUTES.match(text, number.end()) and _METRES.search(text):
        slot, end = "time", number.end() + 1
    if _TIMES.search(text[: number.start()]):
        slot = "n"
    bare_for = slot == "depth" and number.end() == end and _FOR.search(text[: number.start()])
    return (
        "time" if bare_for or ("h" in number.group().casefold() and number.group()[0].isdigit()) else slot
    ), end


_SPOKEN_TIME = re.compile(r"\b(?:an?|half|quarters?|minutes?|hours?|zero)\b", re.IGNORECASE)


def _is_figure(span: Span, text: str) -> bool:
    """Tell whether a number is a depth or a count at all: "200 bar", "dive no. 412" and "5 m viz" are none."""
    if not any(c.isdigit() for c in span.text):
        words = span.text.casefold()
        return span.slot not in {"depth", "time", "temp"} or bool(
            IN_WORDS.search(words) or _SPOKEN_TIME.search(words)
        )
    if span.slot not in {"n", "depth"}:
        return True
    before = _NUMBERED.search(text[: span.start])
    word = before.group().strip().casefold() if before else ""
    counts = span.slot == "n" and word in {"no", "to"}
    bar_to = word == "to" and "bar" not in text[max(0, span.start - 12) : span.start]
    other = _OF_SOMETHING_ELSE
    return (before is None or counts or bar_to) and not (
        other.match(text, span.end) or other.search(span.text)
    )


def _mended(spans: Sequence[Span], text: str) -> list[Span]:
    """Join days told in two pieces ("March" "last year"), take a hundred into its number, and leave out what is no act or figure."""
    found: list[Span] = []
    for told in _sentences_apart(spans):
        before = found[-1] if found else None
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
    return _of_one_unit(found, text)


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
            and span.slot == last.slot == "item"
            and span.id == last.id
            and span.start - last.end <= 1
        ):
            words = f"{last.text} {span.text}"  # "LED torch": one item in two pieces
            found[-1] = replace(last, text=words, end=span.end, sure=max(last.sure, span.sure))
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


def _words(pieces: Pieces, rows: Sequence[int], text: str) -> list[list[int]]:
    """Return the pieces of each word; figures and the letters right after them count as two."""
    found: list[list[int]] = []
    for row in rows:
        start = _place(pieces, row)[0]
        turns = start > 0 and text[start].isdigit() != text[start - 1].isdigit()
        if pieces.begins[row] or turns or not found:
            found.append([])
        found[-1].append(row)
    return found


def _span(slot: str, own: list[int], scores: Scores, pieces: Pieces, text: str) -> Span:
    start, end = _place(pieces, own[0])[0], _place(pieces, own[-1])[1]
    of = "item" if slot == "left" else slot
    if of not in IDS:
        return Span(slot, text[start:end], start, end)
    chances = _softmax(scores[own][:, _AT[of]].mean(axis=0))
    best = int(chances.argmax())
    return Span(slot, text[start:end], start, end, IDS[of][best], float(chances[best]))


def _place(pieces: Pieces, row: int) -> tuple[int, int]:
    place = pieces.places[row]
    return place if place is not None else (0, 0)


def _softmax(logits: Scores) -> Scores:
    raised = np.exp(logits - logits.max())
    chances: Scores = raised / raised.sum()
    return chances


def _sigmoid(logits: Scores) -> Scores:
    return (1 / (1 + np.exp(-np.clip(logits, -30, 30)))).astype(np.float32)
