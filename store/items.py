"""The kit of a locker."""

from datetime import date

from sqlalchemy import bindparam
from sqlmodel import Session, col, select

from store.catalogue import ItemFacts
from store.tables import Item
from store.vocabulary import ItemKind

_ALL = select(Item).where(Item.locker_id == bindparam("locker_id")).order_by(col(Item.id))
_KIT = _ALL.where(col(Item.retired_on).is_(None))


def of_locker(session: Session, locker_id: int, *, retired: bool = False) -> list[Item]:
    """Return the items of a locker in the order they were added; `retired` adds those that have left."""
    return list(session.exec(_ALL if retired else _KIT, params={"locker_id": locker_id}))


def get(session: Session, locker_id: int, item_id: int) -> Item | None:
    """Return an item of this locker; None for a number that is not in it."""
    item = session.get(Item, item_id)
    return item if item is not None and item.locker_id == locker_id else None


def add(
    session: Session, locker_id: int, kind: ItemKind, name: str, *, facts: ItemFacts, on: date, by: str
) -> Item:
    """Add an item; its name is made unlike the others by a number where needed."""
    free = free_name(session, locker_id, name)
    item = Item(locker_id=locker_id, kind=kind, name=free, facts=dump_facts(facts), added_on=on, added_by=by)
    session.add(item)
    session.flush()
    return item


def free_name(session: Session, locker_id: int, name: str) -> str:
    """Return a name, made unlike the others of a locker by a number where needed."""
    taken = {i.name.casefold() for i in of_locker(session, locker_id)}
    free, n = name, 2
    while free.casefold() in taken:
        free, n = f"{name} {n}", n + 1
    return free


def facts_of(item: Item) -> ItemFacts:
    """Read the item's facts."""
    return ItemFacts.model_validate(item.facts)


def told(facts: ItemFacts, on: date) -> ItemFacts:
    """Note on the stamps among some facts when they were told."""
    stamps = ("hydro_due", "visual_due", "eddy_due")
    dated = {f"{name}_told_on": on for name in stamps if getattr(facts, f"{name}_on") is not None}
    return facts.model_copy(update=dated)


def dump_facts(facts: ItemFacts) -> dict[str, object]:
    """Write facts for the item's column, without what was not said."""
    return facts.model_dump(mode="json", exclude_none=True)
