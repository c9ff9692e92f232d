"""The terminal: one line in, one answer out; piped lines; numbered buttons; reminders between the lines."""

import io
import secrets
from datetime import datetime, timedelta
from itertools import count

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from bot.conversation import Conversation, Update
from bot.render.text import with_buttons
from bot.replies import Kind
from bot.transports.console import Console, ConsoleCourier
from scheduler.clock import SetClock, SystemClock
from scheduler.tick import tick
from store import items, lockers, outbox

SUIT = "add dry suit, plastic zip, latex seals"
NOON = datetime.fromisoformat("2026-06-10T12:00:00+00:00")
REMINDER = (
    "Rinse: dry suit, today. And 2 more.\n"
    "- Rinse: dry suit - today\n"
    "- Dry: dry suit - today\n"
    "- Powder: neck and wrist seals (dry suit), unscented talc - today\n"
    "[1] Done  [2] Part of it  [3] Later  [4] Why"
)


@pytest.fixture
def clock():
    return SetClock(NOON)


@pytest.fixture
def conversation(store):
    tokens = count(1)
    return Conversation(store, lambda: f"t{next(tokens)}")


@pytest.fixture
def console(store, conversation, clock):
    return Console(store, conversation, clock, "mara", "UTC")


async def piped(console: Console, text: str) -> str:
    out = io.StringIO()
    await console.run_piped(io.StringIO(text), out)
    return out.getvalue()


def test_answer_is_the_reply_with_numbered_buttons(console):
    assert console.answer("2 dives today, salt") == (
        "Logged: 2 dives, today, salt water. 2 dives in all.\n"
        "Your kit is still empty, so nothing can fall due. Add it like: add dry suit, plastic zip, latex seals\n"
        "[1] Add kit  [2] Undo"
    )


def test_answer_without_buttons_has_no_choices(console):
    assert console.answer("undo") == "There is nothing to take back."


def test_number_picks_that_button(console):
    assert console.answer("add dry suit").splitlines()[-1] == "[1] plastic  [2] metal  [3] don't know"
    assert console.answer("2") == (
        "Noted for dry suit. What are its neck and wrist seals made of?\n"
        "[1] latex  [2] silicone  [3] neoprene  [4] don't know"
    )
    console.answer("1")
    assert console.answer("show kit").splitlines()[1] == "- dry suit (metal zip, latex seals): 0 dives"


@pytest.mark.parametrize("number", ["0", "4", "99", "-1", "1.5"])
def test_number_without_a_button_picks_none(console, facts, number):
    console.answer("add dry suit")
    before = facts()
    assert console.answer(number).splitlines()[0] == "I did not get that."
    assert facts() == before


def test_new_chat_begins_in_the_zone_given(store, conversation):
    late = SetClock(datetime.fromisoformat("2026-06-10T23:30:00+00:00"))
    console = Console(store, conversation, late, "mara", "Asia/Tokyo")
    console.answer("1 dive today")
    assert (
        console.answer("no, it was 10 June").splitlines()[0] == "Corrected: 1 dive, yesterday. 1 dive in all."
    )


def test_zone_the_diver_set_outlives_a_new_session(store, conversation, clock, console):
    console.answer("zone America/New_York")
    Console(store, conversation, clock, "mara", "Asia/Tokyo")
    zone = store.read(lambda s: lockers.open_chat(s, "console", "terminal", NOON).zone)
    assert zone == "America/New_York"


def test_zone_nobody_knows_does_not_silence_the_terminal(store, conversation, clock):
    console = Console(store, conversation, clock, "mara", "Mars/Olympus")
    assert console.answer("undo") == "There is nothing to take back."


async def test_piped_lines_are_answered_in_turn(console):
    assert await piped(console, "undo\n\n   \n  undo  \n") == "> undo\nThere is nothing to take back.\n\n" * 2


async def test_piped_last_line_without_an_end_is_answered(console):
    assert await piped(console, "undo") == "> undo\nThere is nothing to take back.\n\n"


async def test_piped_nothing_says_nothing(console):
    assert await piped(console, "") == ""


@pytest.mark.parametrize("word", ["quit", "exit", "bye", "/quit", "/exit", ":q", "  quit  "])
async def test_piped_leaving_word_ends_the_talk(console, word):
    assert (
        await piped(console, f"undo\n{word}\nadd scooter\n") == "> undo\nThere is nothing to take back.\n\n"
    )
    assert console.answer("show kit").startswith("Your kit is empty.")


async def test_piped_lines_end_with_what_is_due_now(console, clock):
    console.answer(SUIT)
    console.answer("2 dives today, salt")
    assert await piped(console, "") == ""
    clock.set(NOON + timedelta(hours=6))
    assert await piped(console, "quit\n") == f"(reminder)\n{REMINDER}\n\n"
    assert await piped(console, "") == ""


async def test_courier_shows_a_reminder_whose_buttons_work(store, console, conversation, clock):
    console.answer(SUIT)
    console.answer("2 dives today, salt")
    clock.set(NOON + timedelta(hours=6))
    shown = []
    await tick(store, ConsoleCourier(conversation, clock, shown.append), clock)
    assert [(r.kind, with_buttons(r)) for r in shown] == [(Kind.REMINDER, REMINDER)]
    assert console.answer("1").splitlines()[:2] == ["Noted: 3 things done today.", "Nothing else is due."]
    await tick(store, ConsoleCourier(conversation, clock, shown.append), clock)
    assert len(shown) == 1


async def test_courier_leaves_other_wires_alone(store, conversation, clock):
    for text in (SUIT, "2 dives today, salt"):
        conversation.take(Update("radio", "deck", "mara", NOON, text=text))
    clock.set(NOON + timedelta(hours=6))
    shown = []
    assert await tick(store, ConsoleCourier(conversation, clock, shown.append), clock) == 0
    chat = store.read(lambda s: lockers.at_address(s, "radio", "deck"))
    waiting = store.read(lambda s: outbox.of_chat(s, chat.id))
    assert {(n.state, n.attempts) for n in waiting} == {("pending", 0)}
    assert shown == []


async def test_person_at_a_terminal_is_served_until_leaving(store, tmp_path):
    console = Console(
        store, Conversation(store, lambda: secrets.token_urlsafe(9)), SystemClock(), "you", "UTC"
    )
    with create_pipe_input() as keys, create_app_session(input=keys, output=DummyOutput()):
        keys.send_text("add canister light\n\nquit\n")
        await console.run(tmp_path / "history")
    kit = store.read(
        lambda s: [
            i.name for i in items.of_locker(s, lockers.open_chat(s, "console", "terminal", NOON).locker_id)
        ]
    )
    assert kit == ["canister light"]
    assert "add canister light" in (tmp_path / "history").read_text(encoding="utf-8")


async def test_person_who_ends_the_input_leaves(store, tmp_path):
    console = Console(
        store, Conversation(store, lambda: secrets.token_urlsafe(9)), SystemClock(), "you", "UTC"
    )
    with create_pipe_input() as keys, create_app_session(input=keys, output=DummyOutput()):
        keys.send_text("\x04")
        await console.run(tmp_path / "history")
