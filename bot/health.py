"""How a wire is, and how the whole is: whether the process is worth keeping, and whether traffic may come."""

import asyncio
import secrets
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict, dataclass
from typing import TypeVar

from scheduler.clock import Clock
from store.counts import Standing, ping, standing
from store.engine import SCHEMA, Session, Store, schema_version

ANSWER_S = 2.0
"""Longest that the database may take for a row, and that a probe waits."""
FRESH_S = 2.0
"""How long an answer holds, so that probes are no load."""
TICK_S = 120
"""Longest without a sign of life of the delivery: six rings."""
WIRE_S = 600
"""Longest without a look for updates: one may wait for what the wire asked, or fetch long files."""
_SIGNS = frozenset({"tick", "swept", "send"})
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Health:
    """One line of health: whether all is well, and what is so."""

    wire: str
    well: bool
    said: str


@dataclass(frozen=True, slots=True)
class Check:
    """One thing looked at: its value and what it may be. `counts` False: it is told and fails nothing."""

    check: str
    ok: bool
    value: float | str | None
    limit: float | str | None
    counts: bool = True


@dataclass(frozen=True, slots=True)
class Report:
    """What a probe is told."""

    checks: tuple[Check, ...]

    @property
    def ok(self) -> bool:
        """Tell whether nothing that counts fails."""
        return all(c.ok for c in self.checks if c.counts)

    def as_data(self) -> dict[str, object]:
        """Return it as JSON takes it."""
        return {"status": "ok" if self.ok else "failing", "checks": [asdict(c) for c in self.checks]}


class Pulse:
    """Signs of life. It listens to `store.meter`."""

    def __init__(self, seconds: Callable[[], float] = time.monotonic) -> None:
        """Begin as if all had just given one; `seconds` tells the time."""
        self._seconds = seconds
        self._tick, self._looks = seconds(), dict[str, float]()

    def hear(self, event: str, _amount: float, labels: Mapping[str, str]) -> None:
        """Take a sign."""
        if event in _SIGNS and labels.get("what") != "answer":
            self._tick = self._seconds()
        elif event == "look" or (event == "update" and labels["wire"] in self._looks):
            self._looks[labels["wire"]] = self._seconds()

    def rest(self) -> None:
        """Expect no sign from now on, until one comes: another process delivers."""
        self._tick, self._looks = self._seconds(), {}

    @property
    def tick_age_s(self) -> float:
        """Return how long ago the delivery of reminders did anything."""
        return self._seconds() - self._tick

    @property
    def look_age_s(self) -> dict[str, float]:
        """Return how long ago each wire was asked for updates; a wire that delivers them is not named."""
        return {wire: self._seconds() - at for wire, at in self._looks.items()}


class Checkup:
    """Makes the reports, each at most once in `FRESH_S` however many ask, and never waits for longer than `ANSWER_S`."""

    def __init__(
        self,
        store: Store,
        clock: Clock,
        pulse: Pulse,
        wires: Callable[[], Sequence[Health]],
        ended: Callable[[], Sequence[str]],
        *,
        delivers: Callable[[], bool] = lambda: True,
    ) -> None:
        """Look at a store and a service: how its wires are, which of its loops ended by a fault, whether it delivers."""
        self._store, self._clock, self._pulse = store, clock, pulse
        self._wires, self._ended, self._delivers = wires, ended, delivers
        self._hands = ThreadPoolExecutor(1, "health")  # a stuck database must not take the others' threads
        self._kept: dict[str, tuple[float, object]] = {}
        self._under_way: dict[str, asyncio.Future[object]] = {}

    async def alive(self) -> Report:
        """Tell whether the process is worth keeping: it writes, it ticks, its loops run."""
        written, took = await self._asked("write", self._write)
        if not self._delivers():
            self._pulse.rest()
        looks = self._pulse.look_age_s
        ended = list(self._ended())
        return Report(
            (
                Check("write", written is True, took, ANSWER_S),
                Check("tick", self._pulse.tick_age_s <= TICK_S, _s(self._pulse.tick_age_s), TICK_S),
                Check("loops", not ended, ", ".join(ended) or "all run", "all run"),
                *(Check(f"look_{wire}", age <= WIRE_S, _s(age), WIRE_S) for wire, age in looks.items()),
            )
        )

    async def ready(self) -> Report:
        """Tell whether traffic may come: the database is there and of our schema, and a wire is well, if any is on."""
        read, took = await self._asked("read", self._read)
        schema, waits = read if read is not None else (None, None)
        wires = self._wires()
        some = not wires or any(w.well for w in wires)
        held = 0 if waits is None else sum(waits.chats_held.values())
        aside = waits.set_aside if waits is not None else 0
        held_wires = sorted(waits.wires_held) if waits is not None else []
        return Report(
            (
                Check("read", read is not None, took, ANSWER_S),
                Check("schema", schema == SCHEMA, schema, SCHEMA),
                Check("wires", some, sum(w.well for w in wires), 1 if wires else 0),
                *(
                    Check(f"wire_{w.wire}", w.well, "well" if w.well else "not well", "well", counts=False)
                    for w in wires
                ),
                Check("held_chats", held == 0, held, 0, counts=False),
                Check("set_aside", aside == 0, aside, 0, counts=False),
                Check("held_wires", not held_wires, ", ".join(held_wires) or "none", "none", counts=False),
            )
        )

    async def standing(self) -> Standing | None:
        """Return what waits; None if the database does not answer in time."""
        read, _ = await self._asked("read", self._read)
        return None if read is None else read[1]

    def close(self) -> None:
        """Let go of the thread."""
        self._hands.shutdown(wait=False, cancel_futures=True)

    def _write(self) -> bool:
        word = secrets.token_hex(8)
        return self._store.write(lambda session: ping(session, word))

    def _read(self) -> tuple[str | None, Standing]:
        now = self._clock.now()

        def work(session: Session) -> tuple[str | None, Standing]:
            return schema_version(session.connection()), standing(session, now)

        return self._store.read(work)

    def _over(self, what: str, over: asyncio.Future[object]) -> None:
        del self._under_way[what]
        if not over.cancelled():
            over.exception()  # seen, or the loop would complain of one that came too late for its probe

    async def _asked(self, what: str, work: Callable[[], T]) -> tuple[T | None, float]:
        """Return what `work` gives and the seconds it took; None if it failed, or is not done in time. One runs at a time."""
        kept_at, kept = self._kept.get(what, (float("-inf"), None))
        if time.monotonic() - kept_at <= FRESH_S:
            return kept  # type: ignore[return-value]  # what this very work gave
        began = time.monotonic()
        future = self._under_way.get(what)
        if future is None:
            future = asyncio.get_running_loop().run_in_executor(self._hands, work)
            self._under_way[what] = future
            future.add_done_callback(lambda over: self._over(what, over))
        done, _ = await asyncio.wait({future}, timeout=ANSWER_S)
        took = _s(time.monotonic() - began)
        answer = (future.result() if done and future.exception() is None else None, took)
        self._kept[what] = (time.monotonic(), answer)
        return answer  # type: ignore[return-value]  # as above


def _s(seconds: float) -> float:
    return round(seconds, 4)
