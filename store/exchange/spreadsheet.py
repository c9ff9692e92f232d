"""A dive log as a table of text (CSV) of our own: one row a dive or several alike, and a first line that names the columns.

Columns, in any order and case, all but the date optional: date, time, duration (min), depth (m), temperature (C), oxygen, water,
conditions, kit, dives, number. Another unit stands in brackets: duration (s), depth (ft), temperature (F). Fields are set apart by
commas, semicolons or tabs; several conditions or pieces of kit in one field by ; | or /.
"""

import csv
import io
import re
from collections.abc import Iterator
from datetime import date

from store.exchange.logbook import (
    LONGEST_NAME,
    MOST_DIVES,
    LogFile,
    LogFileError,
    LoggedDive,
    LoggedKit,
    Skipped,
    day,
    decimal,
    iso_day,
    listed,
    log_file,
    shown,
    tidy,
)
from store.vocabulary import Condition, Water

Row = dict[str, str]
"""The fields of one line that are not empty, by column."""

COLUMNS = {
    "date": ("date", "day"),
    "time": ("time", "start", "start time"),
    "duration": ("duration", "dive time", "minutes"),
    "depth": ("depth", "max depth", "maximum depth", "greatest depth"),
    "temperature": (
        "temperature",
        "temp",
        "min temp",
        "min temperature",
        "lowest temperature",
        "water temperature",
    ),
    "oxygen": ("oxygen", "o2", "gas", "nitrox"),
    "water": ("water",),
    "conditions": ("conditions", "condition"),
    "kit": ("kit", "gear", "equipment"),
    "dives": ("dives", "count"),
    "number": ("number", "no", "dive number"),
}
UNITS: dict[str, dict[str, tuple[float, float]]] = {
    "duration": {
        "": (0, 60),
        "min": (0, 60),
        "minutes": (0, 60),
        "s": (0, 1),
        "seconds": (0, 1),
        "h": (0, 3600),
    },
    "depth": {"": (0, 1), "m": (0, 1), "ft": (0, 0.3048), "feet": (0, 0.3048)},
    "temperature": {
        "": (0, 1),
        "c": (0, 1),
        "°c": (0, 1),
        "f": (32, 5 / 9),
        "°f": (32, 5 / 9),
        "k": (273.15, 1),
    },
    "oxygen": {"": (0, 1), "%": (0, 0.01)},
}
"""By column and unit: what to take away from the number, then by what to multiply it. Empty: no unit said."""
PLACES = {"duration": 0, "depth": 2, "temperature": 1, "oxygen": 4}
WATERS = {
    Water.SALT: ("salt", "saltwater", "sea", "ocean", "seawater"),
    Water.FRESH: ("fresh", "freshwater", "lake", "river", "quarry", "spring"),
    Water.BRACKISH: ("brackish", "estuary"),
    Water.POOL: ("pool",),
}
GASES = {"air": 0.21, "oxygen": 1.0, "o2": 1.0}
MOST_ALIKE, MOST_PIECES, LONGEST_LINE, MOST_LINES = 1000, 100, 100_000, 10 * MOST_DIVES

_UNKNOWN = ("", "")
_COLUMN_OF = {name: column for column, names in COLUMNS.items() for name in names}
_WATER_OF = {word: water for water, words in WATERS.items() for word in words}
_CONDITIONS = {condition.value: condition for condition in Condition}
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?!\d)", re.ASCII)
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(?!\d)", re.ASCII)
_NITROX = re.compile(r"(?:eanx?|nitrox)\s*(\d{2,3})\s*%?", re.ASCII)
_TRIMIX = re.compile(r"(?:tx|trimix)?\s*(\d{1,2})\s*/\s*\d{1,2}", re.ASCII)


def read(content: bytes) -> LogFile:
    """Read a table of dives. Raises LogFileError where its first line does not name a date column, or its bounds are broken."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    first = next((line for line in _lines(text) if line.strip()), "")
    delimiter = max(
        ",;\t", key=lambda mark: len({_column(title) for title in first.split(mark)} - {_UNKNOWN})
    )
    rows = _rows(text, delimiter)
    _, header = next(rows, (0, []))
    return _Table(header, delimiter).read(rows)


def _lines(text: str) -> Iterator[str]:
    for number, line in enumerate(io.StringIO(text, newline=""), 1):
        if len(line) > LONGEST_LINE:
            raise LogFileError(
                f"Line {number} is far too long for one dive; mend it and send the file again."
            )
        if number > MOST_LINES:
            raise LogFileError(
                f"The file has more than {MOST_LINES} lines; split it and send the parts one by one."
            )
        yield line


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the number of the line that a row begins on, and its fields; blank rows are passed over."""
    reader = csv.reader(_lines(text), delimiter=delimiter, strict=True, skipinitialspace=True)
    number = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield number, cells
            number = reader.line_num + 1
    except csv.Error as error:
        raise LogFileError(
            f"The quotation marks in the row at line {number} do not match up; mend them and send the file again."
        ) from error


