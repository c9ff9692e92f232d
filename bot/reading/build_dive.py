"""Clauses that tell of dives that were done: entries to log."""

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import TypeVar

from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.link import mention_in
from bot.reading.numerals import IN_WORDS
from bot.reading.scene import Scene
from bot.understand.dive_kit import read_kit
from bot.understand.intents import LogDive
from bot.understand.one_dive import OneDive
from bot.understand.quantities import MOST_DIVES, SenselessError
from store.vocabulary import Condition, Water

V = TypeVar("V")
AHEAD = "a dive is logged once it is done. For plans, say: trip 12 to 19 December, 14 dives."
_SAME = re.compile(r"\b(?:same|again|repeat|ditto|likewise|another)\b")


def log(clause: Clause, scene: Scene) -> LogDive:
    """Return the entries that a clause tells of, one for each day or group of dives. SenselessError for what cannot be."""
    entries = _with_what_is_of_its_day([entry_of(piece, scene) for piece in _apart(_deep_counts(clause))])
    if len(entries) > 1:
        shared = {name: getattr(entries[0], name) for name in ("water", "items", "without", "only")}
        entries = [e.model_copy(update={k: getattr(e, k) or v for k, v in shared.items()}) for e in entries]
        for n in range(1, len(entries)):
            if entries[n].on is None:
                entries[n] = entries[n].model_copy(update={"on": entries[n - 1].on})
    return entries[0].model_copy(update={"also": tuple(entries[1:])})


_MOST_COUNTED = 12


def _deep_counts(clause: Clause) -> Clause:
    """Return a clause in which a number too high for a count, or bare behind its day, is a depth beside others: "sat 12 m and 14 m, sun 20"."""
    if not clause.of("depth"):
        return clause
    first = next(iter(clause.of("n")), None)
    days = {w.end + 1 for w in clause.of("when")}
    return replace(
        clause,
        spans=tuple(
            replace(s, slot="depth")
            if (s.slot == "n" and s is not first and (values.one_count(s.text) or 0) > _MOST_COUNTED)
            or (s.slot == "temp" and s.text.isdecimal() and s.start in days)
            else _spoken_depth(s, clause)
            for s in clause.spans
        ),
    )


def _spoken_depth(span: Span, clause: Clause) -> Span:
    """Return a bare number in words that was taken for a gas as the depth it is: "a hundred feet, second one one fifty"."""
    if span.slot != "gas" or not IN_WORDS.fullmatch(span.text):
        return span
    if re.match(r"\s*(?:%|percent|per cent)", clause.text[span.end - clause.start :], re.IGNORECASE):
        return span
    at = span.start - clause.start
    spoken = next((m for m in IN_WORDS.finditer(clause.text) if m.start() <= at < m.end()), None)
    if spoken is None:
        return span
    return Span("depth", spoken.group(), clause.start + spoken.start(), clause.start + spoken.end())


def _with_what_is_of_its_day(entries: list[LogDive]) -> list[LogDive]:
    """Return entries without those that only say more of a day told before: "sunday lots of sand"."""
    kept: list[LogDive] = []
    for entry in entries:
        bare = not (entry.dives or entry.max_depth_m or entry.duration_min)
        same = next((n for n, e in enumerate(kept) if bare and entry.on and e.on == entry.on), None)
        if same is None:
            kept.append(entry)
        else:
            more = {n: v for n in ("water", "min_temp_c", "conditions", "items") if (v := getattr(entry, n))}
            kept[same] = kept[same].model_copy(update=more)
    return kept


_DIVES_TOLD = re.compile(
    r"(?<![/.,\d])\b(\d{1,2}|a|an|one|two|three|four|five|six|twa)\s+(?:\w+\s+)?(?:dives?|dips?|dvs)\b|\b(twice|thrice)\b",
    re.IGNORECASE,
)


