"""Tells care that was done from care that was not: denied, forgotten, still ahead, failed, or not known.

What is not plainly told as done is never recorded: a test that nobody made would keep a cylinder in use.
"""

import re
from dataclasses import dataclass

from bot.understand.about import is_question
from bot.understand.intents import ShowDue
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.vocabulary import PAST_TASKS
from store.catalogue import CATALOGUE
from store.vocabulary import Task

_TELLS = r"(?! (?:\w+ ){0,2}?(?:log|tell|say|mention|record|note|report|enter|add|write|inform|let you|admit|confess|update)\b)"
"""What is wanted or forgotten is to tell it, so it was done."""
_DENIED = re.compile(
    r"\b(?:not(?! (?:only|long|that long|too long)\b)|never|nobody|no one|none of|nothing|neither|nor|cannot|no longer|[a-z]+n't"
    r"|(?:did|have|has|had|was|were|is|are|do|does|would|could|wo|ca|should)nt|un(?:serviced|tested|rinsed|washed|greased|inspected|checked|cleaned)|refused|refuses|(?:almost|nearly|half)(?! forgot)|(?:ran|run|running) out of"
    r"|no (?:\w+ ){0,2}?(?:hydro\w*|visual|vip|tests?|service|servicing|inspection|rinse|rinsing|overhaul|calibration|eddy))\b"
)
_AHEAD = re.compile(
    r"\b(?:will|[a-z]+'ll|going to|gonna|about to|planning|plans? to|planned to|wants?|wanted to|wanna|would like|i'd like|needs?|needing|needed to be|(?<!had )have to|has to"
    r"|must|should|shall|ought to|supposed to|meant to|mean to|intend(?:s|ed)? to|hop(?:e|ing) to|forgot|forgotten|forget|failed to|fails to|still to"
    r"|yet to|(?<!had )(?<!used )to be(?! (?:safe|sure|clear|honest|exact|precise)\b)|remember to|try to|trying to|tried to|unable to|let's|let me|waiting for|waiting to|(?:is|are|now) being|(?:having|getting) (?:the|my|our|it|them|both|all))\b"
    + _TELLS
)
_DOUBTED = re.compile(
    r"\b(?:(?:[a-z]+n't|dont|cant|not|never|cannot|no longer|nobody|hardly) (?:\w+ )?(?:know|knows|knew|known|remember|recall|tell when|say when|say if|sure|certain|aware)"
    r"|dunno|idk|no (?:idea|clue|records?|memory|recollection|proof|paperwork)|unsure|uncertain|unclear|unknown|doubt|doubtful|wonder|wondering|maybe|perhaps"
    r"|probably|possibly|presumably|supposedly|allegedly|apparently|(?:i|we) (?:think|guess|believe|assume|suppose|reckon|hope)|(?:might|may|must|should|could) have been"
    r"|might have|(?:[a-z]+n't|dont|do not) have (?:a |an |the |any )?(?:\w+ )?(?:dates?|records?|papers?|paperwork|certificate|proof)|who knows|forgot(?:ten)? (?:when|if|whether)|lost track)\b"
)
_CLAUSES = re.compile(
    r"(\s*(?:[,;:](?=\s|$)|(?<!\d)\.\s|(?<!all )(?<!everything )\bbut\b|\bso (?=i\b|we\b|it\b|they\b)|\bthen\b|\b(?:al)?though\b|\bbecause\b|\bas (?=i\b|we\b|it\b)"
    r"|\band\b|\bor\b|(?=\bnor\b)|&|\+|(?=\bnot (?:the|my|our|by|with|in|on|at)\b))\s*)"
)
_LEADS = re.compile(r"^(?:and |but )?(?:not|neither|nor)\b")
_DO_IT = re.compile(r"\b(?:do|done|get|take|bring|see to)\b")
_DUE = re.compile(r"\b(?:due|next|stamp\w*|valid|good|expir\w*|until|till|made)\b")
_TAKEN_BACK = re.compile(
    r"(?:not|no|never|nah|not yet|not done|not done yet|not really|not true|wait no|no wait)"
)
_LEFT = re.compile(
    r"\b(?:[a-z]+n't|have not|has not|did not|not|never|nor|cannot) (?:yet |been |get |got )?(?:done|do|did|touch|touched|managed?|round)\b"
)
_NOUNS = frozenset(
    "service hydro visual test inspection overhaul vip eddy hydrotest rinse calibration done".split()
)
_PERFECT = re.compile(
    r"\b(?:(?:did|have|has|had|was|were|is|are)(?:n't|nt| not)|not yet|yet|still|forgot|forgotten|no|not|nobody|no one|nor|refused"
    r"|(?:should|ought to|could|must) have|(?:was|were) (?:supposed|meant|going|about) to)\b"
)


@dataclass(frozen=True, slots=True)
class Sorted:
    """A message by clauses: what is told as done (None if nothing is), and what is not."""

    done: Message | None
    undone: tuple[Message, ...] = ()


def sort_out(m: Message) -> Sorted:
    """Sort the clauses of a message; the message itself is `done` where none tells of care left undone."""
    ahead = m.past.on is not None and m.past.on > m.today
    if not ahead and not any(pattern.search(m.plain) for pattern in (_DENIED, _AHEAD, _DOUBTED)):
        return Sorted(m)
    pieces = _CLAUSES.split(m.text)
    done: list[str] = []
    undone: list[Message] = []
    carried = False
    for text, link in zip(pieces[::2], ["", *pieces[1::2]], strict=True):
        clause = m.again(text)
        if not text.strip():
            continue
        if _takes_back(clause) and done:
            undone.append(m.again(done.pop()))
            carried = True
        elif _is_undone(clause) or (carried and _goes_on(clause, link, m)):
            undone.append(clause)
            carried = True
        else:
            done.append(text)
            carried = False
    if not undone:
        return Sorted(m)
    rest = m.again(", ".join(done)) if done else None
    return Sorted(rest if rest is not None and _tells_care(rest) else None, tuple(undone))


