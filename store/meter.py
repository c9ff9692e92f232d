"""What happens, told to whoever listens: how often and for how long. Who tells need not know who measures.

Only words of the program are labels, never a chat, a person or a locker: there must be few of them.
"""

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import wraps
from typing import ParamSpec, TypeVar

Ear = Callable[[str, float, Mapping[str, str]], None]
"""Takes an event, an amount (a count, or seconds) and its labels. It must not raise."""
P = ParamSpec("P")
T = TypeVar("T")
_ears: tuple[Ear, ...] = ()


def listen(ear: Ear) -> Callable[[], None]:
    """Have what happens told to `ear` from now on, from whichever thread; return what ends that."""
    global _ears  # noqa: PLW0603 - one process, one list
    _ears = (*_ears, ear)

    def leave() -> None:
        global _ears  # noqa: PLW0603 - same
        _ears = tuple(e for e in _ears if e is not ear)

    return leave


def tell(event: str, amount: float = 1, **labels: str) -> None:
    """Say that something happened."""
    for ear in _ears:
        ear(event, amount, labels)


@contextmanager
def timing(event: str, **labels: str) -> Iterator[None]:
    """Say how many seconds something took, whether it went well or not."""
    began = time.perf_counter()
    try:
        yield
    finally:
        tell(event, time.perf_counter() - began, **labels)


def timed(event: str, **labels: str) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Make a function say how many seconds each call took."""

    def around(work: Callable[P, T]) -> Callable[P, T]:
        @wraps(work)
        def measured(*given: P.args, **named: P.kwargs) -> T:
            with timing(event, **labels):
                return work(*given, **named)

        return measured

    return around
