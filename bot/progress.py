"""Says on a terminal how far something has come, once it has lasted a second; elsewhere it says nothing."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Timer
from typing import TextIO

PATIENCE_S = 1.0


@contextmanager
def progress(
    what: str, total: float | None, out: TextIO, patience_s: float = PATIENCE_S
) -> Iterator[Callable[[float], object]]:
    """Give a function that is told how much of `total` is done. `total` None: nobody knows, and only the time is shown.

    What was shown is gone again at the end. Nothing is written unless `out` is a terminal.
    """
    if not out.isatty():
        yield lambda _done: None
        return
    from rich.console import Console  # noqa: PLC0415 - loaded only where somebody watches
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeElapsedColumn  # noqa: PLC0415

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeElapsedColumn())
    shown = Progress(*columns, console=Console(file=out), transient=True)
    task = shown.add_task(what, total=total)
    begin = Timer(patience_s, shown.start)
    begin.daemon = True
    begin.start()
    try:
        yield lambda done: shown.update(task, completed=done)
    finally:
        begin.cancel()
        begin.join()
        shown.stop()
