"""Numbers with units in free text: depth, time, temperature, gas, counts. Each reader returns the value and the text left over."""

import re
from dataclasses import dataclass

from bot.understand.counts import count_of, read_count, read_single

DEEPEST_M = 350
LONGEST_MIN = 24 * 60
MOST_DIVES = 20
MOST_OF_TRIP = 400
_MOST_COUNTED = 1000
COLDEST_C, HOTTEST_C = -40, 60

_FOOT_M = 0.3048
_NUM = r"(-?(?<!\d)\d++(?:[.,]\d++)?)"
"""A whole number: none begins within another, and none is tried again with fewer digits."""

_HOUR_MIN = re.compile(
    r"\b(\d{1,2})\s*(?:h|hr|hrs|hours?)\s*(?:and\s*)?(\d{1,2})\s*(?:m|min|mins|minutes?)?\b(?!\s*(?:%|degrees?|c\b|f\b))"
)
_CLOCK = re.compile(r"(?<![\w:])(\d{1,2}):([0-5]\d)\s*(?:h|hr|hrs|hours?)\b")
_PRIME = re.compile(rf"(?<![\w.]){_NUM}\s*'(?!\w)")
"""A prime is minutes where the depth is in metres, and feet where it is not."""
_HOURS = re.compile(r"\b(\d++(?:[.,]\d++)?)\s*(?:h|hr|hrs|hours?)\b")
_WORD_HOURS = re.compile(
    r"\b(half an hour|three[- ]quarters of an hour|(?:an )?hour and a half|one and a half hours?|an hour|one hour|two hours|three hours)\b(?! ago)(?:\s+(?:and\s+)?(ten|a quarter|five|\d{1,2})\b(?!\s*(?:m\b|met|ft|feet|°|c\b|deg|%|dive)))?"
)
_WORD_HOURS_MIN = {
    "half an hour": 30,
    "three quarters of an hour": 45,
    "an hour": 60,
    "one hour": 60,
    "two hours": 120,
    "three hours": 180,
}
_MINUTES = re.compile(rf"{_NUM}\s*(?:min(?!e\b|es\b)\w*|mnts?|mn)\b")
_FEET = re.compile(rf"(?<![\w.]){_NUM}\s*(?:ft|feet|foot|fsw|')(?!\w)")
_METRES = re.compile(
    rf"(?<![\w.]){_NUM}\s*(?:m|mtr|mtrs|met(?:re|er)s?|msw)(?![\w'])(?!\s*(?:out\b|along\b|away\b|swim|distance|from (?:shore|the)|offshore))(?!\s*(?:vis|viz|visibility)\b(?! (?:nil|zero|bad|poor|ok|good|great|was)))"
)
_LISTED = re.compile(
    r"(?<![\w.])((?:(?:[6-9]|\d{2,3})(?:[.,]\d)?\s*(?:(?:and|&|\+|then|/)\s*|,\s+)){1,14}|(?:\d{2}\s+){2,14})(?=\d{1,3}(?:[.,]\d)?\s*(m|mtrs?|met(?:re|er)s?|ft|feet)\b)"
)
"""Depths that share one unit: "28 and 22 metres", "19 20 22 15m"."""
_FAHRENHEIT = re.compile(rf"(?<![\w.]){_NUM}\s*(?:°\s*f\b|f\b|deg\w*\s*f(?:ahrenheit)?\b|fahrenheit\b)")
_CELSIUS = re.compile(
    rf"(?<![\w.]){_NUM}\s*(?:°\s*c?\b|°|c\b|grad(?:en)?\b|deg\w*(?:\s*c(?:elsius)?)?\b|celsius\b)(?!\s*(?:elbow|swivel|adapt|turn|bend|angle|hose|fitting))"
)
_TEMP_RANGE = re.compile(
    rf"{_NUM}\s*(?:to|-|and)\s*{_NUM}\s*(°\s*[cf]?|[cf]\b|deg\w*(?:\s*[cf])?(?:elsius|ahrenheit)?)"
)
_TRIMIX = re.compile(r"\b(?:tx|tmx|trimix|triox|heliox)?\s*(\d{1,2})\s*/\s*(\d{2})\b(?!\s*/)")
_NITROX = re.compile(r"\b(?:ean|eanx|nx|nitrox|nitrox mix|enriched air)\s*-?\s*(?:of\s*)?(\d{2,3})\b\s*%?")
_NITROX_AFTER = re.compile(r"\b(\d{2})\s*(?:nitrox|ean|eanx)\b")
_PERCENT = re.compile(rf"(?<![\w.]){_NUM}\s*(?:%|percent\b|pct\b|per cent\b)")
_OXYGEN_N = re.compile(r"\b(?:oxygen|o2)\s+(\d{2,3})\b(?!\s*(?:m|min|ft|bar|dives?)\b)")
_DECO_N = re.compile(
    r"\b(?:deco|stage)\s+(\d{2,3})\b(?!\s*(?:m|min|ft|bar|dives?|al|alu|alumini?um|steel|cuft|cu|l|litres?|liters?)\b)"
)
_PURE = re.compile(
    r"\bpure (?:oxygen|o2)\b|\b(?:oxygen|o2) (?:deco|stage|cylinder|bottle|tank|rebreather|reg|regulator)\b|\b(?:on|with|and|plus|then) (?:oxygen|o2)\b(?! (?:cell|sensor|grease|oil|analyser|analyzer|clean))|\b(?:oxygen|o2) (?:for|at|from) \b"
)
_AIR = re.compile(
    r"\bair\b(?! (?:tank|cylinder|bottle|hose|fill|cell|bladder|spindle|leak|bubble|temp|temperature|spaces?)\b)"
)
_OUTDOORS = re.compile(r"(?<![\w.])(-\d{1,2})\b(?=\s+(?:on deck|outside|outdoors|in winter|ashore)\b)")
_BARE_TEMP = re.compile(
    r"\b(?:cold(?:est)?|water|bottom|min(?:imum)? temp(?:erature)?|(?:water )?temp(?:erature?)?|tmp|low of|down to)\s*(?:was|of|is|:|around|about)?\s*"
    r"(-?\d{1,2}(?:[.,]\d)?)\b(?!\s*(?:m\b|met|min|ft|feet|%|/|dive|dip|bar|l\b|x\b|time|x|h\b|hour|;))"
)

