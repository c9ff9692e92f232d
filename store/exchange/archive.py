"""A file of all data of a locker as typed values: bytes in, `Archive` out, and back. The schema is `store.exchange.record`.

Left out on purpose: the calendar link and invitation codes, which are secrets; who is let in and as what, since people are let
in by a code; and what is derived or passing: care tasks, notices, buttons, letters, the journal of undo, files of dives that
were not counted. What goes wrong with a file is an `ArchiveError`; no other exception leaves this module.
"""

import json
import re
from collections.abc import Iterable, Iterator
from typing import Any, NoReturn

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from store.catalogue import CATALOGUE
from store.errors import StoreError
from store.exchange.logbook import MOST_BYTES, shown
from store.exchange.record import FORMAT, VERSION, Archive, WordRow
from store.exchange.values import MOST_DIVES, MOST_ITEMS

__all__ = ["Archive", "ArchiveError", "dump", "is_archive", "load"]

LONGEST_TRIP_DAYS = 400
MOST_ON_DIVES = 10 * MOST_DIVES
"""Items named on all dives: ten on each of a full log."""
_MOST = {b"{": 110_000, b"[": 250_000, b",": 2_000_000}
"""How often these stand in a file at most: rows, lists and values. A full locker has half of it; a row takes 2 kB to read."""
_REFERENCES = {
    "items": {"added_by": "people"},
    "files": {"sent_by": "people"},
    "dives": {"items": "items", "file": "files", "logged_by": "people"},
    "care": {"item": "items", "done_by": "people"},
    "mishaps": {"item": "items", "told_by": "people"},
    "manual": {"item": "items"},
    "snoozes": {"item": "items"},
    "loans": {"item": "items", "lent_by": "people"},
    "elsewhere": {"items": "items"},
    "told": {"item": "items"},
}
"""By list and field: which list its numbers are of."""
_WHY = {
    "missing": "it is missing",
    "extra_forbidden": "it is nothing that belongs there",
    "enum": "it is none of what is known here",
    "literal_error": "it is none of what is known here",
    "string_too_long": "it is too long",
    "string_too_short": "it is empty",
    "string_unicode": "it is no text",
    "string_pattern_mismatch": "it is not written as it should be",
    "too_long": "there are too many",
    "too_short": "there are too few",
    "greater_than": "it is too small",
    "greater_than_equal": "it is too small",
    "less_than": "it is too great",
    "less_than_equal": "it is too great",
    "finite_number": "it is no number",
    "timezone_aware": "it has no zone: an instant ends in Z",
}
"""By pydantic's name of what is wrong."""


class ArchiveError(StoreError):
    """The file cannot be taken in; the message is one sentence for the diver: what is wrong, where, and the way out."""


def dump(archive: Archive) -> bytes:
    """Write a file: the same facts give the same bytes."""
    return f"{archive.model_dump_json(indent=1)}\n".encode()


def is_archive(content: bytes) -> bool:
    """Tell by a look at its beginning whether a file says it is one of ours, whole or not."""
    start = content[:1000].removeprefix(b"\xef\xbb\xbf").lstrip()
    return start.startswith(b"{") and f'"{FORMAT}"'.encode() in start


def load(content: bytes) -> Archive:
    """Read a file; ArchiveError if anything at all in it is not as it should be."""
    if len(content) > MOST_BYTES:
        _refuse(
            f"it is over {MOST_BYTES // 1_000_000} MB, more than any locker",
            "send one that was exported here",
        )
    _look(_outline(content))
    try:
        archive = Archive.model_validate_json(content.removeprefix(b"\xef\xbb\xbf"))
    except ValidationError as error:
        errors = error.errors(include_url=False, include_input=False)
        if errors[0]["type"] == "json_invalid":  # what the reader of Python takes and this one does not
            _refuse(
                "its lists are nested too deep, or hold half of a sign", "send one that was exported here"
            )
        _refuse(_first(errors))
    for where, why in _wrong(archive):
        _refuse(f"{where}: {why}")
    return archive


def _refuse(why: str, way_out: str = "mend it there, or export it once more and send that") -> NoReturn:
    raise ArchiveError(f"The file cannot be taken in: {why}; {way_out}.")


def _outline(content: bytes) -> object:
    """Return what a file says it is, its bulk, numbers and keys being in order. Its rows are looked at and let go.

    To keep them would take more memory than all else, and they are read once more, straight to typed values.
    """
    if any(content.count(mark) > most for mark, most in _MOST.items()):
        _refuse("it holds more lists and values than any locker", "send one that was exported here")
    try:
        text = content.decode("utf-8-sig")
        return json.loads(text, object_pairs_hook=_once, parse_constant=_no_number)
    except UnicodeDecodeError as error:
        _refuse(f"byte {error.start + 1} is no UTF-8 text", "save it as UTF-8 and send it again")
    except json.JSONDecodeError as error:
        _refuse(f"line {error.lineno}, column {error.colno}, is not JSON")
    except ValueError:  # of more digits than Python reads
        _refuse("a number in it is too great")
    except RecursionError:
        _refuse("its lists are nested too deep", "send one that was exported here")


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    keys: set[str] = set()
    for key, value in pairs:
        if key in keys:
            _refuse(f"{shown(key)} is there twice in one place")
        keys.add(key)
        if _HALF.search(key) or (isinstance(value, str) and _HALF.search(value)):
            _refuse(f"{shown(key)}: it is no text")
    return {key: value for key, value in pairs if key in _HEAD}


