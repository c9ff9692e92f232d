"""The learned reading against that of the older readers, until those are gone.

Where both see the same kind of thing in one clause, the older readers' detail is taken: they read dates, marks and figures that
were mended for years. Where they see different things the learned one decides, since on writers whom nobody has seen it is
right twice as often; an unsure one asks.
"""

import re

from bot.reading import choose, gates
from bot.reading.clauses import Clause
from bot.reading.read import Reading
from bot.understand.intents import (
    AddItem,
    Ask,
    Export,
    ForgetMe,
    Help,
    Intent,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RecordManual,
    RetireItem,
    SetPreference,
    Several,
    ShareLocker,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
)


def kinds_of(intent: Intent) -> frozenset[str]:
    """Return the kinds of clause that an intent may stand for."""
    if isinstance(intent, LogDive):
        return frozenset({"drop_dive"} if intent.removes else {"fix_dive"} if intent.corrects else {"dive"})
    if isinstance(intent, RecordCare):
        return frozenset({"mishap"} if intent.happened else {"care"})
    if isinstance(intent, AddItem):
        return frozenset({"fact"} if intent.of else {"kit"})
    if isinstance(intent, Ask):
        return frozenset({"ask", "mishap"} if intent.question.happened else {"ask"})
    if isinstance(intent, ShowDue):
        return frozenset({"board"} if intent.board else {"why", "history"} if intent.why else {"due", "history"})
    if isinstance(intent, ShowKit):
        return frozenset({"show_dives", "history"} if intent.dives else {"show_kit", "history"})
    if isinstance(intent, PlanTrip):
        return frozenset({"drop_trip"} if intent.cancels else {"show_trip"} if intent.shows else {"trip", "fix_trip"})
    if isinstance(intent, SetPreference):
        return frozenset({"word"} if intent.word else {"wish"})
    if isinstance(intent, Export):
        return frozenset({"paper", "export"})
    return _ONE.get(type(intent), frozenset())


_ONE: dict[type, frozenset[str]] = {
    RetireItem: frozenset({"gone"}),
    Snooze: frozenset({"snooze"}),
    RecordManual: frozenset({"manual"}),
    Undo: frozenset({"undo", "drop_dive"}),
    ShareLocker: frozenset({"share"}),
    ForgetMe: frozenset({"forget"}),
    Help: frozenset({"help"}),
    Misunderstood: frozenset({"chat", "other", "answer"}),
}
_BESIDE = frozenset({"intent", "also", "of", "happened", "refs", "said", "problem", "suggestions", "choices"})
"""Fields that hold other acts, or only say again what the rest says."""
_OF_AN_ACT = 2


def told(intent: Intent) -> tuple[Intent, ...]:
    """Return every single act of an intent."""
    if isinstance(intent, Several):
        return tuple(act for one in intent.of for act in told(one))
    if isinstance(intent, LogDive):
        entries = (intent.model_copy(update={"also": (), "happened": ()}), *intent.also)
        return (*entries, *(act for one in intent.happened for act in told(one)))
    if isinstance(intent, RecordCare | AddItem):
        return (intent.model_copy(update={"also": ()}), *intent.also)
    return (intent,)


def amount(intent: Intent) -> int:
    """Return how much an intent says: its acts and the fields that they fill."""
    acts = [a for a in told(intent) if not isinstance(a, Misunderstood)]
    return sum(_OF_AN_ACT + len(set(a.model_dump(exclude_defaults=True, mode="json")) - _BESIDE) + _facts(a) for a in acts)


def _facts(intent: Intent) -> int:
    return len(intent.facts.model_dump(exclude_none=True)) + intent.count - 1 if isinstance(intent, AddItem) else 0


def weighed(older: Intent, reading: Reading) -> Intent:
    """Return what a message is taken to mean, with the figures that were said and not used."""
    meant = _weighed(older, reading)
    if not reading.unused or meant is older or isinstance(meant, Misunderstood | Ask):
        return meant
    of = meant.of if isinstance(meant, Several) else (meant,)
    return Several(of=of, unused=reading.unused)


def _weighed(older: Intent, reading: Reading) -> Intent:
    clauses, learned = reading.clauses, reading.intent
    if learned is None:
        return older if not clauses or not _records(older) else _unsure(clauses[0], older)
    if _taints(learned) and not _taints(older):
        return learned
    kinds = {c.kind for c in clauses}
    agree = kinds <= _all_kinds(older) and all(_is_plain(c) for c in clauses)
    if agree and (amount(older) >= amount(learned) and not _SPOKEN.search(clauses[0].text)):
        return older
    return learned


_SPOKEN = re.compile(r"\bhundred\b", re.IGNORECASE)
"""Numbers that the older readers do not know."""


def _taints(intent: Intent) -> bool:
    return any(isinstance(a, Ask) and a.question.happened for a in told(intent))


def _all_kinds(intent: Intent) -> frozenset[str]:
    return frozenset().union(*(kinds_of(act) for act in told(intent)))


def _is_plain(clause: Clause) -> bool:
    """Tell whether nothing about how a clause is told speaks against what the older readers record."""
    return not clause.flags & {"not", "will", "if", "they"} or clause.kind not in choose.RECORDS - gates.PLANS


def _records(intent: Intent) -> bool:
    return bool(kinds_of(intent) & choose.RECORDS)


def _unsure(clause: Clause, older: Intent) -> Intent:
    kind = next(iter(sorted(kinds_of(older))))
    return choose.asked([(clause, kind, older)])
