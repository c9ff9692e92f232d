"""Time as an argument. Only this file asks the machine what time it is."""

from datetime import UTC, date, datetime, timedelta
from typing import Protocol
from zoneinfo import ZoneInfo


class Clock(Protocol):
    """Whatever tells the time."""

    def now(self) -> datetime:
        """Return the present instant, aware, in UTC."""
        ...


class SystemClock:
    """The machine's clock."""

    def now(self) -> datetime:
        """Return the machine's instant."""
        return datetime.now(UTC)


class SetClock:
    """A clock that stands until it is set: for replays, the demo and tests."""

    def __init__(self, at: datetime) -> None:
        """Start at an aware instant."""
        self._at = at.astimezone(UTC)

    def now(self) -> datetime:
        """Return the instant it was set to."""
        return self._at

    def set(self, at: datetime) -> None:
        """Move to an aware instant; never backwards, so that a replay with shuffled lines cannot undo time."""
        self._at = max(self._at, at.astimezone(UTC))

    def forward(self, by: timedelta) -> None:
        """Move on."""
        self._at += by


def local_date(now: datetime, zone: str) -> date:
    """Return the calendar date of an instant in a zone."""
    return now.astimezone(ZoneInfo(zone)).date()