def _column(title: str) -> tuple[str, str]:
    """Return (column, unit) of a title such as "Max depth (ft)"; `_UNKNOWN` where it is none of ours."""
    found = re.fullmatch(
        r"\s*([^(\[]*?)\s*(?:[(\[]\s*([^)\]]*?)\s*[)\]]\s*)?", title.strip().strip('"').casefold()[:60]
    )
    column = _COLUMN_OF.get(" ".join(found[1].replace("_", " ").rstrip(".").split()), "") if found else ""
    if column not in UNITS:
        return column, ""
    unit = (found[2] or "") if found else ""
    return (column, unit) if unit in UNITS[column] else _UNKNOWN


class _Table:
    """One table being read: where its columns stand, and what could not be read."""

    def __init__(self, header: list[str], delimiter: str) -> None:
        self._width, self._comma = len(header), delimiter != ","
        self._skipped = Skipped()
        self._kit: dict[str, LoggedKit] = {}
        self._places: dict[str, int] = {}
        self._units: dict[str, str] = {}
        unread = []
        for place, title in enumerate(header):
            column, unit = _column(title)
            if column and column not in self._places:
                self._places[column], self._units[column] = place, unit
            elif title.strip():
                unread.append(shown(title))
        if "date" not in self._places:
            raise LogFileError(
                "The file is no dive log known here; send UDDF, or a table whose first line names the columns, such as date, time, duration, depth."
            )
        if unread:
            self._skipped.add("Columns", f"not known here, or there twice, so not read: {listed(unread, 20)}")

    def read(self, lines: Iterator[tuple[int, list[str]]]) -> LogFile:
        """Read all rows."""
        rows: list[tuple[int, Row | None]] = []
        for number, cells in lines:
            if len(rows) == MOST_DIVES:
                raise LogFileError(
                    f"The file has more than {MOST_DIVES} rows; split it and send the parts one by one."
                )
            rows.append((number, self._row(cells)))
        month_first = self._month_first([row.get("date", "") for _, row in rows if row])
        dives = [self._dive(f"Line {number}", row, month_first=month_first) for number, row in rows]
        return log_file((dive for dive in dives if dive), self._kit.values(), self._skipped)

    def _row(self, cells: list[str]) -> Row | None:
        if any(cell.strip() for cell in cells[self._width :]):
            return None
        there = {column: cells[place].strip() for column, place in self._places.items() if place < len(cells)}
        return {column: text for column, text in there.items() if text}

    def _month_first(self, dates: list[str]) -> bool:
        """Whether 03/04/2026 is 4 March: only where all dates of the file that leave no choice say so."""
        pairs = [(int(m[1]), int(m[2]), m[0]) for m in map(_SLASHED.match, dates) if m]
        month_first = any(b > 12 for _, b, _ in pairs) and not any(a > 12 for a, _, _ in pairs)
        either = [text for a, b, text in pairs if a != b and a <= 12 and b <= 12]
        if either:
            taken = "month first, as the other dates of the file are" if month_first else "day first"
            self._skipped.add(
                "Dates",
                f"{len(either)} could be day or month first, such as {either[0]}; they are read {taken}",
            )
        return month_first

    def _dive(self, where: str, row: Row | None, *, month_first: bool) -> LoggedDive | None:
        if row is None:
            self._skipped.add(where, "it has more fields than the first line has columns, so it is left out")
            return None
        found = _day(row.get("date", ""), month_first=month_first)
        if found is None:
            self._skipped.undated(where, row.get("date", ""))
            return None
        on, clock = found
        started_at = self._skipped.start(where, on, row.get("time", clock))
        seconds = self._value(where, row, "duration")
        return LoggedDive(
            started_at=started_at,
            on=started_at.date() if started_at else on,
            duration_s=None if seconds is None else int(seconds),
            max_depth_m=self._value(where, row, "depth"),
            min_temp_c=self._value(where, row, "temperature"),
            o2_fraction=self._value(where, row, "oxygen"),
            water=self._water(where, row.get("water", "")),
            conditions=self._conditions(where, row.get("conditions", "")),
            kit=self._pieces(where, row.get("kit", "")),
            number=self._skipped.whole(where, "dive number", row.get("number", ""), 1_000_000),
            dives=self._skipped.whole(where, "count of dives", row.get("dives", ""), MOST_ALIKE) or 1,
        )

    def _value(self, where: str, row: Row, column: str) -> float | None:
        """Return a number in our unit: seconds, metres, degrees Celsius, or oxygen as a fraction."""
        if column not in row:
            return None
        text = row[column].casefold()
        value = _clocked(text) if column == "duration" else _gas(text) if column == "oxygen" else None
        if value is None:
            value = self._measured(column, text)
        if value is not None:
            value = round(value, PLACES[column]) + 0.0
        return self._skipped.sane(where, column, row[column], value)

    def _measured(self, column: str, text: str) -> float | None:
        """Read a number with or without a unit of its own, which goes before the column's."""
        digits = text.rstrip("abcdefghijklmnopqrstuvwxyz°% ")
        unit = text[len(digits) :].strip() or self._units[column]
        value = decimal(digits, comma=self._comma)
        if value is None or unit not in UNITS[column]:
            return None
        less, times = UNITS[column][unit]
        if column == "oxygen" and not unit and value > 1:
            times = 0.01
        return (value - less) * times

    def _water(self, where: str, text: str) -> Water | None:
        found = {_WATER_OF[word] for word in re.findall(r"[a-z]+", text.casefold()) if word in _WATER_OF}
        if text and len(found) != 1:
            self._skipped.add(
                where, f"the water {shown(text)} is not salt, fresh, brackish or pool, so it is left out"
            )
        return found.pop() if len(found) == 1 else None

    def _conditions(self, where: str, text: str) -> frozenset[Condition]:
        words = dict.fromkeys(re.findall(r"[^\s;/|,]+", text.casefold()))
        unknown = [shown(word) for word in words if word not in _CONDITIONS]
        if unknown:
            self._skipped.add(where, f"no condition known here, so left out: {listed(unknown, 10)}")
        return frozenset(_CONDITIONS[word] for word in words if word in _CONDITIONS)

    def _pieces(self, where: str, text: str) -> tuple[str, ...]:
        """Return the keys of the kit named, each once; names that differ in case alone are one piece."""
        keys: dict[str, None] = {}
        names = re.split(r"[;|/]", text)
        if len(names) > MOST_PIECES:
            self._skipped.add(
                where, f"it names {len(names)} pieces of kit; only the first {MOST_PIECES} are kept"
            )
        for name in filter(None, map(tidy, names[:MOST_PIECES])):
            if len(name) > LONGEST_NAME:
                self._skipped.add(where, f"the kit {shown(name)} has too long a name, so it is left out")
                continue
            piece = self._kit.setdefault(name.casefold(), LoggedKit(name, name, frozenset()))
            keys[piece.key] = None
        return tuple(keys)


def _day(text: str, *, month_first: bool) -> tuple[date, str] | None:
    """Split a field into the day and a time that may follow it. None: it starts with no day."""
    found = _DOTTED.match(text) or _SLASHED.match(text)
    if found is None:
        return iso_day(text)
    first, second, year = map(int, found.groups())
    swapped = "/" in found[0] and (second > 12 or (month_first and first <= 12))
    on = day(year, first, second) if swapped else day(year, second, first)
    return (on, text[found.end() :].strip()) if on else None


def _clocked(text: str) -> float | None:
    """Read "42:00", "0:42" or "0:42:00" as seconds: of two numbers, the first is hours where it is under 5, else minutes."""
    found = re.fullmatch(r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?", text, re.ASCII)
    if found is None:
        return None
    first, second = int(found[1]), int(found[2])
    if found[3] or first < 5:
        return first * 3600 + second * 60 + int(found[3] or 0)
    return first * 60 + second


def _gas(text: str) -> float | None:
    """Read the name of a gas as its oxygen fraction: air, EAN32, nitrox 32, 18/45."""
    found = _NITROX.fullmatch(text) or _TRIMIX.fullmatch(text)
    return int(found[1]) / 100 if found else GASES.get(text)
