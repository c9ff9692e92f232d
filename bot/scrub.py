"""Keeps tokens and passwords out of what is logged or said."""

import logging
from collections.abc import Iterable, MutableMapping
from typing import Any

import structlog

_HIDDEN = "***"
_SHORTEST = 6
"""Anything shorter would be cut out of ordinary words."""


class Scrubber:
    """Replaces secrets, wherever they stand, by stars. It is a step of the log's chain."""

    def __init__(self, secrets: Iterable[str]) -> None:
        """Hide some secrets."""
        self._secrets = sorted({s for s in secrets if len(s) >= _SHORTEST}, key=len, reverse=True)

    def text(self, text: str) -> str:
        """Return a text without the secrets."""
        for secret in self._secrets:
            text = text.replace(secret, _HIDDEN)
        return text

    def __call__(
        self, _logger: object, _method: str, event: MutableMapping[str, Any]
    ) -> MutableMapping[str, Any]:
        """Scrub every text of a log line."""
        for key, value in event.items():
            if isinstance(value, str):
                event[key] = self.text(value)
        return event


class LibraryLog(logging.Handler):
    """Puts what libraries log into our one line a message, without what they say: that may be personal."""

    def emit(self, record: logging.LogRecord) -> None:
        """Log which library complained and where."""
        structlog.get_logger(__name__).warning(
            "library_log", library=record.name, level=record.levelname.lower(), where=record.funcName
        )
