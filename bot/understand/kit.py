"""Reads what is said of the kit itself: retired, shown, cared for, and what its manual says."""

import re

from bot.advice.question import PartRef
from bot.understand.counts import count_of
from bot.understand.dates import OLDEST
from bot.understand.intents import RecordCare, RecordManual, RetireItem, ShowDue, ShowKit
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.stuff import manual_substances, mentions_manual
from bot.understand.vocabulary import NUMBERS, PAST_TASKS
from store.catalogue import CATALOGUE
from store.vocabulary import (
    Substance,
    Task,
)

_RETIRE = re.compile(
    r"\b(?:sold|retire|retired|get rid of|got rid of|remove|delete|threw away|thrown away|scrapped|lost my|lost the|gave away|given away|binned|no longer have|don't have|dont have|(?<!a )(?<!one )(?<!the )drop(?! of\b)|gone|flogged|thrown out|threw out|chucked|stolen|took out|take out|take .* (?:out|off)|is dead|is gone|is no more)\b"
)
_THROWN_AWAY = re.compile(
    r"^(?:i |we |have |just )*(?:sold|threw away|threw out|binned|scrapped|gave away|retired?|delete) (?:the |my |our |an? |old )*(?P<what>[a-z]+)\b(?= ;|$|,| delete| from| and| today| yesterday)"
)
_KIT = re.compile(
    r"^(?:list|show)(?: of| me)? everything\b|^(?:show |list |see |view |display |me |what's in |whats in |what is in |what do i have in |open |my |the |tell me )*(?:all )?(?:my |our |the )?(?:kit|gear|equipment|locker|items|stuff|inventory|kit list|dive count|dives)\b(?: list)?|\bwhat (?:kit|gear|equipment|items) (?:do i|have i|did i|is)\b|\bhow many dives\b|\bwhat's in my (?:kit|locker|bag)\b|\bwhat have i got\b|\bwhat do i own\b|\bwhat gear\b|\bwhat's in the locker\b"
)
_SHOW_ALL = re.compile(
    r"\b(?:show|list|see)(?: me)?(?: all| everything)?(?: of| in| the| my| our)* (?:kit|gear|equipment|locker|items)\b"
)
_SHOW = re.compile(r"^(?:please |can you |pls )*(?:show|list|display|view|see)\b")
_DUE = re.compile(
    r"\bdue\b|\boverdue\b|\bto do\b|\btodo\b|\bwhat needs\b|\bwhat must i\b|\bwhat should i do\b|\bwhat's next\b|\bwhats next\b|\bwhat is next\b|\bcoming\b|\bwhen (?:is|was|does|do) (?:\w+ ){0,4}(?:service|serviced|test|tested|hydro|visual|inspection|cleaned|greased|next|last|need)|\bupcoming\b|\bout of date\b|\bneeds doing\b|\bneeds? (?:servicing|greasing|cleaning|testing|attention|care|looking after|maintenance)\b|\banything (?:i need|to do|due|needs?)\b|\bneed attention\b|\bneeds attention\b|\bcheck list\b|\bchecklist\b|\bwhat do i (?:need|have) to do\b|\bmaintenance\b",
)
_WAS_DONE = re.compile(r"\b(?:done|finished|did)\b")
_TEST_WORDS = {
    "hydro": Task.TEST,
    "hydrostatic": Task.TEST,
    "visual": Task.INSPECT,
    "service": Task.SERVICE,
    "serviced": Task.SERVICE,
}
_EVERY = re.compile(
    rf"\bevery (\d{{1,4}}|{'|'.join(NUMBERS)})?\s*(dive|day|week|month|year)s?\b|\b(once a year|yearly|annually|twice a year)\b"
)


def read_retire(m: Message) -> RetireItem | None:
    """Read that an item has left the kit."""
    if _RETIRE.search(m.plain) and m.item_mentions:
        return RetireItem(item=m.item_mentions[0])
    if (gone := _THROWN_AWAY.search(m.plain)) and m.again(gone.group("what")).parts:
        return RetireItem(item=gone.group("what"))
    return None


def read_show(m: Message) -> ShowKit | ShowDue | None:
    """Read a wish to see the kit or what is due."""
    if _DUE.search(m.plain) and not re.search(r"\bhow often\b", m.plain):
        span = m.future.span
        asked = next((task for word, task in _TEST_WORDS.items() if word in m.tokens), None)
        return ShowDue(item=first(m.item_mentions), until=span[1] if span else m.future.on, task=asked)
    if _KIT.search(m.plain) or _SHOW_ALL.search(m.plain) or (_SHOW.match(m.plain) and m.item_mentions):
        return ShowKit(item=first(m.item_mentions))
    return None


def read_care(m: Message) -> RecordCare | None:
    """Read acts of care that were done: which, on what, with what, when. Several told in one breath are kept apart."""
    told = [act for clause in _AND.split(m.text) if (act := read_act(m.again(clause)))]
    if len(told) < 2:
        return read_act(m)
    first_item = next((act.item for act in told if act.item), None)
    acts = [
        act.model_copy(update={"on": act.on or m.past.on, "item": act.item or first_item}) for act in told
    ]
    return acts[0].model_copy(update={"also": tuple(acts[1:])})


_AND = re.compile(r"\s*(?:\band\b|\bthen\b|[,;&+]|\.\s)\s*")


