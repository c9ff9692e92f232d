"""Reads what is told of a cylinder: which test was done, which is due, and facts of its own."""

import re
from datetime import date

from bot.understand.intents import AddItem, RecordCare
from bot.understand.lexicon import canonical
from bot.understand.message import Message, first
from bot.understand.places import region_of
from bot.understand.quantities import SenselessError
from bot.understand.stamps import TESTS, Mark, made_of, marks_of, named_test, text_without, without_told
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import CylinderTest, ItemKind, Task

TASK_OF: dict[CylinderTest, Task] = {
    CylinderTest.HYDROSTATIC: Task.TEST,
    CylinderTest.EDDY_CURRENT: Task.TEST,
    CylinderTest.VISUAL: Task.INSPECT,
    CylinderTest.VALVE: Task.SERVICE,
}
_NO_HYDRO = re.compile(r"\b(?:flow|leak|bubble|function|soak|burn|dip) ?test")
_VALVE_TESTED = re.compile(
    r"\bvalves? (?:(?:was|were|is|got|been|being|all|function) )*(?:tested|checked)\b|\btested (?:the |its |their )?valves?\b"
)
_INSPECTION = re.compile(r"\binspection\b")


def is_cylinders(m: Message) -> bool:
    """Tell whether a message speaks of cylinders only, by kind or by a part of theirs; no item named counts too."""
    if m.kinds:
        return any(CATALOGUE[kind].tested for kind in m.kinds)
    return not m.parts or any(CATALOGUE[ref.item].tested for ref in m.parts)


def tests_of(m: Message, task: Task | None) -> tuple[CylinderTest, ...]:
    """Return the tests of a cylinder that an act of care was, the more telling first; none if it was something else."""
    if not is_cylinders(m) or task not in {Task.TEST, Task.INSPECT, Task.SERVICE}:
        return ()
    named = tuple(test for test, words in TESTS if words.search(m.plain))
    if named and task is not Task.SERVICE:
        return named
    of_cylinder = any(CATALOGUE[kind].tested for kind in m.kinds)
    if task is Task.TEST and _VALVE_TESTED.search(m.plain):
        return (CylinderTest.VALVE,)
    if task is Task.TEST:
        return (CylinderTest.HYDROSTATIC,) if of_cylinder and not _NO_HYDRO.search(m.plain) else ()
    if task is Task.INSPECT:
        return (CylinderTest.VISUAL,) if of_cylinder and _INSPECTION.search(m.plain) else ()
    return (CylinderTest.VALVE,) if "valve" in m.tokens else ()


_TESTED = re.compile(r"\b(?:tested|done|passed|hydro'?e?d|inspected|visualed|did|had)\b")


def read_marks(m: Message) -> AddItem | RecordCare | None:
    """Read a next due date told or stamped as a fact of the cylinder, and a bare past stamp as a test.

    None if neither is told, or if care is told besides, whose reader asks `cut_next`.
    """
    marks = marks_of(m)
    if not marks or not _is_of_cylinder(m) or _tells_test(m, marks):
        return None
    due = [mark for mark in marks if not mark.stamped or mark.on > m.today]
    if not due:
        return _stamped(m, marks[0])
    past = [mark for mark in marks if mark not in due]
    if past:
        return _stamped(m, past[0]).model_copy(update={"stamped": False, "next_on": due[0].on})
    return AddItem(kind=_kind(m), of=first(m.item_mentions) or "cylinder", facts=ItemFacts(**_due_facts(due)))


def _stamped(m: Message, mark: Mark) -> RecordCare:
    return RecordCare(
        task=TASK_OF[mark.test],
        test=mark.test,
        item=first(m.item_mentions),
        kind=first(m.kinds),
        on=mark.on,
        month_only=mark.month_only,
        stamped=True,
    )


def cut_next(m: Message) -> tuple[date | None, Message]:
    """Return the next due date told, and the message without it; None where none is."""
    marks = [mark for mark in marks_of(m) if not mark.stamped or mark.on > m.today]
    if not marks or not _is_of_cylinder(m) or not _tells_test(m, marks):
        return None, m
    return marks[0].on, m.again(text_without(m.mended, *marks))


def _tells_test(m: Message, marks: list[Mark]) -> bool:
    """Tell whether a test that was done is told beside the months stamped or due."""
    rest = m.again(text_without(m.mended, *marks))
    dated = rest.past.on is not None and rest.past.on <= m.today and named_test(rest.plain) is not None
    return dated or bool(_TESTED.search(rest.plain))