def _apart(clause: Clause) -> list[Clause]:
    """Return a clause for each day or group of dives told on its own: "2 on Saturday and 3 yesterday", "2 to 15 m, then one to 9 m"."""
    whens, counts = _days_apart(clause), _groups(clause)
    telling = [w for w, after in zip(whens, (*whens[1:], None), strict=False) if _has_depth(clause, w, after)]
    if len(telling) > 1 and [values.one_count(n.text) for n in counts] == [len(clause.of("depth"))]:
        own = [s for s in clause.spans if s.slot != "n" and (s.slot != "when" or s in telling)]
        at, to = counts[0].start - clause.start, counts[0].end - clause.start
        text = (
            clause.text[:at] + " " * (to - at) + clause.text[to:]
        )  # the count of all is that of no single day
        return _cut(replace(clause, text=text, spans=tuple(own)), [w.start for w in telling][1:])
    if len(counts) > 1:
        ahead = not whens or counts[0].start < whens[0].start
        edges = [s.start for s in counts] if ahead or len(whens) < len(counts) else [s.start for s in whens]
        clause = replace(clause, spans=tuple(s for s in clause.spans if s.slot != "n" or s in counts))
    else:
        edges = [s.start for s in whens]
    pieces = _cut(clause, edges[1:])
    if len(pieces) < 2:
        return [clause]
    figured = [any(s.slot in {"depth", "time"} for s in p.spans) for p in pieces]
    if len(counts) > 1 and (len(whens) > 1 or sum(figured) > 1):
        return pieces
    return pieces if len(counts) < 2 and all(figured) and len(whens) > 1 else [clause]


def _has_depth(clause: Clause, when: Span, after: Span | None) -> bool:
    return any(when.end <= d.start < (after.start if after else clause.end) for d in clause.of("depth"))


_UP_TO = re.compile(r"\s*(?:to|until|till|through|-|–)\s*(?:the\s*)?", re.IGNORECASE)


def _days_apart(clause: Clause) -> list[Span]:
    """Return the days of a clause; of a range only the first."""
    found: list[Span] = []
    last_end = None
    for when in clause.of("when"):
        if last_end is None or not _UP_TO.fullmatch(
            clause.text[last_end - clause.start : when.start - clause.start]
        ):
            found.append(when)
        last_end = when.end
    return found


def _cut(clause: Clause, edges: list[int]) -> list[Clause]:
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


def _groups(clause: Clause) -> tuple[Span, ...]:
    """Return the counts of dives that stand beside each other; a first one that is their sum holds them all."""
    counts = [n for n in clause.of("n") if not _of_kit(n, clause) and not _is_pointing(n, clause)]
    told = [values.one_count(n.text) or 0 for n in counts]
    return tuple(counts[1:] if len(counts) > 2 and told[0] == sum(told[1:]) else counts)


_POINTING = re.compile(
    r"\b(?:first|second|third|other|last|1st|2nd|3rd|this|that|the|next|deep|deeper|deepest|shallow|shallowest|longest)\s+$",
    re.IGNORECASE,
)
_NUMBERED_DIVE = re.compile(r"\bdive\s?#?$", re.IGNORECASE)


def _is_pointing(count: Span, clause: Clause) -> bool:
    """Tell whether a count is none: "the second one", "dive 2"."""
    before = clause.text[: count.start - clause.start]
    pronoun = count.text.casefold() in {"one", "ones"} and _POINTING.search(before)
    return bool(pronoun or _NUMBERED_DIVE.search(before.rstrip(" ")))


_PAIR = re.compile(
    r"\bdives? (?:no\.? ?|nr\.? ?|#)?(\d{1,2}) ?(?:and|&|\+) ?(\d{1,2})\b(?! ?(?:m|ft|min))", re.IGNORECASE
)
"""Two dives by their numbers: "dives 3 and 4 of the course"."""


def entry_of(clause: Clause, scene: Scene, *, corrects: bool = False) -> LogDive:
    """Return the one entry that a clause tells of, or what it puts right of one. SenselessError for figures that cannot be."""
    if not corrects and (pair := _PAIR.search(clause.text)):
        at = (clause.start + pair.start(1), clause.start + pair.end(2))
        clause = replace(clause, spans=tuple(s for s in clause.spans if not at[0] <= s.start < at[1]))
    else:
        pair = None
    dives = 2 if pair else values.count(_counted(clause))
    if dives is None and not corrects and (told := _DIVES_TOLD.search(clause.text)):
        dives = values.one_count(told[1] or told[2])
    each = () if corrects else _each(clause, scene, dives)
    if dives is None and not corrects:
        dives = len(each) or None
    if dives is not None and not 1 <= dives <= MOST_DIVES:
        raise SenselessError(f"{dives} dives in one entry is a lot: log up to {MOST_DIVES} at a time.")
    on, _ = values.on_of(clause.of("when"), scene, AHEAD)
    temps = values.temps_c(clause.of("temp"), scene, clause.text)
    items = _mentions(clause.of("item"), clause, scene)
    without = _mentions(clause.of("left"), clause, scene)
    said = scene.of(_NONE_OF.sub(" ", clause.text))
    met = {s.id for s in clause.of("cond") if not _ABSENT.search(clause.text[: s.start - clause.start])}
    figures = dives or clause.of("depth") or clause.of("time")
    return LogDive(
        dives=dives,
        on=on,
        water=_water(said.waters, clause),
        max_depth_m=values.depth_m(clause.of("depth"), scene),
        duration_min=values.minutes(clause.of("time")),
        min_temp_c=min(temps, default=None),
        o2_fraction=values.oxygen(clause.of("gas")),
        conditions=tuple(c for c in Condition if c in met or c in said.conditions),
        items=tuple(i for i in items if i not in without),
        without=without,
        only=bool(items) and read_kit(scene.of(clause.text)).only,
        corrects=corrects,
        each=each,
        like_last=not corrects and not figures and bool(_SAME.search(clause.text.casefold())),
    )


