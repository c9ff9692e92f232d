"""What the faults share: how many and which, a nursery, and databases of both kinds."""

from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from .killer import Nursery
from .worlds import Databases, Files, Worlds

KINDS = ("sqlite", pytest.param("postgresql", marks=pytest.mark.postgresql))


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add which faults and how many; known where these tests are named on the command line."""
    parser.addoption("--fault-seed", type=int, default=1, help="at which instants tests/faults kills")
    parser.addoption(
        "--fault-kills", type=int, default=150, help="how many kills of each phase on each database"
    )


@dataclass(frozen=True)
class Dose:
    """How much of it: by which seed, and how many kills in the long run."""

    seed: int
    kills: int


@pytest.fixture(scope="session")
def dose(request: pytest.FixtureRequest) -> Dose:
    """Return what the command line asks for."""
    ask = request.config.getoption
    return Dose(ask("fault_seed", 1), ask("fault_kills", 150))


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    """Give what begins lives."""
    opened = Nursery()
    yield opened
    opened.close()


@pytest.fixture(params=KINDS)
def worlds(request: pytest.FixtureRequest, tmp_path) -> Worlds:
    """Give databases of one kind."""
    if request.param == "sqlite":
        return Files(tmp_path)
    return Databases(
        request.getfixturevalue("postgres"),
        request.getfixturevalue("postgres_template"),
    )
