"""Keeps tokens, passwords and what people say or are called out of what is logged."""

import logging
import re
import sys
import traceback
from collections.abc import Iterable, MutableMapping
from pathlib import Path
from types import TracebackType
from typing import Any

import structlog

_HIDDEN = "***"
_SHORTEST = 6
"""Anything shorter would be cut out of ordinary words."""
_ADDRESS = re.compile(r"([@!#])[^\s:@!#/\"']+:[\w.\-]+(?::\d+)?")
"""A person, a room or its name on Matrix."""
_FRAMES = 12
_HERE = Path(__file__).parent.parent


class Scrubber:
    """Replaces secrets and addresses, wherever they stand, by stars. It is a step of the log's chain."""

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
        """Scrub every text of a log line, and make a text of what is neither text nor number."""
        for key, value in event.items():
            if isinstance(value, list):
                event[key] = [self._without_addresses(str(v)) for v in value]
            elif not isinstance(value, bool | int | float | None):
                event[key] = self._without_addresses(str(value))
        return event

    def _without_addresses(self, text: str) -> str:
        return _ADDRESS.sub(rf"\1{_HIDDEN}", self.text(text))


class Faults:
    """Tells of an exception what it was and where, not what it says: that may be a diver's words. A step of the log's chain."""

    def __init__(self, *, in_full: bool) -> None:
        """`in_full`: say all of it, for whoever looks for a bug."""
        self._in_full = in_full

    def __call__(
        self, _logger: object, _method: str, event: MutableMapping[str, Any]
    ) -> MutableMapping[str, Any]:
        """Put the fault into a log line."""
        told = event.pop("exc_info", None)
        if not told:
            return event
        error = told if isinstance(told, BaseException) else sys.exc_info()[1]
        if error is not None:
            event["fault"] = " from ".join(type(e).__name__ for e in _chain(error))
            event["where"] = _where(error.__traceback__)
            if self._in_full:
                event["exception"] = "".join(traceback.format_exception(error))
        return event


def _chain(error: BaseException) -> list[BaseException]:
    chain: list[BaseException] = []
    following: BaseException | None = error
    while following is not None and following not in chain:
        chain.append(following)
        following = following.__cause__ or following.__context__
    return chain


def _where(trace: TracebackType | None) -> list[str]:
    frames = traceback.extract_tb(trace)[-_FRAMES:]
    return [f"{_short(f.filename)}:{f.lineno} {f.name}" for f in frames]


def _short(file: str) -> str:
    """Return a file by its place in the program, or the last two parts of its path."""
    path = Path(file)
    return str(path.relative_to(_HERE)) if path.is_relative_to(_HERE) else "/".join(path.parts[-2:])


class LibraryLog(logging.Handler):
    """Puts what libraries log into our one line a message, without what they say: that may be personal."""

    def emit(self, record: logging.LogRecord) -> None:
        """Log which library complained and where."""
        structlog.get_logger(__name__).warning(
            "library_log", library=record.name, level=record.levelname.lower(), where=record.funcName
        )
