"""An item that goes to another locker for a while, and comes back."""

from bot.handle import find
from bot.handle.visit import Visit
from bot.handle.wording import day
from bot.replies import Reply
from bot.understand.intents import ShareLocker
from bot.understand.reader import Offer
from scheduler.plan import refresh
from store import loans, people
from store.people import Held
from store.tables import Item, Loan

_DATA: dict[str, object] = {"intent": "share_locker"}
_MOST = 12


def lend(intent: ShareLocker, visit: Visit) -> Reply:
    """Lend an item to another locker of whoever speaks: its record goes with it, and dives there count for it."""
    item = _item(intent, visit)
    if isinstance(item, Reply):
        return item
    if loans.open_loan(visit.session, item.id or 0):
        return Reply(f"{item.name} is lent to you itself: give it back first.", data=_DATA)
    others = [h for h in people.held(visit.session, visit.actor) if h.locker_id != visit.locker_id]
    meant = [h for h in others if _is_meant(intent, h, visit)]
    if not others:
        return Reply(
            f"There is no other locker to lend {item.name} to.",
            ("You must be in both: join the other one by its code first.",),
            data=_DATA,
        )
    if len(meant) != 1:
        offers = tuple(
            Offer(
                visit.title_of(h.locker_id), ShareLocker(act="lend", item_id=item.id, locker_id=h.locker_id)
            )
            for h in (meant or others)[:_MOST]
        )
        return Reply(f"Lend {item.name} to which locker?", offers=offers, data=_DATA)
    loan = loans.lend(visit.session, item, meant[0].locker_id, visit.today, visit.actor)
    _work_out(visit, loan)
    return Reply(
        f"Lent: {loan.name} to {visit.title_of(loan.borrower_id)}.",
        (
            "Its record went with it; dives logged there count for it, and its reminders go there.",
            f"When it is back, say: {loan.name} is back.",
        ),
        offers=(Offer("It is back", ShareLocker(act="give_back", item_id=loan.item_id)),),
        data={**_DATA, "item": loan.name, "done": True},
    )


def give_back(intent: ShareLocker, visit: Visit) -> Reply:
    """Bring a lent item back, told on either side."""
    open_now = [
        *loans.lent_by(visit.session, visit.locker_id),
        *loans.borrowed_by(visit.session, visit.locker_id),
    ]
    if not open_now:
        return Reply("Nothing is lent to or from this locker.", data=_DATA)
    found = [loan for loan in open_now if intent.item_id in {None, loan.item_id}]
    if intent.item is not None:
        named = find.meant([loans.item_of(visit.session, loan) for loan in found], intent.item)
        found = [loan for loan in found if loan.item_id in {i.id for i in named}]
    if len(found) != 1:
        offers = tuple(
            Offer(_told(loan, visit), ShareLocker(act="give_back", item_id=loan.item_id))
            for loan in (found or open_now)[:_MOST]
        )
        return Reply("Which one is back?", offers=offers, data=_DATA)
    loan = found[0]
    item = loans.give_back(visit.session, loan, visit.today)
    _work_out(visit, loan)
    return Reply(
        f"Back in {visit.title_of(loan.owner_id)}: {item.name}.",
        ("Its record came back with it, with all that was done and dived meanwhile.",),
        data={**_DATA, "item": item.name, "done": True},
    )


def lent_lines(visit: Visit) -> tuple[str, ...]:
    """Say what of this locker is elsewhere."""
    return tuple(f"- {_told(loan, visit)}" for loan in loans.lent_by(visit.session, visit.locker_id))


def borrowed(visit: Visit) -> dict[int | None, str]:
    """Say of each item that is not this locker's own whose it is."""
    found = loans.borrowed_by(visit.session, visit.locker_id)
    return {loan.item_id: f", lent by {visit.title_of(loan.owner_id)}" for loan in found}


def _told(loan: Loan, visit: Visit) -> str:
    if loan.owner_id == visit.locker_id:
        return f"{loan.name}: lent to {visit.title_of(loan.borrower_id)} {day(loan.lent_on, visit.today)}"
    return f"{loan.name}: lent by {visit.title_of(loan.owner_id)} {day(loan.lent_on, visit.today)}"


def _item(intent: ShareLocker, visit: Visit) -> Item | Reply:
    kit = visit.kit()
    if intent.item_id is not None:
        found = [i for i in (visit.item(intent.item_id),) if i]
    else:
        found = find.meant(kit, intent.item or "")
    if len(found) == 1:
        return found[0]
    if found:
        offers = tuple(Offer(i.name, intent.model_copy(update={"item_id": i.id})) for i in found[:_MOST])
        return Reply("Which one?", offers=offers, data=_DATA)
    return Reply(f"There is no {intent.item or 'such item'} in this locker.", data=_DATA)


def _is_meant(intent: ShareLocker, held: Held, visit: Visit) -> bool:
    if intent.locker_id is not None:
        return held.locker_id == intent.locker_id
    return intent.name is not None and intent.name.casefold() in visit.title_of(held.locker_id).casefold()


def _work_out(visit: Visit, loan: Loan) -> None:
    visit.session.flush()
    for locker_id in (loan.owner_id, loan.borrower_id):
        refresh(visit.session, visit.chat, visit.now, locker_id=locker_id)
