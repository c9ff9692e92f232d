"""Clauses that tell of dives: entries to log, to put right, to take out."""

import re
from dataclasses import replace
from itertools import pairwise

from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.link import mention_in
from bot.reading.scene import Scene
from bot.understand.dive_kit import read_kit
from bot.understand.intents import LogDive
from bot.understand.quantities import MOST_DIVES, SenselessError
from store.vocabulary import Condition, Water

_AHEAD = "a dive is logged once it is done. For plans, say: trip 12 to 19 December, 14 dives."
_SAME = re.compile(r"\b(?:same|again|repeat|ditto|likewise|another)\b")


def log(clause: Clause, scene: Scene) -> LogDive:
    """Return the entries that a clause tells of, one for each day it names. SenselessError for what cannot be."""
    pieces = _by_day(clause)
    entries = [_entry(piece, scene) for piece in pieces]
    if len(entries) > 1:
        shared = {name: getattr(entries[0], name) for name in ("water", "items", "without", "only")}
        entries = [e.model_copy(update={k: getattr(e, k) or v for k, v in shared.items()}) for e in entries]
    return entries[0].model_copy(update={"also": tuple(entries[1:])})


def correct(clause: Clause, scene: Scene) -> LogDive:
    """Return what a clause puts right of an entry: the last one, or that of a day it names."""
    entry = _entry(clause, scene, corrects=True)
    told = [s for s in clause.of("when") if not _NOT.search(clause.text[: s.start - clause.start])]
    days = [values.past_day(s, scene, ahead=_AHEAD).on for s in told]
    named = list(dict.fromkeys(d for d in days if d is not None))
    if len(named) == 1:
        entry = entry.model_copy(update={"on": named[0]})
    said = entry.model_dump(
        exclude={"intent", "corrects", "on", "only", "also", "happened"}, exclude_defaults=True
    )
    if len(named) > 1:
        return entry.model_copy(update={"was_on": named[0], "on": named[1]})
    if named and said:
        return entry.model_copy(update={"was_on": named[0], "on": None})
    return entry


def remove(clause: Clause, scene: Scene) -> LogDive:
    """Return that an entry is to go: that of the day and depth named, or the last one. SenselessError for a day nobody can read."""
    whens = clause.of("when")
    on, _ = values.on_of(whens, scene, _AHEAD)
    if whens and on is None:
        raise SenselessError(
            f"I cannot tell which day “{whens[0].text}” is, so I took nothing out. Say: delete the dive of 12 May."
        )
    return LogDive(
        corrects=True, removes=True, was_on=on, max_depth_m=values.depth_m(clause.of("depth"), scene)
    )


_NOT = re.compile(r"\b(?:not|instead of|rather than)\s+(?:on\s+)?$", re.IGNORECASE)
_DIVES_TOLD = re.compile(
    r"\b(\d{1,2}|a|an|one|two|three|four|five|six|twa)\s+(?:\w+\s+)?(?:dives?|dips?|dvs)\b", re.IGNORECASE
)


def _by_day(clause: Clause) -> list[Clause]:
    """Return a clause for each day told with a count of its own: "2 on Saturday and 3 yesterday"."""
    whens, counts = clause.of("when"), clause.of("n")
    if len(whens) < 2 or len(counts) < 2:
        return [clause]
    ahead = counts[0].start < whens[0].start
    edges = [s.start for s in (counts if ahead else whens)][1:]
    bounds = [clause.start, *edges, clause.end]
    return [
        replace(
            clause,
            start=start,
            end=end,
            text=clause.text[start - clause.start : end - clause.start],
            spans=tuple(s for s in clause.spans if start <= s.start < end),
        )
        for start, end in pairwise(bounds)
    ]


def _entry(clause: Clause, scene: Scene, *, corrects: bool = False) -> LogDive:
    dives = values.count(_counted(clause))
    if dives is None and not corrects and (told := _DIVES_TOLD.search(clause.text)):
        dives = values.one_count(told[1])
    if dives is None and not corrects and len(clause.of("time")) > 1:
        dives = len(clause.of("time"))
    if dives is not None and not 1 <= dives <= MOST_DIVES:
        raise SenselessError(f"{dives} dives in one entry is a lot: log up to {MOST_DIVES} at a time.")
    on, _ = values.on_of(clause.of("when"), scene, _AHEAD)
    temps = values.temps_c(clause.of("temp"), scene)
    items = _mentions(clause.of("item"), clause, scene)
    without = _mentions(clause.of("left"), clause, scene)
    said = scene.of(clause.text)
    figures = dives or clause.of("depth") or clause.of("time")
    return LogDive(
        dives=dives if dives is not None or corrects else 1,
        on=on,
        water=next((Water(w) for w in clause.ids("water")), None) or next(iter(said.waters), None),
        max_depth_m=values.depth_m(clause.of("depth"), scene),
        duration_min=values.minutes(clause.of("time")),
        min_temp_c=min(temps, default=None),
        o2_fraction=values.oxygen(clause.of("gas")),
        conditions=tuple(c for c in Condition if c in clause.ids("cond") or c in said.conditions),
        items=tuple(i for i in items if i not in without),
        without=without,
        only=bool(items) and read_kit(scene.of(clause.text)).only,
        corrects=corrects,
        like_last=not corrects and not figures and bool(_SAME.search(clause.text.casefold())),
    )


def _counted(clause: Clause) -> tuple[Span, ...]:
    """Return the counts that add up; of "3 dives, 2 of them deep" only the first is one."""
    counts = tuple(n for n in clause.of("n") if not _of_kit(n, clause))
    if len(counts) < 2:
        return counts
    between = clause.text[counts[0].end - clause.start : counts[1].start - clause.start]
    return (
        counts
        if re.search(r"\b(?:and|plus|then|\+|also)\b|[,&+;]", between)
        and not re.search(r"\b(?:not|instead|total|all|of which)\b", clause.text)
        else counts[:1]
    )


_CLOSE = 3
"""Letters between a count and the kit that it counts: "the two stages"."""


def _of_kit(count: Span, clause: Clause) -> bool:
    return any(0 <= s.start - count.end <= _CLOSE for s in (*clause.of("item"), *clause.of("left")))


def _mentions(spans: tuple[Span, ...], clause: Clause, scene: Scene) -> tuple[str, ...]:
    found = (mention_in(s, clause, scene) for s in spans if s.id != "all")
    return tuple(dict.fromkeys(m for m in found if m))
