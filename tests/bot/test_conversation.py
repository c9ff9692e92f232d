"""The way of a message: all or nothing, one plain sentence for a bug, buttons and lockers kept apart, and leaving for good."""

import json
import sqlite3

import pytest

from bot.conversation import Answer, Conversation, Update
from bot.handle.table import HANDLERS
from bot.main import set_up_logging
from bot.render.text import with_buttons
from bot.replies import Reply
from bot.understand.intents import Help, LogDive
from store.engine import Store
from store.tables import Dive

from .conftest import NOON

SUIT = "add dry suit called Nessie, plastic zip, latex seals"
SORRY = Answer(
    Reply(
        "Something went wrong on my side. Nothing was changed.", ("Please try it in other words, or later.",)
    )
)
TOO_OLD = "That button is too old or not from this chat."
NOT_READ = "I did not get that."


# a bug in a handler


def broken(_intent, _visit):
    raise RuntimeError("broken")


def broken_halfway(intent, visit):
    visit.session.add(
        Dive(
            locker_id=visit.locker_id,
            on=visit.today,
            dives=intent.dives,
            conditions=[],
            logged_at=visit.now,
            logged_by=visit.actor,
        )
    )
    visit.session.flush()
    raise KeyError("broken halfway")


@pytest.mark.parametrize("handler", [broken, broken_halfway])
def test_handler_that_raises_stores_nothing_and_the_next_message_works(
    wire, facts, rows, monkeypatch, handler
):
    wire.say(SUIT)
    before, counted = facts(), rows()
    with monkeypatch.context() as for_now:
        for_now.setitem(HANDLERS, LogDive, handler)
        assert wire.say("2 dives today, salt") == SORRY
    assert (facts(), rows()) == (before, counted)
    assert wire.say("2 dives today, salt").reply.first == (
        "Logged: 2 dives, today, salt water. 2 dives in all."
    )


def test_handler_that_raises_in_a_new_chat_leaves_no_chat(wire, rows, monkeypatch):
    monkeypatch.setitem(HANDLERS, Help, broken)
    assert wire.say("help") == SORRY
    assert rows() == {}


def test_handler_that_raises_is_logged_once_with_its_update(wire, monkeypatch, capsys):
    set_up_logging("ERROR")
    monkeypatch.setitem(HANDLERS, Help, broken)
    wire.take(text="help", update_id="7")
    (logged,) = [json.loads(entry) for entry in capsys.readouterr().err.splitlines()]
    assert (logged["event"], logged["level"], logged["wire"], logged["update_id"]) == (
        "update_failed",
        "error",
        "test",
        "7",
    )
    assert (logged["fault"], "exception" in logged) == ("RuntimeError", False)
    assert logged["where"][-1].startswith("tests/bot/test_conversation.py:")


# a database that gives out while the bot runs


@pytest.fixture
def crowded(database, monkeypatch):
    """Return a conversation on a database that another program holds until it is let go."""
    monkeypatch.setattr("store.engine._BUSY_MS", 20)
    store = Store(database)
    holder = sqlite3.connect(database.removeprefix("sqlite:///"))
    conversation = Conversation(store, iter("abcdefgh").__next__)
    yield conversation, holder
    holder.close()
    store.close()


@pytest.mark.sqlite
def test_locked_database_is_said_kindly_and_the_next_message_works(crowded):
    conversation, holder = crowded
    update = Update("test", "deck", "mara", NOON, text="2 dives today", update_id="7")
    holder.execute("BEGIN IMMEDIATE")
    refused = conversation.take(update)
    holder.rollback()
    assert refused.reply.first == "I cannot reach my records just now, so nothing was changed."
    assert refused.reply.lines == ("Please send it again in a minute.",)
    assert conversation.take(update).reply.first == "Logged: 2 dives, today. 2 dives in all."


@pytest.mark.sqlite
def test_locked_database_is_not_named_to_a_chat(crowded, database):
    conversation, holder = crowded
    holder.execute("BEGIN IMMEDIATE")
    refused = conversation.take(Update("test", "deck", "mara", NOON, text="2 dives today"))
    holder.rollback()
    assert database.removeprefix("sqlite:///") not in refused.reply.first


# buttons


def test_button_works_by_its_id(wire, facts):
    plastic, _, _ = wire.say("add dry suit").button_ids
    assert wire.tap(plastic).reply.first.startswith("Noted for dry suit.")
    assert facts()["item"][0]["facts"] == {"zip_material": "plastic"}


