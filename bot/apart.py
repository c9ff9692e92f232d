"""Does work on what people send in a process of its own, which the kernel ends when one piece of it takes too long.

A pattern or a parser that runs away sits in C, holds the interpreter and hears nobody: no thread, no timer and no signal of its
own process ends it for sure. Here another process runs away, and this one goes on.
"""

import os
import resource
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import date
from multiprocessing.connection import Connection, Pipe
from typing import Any, Protocol, TypeVar

T = TypeVar("T")
WORK_S = 2.0
"""Processor time of one piece of work; the longest message of the corpora takes a hundredth of it."""
MEMORY_BYTES = 1 << 29
ANSWER_S = 60.0
"""Longest wait for an answer, whoever is to blame: a machine that is busy with others, a process that is stopped."""


class OverBudgetError(Exception):
    """A piece of work was ended: it took more time or memory than one may."""


class Runs(Protocol):
    """Runs a function and returns what it returns; OverBudgetError if that was ended."""

    def __call__(self, work: Callable[..., T], *given: Any) -> T: ...  # noqa: ANN401 - whatever it takes


def here(work: Callable[..., T], *given: Any) -> T:  # noqa: ANN401 - as above
    """Run a function in this process, without a budget: at a terminal, where whoever waits can break it off."""
    return work(*given)


class Apart:
    """Runs functions of modules in another process, one at a time. It starts at the first one."""

    def __init__(self) -> None:
        self._one_by_one = threading.Lock()
        self._running: tuple[subprocess.Popen[bytes], Connection] | None = None

    def __call__(self, work: Callable[..., T], *given: Any) -> T:  # noqa: ANN401 - as above
        """Run a function and return what it returns, or raise what it raises; OverBudgetError if that was ended."""
        with self._one_by_one:
            ended, came = self._ask((work, given))
        if ended:
            raise OverBudgetError
        if isinstance(came, Exception):
            raise came
        return came  # type: ignore[no-any-return]  # what the function returned

    def begin(self) -> None:
        """Start the other process now, so that the first to ask need not wait for it."""
        with self._one_by_one:
            self._running = self._running or _begin()

    def close(self) -> None:
        """End the other process; it also ends by itself when this one does."""
        with self._one_by_one:
            self._end()

    def _ask(self, asked: object) -> tuple[bool, Any]:
        """Return whether the work was ended, and what came of it. A process that was lost before it began is begun anew."""
        for _ in range(2):
            self._running = self._running or _begin()
            line = self._running[1]
            try:
                line.send(asked)
                if line.poll(ANSWER_S):
                    return line.recv()  # type: ignore[no-any-return]  # the pair that `_work` sends
            except (EOFError, OSError):
                self._end()
                continue
            self._end()
            break
        return True, None

    def _end(self) -> None:
        if self._running is not None:
            process, line = self._running
            self._running = None
            line.close()
            with suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _begin() -> tuple[subprocess.Popen[bytes], Connection]:
    ours, theirs = Pipe()
    with theirs:
        fd = theirs.fileno()
        process = subprocess.Popen(  # noqa: S603 - this program itself
            [sys.executable, "-m", "bot.apart", str(fd)],
            pass_fds=[fd],
            stdin=subprocess.DEVNULL,
            start_new_session=True,  # what is typed at a terminal ends the service, which ends this one
        )
    return process, ours


def main(fd: int) -> None:
    """Keep one worker at work until the other end closes: a fork of this process, so that a new one is there at once."""
    from bot.understand.in_passing import EXAMPLES  # noqa: PLC0415 - what every worker needs is loaded once, before it is forked
    from bot.understand.reader import understand  # noqa: PLC0415 - same

    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # whoever is told to stop finishes what is in hand first
    for text in (*EXAMPLES, "rinsd the zibber"):  # a word that is mended loads the list of words
        understand(text, date(2026, 1, 1))
    line = Connection(fd)
    while True:
        worker = os.fork()
        if not worker:
            _work(line)
        _, status = os.waitpid(worker, 0)
        if os.waitstatus_to_exitcode(status) >= 0:
            return
        try:
            line.send((True, None))
        except OSError:
            return


def _work(line: Connection) -> None:
    """Do one piece of work after another, each within its budget, until the other end closes; never returns."""
    with suppress(OSError, ValueError):  # where that is forbidden, the unit has a limit of its own
        resource.setrlimit(resource.RLIMIT_DATA, (MEMORY_BYTES, resource.getrlimit(resource.RLIMIT_DATA)[1]))
    signal.signal(signal.SIGPROF, signal.SIG_DFL)  # the kernel ends whom it is sent to, wherever that hangs
    with suppress(EOFError, OSError):
        while True:
            work, given = line.recv()
            signal.setitimer(signal.ITIMER_PROF, WORK_S)
            came: tuple[bool, object]
            try:
                came = False, work(*given)
            except MemoryError:
                came = True, None
            except Exception as error:  # noqa: BLE001 - it is raised at the other end
                came = False, error
            signal.setitimer(signal.ITIMER_PROF, 0)
            line.send(came)
    os._exit(0)


if __name__ == "__main__":
    main(int(sys.argv[1]))
