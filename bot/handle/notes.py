"""What was put on a part long ago and comes up again when it matters."""

from collections.abc import Collection

from bot.advice.substances import STUFF, Trait
from bot.handle.visit import Visit
from bot.handle.wording import day, part_name
from store import care_log, items, lockers
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import Substance


def glue_notes(item: Item, parts: Collection[str], visit: Visit) -> tuple[str, ...]:
    """Say where something that creeps was put next to a glued area: it matters when that part is glued or replaced."""
    facts = items.facts_of(item)
    kind = CATALOGUE[item.kind]
    told = []
    for done in care_log.by_item(visit.session, visit.locker_id).get(lockers.number(item.id), ()):
        if done.substance is None or Trait.CREEPS not in STUFF[Substance(done.substance)].traits:
            continue
        near = [p for p in kind.parts if p.facts(facts).bonded and done.part in {None, p.key, p.part_of}]
        if near and (
            done.part is None or done.part in parts or {p.part_of for p in near} & set(parts) or not parts
        ):
            name = part_name(item, done.part or "") or item.name
            told.append(
                f"{STUFF[Substance(done.substance)].name.capitalize()} was put on the {name} on {day(done.on, visit.today)}: "
                "tell whoever glues or replaces it, no adhesive may hold there."
            )
    return tuple(dict.fromkeys(told))
