"""Records what the maker's manual says, and holds it against the safety rules."""

from collections.abc import Sequence

from bot.advice.compatibility import vetoed
from bot.advice.rings import dimensions
from bot.advice.substances import names
from bot.handle.meant import item_meant, parts_meant
from bot.handle.visit import Visit
from bot.handle.wording import part_name
from bot.replies import Reply
from bot.understand.intents import RecordManual, Undo
from bot.understand.reader import Offer
from store import care_log, items, lockers
from store.catalogue import CATALOGUE
from store.catalogue.as568 import AS568
from store.tables import Item, ManualNote
from store.vocabulary import Substance, Task


def record_manual(intent: RecordManual, visit: Visit) -> Reply:
    """Record what the maker's manual says. It goes before our rules, but never before a safety caution."""
    found = item_meant(intent, visit)
    if isinstance(found, Reply):
        return found
    parts = parts_meant(intent, found)
    part = parts[0] if parts else None
    said = tuple(intent.substances)
    care_log.note_manual(
        visit.session,
        ManualNote(
            locker_id=visit.locker_id,
            item_id=lockers.number(found.id),
            part=part,
            substances=[s.value for s in said] if said or intent.nothing else None,
            task=intent.task,
            every_dives=intent.every_dives,
            every_months=intent.every_months,
            every_days=intent.every_days,
            every_hours=intent.every_hours,
            ring=intent.ring,
            text=intent.text[:500],
            noted_at=visit.now,
        ),
    )
    name = f"{part_name(found, part or '')} of {found.name}" if part else found.name
    against = conflict(found, part, said)
    data: dict[str, object] = {
        "intent": "record_manual",
        "item": found.name,
        "part": part,
        "conflict": bool(against),
    }
    undo = (Offer("Undo", Undo()),)
    if against:
        return Reply(
            f"Noted, but it conflicts with a safety rule: {name}.",
            (
                against,
                f"Your note: {names(said)}. My answer stays as it was: ask the maker or a qualified technician before anything goes on it.",
            ),
            ("Life support: a recorded manual never silences this caution.",),
            undo,
            data,
        )
    if intent.ring:
        return _noted_ring(intent.ring, name, undo, data)
    words = [names(said)] if said else ["nothing on it"] if intent.nothing else []
    if interval := _interval(intent):
        words.append(f"every {interval}")
    return Reply(
        f"Noted from the manual, {name}: {', '.join(words)}.",
        _goes_first(intent, found, visit),
        offers=undo,
        data=data,
    )


def _interval(intent: RecordManual) -> str:
    """Say the intervals that were told, "" for none."""
    told = (
        (intent.every_dives, "dive"),
        (intent.every_months, "month"),
        (intent.every_days, "day"),
        (intent.every_hours, "hour"),
    )
    return " or ".join(f"{n:g} {noun}" + ("" if n == 1 else "s") for n, noun in told if n)


def _goes_first(intent: RecordManual, item: Item, visit: Visit) -> tuple[str, ...]:
    """Say that the maker's word goes first; or, of a test by law, that only a permit's does."""
    told = _interval(intent) and intent.task in {Task.TEST, Task.INSPECT} and CATALOGUE[item.kind].tested
    standing = next(i for i in visit.standing() if i.item.id == item.id)
    legal = [d for d in standing.dues if told and d.rule.by_law and d.rule.task is intent.task]
    if legal and not any(d.rule.by_permit for d in legal):
        return (
            "Test dates stay those of the law, unless the cylinder has a permit of its own.",
            f"If it has, say: {item.name} has a special permit.",
        )
    return ("The maker's word goes before mine from now on.",)


def _noted_ring(ring: str, name: str, offers: tuple[Offer, ...], data: dict[str, object]) -> Reply:
    size = AS568.get(ring)
    if size is None:
        return Reply(
            f"Noted for {name}: ring -{ring}. That is no AS568 size, check the number.",
            offers=offers,
            data=data,
        )
    return Reply(
        f"Noted for {name}: O-ring {dimensions(size)}.",
        ("It comes up in the list of what to take on a trip.",),
        offers=offers,
        data=data,
    )


def conflict(item: Item, part: str | None, said: Sequence[Substance], *, of_gas: bool = False) -> str:
    """Return why a substance must not go on a part, "" if nothing forbids it; the whole item stands for its parts in gas.

    `of_gas`: only where breathing gas touches the part.
    """
    kind, facts = CATALOGUE[item.kind], items.facts_of(item)
    parts = (
        [p for p in kind.parts if p.gas and part in {None, p.key}]
        if of_gas or not part
        else [kind.part(part)]
    )
    veto = next((row for p in parts for s in said if (row := vetoed(s, p.facts(facts)))), None)
    return veto.why if veto else ""
