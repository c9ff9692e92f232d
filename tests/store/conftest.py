"""Rows to test the store with: a chat with a locker of its own, and a locker with something in every table."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pytest
from sqlmodel import SQLModel, select

from store import lockers, people
from store.engine import Session, Store
from store.tables import (
    Button,
    Care,
    CareTask,
    Chat,
    Dive,
    DiveImport,
    DiveItem,
    Invite,
    Item,
    JournalEntry,
    Letter,
    ManualNote,
    Member,
    Mishap,
    Notice,
    OwnWord,
    Person,
    Snooze,
    Trip,
)

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
TODAY = date(2026, 6, 10)


@pytest.fixture
def noon() -> datetime:
    """Return the instant at which these tests happen."""
    return NOON


@pytest.fixture
def open_chat(store: Store) -> Callable[[str], Chat]:
    """Return a function that opens the chat at an address, with a locker of its own."""
    return lambda address: store.write(lambda s: lockers.open_chat(s, "wire", address, NOON))


@pytest.fixture
def everything(store: Store) -> Callable[[str], tuple[Chat, dict[str, Any]]]:
    """Return a function that opens a chat and puts one row in every table that belongs to one locker alone."""
    return lambda address: store.write(lambda s: _fill(s, address))


@pytest.fixture
def rows(store: Store) -> Callable[..., Any]:
    """Return a function that reads all rows of a table, or of every table, as plain values."""

    def read(table: type[SQLModel] | None = None) -> Any:
        def of(model: type[SQLModel]) -> list[dict[str, Any]]:
            found = store.read(lambda s: [row.model_dump() for row in s.exec(select(model))])
            return sorted(found, key=repr)

        if table is not None:
            return of(table)
        models = {m.class_.__tablename__: m.class_ for m in SQLModel._sa_registry.mappers}
        return {name: of(model) for name, model in models.items()}

    return read


def _fill(session: Session, address: str) -> tuple[Chat, dict[str, Any]]:
    chat = lockers.open_chat(session, "wire", address, NOON)
    chat.batch = 1
    locker_id, chat_id = lockers.number(chat.locker_id), lockers.number(chat.id)
    by = people.key("wire", address)
    item = Item(locker_id=locker_id, kind="bag", name=address, facts={}, added_on=TODAY, added_by=by)
    dive = Dive(locker_id=locker_id, on=TODAY, dives=1, conditions=["sand"], logged_at=NOON, logged_by=by)
    person = Person(key=by, name=address.title(), since=NOON)
    session.add_all([item, dive, person])
    session.flush()
    of_item = {"locker_id": locker_id, "item_id": lockers.number(item.id)}
    filed = {
        "person": person,
        "member": Member(locker_id=locker_id, person=by, role="owner", since=NOON),
        "invite": Invite(code_hash=f"hash of {address}", locker_id=locker_id, made_by=by, until=NOON, left=3),
        "item": item,
        "dive": dive,
        "dive_item": DiveItem(dive_id=lockers.number(dive.id), item_id=lockers.number(item.id)),
        "care": Care(**of_item, task="clean", on=TODAY, done_by=by, logged_at=NOON),
        "manual_note": ManualNote(**of_item, substances=["talc"], text="talc", noted_at=NOON),
        "own_word": OwnWord(locker_id=locker_id, word="goo", substance="silicone_grease"),
        "snooze": Snooze(**of_item, part="bag_zip", rule="spray_bag_zip", until_on=TODAY),
        "trip": Trip(locker_id=locker_id, from_on=TODAY, to_on=TODAY, dives=2),
        "care_task": CareTask(
            **of_item, rule="spray_bag_zip", task="lubricate", critical=False, changed_at=NOON
        ),
        "mishap": Mishap(**of_item, happened="flooded", on=TODAY, told_by=by, logged_at=NOON),
        "dive_import": DiveImport(
            locker_id=locker_id, name="log.csv", content={}, answers={}, sent_at=NOON, sent_by=by
        ),
        "notice": Notice(
            **of_item,
            key=address,
            chat_id=chat_id,
            part="",
            rule="spray_bag_zip",
            due_on=TODAY,
            stage="due",
            send_at=NOON,
        ),
        "button": Button(id=address, chat_id=chat_id, batch=1, place=0, label="Done", intent={}),
        "journal_entry": JournalEntry(
            chat_id=chat_id, at=NOON, actor=by, locker_id=locker_id, intent="x", changes=[]
        ),
        "letter": Letter(wire="wire", address=address, body={"text": address}, send_at=NOON),
    }
    session.add_all(filed.values())
    session.flush()
    return chat, filed