def _is_of_cylinder(m: Message) -> bool:
    if not is_cylinders(m):
        return False
    named = bool(m.kinds or m.own_names) or named_test(m.plain) is not None
    return named or "stamp" in m.tokens or bool(re.search(r"\bstamp", m.plain))


def _kind(m: Message) -> ItemKind | None:
    return next((kind for kind in m.kinds if CATALOGUE[kind].tested), None)


_DUE_FACT = {CylinderTest.VISUAL: "visual_due_on", CylinderTest.EDDY_CURRENT: "eddy_due_on"}


def _due_facts(due: list[Mark]) -> dict[str, date]:
    facts: dict[str, date] = {}
    for mark in due:
        facts.setdefault(_DUE_FACT.get(mark.test, "hydro_due_on"), mark.on)
    return facts


_NEGATED = r"\b(?:no|not|isn't|isnt|without|hasn't|never|non)\b(?: an?| the| any| of| under)* "
_FLAGS: tuple[tuple[str, bool, re.Pattern[str]], ...] = (
    ("alloy_6351", True, re.compile(r"\b(?:aa ?)?6351(?: ?t6)?\b")),
    ("alloy_6351", False, re.compile(r"\b(?:aa ?)?(?:6061|7060|7075|7032)(?: ?t6)?\b")),
    (
        "special_permit",
        True,
        re.compile(r"\b(?:special permit|exemption|dot sp|permit cylinder|sp cylinder)\b"),
    ),
    ("risk_assessed", True, re.compile(r"\brisk ?assess(?:ed|ment)\b")),
)
_TESTED_IN = re.compile(
    r"(?P<before>\b(?:was|got|had|just|been|last) )?\b(?:tested|registered|certified|approved|inspected|stamped|tests?|requalified|hydro(?: tested|ed)?)(?: (?:and|or) \w+)? (?:only |always )?(?:in|by the law of|under) (?:the )?(?P<where>[a-z]+(?: [a-z]+)?)\b"
)


def read_told(m: Message) -> ItemFacts:
    """Read what is told of a cylinder itself; nothing filled where nothing is. SenselessError for a date that cannot be."""
    facts: dict[str, object] = {}
    for name, value, words in _FLAGS:
        if found := words.search(m.plain):
            denied = re.search(_NEGATED + "$", m.plain[: found.start()])
            facts.setdefault(name, value != bool(denied))
    if made := made_of(m):
        if made.on > m.today:
            raise SenselessError(f"{made.on:%B %Y} lies ahead: nothing is made then yet.")
        facts["made_on"] = made.on
    tested = _TESTED_IN.search(without_told(m).plain)
    undated = without_told(m).past.on is None
    if (
        tested
        and (not tested["before"] or (undated and tested["before"] == "was "))
        and (region := region_of(tested["where"]))
    ):
        facts["region"] = region
    due = [mark for mark in marks_of(m) if not mark.stamped or mark.on > m.today]
    return ItemFacts.model_validate(facts | _due_facts(due))


_IS = re.compile(r"\b(?:is|are|gets?|always|registered|certified)\b")
_JUST_DONE = re.compile(r"\b(?:had|got|just|been|have|has|having|now|finally|again|passed|done)\b")
_NOT_A_FACT = re.compile(
    r"^(?:add|new|got|register|track|show|list|sold|delete|remove|snooze|remind)\b|\b(?:bought|picked up)\b"
)


def read_cylinder(m: Message) -> AddItem | RecordCare | None:
    """Read what is told of a cylinder of the kit: its next test, its stamp, or a fact of its own."""
    if _NOT_A_FACT.search(m.plain):
        return None
    if marked := read_marks(m):
        return marked
    named = _cylinder_named(m)
    rest = without_told(m)
    if named is None or m.substances or rest.past.on:
        return None
    if rest.tasks and not _TESTED_IN.search(m.plain) and not _FLAGGED.search(m.plain):
        return None
    told = read_told(m)
    if told == ItemFacts(region=told.region) and not _IS.search(m.plain) and _JUST_DONE.search(m.plain):
        return None
    return AddItem(kind=_kind(m), of=named, facts=told) if told != ItemFacts() else None


_FLAGGED = re.compile("|".join(words.pattern for _, _, words in _FLAGS))


def _cylinder_named(m: Message) -> str | None:
    """Return the one cylinder a message names, as said; of "the stage is an exemption cylinder" the stage."""
    if any(not CATALOGUE[kind].tested for kind in m.kinds):
        return None
    telling = [
        word for word in m.item_mentions if canonical((word.split() or [""])[-1]) != "cylinder"
    ] or m.item_mentions
    return telling[0] if len(telling) == 1 else None
