"""Clauses that put an entry of the log right, or take one out."""

import re
from dataclasses import replace

from bot.reading import values
from bot.reading.build_dive import AHEAD, entry_of
from bot.reading.clauses import Clause, Span
from bot.reading.numerals import in_figures
from bot.reading.scene import Scene
from bot.understand.intents import LogDive
from bot.understand.quantities import SenselessError


def correct(clause: Clause, scene: Scene) -> LogDive:
    """Return what a clause puts right of an entry: the last one, that of a day it names, or that of a number or figure it names."""
    was, clause = _without_wrong(clause)
    clause = _bare_depths(clause, was)
    which = which_of(clause.text)
    entry = entry_of(clause, scene, corrects=True)
    entry = entry.model_copy(update={"which": which, **_bare(entry, was, clause, scene)})
    if was is not None and _SAYS_GAS.search(clause.text) and entry.o2_fraction is None and entry.max_depth_m:
        share = values.oxygen([replace(s, slot="gas") for s in clause.spans if s.slot in _FIGURES])
        entry = entry.model_copy(update={"o2_fraction": share, "max_depth_m": None, "was_depth_m": None})
    told = [s for s in clause.of("when") if not _NOT.search(clause.text[: s.start - clause.start])]
    days = [values.past_day(s, scene, ahead=AHEAD).on for s in told]
    named = list(dict.fromkeys(d for d in days if d is not None))
    if len(named) == 1:
        entry = entry.model_copy(update={"on": named[0]})
    pointing = {"intent", "corrects", "on", "only", "also", "happened", "which", "was_depth_m", "each"}
    said = entry.model_dump(exclude=pointing, exclude_defaults=True)
    if len(named) > 1:
        return entry.model_copy(update={"was_on": named[0], "on": named[1]})
    if named and said:
        return entry.model_copy(update={"was_on": named[0], "on": None})
    return entry


_SAYS_GAS = re.compile(r"\b(?:mix|gas|nitrox|ean\w*|o2|oxygen|blend|analy[sz]ed)\b", re.IGNORECASE)
_FIGURE = r"\d+(?:[.,]\d+)?"
_WRONG = re.compile(
    rf"(?:(?P<true>{_FIGURE})\s*(?:m|ft|feet|met(?:er|re)s?)?,?\s*(?:and\s+)?)?(?:(?<=[\dm] )no|\bnot|\binstead of|\brather than|\bfrom) (?:the |a )?(?P<not>{_FIGURE})(?!\d*(?:st|nd|rd|th)\b)"
    rf"|(?P<wrong>{_FIGURE})\s*(?:m|ft|feet|met(?:er|re)s?)?\s*(?:is|was) (?:wrong|a typo|a mistake|not right|my |his |her |their |some(?:one|body)|another )"
    rf"|\bthe (?P<the>{_FIGURE})\s*(?:m|ft|feet|met(?:er|re)s?|one)*\s*(?:was|is|should be|should have been|to)(?: really| actually| in fact)? (?=\d)",
    re.IGNORECASE,
)


_SWAPPED = re.compile(
    rf"\b{_FIGURE}\s*(?:m|ft|feet|met(?:er|re)s?|min\w*)?,? (?:not?|instead of|rather than) (?:the )?{_FIGURE}\s*(?:m|ft|feet|met(?:er|re)s?|min\w*)?(?=\s*(?:[,.;!)]|$|and\b|n\b|lol\b|sorry\b|please\b|pls\b))",
    re.IGNORECASE,
)


def puts_right_a_figure(text: str) -> bool:
    """Tell whether a text gives one figure for another: "yesterday was 16 not 14"."""
    return bool(_SWAPPED.search(in_figures(text)))


def _without_wrong(clause: Clause) -> tuple[float | None, Clause]:
    """Return the figure that a clause says was wrong, and the clause without the span of it, with one of what is true instead."""
    plain = in_figures(clause.text)
    for when in clause.of("when"):
        plain = plain.replace(when.text.casefold(), "-")
    told = _WRONG.search(plain)
    if told is None:
        return None, clause
    wrong = told["not"] or told["wrong"] or told["the"]
    gone = next(
        (
            s
            for s in clause.spans
            if s.slot in _FIGURES and values.numbers(s.text) == [float(wrong.replace(",", "."))]
        ),
        None,
    )
    spans = tuple(s for s in clause.spans if s is not gone)
    figures = [n for s in spans if s.slot in _FIGURES for n in values.numbers(s.text)]
    if told["true"] and float(told["true"].replace(",", ".")) not in figures:
        spans = (Span(gone.slot if gone else "depth", told["true"], clause.start, clause.start), *spans)
    return float(wrong.replace(",", ".")), replace(clause, spans=spans)


_SAYS_DEPTH = re.compile(r"\b(?:max|deep\w*|depth|bottom|m|metres|meters)\b", re.IGNORECASE)
_SAYS_WARMTH = re.compile(
    r"°|\b(?:degrees?|deg|grad|c|f|temp\w*|water|cold|warm|celsius|fahrenheit)\b", re.IGNORECASE
)
_TOO_WARM = 35


