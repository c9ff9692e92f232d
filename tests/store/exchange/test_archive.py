"""A file of all data: nothing is lost on the way out and back, nothing of others is in it, and a bad file stores nothing."""

import copy
import json
import random
import shutil
from collections import defaultdict
from datetime import UTC, date, datetime, time, timedelta
from itertools import count
from typing import Any, get_args

import pytest
from hypothesis import strategies as st
from pydantic import BaseModel
from sqlmodel import SQLModel, select

from bot.replay import Line
from scheduler.plan import refresh
from store import archives, dives, imports, items, journal, loans, lockers, people, restoring, tasks
from store.catalogue import CATALOGUE, ItemFacts
from store.engine import Session, Store, sqlite_url
from store.exchange import archive as files
from store.exchange.archive import ArchiveError
from store.exchange.record import Archive
from store.exchange.values import LONGEST_NAME
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
    Person,
    Snooze,
    Trip,
)
from store.vocabulary import (
    Condition,
    CylinderMaterial,
    CylinderTest,
    Happening,
    ItemKind,
    Region,
    SealMaterial,
    Substance,
    Task,
    Units,
    Water,
    ZipMaterial,
)
from tests.doses import doses, holds_for

NOON = datetime(2026, 6, 10, 12, tzinfo=UTC)
TODAY = date(2026, 6, 10)
MARA, OLA, JORUN, ILKA = "wire:4711", "wire:4712", "wire:4713", "wire:4714"
NAMES = {MARA: "Mara", OLA: "Ola", JORUN: "Ola", ILKA: "wire:4714 itself"}
"""Two are called alike, and a wire shows the address of one where it has no name."""


def exported(store, chat, person=MARA):
    return store.read(lambda s: archives.export(s, chat.locker_id, s.get(Chat, chat.id), person))


def taken_in(store, archive, chat, person=MARA, now=NOON):
    def work(session):
        restoring.restore(
            session, archive, chat.locker_id, session.get(Chat, chat.id), person=person, now=now
        )

    store.write(work)


def cleared(store, chat):
    store.write(lambda s: restoring.clear(s, chat.locker_id))


# --- random lockers ----------------------------------------------------------------------------------------------------

ODD = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20) | st.sampled_from(
    [
        "a\r\nb",
        "\u2028",
        "=1+1",
        "\0",
        "\ufeffx",
        "🤿" * 20,
        "x" * LONGEST_NAME,
        '"',
        "\\",
        "e\u0301",
        "\ufffd",
    ]
)
DAYS = st.dates(date(1990, 1, 1), date(2100, 12, 31))
INSTANTS = st.datetimes(datetime(1990, 1, 1), datetime(2100, 1, 1), timezones=st.just(UTC))
CLOCKS = st.times().map(lambda t: f"{t:%H:%M}")
PEOPLE = st.sampled_from([MARA, OLA, JORUN, ILKA, people.GONE, "told:Ola"])


def maybe(values):
    return st.none() | values


def words(kind):
    return st.sampled_from([v.value for v in kind])


FACTS = st.fixed_dictionaries(
    {},
    optional={
        "o2_fraction": st.floats(0.01, 1),
        "pure_oxygen_fill": st.booleans(),
        "zip_material": words(ZipMaterial),
        "seal_material": words(SealMaterial),
        "cylinder_material": words(CylinderMaterial),
        "volume_l": st.floats(0.5, 60),
        "region": words(Region),
        "made_on": DAYS.map(str),
        "alloy_6351": st.booleans(),
        "special_permit": st.booleans(),
        "risk_assessed": st.booleans(),
        "hydro_due_on": DAYS.map(str),
        "visual_due_on": DAYS.map(str),
        "eddy_due_on": DAYS.map(str),
        "hydro_due_told_on": DAYS.map(str),
        "visual_due_told_on": DAYS.map(str),
        "eddy_due_told_on": DAYS.map(str),
    },
)
ITEM = {
    "kind": words(ItemKind),
    "name": ODD,
    "facts": FACTS,
    "added_on": DAYS,
    "retired_on": maybe(DAYS),
    "added_by": PEOPLE,
}
DIVE = {
    "on": DAYS,
    "dives": st.integers(1, 1000),
    "water": maybe(words(Water)),
    "max_depth_m": maybe(st.floats(0, 350)),
    "duration_min": maybe(st.integers(0, 1440)),
    "min_temp_c": maybe(st.floats(-5, 45)),
    "o2_fraction": maybe(st.floats(0.01, 1)),
    "conditions": st.lists(words(Condition), max_size=4),
    "logged_at": INSTANTS,
    "logged_by": PEOPLE,
    "started": maybe(CLOCKS),
}
CARE = {
    "task": words(Task),
    "substance": maybe(words(Substance)),
    "contaminates": st.booleans(),
    "by_technician": st.booleans(),
    "on": DAYS,
    "month_only": st.booleans(),
    "test": maybe(words(CylinderTest)),
    "next_on": maybe(DAYS),
    "made_on": maybe(DAYS),
    "done_by": PEOPLE,
    "logged_at": INSTANTS,
}
MISHAP = {"happened": words(Happening), "on": DAYS, "told_by": PEOPLE, "logged_at": INSTANTS}
MANUAL = {
    "substances": maybe(st.lists(words(Substance), max_size=3)),
    "task": maybe(words(Task)),
    "every_dives": maybe(st.integers(1, 1000)),
    "every_months": maybe(st.integers(1, 240)),
    "every_days": maybe(st.integers(1, 3000)),
    "every_hours": maybe(st.floats(0.5, 500)),
    "ring": maybe(st.sampled_from(["214", "013"])),
    "text": ODD | st.just(""),
    "noted_at": INSTANTS,
}
TRIP = {
    "dives": maybe(st.integers(0, 400)),
    "water": maybe(words(Water)),
    "min_temp_c": maybe(st.floats(-5, 45)),
    "max_temp_c": maybe(st.floats(-5, 45)),
    "told": maybe(st.integers(0, 60)),
}
WISHES = {
    "zone": st.sampled_from(["UTC", "Europe/Berlin", "America/Argentina/Buenos_Aires", "Etc/GMT+5"]),
    "digest_at": CLOCKS,
    "quiet_from": CLOCKS,
    "quiet_to": CLOCKS,
    "units": words(Units),
    "reminders": st.booleans(),
    "dark": st.booleans(),
    "board_day": maybe(st.integers(0, 6)),
}


