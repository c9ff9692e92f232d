"""The learned reading against that of the older readers, until those are gone.

Where both see the same kind of thing in one clause, the older readers' detail is taken: they read dates, marks and figures that
were mended for years. Where they see different things the learned one decides, since on writers whom nobody has seen it is
right twice as often; an unsure one asks.
"""

import re
from collections.abc import Sequence

from bot.reading import choose, gates
from bot.reading.acts import kinds_of, told
from bot.reading.burns import is_of_unknown, of_what_burns
from bot.reading.clauses import Clause
from bot.reading.read import Reading
from bot.reading.together import together_of_dives, told_apart
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
    RetireItem,
    SetPreference,
    Several,
    ShareLocker,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
)
from store.vocabulary import ItemKind, Task

_NO_IDEA = 0.5
"""Below this chance a guess is worth no button: it says that it did not understand."""
_SHORT = 5
"""Words of a command as it stands in the help: those are read by the letter."""


def says_more(learned: Intent, older: Intent) -> bool:
    """Tell whether the learned reading holds more acts or pieces of kit than the older one."""
    new, old = told(learned), told(older)
    if any(isinstance(a, AddItem) and a.name for a in old):
        return False  # a name may hold anything
    return _pieces(new) > _pieces(old)


def _lists_as_much(learned: Intent, older: Intent) -> bool:
    """Tell whether both read the same kinds of kit, so that only what is said of them differs, and nothing that only the older one keeps is lost."""
    if not isinstance(learned, AddItem) or not isinstance(older, AddItem) or older.unread:
        return False
    new, old = (
        sorted(str(a.kind) for a in told(i) if isinstance(a, AddItem) for _ in range(a.count))
        for i in (learned, older)
    )
    kept = any(isinstance(a, AddItem) and (a.name or a.done) for a in told(older)) or any(
        map(_of_law, told(older))
    )
    return new == old and not kept


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


def weighed(older: Intent, reading: Reading) -> Intent:
    """Return what a message is taken to mean, with the figures that were said and not used.

    Whatever its kind, a clause by which something that burns got on a part in breathing gas counts, and one that only speaks of it does not.
    """
    if isinstance(older, Snooze) and not _puts_off(reading.clauses):
        older = Misunderstood()
    if (safest := of_what_burns(older, reading)) is not None:
        return safest
    meant = _weighed(older, reading)
    if reading.lacking and (meant is reading.intent or meant == Misunderstood(suggestions=_tips(meant))):
        meant = _with_questions(meant, reading)
    if isinstance(meant, Misunderstood) and isinstance(older, Misunderstood) and not meant.suggestions:
        meant = meant.model_copy(update={"suggestions": older.suggestions})
    if not reading.unused or meant is older or isinstance(meant, Misunderstood | Ask):
        return meant
    of = meant.of if isinstance(meant, Several) else (meant,)
    return Several(of=of, unused=reading.unused)


def _puts_off(clauses: Sequence[Clause]) -> bool:
    """Tell whether a wish to be reminded later may be meant: a word or two, or a clause that is likely one."""
    words = sum(len(c.text.split()) for c in clauses)
    return words <= 2 or any("snooze" in {c.kind, c.other} for c in clauses)


def _tips(intent: Intent) -> tuple[str, ...]:
    return intent.suggestions if isinstance(intent, Misunderstood) else ()


def _with_questions(meant: Intent, reading: Reading) -> Intent:
    """Return what is meant with the questions for what some clauses do not name, so that nothing told is passed over in silence."""
    acts = [a for a in (meant.of if isinstance(meant, Several) else (meant,)) if not _is_nothing(a)]
    of = (*acts, *reading.lacking)
    return of[0] if len(of) == 1 else Several(of=of)


def _is_nothing(intent: Intent) -> bool:
    return isinstance(intent, Misunderstood) and intent.problem == Misunderstood().problem


