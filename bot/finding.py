"""What the doctor finds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at."""

    what: str
    well: bool
    said: str
