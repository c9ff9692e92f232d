"""Reads acts of care that were done: which, on what, with what, when."""

import re
from datetime import date

from bot.advice.question import PartRef
from bot.understand.cylinders import TASK_OF, cut_next, tests_of
from bot.understand.dates import OLDEST
from bot.understand.groups import cut_exception, mentions_of, of_group, only_names, words_of_items
from bot.understand.intents import RecordCare
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.stamps import cut_made, spelled_out, test_made
from bot.understand.undone import fails_test, sort_out
from bot.understand.vocabulary import PAST_TASKS
from store.catalogue import CATALOGUE
from store.vocabulary import Substance, Task

_WAS_DONE = re.compile(r"\b(?:done|finished|did)\b")


def read_care(m: Message) -> RecordCare | None:
    """Read acts of care that were done. Several told in one breath are kept apart, the first holding the others.

    What is told as not done, not known or still ahead is no care; a message that tells a failed test tells none besides.
    """
    fitted = is_fitted(m)
    m, but = cut_exception(m)
    sorted_out = sort_out(m)
    if sorted_out.done is None or fails_test(m) or _tells_dives_apart(m):
        return None
    but = (*but, *mentions_of(sorted_out.undone))
    named = first(m.item_mentions) if sorted_out.undone else None
    made_on, m = cut_made(test_made(spelled_out(sorted_out.done)))
    next_on, m = cut_next(m)
    told = _acts(m)
    if not told and (fitted or is_fitted(m)):
        told = [_fitted(m)]
    if not told:
        return None
    first_item = next((act.item for act in told if act.item and not act.everything), None)
    if first_item is None and not any(act.refs for act in told):
        first_item = named
    acts = [_completed(act, m, first_item, made_on, next_on) for act in told]
    if any(_TECHNICIAN.search(clause.plain) for clause in sorted_out.undone):
        acts = [act.model_copy(update={"by_technician": False}) for act in acts]
    acts = [act.model_copy(update={"but": but}) if act.everything else act for act in acts]
    return acts[0].model_copy(update={"also": tuple(acts[1:])})


def _completed(
    act: RecordCare,
    m: Message,
    item: str | None,
    made_on: date | None,
    next_on: date | None,
) -> RecordCare:
    """Give an act what was said once for all: the day, the item, the date on what was put in, the next due month."""
    day = {} if act.on else {"on": m.past.on, "month_only": m.past.on is not None and m.past.month_only}
    made = {"made_on": made_on} if act.task is Task.REPLACE else {}
    due = {"next_on": next_on} if act.test else {}
    if act.everything:
        return act.model_copy(update={**day, **due})
    return act.model_copy(update={**day, **made, **due, "item": act.item or item})


def _acts(m: Message) -> list[RecordCare]:
    """Read each act on each item: a clause that only names an item shares the act beside it."""
    clauses = [m.again(clause) for clause in _AND.split(m.text) if clause]
    told = [(clause, act) for clause in clauses if (act := read_act(clause)) or only_names(clause)]
    acts = [act for _, act in told if act]
    if len(acts) < _SEVERAL:
        whole = read_act(m)
        each = [whole, *_other_tests(m, whole)] if whole else []
        if not each or len(told) < _SEVERAL or each[0].everything:
            apart = acts[0] if acts and acts[0].item and not acts[0].everything else None
            return [of_group(_own(act, apart) if apart else act, m) for act in each]
        on = [
            _on_named(each[0], clause) if act is None else of_group(_own(each[0], act), clause)
            for clause, act in told
        ]
        return [
            one.model_copy(update={"test": act.test, "task": act.task})
            for one in _topical(on, told)
            for act in each
        ]
    return _shared(told)


_SEVERAL = 2


def _shared(told: list[tuple[Message, RecordCare | None]]) -> list[RecordCare]:
    """Give each clause that only names an item the act told before it, or the first one after it."""
    found: list[RecordCare] = []
    waiting: list[Message] = []
    for clause, act in told:
        if act is None and not found:
            waiting.append(clause)
        elif act is None:
            found.append(_on_named(found[-1], clause))
        else:
            done = of_group(act, clause)
            row: list[tuple[Message, RecordCare | None]] = [(w, None) for w in waiting]
            found += _topical([*(_on_named(done, w) for w in waiting), done], [*row, (clause, done)])
            waiting = []
    return found