def _is_undone(clause: Message) -> bool:
    """Tell whether a clause says of care that it was not done, is not known, or is still ahead."""
    if _LEADS.match(clause.plain) or (_LEFT.search(clause.plain) and not clause.substances):
        return True
    if PAST_TASKS.isdisjoint(clause.said) and (clause.item_mentions or clause.parts):
        if _AHEAD.search(clause.plain) and _DO_IT.search(clause.plain):
            return True
        if clause.past.on is not None and clause.past.on > clause.today and not _DUE.search(clause.plain):
            return True
    told = bool(clause.tasks) or not _NOUNS.isdisjoint(clause.said) or not PAST_TASKS.isdisjoint(clause.said)
    return told and any(pattern.search(clause.plain) for pattern in (_DENIED, _AHEAD, _DOUBTED))


def _takes_back(clause: Message) -> bool:
    """Tell whether a clause only doubts or denies what was said before it: "I think", "not yet"."""
    if _TAKEN_BACK.fullmatch(clause.plain):
        return True
    bare = not (clause.tasks or clause.parts or clause.item_mentions)
    return bare and bool(_DOUBTED.search(clause.plain))


def _goes_on(clause: Message, link: str, m: Message) -> bool:
    """Tell whether a clause shares the denial ahead of it: "haven't rinsed and dried the suit"."""
    joins = link.strip() in {"and", "or", "nor", "&", "+"} or (
        link.strip() == "," and re.search(r"\bn?or\b", m.plain)
    )
    begins = bool(clause.tasks) and clause.tasks[0][0] == 0
    bare = not clause.tasks and bool(clause.item_mentions or clause.parts) and len(clause.said) <= _SHORT
    return link.strip() == "or" or (bool(joins) and (begins or bare))


_SHORT = 3
NOTHING_NOTED = (
    "As I read it that was not done, so I noted nothing. Tell me once it is: rinsed the regs today."
)


def read_undone(m: Message) -> ShowDue | None:
    """Read care told as not done as a wish to see what is due of it; SenselessError where nothing is named that could be due."""
    if "?" in m.raw or (is_question(m) and not _BEGINS_AHEAD.match(m.plain)):
        return None
    undone = sort_out(m).undone
    told = next((c for c in undone if _tells_care(c)), None)
    if told is None:
        return None
    item = first(told.item_mentions) or first(m.item_mentions) or _kind_of_parts(told)
    task = first([t for _, _, t in told.tasks])
    if (
        _AHEAD.search(told.plain)
        and (told.parts or told.substances)
        and task in _ABOUT_STUFF
        and not _PERFECT.search(told.plain)
    ):
        return None  # what goes on it is the better answer
    if item is None:
        raise SenselessError(NOTHING_NOTED)
    return ShowDue(item=item, task=task)


_ABOUT_STUFF = frozenset({Task.LUBRICATE, Task.POWDER, Task.CLEAN})
_BEGINS_AHEAD = re.compile(
    r"(?:will|would|must|should|shall) (?:not |have |have been )?(?:"
    + "|".join(sorted(PAST_TASKS))
    + r"|rinse|wash|clean|dry|grease|lube|wax|powder|service|test|inspect|calibrate|disinfect)\b"
)


def _tells_care(clause: Message) -> bool:
    """Tell whether care is what a clause leaves undone, and not an order never to do it."""
    if not PAST_TASKS.isdisjoint(clause.said) or _LEFT.search(clause.plain):
        return True
    return bool(clause.tasks) and bool(
        _PERFECT.search(clause.plain) or _AHEAD.search(clause.plain) or _DOUBTED.search(clause.plain)
    )


def _kind_of_parts(m: Message) -> str | None:
    """Return what the one kind is called that has the parts named, None where several have them."""
    kinds = {ref.item for ref in m.parts}
    return CATALOGUE[kinds.pop()].name if len(kinds) == 1 else None


_FAILED = re.compile(
    r"\b(?:condemned|flunked|rejected|(?:did not|didn't|didnt|not|hasn't|has not|doesn't|won't) pass(?:ed)?|failed|fails|fail)\b(?! to\b)"
)
_NOT_FAILED = re.compile(
    r"\b(?:not|never|n't|didnt|without|if|can|could|might|may|no)(?: \w+)? (?:fail|failed|condemned|rejected)\b|n't(?: \w+)? (?:fail|condemned|rejected)"
)
_OF_TEST = re.compile(
    r"\b(?:hydro\w*|hydrostatic|visual|vip|viz|vis|eddy|t[uü]v|retest|requal\w*|inspection|tests?|tested|testing|station)\b"
)


def fails_test(m: Message) -> bool:
    """Tell whether a test is told as failed, or a cylinder as condemned."""
    told = _FAILED.search(m.plain)
    if told is None or _NOT_FAILED.search(m.plain):
        return False
    return (
        told.group() == "condemned"
        or bool(_OF_TEST.search(m.plain))
        or (
            told.end() == len(m.plain)
            and any(CATALOGUE[kind].tested for kind in m.kinds)
            and not told.group().endswith("pass")
        )
    )