def _water(named: Sequence[Water], clause: Clause) -> Water | None:
    """Return the water that is told; brackish says more than the sea that it is in."""
    if Water.BRACKISH in named:
        return Water.BRACKISH
    return named[0] if len(named) == 1 else next((Water(w) for w in clause.ids("water")), None)


_ABSENT = re.compile(
    r"(?:\b(?:no|not|without|zero|hardly|little)|n't)\s+(?:\w+\s+)?(?:\w+\s+(?:or|nor|and)\s+)?$",
    re.IGNORECASE,
)
_NONE_OF = re.compile(r"\b(?:no|without|zero|not the) \w+(?: or \w+)?", re.IGNORECASE)
_NOT_APART = re.compile(
    r"\b(?:stops?|deco|average|avg|between|then up|safety|max(?:imum)?|turned)\b", re.IGNORECASE
)
_ALL_ALIKE = re.compile(r"\b(?:each|both|all|every)\b", re.IGNORECASE)
_MOST_APART = 10


def _each(clause: Clause, scene: Scene, dives: int | None) -> tuple[OneDive, ...]:
    """Return the dives one by one, where as many depths or times are told as dives; empty if they are told together."""
    depths, times = values.depths_m(clause.of("depth"), scene), values.times_min(clause.of("time"))
    many = max(len(depths), len(times))
    if (
        not 2 <= many <= _MOST_APART
        or dives not in {None, many}
        or (dives is None and _NOT_APART.search(clause.text))
    ):
        return ()
    temps, gases = values.temps_c(clause.of("temp"), scene, clause.text), clause.of("gas")
    return tuple(
        OneDive(
            max_depth_m=_nth(depths, n, times, clause),
            duration_min=_nth(times, n, depths, clause),
            min_temp_c=temps[n] if len(temps) == many else None,
            o2_fraction=values.oxygen(gases[n : n + 1]) if len(gases) == many else None,
        )
        for n in range(many)
    )


def _nth(own: list[tuple[Span, V]], n: int, other: Sequence[tuple[Span, object]], clause: Clause) -> V | None:
    """Return the figure of the dive of that number: its own, the only one if that is of all, else the one told right behind the other figure."""
    if len(own) > n and len(own) >= len(other):
        return own[n][1]
    if len(own) == 1 and (
        own[0][0].start > other[-1][0].start
        or own[0][0].start < other[0][0].start
        or _ALL_ALIKE.search(clause.text)
    ):
        return own[0][1]
    begins = other[n][0].start
    ends = other[n + 1][0].start if n + 1 < len(other) else clause.end
    return next((value for span, value in own if begins <= span.start < ends), None)


def _counted(clause: Clause) -> tuple[Span, ...]:
    """Return the counts that add up; of "3 dives, 2 of them deep" only the first is one."""
    counts = tuple(n for n in clause.of("n") if not _of_kit(n, clause) and not _is_pointing(n, clause))
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


_TANKS = re.compile(r"tanks?", re.IGNORECASE)
"""How some people count dives."""


def _mentions(spans: tuple[Span, ...], clause: Clause, scene: Scene) -> tuple[str, ...]:
    found = (mention_in(s, clause, scene) for s in spans if s.id != "all" and not _TANKS.fullmatch(s.text))
    return tuple(dict.fromkeys(m for m in found if m))