class Filled:
    """Draws the rows of a locker, with something in every table that a file knows."""

    def __init__(self, session, draw, chat) -> None:
        self.session, self.draw, self.locker = session, draw, chat.locker_id
        locker = session.get_one(Locker, chat.locker_id)
        locker.name, locker.region = (
            draw(st.just("") | ODD.map(lambda t: t[:200])),
            draw(maybe(words(Region))),
        )
        for name, values in WISHES.items():
            setattr(chat, name, draw(values))
        session.add_all([locker, chat])
        self.items = self.some(Item, ITEM, 1)
        self.files = self.some(
            DiveImport,
            {"name": ODD, "sent_at": INSTANTS, "sent_by": PEOPLE, "state": st.just("counted")},
            content={"dives": []},
            answers={},
        )
        for dive in self.some(Dive, DIVE):
            dive.import_id = draw(maybe(st.sampled_from([f.id for f in self.files]))) if self.files else None
            self.link(dive)
        for table, columns in ((Care, CARE), (ManualNote, MANUAL)):
            for row in self.of_items(table, columns):
                row.part = self.part_of(row.item_id)
        self.of_items(Mishap, MISHAP)
        for row in self.of_items(Snooze, {"rule": st.just("rinse"), "until_on": DAYS}):
            row.part = self.part_of(row.item_id) or ""
        for row in self.some(Trip, TRIP, from_on=TODAY, to_on=TODAY):
            row.from_on = draw(DAYS)
            row.to_on = row.from_on + timedelta(days=draw(st.integers(0, 60)))
        for word in draw(st.lists(ODD, max_size=3, unique_by=lambda word: word.replace("\0", "\ufffd"))):
            kind = draw(maybe(words(ItemKind)))
            part = draw(st.sampled_from([p.key for p in CATALOGUE[kind].parts] or [""])) if kind else ""
            means = {"kind": kind, "part": part} if part else {"substance": draw(words(Substance))}
            session.add(OwnWord(locker_id=self.locker, word=word, **means))
        for n in range(draw(st.integers(0, 2))):
            self.session.add(self.task(n))
        session.flush()

    def some(self, table, columns, least=0, **more):
        made = []
        for values in self.draw(st.lists(st.fixed_dictionaries(columns), min_size=least, max_size=3)):
            row = table(locker_id=self.locker, **values, **more)
            self.session.add(row)
            self.session.flush()
            made.append(row)
        return made

    def of_items(self, table, columns):
        more = {"part": ""} if table is Snooze else {}
        rows = self.some(table, columns, item_id=self.items[0].id, **more)
        for row in rows:
            row.item_id = self.draw(st.sampled_from([i.id for i in self.items]))
        return rows

    def part_of(self, item_id):
        kind = next(i.kind for i in self.items if i.id == item_id)
        return (
            self.draw(maybe(st.sampled_from([p.key for p in CATALOGUE[kind].parts])))
            if CATALOGUE[kind].parts
            else None
        )

    def link(self, dive):
        ids = self.draw(st.lists(st.sampled_from([i.id for i in self.items]), unique=True))
        self.session.add_all([DiveItem(dive_id=dive.id, item_id=i) for i in ids])
        return ids

    def task(self, n):
        return CareTask(
            locker_id=self.locker,
            item_id=self.items[0].id,
            rule=f"rule_{n}",
            task=self.draw(words(Task)),
            critical=self.draw(st.booleans()),
            due_on=self.draw(maybe(DAYS)),
            told=self.draw(st.integers(-5, 40)),
            changed_at=NOON,
        )

    def lent_before(self, borrower):
        """Lend an item to another locker, have it dived there, and bring it home."""
        item = self.draw(st.sampled_from(self.items))
        lent_on = self.draw(DAYS)
        self.session.add(
            Loan(
                item_id=item.id,
                owner_id=self.locker,
                name=item.name,
                borrower_id=borrower,
                lent_on=lent_on,
                lent_by=self.draw(PEOPLE),
                back_on=lent_on + timedelta(days=3),
            )
        )
        dive = Dive(locker_id=borrower, **self.draw(st.fixed_dictionaries(DIVE)))
        self.session.add(dive)
        self.session.flush()
        self.session.add(DiveItem(dive_id=dive.id, item_id=item.id))


def in_this_thread(store, work):
    """Do a unit of work where hypothesis draws."""
    with Session(store._engine, expire_on_commit=False) as session:
        done = work(session)
        session.commit()
        return done


_ADDRESSES = count()


