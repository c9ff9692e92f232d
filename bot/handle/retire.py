"""Takes an item out of the kit."""

import re

from bot.handle import find
from bot.handle.kit import kit_lines
from bot.handle.lend import borrowed
from bot.handle.visit import Visit
from bot.replies import Reply
from bot.understand.intents import RetireItem, Undo
from bot.understand.reader import Offer
from store import items

_NOT_NEW = re.compile(r"(old|broken|cracked|torn|flooded|dented|damaged|leaking|dead|burst) ")


def retire_item(intent: RetireItem, visit: Visit) -> Reply:
    """Take an item out of the kit; its record stays, and nothing about it falls due any more."""
    found = (
        [i for i in (visit.item(intent.item_id),) if i]
        if intent.item_id
        else find.meant(visit.kit(), intent.item or "")
    )
    if not found:
        return Reply(
            f"There is no {intent.item or 'such item'} in your kit.",
            kit_lines(visit),
            data={"intent": "retire_item"},
        )
    if len(found) > 1 and intent.item and (which := _NOT_NEW.match(intent.item)):
        broken = [i for i in found if visit.is_broken(i)]
        found = broken if len(broken) == 1 else found[:1] if which[1] == "old" else found
    if intent.one and len({(i.kind, items.facts_of(i).model_dump_json()) for i in found}) == 1:
        found = found[-1:]
    if len(found) > 1:
        offers = tuple(Offer(i.name, RetireItem(item_id=i.id)) for i in found)
        return Reply("Which one has left your kit?", offers=offers, data={"intent": "retire_item"})
    item = found[0]
    if said := borrowed(visit).get(item.id):
        return Reply(
            f"{item.name} is not yours to take out{said}.",
            (f"Say: {item.name} is back, to give it back.",),
            data={"intent": "retire_item"},
        )
    item.retired_on = visit.today
    visit.session.add(item)
    return Reply(
        f"{item.name} is out of your kit. Its record stays.",
        offers=(Offer("Undo", Undo()),),
        data={"intent": "retire_item", "item": item.name},
    )
