"""Ratios against a baseline measured in the same run: `pytest tests/benchmarks -m benchmark -s -n 0`. Off by default, never a gate."""

import json
import sqlite3
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest

from bot.advice.answer import answer
from bot.conversation import Conversation, Update
from bot.understand.intents import Ask
from bot.understand.reader import understand_question
from scheduler.sweep import sweep
from tests.conftest import START

pytestmark = pytest.mark.benchmark
CORPORA = Path(__file__).parent.parent / "corpora"
QUESTIONS = [
    json.loads(line)["question"]
    for name in ("first", "second", "third", "hard", "kit", "fourth")
    for line in (CORPORA / f"questions_{name}.jsonl").read_text(encoding="utf-8").splitlines()
]
DAY = (
    "2 dives today, salt, 30 m, 45 min each",
    "what do I put on the neck ring?",
    "what is due?",
    "brushed the zip",
    "can I use silicone on my reg?",
    "undo",
)


def timed(work: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """Return milliseconds."""
    start = clock()
    work()
    return (clock() - start) * 1000


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(len(values) * share))]


def ask(question: str) -> None:
    intent = understand_question(question, START.date())
    if isinstance(intent, Ask):
        answer(intent.question).as_data(question)


def test_thousand_questions_in_one_process():
    thousand = (QUESTIONS * 2)[:1000]
    ask(thousand[0])
    cold = [timed(lambda q=q: ask(q), time.process_time) for q in thousand]
    base = [timed(lambda q=q: json.loads(json.dumps({"q": q.split()})), time.process_time) for q in thousand]
    median = statistics.median(cold)
    print(
        f"\nask: median {median:.2f} ms of CPU, p99 {percentile(cold, 0.99):.2f} ms; {median / statistics.median(base):.0f} x a JSON round trip of the words"
    )


def test_start_to_first_answer():
    tool = Path(sys.executable).parent / "rinsetank"
    ours = [
        timed(
            lambda: subprocess.run(
                [tool, "ask", "what goes on the neck ring?"], capture_output=True, check=True
            )
        )
        for _ in range(7)
    ]
    bare = [timed(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True)) for _ in range(7)]
    print(
        f"\nstart to first answer: {statistics.median(ours):.0f} ms, {statistics.median(ours) / statistics.median(bare):.1f} x a bare interpreter"
    )


def test_message_through_the_pipeline(store, tmp_path):
    talk = Conversation(store, iter(map(str, range(10**9))).__next__)
    at = START
    for line in (
        "add dry suit, plastic zip, latex seals",
        "add twinset 32%",
        "add regulator set 32%",
        "add canister light",
        "add scooter",
    ):
        talk.take(Update("bench", "deck", "mara", at, text=line))
    took: list[float] = []
    for n in range(600):
        at += timedelta(minutes=1)
        update = Update("bench", "deck", "mara", at, text=DAY[n % len(DAY)])
        took.append(timed(lambda u=update: talk.take(u)))
    raw = sqlite3.connect(tmp_path / "raw.db", isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL"):
        raw.execute(f"PRAGMA {pragma}")
    raw.execute("CREATE TABLE t (a)")
    commits = [timed(lambda: raw.execute("INSERT INTO t VALUES (1)")) for _ in range(600)]
    raw.close()
    warm = took[60:]
    print(
        f"\none message: median {statistics.median(warm):.1f} ms, p99 {percentile(warm, 0.99):.1f} ms; "
        f"{statistics.median(warm) / statistics.median(commits):.0f} x a raw durable commit ({1000 / statistics.median(commits):.0f} a second)"
    )


def test_sweep_with_nothing_due(store):
    talk = Conversation(store, iter(map(str, range(10**9))).__next__)
    for n in range(300):
        for line in ("add dry suit, plastic zip, latex seals", "add twinset 32%", "add regulator set 32%"):
            talk.take(Update("bench", f"chat {n}", "mara", START, text=line))
    read = [timed(lambda: store.read(lambda s: sweep(s, START))) for _ in range(20)]
    bare = [
        timed(lambda: store.read(lambda s: s.connection().exec_driver_sql("SELECT 1").all()))
        for _ in range(20)
    ]
    print(
        f"\nsweep of 300 lockers, none due: {statistics.median(read):.2f} ms, {statistics.median(read) / statistics.median(bare):.1f} x a bare read"
    )
