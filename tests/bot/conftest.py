"""What the tests of the bot share: the facts a database holds, the shell run in this process, a bare conversation."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from typing import Any, TextIO

import pytest
from sqlmodel import SQLModel, select

from bot.cli import main
from bot.conversation import Answer, Conversation, Update
from store.engine import Store
from store.tables import (
    Button,
    Care,
    CareTask,
    Chat,
    Dive,
    DiveItem,
    Item,
    JournalEntry,
    Locker,
    ManualNote,
    Notice,
    Snooze,
    Trip,
)

NOON = datetime.fromisoformat("2026-06-10T12:00:00+00:00")
FACTS: tuple[type[SQLModel], ...] = (Item, Dive, DiveItem, Care, ManualNote, Snooze, Trip, JournalEntry)
OF_A_CHAT: tuple[type[SQLModel], ...] = (*FACTS, Button, CareTask, Chat, Locker, Notice)


def held(store: Store, tables: tuple[type[SQLModel], ...]) -> dict[str, list[dict[str, Any]]]:
    """Return every row of the tables."""
    return store.read(
        lambda session: {
            str(table.__tablename__): [row.model_dump() for row in session.exec(select(table))]
            for table in tables
        }
    )


@pytest.fixture
def facts(store: Store) -> Callable[[], dict[str, list[dict[str, Any]]]]:
    """Return what the database knows of the divers: kit, dives, care, notes, trips, and what can be undone."""
    return lambda: held(store, FACTS)


@pytest.fixture
def rows(store: Store) -> Callable[[], dict[str, int]]:
    """Count the rows of every table that belongs to a chat; tables without any are left out."""
    return lambda: {name: len(some) for name, some in held(store, OF_A_CHAT).items() if some}


@dataclass(frozen=True)
class Ran:
    """How a command ended."""

    status: int | str | None
    out: str
    err: str

    @property
    def is_refusal(self) -> bool:
        """Tell whether it said one line on standard error, nothing else, and ended with status 2."""
        return (
            self.status == 2
            and self.out == ""
            and self.err.startswith("rinsetank: ")
            and self.err.count("\n") == 1
            and self.err.endswith("\n")
        )


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run the shell in this process."""

    def run_in_process(*args: str, stdin: str | bytes | TextIO = "") -> Ran:
        raw = stdin.encode() if isinstance(stdin, str) else stdin
        typed = io.TextIOWrapper(io.BytesIO(raw), encoding="utf-8") if isinstance(raw, bytes) else raw
        monkeypatch.setattr("sys.stdin", typed)
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            main(list(args))
        out, err = capsys.readouterr()
        return Ran(ended.value.code, out, err)

    return run_in_process


class Wire:
    """Updates on a wire of its own, with and without ids."""

    def __init__(self, store: Store, prefix: str = "t") -> None:
        tokens = count(1)
        self.conversation = Conversation(store, lambda: f"{prefix}{next(tokens)}")

    def take(
        self, chat: str = "deck", *, wire: str = "test", at: datetime = NOON, **said: str
    ) -> Answer | None:
        """Hand in one update."""
        return self.conversation.take(Update(wire, chat, "mara", at, **said))

    def say(self, text: str, chat: str = "deck") -> Answer:
        """Say something and return the answer."""
        answer = self.take(chat, text=text)
        assert answer is not None
        return answer

    def tap(self, button_id: str, chat: str = "deck") -> Answer:
        """Tap a button by its id."""
        answer = self.take(chat, tap=button_id)
        assert answer is not None
        return answer


@pytest.fixture
def wire(store: Store) -> Wire:
    """Open a conversation on a fresh database."""
    return Wire(store)
