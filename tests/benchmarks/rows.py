"""Large databases: ten lockers that the program itself fills, copied many times by SQL that both databases understand.

Each of the ten has kit, its tasks cut to ten, a day of diving, and whoever dives. What a copy's journal and buttons name
are the rows of the first ten, so copies are not undone and not tapped.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from itertools import count

import psycopg
from sqlalchemy import Column, Integer, Table, make_url
from sqlmodel import SQLModel

from bot.conversation import Conversation, Update
from scheduler.plan import refresh
from store import items, lockers
from store.catalogue import ItemFacts
from store.engine import Store
from store.postgres import is_postgres
from store.vocabulary import ItemKind

NOW = datetime(2026, 6, 10, 16, tzinfo=UTC)
"""Six in the evening in Berlin, the hour of the reminders."""
RIPE = f"{NOW:%Y-%m-%d %H:%M:%S}.000000"
TASKS_A_LOCKER = 10
DUE = 1_000
"""Tasks that are due at `NOW`, or one in every locker where there are fewer: each in a locker of its own."""
KITS = (
    {ItemKind.CYLINDER: {"o2_fraction": 0.5, "region": "US"}, ItemKind.MASK: {}, ItemKind.UNDERSUIT: {}},
    {ItemKind.TWINSET: {"o2_fraction": 0.32}, ItemKind.FINS: {}, ItemKind.HARNESS: {}},
    {ItemKind.REGULATOR: {"o2_fraction": 0.32}, ItemKind.BAG: {}, ItemKind.PRESSURE_GAUGE: {}},
    {ItemKind.DRY_SUIT: {"zip_material": "plastic", "seal_material": "latex"}, ItemKind.STROBE: {}},
    {ItemKind.WETSUIT: {}, ItemKind.DRY_GLOVES: {}, ItemKind.BUOYANCY_DEVICE: {}},
    {ItemKind.REBREATHER: {}},
    {ItemKind.CANISTER_LIGHT: {}, ItemKind.REEL: {}, ItemKind.HEATED_VEST: {}},
    {ItemKind.CAMERA_HOUSING: {}, ItemKind.BOOTS: {}, ItemKind.VIDEO_LIGHT: {}},
    {ItemKind.DIVE_COMPUTER: {}, ItemKind.HOOD: {}, ItemKind.ANALYSER: {}},
    {ItemKind.SCOOTER: {}, ItemKind.HAND_LIGHT: {}, ItemKind.STAGE: {}},
)
"""Each asks for more than ten tasks."""
TEN_ITEMS = KITS[0] | KITS[1] | KITS[2] | {ItemKind.DRY_SUIT: KITS[3][ItemKind.DRY_SUIT]}
_WORDS = {("chat", "address"), ("person", "key"), ("button", "id"), ("seen_update", "update_id"), ("member", "person"),
          ("journal_entry", "actor"), ("notice", "key")}  # fmt: skip
"""What names a row or a person, and is another in every copy."""
_LOOSE = {
    "locker_id": "locker",
    "open_id": "locker",
    "item_id": "item",
    "trip_id": "trip",
    "import_id": "dive_import",
}
"""Columns that hold a number of another table without being bound to it."""


def open_locker(store: Store, address: str, kit: dict[ItemKind, dict[str, object]]) -> int:
    """Open a chat with that kit, not planned yet; return its number."""

    def unit(session):
        chat = lockers.open_chat(session, "bench", address, NOW)
        chat.zone = "Europe/Berlin"
        for kind, said in kit.items():
            facts = ItemFacts.model_validate(said)
            items.add(session, chat.locker_id, kind, kind.value, facts=facts, on=NOW.date(), by="mara")
        return lockers.number(chat.id)

    return store.write(unit)


def plan(store: Store, chat_id: int) -> None:
    """Plan the locker of a chat as after a message."""
    store.write(lambda s: refresh(s, lockers.find_chat(s, chat_id), NOW))


def address_of(nth: int) -> str:
    """Return the address of the nth locker's chat, and of whoever writes there."""
    copy, kit = divmod(nth, len(KITS))
    return f"{kit}-{copy}" if copy else str(kit)


class Bare:
    """A bare connection that runs SQL without arguments."""

    def __init__(self, url: str) -> None:
        self.server = is_postgres(make_url(url))
        if self.server:
            self.raw = psycopg.connect(url, autocommit=True)
            self.raw.execute("SET TimeZone = 'UTC'")
        else:
            self.raw = sqlite3.connect(make_url(url).database, isolation_level=None)

    def run(self, told: str) -> list[tuple]:
        done = self.raw.execute(told)
        return done.fetchall() if done.description else []

    def number(self, told: str) -> int:
        return self.run(told)[0][0] or 0


@contextmanager
def bare(url: str) -> Iterator[Bare]:
    opened = Bare(url)
    with closing(opened.raw):
        yield opened