def opened(session, person=MARA):
    for key, name in NAMES.items():
        people.meet(session, key, name, NOON)
    chat = lockers.open_chat(session, "wire", f"chat {next(_ADDRESSES)}", NOON)
    people.join(session, chat.locker_id, person, NOON)
    return chat


@pytest.fixture
def elsewhere(template, tmp_path):
    """Open another database, whose numbers are others."""
    path = tmp_path / "other.db"
    shutil.copy(template, path)
    other = Store(sqlite_url(path))

    def use_up(session):
        for _ in range(5):
            chat = opened(session, OLA)
            session.add(
                Item(locker_id=chat.locker_id, kind="bag", name="x", facts={}, added_on=TODAY, added_by=OLA)
            )
            session.add(
                Dive(
                    locker_id=chat.locker_id, on=TODAY, dives=1, conditions=[], logged_at=NOON, logged_by=OLA
                )
            )

    other.write(use_up)
    yield other
    other.close()


@doses(3, 30)
def test_random_locker_comes_back_to_the_byte_here_and_elsewhere(store, elsewhere, dose):
    @holds_for(dose, st.data())
    def _(data):
        def fill(session):
            chat, club = opened(session), opened(session, OLA)
            session.get_one(Locker, club.locker_id).name = data.draw(st.sampled_from(["", "Harbour Club"]))
            filled = Filled(session, data.draw, chat)
            for _ in range(data.draw(st.integers(0, 2))):
                filled.lent_before(club.locker_id)
            return chat

        chat = in_this_thread(store, fill)
        before = files.dump(exported(store, chat))
        archive = files.load(before)
        cleared(store, chat)
        assert store.read(lambda s: restoring.is_empty(s, chat.locker_id))
        taken_in(store, archive, chat)
        assert files.dump(exported(store, chat)) == before
        there = elsewhere.write(lambda s: opened(s, OLA))
        taken_in(elsewhere, archive, there, OLA)
        assert files.dump(exported(elsewhere, there, OLA)) == before
        cleared(elsewhere, there)
        taken_in(elsewhere, archive, there, OLA)
        assert files.dump(exported(elsewhere, there, OLA)) == before


# --- a locker as it is used --------------------------------------------------------------------------------------------

SEASON = (
    "I live in Germany",
    "zone Europe/Berlin",
    "add dry suit, plastic zip, latex seals",
    "add twinset 32%, made June 2019",
    "add regulator set, 32%",
    "add scooter",
    "add torch",
    "the torch is gone",
    "twinset hydro tested May 2024",
    "regs serviced on 3 May",
    "3 dives in the sea, 31 m, 45 min each, 8 degrees, sandy beach entry, without the scooter",
    "waxed the zip yesterday",
    "greased the scooter hull rings with silicone grease",
    "goo is silicone grease",
    "the manual says silicone grease every 20 dives on the scooter hull rings",
    "the manual says nothing on the charging port plug of the scooter",
    "got oil on the twinset valve",
    "flooded the scooter",
    "snooze the zip 60 days",
    "2 dives in a lake, 20 m, silty",
    "trip 12 to 19 July, 14 dives, salt, 6 degrees",
    "call this locker Blue Hole",
)
LOG = "date,time,duration,depth (m),water,kit\n2026-06-01,10:15,42,24.6,salt,regulator set\n2026-06-03,09:40,55,31,fresh,regulator set\n"


@pytest.fixture
def season(talk, tmp_path):
    """Talk through a season, with a file of dives and some reminders."""
    talk.has_said(*SEASON)
    path = tmp_path / "log.csv"
    path.write_text(LOG)
    talk.now += timedelta(minutes=1)
    line = Line.model_validate({"at": talk.now, "chat": talk.chat, "from": "mara", "file": str(path)})
    talk._runner.run(talk.replay.play(line))
    talk.tap("Count 2 dives")
    talk.wait(days=9)
    return talk


def chat_of(store, address="deck"):
    return store.read(lambda s: lockers.at_address(s, "replay", address))


FACT_TABLES = (Item, DiveImport, Dive, DiveItem, Care, Mishap, ManualNote, OwnWord, Snooze, Trip, Loan)
LEFT_OUT = {
    "dive_import.content": "raw, and its dives are counted",
    "dive_import.answers": "settled",
    "trip.notify_at": "derived",
}


def facts(store):
    """Return the rows of every table of facts of a database with one locker, their numbers counted from 1."""

    def work(session):
        ranks: dict[str, dict[int, int]] = defaultdict(dict)
        for table in (*FACT_TABLES, Locker):
            if table is not DiveItem:
                ids = session.exec(select(table.id).order_by(table.id)).all()
                ranks[table.__tablename__] = {i: n for n, i in enumerate(ids, 1)}
        refers = {"item_id": "item", "dive_id": "dive", "import_id": "dive_import", "locker_id": "locker"}
        found = {}
        for table in FACT_TABLES:
            rows = []
            for row in session.exec(select(table)):
                values = row.model_dump()
                values |= {c: ranks[of][values[c]] for c, of in refers.items() if values.get(c) is not None}
                values["id"] = ranks[table.__tablename__].get(values.get("id"), 0)
                rows.append({c: v for c, v in values.items() if f"{table.__tablename__}.{c}" not in LEFT_OUT})
            found[table.__tablename__] = sorted(rows, key=lambda r: tuple(map(str, r.items())))
        return found

    return store.read(work)


