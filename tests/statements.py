"""All databases of a run share what an engine keeps of the statements it was given.

Each test opens a database of its own, and an engine that is new to every statement spends most of a short test on them.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest import mock

from sqlalchemy import URL, Engine, event, make_url
from sqlalchemy.engine import Dialect

import store.engine
import store.postgres


@contextmanager
def shared_statements() -> Iterator[None]:
    """Have engines of one kind share them, from the first on that has connected: its dialect knows what it speaks to."""
    real, known = store.engine.create_engine, dict[str, tuple[Dialect, Any]]()

    def create_engine(url: str | URL, **how: Any) -> Engine:
        made, kind = real(url, **how), f"{make_url(url).drivername} {sorted(how.items(), key=str)}"

        def share(*_: object) -> None:
            known.setdefault(kind, (made.dialect, made._compiled_cache))
            made.dialect, made._compiled_cache = known[kind]

        if kind in known:
            share()
        else:
            event.listen(made, "connect", share)
        return made

    with (
        mock.patch.object(store.engine, "create_engine", create_engine),
        mock.patch.object(store.postgres, "create_engine", create_engine),
    ):
        yield
