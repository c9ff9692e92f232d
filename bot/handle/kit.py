"""Adds, completes, shows and retires items."""

from dataclasses import replace
from datetime import date

from bot.advice.substances import STUFF
from bot.advice.wording import upper_first
from bot.handle import find
from bot.handle.acts import HAPPENED, note_act
from bot.handle.dives import show_dives
from bot.handle.known import facts_said
from bot.handle.lend import borrowed, lent_lines
from bot.handle.region import LegalDates, changed_dates, legal_dates
from bot.handle.room import too_many_items
from bot.handle.visit import Visit
from bot.handle.wording import CHECK_LOCALLY, act, by_whom, count, day, day_of, listed, part_name
from bot.replies import Reply
from bot.understand.intents import (
    AddItem,
    Export,
    RecordCare,
    RetireItem,
    SetPreference,
    ShowDue,
    ShowKit,
    Undo,
)
from bot.understand.reader import Offer
from bot.understand.text import clean
from scheduler.due import Due
from store import care_log, dives, items, lockers, mishaps, own_words
from store.catalogue import CATALOGUE, ItemFacts, ItemType
from store.tables import Care, Item, OwnWord
from store.vocabulary import Happening, ItemKind, Region, SealMaterial, Substance, Task, ZipMaterial

_OFFERED = (
    ItemKind.DRY_SUIT,
    ItemKind.REGULATOR,
    ItemKind.TWINSET,
    ItemKind.STAGE,
    ItemKind.CYLINDER,
    ItemKind.BUOYANCY_DEVICE,
    ItemKind.CANISTER_LIGHT,
    ItemKind.HAND_LIGHT,
    ItemKind.SCOOTER,
    ItemKind.REBREATHER,
    ItemKind.WETSUIT,
    ItemKind.CAMERA_HOUSING,
)
_QUESTIONS: dict[str, tuple[str, tuple[tuple[str, object], ...]]] = {
    "zip_material": (
        "Is its zip plastic or metal?",
        (("plastic", ZipMaterial.PLASTIC), ("metal", ZipMaterial.METAL)),
    ),
    "seal_material": (
        "What are its neck and wrist seals made of?",
        (
            ("latex", SealMaterial.LATEX),
            ("silicone", SealMaterial.SILICONE),
            ("neoprene", SealMaterial.NEOPRENE),
        ),
    ),
    "o2_fraction": (
        "What is the richest gas it sees?",
        (("air", 0.21), ("up to 40 %", 0.40), ("50 %", 0.50), ("pure oxygen", 1.0)),
    ),
}


def add_item(intent: AddItem, visit: Visit) -> Reply:
    """Add an item at once, then ask for the facts that change its care; each answer completes it."""
    if intent.item_id is not None:
        return _complete(intent, visit)
    if intent.of is not None:
        return _change(intent, visit)
    if intent.kind is None:
        offers = tuple(Offer(CATALOGUE[k].name, intent.model_copy(update={"kind": k})) for k in _OFFERED)
        return Reply(
            "What shall I add?",
            ("Or say it in one line: add dry suit, plastic zip, latex seals",),
            offers=offers,
            data={"intent": "add_item"},
        )
    if full := too_many_items(intent, visit):
        return full
    sorts = [_add_alike(sort, visit) for sort in (intent, *intent.also)]
    head, *rest = [_to_complete(sort) for sort in sorts]
    named = listed([name for sort in sorts for name in _names(sort)])
    reply = _next_question(
        head.model_copy(update={"also": tuple(rest)}), sorts[0][-1], visit, f"Added: {named}."
    )
    unread = (f"Not added, I do not know: {listed(intent.unread)}.",) if intent.unread else ()
    return replace(reply, lines=(*unread, *reply.lines))


