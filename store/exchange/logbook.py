"""A dive log file as typed values, whichever format it came in.

Bytes in, values out. What is unreadable or nonsense in one dive costs that value or that dive and is told in `LogFile.skipped`;
a file that is no dive log at all raises `LogFileError`. No other exception leaves this package.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from store.errors import StoreError
from store.vocabulary import Condition, ItemKind, Water

MOST_BYTES, MOST_DIVES, MOST_KIT = 20_000_000, 20_000, 1_000
"""Bytes, dives and pieces of kit of one file: a locker holds half as many items."""
OLDEST = 1900
"""Dates of earlier years are what programs write for "not known"."""
LONGEST_NAME, MOST_TOLD = 100, 1000

RANGES = {
    "depth": (0.0, 350.0, "m"),
    "duration": (0.0, 86_400.0, "s"),
    "temperature": (-5.0, 45.0, "°C"),
    "oxygen": (0.01, 1.0, "as a fraction"),
}
"""Lowest and highest value that a dive can have, both included, and the unit they are in."""

_DAY = re.compile(r"(\d{4})[-/](\d{1,2})[-/](\d{1,2})(?!\d)", re.ASCII)
_CLOCK = re.compile(
    r"(?P<h>\d{1,2})(?:[:.](?P<m>\d\d)(?:[:.](?P<s>\d\d)(?:[.,]\d+)?)?)?\s*(?:(?P<half>[ap])\.?m\.?)?\s*(?:z|[+-]\d\d:?\d\d)?",
    re.ASCII | re.IGNORECASE,
)
_PACKED = {
    b"PK\x03\x04": "a zip archive",
    b"\x1f\x8b": "a gzip archive",
    b"%PDF": "a PDF document",
    b"SQLite format 3": "a database",
}


class LogFileError(StoreError):
    """The whole file cannot be read; the message is one sentence for the diver, with the way out."""


@dataclass(frozen=True, slots=True)
class LoggedDive:
    """One dive of a file, in the diver's local time, in our units. None: the file does not say."""

    started_at: datetime | None
    """Naive local start; None where the file gives only a day."""
    on: date
    duration_s: int | None
    max_depth_m: float | None
    min_temp_c: float | None
    o2_fraction: float | None
    """Of the richest gas used."""
    water: Water | None
    conditions: frozenset[Condition]
    kit: tuple[str, ...]
    """Keys into `LogFile.kit`."""
    number: int | None
    dives: int = 1
    """A row of a table may stand for several alike."""


@dataclass(frozen=True, slots=True)
class LoggedKit:
    """A piece of kit that a file names."""

    key: str
    """Its id in the file, or the name itself."""
    name: str
    kinds: frozenset[ItemKind]
    """What it may be, from the element it stood in; empty: unknown."""


@dataclass(frozen=True, slots=True)
class LogFile:
    """What a dive log file holds."""

    dives: tuple[LoggedDive, ...]
    """In order of time; a dive without a time of day comes first on its day."""
    kit: tuple[LoggedKit, ...]
    """Only kit that a dive used."""
    skipped: tuple[str, ...]
    """What could not be read, one plain line each, with the dive or line and the reason."""


@dataclass(slots=True)
class Skipped:
    """Collects what could not be read: the first `MOST_TOLD` things in words, the rest as a number."""

    lines: list[str] = field(default_factory=list)
    more: int = 0

    def add(self, where: str, why: str) -> None:
        """Note one thing; `where` names the dive or the line."""
        if len(self.lines) < MOST_TOLD:
            self.lines.append(f"{where}: {why}")
        else:
            self.more += 1

    def undated(self, where: str, text: str) -> None:
        """Note a dive that is left out as there is no day in its date."""
        why = f"its date {shown(text)} cannot be read" if text else "it has no date"
        self.add(where, f"{why}, so it is left out")

    def start(self, where: str, on: date, text: str) -> datetime | None:
        """Return when on that day it began, or None: the text is empty, or no time, which is noted."""
        started_at = start(on, text)
        if text and started_at is None:
            self.add(where, f"the time {shown(text)} cannot be read, so only the day is kept")
        return started_at

    def whole(self, where: str, what: str, text: str, most: int) -> int | None:
        """Return a whole number from 1 to `most`, or None: the text is empty, or no such number, which is noted."""
        number = int(text) if re.fullmatch(r"\d{1,9}", text, re.ASCII) else 0
        if text and not 1 <= number <= most:
            self.add(where, f"{shown(text)} is no {what} from 1 to {most}, so it is left out")
        return number if 1 <= number <= most else None

    def told(self) -> tuple[str, ...]:
        """Return the lines."""
        return (*self.lines, *([f"And {self.more} more things like these"] if self.more else []))

    def sane(self, where: str, what: str, text: str, value: float | None) -> float | None:
        """Return the value of a key of `RANGES` that was read from the text, or None with a line saying why not."""
        low, high, unit = RANGES[what]
        if value is None:
            self.add(where, f"the {what} {shown(text)} cannot be read, so it is left out")
        elif not low <= value <= high:
            self.add(
                where,
                f"the {what} {shown(text)} comes to {value:.6g}, outside {low:g} to {high:g} {unit}, so it is left out",
            )
        else:
            return value
        return None


