"""Whoever asks to be forgotten is: what is theirs goes, and what others breathe from no longer says who told it."""

import sqlite3
from contextlib import closing
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from sqlmodel import SQLModel, select

from bot.conversation import Conversation, Update
from bot.main import token
from bot.pictures.sheets import Board
from bot.post import Enclosed, Key, Post
from bot.updates import Meant
from scheduler.plan import refresh
from store import dives, items, journal, lockers, people, tasks
from store.engine import Store
from store.forget import Forgotten, forget_person
from store.tables import (
    Button,
    Care,
    Chat,
    Dive,
    DiveImport,
    Invite,
    Item,
    JournalEntry,
    Letter,
    Loan,
    Locker,
    Member,
    Mishap,
    Notice,
    Person,
    WireState,
)
from tests.conftest import START
from tests.scenes import Scenes

TODAY = date(2026, 6, 10)
ADDRESS, NAME = "@jorun-4711:reef.example", "Jorunella"
JORUN = f"boat:{ADDRESS}"
MARA, OLA, ILKA = "boat:mara", "boat:ola", "boat:ilka"
NAMES = {ADDRESS: NAME, "mara": "Mara", "ola": "Ola", "ilka": "Ilka"}
PRIVATE, GROUP = "!room-of-jorun:reef.example", "!club:reef.example"
LOG = b"date,time,duration,depth (m)\n2026-06-01,10:15,42,24.6\n"


class Harbour:
    """Jorun with a chat of her own, in a group of her own making, and in the lockers of Mara and Ola."""

    def __init__(self, store: Store, scenes: Scenes) -> None:
        self.store, self.now, self.n = store, START, 0
        self.conversation = Conversation(store, token)
        self.now, self.n, self.struck = scenes.begin(store, "life of Jorun", self.life)

    def take(self, who: str, chat: str | None = None, **said):
        self.now += timedelta(seconds=30)
        self.n += 1
        chat = chat or {ADDRESS: PRIVATE}.get(who, f"!room-of-{who}:reef.example")
        answer = self.conversation.take(
            Update(
                "boat",
                chat,
                who,
                self.now,
                update_id=str(self.n),
                actor_name=NAMES[who],
                group=chat == GROUP,
                message=f"message {self.n}",
                **said,
            )
        )
        assert answer is not None
        return answer.reply

    def say(self, who: str, text: str, chat: str | None = None, **more):
        return self.take(who, chat, text=text, **more)

    def tap(self, who: str, label: str, chat: str | None = None):
        return self.take(who, chat, tap_label=label)

    def life(self) -> tuple[datetime, int, int]:
        self.say("mara", "add scooter, twinset 32%, regulator set")
        self.say("ola", "add dry suit, plastic zip, latex seals")
        self.say("ola", "call this locker Blue Hole")
        for owner in ("mara", "ola"):
            code = self.say(owner, "share my locker").data["code"]
            self.say(ADDRESS, f"join {code}")
            self.say("ilka", f"join {code}")
        self.say(ADDRESS, "open your own locker")
        self.say(ADDRESS, "add reel, torch")
        self.say(ADDRESS, "open Mara's locker")
        self.say(ADDRESS, "2 dives today with the scooter, salt, 20 m")
        self.say(ADDRESS, "add hood")
        self.say(ADDRESS, "flooded the scooter")
        self.say(ADDRESS, "greased the scooter hull rings with silicone grease")
        self.take(ADDRESS, file=("log.csv", LOG))
        self.tap(ADDRESS, "Count 1 dive")
        self.say("mara", "who is in?")
        self.tap("mara", f"{NAME}: let remove")
        self.say("mara", "who is in?")
        self.say(ADDRESS, "share this locker")
        self.say(ADDRESS, "lend the hood to Blue Hole")
        self.say(ADDRESS, "what goes on a latex seal?")
        self.say(ADDRESS, "add twinset", GROUP)
        self.say("mara", "2 dives yesterday in a lake", GROUP)
        self.say(ADDRESS, "inspected the twinset", GROUP)
        self.say(ADDRESS, "what goes on a neck ring?", GROUP)
        self.say("ilka", "my lockers")
        code = self.own_code()
        self.say("ilka", f"join {code}")
        self.say("ilka", "my lockers")
        self.say("mara", "show my dives")
        return self.now, self.n, self.store.write(self.more)

    def own_code(self) -> str:
        self.say(ADDRESS, "my lockers")
        self.tap(ADDRESS, "Open your own locker")
        return self.say(ADDRESS, "share my locker").data["code"]

    def more(self, session) -> int:
        """Fill by hand what a conversation leaves empty, or holds for a moment only."""
        deck = lockers.at_address(session, "boat", "!room-of-mara:reef.example")
        body = {"text": f"{NAME} logged 2 dives. You are {JORUN} to me.", "buttons": [f"{NAME}: out"]}
        session.add(Letter(wire="boat", address=deck.address, body=body, send_at=self.now))
        session.add(Letter(wire="boat", address=PRIVATE, body={"text": NAME}, send_at=self.now))
        session.add(Letter(wire="boat", address=ADDRESS, body={"text": "hello"}, send_at=self.now))
        session.add(WireState(wire="boat", position="s42"))
        item = items.of_locker(session, deck.locker_id)[0]
        session.add(
            Notice(
                key="k",
                locker_id=deck.locker_id,
                chat_id=deck.id,
                item_id=item.id,
                due_on=TODAY,
                stage="due",
                send_at=self.now,
            )
        )
        # a keeper struck a dive that she had told: its whole row stands in the journal
        dive = Dive(
            locker_id=deck.locker_id, on=TODAY, dives=1, conditions=[], logged_at=self.now, logged_by=JORUN
        )
        dives.add(session, dive, [item.id])
        journal.watch(session)
        dives.remove(session, dive)
        entry = JournalEntry(
            chat_id=deck.id, at=self.now, actor=MARA, locker_id=deck.locker_id, intent="log_dive", changes=[]
        )
        journal.keep(session, entry)
        return entry.id