def _add_alike(intent: AddItem, visit: Visit) -> list[Item]:
    """Add as many items of one sort as were said; the list is never empty."""
    kind = CATALOGUE[intent.kind or ItemKind.BAG]
    added = [
        items.add(
            visit.session,
            visit.locker_id,
            kind.kind,
            intent.name or _default_name(kind, intent.facts),
            facts=items.told(intent.facts, visit.today),
            on=visit.today,
            by=visit.actor,
        )
        for _ in range(intent.count)
    ]
    visit.session.flush()
    for item in added:
        for act_done in intent.done:
            note_act(
                visit,
                item,
                None,
                act_done.task or Task.SERVICE,
                on=act_done.on or visit.today,
                by_technician=act_done.by_technician,
                month_only=act_done.month_only,
                test=act_done.test if kind.tested else None,
                next_on=act_done.next_on,
            )
    return added


def _names(sort: list[Item]) -> list[str]:
    return [i.name for i in sort] if len(sort) < 3 else [f"{sort[0].name} to {sort[-1].name}"]


def _to_complete(sort: list[Item]) -> AddItem:
    return AddItem(
        kind=sort[-1].kind,
        item_id=lockers.number(sort[-1].id),
        alike_ids=tuple(lockers.number(i.id) for i in sort[:-1]),
    )


_AIR = 0.21


def _default_name(kind: ItemType, facts: ItemFacts) -> str:
    bits = [facts.cylinder_material.value] if facts.cylinder_material else []
    bits.append(kind.name)
    bits += [f"{facts.volume_l:g} l"] if facts.volume_l else []
    gas = facts.o2_fraction if kind.tested else None
    bits += ["air" if gas == _AIR else f"{gas * 100:g} %"] if gas else []
    return " ".join(bits)


def _change(intent: AddItem, visit: Visit) -> Reply:
    """Put the facts of an item of the kit right."""
    mention = intent.of or ""
    kinds = find.kinds_in(mention)
    found = find.meant(visit.kit(), mention)
    if not found and ItemKind.CYLINDER in kinds:
        found = [i for i in visit.kit() if CATALOGUE[i.kind].tested]
    if not found:
        return Reply(
            f"There is no {mention} in your kit, so I noted nothing.",
            offers=(Offer("Add it", intent.model_copy(update={"of": None})),),
            data={"intent": "add_item"},
        )
    if len(found) > 1:
        offers = tuple(
            Offer(i.name, intent.model_copy(update={"of": None, "item_id": i.id})) for i in found[:8]
        )
        return Reply("Which one?", offers=offers, data={"intent": "add_item"})
    item = found[0]
    before = legal_dates(visit, item)
    item.facts = items.dump_facts(items.facts_of(item).and_also(items.told(intent.facts, visit.today)))
    if intent.name and clean(intent.name) != clean(item.name):
        item.name = items.free_name(visit.session, visit.locker_id, intent.name)
    visit.session.add(item)
    return Reply(
        f"Noted: {item.name}{facts_said(item)}.",
        _moved(before, legal_dates(visit, item), visit.today),
        offers=(Offer("Undo", Undo()),),
        data={"intent": "add_item", "item": item.name, "kind": item.kind},
    )


def _moved(before: LegalDates, after: LegalDates, today: date) -> tuple[str, ...]:
    lines = changed_dates(before, after, today)
    return (*lines, CHECK_LOCALLY) if lines else ()


def _complete(intent: AddItem, visit: Visit) -> Reply:
    item = visit.item(intent.item_id or 0)
    if item is None:
        return Reply("That item is no longer in your kit.", data={"intent": "add_item"})
    for same in (item, *(i for n in intent.alike_ids if (i := visit.item(n)))):
        same.facts = items.dump_facts(items.facts_of(same).and_also(intent.facts))
        if intent.name and same is item and clean(intent.name) != clean(item.name):
            item.name = items.free_name(visit.session, visit.locker_id, intent.name)
        visit.session.add(same)
    return _next_question(intent, item, visit, f"Noted for {item.name}.")


