"""Telegram when things break: lines, answers, the process, the database. Nothing is lost and nothing acts twice."""

import asyncio
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from bot.health import Health
from store.errors import StoreError
from store.tables import Letter
from tests.conftest import START
from tests.doses import doses
from tests.wires.bot_api_limits import Refused
from tests.wires.harness import LiveClock, until
from tests.wires.telegram_chat import (
    CLUB,
    ILKA,
    MARA,
    OLA,
    after,
    bring_up,
    calls,
    chat_of,
    dives_of,
    firsts,
    settled,
    telegram_up,
    texts,
    waits,
)

SUIT = "add dry suit, plastic zip, latex seals"
DIVES = "2 dives today, salt"
LOGGED = "Logged: 2 dives, today, salt water. 2 dives in all."


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch):
    """Fetch again soon after a failure."""
    monkeypatch.setattr("bot.transports.telegram.PAUSE_S", 0.01)


@pytest.fixture
def clock():
    return LiveClock(START)


@pytest.fixture
async def up(store, clock):
    async with telegram_up(store, clock) as running:
        yield running


@pytest.fixture
def api(up):
    return up.api


def letters(store):
    return store.read(lambda s: list(s.exec(select(Letter).order_by(Letter.id))))


def later(up, **span):
    """Let time go by and have a look at what waits."""
    up.bot.clock.set(up.bot.clock.now() + timedelta(**span))
    up.postman.ring()


# --- lines that break


@pytest.mark.parametrize("kind", ["502", "500", "401", "cut_before", "garbage"])
async def test_answer_that_did_not_get_through_is_sent_again_once(up, api, store, kind):
    api.fault("sendMessage", kind)
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: any(letter.attempts == 1 for letter in letters(store)))
    assert texts(api, ILKA) == []
    later(up, minutes=2)
    await settled(api, store)
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED], 2)


async def test_answer_whose_line_was_cut_after_it_arrived_comes_twice_rather_than_never(up, api, store):
    api.fault("sendMessage", "cut_after")
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: any(letter.attempts == 1 for letter in letters(store)))
    later(up, minutes=2)
    await settled(api, store)
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED] * 2, 2)


async def test_edit_whose_line_was_cut_after_it_acted_shows_once(up, api, store):
    await up.person.say(DIVES)
    api.fault("editMessageText", "cut_after")
    api.tap(ILKA, ILKA, api.chat(ILKA)[-1].message_id, "Undo")
    await until(lambda: any(letter.attempts == 1 for letter in letters(store)))
    later(up, minutes=2)
    await settled(api, store)
    assert [(m.text.split(":")[0], m.edits) for m in api.chat(ILKA)] == [("Taken back", 1)]


async def test_slow_answer_keeps_no_other_chat_waiting(up, api, store):
    api.fault("sendMessage", "slow:2")
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: texts(api, ILKA))
    api.say(MARA, MARA, DIVES)
    await until(lambda: MARA in api.chats and texts(api, MARA))
    assert store.read(waits)
    await settled(api, store)
    assert (len(texts(api, ILKA)), len(texts(api, MARA))) == (1, 1)


@pytest.mark.parametrize("answer", [[], {}, {"message_id": "x"}, 7, None], ids=str)
async def test_answer_of_the_wire_that_is_something_else_ends_nothing(up, api, store, answer):
    real, odd = api.methods.known["sendMessage"], [1]

    async def sending(params):
        return await real(params) if not odd or odd.pop() is None else answer

    api.methods.known["sendMessage"] = sending
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: not odd and not api.updates.pending)
    later(up, minutes=2)
    await settled(api, store)
    assert not up.bot.tasks[1].done()
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED], 2)


@pytest.mark.parametrize("kind", ["502", "500", "401", "cut_before", "cut_after", "garbage", "429:1"])
async def test_update_that_was_not_fetched_at_first_is_handled_once(up, api, store, kind, monkeypatch):
    api.fault("getUpdates", kind, times=2)
    monkeypatch.setattr("bot.transports.telegram._asked", lambda _: 0.01)
    api.say(ILKA, ILKA, "hello")
    await until(lambda: not any(row[2] for row in api._faults))
    said = await after(api, store, lambda: api.say(ILKA, ILKA, DIVES))
    assert [text.split("\n")[0] for text in said][-1:] == [LOGGED]
    assert len(texts(api, ILKA)) == 2
    await until(lambda: up.line.health.well)