def due(store, chat, now):
    """Work a locker out and return its tasks and calls, without numbers."""

    def work(session):
        row = session.get(Chat, chat.id)
        refresh(session, row, now)
        names = {i.id: i.name for i in items.of_locker(session, chat.locker_id)}
        found = [
            (names[t.item_id], t.part, t.rule, t.task, t.critical, t.due_on, t.cause, t.told, t.notify_at)
            for t in tasks.of_locker(session, chat.locker_id)
        ]
        calls = [(t.from_on, t.told, t.notify_at) for t in session.exec(select(Trip))]
        return sorted(found, key=str), sorted(calls)

    return store.write(work)


def test_locker_that_was_talked_full_comes_back_row_by_row_with_what_is_due(season, template, tmp_path):
    store, chat = season.store, chat_of(season.store)
    before, rows = exported(store, chat, "replay:mara"), facts(store)
    assert {name for name, some in rows.items() if not some} == {"loan"}
    assert len(before.told) > 3
    path = tmp_path / "other.db"
    shutil.copy(template, path)
    other = Store(sqlite_url(path))
    there = other.write(lambda s: lockers.open_chat(s, "replay", "boat", season.now))
    taken_in(other, files.load(files.dump(before)), there, "replay:mara", season.now)
    assert facts(other) == rows
    assert exported(other, there, "replay:mara") == before
    assert due(other, there, season.now) == due(store, chat, season.now)
    assert exported(other, there, "replay:mara") == exported(store, chat, "replay:mara")
    other.close()


def test_nothing_is_said_twice_after_a_file_was_taken_in(season):
    chat = chat_of(season.store)
    archive = exported(season.store, chat, "replay:mara")
    quiet = [s.reply.first for s in season.wait(hours=20)]

    def swap(session):
        restoring.clear(session, chat.locker_id)
        row = session.get(Chat, chat.id)
        restoring.restore(session, archive, chat.locker_id, row, person="replay:mara", now=season.now)
        refresh(session, row, season.now)

    again = season.elsewhere("deck")
    season.store.write(swap)
    told = [line for s in again.wait(minutes=30) for line in (s.reply.first, *s.reply.lines)]
    assert told == []
    assert len(quiet) < 3


def test_conversation_goes_on_where_it_stood(season):
    store, chat = season.store, chat_of(season.store)
    archive = exported(store, chat, "replay:mara")
    cleared(store, chat)
    assert season.say("show kit").data["items"] == []
    assert season.say("undo").first == "There is nothing to take back."
    taken_in(store, archive, chat, "replay:mara", season.now)
    assert season.say("show kit").data["items"] == ["dry suit", "twinset 32 %", "regulator set", "scooter"]
    assert season.say("undo").first == "There is nothing to take back."
    assert season.say("2 dives today, salt, 20 m").first.endswith("9 dives in all.")
    assert season.say("undo").first.startswith("Taken back")


# --- what is in it -----------------------------------------------------------------------------------------------------

IN_FILE = {
    "locker": "locker",
    "chat": "wishes",
    "item": "items",
    "dive": "dives",
    "dive_import": "files",
    "care": "care",
    "mishap": "mishaps",
    "manual_note": "manual",
    "own_word": "words",
    "snooze": "snoozes",
    "trip": "trips",
    "loan": "loans",
    "care_task": "told",
}
"""By table: the list of the file that holds its rows."""
RENAMED = {
    "item_id": "item",
    "import_id": "file",
    "told": "stage",
    "borrower_id": "to",
}
NO_FACTS = {
    "person": "who is met on a wire; what they told stands with it",
    "member": "people are let in by a code",
    "invite": "a secret",
    "button": "passing",
    "dive_item": "the items of a dive",
    "notice": "passing",
    "letter": "passing",
    "wire_state": "of the wire",
    "seen_update": "of the wire",
    "attempt": "of the wire",
    "journal_entry": "undo ends with the file",
}
NOT_IN_FILE = {
    "id": "a number of the database",
    "locker_id": "the locker itself",
    "locker.calendar_token": "a secret",
    "locker.planned_by": "derived",
    "chat.wire": "of the wire",
    "chat.address": "of the wire",
    "chat.open_id": "passing: which locker is open",
    "chat.group": "of the wire",
    "chat.topic": "of the wire",
    "chat.board_at": "derived",
    "chat.last_digest_on": "passing",
    "chat.muted_at": "of the wire",
    "chat.hold_until": "of the wire",
    "chat.batch": "passing",
    "chat.last_intent": "passing",
    "chat.created_at": "of the wire",
    "dive_import.content": "raw, and its dives are counted",
    "dive_import.answers": "settled",
    "dive_import.state": "only what was counted is in it",
    "trip.notify_at": "derived",
    "loan.owner_id": "the locker itself",
    "care_task.cause": "derived",
    "care_task.notify_at": "derived",
    "care_task.was_due_on": "undo ends with the file",
    "care_task.was_told": "undo ends with the file",
    "care_task.changed_at": "derived",
}


def model_of(name: str) -> type[BaseModel]:
    """Return the model of a list of the file."""

    def first(annotation: Any) -> Any:
        inner = [a for a in get_args(annotation) if a is not type(None)]
        return first(inner[0]) if inner else annotation

    return first(Archive.model_fields[name].annotation)


