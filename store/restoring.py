"""Puts a file of all data into an empty locker, in portions. What gathers one is `store.archives`."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from itertools import islice
from typing import Any

from sqlmodel import Session, SQLModel, col, insert, select, update

from store import lockers, people
from store.archives import BY, DIVE, ELSEWHERE, OF_ITEMS, TRIP, WISHES, WORD, told_in
from store.exchange.archive import Archive, ArchiveError
from store.items import dump_facts
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

_AT_ONCE = 1000
"""Rows written at once: all of them would stand in memory several times over."""


def _batches(values: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    rows = iter(values)
    while some := list(islice(rows, _AT_ONCE)):
        yield some


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
            update(Locker).where(this).values(**told_in(file.locker, "name region created_at"))
        )
        if chat is not None and file.wishes is not None:
            wishes = told_in(file.wishes, WISHES)
            self._session.exec(update(Chat).where(col(Chat.id) == chat.id).values(**wishes))
        items = self._add(
            Item,
            [
                {
                    **here,
                    "facts": dump_facts(row.facts),
                    "added_by": self._people[row.added_by],
                    **told_in(row, "kind name added_on retired_on"),
                }
                for row in file.items
            ],
        )
        of = dict(zip((row.number for row in file.items), items, strict=True))
        self._dives(of)
        for name, (table, columns) in OF_ITEMS.items():
            by = BY.get(name)
            self._write(
                table,
                (
                    {
                        **here,
                        "item_id": of[row.item],
                        **told_in(row, columns),
                        **({by: self._people[getattr(row, by)]} if by else {}),
                    }
                    for row in getattr(file, name)
                ),
            )
        self._write(OwnWord, [{**here, **told_in(row, WORD)} for row in file.words])
        self._write(Trip, [{**here, **told_in(row, TRIP)} for row in file.trips])
        self._write(
            CareTask,
            [
                {
                    **here,
                    "item_id": of[row.item],
                    "told": row.stage,
                    "changed_at": self._now,
                    **told_in(row, "part rule task critical due_on"),
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
                    **told_in(row, "name sent_at"),
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
                **told_in(row, DIVE),
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
                    **told_in(row, "name lent_on"),
                }
                for row in self._archive.loans
            ],
        )
        values = [
            {
                "locker_id": there[row.locker],
                "logged_at": self._now,
                "logged_by": people.key(people.TOLD, row.locker),
                **told_in(row, ELSEWHERE),
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
