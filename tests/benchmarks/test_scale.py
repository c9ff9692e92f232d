"""A million care tasks beside one scheduler job a reminder: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate.

The rows are those that the program itself plans for ten kits, copied many times by SQL into one SQLite file that the
engine opens as always (write-ahead log, `synchronous=FULL`). The tasks of each kit are cut to its first ten, so that n
lockers hold 10 n tasks, and 1,000 of them, each in a locker of its own spread over the whole file, fall due at one instant.
"""

import math
import sqlite3
import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from apscheduler.executors.base import BaseExecutor
from apscheduler.jobstores.sqlalchemy import SQLAlchemyJobStore
from apscheduler.schedulers.base import BaseScheduler
from sqlalchemy import Engine, create_engine

from scheduler.plan import refresh, replan
from scheduler.sweep import sweep
from scheduler.tick import next_tick
from store import items, lockers, outbox, tasks
from store.catalogue import ItemFacts
from store.engine import Store, sqlite_url
from store.tables import Notice
from store.vocabulary import ItemKind

pytestmark = pytest.mark.benchmark

NOW = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin, the hour of the reminders."""
RIPE = f"{NOW:%Y-%m-%d %H:%M:%S}.000000"
TASKS_A_LOCKER = 10
DUE = 1_000
SIZES = (10_000, 100_000, 1_000_000)
JOBS = (2_500, 5_000, 10_000)
REPEATS = 7
PAST, FUTURE = datetime(2001, 1, 1, tzinfo=UTC), datetime(2999, 1, 1, tzinfo=UTC)
"""Of jobs: their scheduler looks at the clock of the machine, whatever that says."""

KITS = (
    {ItemKind.CYLINDER: {"o2_fraction": 0.5, "region": "US"}, ItemKind.MASK: {}, ItemKind.UNDERSUIT: {}},
    {ItemKind.TWINSET: {"o2_fraction": 0.32}, ItemKind.FINS: {}, ItemKind.HARNESS: {}},
    {ItemKind.REGULATOR: {"o2_fraction": 0.32}, ItemKind.BAG: {}, ItemKind.PRESSURE_GAUGE: {}},
    {ItemKind.DRY_SUIT: {"zip_material": "plastic", "seal_material": "latex"}, ItemKind.STROBE: {}},
    {ItemKind.WETSUIT: {}, ItemKind.DRY_GLOVES: {}, ItemKind.BUOYANCY_DEVICE: {}},
    {ItemKind.REBREATHER: {}},
    {ItemKind.CANISTER_LIGHT: {}, ItemKind.REEL: {}, ItemKind.HEATED_VEST: {}},
    {ItemKind.CAMERA_HOUSING: {}, ItemKind.BOOTS: {}, ItemKind.VIDEO_LIGHT: {}},
    {ItemKind.DIVE_COMPUTER: {}, ItemKind.HOOD: {}, ItemKind.ANALYSER: {}},
    {ItemKind.SCOOTER: {}, ItemKind.HAND_LIGHT: {}, ItemKind.STAGE: {}},
)
"""Each asks for more than ten tasks."""
TEN_ITEMS = KITS[0] | KITS[1] | KITS[2] | {ItemKind.DRY_SUIT: KITS[3][ItemKind.DRY_SUIT]}


def timed(work: Callable[[], object]) -> float:
    """Return milliseconds."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def several(measure: Callable[[], float], repeats: int = REPEATS) -> list[float]:
    return [measure() for _ in range(repeats)]


def slope(sizes: Sequence[int], took: Sequence[float]) -> float:
    """Return the growth exponent: 0 where size does not matter, 1 where it grows in proportion."""
    return statistics.linear_regression([*map(math.log, sizes)], [*map(math.log, took)]).slope


# The rows


def open_locker(store: Store, address: str, kit: dict[ItemKind, dict[str, object]]) -> int:
    """Open a chat with that kit, not planned yet; return its number."""

    def unit(session):
        chat = lockers.open_chat(session, "bench", address, NOW)
        chat.zone = "Europe/Berlin"
        for kind, said in kit.items():
            facts = ItemFacts.model_validate(said)
            items.add(session, chat.locker_id, kind, kind.value, facts=facts, on=NOW.date(), by="mara")
        return lockers.number(chat.id)

    return store.write(unit)


def plan(store: Store, chat_id: int) -> None:
    """Plan the locker of a chat as after a message."""
    store.write(lambda s: refresh(s, lockers.find_chat(s, chat_id), NOW))