_HALF_DIVES = re.compile(
    r"(?<![\w.,:/-])(\d{1,2}[.,]\d|half a|one and a half|two and a half|1/2) dives?\b(?! ?(?:time|computer|light|no|#|:)?\s*\d)(?! (?:computer|light|time|day))"
)
_THOUSANDS = re.compile(r"(?<![\w.,])(\d{1,3}),(\d{3})(?= dives\b)")
_OF_TRIP = re.compile(r"\b(?:trips?|holidays?|vacation|liveaboard|expedition|safari)\b")
_FEW = r"(?P<n>\d{1,2}|one|two|three|four|five|six)"
_DIVED_N = re.compile(
    rf"\b(?:dived|dove|diving|been diving|did) (?:only |just |another |all )?{_FEW}(?=\s*(?:[;,.!]|$| (?:today|yesterday|salt\w*|fresh\w*|in the (?:sea|lake|ocean|pool|quarry|river)|and|with|this|on|times)\b))"
)
_DIVED_IN = re.compile(
    r"\b(?:dived|dove) (?P<n>[1-9]|one|two|three|four|five|six)(?= in (?!all\b|total\b)[a-z])"
)


class SenselessError(ValueError):
    """A number that cannot be: the message says kindly why."""


@dataclass
class Quantities:
    """What the numbers of one message say; `rest` is the text without them."""

    rest: str
    duration_min: int | None = None
    max_depth_m: float | None = None
    temps_c: tuple[float, ...] = ()
    o2_fraction: float | None = None
    dives: int | None = None
    unnumbered: bool = False
    """"Dive" was said, but no number: one, if anything was dived at all."""


def read_quantities(text: str) -> Quantities:
    """Read all quantities of a cleaned text; SenselessError where a number cannot be meant."""
    q = Quantities(text)
    _read_gas(q)
    _read_temperature(q)
    _read_dives(q)
    _read_duration(q)
    _read_depth(q)
    return q


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _take(q: Quantities, match: re.Match[str]) -> None:
    q.rest = q.rest[: match.start()] + " ; " + q.rest[match.end() :]


def _taken(q: Quantities, pattern: re.Pattern[str], left: str = " ; ") -> list[str]:
    """Take every figure of a kind out of the text and return them: one way through it, however many there are."""
    found, at = [], 0
    while m := pattern.search(q.rest, at):
        found.append(m.group(1))
        at = m.start() + len(left)
        q.rest = q.rest[: m.start()] + left + q.rest[m.end() :]
    return found


def _read_dives(q: Quantities) -> None:
    if _HALF_DIVES.search(q.rest):
        raise SenselessError("Only whole dives are logged: say 2 dives, or 3 dives.")
    text = q.rest = _THOUSANDS.sub(r"\1\2", q.rest)
    counted = read_count(text) or _read_bare(text)
    if counted is None:
        q.unnumbered = read_single(q.rest)
        q.dives = 1 if q.unnumbered else None
        return
    q.dives, q.rest = counted
    if q.dives > MOST_OF_TRIP and _OF_TRIP.search(text):
        raise SenselessError(f"{q.dives:,} dives on one trip is a lot: I plan up to {MOST_OF_TRIP}.")
    if not 1 <= q.dives <= _MOST_COUNTED:
        raise SenselessError(f"{q.dives} dives cannot be: a count from 1 to {MOST_DIVES} works.")


