"""Reads what the maker's manual, or whoever sets the rule, says of a part or an interval."""

import re
from dataclasses import dataclass

from bot.understand.care import part_words
from bot.understand.counts import count_of
from bot.understand.intents import RecordManual
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.stuff import manual_substances, mentions_manual
from bot.understand.vocabulary import NUMBERS, PAST_TASKS
from store.vocabulary import Task

_TAKES_RING = re.compile(
    r"\b(?:takes?|needs?|uses?|wants|spare(?: is)?|size(?: is)?|oring is|o-ring is)\b[^?]{0,80}?(?:-|\bdash |\bas568[- ])(\d{3})\b"
)
_UNITS = {
    "hour": "hours",
    "hr": "hours",
    "h": "hours",
    "dive": "dives",
    "day": "days",
    "week": "days",
    "fortnight": "days",
}
_BOUNDS: dict[str, tuple[float, int]] = {
    "months": (1, 240),
    "dives": (1, 1000),
    "days": (1, 3650),
    "hours": (0.5, 5000),
}
"""What an interval can be, from the shortest to the longest."""
_AMOUNT = (
    rf"(?P<n>\d{{1,6}}(?:[.,]\d)?|{'|'.join(NUMBERS)}|other|second)?\s*"
    r"(?:operating |running |burn |dive |calendar |immersion )?(?P<unit>hour|hr|h|dive|day|week|fortnight|month|year|yr)s?\b"
)
_EVERY = re.compile(rf"\b(?:every|each|after(?= \d))\s+{_AMOUNT}")
_OR = re.compile(rf"\s*(?:,|/|and|or)+\s*(?:every\s+|after\s+|at\s+)?{_AMOUNT}")
_ADVERBS: tuple[tuple[re.Pattern[str], tuple[str, int]], ...] = (
    (re.compile(r"\btwice a year\b"), ("months", 6)),
    (re.compile(r"\b(?:once a year|yearly|annually)\b"), ("months", 12)),
    (re.compile(r"\b(?:once a month|monthly)\b"), ("months", 1)),
    (re.compile(r"\b(?:once a week|weekly)\b"), ("days", 7)),
)
_AUTHORITY = re.compile(
    r"\b(?:book|leaflet|permit|data ?sheet|factory|label|sticker|supplier|standard|law|rule|shop|workshop|technician)s?\b(?: \w+){0,3}? (?:says?|wants?|asks?|calls|requires?|demands?|specifies|writes?|tells?|recommends?|gives?)\b"
)
_BIDS = re.compile(
    r"^(?:please )?(?:note:? |rule:? |interval:? |set |the |my |our )*(?:service|replace|change|swap|test|hydro|hydro ?test|visual|inspect|overhaul|calibrate|clean|grease|lubricate)\b"
)

_MUST = re.compile(r"\b(?:must|should|has to|have to|needs? to) be \w+ every\b")


@dataclass(frozen=True, slots=True)
class _Interval:
    dives: int | None = None
    months: int | None = None
    days: int | None = None
    hours: float | None = None


def read_manual(m: Message) -> RecordManual | None:
    """Read a note of what the maker's manual says of a part or an interval."""
    ring = _TAKES_RING.search(m.mended)
    quoted = mentions_manual(m)
    rules = quoted or bool(_AUTHORITY.search(m.plain)) or _is_bid(m)
    if not (rules or (ring and (m.parts or m.item_mentions))):
        return None
    named = manual_substances(m) if quoted else None
    every = _interval(m.mended)
    if not quoted and every is None and ring is None:
        return None
    if named is None and every is None and ring is None:
        return None
    refs = tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    every_ = every or _Interval()
    return RecordManual(
        item=first(m.item_mentions),
        part=part_words(refs),
        substances=named or (),
        nothing=named == (),
        task=_task(m) if every else None,
        every_dives=every_.dives,
        every_months=every_.months,
        every_days=every_.days,
        every_hours=every_.hours,
        ring=ring.group(1) if ring else None,
        text=m.raw[:500],
        refs=refs,
        kind=first(m.kinds),
    )


_OTHER_WORDS = (
    (
        Task.REPLACE,
        re.compile(
            r"\b(?:chang(?:e|es|ing)|swap(?:s|ping)?|exchang(?:e|ed|es|ing)|renew(?:s|ing)?|replac(?:es|ing|ement)|new \w+(?: \w+)?(?= every))\b"
        ),
    ),
    (
        Task.INSPECT,
        re.compile(r"\b(?:check(?:s|ing)?|look(?:ing)? (?:at|over)|examin(?:e|ed|ing)|inspect(?:s|ing))\b"),
    ),
    (Task.SERVICE, re.compile(r"\b(?:overhaul(?:s|ing)?|maintain(?:ed)?|maintenance|strip(?:ped)? down)\b")),
    (Task.TEST, re.compile(r"\b(?:test(?:s|ing)|pressure tests?)\b")),
    (Task.CALIBRATE, re.compile(r"\bcalibrat(?:es|ing)\b")),
)
"""Words for what is to be done, beside those for what was done."""


def _task(m: Message) -> Task | None:
    """Return the act that an interval is of."""
    return first([t for _, _, t in m.tasks]) or next(
        (t for t, words in _OTHER_WORDS if words.search(m.plain)), None
    )


def _is_bid(m: Message) -> bool:
    """Tell whether a rule is laid down: "service the scooter every 200 hours"."""
    named = bool(m.parts or m.item_mentions or {"service", "hydro", "visual"} & set(m.tokens))
    bid = bool(_BIDS.match(m.plain)) and PAST_TASKS.isdisjoint(m.said)
    return named and (bid or bool(_MUST.search(m.plain)))


def _interval(text: str) -> _Interval | None:
    """Read an interval, or two of which the first that is up counts; SenselessError for one that cannot be."""
    found = _EVERY.search(text)
    if found is None:
        said = next((value for pattern, value in _ADVERBS if pattern.search(text)), None)
        return _Interval(**{said[0]: said[1]}) if said else None
    amounts = [_amount(found)]
    if second := _OR.match(text, found.end()):
        amounts.append(_amount(second))
    return _Interval(**dict(reversed(amounts)))  # type: ignore[arg-type]  # counts are whole, hours need not be


def _amount(match: re.Match[str]) -> tuple[str, float]:
    said, unit = match["n"], match["unit"]
    number = 2.0 if said in {"other", "second"} else _number(said) if said else 1.0
    field = _UNITS.get(unit, "months")
    number *= {"year": 12, "yr": 12, "week": 7, "fortnight": 14}.get(unit, 1)
    least, most = _BOUNDS[field]
    if not least <= number <= most:
        raise SenselessError(
            f"An interval of {least:g} to {most} {field} works: every 200 dives, every 24 months."
        )
    return field, number if field == "hours" else round(number)


def _number(said: str) -> float:
    return float(said.replace(",", ".")) if said[0].isdigit() else count_of(said)
