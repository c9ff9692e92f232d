"""All data of a locker, gathered into a file and put into an empty locker. The file itself is `store.exchange.archive`."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import Any

from pydantic import ValidationError
from sqlmodel import Session, SQLModel, col, insert, or_, select, update

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
    Locker,
    ManualNote,
    Mishap,
    OwnWord,
    Snooze,
    Trip,
)

WISHES = "zone digest_at quiet_from quiet_to units reminders dark board_day"
"""The columns of a chat that are the diver's."""
_OF_ITEMS: dict[str, tuple[type[SQLModel], str]] = {
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
_BY = {"care": "done_by", "mishaps": "told_by"}
_DIVE = "on started dives water max_depth_m duration_min min_temp_c o2_fraction conditions logged_at"
_ELSEWHERE = "on dives duration_min conditions"
_TRIP = "from_on to_on dives water min_temp_c max_temp_c told"
_WORD = "word substance kind part"


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
            "locker": _values(locker, "name region created_at"),
            "wishes": _values(chat, WISHES) if chat is not None else None,
            "items": [self._item(item) for item in self._items],
            "files": [
                {
                    "number": self._filed[number(file.id)],
                    "sent_by": self._person(file.sent_by),
                    **_values(file, "name sent_at"),
                }
                for file in self._files
            ],
            "dives": self._dives(),
            **{name: self._of_items(name) for name in _OF_ITEMS},
            "words": [_values(w, _WORD) for w in self._rows(OwnWord, OwnWord.locker_id == self._locker_id)],
            "trips": [_values(t, _TRIP) for t in self._rows(Trip, Trip.locker_id == self._locker_id)],
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
            **_values(item, "kind added_on retired_on"),
        }

    def _dives(self) -> list[dict[str, Any]]:
        rows = self._values_of(Dive, Dive.locker_id == self._locker_id)
        on_it = self._items_on(Dive.locker_id == self._locker_id)
        return [
            {
                "items": on_it[number(dive.id)],
                "file": self._filed.get(dive.import_id),
                "logged_by": self._person(dive.logged_by),
                **_values(dive, _DIVE),
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
        table, columns = _OF_ITEMS[name]
        of: Any = table
        wanted = or_(of.locker_id == self._locker_id, of.item_id.in_(self._lent))
        by = _BY.get(name)
        return [
            {
                "item": self._numbers[row.item_id],
                **_values(row, columns),
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
            **_values(loan, "name lent_on back_on"),
        }

    def _elsewhere(self) -> list[dict[str, Any]]:
        """Return the dives of others that count for items that were lent, as `store.dives.by_item` counts them."""
        lent = {loan.item_id for loan in self._loans}
        borrowers = {loan.borrower_id for loan in self._loans}
        there = col(Dive.locker_id).in_(borrowers) & (col(Dive.locker_id) != self._locker_id)
        on_it = self._items_on(there & col(DiveItem.item_id).in_(lent))
        return [
            {"locker": self._title(d.locker_id), "items": on_it[number(d.id)], **_values(d, _ELSEWHERE)}
            for d in self._values_of(Dive, there)
            if on_it.get(number(d.id))
        ]

    def _told(self) -> list[dict[str, Any]]:
        wanted = col(CareTask.told).is_not(None) & col(CareTask.item_id).in_(list(self._numbers))
        rows = [
            {
                "item": self._numbers[row.item_id],
                "stage": row.told,
                **_values(row, "part rule task critical due_on"),
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


_AT_ONCE = 1000
"""Rows written at once: all of them would stand in memory several times over."""


def _batches(values: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    rows = iter(values)
    while some := list(islice(rows, _AT_ONCE)):
        yield some


def _values(row: object, columns: str) -> dict[str, Any]:
    return {name: getattr(row, name) for name in columns.split()}


def is_empty(session: Session, locker_id: int) -> bool:
    """Tell whether nothing was ever told of a locker, but what a chat and its people wish."""
    told: tuple[Any, ...] = (Item, Dive, Care, Mishap, ManualNote, OwnWord, Snooze, Trip)
    wanted = [select(t.id).where(t.locker_id == locker_id) for t in told]
    wanted.append(select(Loan.id).where(Loan.owner_id == locker_id))
    wanted.append(
        select(DiveImport.id).where(
            DiveImport.locker_id == locker_id, col(DiveImport.state).not_in(("dropped", "waiting"))
        )
    )
    return all(session.exec(query.limit(1)).first() is None for query in wanted)


def clear(session: Session, locker_id: int) -> None:
    """Empty a locker, so that a file can take the place of what is in it; nothing may be lent or borrowed any more.

    Chats, people and wishes stay. What was done before can no longer be undone.
    """
    lockers.empty(session, locker_id)
    session.flush()


def restore(
    session: Session, archive: Archive, locker_id: int, chat: Chat | None, *, person: str, now: datetime
) -> None:
    """Put a file into an empty locker, told by a person; ArchiveError, and nothing is changed, if it is not empty.

    `chat` takes the wishes; None: nobody does. It is written in bulk, past the journal, so undo knows nothing of it. What is
    derived is to be worked out after it, in the same unit of work: care tasks, calls of trips, `Chat.board_at`.
    """
    if not is_empty(session, locker_id):
        raise ArchiveError("This locker is not empty, so the file was not taken in; empty it first.")
    _Restoring(session, archive, locker_id, person, now).all(chat)
    session.flush()


class _Restoring:
    """Writes the rows of a file and knows which number became which id."""

    def __init__(self, session: Session, file: Archive, locker_id: int, person: str, now: datetime) -> None:
        self._session, self._archive, self._locker_id, self._now = session, file, locker_id, now
        self._people = {
            who.number: person if who.you else people.key(people.TOLD, who.name or "") for who in file.people
        }

    def all(self, chat: Chat | None) -> None:
        """Write everything."""
        file, here = self._archive, {"locker_id": self._locker_id}
        this = col(Locker.id) == self._locker_id
        self._session.exec(
            update(Locker).where(this).values(**_values(file.locker, "name region created_at"))
        )
        if chat is not None and file.wishes is not None:
            wishes = _values(file.wishes, WISHES)
            self._session.exec(update(Chat).where(col(Chat.id) == chat.id).values(**wishes))
        items = self._add(
            Item,
            [
                {
                    **here,
                    "facts": dump_facts(row.facts),
                    "added_by": self._people[row.added_by],
                    **_values(row, "kind name added_on retired_on"),
                }
                for row in file.items
            ],
        )
        of = dict(zip((row.number for row in file.items), items, strict=True))
        self._dives(of)
        for name, (table, columns) in _OF_ITEMS.items():
            by = _BY.get(name)
            self._write(
                table,
                (
                    {
                        **here,
                        "item_id": of[row.item],
                        **_values(row, columns),
                        **({by: self._people[getattr(row, by)]} if by else {}),
                    }
                    for row in getattr(file, name)
                ),
            )
        self._write(OwnWord, [{**here, **_values(row, _WORD)} for row in file.words])
        self._write(Trip, [{**here, **_values(row, _TRIP)} for row in file.trips])
        self._write(
            CareTask,
            [
                {
                    **here,
                    "item_id": of[row.item],
                    "told": row.stage,
                    "changed_at": self._now,
                    **_values(row, "part rule task critical due_on"),
                }
                for row in file.told
            ],
        )
        self._loans(of)

    def _dives(self, of: dict[int, int]) -> None:
        file, here = self._archive, {"locker_id": self._locker_id}
        files = self._add(
            DiveImport,
            [
                {
                    **here,
                    "content": {},
                    "answers": {},
                    "state": "counted",
                    "sent_by": self._people[row.sent_by],
                    **_values(row, "name sent_at"),
                }
                for row in file.files
            ],
        )
        filed = dict(zip((row.number for row in file.files), files, strict=True))
        values = (
            {
                **here,
                "import_id": None if row.file is None else filed[row.file],
                "logged_by": self._people[row.logged_by],
                **_values(row, _DIVE),
            }
            for row in file.dives
        )
        self._link(self._add(Dive, values), [row.items for row in file.dives], of)

    def _loans(self, of: dict[int, int]) -> None:
        """Write the history of loans. A locker without chat and people stands for each borrower; what was lent is home."""
        names = list(dict.fromkeys(loan.to for loan in self._archive.loans))
        made = self._add(Locker, [{"name": name, "created_at": self._now} for name in names])
        there = dict(zip(names, made, strict=True))
        today = self._now.date()
        self._write(
            Loan,
            [
                {
                    "item_id": of[row.item],
                    "owner_id": self._locker_id,
                    "borrower_id": there[row.to],
                    "lent_by": self._people[row.lent_by],
                    "back_on": row.back_on or max(today, row.lent_on),
                    **_values(row, "name lent_on"),
                }
                for row in self._archive.loans
            ],
        )
        values = [
            {
                "locker_id": there[row.locker],
                "logged_at": self._now,
                "logged_by": people.key(people.TOLD, row.locker),
                **_values(row, _ELSEWHERE),
            }
            for row in self._archive.elsewhere
        ]
        self._link(self._add(Dive, values), [row.items for row in self._archive.elsewhere], of)

    def _link(self, dives: Sequence[int], items: Sequence[Sequence[int]], of: dict[int, int]) -> None:
        links = (
            {"dive_id": dive_id, "item_id": of[n]}
            for dive_id, on_it in zip(dives, items, strict=True)
            for n in on_it
        )
        self._write(DiveItem, links)

    def _add(self, table: Any, values: Iterable[dict[str, Any]]) -> list[int]:  # noqa: ANN401 - a table with ids
        """Insert rows and return their ids, in the same order."""
        made = insert(table).returning(table.id, sort_by_parameter_order=True)
        return [number(i) for some in _batches(values) for i in self._session.scalars(made, some)]

    def _write(self, table: type[SQLModel], values: Iterable[dict[str, Any]]) -> None:
        for some in _batches(values):
            self._session.execute(insert(table), some)