_WATCHED = "I will keep an eye on all of it. Ask: what is due, or name an item to see what it needs."
_MANY = 2
"""From so many further items on, what each needs is not told at once: nobody reads it."""


def _next_question(intent: AddItem, item: Item, visit: Visit, said: str, *, many: bool = False) -> Reply:
    """Ask for the next fact that changes the care of this item, or of the next one added with it."""
    many = many or len(intent.also) >= _MANY
    facts = items.facts_of(item)
    data: dict[str, object] = {"intent": "add_item", "item": item.name, "kind": item.kind}
    for name in CATALOGUE[item.kind].asks:
        if getattr(facts, name) is None and name not in intent.skip_ids:
            asked, options = _QUESTIONS[name]
            bare = intent.model_copy(update={"facts": ItemFacts(), "count": 1})
            offers = [
                Offer(label, bare.model_copy(update={"facts": ItemFacts.model_validate({name: value})}))
                for label, value in options
            ]
            skip = Offer("don't know", bare.model_copy(update={"skip_ids": (*intent.skip_ids, name)}))
            question = (
                f"{item.name[:60]}: {asked[0].lower()}{asked[1:]}"
                if intent.also or intent.alike_ids
                else asked
            )
            return Reply(f"{said} {upper_first(question)}", offers=(*offers, skip), data=data)
    for n, waiting in enumerate(intent.also, 1):
        if (following := visit.item(waiting.item_id or 0)) is not None:
            reply = _next_question(
                waiting.model_copy(update={"also": intent.also[n:]}), following, visit, said, many=many
            )
            of_this = () if many else _watched(item, visit, f" on the {item.name}")
            return replace(reply, lines=(*of_this, *reply.lines))
    return _added(item, visit, said, data, many=many)


def _added(item: Item, visit: Visit, said: str, data: dict[str, object], *, many: bool = False) -> Reply:
    """Say what will be kept an eye on, and ask for the test dates that only the diver knows."""
    lines = (
        [_WATCHED] if many else _watched(item, visit, f" on the {item.name}" if item.name not in said else "")
    )
    offers: tuple[Offer, ...] = (Offer("Undo", Undo()),)
    if CATALOGUE[item.kind].tested:
        lines.append(
            f"When was it last tested? Say: {item.name} hydro tested May 2024, or: visual done March 2026."
        )
        if not visit.region_known():
            lines.append("Test dates are set by law. In which country is it tested?")
            shown = (
                ("Germany", Region.GERMANY),
                ("UK", Region.UK),
                ("USA", Region.US),
                ("other EU", Region.EU),
            )
            offers = (*(Offer(label, SetPreference(region=region)) for label, region in shown), *offers)
    return Reply(said, tuple(lines), offers=offers, data=data)


def _watched(item: Item, visit: Visit, on: str) -> list[str]:
    visit.session.flush()
    standing = next(d for d in visit.standing() if d.item.id == item.id)
    watched = [
        f"- {_watch(item, d)}" for d in standing.dues if d.rule.every.each_dive or d.rule.every.counted
    ]
    return [f"I will keep an eye{on or ' on'}:", *watched] if watched else []


def _watch(item: Item, due: Due) -> str:
    part = part_name(item, due.part)
    return f"{act(due.rule)}{by_whom(due.rule)}: {part + ', ' if part else ''}{due.rule.every.in_words()}"