def build(url: str, size: int) -> None:
    """Fill an empty database with so many lockers, a multiple of ten."""
    with closing(Store(url)) as store:
        talk = Conversation(store, map("{:032d}".format, count()).__next__)
        for n, kit in enumerate(KITS):
            who = address_of(n)
            plan(store, open_locker(store, who, kit))
            talk.take(Update("bench", who, who, NOW, text="2 dives today, salt, 30 m", update_id=who))
    with bare(url) as raw:
        if not raw.server:
            raw.run("PRAGMA synchronous=OFF")
        raw.run("BEGIN")
        raw.run(
            "DELETE FROM care_task WHERE id IN (SELECT id FROM (SELECT id, row_number() OVER"
            f" (PARTITION BY locker_id ORDER BY id) AS nth FROM care_task) AS t WHERE nth > {TASKS_A_LOCKER})"
        )
        multiply(raw, size // len(KITS))
        let_fall_due(raw, max(1, size // DUE))
        raw.run("COMMIT")
        raw.run("ANALYZE" if raw.server else "PRAGMA wal_checkpoint(TRUNCATE)")
        counts = (
            "SELECT count(*) FROM care_task",
            "SELECT count(*) FROM locker",
            "SELECT count(*) FROM dive",
        )
        assert [raw.number(q) for q in counts] == [size * TASKS_A_LOCKER, size, size]
        assert len(ripe(raw)) == min(DUE, size)


def multiply(raw: Bare, copies: int) -> None:
    """Copy every locker with all that is in it; the dates of tasks are spread over a year, and three in ten have none."""
    tables = [t for t in SQLModel.metadata.sorted_tables if raw.number(f'SELECT count(*) FROM "{t.name}"')]
    numbered = [t.name for t in tables if "id" in t.c and isinstance(t.c.id.type, Integer)]
    step = {t: raw.number(f'SELECT max(id) FROM "{t}"') for t in numbered}
    due = _due(raw, "n", f"(id + n * {step['care_task']})")
    raw.run(f"UPDATE care_task SET due_on = {_due(raw, '0', 'id')[0]}, notify_at = {_due(raw, '0', 'id')[1]}")
    for table in tables:
        values = [
            dict(zip(("due_on", "notify_at"), due, strict=True)).get(c.name, "")
            if table.name == "care_task"
            else ""
            for c in table.c
        ]
        values = [v or _copied(table, c, step) for v, c in zip(values, table.c, strict=True)]
        names = ", ".join(f'"{c.name}"' for c in table.c)
        raw.run(f'CREATE TEMP TABLE seed AS SELECT * FROM "{table.name}"')
        raw.run(
            f"WITH RECURSIVE copy(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM copy WHERE n < {copies - 1})"
            f' INSERT INTO "{table.name}" ({names}) SELECT {", ".join(values)} FROM copy CROSS JOIN seed'
            f" WHERE n < {copies}" + (" ORDER BY n" if raw.server else "")
        )
        raw.run("DROP TABLE seed")
        if raw.server and table.name in step:
            raw.run(
                f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), max(id)) FROM \"{table.name}\""
            )


def _copied(table: Table, column: Column, step: dict[str, int]) -> str:
    """Return the value of a column in the nth copy."""
    bound = next((key.column.table.name for key in column.foreign_keys), _LOOSE.get(column.name))
    if (table.name, column.name) in _WORDS:
        return f"\"{column.name}\" || '-' || n"
    if column.name == "id":
        bound = table.name
    return f'n * {step.get(bound, 0)} + "{column.name}"' if bound else f'"{column.name}"'


def _due(raw: Bare, n: str, task: str) -> tuple[str, str]:
    """Return when a task of the nth copy is due and told, as SQL."""
    days = f"(1 + ({n} * 7919 + {task} * 37) % 365)"
    day = (
        f"DATE '{NOW.date()}' + {days}::int"
        if raw.server
        else f"date('{NOW.date()}', '+' || {days} || ' days')"
    )
    on = f"CASE WHEN ({n} + {task}) % 10 > 2 THEN {day} END"
    at = f"({on}) + TIME '16:00'" if raw.server else f"({on}) || ' 16:00:00.000000'"
    return on, at


def let_fall_due(raw: Bare, every: int) -> None:
    """Let one task of every so many lockers fall due: the first of one, the second of the next."""
    raw.run(
        f"UPDATE care_task SET due_on = '{NOW.date()}', notify_at = '{RIPE}' WHERE id IN (SELECT id FROM (SELECT id, locker_id,"
        f" row_number() OVER (PARTITION BY locker_id ORDER BY id) AS nth FROM care_task WHERE locker_id % {every} = 0) AS t"
        f" WHERE nth = 1 + locker_id / {every} % {TASKS_A_LOCKER})"
    )


def ripe(raw: Bare) -> list[tuple]:
    """Read the due tasks bare: what any sweep has to do at least."""
    return raw.run(
        "SELECT id, locker_id, item_id, part, rule, due_on, told FROM care_task"
        f" WHERE notify_at <= '{RIPE}' ORDER BY notify_at, id LIMIT {DUE}"
    )