@pytest.mark.parametrize("answer", [7, {"x": 1}, [{"update_id": 1, "message": {}}]], ids=str)
async def test_fetched_nonsense_is_fetched_again(up, api, store, answer):
    real, odd = api.methods.known["getUpdates"], [1]

    async def fetching(params):
        return answer if odd and odd.pop() else await real(params)

    api.methods.known["getUpdates"] = fetching
    await after(api, store, lambda: api.say(ILKA, ILKA, "hello"))
    await after(api, store, lambda: api.say(ILKA, ILKA, DIVES))
    assert firsts(api, ILKA)[-1] == LOGGED
    assert odd == []


async def test_health_says_why_nothing_comes_and_never_the_token(up, api):
    seen = []
    api.fault("getUpdates", "401", times=3)
    api.say(ILKA, ILKA, "hello")
    await until(lambda: seen.append(up.line.health) or not seen[-1].well)
    assert seen[-1] == Health("telegram", well=False, said="the token was refused")
    await until(lambda: up.line.health.well)


# --- updates that come twice, in any order, or cannot be handled


async def test_update_that_comes_again_acts_once(up, api, store):
    api.say(ILKA, ILKA, DIVES)
    update = dict(api.updates.pending[-1].update)
    await settled(api, store)
    for _ in range(3):
        assert await after(api, store, lambda: api.push(update)) == []
    assert dives_of(store, ILKA) == 2


async def test_updates_out_of_order_are_all_handled_once(up, api, store):
    api.say(ILKA, ILKA, "hello")
    hello = dict(api.updates.pending[-1].update)
    await settled(api, store)
    for number in (5005, 5003, 5004, 5003, 70):
        text = {"text": f"{number % 10 + 1} dives today, salt", "message_id": number}
        api.push({"update_id": number, "message": hello["message"] | text})
    await settled(api, store)
    assert len(texts(api, ILKA)) == 1 + 4
    assert dives_of(store, ILKA) == 6 + 4 + 5 + 1


async def test_update_that_nobody_can_handle_holds_up_none(up, api, store):
    api.group(CLUB, "Harbour Club")
    body = api.message(api.chats[CLUB], api.person(MARA), {"text": "🤿🤿"})
    body["entities"] = [{"type": "mention", "offset": 1, "length": 1}]
    api.updates.put("message", body)
    api.say(ILKA, ILKA, DIVES)
    await settled(api, store)
    assert firsts(api, ILKA) == [LOGGED]


# --- the process ends


async def test_answer_stored_before_the_end_is_sent_after_it(up, api, store, clock):
    up.bot.tasks[1].cancel()
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: not api.updates.pending and store.read(waits))
    await up.stop()
    assert texts(api, ILKA) == []
    again = await bring_up(api, store, clock)
    await settled(api, store)
    await again.stop()
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED], 2)


async def test_answer_that_failed_before_the_end_is_sent_after_it(up, api, store, clock):
    api.fault("sendMessage", "502", times=1000)
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: any(letter.attempts for letter in letters(store)))
    await up.stop()
    api._faults.clear()
    clock.set(clock.now() + timedelta(minutes=2))
    again = await bring_up(api, store, clock)
    await settled(api, store)
    await again.stop()
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED], 2)


@pytest.mark.parametrize("stored", [False, True], ids=["before it was handled", "after it was handled"])
async def test_update_fetched_and_not_confirmed_before_the_end_acts_once(up, api, store, clock, stored):
    reached, handle = asyncio.Event(), up.line.handle

    async def ending(update):
        if stored:
            await handle(update)
        reached.set()
        await asyncio.Event().wait()

    up.line.handle = ending
    api.say(ILKA, ILKA, DIVES)
    await reached.wait()
    assert len(api.updates.pending) == 1
    await up.stop()
    assert len(api.updates.pending) == 1
    assert dives_of(store, ILKA) == (2 if stored else 0)
    again = await bring_up(api, store, clock)
    await settled(api, store)
    await again.stop()
    assert (firsts(api, ILKA), dives_of(store, ILKA)) == ([LOGGED], 2)


async def test_buttons_work_after_the_end(up, api, store, clock):
    await up.person.say(DIVES)
    await up.stop()
    again = await bring_up(api, store, clock)
    await after(api, store, lambda: api.tap(ILKA, ILKA, api.chat(ILKA)[-1].message_id, "Undo"))
    await again.stop()
    assert dives_of(store, ILKA) == 0


