"""Pruning beside a writer, with a million ids of updates: `pytest tests/benchmarks -m benchmark -s -n 0`. Never a gate."""

import sqlite3
import statistics
import threading
import time
import tracemalloc
from contextlib import closing
from datetime import UTC, datetime, timedelta
from itertools import count

import pytest

from scheduler.prune import Keep, prune
from store.engine import Store, sqlite_url
from store.exchange.backup import back_up, file_of
from store.lockers import seen

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


def test_pruning_beside_a_writer(tmp_path):
    for rows in SIZES:
        store = filled(tmp_path / f"{rows}.db", rows)
        alone = [_write(store, f"alone{n}") for n in range(200)]
        beside, over = [], threading.Event()

        def write_on(store=store, over=over, beside=beside):
            while not over.is_set():
                beside.append(_write(store, f"beside{len(beside)}"))
                time.sleep(0.002)

        writer = threading.Thread(target=write_on)
        writer.start()
        began = time.perf_counter()
        gone = prune(store, KEEP, NOW)["updates"]
        took = time.perf_counter() - began
        over.set()
        writer.join()
        began = time.perf_counter()
        prune(store, KEEP, NOW)
        again = time.perf_counter() - began
        tracemalloc.start()
        calls = count()
        prune(store, KEEP, NOW + 30 * DAY, lambda calls=calls: next(calls) > 20)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
        tracemalloc.stop()
        acts = statistics.median(_write(store, f"after{n}") for n in range(200))
        print(
            f"\n{rows:>9} rows: {gone} dropped in {took:.2f} s, nothing to drop {again * 1000:.0f} ms, peak {peak:.2f} MB; "
            f"a write alone {statistics.median(alone):.2f} ms, beside it {statistics.median(beside):.2f} ms "
            f"(p99 {sorted(beside)[int(len(beside) * 0.99)]:.1f} ms of {len(beside)}), after it {acts:.2f} ms"
        )
        assert gone == min(OLD, rows)
        store.close()


def test_backup_of_a_million_rows_beside_a_writer(tmp_path):
    store = filled(tmp_path / "kit.db", 1_000_000)
    waits, over = [], threading.Event()

    def write_on():
        while not over.is_set():
            waits.append(_write(store, f"beside{len(waits)}"))
            time.sleep(0.002)

    writer = threading.Thread(target=write_on)
    writer.start()
    began = time.perf_counter()
    copy = back_up(store.url, tmp_path / "copy.db", NOW)
    took = time.perf_counter() - began
    over.set()
    writer.join()
    began = time.perf_counter()
    (tmp_path / "raw.db").write_bytes(file_of(store.url).read_bytes())
    raw = time.perf_counter() - began
    print(
        f"\n{copy.size_bytes / 1e6:.0f} MB copied and looked at in {took:.2f} s ({took / raw:.0f} x a plain copy); "
        f"writes meanwhile: median {statistics.median(waits):.2f} ms, p99 {sorted(waits)[int(len(waits) * 0.99)]:.1f} ms"
    )
    store.close()


def _write(store: Store, update_id: str) -> float:
    began = time.perf_counter()
    store.write(lambda s: seen(s, "telegram", update_id, NOW))
    return (time.perf_counter() - began) * 1000
