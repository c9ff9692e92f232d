"""Answers what goes on a part, with what the diver's own item is known to be."""

from dataclasses import replace

from bot.advice.answer import answer
from bot.advice.model import Advice
from bot.advice.question import About, PartRef, Question
from bot.advice.substances import STUFF
from bot.handle import find
from bot.handle.acts import note_act, taints
from bot.handle.notes import glue_notes
from bot.handle.visit import Visit
from bot.handle.wording import day, listed, part_name
from bot.replies import Reply
from bot.understand.intents import Ask, Undo
from bot.understand.reader import Offer
from store import care_log, items, lockers, own_words
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import ItemKind, Substance, Task

_WHICH = "On which one? I know of several, and noted it for none yet."


def ask(intent: Ask, visit: Visit) -> Reply:
    """Answer from the rules; the diver's own item and its manual are taken in where it is clear which one is meant."""
    item = _own_item(intent, visit)
    question = intent.question
    facts = items.facts_of(item) if item else None
    if item is not None and question.manual is None:
        question = question.model_copy(update={"manual": _manual(item, question.candidates, visit)})
    learned = _learn(question, visit)
    reply = advice_reply(answer(question, facts), intent)
    if item is None and question.happened and (several := _rivals(intent, visit)):
        return replace(
            reply,
            lines=(f"{_WHICH} Tap it, and I note that.", *reply.lines),
            offers=tuple(
                Offer(i.name, intent.model_copy(update={"said": f"{intent.said} ({i.name})"[-200:]}))
                for i in several[:8]
            ),
        )
    already = _on_it_already(item, question, visit) if item else ()
    noted = _note_taint(item, question, visit) if item else ()
    undo = (Offer("Undo", Undo()),) if noted else ()
    return replace(reply, lines=(*noted, *already, *reply.lines, *learned), offers=(*reply.offers, *undo))


def _rivals(intent: Ask, visit: Visit) -> list[Item]:
    """Return the items that it may have befallen where it is not clear which, all of which breathing gas may touch."""
    substance = intent.question.substance
    asked = intent.question.item
    kinds = {ref.item for ref in intent.question.candidates} or ({asked} if asked else set())
    parts = {ref.item: ref.part for ref in intent.question.candidates}
    return [
        i
        for i in visit.kit()
        if i.kind in kinds and substance is not None and taints(i, parts.get(ItemKind(i.kind)), substance)
    ]


def _note_taint(item: Item, question: Question, visit: Visit) -> tuple[str, ...]:
    """Note what got onto a part in oxygen service, so that the warning outlives this answer; nothing unless it happened."""
    if not question.happened or question.substance is None:
        return ()
    parts: list[str | None] = [ref.part for ref in question.candidates if ref.item == item.kind]
    tainted = [p for p in parts or [None] if taints(item, p, question.substance)]
    for part in tainted:
        note_act(visit, item, part, Task.LUBRICATE, substance=question.substance, on=visit.today)
    if not tainted:
        return ()
    named = [part_name(item, p) for p in tainted if p]
    where = f"{listed(named)} of {item.name}" if named else item.name
    return (f"Noted for today: {STUFF[question.substance].name} on {where}.",)


def _learn(question: Question, visit: Visit) -> tuple[str, ...]:
    """Keep the diver's own word for a tube once its class was said."""
    if question.learned is None or question.substance is None:
        return ()
    own_words.learn(visit.session, visit.locker_id, question.learned, substance=question.substance)
    return (
        f"Remembered: {question.learned} is {STUFF[question.substance].name}. Say: forget {question.learned}, if not.",
    )


def _on_it_already(item: Item, question: Question, visit: Visit) -> tuple[str, ...]:
    """Say what was put on the part before, where that still matters: in the gas, or near something to be glued."""
    asked = {ref.part for ref in question.candidates if ref.item == item.kind}
    wrong = [
        f"On it already: {STUFF[Substance(w.cause)].name} since {day(w.due_on or visit.today, visit.today)}. "
        "Out of oxygen service until a technician has cleaned and inspected it."
        for w in visit.contaminated(item)
        if not w.part or w.part in asked
    ]
    return (*wrong, *glue_notes(item, asked, visit))


def advice_reply(advice: Advice, intent: Ask) -> Reply:
    """Put an answer into a reply; choices become buttons that complete the question."""
    offers = tuple(Offer(c.label, intent.model_copy(update={"question": c.question})) for c in advice.choices)
    return Reply(
        advice.short, advice.lines, advice.cautions, offers or _why_offer(intent), advice.as_data(intent.said)
    )


def _why_offer(intent: Ask) -> tuple[Offer, ...]:
    if intent.question.about is About.WHY:
        return ()
    return (
        Offer(
            "Why",
            intent.model_copy(update={"question": intent.question.model_copy(update={"about": About.WHY})}),
        ),
    )


def _own_item(intent: Ask, visit: Visit) -> Item | None:
    """Return the diver's item that the question is about, None unless exactly one fits."""
    kit = visit.kit()
    named = [i for i in kit if i.name.casefold() in intent.said.casefold()]
    own = [
        i
        for i in named
        if not any(i.name != o.name and i.name.casefold() in o.name.casefold() for o in named)
    ]
    kinds = {ref.item for ref in intent.question.candidates} | (
        {intent.question.item} if intent.question.item else set()
    )
    meant = [i for i in own if i.kind in kinds] or find.by_kind(
        kit, [intent.question.item] if intent.question.item else kinds
    )
    gas = intent.question.stated.o2_fraction
    if len(meant) > 1 and gas is not None:  # "the 50 % stage" names one of several
        meant = [i for i in meant if items.facts_of(i).o2_fraction == gas]
    return meant[0] if len(meant) == 1 else None


def _manual(item: Item, candidates: tuple[PartRef, ...], visit: Visit) -> tuple[Substance, ...] | None:
    """Return what the newest note of the item's manual says goes on the part asked about, None if it is silent."""
    keys = [ref.part for ref in candidates if ref.item == item.kind]
    notes = care_log.manuals(visit.session, visit.locker_id).get(lockers.number(item.id), [])
    said = (care_log.manual_says(notes, key, CATALOGUE[item.kind].part(key).part_of) for key in keys)
    named = next((s for s in said if s is not None), None)
    return tuple(map(Substance, named)) if named is not None else None
