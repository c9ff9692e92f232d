"""What stands on a picture or a paper: words and shares, already said as the diver reads them. Nothing is worked out here.

A sheet is stored with the answer that brings it and drawn when it is sent, so that drawing never holds the writer.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class _Sheet(BaseModel):
    model_config = ConfigDict(frozen=True)


class Mark(StrEnum):
    """How urgent a task is; each has a shape, a word and a colour of its own."""

    OVERDUE = "overdue"
    DUE = "due"
    TRIP = "trip"
    """Not due yet; the next trip makes it so."""
    SOON = "soon"
    """Due within the days that a list looks ahead."""
    UNKNOWN = "unknown"
    """What it hangs on was never told."""
    FINE = "fine"


WORDS: Mapping[Mark, str] = MappingProxyType(
    {
        Mark.OVERDUE: "OVERDUE",
        Mark.DUE: "DUE",
        Mark.TRIP: "BY THE TRIP",
        Mark.SOON: "SOON",
        Mark.UNKNOWN: "NO DATE",
        Mark.FINE: "IN ORDER",
    }
)
"""What a mark is called. The word always stands beside its shape, so that no meaning hangs on a colour."""


class BoardRow(_Sheet):
    """One task. Shares are of its interval: 0 just done, 1 due; above 1 is late."""

    mark: Mark
    task: str
    """"Brush: teeth of the plastic zip"."""
    share: float | None = None
    """How far through its interval it is now; None: it has none, as what each dive day asks for."""
    share_with_trip: float | None = None
    """How far it will be after the next trip; None: no trip is planned, or it makes no difference."""
    counted: str = ""
    """"7 of 10 dives"."""
    when: str
    """"since 3 May", "about 14 June"."""
    span: str = ""
    """"12 June to 30 June": the days between which it falls 8 times in 10; "" for what the calendar decides."""


class BoardItem(_Sheet):
    """An item and those of its tasks that are shown, the gravest first."""

    name: str
    goes_on: bool = False
    """It began on the page before."""
    rows: tuple[BoardRow, ...] = ()
    fine: int = 0
    """Tasks that are in order and not shown."""


class Board(_Sheet):
    """What is due in a locker, one screen of it."""

    kind: Literal["board"] = "board"
    locker: str
    on: str
    first: str
    """"1 overdue, 2 due, 3 by the trip"."""
    trip: str = ""
    """"Trip 12 June to 19 June, 14 dives"; "" if none is planned."""
    items: tuple[BoardItem, ...] = ()
    notes: tuple[str, ...] = ()
    """What must stand below: "Test dates by law: check locally."."""
    page: int = 1
    pages: int = 1
    dark: bool = False


class CardLine(_Sheet):
    """One part of the kit, or one alike on several items."""

    part: str
    put: str
    """What goes on it, or "nothing: clean and dry", or "technician only"."""
    bare: bool
    """Nothing goes on it: what `put` says of that."""
    how_much: str = ""
    never: str = ""
    gas: bool = False
    """It touches breathing gas."""


class CardItem(_Sheet):
    """The lines of an item, or of several that are alike."""

    name: str
    lines: tuple[CardLine, ...]


class PocketCard(_Sheet):
    """What goes on each part of a kit: one page for the boat."""

    kind: Literal["card"] = "card"
    locker: str
    on: str
    items: tuple[CardItem, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...] = ()


class Section(_Sheet):
    """A part of a record: a table, or lines where `columns` is empty (each row has one cell then)."""

    title: str
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    empty: str = ""
    """What stands in place of no rows."""


class Chapter(_Sheet):
    """The record of one item."""

    title: str
    facts: tuple[tuple[str, str], ...] = ()
    """Name and value: "Added", "11 April 2026"."""
    sections: tuple[Section, ...] = ()


class ServiceRecord(_Sheet):
    """Dives, care, tests and manuals of one item or of a locker, for whoever buys, services or insures it."""

    kind: Literal["record"] = "record"
    title: str
    on: str
    summary: tuple[tuple[str, str], ...]
    chapters: tuple[Chapter, ...]
    notes: tuple[str, ...]


class CheckGroup(_Sheet):
    """Boxes to tick under one title."""

    title: str
    boxes: tuple[str, ...]
    empty: str = ""


class TripSheet(_Sheet):
    """The checklist of a trip."""

    kind: Literal["trip"] = "trip"
    locker: str
    on: str
    trip: str
    groups: tuple[CheckGroup, ...]
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


Sheet = Annotated[Board | PocketCard | ServiceRecord | TripSheet, Field(discriminator="kind")]
