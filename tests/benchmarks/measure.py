"""What the benchmarks share: how they time, what a bare commit takes, and the table that is printed at the end."""

import json
import math
import sqlite3
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path

import psycopg


def timed(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return milliseconds."""
    start = clock()
    work()
    return (clock() - start) * 1000


def several(measure: Callable[[], float], repeats: int = 7) -> list[float]:
    return [measure() for _ in range(repeats)]


def percentile(values: Sequence[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def of(values: Sequence[float]) -> str:
    """Say how long things took, given in milliseconds."""
    return f"median {statistics.median(values):.1f} ms, p99 {percentile(values, 0.99):.1f} ms"


def slope(sizes: Sequence[float], took: Sequence[float]) -> float:
    """Return the growth exponent: 0 where size does not matter, 1 where it grows in proportion."""
    return statistics.linear_regression([*map(math.log, sizes)], [*map(math.log, took)]).slope


def file_commits(folder: Path, count: int = 300) -> list[float]:
    """Return what bare commits take to a SQLite file that is opened as the engine does."""
    with closing(sqlite3.connect(folder / "raw.db", isolation_level=None)) as raw:
        for told in (
            "PRAGMA journal_mode=WAL",
            "PRAGMA synchronous=FULL",
            "CREATE TABLE IF NOT EXISTS t (a)",
        ):
            raw.execute(told)
        return several(lambda: timed(lambda: raw.execute("INSERT INTO t VALUES (1)")), count)


def server_commits(conninfo: str, count: int = 300) -> list[float]:
    """Return what bare commits to a PostgreSQL database take over one connection."""
    with psycopg.connect(conninfo, autocommit=True) as bare:
        bare.execute("CREATE TABLE raw (a int)")
        took = several(lambda: timed(lambda: bare.execute("INSERT INTO raw VALUES (1)")), count)
        bare.execute("DROP TABLE raw")
    return took


@dataclass(frozen=True)
class Talked:
    """What a process of `talker` told of itself. `took`: milliseconds of each message."""

    took: list[float]
    repeated: int
    rss_mb: float


def talkers(jobs: Sequence[dict[str, object]]) -> tuple[float, list[Talked]]:
    """Run a process for each job, let all talk at once, and return the seconds until the last had done, and what each tells."""
    runs = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.benchmarks.talker", json.dumps(job)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for job in jobs
    ]
    try:
        for run in runs:
            assert run.stdout.readline() == "ready\n"
        begun = time.perf_counter()
        for run in runs:
            run.stdin.write("go\n")
            run.stdin.flush()
        told = [Talked(**json.loads(run.stdout.readline())) for run in runs]
        return time.perf_counter() - begun, told
    finally:
        for run in runs:
            run.communicate(timeout=30)


class Place(IntEnum):
    """Where a row stands in the table."""

    MESSAGE = 1
    MESSAGE_ON_SERVER = 2
    SWEEP = 3
    JOBS = 4
    SWEEP_ON_SERVER = 5
    DELIVERY = 6
    START = 7
    GROWTH = 8
    REPLICAS = 9
    BESIDE = 10


@dataclass(frozen=True)
class Row:
    """One row; `met` None where there is no goal."""

    place: Place
    what: str
    measured: str
    baseline: str
    ratio: str
    goal: str
    met: bool | None


class Table:
    """The rows of all benchmarks of a run."""

    def __init__(self) -> None:
        self.rows: list[Row] = []

    def row(
        self,
        place: Place,
        what: str,
        measured: str,
        baseline: str = "",
        ratio: str = "",
        *,
        goal: str = "",
        met: bool | None = None,
    ) -> None:
        """Add a row. A goal that is missed is told, never a failure: the machine may be busy."""
        self.rows.append(Row(place, what, measured, baseline, ratio, goal, met))
        print(f"\n{what}: {measured} | {baseline} | {ratio}")

    def lines(self) -> list[str]:
        """Return it as Markdown: what has a goal first, in the order of the goals."""
        heads = ("what", "goal", "measured", "baseline, same run", "ratio", "met")
        found = [f"| {' | '.join(heads)} |", "|" + "---|" * len(heads)]
        for row in sorted(self.rows, key=lambda r: r.place):
            met = {None: "", True: "yes", False: "no"}[row.met]
            found.append(
                f"| {row.what} | {row.goal} | {row.measured} | {row.baseline} | {row.ratio} | {met} |"
            )
        return found
