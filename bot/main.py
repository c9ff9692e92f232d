"""The one place where things are wired."""

import logging
import secrets
import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import structlog

from bot.conversation import Conversation
from bot.reading.encoder import WeightsError, encoder
from bot.scrub import Faults, LibraryLog, Scrubber
from bot.settings import Settings
from bot.understand.text import visible
from scheduler.clock import SystemClock
from scheduler.tick import catch_up
from store.engine import Store, sqlite_url


def open_store(url: str | None, settings: Settings) -> Store:
    """Open the database at a URL, or else the one of the settings, or else the default file; StoreError if it cannot be used."""
    return Store(url_of(url, settings))


def url_of(url: str | None, settings: Settings) -> str:
    """Return a URL, or else the one of the settings, or else that of the default file."""
    return url or settings.db or sqlite_url(settings.data_folder / "rinsetank.db")


def conversation(store: Store, settings: Settings | None = None) -> Conversation:
    """Wire a conversation with unguessable button ids, and bring what older rules worked out up to date."""
    catch_up(store, SystemClock())
    try:
        encoder()
    except WeightsError as error:
        tell_operator(f"{error} Until then only commands and buttons are taken.")
    return Conversation(store, token, settings.web_url if settings else None)


def token() -> str:
    """Return a word that nobody can guess: 192 bits."""
    return secrets.token_urlsafe(24)


def set_up_logging(level: str, hidden: Iterable[str] = ()) -> None:
    """Log one JSON line a message to standard error, so that it never mixes with the conversation.

    Secrets are left out, and what people say; at DEBUG a fault is told in full, which may quote them.
    """
    logging.captureWarnings(capture=True)
    logging.basicConfig(handlers=[LibraryLog()], level=logging.ERROR, force=True)
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="iso"),
            Faults(in_full=level.upper() == "DEBUG"),
            Scrubber(hidden),
            structlog.processors.JSONRenderer(),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(
            logging.getLevelNamesMapping().get(level.upper(), logging.WARNING)
        ),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
    )


def tell_operator(line: str) -> None:
    """Say something to whoever started the service: as it is on a terminal, elsewhere as a line of the log at any level."""
    if sys.stderr.isatty():
        sys.stderr.write(f"{visible(line)}\n")
        return
    logger = structlog.wrap_logger(structlog.PrintLogger(sys.stderr), wrapper_class=structlog.BoundLogger)
    logger.info("service", said=line)


def local_zone(settings: Settings, localtime: Path = Path("/etc/localtime")) -> str:
    """Return the IANA zone of this machine where it can be told, else the one of the settings."""
    if settings.zone != "UTC" or not localtime.is_symlink():
        return settings.zone
    name = str(localtime.resolve()).partition("zoneinfo/")[2]
    try:
        datetime(2026, 1, 1, tzinfo=ZoneInfo(name))
    except (ValueError, KeyError, OSError):
        return settings.zone
    return name