@pytest.fixture
def harbour(store, scenes):
    return Harbour(store, scenes)


def forget(store, now=START) -> Forgotten | None:
    """Forget Jorun as her chat asks for it, and work out anew what that touched."""

    def work(session):
        chat = lockers.at_address(session, "boat", PRIVATE)
        if chat is None:
            return None
        done = forget_person(session, JORUN, chat, TODAY)
        for locker_id in done.touched:
            refresh(session, chat, now, locker_id=locker_id)
        return done

    return store.write(work)


def held_in(store, *texts):
    """Return table, column and text wherever one of some texts stands in any column of any row."""

    def work(session):
        connection = session.connection().connection.cursor()
        found, seen = [], 0
        for name, table in SQLModel.metadata.tables.items():
            columns = [c.name for c in table.columns]
            rows = connection.execute(
                f'SELECT {", ".join(f"{chr(34)}{c}{chr(34)}" for c in columns)} FROM "{name}"'
            )
            for row in rows:
                seen += 1
                found += [
                    (name, c, t) for c, v in zip(columns, row, strict=True) for t in texts if t in str(v)
                ]
        assert seen > 20
        return found

    return store.read(work)


EVERYWHERE = {
    ("person", "key"),
    ("person", "name"),
    ("member", "person"),
    ("invite", "made_by"),
    ("chat", "last_intent"),
    ("chat", "address"),
    ("button", "intent"),
    ("button", "label"),
    ("item", "added_by"),
    ("dive", "logged_by"),
    ("dive_import", "sent_by"),
    ("care", "done_by"),
    ("mishap", "told_by"),
    ("loan", "lent_by"),
    ("journal_entry", "actor"),
    ("journal_entry", "changes"),
    ("letter", "body"),
    ("letter", "address"),
}
"""Where a person stands in a database, by table and column."""
TEXTS = (JORUN, ADDRESS, NAME, PRIVATE, "jorun", "Jorunella", "4711")