def build(path: Path, size: int) -> None:
    """Make a file of that many care tasks."""
    store = Store(sqlite_url(path))
    for n, kit in enumerate(KITS):
        plan(store, open_locker(store, str(n), kit))
    store.close()
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("PRAGMA synchronous=OFF")
        raw.execute("BEGIN")
        raw.execute(
            "DELETE FROM care_task WHERE id IN (SELECT id FROM (SELECT id, row_number() OVER"
            f" (PARTITION BY locker_id ORDER BY id) AS nth FROM care_task) WHERE nth > {TASKS_A_LOCKER})"
        )
        multiply(raw, size // TASKS_A_LOCKER // len(KITS))
        let_fall_due(raw, size // TASKS_A_LOCKER // DUE)
        raw.execute("COMMIT")
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        counts = ("SELECT count(*) FROM care_task", "SELECT count(*) FROM locker")
        assert [raw.execute(q).fetchone()[0] for q in counts] == [size, size // TASKS_A_LOCKER]
        assert len(ripe(raw)) == DUE


def multiply(raw: sqlite3.Connection, copies: int) -> None:
    """Copy every locker with what is in it; the dates of copies are spread over a year, and three in ten have none."""
    tables = ("locker", "chat", "item", "care_task")
    step = {t: raw.execute(f"SELECT max(id) FROM {t}").fetchone()[0] for t in tables}
    on = f"CASE WHEN (n + id) % 10 > 2 THEN date('{NOW.date()}', '+' || (1 + (n * 7919 + id * 37) % 365) || ' days') END"
    changed = {
        "locker_id": f"n * {step['locker']} + locker_id",
        "item_id": f"n * {step['item']} + item_id",
        "address": "address || '-' || n",
        "due_on": on,
        "notify_at": f"({on}) || ' 16:00:00.000000'",
    }
    for table in tables:
        names = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
        values = ", ".join((changed | {"id": f"n * {step[table]} + id"}).get(n, f'"{n}"') for n in names)
        raw.execute(f"CREATE TEMP TABLE first AS SELECT * FROM {table}")
        raw.execute(f"DELETE FROM {table}")
        raw.execute(
            f"WITH RECURSIVE copy(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM copy WHERE n < {copies - 1})"
            f" INSERT INTO main.{table} SELECT {values} FROM copy CROSS JOIN first"
        )
        raw.execute("DROP TABLE temp.first")


def let_fall_due(raw: sqlite3.Connection, every: int) -> None:
    """Let one task of every so many lockers fall due: the first of one, the second of the next."""
    raw.execute(
        "UPDATE care_task SET due_on = ?, notify_at = ? WHERE id IN (SELECT id FROM (SELECT id, locker_id, row_number()"
        f" OVER (PARTITION BY locker_id ORDER BY id) AS nth FROM care_task WHERE locker_id % {every} = 0)"
        f" WHERE nth = 1 + locker_id / {every} % {TASKS_A_LOCKER})",
        (NOW.date().isoformat(), RIPE),
    )


def ripe(raw: sqlite3.Connection) -> list[tuple]:
    """Read the due tasks bare: what any sweep has to do at least."""
    query = "SELECT id, locker_id, item_id, part, rule, due_on, told FROM care_task WHERE notify_at <= ? ORDER BY notify_at, id LIMIT ?"
    return raw.execute(query, (RIPE, DUE)).fetchall()


# Ours


class Ours:
    """The program on a file of so many tasks."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.raw = sqlite3.connect(path, isolation_level=None)
        self.due = [(RIPE, row[0]) for row in ripe(self.raw)]
        self.store = Store(sqlite_url(path))

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
            opened.append(Store(sqlite_url(self.path)))
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
        a_task = [took / counts[0] for took in planned]
        return a_task[1 : REPEATS + 1], a_task[REPEATS + 2 :]


def lockers_of(raw: sqlite3.Connection, chats: list[int]) -> list[int]:
    return [raw.execute("SELECT locker_id FROM chat WHERE id = ?", (chat,)).fetchone()[0] for chat in chats]


@contextmanager
def ours(folder: Path, size: int) -> Iterator[Ours]:
    path = folder / f"{size}.db"
    build(path, size)
    opened = Ours(path)
    try:
        yield opened
    finally:
        opened.close()
        for file in folder.glob(f"{path.name}*"):
            file.unlink()


# One job a reminder


class Nothing(BaseExecutor):
    """Says at once that a job was done."""

    def __init__(self) -> None:
        super().__init__()
        self.done: list[str] = []

    def submit_job(self, job, run_times):
        self.done.append(job.id)

    def _do_submit_job(self, job, run_times):
        raise NotImplementedError


class ByHand(BaseScheduler):
    """Looks for due jobs when it is told to, without a thread or a timer of its own."""

    def wakeup(self):
        pass

    def shutdown(self, wait=True):
        super().shutdown(wait)


def remind(reminder: int) -> None:
    """Stand for a reminder; it is never called."""


class Jobs:
    """APScheduler with its SQL store on a SQLite file, one dated job a reminder. Each is added in a transaction of its own.

    A tick reads the due jobs, unpickles them, hands each to an executor that does nothing, and removes each.
    """

    def __init__(self, engine: Engine) -> None:
        self.nothing = Nothing()
        self.alarm = ByHand(
            jobstores={"default": SQLAlchemyJobStore(engine=engine)},
            executors={"default": self.nothing},
            job_defaults={"misfire_grace_time": None, "coalesce": True},
            timezone=UTC,
        )
        self.alarm.start()
        self.count = 0

    def add(self, count: int, at: datetime) -> float:
        """Add jobs one by one, as reminders are set; return the milliseconds a job."""
        numbers = range(self.count, self.count + count)
        self.count += count
        return timed(lambda: [self._add(n, at + timedelta(minutes=n)) for n in numbers]) / count

    def _add(self, n: int, at: datetime) -> None:
        self.alarm.add_job(remind, "date", run_date=at, args=[n], id=f"reminder {n}")

    def tick(self) -> float:
        """Return the milliseconds of one look at the store with 1,000 jobs due, which are submitted and removed."""
        self.nothing.done.clear()
        took = timed(self.alarm._process_jobs)
        assert len(self.nothing.done) == len(set(self.nothing.done)) == DUE
        return took


# The comparison

OURS = (
    "sweep to claimed notices, 1,000 due: ms",
    "bare indexed read of those rows: ms",
    "bare durable write of those rows: ms",
    "peak memory of that sweep: MB",
    "first plan of ten items: ms a task",
    "the same plan again: ms a task",
    "open the file and find the next tick: ms",
    "see that all lockers are planned: ms",
)
THEIRS = ("tick, 1,000 due that do nothing: ms", "add: ms a job")
Runs = list[list[float]]
"""What each row of the table took, run by run."""


def measure_ours(folder: Path, size: int) -> Runs:
    with ours(folder, size) as file:
        file.firing()  # a first run, so that statements are compiled
        fired, written = several(file.firing), several(file.writing, 3)
        read = several(lambda: timed(lambda: ripe(file.raw)))
        started, checked = several(file.starting), several(file.checking)
        return [fired, read, written, [file.peak()], *file.planning(), started, checked]


def measure_theirs(engine: Engine) -> list[Runs]:
    jobs = Jobs(engine)
    found = []
    for size, before in zip(JOBS, (DUE, *JOBS), strict=False):
        jobs.add(size - before, FUTURE)
        runs = [(jobs.add(DUE, PAST), jobs.tick()) for _ in range(3)]
        found.append([[tick for _, tick in runs], [added for added, _ in runs]])
    jobs.alarm.shutdown()
    engine.dispose()
    return found


def show(title: str, names: Sequence[str], sizes: Sequence[int], columns: Sequence[Runs]) -> None:
    """Print the median of each row and, in brackets, the best run; the exponent is that of the best runs."""
    print(f"\n{title:44}" + "".join(f"{size:>20,}" for size in sizes) + f"{'exponent':>12}")
    for name, *row in zip(names, *columns, strict=True):
        cells = (f"{statistics.median(runs):.3f} ({min(runs):.3f})" for runs in row)
        exponent = slope(sizes, [min(runs) for runs in row])
        print(f"{name:44}" + "".join(f"{cell:>20}" for cell in cells) + f"{exponent:>12.2f}")


def compare(name: str, theirs: Runs, small: list[float], big: list[float]) -> None:
    tick, added = map(statistics.median, theirs)
    print(
        f"{name}: firing is {tick / small[0]:.1f} x, a first plan {added / small[4]:.1f} x, a plan again"
        f" {added / small[5]:.1f} x cheaper at {JOBS[-1]:,} of both; ours at {SIZES[-1]:,} against theirs at"
        f" {JOBS[-1]:,}: {tick / big[0]:.1f} x, {added / big[4]:.1f} x, {added / big[5]:.1f} x"
    )


def test_million_tasks_beside_a_job_a_reminder(tmp_path):
    mine = [measure_ours(tmp_path, size) for size in SIZES]
    as_shipped = measure_theirs(create_engine(f"sqlite:///{tmp_path / 'shipped.db'}"))
    store = Store(sqlite_url(tmp_path / "tuned.db"))
    tuned = measure_theirs(store._reader)
    store.close()
    show("care tasks", OURS, SIZES, mine)
    show("APScheduler, SQLite as it opens it", THEIRS, JOBS, as_shipped)
    show("APScheduler, SQLite as our engine opens it", THEIRS, JOBS, tuned)
    small, big = ([statistics.median(runs) for runs in column] for column in (mine[0], mine[-1]))
    fired, read, written, peak, *_, started, checked = big
    print(
        f"\nat {SIZES[-1]:,}: a sweep takes {fired / read:.0f} x the bare read and {fired / written:.1f} x the bare write,"
        f" a start {started / read:.1f} x and the check {checked / read:.1f} x the bare read;"
        f" its memory is {peak / small[3]:.2f} x that at {SIZES[0]:,}"
    )
    compare("APScheduler as shipped", as_shipped[-1], small, big)
    compare("APScheduler as our engine opens SQLite", tuned[-1], small, big)