_HALF = re.compile("[\ud800-\udfff]")
"""Half of a sign, which JSON can write and nothing else takes."""
_HEAD = frozenset({"format", "version"})


def _no_number(text: str) -> NoReturn:
    _refuse(f"{text} is no number")


def _look(found: object) -> None:
    """Refuse what is no file of ours, or one of a version to come, before its lists are read."""
    if not isinstance(found, dict) or found.get("format") != FORMAT:
        _refuse(
            f'it does not begin with "format": "{FORMAT}"', "send a file of all data that was exported here"
        )
    version = found.get("version")
    if type(version) is not int or version < 1:
        _refuse('it does not say its "version"')
    if version > VERSION:
        _refuse(
            f"it is of version {shown(str(version))[1:-1]} and this program reads up to {VERSION}",
            "update the program and send it again",
        )


def _first(errors: list[ErrorDetails]) -> str:
    """Say where the first thing that is wrong stands, and what it is."""
    first = errors[0]
    kind, context = first["type"], first.get("ctx", {})
    why = str(context.get("error", "")) if kind == "value_error" else _WHY.get(kind, "it cannot be read")
    return f"{_place(first['loc'])}: {why}"


def _place(where: Iterable[int | str]) -> str:
    """Say a place in words: `care, number 3, on`."""
    return ", ".join(f"number {step + 1}" if isinstance(step, int) else shown(step)[1:-1] for step in where)


def _wrong(archive: Archive) -> Iterator[tuple[str, str]]:
    """Yield where and why the lists do not fit each other."""
    yield from _people(archive)
    numbers = {name: {row.number for row in getattr(archive, name)} for name in ("people", "items", "files")}
    for name, known in numbers.items():
        if len(known) != len(getattr(archive, name)):
            yield name, "two of them have the same number"
    for name, fields in _REFERENCES.items():
        for n, row in enumerate(getattr(archive, name)):
            for field, of in fields.items():
                yield from ((_place((name, n, field)), why) for why in _dangling(row, field, of, numbers[of]))
    if sum(item.retired_on is None for item in archive.items) > MOST_ITEMS:
        yield "items", f"a locker holds up to {MOST_ITEMS} that are in use"
    if sum(dive.dives for dive in archive.dives) > MOST_DIVES:
        yield "dives", f"a locker holds up to {MOST_DIVES:,}"
    if sum(len(dive.items) for dive in (*archive.dives, *archive.elsewhere)) > MOST_ON_DIVES:
        yield "dives", f"more than {MOST_ON_DIVES:,} items are named on them"
    yield from _parts(archive)
    yield from _pairs(archive)


def _dangling(row: BaseModel, field: str, of: str, known: set[int]) -> Iterator[str]:
    value = getattr(row, field)
    named = value if isinstance(value, list) else [] if value is None else [value]
    yield from (f"there is no {n} among the {of}" for n in named if n not in known)
    if len(set(named)) != len(named):
        yield "one of them is named twice"


def _people(archive: Archive) -> Iterator[tuple[str, str]]:
    if sum(who.you for who in archive.people) != 1:
        yield "people", "exactly one of them is you"
    called = [who.name for who in archive.people if not who.you]
    if len(set(called)) != len(called) or None in called:
        yield "people", "all but you have a name, each another"
    if any(who.you and who.name is not None for who in archive.people):
        yield "people", "you are given no name"


def _parts(archive: Archive) -> Iterator[tuple[str, str]]:
    """Look for parts that an item of that kind does not have."""
    kinds = {item.number: item.kind for item in archive.items}
    for name in ("care", "manual", "snoozes", "told"):
        for n, row in enumerate(getattr(archive, name)):
            kind = kinds.get(row.item)
            if kind is not None and row.part and not _has(kind, row.part):
                yield (
                    _place((name, n, "part")),
                    f"there is no {shown(row.part)} on a {kind.replace('_', ' ')}",
                )
    for n, word in enumerate(archive.words):
        if not _means_one_thing(word):
            yield _place(("words", n)), "it stands for one substance, or for one part of a kind of item"


def _has(kind: str, part: str) -> bool:
    return any(p.key == part for p in CATALOGUE[kind].parts)


def _means_one_thing(word: WordRow) -> bool:
    if word.substance is not None:
        return word.kind is None and word.part is None
    return word.kind is not None and word.part is not None and _has(word.kind, word.part)


def _pairs(archive: Archive) -> Iterator[tuple[str, str]]:
    """Look at what has to fit within a list, or between two."""
    for n, trip in enumerate(archive.trips):
        if not 0 <= (trip.to_on - trip.from_on).days <= LONGEST_TRIP_DAYS:
            yield _place(("trips", n)), f"it lasts from a day to {LONGEST_TRIP_DAYS} days"
    lent = {loan.to for loan in archive.loans}
    for n, dive in enumerate(archive.elsewhere):
        if dive.locker not in lent or not dive.items:
            yield _place(("elsewhere", n)), "nothing of this locker was lent there"
    keys: dict[str, list[object]] = {
        "words": [word.word for word in archive.words],
        "told": [(row.item, row.part, row.rule) for row in archive.told],
    }
    for name, found in keys.items():
        if len(set(found)) != len(found):
            yield name, "one of them is there twice"