def _topical(acts: list[RecordCare], told: list[tuple[Message, RecordCare | None]]) -> list[RecordCare]:
    """Of "regs, wing: rinsed" keep the items named; of "housing, ring greased" the ring, of that housing."""
    own = [n for n, (_, act) in enumerate(told) if act]
    if not own or acts[own[0]].item or acts[own[0]].everything:
        return acts
    act, others = acts[own[0]], [a for n, a in enumerate(acts) if n not in own]
    if not act.refs:
        return others or acts
    items = [a for a in others if a.item and not a.refs]
    return [act.model_copy(update={"item": items[0].item, "kind": items[0].kind})] if items else acts


def _own(whole: RecordCare, act: RecordCare) -> RecordCare:
    """Return the act as the whole message tells it, on what its own clause names."""
    of_clause = ("item", "kind", "part", "refs")
    return whole.model_copy(update={name: getattr(act, name) for name in of_clause})


def _on_named(act: RecordCare, clause: Message) -> RecordCare:
    """Return the same act on what another clause names."""
    parts = read_refs(clause) if any(said - words_of_items(clause) for said in clause.parts.values()) else ()
    day = {"on": clause.past.on, "month_only": clause.past.month_only} if clause.past.on else {}
    named = act.model_copy(
        update={
            "item": first(clause.item_mentions),
            "kind": first(clause.kinds),
            "refs": parts,
            "part": part_words(parts),
            "everything": False,
            **day,
        }
    )
    return of_group(named, clause)


_DIVES = re.compile(
    r"\b(?:dives?|dived|dove|dips?)\b(?! (?:computer|light|torch|bag|knife|kit|gear|reel|watch)s?\b)"
)
_NO_TELLING = re.compile(r"^(?:after|since|before|from|for|following|last|every|between)\b")
_DIVE_TOLD = re.compile(r"\b(?:did|had|made|dived|dove|logged|done)\b")


def _tells_dives_apart(m: Message) -> bool:
    """Tell whether a clause of its own logs dives, whose reader takes the care along."""
    clauses = (m.again(clause) for clause in _AND.split(m.text) if clause)
    return any(tells_dive(clause) and not clause.tasks for clause in clauses)


def tells_dive(m: Message) -> bool:
    """Tell whether a clause logs a dive rather than dates care by one: "after 2 dives"."""
    if not _DIVES.search(m.plain) or _NO_TELLING.match(m.plain):
        return False
    q = m.quantities()
    counted = q.dives is not None and not q.unnumbered
    figures = counted or q.max_depth_m or q.duration_min or q.temps_c or m.waters
    return bool(figures or _DIVE_TOLD.search(m.plain))


def _other_tests(m: Message, act: RecordCare) -> list[RecordCare]:
    """Read "hydro and visual done May 2024": one act a test."""
    named = tests_of(m, act.task)
    return [act.model_copy(update={"test": test, "task": TASK_OF[test]}) for test in named[1:]]


_FITTED = re.compile(
    r"^(?:i |we |just |got |put |fitted |installed |there are |there is |has |have |with |a |some |set of )*(?:new|fresh|brand new) (?P<part>[\w' -]+?) (?:in|into|inside|on|onto|to|fitted to|fitted in|for)\b (?:the |my |our )*(?P<item>[\w' -]+)"
)


def is_fitted(m: Message) -> bool:
    """Tell whether a part is told as new in its item: "new cells in the rebreather"."""
    if _is_fresh(m):
        return True
    found = _FITTED.match(m.plain)
    part = m.again(found["part"]) if found else None
    if (
        found is None
        or part is None
        or part.kinds
        or not (part.parts or ("oring" in part.tokens and m.parts))
    ):
        return False
    where = m.again(found["item"])
    return bool(where.item_mentions or where.parts)


_FRESH = re.compile(
    r"^(?:i |we |just |got |put in |put |fitted |installed |some |a )*(?:new|fresh) (?P<part>[\w' -]+?) (?:today|yesterday|fitted|installed|put|last|on|in|this)\b"
)


