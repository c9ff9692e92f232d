"""What a value in a file of all data may be: how it is written and its bounds. Each refuses what is outside by a ValueError."""

import re
from datetime import UTC, date, datetime
from typing import Annotated
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BeforeValidator, Field

FIRST_YEAR, LAST_YEAR = 1900, 2300
_ISO = re.compile(r"\d{4}-\d\d-\d\d(T\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d))?", re.ASCII)
LONGEST = 2000
"""Characters of one text: what one message can bring in."""
LONGEST_NAME = 200
"""Characters of what a person, a locker or an item is called, and of an own word."""
MOST_ITEMS, MOST_DIVES = 500, 50_000
"""What a locker holds, whichever way it comes in: items in use, and dives. More items than any club owns; each message works out
all of it, so a locker without end would keep all others waiting."""


def _written(value: object) -> object:
    """Let only what is written as ISO 8601 be read as a date: a bare number is none."""
    if isinstance(value, date) or (isinstance(value, str) and _ISO.fullmatch(value)):
        return value
    raise ValueError("it is no date written like 2026-06-10, or instant like 2026-06-10T12:00:00Z")


def _in_time(value: date) -> date:
    if not FIRST_YEAR <= value.year <= LAST_YEAR:
        raise ValueError(f"the year lies outside {FIRST_YEAR} to {LAST_YEAR}")
    return value


def _utc(value: datetime) -> datetime:
    _in_time(value)
    if value.tzinfo is None:
        raise ValueError("it has no zone: an instant ends in Z")
    return value.astimezone(UTC)


def _zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ValueError, KeyError, OSError):
        raise ValueError("it is no time zone") from None
    return value


Day = Annotated[date, BeforeValidator(_written), AfterValidator(_in_time)]
Instant = Annotated[datetime, BeforeValidator(_written), AfterValidator(_utc)]
Clock = Annotated[str, Field(pattern=r"^([01][0-9]|2[0-3]):[0-5][0-9]$")]
Zone = Annotated[str, Field(pattern=r"^[A-Za-z0-9_+/-]{1,64}$"), AfterValidator(_zone)]
Text = Annotated[str, Field(max_length=LONGEST)]
Called = Annotated[str, Field(min_length=1, max_length=LONGEST_NAME)]
Name = Called
Word = Annotated[str, Field(min_length=1, max_length=100)]
Number = Annotated[int, Field(strict=True, ge=1, le=1_000_000)]
Count = Annotated[int, Field(strict=True, ge=1, le=100_000)]
Stage = Annotated[int, Field(strict=True, ge=-100_000, le=100_000)]
Celsius = Annotated[float, Field(strict=True, ge=-60, le=60, allow_inf_nan=False)]
