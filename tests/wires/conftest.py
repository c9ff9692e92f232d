"""The homeserver of the wire tests: one for each worker, started at first need."""

from collections.abc import Iterator

import pytest

from tests.wires.homeserver import Homeserver, why_not


@pytest.fixture(scope="session")
def homeserver(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Homeserver]:
    """Run a homeserver for all tests of this worker, or skip aloud where none can run."""
    server = Homeserver(tmp_path_factory.mktemp("homeserver"))
    try:
        server.start()
    except RuntimeError:
        if (reason := why_not()) is None:
            raise
        pytest.skip(f"the homeserver cannot run here: {reason}")
    yield server
    server.stop()
