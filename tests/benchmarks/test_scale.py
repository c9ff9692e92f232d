"""A million care tasks beside one scheduler job a reminder: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate.

n lockers hold 10 n tasks, and 1,000 of them, each in a locker of its own spread over the whole file, fall due at one
instant; the engine opens the file as always (write-ahead log, `synchronous=FULL`).
"""

import sqlite3
import statistics
import tracemalloc
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Engine, create_engine

from scheduler.plan import replan
from scheduler.sweep import sweep
from scheduler.tick import next_tick
from store import outbox, tasks
from store.engine import Store, sqlite_url
from store.tables import Notice
from tests.benchmarks.jobs import FUTURE, PAST, Jobs
from tests.benchmarks.measure import Place, several, slope, timed
from tests.benchmarks.rows import DUE, NOW, RIPE, TASKS_A_LOCKER, TEN_ITEMS, Bare, open_locker, plan, ripe

pytestmark = pytest.mark.benchmark
SIZES = (1_000, 10_000, 100_000)
"""Lockers."""
JOBS = (2_500, 5_000, 10_000)
REPEATS = 7


class Ours:
    """The program on a file of so many tasks."""

    def __init__(self, path: Path) -> None:
        self.url = sqlite_url(path)
        self.bare = Bare(self.url)
        self.raw = self.bare.raw
        self.due = [(RIPE, row[0]) for row in ripe(self.bare)]
        self.store = Store(self.url)
        self.tasks_of_ten = 0
        """Tasks that the plan of ten items has, known once it was made."""

    def close(self) -> None:
        self.store.close()
        self.raw.close()

    def rewind(self) -> None:
        """Let the same tasks be due again, and leave the log empty for the next run."""
        self.raw.execute("BEGIN IMMEDIATE")
        self.raw.execute("DELETE FROM notice")
        self.raw.executemany("UPDATE care_task SET told = NULL, notify_at = ? WHERE id = ?", self.due)
        self.raw.execute("COMMIT")
        self.raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def fire(self) -> dict[int, list[Notice]]:
        """Sweep, and claim for every chat: two units of work, both on disk when it returns."""
        assert self.store.write(lambda s: sweep(s, NOW)) == DUE
        return self.store.write(lambda s: outbox.claim(s, NOW, DUE, ("bench",)))

    def firing(self) -> float:
        """Return the milliseconds of one sweep to claimed notices; each is claimed once."""
        claimed: list[dict[int, list[Notice]]] = []
        took = timed(lambda: claimed.append(self.fire()))
        keys = [notice.key for notices in claimed[0].values() for notice in notices]
        assert (len(keys), len(set(keys)), len(claimed[0])) == (DUE, DUE, DUE)
        assert self.store.write(lambda s: (sweep(s, NOW), outbox.claim(s, NOW, DUE, ("bench",)))) == (0, {})
        self.rewind()
        return took

    def peak(self) -> float:
        """Return the megabytes that Python held at most during one firing, above what it held before."""
        tracemalloc.start()
        try:
            self.fire()
            return tracemalloc.get_traced_memory()[1] / 1e6
        finally:
            tracemalloc.stop()
            self.rewind()

    def writing(self) -> float:
        """Return the milliseconds of a bare durable write of what one firing writes: the floor for any sweep."""
        self.fire()
        self.raw.execute("CREATE TEMP TABLE kept AS SELECT * FROM notice")
        query = "SELECT told, notify_at, id FROM care_task WHERE id = ?"
        told = [self.raw.execute(query, (task,)).fetchone() for _, task in self.due]
        self.rewind()

        def write() -> None:
            self.raw.execute("BEGIN IMMEDIATE")
            self.raw.execute("INSERT INTO main.notice SELECT * FROM temp.kept")
            self.raw.executemany("UPDATE care_task SET told = ?, notify_at = ? WHERE id = ?", told)
            self.raw.execute("COMMIT")

        took = timed(write)
        self.raw.execute("DROP TABLE temp.kept")
        self.rewind()
        return took

    def starting(self) -> float:
        """Return the milliseconds from a closed file to knowing when there is work next."""
        opened: list[Store] = []

        def start() -> None:
            opened.append(Store(self.url))
            assert opened[0].read(next_tick) == NOW

        took = timed(start)
        opened[0].close()
        return took

    def checking(self) -> float:
        """Return the milliseconds it takes to see that every locker was planned by today's rules."""
        found: list[int] = []
        took = timed(lambda: found.append(self.store.write(lambda s: replan(s, NOW, 50))))
        assert found == [0]
        return took

    def planning(self) -> tuple[list[float], list[float]]:
        """Return the milliseconds a task of the first plan of ten items, and of the same plan again."""
        chats = [open_locker(self.store, f"new {n}", TEN_ITEMS) for n in range(REPEATS + 1)]
        planned = [timed(lambda c=c: plan(self.store, c)) for c in chats + chats]
        counts = [
            len(self.store.read(lambda s, c=c: tasks.of_locker(s, c))) for c in lockers_of(self.raw, chats)
        ]
        assert min(counts) == max(counts) > TASKS_A_LOCKER
        self.tasks_of_ten = counts[0]
        a_task = [took / counts[0] for took in planned]
        return a_task[1 : REPEATS + 1], a_task[REPEATS + 2 :]