def test_every_column_is_in_the_file_or_left_out_with_a_reason():
    lost = []
    for name, table in SQLModel.metadata.tables.items():
        if name in NO_FACTS:
            continue
        fields = set(model_of(IN_FILE[name]).model_fields)
        for column in (c.name for c in table.columns):
            renamed = RENAMED.get(column, column)
            kept = column in fields or renamed in fields
            if kept == bool({column, f"{name}.{column}"} & set(NOT_IN_FILE)):
                lost.append(f"{name}.{column}")
    assert lost == []
    assert set(IN_FILE) | set(NO_FACTS) == set(SQLModel.metadata.tables)


def test_addresses_of_others_are_not_in_it(store, chat_of_four):
    raw = files.dump(exported(store, chat_of_four)).decode()
    assert [n for n in ("4711", "4712", "4713", "4714", "wire:") if n in raw] == []
    archive = json.loads(raw)
    assert archive["people"] == [
        {"number": 1, "you": True, "name": None},
        {"number": 2, "you": False, "name": "Ola"},
        {"number": 3, "you": False, "name": "Ola 2"},
        {"number": 4, "you": False, "name": "somebody"},
    ]


@pytest.fixture
def chat_of_four(store):
    """Open a locker in which four people dived."""

    def work(session):
        chat = opened(session)
        for who in (OLA, JORUN, ILKA, MARA):
            people.join(session, chat.locker_id, who, NOON)
            session.add(
                Dive(
                    locker_id=chat.locker_id, on=TODAY, dives=1, conditions=[], logged_at=NOON, logged_by=who
                )
            )
            session.flush()
        return chat

    return store.write(work)


def test_others_are_kept_by_name_and_are_nobody_of_the_locker(store, elsewhere, chat_of_four):
    there = elsewhere.write(lambda s: opened(s, JORUN))
    taken_in(elsewhere, exported(store, chat_of_four), there, JORUN)

    def look(session):
        who = [d.logged_by for d in dives.recent(session, there.locker_id, 9)][::-1]
        return who, people.names(session, who), [m.person for m in people.of_locker(session, there.locker_id)]

    who, names, members = elsewhere.read(look)
    assert who == ["told:Ola", "told:Ola 2", "told:somebody", JORUN]
    assert [names[w] for w in who[:3]] == ["Ola", "Ola 2", "somebody"]
    assert members == [JORUN]
    elsewhere.write(lambda s: people.forget_strangers(s, who))
    assert elsewhere.read(lambda s: [people.role(s, there.locker_id, w) for w in who[:3]]) == [None] * 3


# --- lending -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def lent(store):
    """Have two lockers with an item each: Mara lends hers, dived twice there and once before, and borrows Ola's."""

    def work(session):
        mara, club = opened(session), opened(session, OLA)
        session.get_one(Locker, club.locker_id).name = "Harbour Club"
        kit = []
        for chat, name in ((mara, "scooter"), (club, "spare scooter")):
            kit.append(
                Item(
                    locker_id=chat.locker_id,
                    kind="scooter",
                    name=name,
                    facts={},
                    added_on=TODAY,
                    added_by=MARA,
                )
            )
        kit.append(
            Item(locker_id=club.locker_id, kind="bag", name="scooter", facts={}, added_on=TODAY, added_by=OLA)
        )
        session.add_all(kit)
        session.flush()
        scooter, spare, _ = kit
        loans.lend(session, scooter, club.locker_id, TODAY, MARA)
        loans.lend(session, spare, mara.locker_id, TODAY, OLA)
        for chat, on in ((club, TODAY), (mara, TODAY - timedelta(days=9))):
            dive = Dive(
                locker_id=chat.locker_id,
                on=on,
                dives=2,
                conditions=["sand"],
                logged_at=NOON,
                logged_by=OLA,
                duration_min=40,
            )
            dives.add(session, dive, [scooter.id, spare.id])
        care = Care(
            locker_id=club.locker_id, item_id=scooter.id, task="clean", on=TODAY, done_by=OLA, logged_at=NOON
        )
        session.add(care)
        return mara, club

    return store.write(work)


def test_lent_item_is_in_the_file_and_comes_home_with_its_record(store, elsewhere, lent):
    mara, club = lent
    counted = store.read(lambda s: dives.by_item(s, club.locker_id))
    archive = exported(store, mara)
    assert [(i.name, i.kind) for i in archive.items] == [("scooter", "scooter")]
    assert [(loan.to, loan.back_on) for loan in archive.loans] == [("Harbour Club", None)]
    assert [(b.name, b.of) for b in archive.borrowed] == [("spare scooter", "Harbour Club")]
    assert [(d.items, d.dives) for d in archive.dives] == [([1], 2)]
    assert [(d.locker, d.items, d.on) for d in archive.elsewhere] == [("Harbour Club", [1], TODAY)]
    assert len(archive.care) == 1
    there = elsewhere.write(opened)
    taken_in(elsewhere, archive, there)

    def look(session):
        kit = items.of_locker(session, there.locker_id)
        found = dives.by_item(session, there.locker_id)[kit[0].id]
        return (
            [i.name for i in kit],
            found,
            dives.count(session, there.locker_id),
            loans.lent_by(session, there.locker_id),
        )

    names, found, logged, still = elsewhere.read(look)
    assert (names, logged, still) == (["scooter"], 2, [])
    of_item = next(d for d in counted.values() if len(d) == 2)
    assert found == of_item
    again = exported(elsewhere, there)
    assert again.loans[0].back_on == TODAY
    home = archive.model_copy(
        update={"borrowed": [], "loans": [archive.loans[0].model_copy(update={"back_on": TODAY})]}
    )
    assert again == home


