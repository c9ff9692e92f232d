"""Items that are in another locker for a while: they are worked with there, and their record goes with them and comes back."""

from datetime import date

from sqlmodel import Session, col, select, update

from store import items, tasks
from store.lockers import number
from store.tables import Care, Item, Loan, ManualNote, Mishap, Notice, Snooze


def lend(session: Session, item: Item, borrower_id: int, on: date, by: str) -> Loan:
    """Put an item into another locker until it is given back."""
    loan = Loan(
        item_id=number(item.id),
        owner_id=item.locker_id,
        borrower_id=borrower_id,
        name=item.name,
        lent_on=on,
        lent_by=by,
    )
    session.add(loan)
    _carry(session, item, borrower_id, item.name)
    return loan


def give_back(session: Session, loan: Loan, on: date) -> Item:
    """Put an item back into the locker it belongs to, under the name it had there."""
    item = session.get_one(Item, loan.item_id)
    loan.back_on = on
    session.add(loan)
    _carry(session, item, loan.owner_id, loan.name)
    return item


def open_loan(session: Session, item_id: int) -> Loan | None:
    """Return the loan of an item that is lent now."""
    query = select(Loan).where(Loan.item_id == item_id, col(Loan.back_on).is_(None))
    return session.exec(query).first()


def lent_by(session: Session, locker_id: int) -> list[Loan]:
    """Return what a locker has lent and not got back."""
    query = select(Loan).where(Loan.owner_id == locker_id, col(Loan.back_on).is_(None))
    return list(session.exec(query.order_by(col(Loan.id))))


def borrowed_by(session: Session, locker_id: int) -> list[Loan]:
    """Return what a locker has of others."""
    query = select(Loan).where(Loan.borrower_id == locker_id, col(Loan.back_on).is_(None))
    return list(session.exec(query.order_by(col(Loan.id))))


def bring_home(session: Session, locker_id: int, on: date) -> set[int]:
    """End all loans from and to a locker, as before it is deleted; return the other lockers."""
    open_now = [*lent_by(session, locker_id), *borrowed_by(session, locker_id)]
    for loan in open_now:
        give_back(session, loan, on)
    return {i for loan in open_now for i in (loan.owner_id, loan.borrower_id)} - {locker_id}


def item_of(session: Session, loan: Loan) -> Item:
    """Return the item that is lent."""
    return session.get_one(Item, loan.item_id)


def _carry(session: Session, item: Item, to: int, name: str) -> None:
    """Move an item with its record; what was worked out and queued about it is dropped, to be worked out there."""
    item.locker_id, item.name = to, items.free_name(session, to, name)
    for table in (Care, Mishap, ManualNote, Snooze):
        for row in session.exec(select(table).where(table.item_id == item.id)):
            row.locker_id = to
            session.add(row)
    session.add(item)
    tasks.drop_of_items(session, [number(item.id)])
    waiting = (col(Notice.item_id) == item.id, col(Notice.state) == "pending")
    session.exec(update(Notice).where(*waiting).values(state="cancelled"))
    session.flush()
