"""What is measured is what happened, in few words, and says nothing of whose it is."""

import ast
import asyncio
from datetime import timedelta
from pathlib import Path

import pytest
from prometheus_client.parser import text_string_to_metric_families as families

from bot.conversation import Conversation, Update
from bot.main import token
from bot.metrics import COUNTERS, HISTOGRAMS
from bot.watch import Watch
from scheduler.clock import SetClock
from scheduler.post import Arrived, Postman
from scheduler.tick import tick
from store.engine import Store
from store.letters import hold_wire
from tests.conftest import START

ROOT = Path(__file__).parent.parent.parent
ODD = 'Kelpie "O\'Brine" \n\\ <b>æøå</b>'


class Deck:
    """A store that is watched, with people who write to it."""

    def __init__(self, store: Store) -> None:
        self.store, self.clock = store, SetClock(START)
        self.watch = Watch(store, self.clock, list, list)
        self.conversation = Conversation(store, token)
        self._ids = iter(range(10_000))

    def say(self, text: str, who: str = "mara", **more: object) -> None:
        said = {
            "update_id": str(next(self._ids)),
            "text": text,
            "by_post": True,
            "actor_name": f"{who} {ODD}",
        }
        self.conversation.take(Update("telegram", f"chat-{who}", who, self.clock.now(), **(said | more)))

    async def page(self) -> str:
        await asyncio.sleep(0)
        self.watch.checkup._kept.clear()
        return (await self.watch.page())[0].decode()

    async def values(self) -> dict[tuple[str, ...], float]:
        """Return name and label values to value."""
        found = [s for family in families(await self.page()) for s in family.samples]
        return {(s.name, *(v for k, v in sorted(s.labels.items()) if k != "le")): s.value for s in found}


@pytest.fixture
def deck(store):
    made = Deck(store)
    yield made
    made.watch.close()


async def test_updates_answers_and_letters_are_counted(deck):
    deck.say("add scooter")
    deck.say("add scooter", update_id="0")
    found = await deck.values()
    assert found["rinsetank_updates_total", "answered", "telegram"] == 1
    assert found["rinsetank_updates_total", "silent", "telegram"] == 1
    assert found["rinsetank_take_seconds_count", "telegram"] == 2
    assert found["rinsetank_letters_waiting", "telegram"] == 1
    deck.clock.forward(timedelta(seconds=40))
    assert (await deck.values())["rinsetank_letter_oldest_seconds", "telegram"] == 40
    assert found["rinsetank_store_reachable",] == 1


async def test_sends_are_counted_by_what_became_of_them(deck):
    class Carrier:
        async def carry_letter(self, letter: object) -> Arrived:
            deck.clock.forward(timedelta(seconds=3))
            return Arrived()

    deck.say("add scooter")
    postman = Postman(deck.store, "telegram", Carrier(), deck.clock)
    await postman._round()
    await postman.finish()
    found = await deck.values()
    assert found["rinsetank_sends_total", "arrived", "answer", "telegram"] == 1
    assert (
        found["rinsetank_answer_seconds_count", "telegram"],
        found["rinsetank_answer_seconds_sum", "telegram"],
    ) == (1, 3)
    assert ("rinsetank_letters_waiting", "telegram") not in found


async def test_reminders_late_are_told_with_their_age_until_they_went(deck):
    class Courier:
        wires = ()

        async def carry(self, digest: object) -> None:
            raise AssertionError("no wire is on")

    deck.say("add dry suit")
    deck.say("2 dives today")
    deck.clock.forward(timedelta(hours=20))
    await tick(deck.store, Courier(), deck.clock)
    deck.clock.forward(timedelta(minutes=5))
    found = await deck.values()
    assert found["rinsetank_swept_total",] > 0
    assert found["rinsetank_notices", "pending"] > 0
    assert found["rinsetank_notice_oldest_seconds", "telegram"] == 300


async def test_holds_are_told(deck):
    deck.store.write(lambda s: hold_wire(s, "telegram", START + timedelta(seconds=90)))
    assert (await deck.values())["rinsetank_wire_held_seconds", "telegram"] == 90
    deck.clock.forward(timedelta(seconds=91))
    assert ("rinsetank_wire_held_seconds", "telegram") not in await deck.values()


async def test_labels_are_few_and_of_the_program_however_many_write(deck):
    deck.say(f"add scooter called {ODD}")
    deck.say(f"what goes on {ODD}?")
    few = set(await deck.values())
    for n in range(12):
        deck.say("add scooter", who=f"ilka{n}")
        deck.say(f"what goes on {ODD}?", who=f"@ilka{n}:reef.example")
    assert set(await deck.values()) == few
    assert len(few) < 200
    page = await deck.page()
    assert [word for word in ("Kelpie", "ilka", "mara", "chat-", "scooter", "æ") if word in page] == []


async def test_database_that_does_not_answer_is_told_and_old_numbers_are_not(deck, monkeypatch):
    deck.say("add scooter")
    assert ("rinsetank_letters_waiting", "telegram") in await deck.values()
    monkeypatch.setattr(deck.store, "read", lambda _: 1 / 0)
    found = await deck.values()
    assert found["rinsetank_store_reachable",] == 0
    assert ("rinsetank_letters_waiting", "telegram") not in found


def test_whatever_is_told_is_in_the_tables_with_its_labels():
    told = {}
    for folder in ("bot", "scheduler", "store"):
        for file in (ROOT / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(file.read_text())):
                if not isinstance(node, ast.Call):
                    continue
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                given = node.args
                if name == "partial" and given and getattr(given[0], "attr", "") == "tell":
                    given, more = given[1:], {"outcome"}  # given where it is called
                elif name in {"tell", "timing", "timed"}:
                    more = set()
                else:
                    continue
                if given and isinstance(given[0], ast.Constant):
                    told[given[0].value] = {k.arg for k in node.keywords} | more
    known = {event: set(row[2]) for event, row in (COUNTERS | HISTOGRAMS).items()}
    assert told == known