def test_person_stands_everywhere_before_and_nowhere_after(harbour, store):
    before = {(table, column) for table, column, _ in held_in(store, *TEXTS)}
    assert before == EVERYWHERE
    forget(store)
    assert held_in(store, *TEXTS) == []


@pytest.mark.sqlite
def test_nothing_is_left_in_the_bytes_of_the_file(harbour, store):
    path = store.url.removeprefix("sqlite:///")
    with closing(sqlite3.connect(path)) as direct:
        direct.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    assert ADDRESS.encode() in Path(path).read_bytes()
    forget(store)
    store.close()
    raw = Path(path).read_bytes()
    assert [t for t in TEXTS if t.encode() in raw] == []


def told(store, table):
    """Return what others' tables hold, but for who told it."""

    def work(session):
        rows = [row.model_dump() for row in session.exec(select(table).order_by(table.id))]
        return [{k: v for k, v in r.items() if not k.endswith("_by")} for r in rows]

    return store.read(work)


@pytest.mark.parametrize("table", [Care, Mishap, DiveImport, Dive, Item])
def test_record_of_others_stays_whole(harbour, store, table):
    own = store.read(lambda s: lockers.at_address(s, "boat", PRIVATE).locker_id)
    before = [row for row in told(store, table) if row["locker_id"] != own]
    assert before != []
    forget(store)
    assert told(store, table) == before


def test_others_see_that_somebody_told_it_who_left(harbour, store):
    forget(store)
    lines = harbour.say("mara", "show scooter").lines
    assert any("somebody who left" in line for line in lines), lines
    assert not any(NAME in line or ADDRESS in line for line in lines)


def test_answer_counts_what_went(harbour, store):
    done = forget(store)
    assert (done.items, done.dives, done.lockers, done.left) == (2, 0, 1, 3)


def test_group_passes_to_whoever_is_in_longest(harbour, store):
    def owners(session):
        group = lockers.at_address(session, "boat", GROUP)
        return [(m.person, m.role) for m in people.of_locker(session, group.locker_id)]

    assert store.read(owners)[0] == (JORUN, "owner")
    forget(store)
    assert store.read(owners) == [(MARA, "owner")]
    assert harbour.say("mara", "show kit", GROUP).data["items"] == ["twinset"]


def test_group_that_nobody_is_left_in_goes_too(store, scenes):
    harbour = Harbour(store, scenes)
    store.write(lambda s: people.leave(s, lockers.at_address(s, "boat", GROUP).locker_id, MARA))
    done = forget(store)
    assert (done.lockers, done.left) == (2, 2)
    assert store.read(lambda s: lockers.at_address(s, "boat", GROUP)) is None
    assert harbour.say("mara", "show kit").data["items"] != []


def test_locker_of_ones_own_goes_for_those_who_were_let_in(harbour, store):
    own = store.read(lambda s: lockers.at_address(s, "boat", PRIVATE).locker_id)
    assert own in store.read(lambda s: {h.locker_id for h in people.held(s, ILKA)})
    forget(store)
    assert store.read(lambda s: s.get(Locker, own)) is None
    assert len(store.read(lambda s: people.held(s, ILKA))) == 3
    assert store.read(lambda s: people.find(s, ILKA)) is not None


def test_others_can_still_undo_and_what_comes_back_names_nobody(harbour, store):
    forget(store)

    def work(session):
        entry = session.get_one(JournalEntry, harbour.struck)
        return journal.undo(session, entry, harbour.now)

    assert set(store.write(work)) == {"dive", "dive_item"}
    last = store.read(lambda s: s.exec(select(Dive).order_by(Dive.id.desc())).first())
    assert last.logged_by == people.GONE


