"""Looks at everything the bot leans on and says, line by line, what is well and what to mend."""

from dataclasses import dataclass
from datetime import timedelta
from zoneinfo import ZoneInfo, available_timezones

from bot.main import local_zone, open_store
from bot.settings import Settings
from scheduler.clock import SystemClock
from scheduler.tick import next_tick
from store.engine import SCHEMA, Session
from store.errors import StoreError
from store.lockers import seen

_CODE_WRITTEN = 2026


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at."""

    what: str
    well: bool
    said: str


def examine(db: str | None, settings: Settings) -> list[Finding]:
    """Look at clock, zones and database; never raises for what it is there to find."""
    return [_clock(), _zones(settings), *_database(db, settings)]


def _clock() -> Finding:
    now = SystemClock().now()
    well = now.year >= _CODE_WRITTEN
    return Finding(
        "clock",
        well,
        f"{now:%Y-%m-%d %H:%M} UTC" + ("" if well else ": set the clock, reminders depend on it"),
    )


def _zones(settings: Settings) -> Finding:
    known = available_timezones()
    name = local_zone(settings)
    if name not in known:
        return Finding(
            "time zone",
            well=False,
            said=f"{name} is not known: set RINSETANK_ZONE to a name such as Europe/Berlin",
        )
    offset = SystemClock().now().astimezone(ZoneInfo(name)).utcoffset() or timedelta(0)
    return Finding(
        "time zone",
        well=True,
        said=f"{name}, UTC{offset.total_seconds() / 3600:+g} h, {len(known)} zones known",
    )


def _database(db: str | None, settings: Settings) -> list[Finding]:
    try:
        store = open_store(db, settings)
    except StoreError as error:
        return [Finding("database", well=False, said=str(error))]
    try:
        store.write(_write_and_drop)
        waiting = store.read(next_tick)
    except StoreError as error:
        return [Finding("database", well=False, said=str(error))]
    finally:
        store.close()
    return [
        Finding("database", well=True, said=f"schema {SCHEMA}, a row was written and taken back"),
        Finding(
            "reminders",
            well=True,
            said=f"next one at {waiting:%Y-%m-%d %H:%M} UTC" if waiting else "none waiting",
        ),
    ]


def _write_and_drop(session: Session) -> None:
    seen(session, "doctor", "ping", SystemClock().now())
    session.flush()
    session.rollback()