def _weighed(older: Intent, reading: Reading) -> Intent:  # noqa: C901, PLR0911, PLR0912 - a rule each
    clauses, learned = reading.clauses, reading.intent
    kinds = {c.kind for c in clauses}
    agree = kinds <= _all_kinds(older) and all(_is_plain(c) for c in clauses)
    if (isinstance(older, ShareLocker) and older.code) or (clauses and _needs_the_letter(older, clauses)):
        return older
    if (
        isinstance(older, Misunderstood)
        and kinds & gates.RECORDS
        and any(_CODE.search(c.text) for c in clauses)
    ):
        return older
    if (
        learned is None
        and reading.lacking
        and not agree
        and reading.sure >= _VERY_SURE
        and not _records(older)
    ):
        return reading.lacking[0]
    if learned is None:
        return older if agree or not clauses or not _records(older) else _unsure(clauses[0], older)
    if isinstance(older, Misunderstood) and older.problem != Misunderstood().problem:
        fits = not isinstance(learned, Misunderstood) and reading.sure >= _VERY_SURE
        dated = isinstance(learned, LogDive) and learned.on is not None
        if not (fits and _makes_sense(older.problem, clauses, dated=dated)):
            return older  # a wish that cannot be, with its reason
    if isinstance(older, RecordCare) and older.happened and is_of_unknown(learned):
        return older
    if isinstance(learned, Ask) and reading.sure < _NO_IDEA and isinstance(older, Misunderstood):
        return older
    senseless = isinstance(learned, Misunderstood) and not learned.choices
    if (
        senseless
        and isinstance(learned, Misunderstood)
        and not gates.is_aside(learned.problem)
        and isinstance(older, LogDive)
        and all(_is_plain(c) for c in clauses)
        and kinds <= _OF_DIVES
    ):
        return older  # its days and numbers make sense as they are read by rule
    partly = isinstance(learned, Several) and any(
        isinstance(a, Misunderstood) and "lies ahead" in a.problem for a in learned.of
    )
    if partly and kinds == {"care"} and reading.sure >= _VERY_SURE and not any(c.of("test") for c in clauses):
        return learned  # part of it was done, and part of it is still to do
    if _goes_first(older, clauses) or (isinstance(older, ShowDue) and any(map(gates.is_guessed, clauses))):
        return older
    if isinstance(learned, Misunderstood) and (kept := _of_unsure(older, learned, clauses)) is not None:
        return kept
    refuses = isinstance(learned, Misunderstood)
    if kinds & _OF_DIVES and not refuses:
        return together_of_dives(older, learned) if agree else learned
    if isinstance(older, RetireItem) and isinstance(learned, RetireItem):
        return older.model_copy(update={"one": learned.one})
    rented = any(re.search(r"\brent\w*", c.text, re.IGNORECASE) for c in clauses)
    if kinds == {"kit"} and agree and not refuses and (rented or _lists_as_much(learned, older)):
        return learned
    leaves_out = any(isinstance(a, RecordCare) and a.but for a in told(learned))
    if (
        agree
        and not refuses
        and not leaves_out
        and isinstance(older, RecordCare | LogDive)
        and _DENIES.search(clauses[0].text)
    ):
        return older  # what is denied of a part of it the older readers sort out by rule
    if (
        agree
        and not refuses
        and not says_more(learned, older)
        and (kinds != {"care"} or _says_the_same(learned, older))
    ):
        return told_apart(older, learned)
    return learned


_CODE = re.compile(r"[{}<>\[\]\\`|^~$]|://|=\S|--(?:\s|$)|['\"]\)|\);")
"""Signs of markup and code: nothing is recorded of what the encoder makes of them."""
_VERY_SURE = 0.9
_OF_A_FIGURE = re.compile(r"[4-9]\d °C cannot be|^-\d+ dives cannot be|dives in one entry|^As I read it")
"""What the older readers find senseless where the clauses make sense each for itself: "every 300 dives", "84 degrees" beside feet, "the rest tomorrow"."""


def _makes_sense(problem: str, clauses: Sequence[Clause], *, dated: bool) -> bool:
    """Tell whether what the older readers find senseless makes sense clause by clause: a day ahead is of another clause than what was done."""
    if not any(c.kind in gates.RECORDS for c in clauses):
        return False
    return bool(_OF_A_FIGURE.search(problem)) or ((len(clauses) > 1 or dated) and "lies ahead" in problem)


def _fails(clauses: Sequence[Clause]) -> bool:
    """Tell whether something is told of the diver's own kit that was not passed, or was condemned."""
    return not any("they" in c.flags and c.sure >= _VERY_SURE for c in clauses)


