"""Reads a message that carries the last question on: the same part, one thing changed."""

import re

from bot.advice.question import About, PartRef, Question
from bot.understand import vocabulary as v
from bot.understand.about import has_happened, is_question, read_about
from bot.understand.intents import Ask
from bot.understand.message import Message
from bot.understand.questions import read_question, read_stated
from bot.understand.stuff import read_substance
from store.catalogue import CATALOGUE

_FOLLOWS = re.compile(
    r"(?:and|what about|how about|but|it is|it's|its|they are|they're|the|with|on|or|only|ok|actually) ?\b"
)
_SHORT_FOLLOW_UP = 7


def follow_up(m: Message, last: Ask) -> Ask | None:
    """Read "and the inside?", "it is metal", "with PFPE?" as the last question with something changed; None if it is not."""
    if asked := _same_part_asked(m, last):
        return asked
    if (
        len(m.said) > _SHORT_FOLLOW_UP
        or not _FOLLOWS.match(m.plain)
        or m.kinds
        or not v.PAST_TASKS.isdisjoint(m.said)
        or m.past.on
    ):
        return None
    before = last.question
    context = [CATALOGUE[ref.item].part(ref.part).name for ref in before.candidates[:1]]
    alone = read_question(m)
    read = (
        alone
        if alone and (_near(alone, before) or v.TELLING & set(m.tokens))
        else read_question(m.again(" ".join((m.plain, *context)))) or alone
    )
    stated = {name: said for name, said in read_stated(m).model_dump().items() if said is not None}
    changed: dict[str, object] = {"stated": before.stated.model_copy(update=stated)} if stated else {}
    if read is not None:
        near = _near(read, before)
        if near and near != before.candidates:
            changed["candidates"] = near
        elif alone is not None and alone.question.candidates and not near:
            # a part of another item brings its own facts
            changed |= {
                "candidates": alone.question.candidates,
                "stated": alone.question.stated,
                "item": None,
            }
        if read.question.substance is not None and read.question.substance != before.substance:
            changed |= {"substance": read.question.substance, "about": About.CAN}
    return (
        Ask(question=before.model_copy(update={**changed, "rest": ()}), said=m.raw[:200]) if changed else None
    )


def _near(read: Ask, before: Question) -> tuple[PartRef, ...]:
    """Return the parts read that belong to the items asked about before."""
    return tuple(ref for ref in read.question.candidates if ref.item in {r.item for r in before.candidates})


_IT = re.compile(r"\b(?:it|that|them|there)\b")
_ONLY_ABOUT = re.compile(
    r"(?:and |so |ok |but )?how (?:much|often|thick|thin|do i do (?:it|that)|do i)(?: of (?:it|that)| then| is that)?"
)


def _same_part_asked(m: Message, last: Ask) -> Ask | None:
    """Read "can I use silicone?" and "how much?" right after an answer as asking of the same part."""
    before = last.question
    asked_of_something = before.candidates or before.item
    if m.parts or m.kinds or not asked_of_something or len(m.said) > _SHORT_FOLLOW_UP:
        return None
    substance = read_substance(m)
    if _ONLY_ABOUT.fullmatch(m.plain):
        changed: dict[str, object] = {"about": read_about(m, None, of_manual=False), "substance": None}
    elif substance is not None and is_question(m) and read_about(m, substance, of_manual=False) is About.CAN:
        changed = {"about": About.CAN, "substance": substance}
    elif substance is not None and _IT.search(m.plain) and has_happened(m):
        changed = {"about": About.CONTAMINATED, "substance": substance, "happened": True}
    else:
        return None
    fresh = {
        "weighed": (),
        "rest": (),
        "happened": False,
        "unknown_substance": None,
        "cleaning": False,
        "manual": None,
    }
    return Ask(question=before.model_copy(update={**fresh, **changed}), said=m.raw[:200])
