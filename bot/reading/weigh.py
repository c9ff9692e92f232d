"""The learned reading against that of the older readers, until those are gone.

Where both see the same kind of thing in one clause, the older readers' detail is taken: they read dates, marks and figures that
were mended for years. Where they see different things the learned one decides, since on writers whom nobody has seen it is
right twice as often; an unsure one asks.
"""

import re
from collections.abc import Sequence

from bot.advice.substances import STUFF, Trait
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


def kinds_of(intent: Intent) -> frozenset[str]:  # noqa: PLR0911 - an intent each
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
        return frozenset(
            {"board"} if intent.board else {"why", "history"} if intent.why else {"due", "history"}
        )
    if isinstance(intent, ShowKit):
        return frozenset({"show_dives", "history"} if intent.dives else {"show_kit", "history"})
    if isinstance(intent, PlanTrip):
        return frozenset(
            {"drop_trip"} if intent.cancels else {"show_trip"} if intent.shows else {"trip", "fix_trip"}
        )
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
_FIGURES = ("max_depth_m", "duration_min", "min_temp_c")
_NO_IDEA = 0.5
"""Below this chance a guess is worth no button: it says that it did not understand."""
_SHORT = 5
"""Words of a command as it stands in the help: those are read by the letter."""


def told(intent: Intent) -> tuple[Intent, ...]:
    """Return every single act of an intent."""
    if isinstance(intent, Several):
        return tuple(act for one in intent.of for act in told(one))
    if isinstance(intent, LogDive):
        entries = (intent, *intent.also)
        bare = (one.model_copy(update={"also": (), "happened": ()}) for one in entries)
        return (*bare, *(act for entry in entries for one in entry.happened for act in told(one)))
    if isinstance(intent, RecordCare | AddItem):
        return (intent.model_copy(update={"also": ()}), *intent.also)
    return (intent,)


def says_more(learned: Intent, older: Intent) -> bool:
    """Tell whether the learned reading holds acts, pieces of kit or figures that the older one lacks."""
    new, old = told(learned), told(older)
    if any(isinstance(a, AddItem) and a.name for a in old):
        return False  # a name may hold anything
    if _pieces(new) != _pieces(old):
        return _pieces(new) > _pieces(old)
    dives = [[a for a in acts if isinstance(a, LogDive)] for acts in (new, old)]
    if len(dives[0]) != len(dives[1]):
        return False
    return any(getattr(n, f) and not getattr(o, f) for n, o in zip(*dives, strict=True) for f in _FIGURES)


def _pieces(acts: tuple[Intent, ...]) -> int:
    """Return how many single things are told; several entries of one dive count as the dives that they are."""
    care = {(a.task, a.test, a.happened, a.item) for a in acts if isinstance(a, RecordCare)}
    others = [a for a in acts if not isinstance(a, Misunderstood | RecordCare)]
    return len(care) + sum(
        a.count
        if isinstance(a, AddItem)
        else (a.dives or 1)
        if isinstance(a, LogDive) and not a.corrects
        else 1
        for a in others
    )


DECIDES = frozenset({"kit"})
"""Kinds of clause for which the learned reading may decide. It grows kind by kind, as conversations at first sight show it better."""
SURE = 0.8


def weighed(older: Intent, reading: Reading) -> Intent:
    """Return what a message is taken to mean, with the figures that were said and not used.

    Whatever its kind, a clause by which something that burns got on a part in breathing gas counts, and one that only speaks of it does not.
    """
    learned = reading.intent
    if isinstance(older, Misunderstood) and older.problem.startswith("Do not breathe"):
        return older
    if learned is not None and _taints(learned) and not _taints(older):
        told_so = next((a for a in told(learned) if isinstance(a, Ask) and a.question.happened), learned)
        return Several(of=(older, told_so)) if isinstance(older, LogDive | RecordCare) else told_so
    if _taints(older) and isinstance(learned, Misunderstood) and not learned.choices:
        return learned
    if (
        learned is None
        or isinstance(learned, Misunderstood)
        or reading.sure < SURE
        or not {c.kind for c in reading.clauses} <= DECIDES
    ):
        return older
    meant = _weighed(older, reading)
    if isinstance(meant, Misunderstood) and isinstance(older, Misunderstood) and not meant.suggestions:
        meant = meant.model_copy(update={"suggestions": older.suggestions})
    if not reading.unused or meant is older or isinstance(meant, Misunderstood | Ask):
        return meant
    of = meant.of if isinstance(meant, Several) else (meant,)
    return Several(of=of, unused=reading.unused)


