"""Which of the diver's items and parts an act or a note is about."""

from bot.handle import find
from bot.handle.visit import Visit
from bot.replies import Reply
from bot.understand.intents import AddItem, RecordCare, RecordManual
from bot.understand.reader import Offer
from store import items
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import Task


def item_meant(intent: RecordCare | RecordManual, visit: Visit) -> Item | Reply:
    """Return the one item meant, or the question or refusal that settles it."""
    kit = visit.kit()
    if intent.item_id is not None:
        found = [i for i in (visit.item(intent.item_id),) if i]
    elif intent.item is not None and (named := find.by_mention(kit, intent.item)):
        found = named
    else:
        found = find.by_kind(kit, [*(r.item for r in intent.refs), *((intent.kind,) if intent.kind else ())])
    if not found and isinstance(intent, RecordCare) and intent.test is not None and intent.item is None:
        found = [i for i in kit if CATALOGUE[i.kind].tested]
    having = (
        [i for i in found if {r.part for r in intent.refs} & {p.key for p in CATALOGUE[i.kind].parts}]
        if intent.refs
        else found
    )
    found = having or found
    if len(found) == 1:
        return found[0]
    if len(found) > 1 and isinstance(intent, RecordCare):
        found = _of_several(found, intent, visit)
        if len(found) == 1:
            return found[0]
    if len(found) > 1:
        offers = tuple(Offer(i.name, intent.model_copy(update={"item_id": i.id})) for i in found[:12])
        return Reply("On which one?", offers=offers, data={"intent": intent.intent})
    kind = intent.kind or (intent.refs[0].item if intent.refs else None)
    name = CATALOGUE[kind].name if kind else "such item"
    offers = (Offer(f"Add {name}", AddItem(kind=kind)),) if kind else (Offer("Add kit", AddItem()),)
    return Reply(
        f"There is no {name} in your kit, so I noted nothing.",
        ("Add it first, then tell me again.",),
        offers=offers,
        data={"intent": intent.intent},
    )


_OF_THE_BROKEN = frozenset({Task.SERVICE, Task.REPLACE})


def _of_several(found: list[Item], intent: RecordCare, visit: Visit) -> list[Item]:
    """Narrow several down: what mends something was done to the one that is broken; of some that are alike any one may be meant."""
    mends = intent.happened is None and (intent.by_technician or intent.task in _OF_THE_BROKEN)
    if mends and len(broken := [i for i in found if visit.is_broken(i)]) == 1:
        return broken
    whole = [i for i in found if not visit.is_broken(i)]
    alike = len({(i.kind, items.facts_of(i).model_dump_json()) for i in found}) == 1
    return whole[-1:] if intent.one and alike and whole else found


def parts_meant(intent: RecordCare | RecordManual, item: Item) -> list[str]:
    """Return the parts of that item that were named and that it has."""
    kind, facts = CATALOGUE[item.kind], items.facts_of(item)
    named = {r.part for r in intent.refs}
    fitting = [p for p in kind.parts if p.key in named and p.fits(facts)]
    wholes = {p.part_of for p in fitting}
    return [p.key for p in fitting if p.key not in wholes]
