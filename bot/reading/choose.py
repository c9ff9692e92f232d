"""What to do with the readings of a message: act on them, ask with choices, or say what was not understood."""

import re
from collections.abc import Sequence

from bot.reading.clauses import Clause
from bot.reading.gates import RECORDS
from bot.understand.intents import Choice, Intent, LogDive, Misunderstood, RecordCare, Several

SURE_TO_ACT = 0.6
"""From which chance on a clause that records is acted on; below it is asked about. Measured on held-out writers."""
VERY_SURE = 0.9
SURE_TO_ANSWER = 0.4
"""The same for a clause that only asks: a wrong answer costs a line, a wrong record more."""

_KNOWN = frozenset({"n", "depth", "time", "when", "temp"})

LABELS: dict[str, str] = {
    "dive": "Log it as dived",
    "fix_dive": "Put the last dive right",
    "drop_dive": "Take a dive out",
    "kit": "Add it to my kit",
    "fact": "Note it of my kit",
    "gone": "It left my kit",
    "care": "Note it as done",
    "mishap": "It happened to my kit",
    "manual": "The manual says so",
    "trip": "Plan it as a trip",
    "fix_trip": "Change the trip",
    "drop_trip": "Cancel the trip",
    "snooze": "Put it off",
    "wish": "Set it",
    "word": "It is my own word",
    "share": "Share my kit",
    "forget": "Delete my data",
    "undo": "Take the last thing back",
    "ask": "I ask what goes on it",
    "due": "What is due",
    "why": "Why it is due",
    "history": "When it was last done",
    "show_kit": "Show my kit",
    "show_dives": "Show my dives",
    "show_trip": "Show my trip",
    "board": "Show the board",
    "paper": "A paper to print",
    "export": "My data as a file",
    "help": "What you can do",
}
"""What a button says that stands for a reading of that kind."""


_COUNTED = re.compile(
    r"\b(?:\d{1,2}|one|two|three|four|five|six|couple of) (?:\w+ )?(?:dives|dive|dips|tanks)\b|\b(?:twice|thrice)\b",
    re.IGNORECASE,
)
_PUTS_RIGHT = re.compile(
    r"\b(?:no|not|nope|was|were|is|it's|make|should|actually|sorry|wrong|forgot|rather|instead|only|correct\w*|change|both|all)\b",
    re.IGNORECASE,
)
_VERB = r"(?:delete|remove|erase|scrap|scratch|strike|forget|bin|drop|cancel|wipe|undo|take|scrub|kill|lose|chuck|get rid)"
_TAKES_OUT = re.compile(
    rf"\W*(?:(?:please|pls|no+|nah|nope|och|ach|ok|so|and|can you|could you|actually|oh|ah|sorry|wait|oops|just)\W+)*{_VERB}\b",
    re.IGNORECASE,
)
_ORDERS = re.compile(rf"\b{_VERB}\b(?! it (?:to|at|on)\b)|\b(?:not mine|duplicate|twice)\b", re.IGNORECASE)
_SURE_TO_TAKE_OUT = 0.95
_NEVER_WAS = re.compile(
    r"\b(?:never|wasn't|wasnt|was not|didn't|didnt|did not|not (?:me|mine|a)|mistake|wrong|off|out|one too many|twice|double|duplicate|not really|no dive)\b",
    re.IGNORECASE,
)


def is_sure(clause: Clause) -> bool:
    """Tell whether a clause is read surely enough to act on; a dive of which nothing is known never is."""
    known = any(s.slot in _KNOWN for s in clause.spans) or _COUNTED.search(clause.text)
    if clause.kind == "dive" and not known:
        return False
    if clause.kind == "drop_dive" and not _TAKES_OUT.match(clause.text):
        return (
            clause.sure >= _SURE_TO_TAKE_OUT and bool(_ORDERS.search(clause.text)) and not clause.of("place")
        )
    if clause.kind == "fix_dive" and not (
        _PUTS_RIGHT.search(clause.text) or any(s.slot not in {"n", "val"} for s in clause.spans)
    ):
        return False  # a bare figure corrects nothing
    return clause.sure >= (SURE_TO_ACT if clause.kind in RECORDS else SURE_TO_ANSWER)