@pytest.mark.parametrize(
    "button_id", ["", "t999", "1", "Undo", "'; DROP TABLE button; --", "\x00", "t" * 10_000]
)
def test_forged_button_is_refused(wire, facts, button_id):
    wire.say("2 dives today, salt")
    before = facts()
    assert wire.tap(button_id).reply.first == TOO_OLD
    assert facts() == before


def test_button_of_another_chat_is_refused(wire, facts):
    foreign = wire.say("2 dives today, salt").button_ids
    wire.say("3 dives today, salt", chat="boat")
    before = facts()
    assert [wire.tap(b, chat="boat").reply.first for b in foreign] == [TOO_OLD] * len(foreign)
    assert facts() == before


def test_label_of_another_chat_is_refused(wire, facts):
    wire.say("2 dives today, salt")
    before = facts()
    assert wire.take("boat", tap_label="Undo").reply.first == TOO_OLD
    assert facts() == before


def test_button_of_long_ago_is_refused(wire):
    _, undo = wire.say("2 dives today, salt").button_ids
    for _ in range(30):
        wire.say("show kit")
    assert wire.tap(undo).reply.first == TOO_OLD


# typed answers to buttons


def test_number_after_a_message_without_buttons_picks_none(wire, facts):
    wire.say("add dry suit")
    wire.say("xyzzy")
    before = facts()
    assert wire.say("1").reply.first == NOT_READ
    assert facts() == before


@pytest.mark.parametrize("said", ["not done yet", "hydro done today", "I have not done that"])
def test_words_that_hold_a_label_do_not_tap_done(talk, facts, said):
    talk.say("add dry suit, plastic zip, latex seals")
    talk.say("2 dives today, salt")
    assert [s.reply.offers[0].label for s in talk.wait(days=1)] == ["Done"]
    talk.say(said)
    assert facts()["care"] == []


@pytest.mark.parametrize(
    ("said", "first"),
    [
        ("sold the scooter", "scooter is out of your kit. Its record stays."),
        ("rinsed the scooter", "Noted: scooter rinsed today."),
        ("scooter serviced today", "Noted: scooter serviced today."),
    ],
)
def test_sentence_after_show_kit_is_read_as_a_sentence(talk, said, first):
    talk.say("add scooter")
    talk.say("show kit")
    assert talk.say(said).first == first


# undo


def test_undo_takes_back_an_item_and_a_wish(talk, facts):
    before = facts()
    talk.say("add scooter")
    talk.say("units imperial")
    assert [talk.say("undo").first for _ in range(3)] == [
        "Taken back: wish.",
        "Taken back: kit.",
        "There is nothing to take back.",
    ]
    assert {**facts(), "journal_entry": []} == before


TOUCHED = "bot/handle/self_service.py _TOUCHED says dive_item and manual_note, the tables are dive_item and manual_note"


@pytest.mark.parametrize(
    ("said", "what"),
    [
        ("2 dives today, salt", "dive log"),
        ("the manual says silicone grease on the dry suit inflator", "note from a manual"),
    ],
)
def test_undo_with_kit_takes_back(talk, said, what):
    talk.say("add dry suit, plastic zip, latex seals")
    talk.say(said)
    assert talk.say("undo").first == f"Taken back: {what}."


# two chats


def test_chat_sees_no_kit_of_another(talk):
    talk.say(SUIT)
    talk.say("2 dives today, salt")
    boat = talk.elsewhere("boat")
    assert [(boat.say(text).data) for text in ("show kit", "what is due", "undo")] == [
        {"intent": "show_kit", "items": [], "dives": 0},
        {"intent": "show_due", "due": []},
        {"intent": "undo", "undone": None},
    ]
    boat.close()


@pytest.mark.parametrize("text", ["rinsed Nessie", "Nessie", "show Nessie", "sold Nessie", "1", "Undo"])
def test_chat_answers_as_if_the_name_of_another_did_not_exist(wire, text):
    wire.say("add scooter", chat="before")
    unknown = wire.say(text, chat="before").reply
    wire.say(SUIT)
    wire.say("add scooter", chat="after")
    assert with_buttons(wire.say(text, chat="after").reply) == with_buttons(unknown)


def test_chat_is_advised_by_its_own_kit_only(wire):
    wire.say(SUIT)
    assert wire.say("what goes on the zip of my dry suit?").reply.data["verdict"] == "use"
    assert wire.say("what goes on the zip of my dry suit?", chat="boat").reply.data["verdict"] == "clarify"