def lockers_of(raw: sqlite3.Connection, chats: list[int]) -> list[int]:
    return [raw.execute("SELECT locker_id FROM chat WHERE id = ?", (chat,)).fetchone()[0] for chat in chats]


Runs = list[list[float]]
"""What each measure took, run by run."""


def measure_ours(path: Path) -> Runs:
    with closing(Ours(path)) as file:
        file.firing()  # a first run, so that statements are compiled
        fired, written = several(file.firing), several(file.writing, 3)
        read = several(lambda: timed(lambda: ripe(file.bare)))
        started, checked = several(file.starting), several(file.checking)
        return [fired, read, written, [file.peak()], *file.planning(), started, checked, [file.tasks_of_ten]]


def measure_theirs(engine: Engine) -> tuple[float, float]:
    """Return the median milliseconds of adding a job, and of a tick with 1,000 due, at the most jobs."""
    jobs = Jobs(engine)
    for size, before in zip(JOBS, (DUE, *JOBS), strict=False):
        jobs.add(size - before, FUTURE)
        runs = [(jobs.add(DUE, PAST), jobs.tick()) for _ in range(3)]
        print(f"\n{size} jobs: add, tick in ms: {runs}")
    jobs.alarm.shutdown()
    engine.dispose()
    return tuple(statistics.median(column) for column in zip(*runs, strict=True))


def test_million_tasks_beside_a_job_a_reminder(table, file_of_size, tmp_path):
    runs = [measure_ours(file_of_size(size)) for size in SIZES]
    small, middle, big = ([statistics.median(one) for one in column] for column in runs)
    fired, read, written, peak, first, again, _, _, planned = big
    table.row(
        Place.SWEEP,
        f"a sweep of {SIZES[-1] * TASKS_A_LOCKER:,} tasks of {SIZES[-1]:,} lockers, {DUE:,} due, to claimed notices, SQLite",
        f"median {fired:.0f} ms, best {min(runs[-1][0]):.0f} ms",
        f"bare indexed read {read:.1f} ms, bare durable write of the same rows {written:.0f} ms",
        f"{fired / read:.0f} x the read, {fired / written:.1f} x the write",
        goal="under 100 ms",
        met=fired < 100,
    )
    table.row(
        Place.SWEEP,
        "the memory of that sweep",
        f"{peak:.1f} MB",
        f"{small[3]:.1f} MB at {SIZES[0] * TASKS_A_LOCKER:,} tasks",
        f"{peak / small[3]:.2f} x",
        goal="flat",
        met=peak < small[3] * 1.2,
    )
    assert peak < small[3] * 1.5
    shipped = measure_theirs(create_engine(f"sqlite:///{tmp_path / 'shipped.db'}"))
    with closing(Store(sqlite_url(tmp_path / "tuned.db"))) as store:
        tuned = measure_theirs(store._reader)
    for what, ours, theirs, like_ours in (
        (
            f"planning ten items with {planned:.0f} tasks, a task, at {SIZES[-1]:,} lockers: ms",
            first,
            shipped[0],
            tuned[0],
        ),
        ("the same plan again, a task: ms", again, shipped[0], tuned[0]),
        (f"firing {DUE:,}, at {SIZES[-1]:,} lockers: ms", fired, shipped[1], tuned[1]),
    ):
        table.row(
            Place.JOBS,
            what,
            f"{ours:.2f}",
            f"one job a reminder, {JOBS[-1]:,} of them: {theirs:.2f} as shipped, {like_ours:.2f} opened as we open it",
            f"{theirs / ours:.1f} x cheaper, {like_ours / ours:.1f} x",
            goal="at least 10 x cheaper",
            met=theirs / ours >= 10,
        )
    sizes = [size * TASKS_A_LOCKER for size in SIZES]
    for nth, what in (
        (0, "a sweep, 1,000 due: ms"),
        (4, "a first plan, a task: ms"),
        (6, "open the file and find the next tick: ms"),
        (7, "see that all lockers are planned by today's rules: ms"),
    ):
        three = small[nth], middle[nth], big[nth]
        table.row(
            Place.GROWTH,
            f"{what}, at {' / '.join(f'{size:,}' for size in sizes)} tasks",
            " / ".join(f"{ms:.2f}" for ms in three),
            f"{three[0]:.2f} at {sizes[0]:,}",
            f"{three[-1] / three[0]:.1f} x, exponent {slope(sizes, three):.2f}",
        )