def _says_the_same(learned: Intent, older: Intent) -> bool:
    """Tell whether the older reading of care holds the same acts on the same kinds of kit, or what the learned one lacks."""
    new, old = ([a for a in told(i) if isinstance(a, RecordCare)] for i in (learned, older))
    if any(a.everything and a.item for a in old) or (
        any(a.happened for a in old) and not any(a.happened for a in new)
    ):
        return True
    if len(new) != len(old):
        return False
    return all(
        (a.task == b.task or {a.task, b.task} == _CHECKS)
        and (a.happened, a.everything) == (b.happened, b.everything)
        and (_kind(a) in {_kind(b), None} | _all_of(b) or (bool(b.refs) and not a.refs))
        for a, b in zip(new, old, strict=True)
    )


_CHECKS = {Task.INSPECT, Task.TEST}


def _kind(act: RecordCare) -> ItemKind | None:
    return act.kind or next((r.item for r in act.refs), None)


def _all_of(act: RecordCare) -> set[ItemKind]:
    return {r.item for r in act.refs}


_OF_DIVES = frozenset({"dive", "fix_dive", "drop_dive"})


_BY_THE_LETTER = frozenset({"forget", "export", "paper", "board", "drop_trip"})
"""What sends, deletes or draws: done for its own words, or for others that are very surely read. Deleting asks twice by itself."""
_DENIES = re.compile(
    r"\b(?:not|no|never|but|except|apart from|other than|forgot|without|didn't|haven't|hasn't|won't|wasn't|isn't|being|will|tomorrow)\b",
    re.IGNORECASE,
)


def _needs_the_letter(older: Intent, clauses: Sequence[Clause]) -> bool:
    """Tell whether the learned reading would send, delete, retire or record what the older one read otherwise by rule."""
    kinds = {c.kind for c in clauses}
    if kinds & _BY_THE_LETTER and not kinds & _all_kinds(older):
        return not all(_may_be_sent(c) for c in clauses if c.kind in _BY_THE_LETTER)
    text = " ".join(c.text for c in clauses)
    if (
        kinds <= {"care"}
        and isinstance(older, ShowDue)
        and (_DENIES.search(text) or any(not _is_plain(c) for c in clauses))
    ):
        return True
    failed = isinstance(older, RecordCare) and older.happened is not None and _fails(clauses)
    return (
        failed
        and kinds <= {"care", "mishap", "fact", "gone"}
        and bool(_DENIES.search(text) or "condemned" in text.casefold())
    )


_OF_DATA = re.compile(
    r"\b(?:data|account|about|know|hold|history|stored?|consent|erase|everything (?:u|you|i)\b|all (?:u|you)\b|(?:my|under) \w*name|me|from me)\b",
    re.IGNORECASE,
)
_KEEPS = re.compile(r"\b(?:don't|dont|do not|never|not)\b|\bimport\b", re.IGNORECASE)


def _may_be_sent(clause: Clause) -> bool:
    """Tell whether what is sent, deleted or called off may be so on the learned reading alone: surely read, not denied, more than two or three words."""
    if clause.sure < _VERY_SURE or clause.flags & {"not", "if", "they"} or _KEEPS.search(clause.text):
        return False
    if clause.kind == "drop_trip":
        return (
            not clause.of("item")
            and not clause.of("part")
            and (len(clause.text.split()) >= _SHORT or bool(clause.of("place")))
        )
    return len(clause.text.split()) >= _SHORT and (
        clause.kind != "forget" or bool(_OF_DATA.search(clause.text))
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
        and clauses[0].flags & {"not"}
        and not clauses[0].flags & {"they", "if", "will"}
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
    if kinds <= {"trip", "fix_trip"} and isinstance(older, PlanTrip):
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
    nothing_named = not any(s.slot not in {"n", "val"} for c in clauses for s in c.spans)
    if (
        learned.choices
        and isinstance(older, Misunderstood)
        and (nothing_named or min(c.sure for c in clauses) < _NO_IDEA)
    ):
        return older
    if learned.choices:
        return older if any(c.other in _all_kinds(older) for c in clauses) else None
    if isinstance(older, Misunderstood):
        return older if older.problem != Misunderstood().problem else None
    if isinstance(older, RecordCare) and all(c.kind == "care" and _is_plain(c) for c in clauses):
        return older
    kinds = {c.kind for c in clauses}
    return (
        older
        if isinstance(older, ShowDue)
        and not kinds & {"dive", "trip", "kit", "mishap"}
        and min(c.sure for c in clauses) < _VERY_SURE
        else None
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