def test_stand_ins_of_borrowers_go_with_the_locker(store, elsewhere, lent):
    before = elsewhere.read(lambda s: len(s.exec(select(Locker)).all()))
    there = elsewhere.write(opened)
    taken_in(elsewhere, exported(store, lent[0]), there)
    assert elsewhere.read(lambda s: len(s.exec(select(Locker)).all())) == before + 2
    elsewhere.write(lambda s: lockers.forget(s, there.locker_id))
    left = elsewhere.read(lambda s: [len(s.exec(select(t)).all()) for t in (Locker, Loan, Dive)])
    assert left == [before, 0, 5]


def test_clear_leaves_chat_people_wishes_and_others(store, lent, rows):
    mara, club = lent
    store.write(lambda s: loans.bring_home(s, mara.locker_id, TODAY))
    other = exported(store, club, OLA)
    kept = {t: rows(t) for t in (Chat, Locker, Person)}
    cleared(store, mara)
    assert store.read(lambda s: restoring.is_empty(s, mara.locker_id))
    assert {t: rows(t) for t in (Chat, Locker, Person)} == kept
    after = exported(store, club, OLA)
    assert (after.items, after.dives, after.loans) == (other.items, other.dives, other.loans)


def test_file_is_not_put_on_top_of_what_is_there(store, chat_of_four):
    archive = exported(store, chat_of_four)
    with pytest.raises(ArchiveError, match="not empty"):
        taken_in(store, archive, chat_of_four)
    assert exported(store, chat_of_four) == archive


def test_taking_in_is_past_the_journal(store, chat_of_four, elsewhere):
    archive = exported(store, chat_of_four)
    there = elsewhere.write(opened)

    def work(session):
        row = session.get(Chat, there.id)
        journal.watch(session)
        restoring.restore(session, archive, there.locker_id, row, person=MARA, now=NOON)
        session.flush()
        return journal.noted(session), row.zone

    assert elsewhere.write(work) == (0, "UTC")


def test_file_that_was_only_shown_stays_out(store, chat_of_four):
    row = DiveImport(
        locker_id=chat_of_four.locker_id, name="x", content={}, answers={}, sent_at=NOON, sent_by=MARA
    )
    store.write(lambda s: s.add(row))
    assert exported(store, chat_of_four).files == []
    assert store.read(lambda s: imports.get(s, chat_of_four.locker_id, row.id)) is not None


# --- files that are refused --------------------------------------------------------------------------------------------


def good() -> dict[str, Any]:
    """Return a small file with a row in every list."""
    at, on = "2026-06-10T12:00:00Z", "2026-06-10"
    item = {"item": 1, "part": None}
    return {
        "format": "rinse-tank-data",
        "version": 1,
        "locker": {"name": "Blue Hole", "region": "DE", "created_at": at},
        "wishes": {
            "zone": "Europe/Berlin",
            "digest_at": "18:00",
            "quiet_from": "22:00",
            "quiet_to": "07:00",
            "units": "metric",
            "reminders": True,
            "dark": False,
            "board_day": None,
        },
        "people": [{"number": 1, "you": True, "name": None}, {"number": 2, "you": False, "name": "Ola"}],
        "items": [
            {
                "number": 1,
                "kind": "dry_suit",
                "name": "suit",
                "facts": {"zip_material": "plastic", "made_on": on},
                "added_on": on,
                "retired_on": None,
                "added_by": 2,
            }
        ],
        "files": [{"number": 1, "name": "log.csv", "sent_at": at, "sent_by": 1}],
        "dives": [
            {
                "on": on,
                "dives": 2,
                "duration_min": 40,
                "conditions": ["sand"],
                "items": [1],
                "started": "10:15",
                "water": "salt",
                "max_depth_m": 31.5,
                "min_temp_c": 8,
                "o2_fraction": 0.32,
                "file": 1,
                "logged_at": at,
                "logged_by": 1,
            }
        ],
        "care": [
            {
                **item,
                "task": "lubricate",
                "substance": "beeswax",
                "contaminates": False,
                "by_technician": False,
                "on": on,
                "month_only": False,
                "test": None,
                "next_on": None,
                "made_on": None,
                "done_by": 1,
                "logged_at": at,
            }
        ],
        "mishaps": [{"item": 1, "happened": "flooded", "on": on, "told_by": 2, "logged_at": at}],
        "manual": [
            {
                **item,
                "substances": [],
                "task": None,
                "every_dives": 10,
                "every_months": None,
                "every_days": None,
                "every_hours": None,
                "ring": "214",
                "text": "nothing on it",
                "noted_at": at,
            }
        ],
        "words": [{"word": "goo", "substance": "silicone_grease", "kind": None, "part": None}],
        "snoozes": [{"item": 1, "part": "", "rule": "rinse", "until_on": on}],
        "trips": [
            {
                "from_on": on,
                "to_on": on,
                "dives": 4,
                "water": None,
                "min_temp_c": None,
                "max_temp_c": 20.0,
                "told": 1,
            }
        ],
        "loans": [{"item": 1, "to": "Club", "name": "suit", "lent_on": on, "lent_by": 1, "back_on": on}],
        "elsewhere": [
            {"on": on, "dives": 1, "duration_min": None, "conditions": [], "items": [1], "locker": "Club"}
        ],
        "borrowed": [{"name": "reel", "of": "Club", "lent_on": on}],
        "told": [
            {
                "item": 1,
                "part": "",
                "rule": "rinse",
                "task": "rinse",
                "critical": False,
                "due_on": on,
                "stage": 0,
            }
        ],
    }


