"""Records tests of cylinders, and says when the next falls due by the rule of the region."""

from datetime import date

from bot.handle.acts import note_act
from bot.handle.visit import Visit
from bot.handle.why import counted_from
from bot.handle.wording import befell, day, day_of, law_note, month
from bot.replies import Reply
from bot.understand.intents import AddItem, RecordCare, Undo
from bot.understand.reader import Offer
from scheduler.due import Due
from scheduler.law import is_late
from store.catalogue import ItemFacts
from store.tables import Item
from store.vocabulary import CylinderTest, Task

_TASK = {
    CylinderTest.HYDROSTATIC: Task.TEST,
    CylinderTest.VISUAL: Task.INSPECT,
    CylinderTest.VALVE: Task.SERVICE,
    CylinderTest.EDDY_CURRENT: Task.TEST,
}
_NAME = {
    CylinderTest.HYDROSTATIC: "hydrostatic test",
    CylinderTest.VISUAL: "visual inspection",
    CylinderTest.VALVE: "valve service",
    CylinderTest.EDDY_CURRENT: "eddy-current test",
}


_STAMP = {CylinderTest.VISUAL: "visual_due_on", CylinderTest.EDDY_CURRENT: "eddy_due_on"}


def record_test(intent: RecordCare, item: Item, visit: Visit) -> Reply:
    """Record a test that was done; where the word "stamped" leaves open which date it is, ask."""
    test = intent.test or CylinderTest.HYDROSTATIC
    on = intent.on or visit.today
    if intent.stamped:
        return _which_date(intent, item, on, test)
    before = _due(item, test, visit)
    note_act(
        visit,
        item,
        None,
        _TASK[test],
        on=on,
        by_technician=intent.by_technician,
        month_only=intent.month_only,
        test=test,
        next_on=intent.next_on,
    )
    after = _due(item, test, visit)
    lines = [*_late(before, after, on), *_next(after, visit.today), *_unanswered(item, visit)]
    also = intent.model_copy(
        update={"test": CylinderTest.VISUAL, "task": Task.INSPECT, "item_id": item.id, "next_on": None}
    )
    offers = (Offer("Looked inside as well", also),) if test is CylinderTest.HYDROSTATIC else ()
    return Reply(
        f"Noted: {item.name}, {_NAME[test]} {day_of(on, visit.today, month_only=intent.month_only)}.",
        (*lines, *law_note([after.rule] if after else [])),
        offers=(*offers, Offer("Undo", Undo())),
        data={
            "intent": "record_care",
            "item": item.name,
            "parts": [],
            "task": _TASK[test].value,
            "test": test.value,
            "on": on.isoformat(),
            "next_due_on": after.due_on.isoformat() if after and after.due_on else None,
        },
    )


def _due(item: Item, test: CylinderTest, visit: Visit) -> Due | None:
    standing = next(i for i in visit.standing() if i.item.id == item.id)
    return next((d for d in standing.dues if d.rule.test is test), None)


def _late(before: Due | None, after: Due | None, on: date) -> list[str]:
    """Say that a test came too late to keep its old due month, where the region counts so."""
    if before is None or after is None or before.legal is None or not before.rule.counts_from_due:
        return []
    if not is_late(before.legal.due_on, on):
        return []
    return [f"It was due by {month(before.legal.due_on)}: more than two months late."]


def _next(after: Due | None, today: date) -> list[str]:
    """Say when the test is next due by the calendar, and what asks for it before."""
    if after is None or after.due_on is None:
        return []
    legal = after.legal.due_on if after.legal else after.calendar_on
    how = f", {counted_from(after.legal)}" if after.legal else ""
    lines = []
    if legal is not None:
        lines.append(
            f"{'OVERDUE since' if legal < today else 'Next due by'} {legal.day} {month(legal)}{how}."
        )
    if what := befell(after):
        lines.append(
            f"Due all the same: it was {what} {day(after.due_on, today)}, and nothing since answers that."
        )
    return lines


def _unanswered(item: Item, visit: Visit) -> list[str]:
    """Name the tests whose last date nobody has said yet."""
    standing = next(i for i in visit.standing() if i.item.id == item.id)
    open_ = [_NAME[d.rule.test] for d in standing.dues if d.rule.by_law and d.due_on is None and d.rule.test]
    return [f"Not known yet: {', '.join(open_)}."] if open_ else []


def _which_date(intent: RecordCare, item: Item, on: date, test: CylinderTest) -> Reply:
    """Ask whether a stamped month is that of the test or of the next due date: in some countries both are stamped."""
    field = _STAMP.get(test, "hydro_due_on")
    stamp = AddItem(kind=item.kind, of=item.name, facts=ItemFacts.model_validate({field: on}))
    return Reply(
        f"{item.name}, stamped {month(on)}: is that the test, or the next due date?",
        ("I noted nothing yet.",),
        offers=(
            Offer("Tested then", intent.model_copy(update={"stamped": False, "item_id": item.id})),
            Offer("Due then", stamp),
        ),
        data={"intent": "record_care"},
    )