def _weighed(older: Intent, reading: Reading) -> Intent:  # noqa: C901, PLR0911 - a rule each
    clauses, learned = reading.clauses, reading.intent
    kinds = {c.kind for c in clauses}
    agree = kinds <= _all_kinds(older) and all(_is_plain(c) for c in clauses)
    if clauses and _needs_the_letter(older, clauses):
        return older
    if learned is None:
        return older if agree or not clauses or not _records(older) else _unsure(clauses[0], older)
    if isinstance(older, Misunderstood) and older.problem != Misunderstood().problem:
        return older  # a number, a day or a wish that cannot be, each with its reason
    if isinstance(older, RecordCare) and older.happened and _is_of_unknown(learned):
        return older
    if _taints(learned) and not _taints(older):
        return learned
    if _goes_first(older, clauses):
        return older
    if "drop_dive" in kinds and not agree:
        return choose.asked([(c, "drop_dive", learned) for c in clauses if c.kind == "drop_dive"])
    if isinstance(learned, Misunderstood) and (kept := _of_unsure(older, learned, clauses)) is not None:
        return kept
    refuses = isinstance(learned, Misunderstood)
    if agree and not refuses and isinstance(older, RecordCare | LogDive) and _DENIES.search(clauses[0].text):
        return older  # what is denied of a part of it the older readers sort out by rule
    if agree and not refuses and not says_more(learned, older) and not _SPOKEN.search(clauses[0].text):
        return older
    return learned


_BY_THE_LETTER = frozenset({"forget", "export", "paper", "board", "drop_trip"})
"""What sends, deletes or draws: that is done for its own words only."""
_DENIES = re.compile(
    r"\b(?:not|no|never|but|except|apart from|other than|forgot|without|didn't|haven't|hasn't|won't|wasn't|isn't|being|will|tomorrow)\b",
    re.IGNORECASE,
)


def _needs_the_letter(older: Intent, clauses: Sequence[Clause]) -> bool:
    """Tell whether the learned reading would send, delete, retire or record what the older one read otherwise by rule."""
    kinds = {c.kind for c in clauses}
    if kinds & _BY_THE_LETTER and not kinds & _all_kinds(older):
        return True
    text = " ".join(c.text for c in clauses)
    if (
        kinds <= {"care"}
        and isinstance(older, ShowDue)
        and (_DENIES.search(text) or any(not _is_plain(c) for c in clauses))
    ):
        return True
    failed = isinstance(older, RecordCare) and older.happened is not None
    return (
        failed
        and kinds <= {"care", "mishap", "fact", "gone"}
        and bool(_DENIES.search(text) or "condemned" in text.casefold())
    )


_COMMANDS = (Export, ForgetMe, Help, SetPreference, ShareLocker, Snooze, Undo)