def show_kit(intent: ShowKit, visit: Visit) -> Reply:
    """Show the kit, or one item with its record, or the dive log."""
    if intent.dives:
        return show_dives(visit)
    kit = visit.kit()
    total = dives.count(visit.session, visit.locker_id)
    data = {"intent": "show_kit", "items": [i.name for i in kit], "dives": total}
    if not kit:
        return Reply(
            f"Your kit is empty. {count(total, 'dive')} logged.",
            (*lent_lines(visit), "Add it like: add dry suit, plastic zip, latex seals"),
            offers=(Offer("Add kit", AddItem()),),
            data=data,
        )
    wanted = (
        [i for i in (visit.item(intent.item_id),) if i]
        if intent.item_id
        else find.by_mention(kit, intent.item)
        if intent.item
        else []
    )
    if len(wanted) == 1:
        return _one_item(wanted[0], visit)
    offers = tuple(Offer(i.name, ShowKit(item_id=i.id)) for i in kit[:8])
    return Reply(
        f"{count(len(kit), 'item')}, {count(total, 'dive')} logged.",
        kit_lines(visit),
        offers=(*offers, Offer("Pocket card", Export(what="card"))),
        data=data,
    )


def kit_lines(visit: Visit) -> tuple[str, ...]:
    dived = dives.by_item(visit.session, visit.locker_id)
    lines = []
    lent = borrowed(visit)
    for item in visit.kit():
        on_it = sum(d.dives for d in dived.get(lockers.number(item.id), ()))
        lines.append(
            f"- {item.name}{facts_said(item)}: {count(on_it, 'dive')}{_out_of_service(item, visit)}{lent.get(item.id, '')}"
        )
    own = [f"{w.word} = {_meaning(w)}" for w in own_words.of_locker(visit.session, visit.locker_id)]
    lines += lent_lines(visit)
    return (*lines, *((f"Your words: {'; '.join(own)}",) if own else ()))


def _meaning(row: OwnWord) -> str:
    if row.substance:
        return STUFF[Substance(row.substance)].name
    return CATALOGUE[row.kind].part(row.part).name if row.kind and row.part else "?"


def _out_of_service(item: Item, visit: Visit) -> str:
    """Say that a part met something that can burn, "" if none did."""
    wrong = visit.contaminated(item)
    return "".join(
        f" - OUT OF OXYGEN SERVICE: {w.cause.replace('_', ' ')} on {part_name(item, w.part) or 'it'}"
        for w in wrong
    )


def _done_line(care: Care, item: Item, today: date) -> str:
    what = f"{care.test.replace('_', '-')} test" if care.test else Task(care.task).value
    on = day_of(care.on, today, month_only=care.month_only)
    return " ".join(filter(None, (what, part_name(item, care.part or ""), on)))


def _one_item(item: Item, visit: Visit) -> Reply:
    item_id = lockers.number(item.id)
    on_it = sum(d.dives for d in dives.by_item(visit.session, visit.locker_id).get(item_id, ()))
    record = care_log.of_item(visit.session, visit.locker_id, item_id)
    befell = mishaps.of_item(visit.session, visit.locker_id, item_id)
    told = [(c.on, f"- {_done_line(c, item, visit.today)}{visit.by(c.done_by)}") for c in record]
    told += [
        (m.on, f"- {HAPPENED[Happening(m.happened)]} {day(m.on, visit.today)}{visit.by(m.told_by)}")
        for m in befell
    ]
    lines = [line for _, line in sorted(told, key=lambda t: t[0], reverse=True)[:8]]
    notes = care_log.manuals(visit.session, visit.locker_id).get(item_id, [])
    lines += [f'- manual: "{n.text}"' for n in notes[:5]]
    lines += [f"-{_out_of_service(item, visit).removeprefix(' -')}"] if visit.contaminated(item) else []
    first = f"{item.name}{facts_said(item)}: {count(on_it, 'dive')} since {day(item.added_on, visit.today)}."
    offers = (
        Offer("What is due on it", ShowDue(item=item.name)),
        Offer("Rinsed", RecordCare(task=Task.RINSE, item_id=item.id)),
        Offer("Its record as a paper", Export(what="record", item_id=item.id)),
        Offer("Out of my kit", RetireItem(item_id=item.id)),
    )
    return Reply(
        first,
        tuple(lines) or ("No care recorded yet.",),
        offers=offers,
        data={"intent": "show_kit", "item": item.name, "dives": on_it},
    )
