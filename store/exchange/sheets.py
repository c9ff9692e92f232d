"""A file of all data as tables for a spreadsheet: one zip of CSV files (RFC 4180, UTF-8 with a byte order mark).

For people to look at; only the dives can be read in again, by `store.exchange.spreadsheet`. An empty cell means: not said.
"""

import csv
import io
import re
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime

from store.catalogue import CATALOGUE
from store.exchange.logbook import tidy
from store.exchange.record import Archive, CareRow, DiveRow, ItemRow, ManualRow, MishapRow, TripRow

Cell = str | int | float | date | None
Row = Mapping[str, Cell]
"""The cells of one row, by what stands above them."""

_DANGEROUS = ("=", "+", "-", "@", "\t", "\r")
"""What a spreadsheet takes for a formula when a cell begins with it (OWASP, CSV injection)."""
_ZIPPED_AT = (1980, 1, 1, 0, 0, 0)
"""The earliest time a zip can hold: the same facts give the same bytes."""


def csv_zip(archive: Archive) -> bytes:
    """Write the tables: items, dives, care, mishaps, manual and trips."""
    wanted = _Wanted(archive)
    tables = {
        "items.csv": map(wanted.item, archive.items),
        "dives.csv": map(wanted.dive, archive.dives),
        "care.csv": map(wanted.care, archive.care),
        "mishaps.csv": map(wanted.mishap, archive.mishaps),
        "manual.csv": map(wanted.manual, archive.manual),
        "trips.csv": map(_trip, archive.trips),
    }
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, rows in tables.items():
            entry = zipfile.ZipInfo(name, _ZIPPED_AT)
            entry.compress_type = zipfile.ZIP_DEFLATED
            zipped.writestr(entry, _table(HEADS[name], rows))
    return file.getvalue()


HEADS: dict[str, tuple[str, ...]] = {
    "items.csv": (
        "name",
        "kind",
        "added",
        "retired",
        "added by",
        "oxygen",
        "filled with pure oxygen",
        "zip",
        "seals",
        "cylinder",
        "volume (l)",
        "region of its tests",
        "made",
        "alloy 6351",
        "special permit",
        "risk assessed",
        "hydrostatic test due",
        "visual inspection due",
        "eddy current test due",
    ),
    "dives.csv": (
        "date",
        "time",
        "dives",
        "duration (min)",
        "depth (m)",
        "temperature (C)",
        "oxygen",
        "water",
        "conditions",
        "kit",
    ),
    "care.csv": (
        "date",
        "only the month is known",
        "item",
        "part",
        "task",
        "with",
        "contaminates",
        "by a technician",
        "test",
        "next due",
        "made",
        "told by",
        "told at (UTC)",
    ),
    "mishaps.csv": ("date", "item", "what happened", "told by", "told at (UTC)"),
    "manual.csv": (
        "item",
        "part",
        "goes on it",
        "task",
        "every (dives)",
        "every (months)",
        "every (days)",
        "every (hours under water)",
        "O-ring (AS568 dash)",
        "note",
        "noted at (UTC)",
    ),
    "trips.csv": (
        "from",
        "to",
        "dives",
        "water",
        "lowest temperature (C)",
        "highest temperature (C)",
    ),
}
"""The first row of each table."""
_FACTS = (
    "o2_fraction pure_oxygen_fill zip_material seal_material cylinder_material volume_l region made_on "
    "alloy_6351 special_permit risk_assessed hydro_due_on visual_due_on eddy_due_on"
).split()
"""The facts of an item, in the order of the last columns of its table."""


def _table(head: Sequence[str], rows: Iterable[Row]) -> bytes:
    text = io.StringIO()
    written = csv.writer(text)
    written.writerow(head)
    written.writerows([_cell(row[title]) for title in head] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _cell(value: Cell) -> str:
    """Write a cell; text that a spreadsheet would run gets an apostrophe before it, a number never."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d %H:%M:%S}"
    if isinstance(value, str):
        return f"'{value}" if value.startswith(_DANGEROUS) else str(value)
    return str(value)


class _Wanted:
    """Writes rows with the names that numbers stand for."""

    def __init__(self, archive: Archive) -> None:
        self._people = {who.number: who.name or "you" for who in archive.people}
        self._items = {item.number: item for item in archive.items}

    def item(self, row: ItemRow) -> Row:
        told = dict(zip(HEADS["items.csv"][5:], (getattr(row.facts, name) for name in _FACTS), strict=True))
        return {
            "name": row.name,
            "kind": CATALOGUE[row.kind].name,
            "added": row.added_on,
            "retired": row.retired_on,
            "added by": self._people[row.added_by],
            **told,
        }

    def dive(self, row: DiveRow) -> Row:
        return {
            "date": row.on,
            "time": row.started,
            "dives": row.dives,
            "duration (min)": row.duration_min,
            "depth (m)": row.max_depth_m,
            "temperature (C)": row.min_temp_c,
            "oxygen": row.o2_fraction,
            "water": row.water,
            "conditions": "; ".join(row.conditions),
            "kit": "; ".join(_piece(self._items[n].name) for n in row.items),
        }

    def care(self, row: CareRow) -> Row:
        return {
            "date": row.on,
            "only the month is known": row.month_only,
            "item": self._items[row.item].name,
            "part": self._part(row.item, row.part),
            "task": row.task,
            "with": _words(row.substance),
            "contaminates": row.contaminates,
            "by a technician": row.by_technician,
            "test": _words(row.test),
            "next due": row.next_on,
            "made": row.made_on,
            "told by": self._people[row.done_by],
            "told at (UTC)": row.logged_at,
        }

    def mishap(self, row: MishapRow) -> Row:
        return {
            "date": row.on,
            "item": self._items[row.item].name,
            "what happened": row.happened,
            "told by": self._people[row.told_by],
            "told at (UTC)": row.logged_at,
        }

    def manual(self, row: ManualRow) -> Row:
        said = row.substances
        return {
            "item": self._items[row.item].name,
            "part": self._part(row.item, row.part),
            "goes on it": None if said is None else "; ".join(map(_plain, said)) or "nothing",
            "task": row.task,
            "every (dives)": row.every_dives,
            "every (months)": row.every_months,
            "every (days)": row.every_days,
            "every (hours under water)": row.every_hours,
            "O-ring (AS568 dash)": row.ring,
            "note": row.text,
            "noted at (UTC)": row.noted_at,
        }

    def _part(self, item: int, part: str | None) -> str | None:
        return CATALOGUE[self._items[item].kind].part(part).name if part else None


def _trip(row: TripRow) -> Row:
    return {
        "from": row.from_on,
        "to": row.to_on,
        "dives": row.dives,
        "water": row.water,
        "lowest temperature (C)": row.min_temp_c,
        "highest temperature (C)": row.max_temp_c,
    }


def _words(value: str | None) -> str | None:
    return None if value is None else _plain(value)


def _plain(value: str) -> str:
    return value.replace("_", " ")


def _piece(name: str) -> str:
    """Write the name of an item so that it stays one piece of kit where several stand in a cell."""
    return tidy(re.sub(r"[;|/]", " ", name))
