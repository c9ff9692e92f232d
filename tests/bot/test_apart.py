"""Work in a process of its own: it ends whatever it does, and whoever is told so is answered."""

import os
import re
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot import apart
from bot.apart import Apart, OverBudgetError
from bot.conversation import Conversation, Update
from bot.understand.reader import understand
from tests.understand.test_total import TODAY

START = datetime(2026, 6, 10, 12, tzinfo=UTC)
NEVER_ENDS = (re.fullmatch, r"(?:a|aa)+b", "a" * 80)
"""A match that takes longer than the world will last, held in C."""


@pytest.fixture(scope="module")
def other():
    runs = Apart()
    yield runs
    runs.close()


def test_it_returns_what_the_function_returns_and_raises_what_it_raises(other):
    assert other(understand, "what is due?", TODAY) == understand("what is due?", TODAY)
    with pytest.raises(ZeroDivisionError):
        other(divmod, 1, 0)


def test_what_never_ends_is_ended_and_the_next_one_is_served(other):
    for _ in range(2):
        with pytest.raises(OverBudgetError):
            other(*NEVER_ENDS)
        assert other(max, 1, 2) == 2


def test_what_takes_too_much_memory_is_ended_and_the_next_one_is_served(other):
    with pytest.raises(OverBudgetError):
        other(bytes, 4 * apart.MEMORY_BYTES)
    assert other(max, 1, 2) == 2


def test_what_only_waits_is_ended_too(other, monkeypatch):
    other(max, 1, 2)
    monkeypatch.setattr(apart, "ANSWER_S", 0.5)
    with pytest.raises(OverBudgetError):
        other(time.sleep, 600)
    monkeypatch.undo()
    assert other(max, 1, 2) == 2


def test_a_process_that_was_lost_between_two_pieces_of_work_is_begun_anew(other):
    other(max, 1, 2)
    os.killpg(other._running[0].pid, signal.SIGKILL)
    other._running[0].wait()
    assert other(max, 1, 2) == 2


def test_it_ends_with_the_process_that_began_it():
    lines = "from bot.apart import Apart; a = Apart(); a(max, 1, 2); print(a._running[0].pid, a(__import__('os').getpid), flush=True); input()"
    owner = subprocess.Popen(
        [sys.executable, "-c", lines], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    pids = [int(pid) for pid in owner.stdout.readline().split()]
    owner.kill()
    owner.communicate()
    until = time.monotonic() + 10
    while any(map(_runs, pids)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(_runs, pids))


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_text_that_cannot_be_read_to_its_end_is_answered_kindly_and_stores_nothing(store, other):
    def hangs(_work, *_given):
        return other(*NEVER_ENDS)

    conversation = Conversation(store, iter(map(str, range(99))).__next__, run=hangs)
    update = Update("boat", "1", "ana", START, text="2 dives today", update_id="1", message="1")
    reply = conversation.take(update).reply
    assert (reply.first, len(reply.lines) > 0) == (
        "I could not read that to its end. Nothing was stored.",
        True,
    )
    assert conversation.quick(update) is None
    whole = Conversation(store, iter(map(str, range(99))).__next__)
    shown = whole.take(Update("boat", "1", "ana", START, text="show my dives", update_id="2")).reply
    assert shown.data["dives"] == 0