def _is_fresh(m: Message) -> bool:
    """Tell whether a part is told as new on some day: "new cells yesterday"."""
    found = _FRESH.match(m.plain)
    return bool(found and m.past.on and not m.kinds and m.again(found["part"]).parts)


def _fitted(m: Message) -> RecordCare:
    """Read a new part in its item as replaced."""
    refs = read_refs(m)
    return RecordCare(
        task=Task.REPLACE,
        item=first(m.item_mentions),
        part=part_words(refs),
        refs=refs,
        kind=first(m.kinds),
        on=m.past.on,
        month_only=m.past.month_only,
    )


_AND = re.compile(r"\s*(?:\band\b|\bthen\b|[,;&+]|\.\s)\s*")


def read_act(m: Message) -> RecordCare | None:
    """Read one act of care; None if none is told. SenselessError for a date that cannot be."""
    if _NOT_DONE.search(m.plain):
        return None
    dated = bool(m.tasks) and _tells_past(m)
    past = [hit for hit in m.tasks if _is_past(m, hit, dated=dated)]
    applied = re.match(
        r"^(?:i |we |just |have |i've |ive |already |then )*(?:put|used|applied|rubbed|smeared)\b",
        m.plain,
    )
    told = (
        m.substances and (m.parts or m.item_mentions) and (_APPLIED.search(m.plain) or m.said[-1] == "done")
    )
    if not past and not (applied and m.substances and (m.parts or m.item_mentions)) and not told:
        return None
    everything = bool(_EVERYTHING.search(m.plain)) and not m.parts and not m.item_mentions
    if not (
        m.parts or m.item_mentions or everything or _TESTED.search(m.plain) or _BEGINS_DONE.search(m.plain)
    ):
        return None
    task = _task(past) if past else _task_of(first([s for _, _, s in m.substances]))
    test = first(tests_of(m, task))
    on = _day_told(m)
    substance = first([s for a, b, s in m.substances if not _is_task_word(m, a, b)])
    refs = read_refs(m)
    return RecordCare(
        task=TASK_OF[test] if test else task,
        item=first(m.item_mentions),
        part=part_words(refs),
        substance=substance or (Substance.TALC if task is Task.POWDER else None),
        on=on,
        refs=refs,
        kind=first(m.kinds),
        by_technician=by_technician_said(m, task),
        everything=everything,
        month_only=on is not None and m.past.month_only,
        test=test,
    )


def _day_told(m: Message) -> date | None:
    """Return the day of an act; SenselessError for one that cannot be."""
    on = m.past.on
    if on is not None and on > m.today:
        raise SenselessError(f"{on:%d %B %Y} lies ahead: tell me once it is done.")
    if on is not None and on < OLDEST:
        raise SenselessError(f"{on:%d %B %Y} is before this kit was made: check the year.")
    if on is None and re.search(r"\b(?:19|20)\d\d\b", m.past.rest):
        raise SenselessError("I read a year there but no date. Say it like: twinset hydro tested May 2024.")
    return on


def read_refs(m: Message) -> tuple[PartRef, ...]:
    """Return the parts that the words name best, in the order of the catalogue."""
    strongest = max(map(len, m.parts.values()), default=0)
    named = (ref for ref, said in m.parts.items() if len(said) == strongest)
    return tuple(sorted(named, key=lambda r: (r.item, r.part)))


_NOT_DONE = re.compile(
    r"^(?:so |and |but )?(?:if|what if|when|suppose|unless|until|once|should|would|could)\b|\b(?:didn't|didnt|did not|haven't|havent|have not|hasn't|has not|wasn't|was not|never|not yet|no technician|failed|fails|condemned|(?:must|should|shall|has to|have to|needs? to|ought to|can) be)\b"
)
"""Care that was not done, or only thought of."""
_TECHNICIAN = re.compile(
    r"\b(?:technician|tech|workshop|service cent(?:re|er)|shop|professionally|engineer)\b"
)
_OXYGEN_CLEANED = re.compile(r"\b(?:was|is|been|got|had|came back|\w+) oxygen clean(?:ed)?\b")
_BY_HAND = re.compile(
    r"\b(?:myself|my own|by me|at home|ourselves|without|instead of|no|not|isn't|video|buddy|friend|wife|husband|mate|partner|kid|son|daughter)\b"
    r"|^(?:i|we|just|already|done|and|then|rinsed|cleaned|washed|oxygen|serviced)\b(?! (?:had|got|have had|took|brought|sent|picked))"
)
"""The diver's own hands, or nobody's: what the law of the trade asks of a technician was not done by one."""