def write(value: object) -> bytes:
    return json.dumps(value).encode()


def changed(*where: Any, to: Any) -> bytes:
    """Write the good file with one value changed."""
    value = good()
    inner: Any = value
    for step in where[:-1]:
        inner = inner[step]
    inner[where[-1]] = to
    return write(value)


def test_good_file_is_taken_in_and_comes_out_alike(store):
    chat = store.write(opened)
    archive = files.load(write(good()))
    taken_in(store, archive, chat)
    wanted = good() | {"borrowed": []}
    assert json.loads(files.dump(exported(store, chat))) == wanted


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf", b"\r\n \t"])
def test_file_is_known_by_its_beginning(mark):
    raw = mark + write(good())
    assert files.is_archive(raw)
    assert files.load(raw).locker.name == "Blue Hole"


@pytest.mark.parametrize(
    "content", [b"", b"date,time\n", b"<uddf/>", b"PK\x03\x04", b'{"format": "other"}', b"\xff{"]
)
def test_other_files_are_not_taken_for_one(content):
    assert not files.is_archive(content)
    with pytest.raises(ArchiveError):
        files.load(content)


WHOLE = write(good())
REFUSED = {
    "empty": (b"", "line 1, column 1, is not JSON"),
    "cut off": (WHOLE[:-20], "is not JSON"),
    "not UTF-8": (WHOLE[:-1] + b"\xff}", "no UTF-8 text"),
    "UTF-16": (WHOLE.decode().encode("utf-16"), "no UTF-8 text"),
    "too big": (WHOLE + b" " * 20_000_000, "over 20 MB"),
    "nested": (b'{"format": ' + b"[" * 400_000, "nested too deep|not JSON|more lists"),
    "nested in an object": (b'{"a":' * 150_000, "nested too deep|not JSON|more lists"),
    "many lists": (
        b'{"format": "rinse-tank-data", "x": [' + b"[]," * 600_000 + b"[]]}",
        "more lists and values",
    ),
    "many numbers": (
        b'{"format": "rinse-tank-data", "x": [' + b"1," * 3_000_000 + b"1]}",
        "more lists and values",
    ),
    "huge number": (WHOLE.replace(b'"dives": 2', b'"dives": ' + b"9" * 5000), "too great"),
    "great number": (changed("dives", 0, "dives", to=10**30), "dives, number 1, dives: it is too great"),
    "NaN": (WHOLE.replace(b"31.5", b"NaN"), "NaN is no number"),
    "infinite": (WHOLE.replace(b"31.5", b"-Infinity"), "Infinity is no number"),
    "overflow": (WHOLE.replace(b"31.5", b"1e999"), "max_depth_m: it is (no number|too great)"),
    "key twice": (
        WHOLE.replace(b'"task": "lubricate"', b'"task": "lubricate", "task": "rinse"'),
        '"task" is there twice',
    ),
    "surrogate": (WHOLE.replace(b"Blue Hole", b"\\ud800"), '"name": it is no text'),
    "surrogate key": (WHOLE.replace(b'"locker": {', b'"locker": {"\\ud800": 1,'), "it is no text"),
    "list": (b"[]", "does not begin with"),
    "other format": (changed("format", to="x"), "does not begin with"),
    "newer": (changed("version", to=2), "version 2 .*update the program"),
    "far newer": (changed("version", to=10**400), "update the program"),
    "no version": (changed("version", to=None), "does not say"),
    "version as text": (changed("version", to="1"), "does not say"),
    "version true": (changed("version", to=True), "does not say"),
    "field missing": (changed("items", 0, to={"number": 1}), "items, number 1, kind: it is missing"),
    "list missing": (write({k: v for k, v in good().items() if k != "care"}), "care: it is missing"),
    "field too many": (
        changed("items", 0, "<b>x", to=1),
        "items, number 1, <b>x: it is nothing that belongs",
    ),
    "kind": (
        changed("items", 0, "kind", to="submarine"),
        "items, number 1, kind: it is none of what is known",
    ),
    "fact": (changed("items", 0, "facts", to={"colour": "red"}), "facts, colour: it is nothing that belongs"),
    "fact out of range": (
        changed("items", 0, "facts", to={"o2_fraction": 1.5}),
        "o2_fraction: it is too great",
    ),
    "task": (changed("care", 0, "task", to="worship"), "care, number 1, task: it is none"),
    "zone": (changed("wishes", "zone", to="Moon/Base"), "wishes, zone: it is no time zone"),
    "zone as a path": (changed("wishes", "zone", to="../../etc/passwd"), "wishes, zone"),
    "clock": (changed("wishes", "digest_at", to="25:00"), "digest_at: it is not written as it should be"),
    "long name": (changed("items", 0, "name", to="x" * 2001), "items, number 1, name: it is too long"),
    "empty name": (changed("items", 0, "name", to=""), "items, number 1, name: it is empty"),
    "date of old": (changed("items", 0, "added_on", to="0001-01-01"), "added_on: the year lies outside"),
    "date to come": (changed("items", 0, "added_on", to="9999-12-31"), "added_on: the year lies outside"),
    "no date": (changed("items", 0, "added_on", to="2026-02-30"), "added_on"),
    "date as number": (changed("items", 0, "added_on", to=20260610), "added_on: it is no date"),
    "date as seconds": (changed("items", 0, "added_on", to="1760000000"), "added_on: it is no date"),
    "instant of old": (
        changed("dives", 0, "logged_at", to="0001-01-01T00:00:00+14:00"),
        "the year lies outside",
    ),
    "instant without zone": (changed("dives", 0, "logged_at", to="2026-06-10"), "it has no zone"),
    "yes for true": (changed("wishes", "reminders", to="yes"), "reminders"),
    "text for number": (changed("dives", 0, "dives", to="2"), "dives, number 1, dives"),
    "half a dive": (changed("dives", 0, "dives", to=1.5), "dives, number 1, dives"),
    "no dive": (changed("dives", 0, "dives", to=0), "it is too small"),
    "item that is not there": (
        changed("care", 0, "item", to=7),
        "care, number 1, item: there is no 7 among the items",
    ),
    "item of a dive": (changed("dives", 0, "items", to=[1, 9]), "dives, number 1, items: there is no 9"),
    "item twice": (changed("dives", 0, "items", to=[1, 1]), "named twice"),
    "file that is not there": (changed("dives", 0, "file", to=3), "file: there is no 3 among the files"),
    "person that is not there": (
        changed("mishaps", 0, "told_by", to=5),
        "told_by: there is no 5 among the people",
    ),
    "nobody is you": (changed("people", to=good()["people"][1:]), "exactly one of them is you"),
    "two are you": (changed("people", 1, "you", to=True), "exactly one of them is you"),
    "you are named": (changed("people", 0, "name", to="Mara"), "given no name"),
    "nameless": (changed("people", 1, "name", to=None), "all but you have a name"),
    "numbers twice": (changed("items", to=[*good()["items"], *good()["items"]]), "same number"),
    "part": (changed("care", 0, "part", to="propeller"), 'there is no "propeller" on a dry suit'),
    "word for nothing": (changed("words", 0, "substance", to=None), "it stands for one"),
    "word twice": (changed("words", to=good()["words"] * 2), "words: one of them is there twice"),
    "told twice": (changed("told", to=good()["told"] * 2), "told: one of them is there twice"),
    "trip backwards": (changed("trips", 0, "to_on", to="2026-06-09"), "trips, number 1: it lasts"),
    "trip of a life": (changed("trips", 0, "to_on", to="2099-06-09"), "trips, number 1: it lasts"),
    "dive nowhere": (changed("elsewhere", 0, "locker", to="Moon"), "nothing of this locker was lent there"),
    "too many": (changed("people", to=[{}] * 3000), "people"),
}