def takes_out(clause: Clause, made: Intent | None) -> bool:
    """Tell whether a clause surely wants an entry out that it points at, wherever in it the verb stands."""
    pointed = isinstance(made, LogDive) and bool(made.max_depth_m or made.was_on or made.which)
    said = re.search(rf"\b{_VERB}\b", clause.text, re.IGNORECASE) or _NEVER_WAS.search(clause.text)
    return clause.kind == "drop_dive" and pointed and bool(said) and clause.sure >= SURE_TO_ACT


def asked(readings: Sequence[tuple[Clause, str, Intent]]) -> Misunderstood:
    """Return the question which of several readings was meant, each with its button."""
    choices = tuple(
        Choice(label=LABELS[kind], intent=intent) for _, kind, intent in readings if kind in LABELS
    )
    return Misunderstood(
        problem=f"{_quoted(readings[0][0])}: what shall I do with it? I noted nothing of it yet.",
        choices=choices,
    )


_LACKS: dict[str, str] = {
    "care": "what was that done to",
    "mishap": "what did it happen to, and what was it",
    "fact": "of which piece of kit is that",
    "gone": "which piece of kit is that",
    "kit": "which piece of kit is that",
    "manual": "which part is that of, and how often",
    "trip": "when is that",
    "fix_trip": "what of the trip is it",
    "fix_dive": "what of the dive is it",
    "wish": "what shall I set",
    "word": "what does the word stand for",
    "share": "who or what is that about",
}
"""What is asked of a clause whose kind is plain and that names too little."""


_MARKUP = re.compile(r"[\[\]{}<>`*\\|_]")


def lacking(clause: Clause) -> Misunderstood | None:
    """Return the question for what a clause does not name; None where nothing is recorded of its kind, or it is not sure."""
    asks = _LACKS.get(clause.kind)
    if (
        asks is None
        or clause.sure < SURE_TO_ACT
        or not (clause.spans or clause.kind == "care")
        or _MARKUP.search(clause.text)
    ):
        return None
    return Misunderstood(problem=f"{_quoted(clause)}: {asks}? I noted nothing of it yet.")


def _quoted(clause: Clause) -> str:
    said = clause.text.strip(" ,;")
    return f"“{said[:60]}{'…' if len(said) > 60 else ''}”"


def chained(acts: Sequence[RecordCare]) -> RecordCare:
    """Return acts told one after the other as one, the first holding the others."""
    flat = [one for act in acts for one in (act.model_copy(update={"also": ()}), *act.also)]
    return flat[0].model_copy(update={"also": tuple(flat[1:])})


def together(intents: Sequence[Intent]) -> Intent:
    """Return one intent that does all of several: care and mishaps told with one dive belong to its entry."""
    if len(intents) == 1:
        return intents[0]
    if all(isinstance(i, RecordCare) for i in intents):
        return chained([i for i in intents if isinstance(i, RecordCare)])
    dives = [i for i in intents if isinstance(i, LogDive) and not i.corrects]
    if len(dives) == len(intents) and not any(d.also for d in dives):
        return dives[0].model_copy(update={"also": tuple(dives[1:])})
    cares = [i for i in intents if isinstance(i, RecordCare)]
    if len(dives) == 1 and cares:
        first = chained(cares)
        dive = dives[0].model_copy(
            update={"happened": (*dives[0].happened, first.model_copy(update={"also": ()}), *first.also)}
        )
        rest = [i for i in intents if i is not dives[0] and not isinstance(i, RecordCare)]
        return Several(of=(dive, *rest)) if rest else dive
    return Several(of=tuple(one for i in intents for one in (i.of if isinstance(i, Several) else (i,))))