def test_owner_takes_back_what_the_person_did_in_the_group(harbour, store):
    forget(store)
    assert harbour.tap("mara", "Undo", GROUP).first.startswith("Taken back")
    undone = store.read(
        lambda s: s.exec(select(JournalEntry).where(JournalEntry.undone_at.is_not(None))).all()
    )
    assert [(e.actor, e.intent) for e in undone] == [(people.GONE, "record_care")]


def test_codes_and_offers_of_the_person_end(harbour, store):
    assert store.read(lambda s: {i.made_by for i in s.exec(select(Invite))}) >= {JORUN}
    forget(store)
    assert store.read(lambda s: {i.made_by for i in s.exec(select(Invite))}) == {OLA}
    labels = store.read(lambda s: [b.label for b in s.exec(select(Button))])
    assert "Undo" in labels
    assert not any(NAME in label for label in labels)


def test_letters_to_others_still_go_and_name_nobody(harbour, store):
    forget(store)
    (letter,) = store.read(lambda s: s.exec(select(Letter)).all())
    assert letter.body == {
        "text": "somebody who left logged 2 dives. You are gone:somebody who left to me.",
        "buttons": ["somebody who left: out"],
    }


def test_loan_between_others_stays_and_says_not_who_lent(harbour, store):
    forget(store)
    (loan,) = store.read(lambda s: s.exec(select(Loan)).all())
    assert (loan.lent_by, loan.back_on, loan.name) == (people.GONE, None, "hood")


def test_kit_lent_from_and_to_the_locker_comes_home(harbour, store):
    harbour.say("ilka", "open your own locker")
    harbour.say("ilka", "add camera housing")
    harbour.say("ilka", f"lend the camera housing to {NAME}'s locker")
    harbour.say(ADDRESS, "lend the torch to Blue Hole")
    ilka, ola = store.read(
        lambda s: [
            lockers.at_address(s, "boat", f"!room-of-{w}:reef.example").locker_id for w in ("ilka", "ola")
        ]
    )
    assert store.read(lambda s: items.of_locker(s, ilka)) == []
    done = forget(store)
    assert done.touched == {ilka, ola}
    assert store.read(lambda s: [i.name for i in items.of_locker(s, ilka)]) == ["camera housing"]
    assert store.read(lambda s: tasks.of_locker(s, ilka)) != []
    assert [i.name for i in store.read(lambda s: items.of_locker(s, ola))] == ["dry suit", "hood"]


def test_forgetting_twice_is_harmless(harbour, store, rows):
    chat = store.read(lambda s: lockers.at_address(s, "boat", PRIVATE))
    forget(store)
    before = rows()
    again = store.write(lambda s: forget_person(s, JORUN, chat, TODAY))
    assert again == Forgotten(0, 0, 1, 0, frozenset())
    assert rows() == before


def test_whoever_comes_back_starts_afresh(harbour, store):
    forget(store)
    assert harbour.say(ADDRESS, "show kit").data["items"] == []
    assert forget(store) == Forgotten(0, 0, 1, 0, frozenset())
    assert held_in(store, *TEXTS) == []


def test_forgetting_in_a_group_takes_that_locker_alone(harbour, store):
    def work(session):
        return forget_person(session, JORUN, lockers.at_address(session, "boat", GROUP), TODAY)

    held = store.read(lambda s: len(people.held(s, JORUN)))
    assert store.write(work).lockers == 1
    assert store.read(lambda s: lockers.at_address(s, "boat", GROUP)) is None
    assert store.read(lambda s: len(people.held(s, JORUN))) == held - 1
    assert store.read(lambda s: people.find(s, JORUN).name) == NAME