@pytest.mark.parametrize(("content", "why"), REFUSED.values(), ids=REFUSED)
def test_bad_file_is_refused_with_one_kind_sentence(content, why):
    with pytest.raises(ArchiveError, match=why) as refused:
        files.load(content)
    said = str(refused.value)
    assert said.startswith("The file cannot be taken in: ")
    assert ";" in said
    assert said.endswith(".")
    assert len(said) < 300
    assert said.isprintable()


NASTY = (
    None,
    True,
    -1,
    0,
    1,
    2**63,
    1.5,
    -0.0,
    "",
    "x",
    "\0",
    "🤿" * 3000,
    [],
    [1],
    [[]],
    {},
    {"x": 1},
    "2026-06-10",
    "told:x",
)


def places(value: Any, where: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Return every place of a JSON value."""
    steps = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [where, *(place for step, inner in steps for place in places(inner, (*where, step)))]


def test_whatever_stands_wherever_it_is_refused_kindly_or_taken_in_whole(store):
    """A file with one or two values changed, dropped or doubled either raises ArchiveError or can be stored."""
    chance, every, taken = random.Random(5), places(good())[1:], 0
    for place in every:
        for _ in range(4):
            value = good()
            for where in (place, *chance.sample(every, chance.randint(0, 1))):
                inner: Any = value
                try:
                    for step in where[:-1]:
                        inner = inner[step]
                    if chance.random() < 0.2:
                        del inner[where[-1]]
                    else:
                        inner[where[-1]] = copy.deepcopy(chance.choice(NASTY))
                except (KeyError, IndexError, TypeError):
                    continue  # the place went with the first change
            try:
                archive = files.load(write(value))
            except ArchiveError:
                continue
            taken += 1
            chat = store.write(opened)
            taken_in(store, archive, chat)
            assert files.load(files.dump(exported(store, chat))).items == archive.items
    assert taken > 15


def test_locker_that_no_file_can_take_says_so(store, chat_of_four):
    row = Item(
        locker_id=chat_of_four.locker_id, kind="bag", name="x" * 5000, facts={}, added_on=TODAY, added_by=MARA
    )
    store.write(lambda s: s.add(row))
    with pytest.raises(ArchiveError, match="items, 0, name"):
        exported(store, chat_of_four)


def test_facts_of_an_item_are_those_of_the_catalogue():
    assert Archive.model_fields["items"].annotation is not None
    assert model_of("items").model_fields["facts"].annotation is ItemFacts


def test_midnight_and_tiny_parts_of_a_second_are_kept(store, chat_of_four, elsewhere):
    at = datetime.combine(TODAY, time(0, 0, 0, 1), UTC)
    store.write(
        lambda s: s.add(
            Dive(
                locker_id=chat_of_four.locker_id,
                on=TODAY,
                dives=1,
                conditions=[],
                logged_at=at,
                logged_by=MARA,
            )
        )
    )
    there = elsewhere.write(opened)
    taken_in(elsewhere, files.load(files.dump(exported(store, chat_of_four))), there)
    assert elsewhere.read(lambda s: dives.latest(s, there.locker_id).logged_at) == at
