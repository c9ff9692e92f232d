"""Clauses about trips: planned, changed, off, or asked to be shown."""

import re
from datetime import date, timedelta

from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.scene import Scene
from bot.understand.intents import Intent, Misunderstood, PlanTrip
from bot.understand.quantities import SenselessError
from bot.understand.spans import read_span
from bot.understand.trips import read_next_dive, read_trip, read_trip_wish
from store.vocabulary import Water

_ENDS = re.compile(
    r"\b(?:ends?|ending|until|till|til|stay\w*|home|back|return\w*|longer|extend\w*|last day)\b",
    re.IGNORECASE,
)
_BEGINS = re.compile(
    r"\b(?:begins?|starts?|starting|leav\w+|depart\w*|fly\w*|first day|from)\b", re.IGNORECASE
)
_UNTIL = re.compile(r"\b(?:until|till|til|to)\s+(?:the\s+)?$", re.IGNORECASE)
_SHIFT = re.compile(
    r"\b(?P<n>a|an|one|two|three|four|five|six|\d{1,2}) (?P<unit>day|week)s? (?P<way>later|earlier|back|forward|sooner|before|after)\b"
    r"|\b(?P<way3>earlier|later|forward|back)(?: by)? (?P<n3>a|an|one|two|three|four|five|six|\d{1,2}) (?P<unit3>day|week)s?\b"
    r"|\b(?:moved?|push\w*|shift\w*|postpon\w*|delay\w*|slip\w*)\b(?: \w+){0,3}? (?:by |back )*(?P<n2>a|an|one|two|three|four|five|six|\d{1,2}) (?P<unit2>day|week)s?\b",
    re.IGNORECASE,
)
_EARLIER = frozenset({"earlier", "sooner", "before", "forward"})
_KIT_ONLY = "A trip keeps its days, dives, water and warmth; what you take along I cannot change in it. The packing list names all of your kit."


def trip(clause: Clause, scene: Scene) -> Intent | None:
    """Return a trip that is planned; None if its days are not told. SenselessError for days behind."""
    m = scene.of(clause.text)
    if (read := read_trip_wish(m) or read_next_dive(m) or read_trip(m)) is not None:
        return read
    start, end = _days(clause.of("when"), scene)
    return _planned(clause, scene, start, end) if start is not None else None


def fix_trip(clause: Clause, scene: Scene) -> Intent | None:
    """Return what is changed of a trip: its days, by how much they move, dives, water or warmth; None if none is told."""
    text = clause.text
    until = [w for w in clause.of("when") if _UNTIL.search(text[: w.start - clause.start])]
    start, end = _days(tuple(until[:1]) or clause.of("when"), scene)
    if moved := _SHIFT.search(text):
        days = (values.one_count(moved["n"] or moved["n2"] or moved["n3"]) or 1) * (
            7 if "week" in moved.group().casefold() else 1
        )
        by = -days if (moved["way"] or moved["way3"] or "").casefold() in _EARLIER else days
        return PlanTrip(changes=True, by_days=by)
    if start is not None and end is None and _ENDS.search(text) and not _BEGINS.search(text):
        start, end = None, start
    changed = _planned(clause, scene, start, end).model_copy(update={"changes": True})
    if changed != PlanTrip(changes=True):
        return changed
    if clause.of("item") or clause.of("left"):
        return Misunderstood(problem=_KIT_ONLY)
    return None


def drop_trip(clause: Clause, scene: Scene) -> Intent:
    """Return that the trip is off, of several the one on the days that are named."""
    start, end = _days(clause.of("when"), scene)
    return PlanTrip.model_validate({"from": start, "to": end, "cancels": True})


def show_trip(_clause: Clause, _scene: Scene) -> Intent:
    """Return the wish to see the trip and what to pack."""
    return PlanTrip(shows=True)


def _planned(clause: Clause, scene: Scene, start: date | None, end: date | None) -> PlanTrip:
    temps = values.temps_c(clause.of("temp"), scene, clause.text)
    return PlanTrip.model_validate(
        {
            "from": start,
            "to": end,
            "dives": _dives(clause),
            "water": next((Water(w) for w in clause.ids("water")), None),
            "min_temp_c": min(temps, default=None),
            "max_temp_c": max(temps) if len(temps) > 1 else None,
        }
    )


_OF_DIVES = re.compile(
    r"\s*(?:more |extra |deep |easy |big |cold |cave |wreck |boat |shore |night |\w+ )?(?:dives?|dips?|tanks?)\b",
    re.IGNORECASE,
)


def _dives(clause: Clause) -> int | None:
    """Return the dives of a trip, never days or people: a number that dives stand behind, or the only one."""
    told = clause.of("n")
    of_dives = [n for n in told if _OF_DIVES.match(clause.text[n.end - clause.start :])]
    bare = not of_dives and len(told) == 1 and told[0].end >= clause.end - 1
    return values.count(of_dives[:1] or (told[:1] if bare else []))


def _days(whens: tuple[Span, ...], scene: Scene) -> tuple[date | None, date | None]:
    """Return the first and the last day that spans say, ahead of today; the last is None for a single day."""
    found: list[date] = []
    for when in whens:
        said = values.ordinals_in_figures(when.text)
        m = scene.of(said)
        if m.future.span is not None:
            found += m.future.span
        elif (span := read_span(m.mended, scene.today)) is not None:
            found += [d for d in (span.start, span.end) if d]
        elif (bare := _BARE_DAYS.fullmatch(said.strip())) is not None:
            found += _of_numbers([int(n) for n in bare.groups() if n], scene.today)
        elif m.future.on is not None:
            found.append(m.future.on)
    ahead = [d for d in found if d >= scene.today]
    if found and not ahead:
        raise SenselessError(f"{found[0]:%d %B %Y} lies behind us: give a trip ahead, or log its dives.")
    return (min(ahead), max(ahead) if len(set(ahead)) > 1 else None) if ahead else (None, None)


_BARE_DAYS = re.compile(
    r"(?:from |the )*(\d{1,2})(?:st|nd|rd|th)?\.?(?:\s*(?:-|to|till|until)\s*(?:the )?(\d{1,2})(?:st|nd|rd|th)?\.?)?",
    re.IGNORECASE,
)


def _of_numbers(numbers: list[int], today: date) -> list[date]:
    """Return days of the month as the next such days."""
    found: list[date] = []
    for number in numbers:
        after = found[-1] if found else today
        on = next(
            (after + timedelta(days=n) for n in range(62) if (after + timedelta(days=n)).day == number), None
        )
        found += [on] if on else []
    return found