def _read_bare(text: str) -> tuple[int, str] | None:
    """Read the count of "dived 3 today", where no word for dives follows it."""
    told = _DIVED_N.search(text) or _DIVED_IN.search(text)
    return (count_of(told["n"]), f"{text[: told.start('n')]} dives {text[told.end() :]}") if told else None


def _read_duration(q: Quantities) -> None:
    minutes: float | None = None
    if (m := _HOUR_MIN.search(q.rest)) or (m := _CLOCK.search(q.rest)):
        minutes = int(m.group(1)) * 60 + int(m.group(2))
    elif m := _WORD_HOURS.search(q.rest):
        minutes = _WORD_HOURS_MIN.get(m.group(1).replace("-", " "), 90) + _more(m.group(2))
    elif m := _MINUTES.search(q.rest):
        minutes = _number(m.group(1))
    elif m := _HOURS.search(q.rest):
        minutes = _number(m.group(1)) * 60
    elif _METRES.search(q.rest) and (m := _PRIME.search(q.rest)):
        minutes = _number(m.group(1))
    if m is None or minutes is None:
        return
    if not 0 < minutes <= LONGEST_MIN:
        raise SenselessError(f"A dive of {minutes:g} minutes cannot be: up to {LONGEST_MIN} works.")
    q.duration_min = round(minutes)
    _take(q, m)


def _more(word: str | None) -> int:
    """Return the minutes beyond whole hours that were said."""
    if word is None:
        return 0
    return {"five": 5, "ten": 10, "a quarter": 15, "twenty": 20}.get(word) or int(word)


def _read_depth(q: Quantities) -> None:
    depths = []
    if shared := _LISTED.search(q.rest):
        factor = _FOOT_M if shared.group(2).startswith("f") else 1.0
        depths = [_number(n) * factor for n in re.findall(r"\d+(?:[.,]\d(?!\d))?", shared.group(1))]
        q.rest = q.rest[: shared.start(1)] + " " + q.rest[shared.end(1) :]
    for pattern, factor in ((_FEET, _FOOT_M), (_METRES, 1.0)):
        depths += [_number(n) * factor for n in _taken(q, pattern)]
    if not depths:
        return
    if not all(0 < d <= DEEPEST_M for d in depths):
        wrong = next(d for d in depths if not 0 < d <= DEEPEST_M)
        raise SenselessError(f"A depth of {wrong:g} m cannot be: up to {DEEPEST_M} m works.")
    q.max_depth_m = round(max(depths), 1)


def _read_temperature(q: Quantities) -> None:
    temps: list[float] = []
    if m := _TEMP_RANGE.search(q.rest):
        fahrenheit = "f" in m.group(3)
        temps = [_celsius(_number(g), fahrenheit) for g in m.groups()[:2]]
        _take(q, m)
    for pattern, fahrenheit in ((_FAHRENHEIT, True), (_CELSIUS, False)):
        temps += [_celsius(_number(n), fahrenheit) for n in _taken(q, pattern)]
    temps += map(_number, _taken(q, _OUTDOORS))
    if not temps and (m := _BARE_TEMP.search(q.rest)):
        temps.append(_number(m.group(1)))
        _take(q, m)
    for t in temps:
        if not COLDEST_C <= t <= HOTTEST_C:
            raise SenselessError(f"{t:g} °C cannot be: {COLDEST_C} to {HOTTEST_C} works.")
    q.temps_c = tuple(temps)


def _celsius(value: float, fahrenheit: bool) -> float:
    return round((value - 32) / 1.8, 1) if fahrenheit else value


def _read_gas(q: Quantities) -> None:
    percents: list[float] = []
    for pattern in (_TRIMIX, _NITROX, _NITROX_AFTER, _PERCENT, _OXYGEN_N, _DECO_N):
        left = " ; oxygen " if pattern is _OXYGEN_N else " ; deco " if pattern is _DECO_N else " ; "
        figures = [_number(n) for n in _taken(q, pattern, left)]
        if pattern in {_OXYGEN_N, _DECO_N}:  # "stage 80, 50 %": the 80 is its size
            figures = [] if percents else figures[:1]
        percents += figures
    if _PURE.search(q.rest):
        percents.append(100)
    if _AIR.search(q.rest) and not percents:
        percents.append(21)
    for p in percents:
        if not 4 <= p <= 100:
            raise SenselessError(f"{p:g} % oxygen cannot be: 4 to 100 works.")
    if percents:
        q.o2_fraction = round(max(percents) / 100, 3)
