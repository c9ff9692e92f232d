"""What a file of all data holds: the documented schema, one model a list. `deploy/data-file.md` is written from it.

Every list is in the order in which things were told. None always means: not said.
"""

from functools import cache
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StrictBool, field_serializer

from store.catalogue import ItemFacts
from store.exchange.values import (
    LONGEST_NAME,
    MOST_DIVES,
    Called,
    Celsius,
    Clock,
    Count,
    Day,
    Instant,
    Name,
    Number,
    Stage,
    Text,
    Word,
    Zone,
)
from store.vocabulary import (
    Condition,
    CylinderTest,
    Happening,
    ItemKind,
    Region,
    Substance,
    Task,
    Units,
    Water,
)

FORMAT: Literal["rinse-tank-data"] = "rinse-tank-data"
VERSION: Literal[1] = 1


@cache
def _fields_of(row: type[BaseModel]) -> set[str]:
    return set(row.model_fields)


class _Row(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    def model_post_init(self, _context: object, /) -> None:
        """Share what says which fields were given: all of them always are, and a set in each row is half of its memory."""
        object.__setattr__(self, "__pydantic_fields_set__", _fields_of(type(self)))


class LockerFacts(_Row):
    """The locker itself."""

    name: Annotated[str, Field(max_length=LONGEST_NAME)]
    """What its people call it; empty: nobody named it."""
    region: Region | None
    """Whose law dates the tests of its cylinders."""
    created_at: Instant
    """When it began."""


class ChatWishes(_Row):
    """The wishes of the chat that the file was asked for in."""

    zone: Zone
    """Time zone, by its IANA name."""
    digest_at: Clock
    """Local time of the daily reminder."""
    quiet_from: Clock
    """Local time at which quiet hours begin."""
    quiet_to: Clock
    """Local time at which they end; the same as the begin: no quiet hours."""
    units: Units
    """Units that are shown; what is kept is metric."""
    reminders: StrictBool
    """False: nothing is said unasked."""
    dark: StrictBool
    """The due board is drawn light on dark."""
    board_day: Annotated[int, Field(strict=True, ge=0, le=6)] | None
    """Weekday on which the due board comes by itself, Monday 0; null: only when asked for."""


class Somebody(_Row):
    """Somebody who told something. Other lists name people by number."""

    number: Number
    """Number of this person in this file."""
    you: StrictBool
    """Whoever asked for the file: taken in again, it is whoever sends it. Exactly one is."""
    name: Called | None
    """What the others are called, each otherwise; null for you. No address of anybody is in the file."""


class ItemRow(_Row):
    """A thing that is looked after, retired ones included."""

    number: Number
    """Number of this item in this file."""
    kind: ItemKind
    """What it is."""
    name: Name
    """What it is called."""
    facts: ItemFacts
    """What was said of it, without what was not (see below)."""
    added_on: Day
    """The day it was told."""
    retired_on: Day | None
    """The day it left the kit; null: it is in use."""
    added_by: Number
    """Who told it."""

    @field_serializer("facts")
    def _said(self, facts: ItemFacts) -> dict[str, object]:
        return facts.model_dump(mode="json", exclude_none=True)


class FileRow(_Row):
    """A dive log file whose dives were counted."""

    number: Number
    """Number of this file in this file."""
    name: Text
    """What it was called."""
    sent_at: Instant
    """When it was sent."""
    sent_by: Number
    """Who sent it."""


class _Dived(_Row):
    on: Day
    """The day, where it was dived."""
    dives: Count
    """How many dives it stands for."""
    duration_min: Annotated[int, Field(strict=True, ge=0, le=100_000)] | None
    """Minutes of each dive."""
    conditions: Annotated[list[Condition], Field(max_length=20)]
    """What it did to the kit besides wetting it."""
    items: Annotated[list[Number], Field(max_length=5_000)]
    """The items of this file that were on it."""


class DiveRow(_Dived):
    """One entry of the log: one dive or several alike."""

    started: Clock | None
    """Local time of day it began."""
    water: Water | None
    """What it was dived in."""
    max_depth_m: Annotated[float, Field(strict=True, ge=0, le=10_000, allow_inf_nan=False)] | None
    """Greatest depth in metres."""
    min_temp_c: Celsius | None
    """Lowest temperature in degrees Celsius."""
    o2_fraction: Annotated[float, Field(strict=True, gt=0, le=1)] | None
    """Oxygen fraction of the richest gas."""
    file: Number | None
    """The file it came in; null: told by hand."""
    logged_at: Instant
    """When it was told."""
    logged_by: Number
    """Who told it."""


class ElsewhereRow(_Dived):
    """A dive in the log of another locker on which an item was that was lent there: it counts for the item, not for this log."""

    locker: Called
    """The locker it was logged in, as in `to` of a loan."""


class CareRow(_Row):
    """An act of care that was done."""

    item: Number
    """The item it was done to."""
    part: Word | None
    """Its part; null: the item as a whole."""
    task: Task
    """What was done."""
    substance: Substance | None
    """What was put on it."""
    contaminates: StrictBool
    """What was put on it takes the part out of oxygen service."""
    by_technician: StrictBool
    """A technician did it."""
    on: Day
    """The day it was done."""
    month_only: StrictBool
    """Only the month is known; `on` is its first day."""
    test: CylinderTest | None
    """Which test of a cylinder; null: told by its task alone."""
    next_on: Day | None
    """First day of the next due month as it was stamped or certified."""
    made_on: Day | None
    """Date of manufacture printed on what was put in."""
    done_by: Number
    """Who told it."""
    logged_at: Instant
    """When it was told."""


class MishapRow(_Row):
    """What befell an item."""

    item: Number
    """The item."""
    happened: Happening
    """What befell it."""
    on: Day
    """The day."""
    told_by: Number
    """Who told it."""
    logged_at: Instant
    """When it was told."""


class ManualRow(_Row):
    """What the maker's manual of an item says; the newest note counts."""

    item: Number
    """The item."""
    part: Word | None
    """Its part; null: the item as a whole."""
    substances: Annotated[list[Substance], Field(max_length=50)] | None
    """What goes on it; empty: nothing does; null: the note speaks of an interval only."""
    task: Task | None
    """The act the interval is of; null: whichever is asked for there."""
    every_dives: Count | None
    """Interval in dives."""
    every_months: Count | None
    """Interval in months."""
    every_days: Count | None
    """Interval in days."""
    every_hours: Annotated[float, Field(strict=True, gt=0, le=100_000, allow_inf_nan=False)] | None
    """Interval in hours of immersion."""
    ring: Annotated[str, Field(pattern=r"^[0-9]{1,3}$")] | None
    """AS568 dash number of its O-ring."""
    text: Text
    """The words it was told in."""
    noted_at: Instant
    """When it was told."""


class WordRow(_Row):
    """A diver's own word: either for a class of tube, or for a part of a kind of item. Each word stands once."""

    word: Name
    """The word."""
    substance: Substance | None
    """The class of the tube; null: it is a part."""
    kind: ItemKind | None
    """The kind of item; null: it is a tube."""
    part: Word | None
    """The part of that kind."""


class SnoozeRow(_Row):
    """A wish not to hear of a rule on a part before a date."""

    item: Number
    """The item."""
    part: Annotated[str, Field(max_length=100)]
    """Its part; empty: the item as a whole."""
    rule: Word
    """The rule, by its name in the program."""
    until_on: Day
    """The day it is spoken of again."""


class TripRow(_Row):
    """A planned trip."""

    from_on: Day
    """First day."""
    to_on: Day
    """Last day."""
    dives: Annotated[int, Field(strict=True, ge=0, le=100_000)] | None
    """How many dives are planned."""
    water: Water | None
    """What will be dived in."""
    min_temp_c: Celsius | None
    """Lowest temperature to be expected, degrees Celsius."""
    max_temp_c: Celsius | None
    """Highest temperature to be expected, degrees Celsius."""
    told: Stage | None
    """Days before leaving of the last call that was made, so that it is not made again; null: none was."""


class LoanRow(_Row):
    """An item of this locker that is or was lent to another. Taken in again, what is lent comes home."""

    item: Number
    """The item."""
    to: Called
    """What the other locker is called."""
    name: Name
    """What the item was called here when it was lent."""
    lent_on: Day
    """The day it was lent."""
    lent_by: Number
    """Who lent it."""
    back_on: Day | None
    """The day it came back; null: it was still lent when the file was written."""


class BorrowedRow(_Row):
    """An item of another locker that was lent to this one. It is only named here: it is not this locker's to carry away."""

    name: Name
    """What it is called here."""
    of: Called
    """What the other locker is called."""
    lent_on: Day
    """The day it was lent."""


class ToldRow(_Row):
    """What was reminded of already, so that a file that is taken in nags of nothing twice."""

    item: Number
    """The item."""
    part: Annotated[str, Field(max_length=100)]
    """Its part; empty: the item as a whole."""
    rule: Word
    """The rule, by its name in the program."""
    task: Task
    """The act it asks for."""
    critical: StrictBool
    """It can hurt somebody."""
    due_on: Day | None
    """The day it fell due."""
    stage: Stage
    """The stage that was told of last."""


class Archive(_Row):
    """All data of a locker."""

    format: Literal["rinse-tank-data"] = FORMAT
    """Tells this file from any other."""
    version: Literal[1] = VERSION
    """The version of this schema."""
    locker: LockerFacts
    """The locker itself."""
    wishes: ChatWishes | None
    """The wishes of the chat; null: asked for outside a chat."""
    people: Annotated[list[Somebody], Field(max_length=2_000, fail_fast=True)]
    """Who told what."""
    items: Annotated[list[ItemRow], Field(max_length=5_000, fail_fast=True)]
    """The kit."""
    files: Annotated[list[FileRow], Field(max_length=10_000, fail_fast=True)]
    """Dive log files whose dives were counted."""
    dives: Annotated[list[DiveRow], Field(max_length=MOST_DIVES, fail_fast=True)]
    """The dive log."""
    care: Annotated[list[CareRow], Field(max_length=100_000, fail_fast=True)]
    """What was done to the kit."""
    mishaps: Annotated[list[MishapRow], Field(max_length=50_000, fail_fast=True)]
    """What befell it."""
    manual: Annotated[list[ManualRow], Field(max_length=20_000, fail_fast=True)]
    """What its manuals say."""
    words: Annotated[list[WordRow], Field(max_length=5_000, fail_fast=True)]
    """Own words."""
    snoozes: Annotated[list[SnoozeRow], Field(max_length=50_000, fail_fast=True)]
    """What was put off."""
    trips: Annotated[list[TripRow], Field(max_length=5_000, fail_fast=True)]
    """Planned and past trips."""
    loans: Annotated[list[LoanRow], Field(max_length=20_000, fail_fast=True)]
    """What is or was lent."""
    elsewhere: Annotated[list[ElsewhereRow], Field(max_length=MOST_DIVES, fail_fast=True)]
    """Dives of lent items in the logs of others."""
    borrowed: Annotated[list[BorrowedRow], Field(max_length=5_000, fail_fast=True)]
    """What is borrowed, by name only."""
    told: Annotated[list[ToldRow], Field(max_length=100_000, fail_fast=True)]
    """What was reminded of already."""
