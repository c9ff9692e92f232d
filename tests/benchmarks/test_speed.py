"""A message, an answer and a start: `pytest tests/benchmarks -m benchmark -s -n 0`. Off by default, never a gate."""

import json
import statistics
import subprocess
import sys
import time
from contextlib import closing
from datetime import timedelta
from itertools import count
from pathlib import Path

import pytest

from bot.advice.answer import answer
from bot.conversation import Conversation, Update
from bot.understand.in_passing import understand_question
from bot.understand.intents import Ask
from scheduler.sweep import sweep
from store.engine import Store, sqlite_url
from tests.benchmarks.measure import Place, file_commits, of, percentile, several, timed
from tests.conftest import START

pytestmark = pytest.mark.benchmark
CORPORA = Path(__file__).parent.parent / "corpora"
QUESTIONS = [
    json.loads(line)["question"]
    for name in ("first", "second", "third", "hard", "kit", "fourth")
    for line in (CORPORA / f"questions_{name}.jsonl").read_text(encoding="utf-8").splitlines()
]
KIT = (
    "add dry suit, plastic zip, latex seals",
    "add twinset 32%",
    "add regulator set 32%",
    "add canister light",
    "add scooter",
)
DAY = {
    "a dive": "2 dives today, salt, 30 m, 45 min each",
    "a question": "what do I put on the neck ring?",
    "what is due": "what is due?",
    "care": "brushed the zip",
    "a check": "can I use silicone on my reg?",
    "undo": "undo",
}
MESSAGES, WARM_UP = 600, 60


def ask(question: str) -> None:
    intent = understand_question(question, START.date())
    if isinstance(intent, Ask):
        answer(intent.question).as_data(question)


def test_thousand_questions_in_one_process(table):
    thousand = (QUESTIONS * 2)[:1000]
    ask(thousand[0])
    cold = [timed(lambda q=q: ask(q), time.process_time) for q in thousand]
    base = [timed(lambda q=q: json.loads(json.dumps({"q": q.split()})), time.process_time) for q in thousand]
    times = statistics.median(cold) / statistics.median(base)
    table.row(
        Place.BESIDE,
        "a question without a locker, CPU",
        of(cold),
        f"JSON round trip of its words {statistics.median(base):.3f} ms",
        f"{times:.0f} x",
    )


def test_start_to_first_answer(table):
    tool = Path(sys.executable).parent / "rinsetank"
    asked = [tool, "ask", "what goes on the neck ring?"]
    ours, bare = [], []
    for _ in range(9):
        ours.append(timed(lambda: subprocess.run(asked, capture_output=True, check=True)))
        bare.append(timed(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True)))
    median = statistics.median(ours)
    table.row(
        Place.START,
        "start to first answer in the terminal",
        f"median {median:.0f} ms, best {min(ours):.0f} ms",
        f"bare interpreter {statistics.median(bare):.0f} ms",
        f"{median / statistics.median(bare):.0f} x",
        goal="under 0.7 s",
        met=median < 700,
    )


def test_message_on_sqlite(table, store, tmp_path):
    talk, at = Conversation(store, map(str, count()).__next__), START
    for line in KIT:
        talk.take(Update("bench", "deck", "mara", at, text=line))
    took: list[float] = []
    used: list[float] = []
    kinds, commits = list(DAY), file_commits(tmp_path)
    for n in range(MESSAGES):
        at += timedelta(minutes=1)
        update = Update("bench", "deck", "mara", at, text=DAY[kinds[n % len(kinds)]], update_id=str(n))
        begun = time.process_time()
        took.append(timed(lambda u=update: talk.take(u)))
        used.append((time.process_time() - begun) * 1000)
    commits += file_commits(tmp_path)
    took, used = took[WARM_UP:], used[WARM_UP:]
    commit = statistics.median(commits)
    table.row(
        Place.MESSAGE,
        "a message, SQLite, `synchronous=FULL`",
        f"{of(took)}; CPU {statistics.median(used):.1f} ms",
        f"raw durable commit {commit:.2f} ms",
        f"{statistics.median(took) / commit:.0f} x",
        goal="p99 under 10 ms",
        met=percentile(took, 0.99) < 10,
    )
    rate, bare = 1000 / statistics.mean(took), 1000 / commit
    table.row(
        Place.MESSAGE,
        "messages a second, SQLite",
        f"{rate:.0f}",
        f"raw durable commits {bare:.0f} a second",
        f"{rate / bare:.3f}",
        goal="at least 0.2",
        met=rate / bare >= 0.2,
    )
    each = {kind: statistics.median(took[n :: len(kinds)]) for n, kind in enumerate(kinds)}
    told = ", ".join(f"{kind} {ms:.1f}" for kind, ms in each.items())
    table.row(Place.GROWTH, "a message by kind, median ms", told)


def test_sweep_with_nothing_due(table, file_of_size):
    with closing(Store(sqlite_url(file_of_size(1_000)))) as store:
        read = several(lambda: timed(lambda: store.read(lambda s: sweep(s, START))), 20)
        bare = several(
            lambda: timed(lambda: store.read(lambda s: s.connection().exec_driver_sql("SELECT 1").all())), 20
        )
    table.row(
        Place.BESIDE,
        "a sweep of 1,000 lockers with none due",
        f"median {statistics.median(read):.2f} ms",
        f"a bare read {statistics.median(bare):.2f} ms",
        f"{statistics.median(read) / statistics.median(bare):.0f} x",
    )
