"""How much of a thing is tried: a little in every run, all of it where `long` is asked for."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings


def doses(few: object, many: object) -> pytest.MarkDecorator:
    """Run a test on a little, and on all of it at length; it is given which as `dose`."""
    at_length = pytest.param(many, marks=pytest.mark.long, id="many")
    return pytest.mark.parametrize("dose", [pytest.param(few, id="few"), at_length])


def holds_for(examples: int, *drawn: Any) -> Callable[[Callable[..., None]], None]:
    """Try at once what stands below on so many drawn examples; how long one takes is no matter."""
    how = settings(max_examples=examples, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    return lambda claim: how(given(*drawn)(claim))()


def drawn(few: int, many: int, *strategies: Any) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Make a test of a claim about drawn values: tried on few, and at length on many."""

    def test_of(claim: Callable[..., None]) -> Callable[..., None]:
        def test(dose: int) -> None:
            holds_for(dose, *strategies)(claim)

        test.__name__, test.__doc__, test.__module__ = claim.__name__, claim.__doc__, claim.__module__
        return doses(few, many)(test)

    return test_of
