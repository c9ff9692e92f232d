"""What every test may lean on: a database migrated once and as good as new for each test, a conversation on a set clock.

Tests of the store and the scheduler run on both databases, by whichever fixture they come to one; those of the conversation
too, but on PostgreSQL only where `long` is asked for. What is about a SQLite file alone is marked `sqlite`; the wires and the
benchmarks have one database.
"""

import asyncio
import gc
import os
import shutil
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path

import pytest
from hypothesis import settings

from bot.files import Folder
from bot.main import set_up_logging
from bot.replay import Line, Replay, Sent
from bot.replies import Reply
from store.engine import Store, sqlite_url
from tests import memory
from tests.postgres import Server
from tests.scenes import Scenes
from tests.statements import shared_statements

settings.register_profile("steady", derandomize=True, database=None)
settings.load_profile("steady")
"""A run that failed for one fails for all: a new seed is for whoever looks for trouble, not for whoever lands a change."""

START = datetime.fromisoformat("2026-06-10T12:00:00+00:00")


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Migrate one empty database for the whole run."""
    path = tmp_path_factory.mktemp("template") / "empty.db"
    Store(sqlite_url(path)).close()
    return path


BACKENDS = ("sqlite", "postgresql")
ON_BOTH = ("store", "scheduler", "test_transcripts.py")
"""Where what a database does is what is tested."""
ON_BOTH_AT_LENGTH = ("handle", "bot")
"""What goes through the same queries; on PostgreSQL when there is time for it."""
THROUGH_THE_SAME = (
    "test_plan.py",
    "test_plan_changes.py",
    "test_replan.py",
    "test_histories.py",
    "test_deliver_wires.py",
    "test_archive.py",
)
"""As well: of the scheduler, what claims, sweeps, settles and prunes always runs on both, and a whole database is moved."""


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run what comes to a database on each kind of it."""
    if "backend" not in metafunc.fixturenames:
        return
    place = metafunc.definition.path.relative_to(Path(__file__).parent).parts[0]
    only = next((b for b in BACKENDS if metafunc.definition.get_closest_marker(b)), None)
    both = place in (*ON_BOTH, *ON_BOTH_AT_LENGTH) and only is None
    at_length = place in ON_BOTH_AT_LENGTH or metafunc.definition.path.name in THROUGH_THE_SAME
    when = (pytest.mark.postgresql, *([pytest.mark.long] if at_length else []))
    twice = [pytest.param("sqlite"), pytest.param("postgresql", marks=when)]
    metafunc.parametrize("backend", twice if both else [only or "sqlite"], indirect=True)


@pytest.fixture
def backend(request: pytest.FixtureRequest) -> str:
    """Name the kind of database that a test runs on."""
    return str(request.param)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """Start one PostgreSQL for all tests of this worker that want one."""
    server = Server()
    yield server
    server.close()


@pytest.fixture(scope="session")
def postgres_template(postgres: Server) -> str:
    """Migrate one empty database on it."""
    name = postgres.create()
    Store(postgres.url(name)).close()
    return name


