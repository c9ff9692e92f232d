"""Who delivers: one process at a time, and another within ten seconds once it is gone. Real processes, really killed."""

import queue
import signal
import subprocess
import sys
import threading
import time
from contextlib import closing

import psycopg
import pytest

from store import helm
from store.helm import Helm
from tests.postgres import name_of

WATCHER = """
import sys, time
from store.helm import Helm
helm, was = Helm(sys.argv[1], print), False
print("begun", time.monotonic(), flush=True)
while True:
    held = helm.held
    if held != was:
        print("held" if held else "lost", time.monotonic(), flush=True)
        was = held
    time.sleep(0.002)
"""
WITHIN_S = 10


class Process:
    """A process that asks for the helm and says when it has it and when it has not."""

    def __init__(self, url):
        self._run = subprocess.Popen([sys.executable, "-c", WATCHER, url], stdout=subprocess.PIPE, text=True)
        self._heard = queue.Queue()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self):
        for line in self._run.stdout:
            word, at = line.split()
            self._heard.put((word, float(at)))

    def says(self, word, within_s=120):
        """Return when it said so."""
        said, at = self._heard.get(timeout=within_s)
        assert said == word
        return at

    def is_silent(self, for_s):
        try:
            return self._heard.get(timeout=for_s) is None
        except queue.Empty:
            return True

    def signal(self, which):
        self._run.send_signal(which)

    def close(self):
        self._run.kill()
        self._run.wait()
        self._run.stdout.close()


@pytest.fixture
def begin(database):
    """Return a function that starts a process on the database."""
    started = []

    def run():
        started.append(Process(database))
        started[-1].says("begun")
        return started[-1]

    yield run
    for process in started:
        process.close()


def test_first_has_the_helm_and_the_second_has_not(begin):
    first = begin()
    first.says("held")
    assert begin().is_silent(1.5)
    assert first.is_silent(0.1)


def test_helm_moves_when_its_holder_is_killed(begin):
    first = begin()
    first.says("held")
    second = begin()
    assert second.is_silent(1.5)
    killed_at = time.monotonic()
    first.signal(signal.SIGKILL)
    took_s = second.says("held", WITHIN_S) - killed_at
    print(f"\nthe helm moved {took_s:.2f} s after the kill")
    assert took_s < WITHIN_S


def test_helm_that_was_let_go_of_is_had_by_the_next(database):
    helm = Helm(database, lambda _: None)
    _until(lambda: helm.held)
    helm.close()
    assert not helm.held
    with closing(Helm(database, lambda _: None)) as other:
        _until(lambda: other.held)


@pytest.mark.postgresql
def test_holder_whose_connection_breaks_stops_before_another_begins(begin, postgres, database):
    first = begin()
    first.says("held")
    second = begin()
    assert second.is_silent(1)
    holder = "SELECT pg_terminate_backend(pid) FROM pg_locks WHERE locktype = 'advisory' AND granted"
    with psycopg.connect(postgres.conninfo(name_of(database)), autocommit=True) as raw:
        assert raw.execute(holder).fetchall() == [(True,)]
    lost_at = first.says("lost", WITHIN_S)
    taken_at = _first_of(first, second)
    assert lost_at < taken_at < lost_at + WITHIN_S


def _first_of(*processes):
    """Return when one of several processes said that it holds the helm; no other may."""
    said = []
    _until(lambda: said.extend(p.says("held", 0) for p in processes if not p._heard.empty()) or said)
    assert all(p.is_silent(1.5) for p in processes)
    (at,) = said
    return at


@pytest.mark.postgresql
def test_frozen_holder_is_relieved_and_knows_it_when_it_wakes(begin):
    first = begin()
    first.says("held")
    second = begin()
    assert second.is_silent(1)
    frozen_at = time.monotonic()
    first.signal(signal.SIGSTOP)
    taken_at = second.says("held", WITHIN_S)
    print(f"\nthe helm moved {taken_at - frozen_at:.2f} s after its holder froze")
    assert frozen_at + helm.LOSE_S < taken_at < frozen_at + WITHIN_S
    first.signal(signal.SIGCONT)
    first.says("lost", 5)
    assert first.is_silent(2)


@pytest.mark.postgresql
def test_holder_hears_a_ring_at_once_and_nobody_else_does(database):
    heard = [queue.Queue(), queue.Queue()]
    with closing(Helm(database, heard[0].put)) as holder:
        _until(lambda: holder.held)
        with closing(Helm(database, heard[1].put)) as other:
            took = []
            for n in range(20):
                start = time.monotonic()
                other.ring(f"wire {n}")
                assert heard[0].get(timeout=5) == f"wire {n}"
                took.append(time.monotonic() - start)
    print(f"\na ring was heard after {sorted(took)[10] * 1000:.1f} ms, the slowest {max(took) * 1000:.1f} ms")
    assert sorted(took)[10] < helm.BEAT_S / 2
    assert heard[1].empty()


@pytest.mark.postgresql
def test_ring_without_a_server_is_let_go(postgres):
    with closing(Helm(postgres.url_by_port("kit", port=9), lambda _: None)) as alone:
        alone.ring("wire")
        assert not alone.held


def _until(found, within_s=WITHIN_S):
    end = time.monotonic() + within_s
    while not found():
        assert time.monotonic() < end
        time.sleep(0.01)