def read_act(m: Message) -> RecordCare | None:
    """Read one act of care; None if none is told. SenselessError for a date that cannot be."""
    if _NOT_DONE.search(m.plain):
        return None
    past = [hit for hit in m.tasks if _is_past(m, hit)]
    applied = re.match(
        r"^(?:i |we |just |have |i've |ive |already |i just |then )*(?:put|used|applied|rubbed|smeared)\b",
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
    on = m.past.on
    if on is not None and on > m.today:
        raise SenselessError(f"{on:%d %B %Y} lies ahead: tell me once it is done.")
    if on is not None and on < OLDEST:
        raise SenselessError(f"{on:%d %B %Y} is before this kit was made: check the year.")
    if on is None and re.search(r"\b(?:19|20)\d\d\b", m.past.rest):
        raise SenselessError("I read a year there but no date. Say it like: twinset hydro tested May 2024.")
    substance = first([s for a, b, s in m.substances if not _is_task_word(m, a, b)])
    refs = tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    strongest = max(map(len, m.parts.values()), default=0)
    refs = tuple(r for r in refs if len(m.parts[r]) == strongest)
    return RecordCare(
        task=task,
        item=first(m.item_mentions),
        part=_part_words(refs),
        substance=substance or (Substance.TALC if task is Task.POWDER else None),
        on=on,
        refs=refs,
        kind=first(m.kinds),
        by_technician=_by_technician(m, task),
        everything=everything,
    )


_NOT_DONE = re.compile(
    r"^(?:so |and |but )?(?:if|what if|when|suppose|unless|until|once|should|would|could)\b|\b(?:didn't|didnt|did not|haven't|havent|have not|hasn't|has not|wasn't|was not|never|not yet|no technician)\b"
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


def _by_technician(m: Message, task: Task) -> bool:
    """Tell whether a technician did it, as far as is said; a service in the passive ("was serviced") is a workshop's."""
    if _TECHNICIAN.search(m.plain) and not _NOBODY.search(m.plain):
        return True
    passive = task is Task.SERVICE or bool(_OXYGEN_CLEANED.search(m.plain))
    return passive and not _BY_HAND.search(m.plain)


_NOBODY = re.compile(
    r"\b(?:without|instead of|no|not|isn't|video|unlike|watched|like) (?:an? |the |my )?(?:\w+ )?(?:technician|tech|workshop|shop|engineer)\b|\b(?:technician|tech) video\b"
)


_EVERYTHING = re.compile(r"\b(?:kit|gear|everything|all of it|the lot|equipment|all my stuff)\b")
_TESTED = re.compile(r"\b(?:hydro|visual|service|sensor|cell|sorbent|scrubber)\w*\b")


_HAVE = re.compile(r"\b(?:have|has|i've|ive|we've|just|did|finished|already)(?: \w+)?$")


_APPLIED = re.compile(r"\b(?:rubbed|applied|smeared|wiped|dabbed|worked) (?:on|in|into|onto|along|over)\b")
_BEGINS_DONE = re.compile(
    r"^(?:i |we |just |have |i've |ive |already )*(?:cleaned|brushed|scrubbed|washed|greased|lubed|lubricated|waxed|powdered|talced|rinsed|dried|disinfected"
    r"|serviced|calibrated|inspected|tested)\b"
)


def _is_past(m: Message, hit: tuple[int, int, Task]) -> bool:
    run = m.said_run(hit[0], hit[1])
    if any(w in PAST_TASKS for w in run):
        return True
    if hit[0] and _HAVE.search(" ".join(m.said[: hit[0]])):
        return True
    noun = {
        "service",
        "hydro",
        "visual",
        "test",
        "calibration",
        "inspection",
        "overhaul",
        "rebuild",
        "vip",
        "eddy",
        "hydrotest",
        "sorbent",
    }
    return not noun.isdisjoint(run) and (
        bool(_WAS_DONE.search(m.plain))
        or m.past.on is not None
        or bool(
            re.search(
                r"\b(?:had|passed|back from|came back|stamped|through|complete|completed|last|fresh|new)\b",
                m.plain,
            )
        )
    )


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


def _part_words(refs: tuple[PartRef, ...]) -> str | None:
    return CATALOGUE[refs[0].item].part(refs[0].part).name if refs else None


_TAKES_RING = re.compile(
    r"\b(?:takes?|needs?|uses?|wants|spare(?: is)?|size(?: is)?|oring is|o-ring is)\b[^?]*?(?:-|\bdash |\bas568[- ])(\d{3})\b"
)


def read_manual(m: Message) -> RecordManual | None:
    """Read a note of what the maker's manual says of a part or an interval."""
    ring = _TAKES_RING.search(m.mended)
    if not (mentions_manual(m) or (ring and (m.parts or m.item_mentions))):
        return None
    named = manual_substances(m) if mentions_manual(m) else None
    every = _EVERY.search(m.plain)
    if named is None and every is None and ring is None:
        return None
    refs = tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    dives, months = _interval(every)
    return RecordManual(
        item=first(m.item_mentions),
        part=_part_words(refs),
        substances=named or (),
        nothing=named == (),
        task=first([t for _, _, t in m.tasks]) if every else None,
        every_dives=dives,
        every_months=months,
        ring=ring.group(1) if ring else None,
        text=m.raw[:500],
        refs=refs,
        kind=first(m.kinds),
    )


def _interval(match: re.Match[str] | None) -> tuple[int | None, int | None]:
    if match is None:
        return None, None
    if match.group(3):
        return None, 6 if match.group(3) == "twice a year" else 12
    number = count_of(match.group(1)) if match.group(1) else 1
    if not 1 <= number <= 1000:
        raise SenselessError("An interval of 1 to 1000 works: every 200 dives, every 24 months.")
    unit = match.group(2)
    if unit == "dive":
        return number, None
    return None, {
        "month": number,
        "year": number * 12,
        "week": max(1, number // 4),
        "day": max(1, number // 30),
    }[unit]
