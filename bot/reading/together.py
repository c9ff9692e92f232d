"""What the learned and the older reading make of the same thing, put together."""

import re
from collections.abc import Sequence

from bot.understand.intents import Intent, LogDive, RecordCare, Several


def together_of_dives(older: Intent, learned: Intent) -> Intent:
    """Return what both readings make of dives: days and ranges are the older one's, the figures of each dive the learned one's."""
    if isinstance(learned, Several) and isinstance(older, LogDive):
        dives = [i for i in learned.of if isinstance(i, LogDive)]
        if len(dives) != 1 or older.happened:
            return learned
        of = tuple(together_of_dives(older, i) if i is dives[0] else i for i in learned.of)
        return learned.model_copy(update={"of": of})
    if isinstance(older, LogDive) and isinstance(learned, LogDive) and older.corrects == learned.corrects:
        return _together(older, learned)
    return learned


def _together(older: LogDive, learned: LogDive) -> LogDive:
    if older.corrects and (older.was_on or older.removes):
        pointing = ("which", "was_depth_m", "max_depth_m")
        return older.model_copy(update={n: v for n in pointing if (v := getattr(learned, n)) is not None})
    days = [(older, *older.also), (learned, *learned.also)]
    if len(days[0]) > len(days[1]) and _dived(days[0]) >= _dived(days[1]):
        befell = any(d.happened for d in days[0])
        return older if befell else older.model_copy(update={"happened": learned.happened})
    if len(days[1]) > len(days[0]):
        return learned
    first, *rest = (_filled(new, old) for old, new in zip(*days, strict=True))
    return first.model_copy(update={"also": tuple(rest)})


def _dived(entries: Sequence[LogDive]) -> int:
    return sum(e.dives or 1 for e in entries)


def _filled(learned: LogDive, older: LogDive) -> LogDive:
    """Return an entry with what only the older reading found in it; which kit was dived it reads by rule."""
    had = {n: getattr(older, n) for n in _FILLED if getattr(learned, n) in {None, ()} and getattr(older, n)}
    moved = learned.was_on is not None and learned.on is not None
    had |= {
        n: value
        for n in ("on", "water")
        if (value := getattr(older, n)) is not None and not (moved and n == "on")
    }
    if learned.o2_fraction and older.o2_fraction:
        had["o2_fraction"] = max(learned.o2_fraction, older.o2_fraction)
    if older.items or older.without:
        had |= {n: getattr(older, n) for n in ("items", "without", "only")}
    if learned.corrects and (learned.which or learned.was_depth_m or (older.dives or 0) > _MOST_TOLD):
        had.pop("dives", None)
    if learned.each and older.dives and older.dives != len(learned.each):
        had["dives"] = learned.dives
    return learned.model_copy(update=had)


_MOST_TOLD = 6
"""A bare number above that is no count of dives when something is put right."""
_FILLED = (
    "dives", "on", "was_on", "water", "max_depth_m", "duration_min", "min_temp_c", "o2_fraction", "conditions", "happened",
)  # fmt: skip


def told_apart(older: Intent, learned: Intent) -> Intent:
    """Return the older reading of care with the items as the learned one names them, where that tells one from others: "the yellow reg"."""
    if not isinstance(older, RecordCare) or not isinstance(learned, RecordCare):
        return older
    if len(older.also) != len(learned.also):
        return older
    pairs = zip((older, *older.also), (learned, *learned.also), strict=True)
    first, *rest = (_with_its_words(old, new) for old, new in pairs)
    return first.model_copy(update={"also": tuple(rest)})


def _with_its_words(old: RecordCare, new: RecordCare) -> RecordCare:
    more = (new.item or "").casefold().removesuffix((old.item or "").casefold())
    same = old.item is not None and more != (new.item or "").casefold() and new.task is old.task
    return old.model_copy(update={"item": new.item}) if same and _TELLS_APART.search(more) else old


_TELLS_APART = re.compile(r"\b(?!(?:all|both|every|each|any|of|the|my|our|\w)\b)[a-z]\w+|^\d+ $")
