"""All data of a locker, gathered into a file. Taking one in is `store.restoring`, the file itself `store.exchange.archive`."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError
from sqlmodel import Session, SQLModel, col, or_, select

from store import loans, lockers, people
from store.exchange.archive import Archive, ArchiveError
from store.items import dump_facts, facts_of
from store.lockers import number
from store.tables import (
    Care,
    CareTask,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Item,
    Loan,
    ManualNote,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
)

WISHES = "zone digest_at quiet_from quiet_to units reminders dark board_day"
"""The columns of a chat that are the diver's."""
OF_ITEMS: dict[str, tuple[type[SQLModel], str]] = {
    "care": (
        Care,
        "part task substance contaminates by_technician on month_only test next_on made_on logged_at",
    ),
    "mishaps": (Mishap, "happened on logged_at"),
    "manual": (
        ManualNote,
        "part substances task every_dives every_months every_days every_hours ring text noted_at",
    ),
    "snoozes": (Snooze, "part rule until_on"),
}
"""By list of the file: the table, and the columns that are alike in both."""
BY = {"care": "done_by", "mishaps": "told_by"}
DIVE = "on started dives water max_depth_m duration_min min_temp_c o2_fraction conditions logged_at"
ELSEWHERE = "on dives duration_min conditions"
TRIP = "from_on to_on dives water min_temp_c max_temp_c told"
WORD = "word substance kind part"


def export(session: Session, locker_id: int, chat: Chat | None, person: str) -> Archive:
    """Gather all data of a locker as a person asks for it, with the wishes of a chat.

    What is lent out is in it; what is borrowed is only named. ArchiveError: something is stored that no file can take.
    """
    try:
        return Archive.model_validate(_Gathering(session, locker_id, person).all(chat))
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        where = ", ".join(map(str, first["loc"]))
        raise ArchiveError(
            f"This locker cannot be written to a file: {where}: {first['msg']}; tell whoever runs the bot."
        ) from error


