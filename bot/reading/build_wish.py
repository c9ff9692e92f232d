"""Clauses that wish for a setting, or tell what a word of the diver's own stands for."""

import re
from datetime import time

from bot.reading.clauses import Clause
from bot.reading.link import kind_of, mention_in, refs_of, substance_of
from bot.reading.scene import Scene
from bot.understand.intents import AddItem, Intent, SetPreference
from bot.understand.places import region_of, zone_of_place
from bot.understand.preferences import read_own_word, read_preference
from bot.understand.text import visible
from store.vocabulary import Units

_OFF = re.compile(
    r"\b(?:off|of|stop|no|never|not|end|quit|enough|without|cancel|mute|silence|shut)\b", re.IGNORECASE
)
_FEET = re.compile(r"feet|foot|imperial|fahren|\bft\b|\bf\b|psi|american", re.IGNORECASE)
_LIGHT = re.compile(r"\b(?:light|white|bright|normal)\b|\b(?:not|no) dark\b|\bdark off\b", re.IGNORECASE)
_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_DAY = re.compile(r"\b(mon|tue|wed|thu|fri|sat|sun)\w*", re.IGNORECASE)
_HOURS = re.compile(r"\d[\d:.h]*\s*(?:am|pm)?|\b(?:noon|midnight)\b", re.IGNORECASE)
_BEFORE = re.compile(r"\b(?:before|until|till)\s*(?:\w+\s)?$", re.IGNORECASE)


def wish(clause: Clause, scene: Scene) -> Intent | None:  # noqa: PLR0911 - a setting each
    """Return the setting that is wished for; None if its value is not told. SenselessError for hours that do not exist."""
    if (read := read_preference(scene.of(clause.text))) is not None:
        return read
    vals = {s.id: s.text for s in clause.of("val") if s.id}
    if "board" in vals or re.search(
        r"\b(?:weekly|every week|every \w+day)\b.*\b(?:picture|board|overview)\b", clause.text
    ):
        return _board(clause)
    if "units" in vals:
        return SetPreference(units=Units.IMPERIAL if _FEET.search(vals["units"]) else Units.METRIC)
    if place := vals.get("country") or vals.get("zone") or vals.get("place"):
        return _place(place.casefold(), country="country" in vals)
    if "quiet" in vals:
        return _quiet(clause, vals["quiet"], scene)
    if "hour" in vals:
        return read_preference(scene.of(f"reminders at {vals['hour']}"))
    if "dark" in vals:
        return SetPreference(dark=not _LIGHT.search(clause.text))
    if "off" in vals or "on" in vals:
        return SetPreference(reminders="on" in vals)
    named = re.search(r"\b(?:remind\w*|messag\w*|nag\w*|ping\w*|notif\w*)\b", clause.text, re.IGNORECASE)
    return (
        SetPreference(reminders=False)
        if named and _OFF.search(clause.text) and len(clause.text) < _SHORT
        else None
    )


_SHORT = 60


def _board(clause: Clause) -> SetPreference:
    """Return on which day the board comes by itself; Sunday where none is named."""
    day = _DAY.search(clause.text)
    if day is None and _OFF.search(clause.text):
        return SetPreference(board_day="never")
    named = next((d for d in _DAYS if day and d.startswith(day[1].casefold())), "sunday")
    return SetPreference.model_validate({"board_day": named})


def _place(place: str, *, country: bool) -> SetPreference | None:
    region, zone = region_of(f"in {place}"), zone_of_place(place)
    if country and region:
        return SetPreference(region=region)
    return SetPreference(zone=zone, region=None if zone else region) if zone or region else None


def _quiet(clause: Clause, said: str, scene: Scene) -> SetPreference | None:
    """Return the hours in which nothing is sent: two of the clock; one alone begins or ends the night at ten and seven."""
    hours = [m.group() for m in _HOURS.finditer(said)]
    if len(hours) > 1:
        return read_preference(scene.of(f"quiet hours {hours[0]} to {hours[1]}"))
    read = read_preference(scene.of(f"reminders at {said}"))
    if read is None or read.digest_at is None:
        return None
    at = next(s for s in clause.of("val") if s.id == "quiet")
    ends = _BEFORE.search(clause.text[: at.start - clause.start]) or said.casefold().startswith("before")
    night = (time(22), read.digest_at) if ends else (read.digest_at, time(7))
    return SetPreference(quiet_from=night[0], quiet_to=night[1])


def word(clause: Clause, scene: Scene) -> Intent | None:
    """Return what a word of the diver's own stands for: a substance, a part, or an item of the kit, which then goes by that name."""
    if (read := read_own_word(scene.of(clause.text))) is not None:
        return read
    named = next((visible(s.text).strip(" \"'“”‘’").casefold()[:30] for s in clause.of("name")), None)
    if not named or "?" in clause.text:
        return None
    if stuff := next((s for span in clause.of("stuff") if (s := substance_of(span, scene))), None):
        return SetPreference(word=named, substance=stuff)
    item = next((s for s in clause.of("item") if s.id not in {"it", "all"} and kind_of(s, scene)), None)
    of = mention_in(item, clause, scene) if item else None
    for part in clause.of("part"):
        if refs := refs_of(part, of, scene, kind_of(item, scene) if item else None):
            return SetPreference(word=named, part=refs[0])
    return AddItem(kind=kind_of(item, scene), of=of, name=named) if item and of else None
