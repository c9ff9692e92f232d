"""Who kills, and who watches: the other end of what `worker` does."""

import heapq
import json
import mmap
import os
import random
import select
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from .worker import BETWEEN, COMMIT, OPEN_SENDS, SIZE, UNIT

ROOT = Path(__file__).parents[2]
LAG_S = 3.0
"""A message that the wire answered longer ago than this is no longer in flight: it must be settled."""
HANGS_S = 60.0
_ANSWERS_S = 0.015
"""The longest the wire takes to answer a message."""


@dataclass
class Taken:
    """A message that the wire took: in which life, and when it was answered, None if that life ended before."""

    address: str
    key: str
    said: list[str]
    of: list[tuple]
    """The tasks that a reminder speaks of; empty for an answer."""
    life: int
    answered: float | None = None


@dataclass
class Life:
    """How a life went. `hit`: what it was doing when it was killed, None if it was not."""

    number: int
    hit: str | None = None
    done: bool = False
    took: float = 0.0
    acknowledged: dict[str, int] = field(default_factory=dict)
    """How many messages of each chat, from the first on, are acknowledged by the end of it."""
    killed_at: float = 0.0
    said: str | None = None
    """What it told in words."""


class Nursery:
    """Begins lives one after another, and ends them."""

    def __init__(self) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="rinsetank-n-"))
        self._where = self.folder / "where"
        self._where.write_bytes(bytes(SIZE))
        self._listening = socket.socket(socket.AF_UNIX)
        self._listening.bind(str(self.folder / "line"))
        self._listening.listen()
        self._listening.settimeout(HANGS_S)
        self._said = (self.folder / "said").open("w+b")
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.worker"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._said,
            cwd=ROOT,
        )
        self.lives = count(1)

    def close(self) -> None:
        self._process.stdin.close()
        self._process.stdout.close()
        self._process.wait(HANGS_S)
        self._listening.close()
        self._said.close()
        shutil.rmtree(self.folder)

    @property
    def said(self) -> str:
        """Return what all lives so far wrote to standard error."""
        return (self.folder / "said").read_text()

    def live(
        self, job: dict, taken: list[Taken], dice: random.Random, kill_after: float | None = None
    ) -> Life:
        """Have a job done by a process that is killed after so many seconds, or at the point that the job names."""
        number = next(self.lives)
        job = {"point": None, **job, "socket": str(self.folder / "line"), "where": str(self._where)}
        self._process.stdin.write(json.dumps(job).encode() + b"\n")
        self._process.stdin.flush()
        pid = int(self._process.stdout.readline())
        try:
            with self._listening.accept()[0] as line:
                life = _watched(pid, line, number, taken, dice, kill_after)
        except BaseException:
            os.kill(
                pid, signal.SIGKILL
            )  # the nursery has not let go of the number before it has said how it ended
            self._process.stdout.readline()
            raise
        ended = int(self._process.stdout.readline())
        if ended == -signal.SIGKILL and not life.done:
            life.hit, life.killed_at = self._hit(), life.killed_at or time.monotonic()
        else:
            assert (ended, life.done) in {(0, True), (-signal.SIGKILL, True)}, self.said
        return life

    def _hit(self) -> str:
        with self._where.open("r+b") as file, mmap.mmap(file.fileno(), SIZE) as where:
            at = bytes(where)
        if COMMIT in at[1:]:
            return "in a commit"
        if UNIT in at[1:]:
            return "in a unit"
        assert set(at[1:]) == {BETWEEN}
        return "in a send" if at[OPEN_SENDS] else "between"


def _watched(
    pid: int,
    line: socket.socket,
    number: int,
    taken: list[Taken],
    dice: random.Random,
    kill_after: float | None,
) -> Life:
    """Hear all that a life says until it ends, answer as the wire, and kill it when its time has come."""
    life, rest, began = Life(number), b"", time.monotonic()
    kill_at = float("inf") if kill_after is None else began + kill_after
    answers: list[tuple[float, int, Taken]] = []
    while True:
        now = time.monotonic()
        assert now < began + HANGS_S, "it hangs"
        until = min(kill_at, answers[0][0] if answers else began + HANGS_S)
        if select.select([line], [], [], max(0.0, until - now))[0]:
            try:
                heard = line.recv(65_536)
            except ConnectionResetError:  # killed with an answer unread
                heard = b""
            if not heard:
                life.took = time.monotonic() - began
                return life
            *whole, rest = (rest + heard).split(b"\n")
            for told in map(json.loads, whole):
                if "acknowledged" in told:
                    life.acknowledged[told["acknowledged"]] = told["number"] + 1
                elif "key" in told:
                    of = [tuple(t) for t in told["of"]]
                    taken.append(Taken(told["address"], told["key"], told["said"], of, number))
                    due = time.monotonic() + dice.uniform(0, _ANSWERS_S)
                    heapq.heappush(answers, (due, told["number"], taken[-1]))
                elif "said" in told:
                    life.said = told["said"]
                life.done |= "done" in told
        now = time.monotonic()
        if now >= kill_at:
            os.kill(pid, signal.SIGKILL)
            kill_at, life.killed_at, answers = float("inf"), now, []
        while answers and answers[0][0] <= now:
            _, asked, message = heapq.heappop(answers)
            try:
                line.sendall(b"%d\n" % asked)
            except (BrokenPipeError, ConnectionResetError):  # it ended meanwhile
                answers = []
            else:
                message.answered = now
