"""Adds acts of care and mishaps to the record of an item."""

from datetime import date

from bot.advice.substances import STUFF, Trait
from bot.handle.manual import conflict
from bot.handle.visit import Visit
from bot.handle.wording import act, by_whom, day, law_note
from bot.replies import Reply
from bot.understand.intents import RecordCare, ShowDue, Undo
from bot.understand.reader import Offer
from scheduler.care_rule import CareRule
from store import care_log, lockers, mishaps
from store.tables import Care, Item, Mishap
from store.vocabulary import CylinderTest, Happening, Substance, Task

HAPPENED = {
    Happening.FLOODED: "flooded",
    Happening.DRAINED: "run down to empty",
    Happening.OVERHEATED: "overheated",
    Happening.DAMAGED: "damaged",
    Happening.CORRODED: "corroded",
    Happening.LEAKING: "leaking",
}


def taints(item: Item, part: str | None, substance: Substance) -> bool:
    """Tell whether a substance takes the part out of oxygen service: it burns, and breathing gas touches the part."""
    return Trait.BURNS in STUFF[substance].traits and bool(conflict(item, part, (substance,), of_gas=True))


def note_act(
    visit: Visit,
    item: Item,
    part: str | None,
    task: Task,
    *,
    substance: Substance | None = None,
    on: date,
    by_technician: bool = False,
    month_only: bool = False,
    test: CylinderTest | None = None,
    next_on: date | None = None,
    made_on: date | None = None,
) -> None:
    """Add one act to the log; `part` None: the item as a whole. The last four as in `store.tables.Care`."""
    care_log.add(
        visit.session,
        Care(
            locker_id=visit.locker_id,
            item_id=lockers.number(item.id),
            part=part,
            task=task,
            substance=substance,
            contaminates=substance is not None and taints(item, part, substance),
            by_technician=by_technician,
            on=on,
            month_only=month_only,
            test=test,
            next_on=next_on,
            made_on=made_on,
            done_by=visit.actor,
            logged_at=visit.now,
        ),
    )


def note_mishap(happened: Happening, item: Item, on: date, visit: Visit) -> Reply:
    """Record what befell an item and say what it asks for now."""
    mishaps.add(
        visit.session,
        Mishap(
            locker_id=visit.locker_id,
            item_id=lockers.number(item.id),
            happened=happened,
            on=on,
            told_by=visit.actor,
            logged_at=visit.now,
        ),
    )
    standing = next(i for i in visit.standing() if i.item.id == item.id)
    asked = [
        d
        for d in standing.dues
        if happened in d.rule.every.happened and d.due_on is not None and d.due_on <= on
    ]
    asked.sort(key=lambda d: not d.rule.critical)
    lines = [f"- {act(d.rule)}{by_whom(d.rule)}: {d.rule.why}" for d in asked]
    grave = any(d.rule.critical for d in asked)
    first = f"Noted: {item.name} {HAPPENED[happened]} {day(on, visit.today)}."
    if grave:
        first = f"Do not {'fill or ' if any(d.rule.by_law for d in asked) else ''}dive it: {item.name} {HAPPENED[happened]} {day(on, visit.today)}."
    data = {"intent": "record_care", "item": item.name, "happened": happened.value, "on": on.isoformat()}
    return Reply(
        first,
        (
            *(["It asks for:", *lines] if lines else ["My rules ask for nothing more; look it over."]),
            *law_note(d.rule for d in asked),
        ),
        ("The maker's manual and a qualified technician decide.",) if grave else (),
        (
            *((Offer("Why", ShowDue(why=True, item=item.name)),) if asked else ()),
            *((Offer("It has been seen to", _answer(asked[0].rule, item)),) if len(asked) == 1 else ()),
            Offer("Undo", Undo()),
        ),
        data,
    )


def _answer(rule: CareRule, item: Item) -> RecordCare:
    return RecordCare(task=rule.task, test=rule.test, item_id=item.id)