def by_technician_said(m: Message, task: Task) -> bool:
    """Tell whether a technician did it, as far as is said; a service in the passive ("was serviced") is a workshop's."""
    if _TECHNICIAN.search(m.plain) and not _NOBODY.search(m.plain):
        return True
    passive = task is Task.SERVICE or bool(_OXYGEN_CLEANED.search(m.plain))
    return passive and not _BY_HAND.search(m.plain)


_NOBODY = re.compile(
    r"\b(?:without|instead of|no|not|isn't|video|unlike|watched|like) (?:an? |the |my )?(?:\w+ )?(?:technician|tech|workshop|shop|engineer)\b|\b(?:technician|tech) video\b"
)


_EVERYTHING = re.compile(r"\b(?:kit|gear|everything|all of it|the lot|equipment|all my stuff)\b")
_TESTED = re.compile(
    r"\b(?:hydro|visual|vip|viz|vis|eddy|t[uü]v|inspection|service|sensor|cell|sorbent|scrubber)\w*\b"
)


_HAVE = re.compile(r"\b(?:have|has|i've|ive|we've|just|did|finished|already)(?: \w+)?$")


_APPLIED = re.compile(r"\b(?:rubbed|applied|smeared|wiped|dabbed|worked) (?:on|in|into|onto|along|over)\b")
_BEGINS_DONE = re.compile(
    r"^(?:i |we |just |have |i've |ive |already )*(?:cleaned|brushed|scrubbed|washed|greased|lubed|lubricated|waxed|powdered|talced|rinsed|dried|disinfected"
    r"|serviced|calibrated|inspected|tested)\b"
)


_AHEAD = re.compile(r"\b(?:due|overdue|needs?|next|expires?|book(?:ed)?|appointment)\b")


def _is_past(m: Message, hit: tuple[int, int, Task], *, dated: bool) -> bool:
    run = m.said_run(hit[0], hit[1])
    if any(w in PAST_TASKS for w in run):
        return True
    if hit[0] and _HAVE.search(" ".join(m.said[max(0, hit[0] - 2) : hit[0]])):
        return True
    return dated and not _TEST_NOUNS.isdisjoint(run)


_TEST_NOUNS = frozenset(
    "service hydro visual test calibration inspection overhaul rebuild vip eddy hydrotest tuv tüv sorbent check".split()
)
_HAD = re.compile(r"\b(?:had|passed|back from|came back|stamped|through|complete|completed|last|fresh|new)\b")


def _tells_past(m: Message) -> bool:
    """Tell whether the message as a whole makes a test or a service named in it one that was done."""
    if _AHEAD.search(m.plain):
        return False
    return bool(_WAS_DONE.search(m.plain) or m.past.on is not None or _HAD.search(m.plain))


def _task(past: list[tuple[int, int, Task]]) -> Task:
    """Pick the act: a test or service named as a noun goes before "done" or "had it checked"."""
    for wanted in (Task.TEST, Task.SERVICE):
        if any(task is wanted for _, _, task in past):
            return wanted
    return past[0][2]


def _task_of(substance: Substance | None) -> Task:
    if substance is Substance.TALC:
        return Task.POWDER
    cleaners = {Substance.SOAPY_WATER, Substance.FRESH_WATER, Substance.WHITE_VINEGAR}
    if substance in cleaners:
        return Task.CLEAN
    return Task.DISINFECT if substance is Substance.DISINFECTANT else Task.LUBRICATE


def _is_task_word(m: Message, start: int, end: int) -> bool:
    return end - start == 1 and m.tokens[start] in {"powder", "wax", "oil", "talc"} and start == 0


def part_words(refs: tuple[PartRef, ...]) -> str | None:
    """Return the name of the first part, None if there is none."""
    return CATALOGUE[refs[0].item].part(refs[0].part).name if refs else None
