"""Pruning beside a writer, with a million ids of updates: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate."""

import sqlite3
import statistics
import threading
import time
import tracemalloc
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from scheduler.prune import Keep, prune
from store.engine import Store, sqlite_url
from store.exchange.backup import back_up, file_of
from store.lockers import seen
from tests.benchmarks.measure import Place, of, percentile, timed

pytestmark = pytest.mark.benchmark

NOW = datetime(2026, 6, 10, 12, tzinfo=UTC)
DAY = timedelta(days=1)
KEEP = Keep(updates=30 * DAY, notices=None, journal=None, files=None)
OLD, SIZES = 20_000, (10_000, 100_000, 1_000_000)


def filled(path, rows) -> Store:
    """Return a store with so many ids of updates, of which `OLD` at most are too old."""
    store = Store(sqlite_url(path))
    with closing(sqlite3.connect(path, isolation_level=None)) as fast:
        fast.execute("BEGIN")
        old, new = (f"{NOW - days * DAY:%Y-%m-%d %H:%M:%S}.000000" for days in (31, 1))
        fast.executemany(
            "INSERT INTO seen_update VALUES ('telegram', ?, ?)",
            ((str(n), old if n < OLD else new) for n in range(rows)),
        )
        fast.execute("COMMIT")
    return store


@contextmanager
def writing(store: Store) -> Iterator[list[float]]:
    """Write on and on meanwhile, and note the milliseconds of each."""
    took, over = [], threading.Event()

    def write_on():
        while not over.is_set():
            took.append(write(store, f"beside{len(took)}"))
            time.sleep(0.002)

    writer = threading.Thread(target=write_on)
    writer.start()
    try:
        yield took
    finally:
        over.set()
        writer.join()


def write(store: Store, update_id: str) -> float:
    return timed(lambda: store.write(lambda s: seen(s, "telegram", update_id, NOW)))


def test_pruning_beside_a_writer(table, tmp_path):
    for size in SIZES:
        with closing(filled(tmp_path / f"{size}.db", size)) as store:
            alone, gone = [write(store, f"alone{n}") for n in range(200)], []
            with writing(store) as beside:
                took = timed(lambda gone=gone: gone.append(prune(store, KEEP, NOW)["updates"]))
            again = timed(lambda: prune(store, KEEP, NOW))
            tracemalloc.start()
            calls = count()
            prune(store, KEEP, NOW + 30 * DAY, lambda calls=calls: next(calls) > 20)
            peak = tracemalloc.get_traced_memory()[1] / 1e6
            tracemalloc.stop()
            table.row(
                Place.BESIDE,
                f"a write while {gone[0]:,} of {size:,} rows are pruned",
                f"{of(beside)}; pruned in {took / 1000:.1f} s, nothing to prune {again:.0f} ms, peak {peak:.1f} MB",
                f"a write alone {of(alone)}",
                f"{statistics.median(beside) / statistics.median(alone):.1f} x,"
                f" p99 {percentile(beside, 0.99) / percentile(alone, 0.99):.1f} x",
            )
            assert gone == [min(OLD, size)]


def test_backup_of_a_million_rows_beside_a_writer(table, tmp_path):
    copies = []
    with closing(filled(tmp_path / "kit.db", SIZES[-1])) as store:
        with writing(store) as waits:
            took = timed(lambda: copies.append(back_up(store.url, tmp_path / "copy.db", NOW)))
        raw = timed(lambda: (tmp_path / "raw.db").write_bytes(file_of(store.url).read_bytes()))
    table.row(
        Place.BESIDE,
        f"a backup of {copies[0].size_bytes / 1e6:.0f} MB, looked at, beside a writer",
        f"{took / 1000:.1f} s; writes meanwhile {of(waits)}",
        f"a plain copy {raw / 1000:.2f} s",
        f"{took / raw:.0f} x",
    )