def test_name_of_a_button_deletes_no_buttons_of_strangers(harbour, store):
    """Whoever calls themself Undo and is forgotten takes the buttons only of those who were in a locker with them."""

    def work(session):
        people.meet(session, "boat:undo", "Undo", START)
        chat = lockers.open_chat(session, "boat", "!undo", START)
        people.join(session, chat.locker_id, "boat:undo", START)
        return forget_person(session, "boat:undo", chat, TODAY)

    before = store.read(lambda s: len(s.exec(select(Button)).all()))
    store.write(work)
    assert store.read(lambda s: len(s.exec(select(Button)).all())) == before


@pytest.mark.parametrize(
    "name", ["first", "kind", "board", "png", "image", "k1", "meant", "lines", "keys", "A", "0"]
)
def test_name_of_whoever_is_forgotten_breaks_no_letter_of_others(store, name):
    """A letter is JSON: somebody who calls themself like a key or a value of it must not turn it into what nobody can send."""
    board = Board(locker="deck", on="10 June", first=f"{name} is here", dark=True)
    drawn = Enclosed(name="board.png", mime="image/png", sheet=board, plain=(f"by {name}",))
    papers = Enclosed(name="a.bin", mime="application/pdf", content=b"\x03\xff\xfe\x00" * 9)
    whole = Post(
        key="k1",
        first=f"{name} logged 2 dives.",
        keys=(Key(id="k1", label="Done", meant=Meant.DONE),),
        files=(drawn, papers),
    )
    seen = whole.model_copy(update={"first": "somebody who left logged 2 dives."})

    def work(session):
        chat = lockers.open_chat(session, "boat", "!club", START, group=True)
        for who in ("mara", "jorun"):
            people.meet(session, f"boat:{who}", name if who == "jorun" else "Mara", START)
            people.join(session, chat.locker_id, f"boat:{who}", START)
        session.add(Letter(wire="boat", address="!club", body=whole.model_dump(mode="json"), send_at=START))
        own = lockers.open_chat(session, "boat", "jorun", START)
        people.join(session, own.locker_id, "boat:jorun", START)
        forget_person(session, "boat:jorun", own, TODAY)
        (letter,) = session.exec(select(Letter)).all()
        return Post.model_validate(letter.body)

    left = store.write(work)
    assert left.first == seen.first
    assert (left.key, left.keys[0].id, left.keys[0].meant) == ("k1", "k1", Meant.DONE)
    assert (left.files[0].mime, left.files[0].sheet.kind, left.files[0].plain) == (
        "image/png",
        "board",
        ("by somebody who left",),
    )
    assert left.files[1] == papers


def test_address_that_begins_like_another_is_left_in_letters(store):
    def work(session):
        chat = lockers.open_chat(session, "boat", "47", START)
        people.meet(session, "boat:47", "Jorun", START)
        people.join(session, chat.locker_id, "boat:47", START)
        body = {"first": "You are boat:4711 to me, and that was boat:47."}
        session.add(Letter(wire="boat", address="4711", body=body, send_at=START))
        forget_person(session, "boat:47", chat, TODAY)
        return session.exec(select(Letter)).one().body["first"]

    assert store.write(work) == "You are boat:4711 to me, and that was gone:somebody who left."


def test_every_column_of_a_person_is_known_to_the_tests():
    """A new column that names people has to be rubbed out: it shows here by its name, or by its type above."""
    naming = {
        (name, column.name)
        for name, table in SQLModel.metadata.tables.items()
        for column in table.columns
        if column.name.endswith("_by")
        or column.name in {"person", "actor", "key"}
        or "JSON" in str(column.type).upper()
    }
    others = {
        ("item", "facts"),
        ("dive", "conditions"),
        ("dive_import", "content"),
        ("dive_import", "answers"),
        ("manual_note", "substances"),
        ("notice", "key"),
        ("locker", "planned_by"),
    }
    assert naming - others <= EVERYWHERE
    assert Person.__table__.primary_key.columns.keys() == ["key"]
    assert {c.name for c in Member.__table__.columns} == {"locker_id", "person", "role", "since"}
    assert "last_intent" in Chat.model_fields