def _goes_first(older: Intent, clauses: Sequence[Clause]) -> bool:  # noqa: PLR0911 - a rule each
    """Tell whether the older reading is of what is read by the letter: a command in short, tests and stamps, days behind or ahead."""
    kinds = {c.kind for c in clauses}
    words = sum(len(c.text.split()) for c in clauses)
    if isinstance(older, ShowKit) and older.dives and not kinds & gates.RECORDS:
        return True
    if (
        len(clauses) == 1
        and isinstance(older, RecordCare)
        and kinds == {"care"}
        and len(clauses[0].of("act")) > 1
        and not _is_plain(clauses[0])
    ):
        return True  # part of it was done and part not: sorted out by rule
    if words <= _SHORT and (isinstance(older, _COMMANDS) or (isinstance(older, ShowDue) and older.board)):
        return True
    if kinds <= {"care", "fact", "kit"} and any(_of_law(a) for a in told(older)):
        several_tests = any(len(c.of("test")) > 1 for c in clauses)
        return several_tests or not any(c.flags & {"not", "if"} for c in clauses)
    if (
        kinds == {"care"}
        and isinstance(older, RecordCare)
        and older.happened is None
        and not any(map(gates.denies_act, clauses))
    ):
        flagged = frozenset().union(*(c.flags for c in clauses))
        if "not" in flagged and not flagged & {"will", "if", "they"}:
            return True  # "can't complain, serviced the regs"
    days = {"dive", "trip", "fix_trip"}
    if kinds <= days and isinstance(older, LogDive | PlanTrip):
        return True
    return kinds == {"answer"} and not isinstance(older, Misunderstood)


_LEGAL = (
    "hydro_due_on",
    "visual_due_on",
    "eddy_due_on",
    "made_on",
    "risk_assessed",
    "region",
    "alloy_6351",
    "special_permit",
)


def _of_law(act: Intent) -> bool:
    """Tell whether an act is of a cylinder's tests, whose months the older readers read by rule."""
    if isinstance(act, RecordCare):
        return act.test is not None or act.stamped or act.next_on is not None or act.made_on is not None
    return isinstance(act, AddItem) and any(getattr(act.facts, f) for f in _LEGAL)


def _of_unsure(older: Intent, learned: Misunderstood, clauses: Sequence[Clause]) -> Intent | None:
    """Return the older reading where the learned one records nothing, or would ask, and the older one may be taken; else None."""
    nothing_named = not any(c.spans for c in clauses)
    if (
        learned.choices
        and isinstance(older, Misunderstood)
        and (nothing_named or min(c.sure for c in clauses) < _NO_IDEA)
    ):
        return older
    if (
        isinstance(older, LogDive)
        and older.corrects
        and all(c.kind in {"fix_dive", "drop_dive"} for c in clauses)
    ):
        return older
    if learned.choices:
        return older if any(c.other in _all_kinds(older) for c in clauses) else None
    if isinstance(older, Misunderstood):
        return older if older.problem != Misunderstood().problem else None
    if isinstance(older, RecordCare) and all(c.kind == "care" and _is_plain(c) for c in clauses):
        return older
    return older if isinstance(older, ShowDue | Snooze) else None


_SPOKEN = re.compile(r"\bhundred\b", re.IGNORECASE)
"""Numbers that the older readers do not know."""


def _is_of_unknown(intent: Intent) -> bool:
    """Tell whether all that a reading says is that something nobody knows got on a part: "smoke from the battery"."""
    return isinstance(intent, Ask) and intent.question.happened and intent.question.substance is None


def _taints(intent: Intent) -> bool:
    """Tell whether an intent says that something got where it should not be, as a mishap or as care with a substance."""
    return any(
        (isinstance(a, Ask) and a.question.happened and a.question.substance is not None)
        or (
            isinstance(a, RecordCare) and a.substance is not None and Trait.BURNS in STUFF[a.substance].traits
        )
        for a in told(intent)
    )


def _all_kinds(intent: Intent) -> frozenset[str]:
    return frozenset().union(*(kinds_of(act) for act in told(intent)))


def _is_plain(clause: Clause) -> bool:
    """Tell whether nothing about how a clause is told speaks against what the older readers record."""
    return not clause.flags & {"not", "will", "if", "they"} or clause.kind not in gates.RECORDS - gates.PLANS


def _records(intent: Intent) -> bool:
    return bool(kinds_of(intent) & gates.RECORDS)


def _unsure(clause: Clause, older: Intent) -> Intent:
    kind = next(iter(sorted(kinds_of(older))))
    return choose.asked([(clause, kind, older)])