class _Gathering:
    """Numbers the rows of one locker while they are gathered."""

    def __init__(self, session: Session, locker_id: int, person: str) -> None:
        self._session, self._locker_id = session, locker_id
        self._people = {person: 1}
        self._titles: dict[int, str] = {}
        self._loans = self._rows(Loan, Loan.owner_id == locker_id)
        self._borrowed = {loan.item_id: loan for loan in loans.borrowed_by(session, locker_id)}
        self._lent = {loan.item_id: loan for loan in self._loans if loan.back_on is None}
        own = or_(col(Item.locker_id) == locker_id, col(Item.id).in_(self._lent))
        self._items = [i for i in self._rows(Item, own) if number(i.id) not in self._borrowed]
        self._numbers = {number(item.id): n for n, item in enumerate(self._items, 1)}
        self._files = self._rows(
            DiveImport, (col(DiveImport.locker_id) == locker_id) & (col(DiveImport.state) == "counted")
        )
        self._filed = {number(file.id): n for n, file in enumerate(self._files, 1)}

    def all(self, chat: Chat | None) -> dict[str, Any]:
        """Return the lists of the file; people come last, once all that they told was seen."""
        locker = lockers.locker(self._session, self._locker_id)
        found: dict[str, Any] = {
            "locker": told_in(locker, "name region created_at"),
            "wishes": told_in(chat, WISHES) if chat is not None else None,
            "items": [self._item(item) for item in self._items],
            "files": [
                {
                    "number": self._filed[number(file.id)],
                    "sent_by": self._person(file.sent_by),
                    **told_in(file, "name sent_at"),
                }
                for file in self._files
            ],
            "dives": self._dives(),
            **{name: self._of_items(name) for name in OF_ITEMS},
            "words": [told_in(w, WORD) for w in self._rows(OwnWord, OwnWord.locker_id == self._locker_id)],
            "trips": [told_in(t, TRIP) for t in self._rows(Trip, Trip.locker_id == self._locker_id)],
            "loans": [self._loan(loan) for loan in self._loans],
            "elsewhere": self._elsewhere(),
            "borrowed": [
                {
                    "name": self._session.get_one(Item, item_id).name,
                    "of": self._title(loan.owner_id),
                    "lent_on": loan.lent_on,
                }
                for item_id, loan in self._borrowed.items()
            ],
            "told": self._told(),
        }
        names = people.names_alone(self._session, [key for key, n in self._people.items() if n > 1])
        rows: list[dict[str, Any]] = [{"number": 1, "you": True, "name": None}]
        rows += [{"number": n, "you": False, "name": name} for n, name in enumerate(names, 2)]
        return {**found, "people": rows}

    def _rows(self, table: type[SQLModel], wanted: Any) -> list[Any]:  # noqa: ANN401 - rows of any table
        return list(self._session.exec(select(table).where(wanted).order_by(table.id)))  # type: ignore[attr-defined]  # all but links have one

    def _values_of(self, table: Any, wanted: Any) -> Iterable[Any]:  # noqa: ANN401 - as above
        """Return rows of a long list as bare values: a row of the session takes ten times the memory."""
        columns = SQLModel.metadata.tables[table.__tablename__]
        return self._session.execute(select(columns).where(wanted).order_by(columns.c.id))  # type: ignore[call-overload]  # a table, not a class of rows

    def _person(self, key: str) -> int:
        return self._people.setdefault(key, len(self._people) + 1)

    def _item(self, item: Item) -> dict[str, Any]:
        lent = self._lent.get(number(item.id))
        return {
            "number": self._numbers[number(item.id)],
            "name": lent.name if lent else item.name,
            "facts": dump_facts(facts_of(item)),
            "added_by": self._person(item.added_by),
            **told_in(item, "kind added_on retired_on"),
        }

    def _dives(self) -> list[dict[str, Any]]:
        rows = self._values_of(Dive, Dive.locker_id == self._locker_id)
        on_it = self._items_on(Dive.locker_id == self._locker_id)
        return [
            {
                "items": on_it[number(dive.id)],
                "file": self._filed.get(dive.import_id),
                "logged_by": self._person(dive.logged_by),
                **told_in(dive, DIVE),
            }
            for dive in rows
        ]

    def _items_on(self, wanted: Any) -> dict[int, list[int]]:  # noqa: ANN401 - a condition on dives
        """Return the items of the file on each dive, by number."""
        links = select(DiveItem.dive_id, DiveItem.item_id).join(Dive, col(Dive.id) == DiveItem.dive_id)
        found: dict[int, list[int]] = defaultdict(list)
        for dive_id, item_id in self._session.exec(links.where(wanted).order_by(col(DiveItem.item_id))):
            if item_id in self._numbers:
                found[dive_id].append(self._numbers[item_id])
        return found

    def _of_items(self, name: str) -> list[dict[str, Any]]:
        table, columns = OF_ITEMS[name]
        of: Any = table
        wanted = or_(of.locker_id == self._locker_id, of.item_id.in_(self._lent))
        by = BY.get(name)
        return [
            {
                "item": self._numbers[row.item_id],
                **told_in(row, columns),
                **({by: self._person(getattr(row, by))} if by else {}),
            }
            for row in self._values_of(table, wanted)
            if row.item_id in self._numbers
        ]

    def _loan(self, loan: Loan) -> dict[str, Any]:
        return {
            "item": self._numbers[loan.item_id],
            "to": self._title(loan.borrower_id),
            "lent_by": self._person(loan.lent_by),
            **told_in(loan, "name lent_on back_on"),
        }

    def _elsewhere(self) -> list[dict[str, Any]]:
        """Return the dives of others that count for items that were lent, as `store.dives.by_item` counts them."""
        lent = {loan.item_id for loan in self._loans}
        borrowers = {loan.borrower_id for loan in self._loans}
        there = col(Dive.locker_id).in_(borrowers) & (col(Dive.locker_id) != self._locker_id)
        on_it = self._items_on(there & col(DiveItem.item_id).in_(lent))
        return [
            {"locker": self._title(d.locker_id), "items": on_it[number(d.id)], **told_in(d, ELSEWHERE)}
            for d in self._values_of(Dive, there)
            if on_it.get(number(d.id))
        ]

    def _told(self) -> list[dict[str, Any]]:
        wanted = col(CareTask.told).is_not(None) & col(CareTask.item_id).in_(list(self._numbers))
        rows = [
            {
                "item": self._numbers[row.item_id],
                "stage": row.told,
                **told_in(row, "part rule task critical due_on"),
            }
            for row in self._rows(CareTask, wanted)
        ]
        return sorted(rows, key=lambda row: (row["item"], row["part"], row["rule"]))

    def _title(self, locker_id: int) -> str:
        """Return what another locker is called: its name, or else whose it is."""
        if locker_id in self._titles:
            return self._titles[locker_id]
        locker = lockers.locker(self._session, locker_id)
        owner = [m.person for m in people.of_locker(self._session, locker_id)[:1]]
        whose = [f"{name}'s locker" for name in people.names_alone(self._session, owner)]
        self._titles[locker_id] = locker.name or (whose or ["another locker"])[0]
        return self._titles[locker_id]


def told_in(row: object, columns: str) -> dict[str, Any]:
    return {name: getattr(row, name) for name in columns.split()}
