"""What a talk is about, kept with its chat between two messages: the last question, the last act, the item and part last spoken of."""

from typing import Any

from bot.replies import Reply
from bot.understand.intents import (
    AddItem,
    Ask,
    Intent,
    LogDive,
    PlanTrip,
    RecordCare,
    Several,
    ShowDue,
    dump,
    load,
)
from bot.understand.reader import Talk
from store.catalogue import CATALOGUE

_LONGEST = 120


def noted(before: dict[str, Any] | None, who: str, intent: Intent, reply: Reply) -> dict[str, Any] | None:
    """Return what to keep after an answer; `before` is what was kept, heeded only if it was the same person's."""
    kept = before if before and before.get("by") == who else {}
    told = intent.of if isinstance(intent, Several) else (intent,)
    asked = next((dump(i) for i in reversed(told) if isinstance(i, Ask)), kept.get("asked"))
    did = next((d for i in reversed(told) if (d := _did(i))), None)
    question = reply.first if reply.offers and reply.data.get("intent") != "choose" else ""
    question = question.rpartition(". ")[2] if question.rstrip().endswith("?") else ""
    item = reply.data.get("item") if isinstance(reply.data.get("item"), str) else None
    found = {
        "by": who,
        "asked": asked,
        "did": did or kept.get("did"),
        "question": question[:_LONGEST] or None,
        "item": item or (_item_of(told) if did else kept.get("item")),
        "part": _part_of(told),
    }
    return found if asked or did or question else before


def _did(intent: Intent) -> str | None:
    """Return the corpora's word for what was done."""
    if isinstance(intent, RecordCare):
        return "mishap" if intent.happened else "care"
    if isinstance(intent, AddItem):
        return "fact" if intent.of else "kit"
    if isinstance(intent, Ask):
        return (
            "mishap"
            if intent.question.happened
            else f"advice: {_part_of((intent,)) or _item_of((intent,)) or 'it'}"
        )
    return {LogDive: "dive", ShowDue: "due", PlanTrip: "trip"}.get(type(intent))


def _item_of(told: tuple[Intent, ...]) -> str | None:
    for intent in reversed(told):
        if isinstance(intent, Ask):
            kind = intent.question.item or next((r.item for r in intent.question.candidates), None)
            return CATALOGUE[kind].name if kind else None
        if isinstance(intent, RecordCare | ShowDue) and intent.item:
            return intent.item
        if isinstance(intent, LogDive) and intent.happened:
            return intent.happened[-1].item
    return None


def _part_of(told: tuple[Intent, ...]) -> str | None:
    for intent in reversed(told):
        if isinstance(intent, Ask) and intent.question.candidates:
            ref = intent.question.candidates[0]
            return CATALOGUE[ref.item].part(ref.part).name
        if isinstance(intent, RecordCare) and intent.part:
            return intent.part
    return None


def recalled(kept: dict[str, Any] | None, who: str) -> tuple[Intent | None, Talk]:
    """Return the question last answered and what the talk was about; nothing if it was somebody else's."""
    if not kept or kept.get("by") != who:
        return None, Talk()
    try:
        last = load(kept["asked"]) if kept.get("asked") else None
    except ValueError:  # an older program asked it
        last = None
    question = kept.get("question")
    about = f"asked: {question}" if question else kept.get("did") or ""
    return last, Talk(about=about, item=kept.get("item"), part=kept.get("part"))