@pytest.fixture
def database(backend: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[str]:
    """Return the URL of a fresh database."""
    if backend == "postgresql":
        server: Server = request.getfixturevalue("postgres")
        template = request.getfixturevalue("postgres_template")
        name = server.lend(template)
        yield server.url(name)
        server.take_back(name, template)
    else:
        path = tmp_path / "test.db"
        shutil.copy(request.getfixturevalue("template"), path)
        yield sqlite_url(path)


@pytest.fixture
def store(database: str) -> Iterator[Store]:
    """Open a fresh database."""
    opened = Store(database)
    yield opened
    opened.close()


@pytest.fixture(scope="session", autouse=True)
def _statements_are_compiled_once() -> Iterator[None]:
    with shared_statements():
        yield


class Talk:
    """A chat with the bot in a test: say, tap, wait."""

    def __init__(
        self,
        store: Store,
        scenes: Scenes,
        start: datetime = START,
        chat: str = "deck",
        files: Path | None = None,
    ) -> None:
        self._scenes = scenes
        self.store, self.chat, self.now, self.who = store, chat, start, "mara"
        self.replay = Replay(store, start, folder=Folder(files))
        self._runner = asyncio.Runner()

    def has_said(self, *lines: str) -> "Talk":
        """Say what a scene begins with: played once, then copied."""

        def play() -> None:
            for line in lines:
                self.say(line)

        began = self.now
        self._scenes.begin(self.store, (began, self.chat, self.who, lines), play)
        self.now = began + len(lines) * timedelta(minutes=1)
        self.replay.clock.set(self.now)
        return self

    def say(self, text: str) -> Reply:
        """Say something a minute later and return the answer; reminders on the way are dropped."""
        return self._play(text=text)[-1].reply

    def tap(self, label: str) -> Reply:
        """Tap the newest button with that label."""
        return self._play(tap=label)[-1].reply

    def wait(self, **span: float) -> list[Sent]:
        """Let time go by and return the reminders sent."""
        self.now += timedelta(**span)
        return self._runner.run(self.replay.until(self.now))

    def until(self, moment: str) -> list[Sent]:
        """Let time go by until a moment and return the reminders sent."""
        self.now = datetime.fromisoformat(moment)
        return self._runner.run(self.replay.until(self.now))

    def elsewhere(self, chat: str, who: str = "mara") -> "Talk":
        """Return another chat on the same database and clock."""
        other = Talk(self.store, self._scenes, self.now, chat)
        other.replay, other._runner, other.who = self.replay, self._runner, who
        return other

    def close(self) -> None:
        """End the event loop."""
        self._runner.close()

    def _play(self, **said: str) -> list[Sent]:
        self.now += timedelta(minutes=1)
        line = Line.model_validate({"at": self.now, "chat": self.chat, "from": self.who, **said})
        return self._runner.run(self.replay.play(line))


@pytest.fixture(scope="session")
def scenes() -> Scenes:
    """Keep what many tests of this worker begin with."""
    return Scenes()


@pytest.fixture
def talk(store: Store, tmp_path: Path, scenes: Scenes) -> Iterator[Talk]:
    """Open a chat on a fresh database."""
    opened = Talk(store, scenes, files=tmp_path / "sent")
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def data_homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Name a folder of data for each test; none is made."""
    return (tmp_path_factory.getbasetemp() / "data" / str(n) for n in count())


@pytest.fixture(autouse=True)
def _no_surroundings(monkeypatch: pytest.MonkeyPatch, data_homes: Iterator[Path]) -> None:
    """Keep the settings and data of whoever runs the tests out of them."""
    for name in ("RINSETANK_DB", "RINSETANK_ZONE", "RINSETANK_LOG_LEVEL"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(next(data_homes)))
    set_up_logging("ERROR")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """Begin half as many again as there are processors: a good part of a run is waiting for servers and for signs of life."""
    return (
        (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1) * 3 // 2
    )


def pytest_configure() -> None:
    """Put what the tests write where nobody waits for a disk, unless told where; and compile each file once.

    A run starts dozens of processes, each of which would spend seconds on compiling all of the program anew.
    """
    sys.dont_write_bytecode = False
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    if (folder := memory.folder()) is not None:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(folder))


def pytest_collection_finish() -> None:
    """Spare the collector what is there for good: all that was imported, which it would look through again and again."""
    gc.collect()
    gc.freeze()


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch that writes golden transcripts anew."""
    parser.addoption(
        "--rewrite",
        action="store_true",
        help="write golden transcripts anew, to be read before they are kept",
    )
    parser.addoption("--fuzz-seed", type=int, default=1, help="which inputs tests/fuzz tries")
    parser.addoption(
        "--fuzz-inputs", type=int, default=1_000_000, help="how many inputs tests/fuzz tries in all"
    )
    parser.addoption(
        "--fuzz-seconds", type=float, default=0, help="how long tests/fuzz may take; 0: as long as it needs"
    )