async def test_store_out_of_reach_for_a_moment_loses_nothing_and_confirms_nothing(
    up, api, store, monkeypatch
):
    write, unconfirmed = store.write, []

    def failing(work, *of):
        if len(unconfirmed) < 6:
            unconfirmed.append(len(api.updates.pending))
            raise StoreError("out of reach")
        return write(work, *of)

    up.postman._store = type("Reading", (), {"read": store.read, "write": lambda _, w: write(w)})()
    monkeypatch.setattr(store, "write", failing)
    api.say(ILKA, ILKA, DIVES)
    api.say(MARA, MARA, "3 dives today, salt")
    await settled(api, store)
    assert unconfirmed == [2] * 6
    assert (dives_of(store, ILKA), dives_of(store, MARA)) == (2, 3)
    assert (len(texts(api, ILKA)), len(texts(api, MARA))) == (1, 1)


# --- to be left in peace


async def test_chat_that_is_to_be_left_in_peace_is_and_others_are_served(up, api, store, clock):
    await up.person.say("hello")
    before = calls(api, "sendMessage")
    api.fault("sendMessage", "429:30")
    api.say(ILKA, ILKA, DIVES)
    await until(lambda: any(letter.attempts for letter in letters(store)))
    held = chat_of(store, ILKA).hold_until
    assert timedelta(seconds=25) < held - clock.now() <= timedelta(seconds=30)
    await up.stop()
    again = await bring_up(api, store, clock)
    api.say(ILKA, ILKA, "what is due?")
    api.say(MARA, MARA, DIVES)
    await until(lambda: MARA in api.chats and texts(api, MARA))
    clock.set(held - timedelta(seconds=1))
    again.postman.ring()
    api.say(OLA, OLA, DIVES)
    await until(lambda: OLA in api.chats and texts(api, OLA))
    assert len(texts(api, ILKA)) == 1
    assert calls(api, "sendMessage") == before + 3
    clock.set(held + timedelta(seconds=1))
    again.postman.ring()
    await settled(api, store)
    await again.stop()
    assert firsts(api, ILKA)[1] == LOGGED
    assert len(texts(api, ILKA)) == 3


async def test_hold_that_a_reminder_met_holds_answers_too(up, api, store, clock):
    await up.person.say(SUIT)
    clock.set(datetime(2026, 12, 10, 18, 30, tzinfo=UTC))
    api.fault("sendMessage", "429:30")
    assert await up.person.ring() == []
    held, before = chat_of(store, ILKA).hold_until, calls(api, "sendMessage")
    assert held > clock.now()
    api.say(ILKA, ILKA, DIVES)
    api.say(MARA, MARA, DIVES)
    await until(lambda: MARA in api.chats and texts(api, MARA))
    assert calls(api, "sendMessage") == before + 1
    clock.set(held + timedelta(seconds=1))
    up.postman.ring()
    await settled(api, store)
    assert firsts(api, ILKA)[-1].startswith("Logged: 2 dives")


# --- many


@doses(12, 1_000)
async def test_many_updates_at_once_are_all_answered_once_and_in_order(store, clock, dose):
    async with telegram_up(store, clock, pace=400) as up:
        api, people = up.api, range(10_000, 10_000 + dose)
        for text in ("hello", "thanks", "undo", "show my dives", "show kit"):
            for person in people:
                api.say(person, person, text)
        await settled(api, store, timeout=600)
        said = {tuple(firsts(api, person)) for person in people}
        assert len(said) == 1
        assert len(set(*said)) == 5
        assert len(api.sent) == 5 * dose
        assert api.refusals == []


@doses(20, 1_000)
async def test_chat_that_always_fails_holds_up_none_of_the_others(store, clock, dose):
    people, fails = range(10_000, 10_000 + dose), 10_000 + dose // 2
    async with telegram_up(store, clock, pace=400) as up:
        api, real, tried = up.api, up.api.methods.known["sendMessage"], []

        async def sending(params):
            if params.number("chat_id") == fails:
                tried.append(1)
                raise Refused(500, "Internal Server Error")
            return await real(params)

        api.methods.known["sendMessage"] = sending
        for person in people:
            api.say(person, person, "hello")
        await until(lambda: len(api.sent) == dose - 1, timeout=600)
        assert {len(api.chat(p)) for p in people if p != fails} == {1}
        while left := letters(store):
            later(up, hours=12)
            await until(lambda a=left[0].attempts: not (now := letters(store)) or now[0].attempts > a)
        assert 10 <= len(tried) <= 20