def read_log(name: str, content: bytes) -> LogFile:
    """Read a dive log file: UDDF, or a table of text. The content decides which it is, then the file's name.

    Raises LogFileError only.
    """
    from store.exchange import spreadsheet, uddf  # noqa: PLC0415  # both build on the types of this module

    if len(content) > MOST_BYTES:
        raise LogFileError(
            f"The file is over {MOST_BYTES // 1_000_000} MB; export fewer dives, or leave out the depth profiles, and send it again."
        )
    start = content[:1000].removeprefix(b"\xef\xbb\xbf").lstrip()
    if not start and not content.strip():
        raise LogFileError("The file is empty; export it once more and send it again.")
    for mark, what in _PACKED.items():
        if start.startswith(mark):
            raise LogFileError(f"This is {what}; send the UDDF or CSV file itself.")
    if b"\0" in content:
        raise LogFileError(
            "The file is not plain text in UTF-8; save it as UDDF or CSV in UTF-8 and send it again."
        )
    if start.startswith(b"<"):
        return uddf.read(content)
    if name.lower().endswith((".uddf", ".xml")):
        raise LogFileError(
            "The file is named as XML but holds none; export it once more as UDDF and send it again."
        )
    return spreadsheet.read(content)


def log_file(dives: Iterable[LoggedDive], kit: Iterable[LoggedKit], skipped: Skipped) -> LogFile:
    """Put the dives in order of time and leave out kit that none of them used."""
    ordered = sorted(
        dives, key=lambda dive: (dive.on, dive.started_at or datetime.combine(dive.on, time.min))
    )
    used = {key for dive in ordered for key in dive.kit}
    if len(used) > MOST_KIT:
        raise LogFileError(
            f"The file names more than {MOST_KIT:,} pieces of kit; send fewer dives at a time, or leave the kit out."
        )
    return LogFile(tuple(ordered), tuple(piece for piece in kit if piece.key in used), skipped.told())


def tidy(text: str) -> str:
    """Return the text on one line, without control characters."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def shown(text: str) -> str:
    """Return the text in quotation marks, short enough for a message."""
    text = tidy(text[:200])
    return f'"{text[:37]}..."' if len(text) > 40 else f'"{text}"'


def listed(items: Sequence[str], most: int) -> str:
    """Join the first `most` of them, and say how many more there are."""
    more = f" and {len(items) - most} more" if len(items) > most else ""
    return ", ".join(items[:most]) + more


def decimal(text: str, *, comma: bool = False) -> float | None:
    """Read a plain decimal number; `comma` allows a decimal comma. None: it is none."""
    found = re.fullmatch(
        r"[+-]?(\d{1,15}([.]\d{0,30})?|[.]\d{1,30})(e[+-]?\d\d?)?", text, re.ASCII | re.IGNORECASE
    )
    if found is None and comma:
        return decimal(text.replace(",", ".", 1)) if "," in text else None
    return float(text) if found else None


def day(year: int, month: int, day_: int) -> date | None:
    """Return the date, or None where there is no such day or it is before `OLDEST`."""
    try:
        return date(year, month, day_) if year >= OLDEST else None
    except ValueError:
        return None


def iso_day(text: str) -> tuple[date, str] | None:
    """Split "2026-02-28T10:15:00" into the day and the rest, which may be empty. None: it starts with no day."""
    found = _DAY.match(text)
    on = found and day(*map(int, found.groups()))
    return (on, text[found.end() :].strip().removeprefix("T").strip()) if found and on else None


def start(on: date, text: str) -> datetime | None:
    """Read a time of day on that day ("10:15", "10.15", "10:15:00.5Z", "10:15 am"). None: it is none.

    A zone is dropped: what counts is the wall clock as it was written. Seconds are whole. 24:00 is midnight at the day's end,
    as in XML Schema.
    """
    found = _CLOCK.fullmatch(text)
    if found is None or (found["m"] is None and found["half"] is None):
        return None
    hour, minute, second = int(found["h"]), int(found["m"] or 0), int(found["s"] or 0)
    if found["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found["half"].lower() == "p" else 0)
    try:
        if (hour, minute, second) == (24, 0, 0):
            return datetime.combine(on, time.min) + timedelta(days=1)
        return datetime.combine(on, time(hour, minute, second))
    except (ValueError, OverflowError):
        return None
