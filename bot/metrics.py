"""What is measured, in the words of Prometheus. The only file that knows its library.

Counts and times come from `store.meter`; what waits is read when somebody asks. Labels are words of the program.
"""

from collections.abc import Iterable, Mapping
from datetime import datetime

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, ProcessCollector, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4

from bot.health import Health
from store.counts import Standing

CONTENT_TYPE = CONTENT_TYPE_PLAIN_0_0_4
_QUICK = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5)
_SLOW = (0.25, 0.5, 1, 2, 4, 8, 15, 30, 60, 300, 1800)
_LONG = (0.01, 0.05, 0.1, 0.5, 1, 5, 10, 30, 60, 300, 1800)
COUNTERS = {
    "update": ("rinsetank_updates", "Updates by what became of them", ("wire", "outcome")),
    "send": ("rinsetank_sends", "Answers and reminders by what became of them", ("wire", "what", "outcome")),
    "ended": ("rinsetank_ended", "Pieces of work that were ended for taking too long", ("what",)),
    "look": ("rinsetank_looks", "Rounds of looking for updates", ("wire",)),
    "swept": ("rinsetank_swept", "Care tasks whose hour to be told came", ()),
    "pruned": ("rinsetank_pruned", "Rows dropped because their time was over", ("what",)),
}
"""Event of `store.meter`: name, help, labels."""
HISTOGRAMS = {
    "take": ("rinsetank_take_seconds", "From an update to its stored answer", ("wire",), _QUICK),
    "answer": (
        "rinsetank_answer_seconds",
        "From when it was said to an answer that arrived",
        ("wire",),
        _SLOW,
    ),
    "tick": ("rinsetank_tick_seconds", "Ticks: planning and delivering what is due", ("outcome",), _LONG),
    "chore": ("rinsetank_chore_seconds", "Pruning and backups", ("chore", "outcome"), _LONG),
    "unit": (
        "rinsetank_unit_seconds",
        "Units of work: the work, and the whole with its wait",
        ("of",),
        _QUICK,
    ),
}
_GAUGES = {
    "letters": ("rinsetank_letters_waiting", "Answers that wait", ("wire",)),
    "letter_age": ("rinsetank_letter_oldest_seconds", "How long the oldest answer is late", ("wire",)),
    "notices": ("rinsetank_notices", "Notices by state", ("state",)),
    "notice_age": ("rinsetank_notice_oldest_seconds", "How long the oldest reminder is late", ("wire",)),
    "set_aside": (
        "rinsetank_set_aside",
        "Updates of the last 7 days that were put aside: the process ended over each twice",
        (),
    ),
    "chats_held": ("rinsetank_chats_held", "Chats that a wire said to leave in peace", ("wire",)),
    "wire_held": ("rinsetank_wire_held_seconds", "How long nothing is sent on a wire", ("wire",)),
    "wire_well": ("rinsetank_wire_well", "Whether a wire is well", ("wire",)),
    "tick_age": ("rinsetank_tick_age_seconds", "Since the delivery of reminders gave a sign of life", ()),
    "delivers": ("rinsetank_delivers", "Whether this process delivers: one of all does", ()),
    "repeated": ("rinsetank_units_repeated", "Units of work that met others and were run again", ()),
    "reachable": ("rinsetank_store_reachable", "Whether the database answers", ()),
    "backup_age": ("rinsetank_backup_age_seconds", "Since the newest backup; none yet: infinite", ()),
    "disk_free": ("rinsetank_disk_free_bytes", "Free space where the database lies", ()),
}


class Metrics:
    """One service's counters, and a page of them."""

    def __init__(self, wires: Iterable[str]) -> None:
        """Begin at nothing for the wires that are on."""
        self._registry = CollectorRegistry()
        ProcessCollector(registry=self._registry)
        where = self._registry
        self._counters = {e: Counter(n, h, labels, registry=where) for e, (n, h, labels) in COUNTERS.items()}
        self._histograms = {
            e: Histogram(n, h, labels, buckets=b, registry=where)
            for e, (n, h, labels, b) in HISTOGRAMS.items()
        }
        self._gauges = {e: Gauge(n, h, labels, registry=where) for e, (n, h, labels) in _GAUGES.items()}
        for wire in wires:
            self._counters["look"].labels(wire)
            self._histograms["answer"].labels(wire)

    def hear(self, event: str, amount: float, labels: Mapping[str, str]) -> None:
        """Count what was told; what is not in the tables is left out."""
        if event in self._counters:
            counter = self._counters[event]
            (counter.labels(**labels) if labels else counter).inc(amount)
        elif event in self._histograms:
            histogram = self._histograms[event]
            (histogram.labels(**labels) if labels else histogram).observe(amount)

    def page(self) -> bytes:
        """Return the page as it stands."""
        return generate_latest(self._registry)

    def set_standing(self, standing: Standing | None, now: datetime) -> None:
        """Note what waits; None: the database did not answer, and what it said before no longer counts."""
        self.set("reachable", float(standing is not None))
        said = standing or Standing()
        self.set("set_aside", said.set_aside)
        since = {"letter_age": said.letter_since, "notice_age": said.notice_since}
        counts: dict[str, Mapping[str, float]] = {
            "letters": said.letters,
            "notices": said.notices,
            "chats_held": said.chats_held,
            "wire_held": {w: (until - now).total_seconds() for w, until in said.wires_held.items()},
        }
        counts |= {
            e: {w: max(0.0, (now - at).total_seconds()) for w, at in s.items()} for e, s in since.items()
        }
        for event, values in counts.items():
            self._gauges[event].clear()
            for label, value in values.items():
                self._gauges[event].labels(label).set(value)

    def set_wires(self, healths: Iterable[Health]) -> None:
        """Note how the wires are."""
        for health in healths:
            self._gauges["wire_well"].labels(health.wire).set(float(health.well))

    def set(self, gauge: str, value: float) -> None:
        """Note a single value."""
        self._gauges[gauge].set(value)
