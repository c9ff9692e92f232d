"""Looks at everything the bot leans on and says, line by line, what is well and what to mend."""

import asyncio
import json
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo, available_timezones

from bot.access import Mode
from bot.doctor_kept import kept
from bot.finding import Finding
from bot.main import local_zone, open_store, url_of
from bot.reading.encoder import WeightsError, encoder
from bot.settings import Settings
from scheduler.clock import SystemClock
from scheduler.tick import next_tick
from store.attempts import aside
from store.counts import ASIDE_TOLD
from store.engine import SCHEMA, Session
from store.errors import StoreError
from store.lockers import seen

_CODE_WRITTEN = 2026


def examine(db: str | None, settings: Settings) -> list[Finding]:
    """Look at clock, zones, database, who may write and the wires; never raises for what it is there to find."""
    database = _database(db, settings)
    sound = all(f.well for f in database)
    return [
        _clock(),
        _zones(settings),
        _reader(),
        *database,
        *(kept(url_of(db, settings), settings, SystemClock().now()) if sound else ()),
        _access(settings),
        *asyncio.run(_wires(settings)),
    ]


def _reader() -> Finding:
    """Look whether the weights that messages are read with are whole."""
    try:
        encoder()
    except WeightsError as error:
        return Finding("reader", well=False, said=f"{error} Until then only commands and buttons are taken.")
    return Finding("reader", well=True, said="its weights match their card")


def _access(settings: Settings) -> Finding:
    on = settings.telegram_token is not None or settings.matrix_homeserver is not None
    listed = len(settings.listed)
    if settings.access is Mode.OPEN:
        said = "open: everybody who finds the bot may write" if on else "open, and no wire is on"
        return Finding("access", well=True, said=said)
    if not listed:
        return Finding(
            "access",
            well=False,
            said=f"{settings.access}, but nobody is listed: write to the bot, it says who you are, and put that into RINSETANK_ALLOWED",
        )
    return Finding("access", well=True, said=f"{settings.access}: {listed} listed")


async def _wires(settings: Settings) -> list[Finding]:
    """Look at the wires that have credentials."""
    from bot.transports import probe  # noqa: PLC0415 - loads what only a server needs

    found: list[Finding] = []
    now = SystemClock().now()
    if settings.telegram_token is not None:
        told = [await probe.reached(settings.telegram_api, now)]
        if told[0][0]:
            webhook = settings.telegram_webhook_secret is not None and settings.web_url is not None
            token = settings.telegram_token.get_secret_value()
            told += await probe.telegram(token, settings.telegram_api, webhook=webhook)
        found += [Finding("telegram", *said) for said in told]
    if settings.telegram_webhook_secret is not None and settings.web_url is None:
        said = "a webhook secret is set, but no RINSETANK_WEB_URL: updates are fetched by polling"
        found.append(Finding("telegram", well=False, said=said))
    if settings.matrix_homeserver is not None:
        found += [
            Finding("matrix", *said) for said in await _matrix(settings, settings.matrix_homeserver, now)
        ]
    return found or [Finding("wires", well=True, said="none is on: set credentials to talk from a phone")]


async def _matrix(settings: Settings, homeserver: str, now: datetime) -> list[tuple[bool, str]]:
    from bot.transports import probe  # noqa: PLC0415 - as above

    if settings.matrix_user is None:
        return [(False, "set RINSETANK_MATRIX_USER, such as @rinse:reef.example")]
    if settings.matrix_password is None and settings.matrix_token is None:
        return [(False, "set RINSETANK_MATRIX_PASSWORD or RINSETANK_MATRIX_TOKEN")]
    told = [await probe.reached(f"{homeserver.rstrip('/')}/_matrix/client/versions", now)]
    if told[0][0]:
        token = settings.matrix_token.get_secret_value() if settings.matrix_token else ""
        file = settings.data_folder / "matrix" / "login.json"
        kept = json.loads(file.read_text())["token"] if file.is_file() else ""
        told += await probe.matrix(homeserver, settings.matrix_user, token, kept)
    return told


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
        put_aside = store.read(_set_aside)
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
        put_aside,
    ]


def _set_aside(session: Session) -> Finding:
    """Name what was put aside, newest first: whoever runs the bot reports it with the log of that hour."""
    rows = aside(session, SystemClock().now() - ASIDE_TOLD)
    told = [f"{r.wire} {r.update_id}, {r.what}, {r.begun_at:%Y-%m-%d %H:%M} UTC" for r in rows[:5]]
    said = f"{len(rows)} in {ASIDE_TOLD.days} days over which the process ended twice: {'; '.join(told)}"
    return Finding("set aside", well=not rows, said=said if rows else "no message ended the process twice")


def _write_and_drop(session: Session) -> None:
    seen(session, "doctor", "ping", SystemClock().now())
    session.flush()
    session.rollback()