def test_chat_changes_nothing_of_another(wire, facts):
    wire.say(SUIT)
    wire.say("2 dives today, salt")
    mine = facts()
    for text in ("undo", "sold the dry suit", "no, that was fresh", "make it 9 dives", "rinsed the dry suit"):
        wire.say(text, chat="boat")
    assert facts() == mine


def test_same_address_on_another_wire_is_another_chat(wire):
    wire.say(SUIT)
    assert wire.take(wire="other", text="show kit").reply.data["items"] == []


def test_why_belongs_to_the_question_of_the_same_chat(wire):
    wire.say("what do I put on the neck ring?")
    assert wire.say("why").reply.data["part"] == "cylinder neck O-ring"
    assert wire.say("why", chat="boat").reply.first == NOT_READ


def test_reminder_goes_to_the_chat_of_the_kit(talk):
    talk.say(SUIT)
    boat = talk.elsewhere("boat")
    boat.say("add scooter")
    talk.say("2 dives today, salt")
    assert [(s.chat, {n["item"] for n in s.reply.data["notices"]}) for s in talk.wait(days=1)] == [
        ("deck", {"Nessie"})
    ]
    boat.close()


# forget me


def live_through_everything(talk):
    """Leave a row in every table that belongs to a chat."""
    for text in (
        SUIT,
        "2 dives today, salt",
        "rinsed Nessie",
        "the manual says nothing on the inflator of Nessie",
        "trip 12 to 19 December, 14 dives",
        "what do I put on the neck ring?",
    ):
        talk.say(text)
    talk.wait(days=1)
    talk.say("snooze for 3 days")


def test_forget_me_needs_the_tap(talk, rows):
    live_through_everything(talk)
    before = {**rows(), "button": 0}
    for text in ("forget me", "forget me", "delete everything", "yes", "ok", "forget me please"):
        talk.say(text)
    assert {**rows(), "button": 0} == before


def test_forget_me_with_the_tap_leaves_nothing(talk, rows):
    live_through_everything(talk)
    assert set(rows()) == {
        "item", "dive", "dive_item", "care", "manual_note", "snooze", "trip", "journal_entry",
        "button", "care_task", "chat", "locker", "notice",
    }  # fmt: skip
    talk.say("forget me")
    talk.tap("Delete it all")
    assert talk.tap("Yes, for good").data == {"intent": "forget_me", "done": True}
    assert rows() == {}
    assert talk.wait(days=400) == []


def test_forget_me_leaves_others_alone(talk, rows):
    boat = talk.elsewhere("boat", who="ilka")
    live_through_everything(boat)
    before = {**rows(), "button": 0}
    live_through_everything(talk)
    talk.say("forget me")
    talk.tap("Delete it all")
    talk.tap("Yes, for good")
    boat.close()
    assert {**rows(), "button": 0} == before


def test_forget_me_kept_deletes_nothing(talk, facts):
    talk.say(SUIT)
    before = facts()
    talk.say("forget me")
    assert talk.tap("Keep it").data == {"intent": "show_kit", "items": ["Nessie"], "dives": 0}
    assert facts() == before


def test_forget_me_done_starts_afresh(talk):
    talk.say(SUIT)
    talk.say("forget me")
    talk.tap("Delete it all")
    talk.tap("Yes, for good")
    assert talk.tap("Undo").first == TOO_OLD
    assert talk.say("undo").first == "There is nothing to take back."
    assert talk.say("show kit").data == {"intent": "show_kit", "items": [], "dives": 0}


def test_forget_me_confirmed_by_its_number_in_the_next_message(talk, rows):
    talk.say(SUIT)
    talk.say("forget me")
    talk.say("2")
    assert talk.say("1").data == {"intent": "forget_me", "done": True}
    assert rows() == {}


@pytest.mark.parametrize("said", ["all", "delete", "do not delete it all"])
def test_forget_me_is_not_confirmed_by_a_word_of_the_label(talk, facts, said):
    talk.say(SUIT)
    before = facts()
    talk.say("forget me")
    talk.say(said)
    assert facts() == before


def test_forget_me_is_not_confirmed_by_a_number_after_another_message(talk, facts):
    talk.say(SUIT)
    before = facts()
    talk.say("forget me")
    talk.say("xyzzy")
    talk.say("1")
    assert facts() == before