def _bare_depths(clause: Clause, was: float | None) -> Clause:
    """Return a clause in which a bare number that was taken for a temperature is the depth that it rather is."""
    if _SAYS_WARMTH.search(clause.text):
        cold = was is not None and not _SAYS_DEPTH.search(clause.text) and not clause.of("temp")
        bare = [s for s in clause.spans if s.slot in {"n", "depth"} and s.text.isdecimal()]
        if not cold or len(bare) != 1:
            return clause
        spans = tuple(replace(s, slot="temp") if s is bare[0] else s for s in clause.spans)
        return replace(clause, spans=spans)  # "temp 6 not 7"
    is_depth = was is not None or bool(_SAYS_DEPTH.search(clause.text))
    return replace(
        clause,
        spans=tuple(
            replace(s, slot="depth")
            if s.slot == "temp" and (is_depth or max(values.numbers(s.text), default=0) > _TOO_WARM)
            else s
            for s in clause.spans
        ),
    )


_FIGURES = frozenset({"n", "depth", "time", "temp"})
_COUNTED = re.compile(
    r"\s*(?:x\b|more\b|dives?\b|dips?\b|tanks?\b|times\b|of (?:them|those)\b|in (?:all|total)\b)",
    re.IGNORECASE,
)
_MOST_TOLD = 6
"""A bare number above that is no count of dives when something is put right: "no, fifteen"."""


def _bare(entry: LogDive, was: float | None, clause: Clause, scene: Scene) -> dict[str, object]:
    """Return what the figures that nothing is named for put right: a depth, unless what was wrong was something else."""
    counts = clause.of("n")
    stray = [n for n in counts if not _COUNTED.match(clause.text[n.end - clause.start :])]
    figures = entry.max_depth_m or entry.duration_min
    meant = values.count(stray[:1])
    found: dict[str, object] = {}
    few = meant is not None and max(meant, was or 0) <= _MOST_TOLD and not entry.which
    if counts and few:
        return {}
    if (
        counts
        and len(stray) == len(counts)
        and meant is not None
        and (was is not None or meant > _MOST_TOLD or entry.which)
    ):
        found = {"dives": None}
        if not figures:
            found["max_depth_m"] = values.depth_m((replace(stray[0], slot="depth"),), scene)
    elif was is not None and not figures and not counts and entry.min_temp_c is None:
        others = [n for n in values.numbers(clause.text) if n != was]
        if len(others) == 1:
            found = {"max_depth_m": values.depth_m((Span("depth", f"{others[0]:g}", 0, 0),), scene)}
    cold = entry.min_temp_c is not None and entry.max_depth_m is None
    if was is not None and not cold and (entry.max_depth_m or found.get("max_depth_m")):
        found["was_depth_m"] = values.depth_m((Span("depth", f"{was:g}", 0, 0),), scene)
    return found


_NUMBERED = {"first": "1", "1st": "1", "second": "2", "2nd": "2", "third": "3", "3rd": "3", "fourth": "4", "4th": "4", "fifth": "5", "5th": "5", "last": "last", "morning": "1", "afternoon": "last", "evening": "last", "night": "last", "deep": "deepest", "deeper": "deepest", "deepest": "deepest", "shallow": "shallowest", "shallower": "shallowest", "shallowest": "shallowest"}  # fmt: skip
_WHICH = re.compile(
    rf"\b(?P<nth>{'|'.join(_NUMBERED)})(?: (?:\w+ )?(?P<one>one|ones|dive|dip|of (?:the|those|them|that|my|today|yesterday|sat\w*|sun\w*|mon\w*|tue\w*|wed\w*|thu\w*|fri\w*)[\w']*)\b| (?:it )?(?:was|were|is|had|only|with|without)\b)|\bdive (?P<number>[1-5])\b(?! (?:min|m\b|\d))",
    re.IGNORECASE,
)


def which_of(text: str) -> str | None:
    """Return which of several entries words name: "the second dive", "the deep one". None if they name none."""
    told = _WHICH.search(text.replace("'s", "s"))
    if told is None:
        return None
    if told["number"]:
        return told["number"]
    if told["nth"].casefold() == "last" and (told["one"] or "").casefold() in {"one", "dive", ""}:
        return "last"
    return _NUMBERED[told["nth"].casefold()]


def remove(clause: Clause, scene: Scene) -> LogDive:
    """Return that an entry is to go: that of the day and depth named, or the last one. SenselessError for a day nobody can read."""
    whens = clause.of("when")
    on, _ = values.on_of(whens, scene, AHEAD)
    if whens and on is None:
        raise SenselessError(
            f"I cannot tell which day “{whens[0].text}” is, so I took nothing out. Say: delete the dive of 12 May."
        )
    depth = values.depth_m(clause.of("depth"), scene)
    if depth is None and (bare := _ONE_OF.search(in_figures(_THE_ONE.sub("the dive", clause.text)))):
        depth = values.depth_m((Span("depth", bare[1], 0, 0),), scene)
    whole = not depth and bool(_DIVES.search(clause.text))
    return LogDive(
        corrects=True,
        removes=True,
        was_on=on,
        max_depth_m=depth,
        which=which_of(clause.text) or ("all" if whole else None),
    )


_THE_ONE = re.compile(r"\b(?:the|that) (?:one|wan)\b", re.IGNORECASE)
_ONE_OF = re.compile(
    r"\b(?:one (?:of|to|at)|dive (?:of|to|at)|the) (\d{1,3})(?: ?(?:m|ft|feet|foot|footer|met(?:er|re)s?))?\b(?! (?:of|dives|jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec))(?!st|nd|rd|th)",
    re.IGNORECASE,
)
_DIVES = re.compile(r"\b(?:both|(?<!after )all|dives|those|them)\b(?! of)", re.IGNORECASE)


_NOT = re.compile(r"\b(?:not|instead of|rather than)\s+(?:on\s+)?$", re.IGNORECASE)
