"""Answers on their way: none is lost, in order within a chat, and no chat waits for another."""

import asyncio
from collections import defaultdict
from datetime import timedelta

import pytest
from sqlmodel import select

from scheduler.deliver import Failed
from scheduler.policy import ANSWERS
from scheduler.post import AT_ONCE, LOOK_AGAIN_S, Arrived, Postman
from store import buttons, items, letters, lockers
from store.catalogue import ItemFacts
from store.engine import Store
from store.errors import StoreError
from store.tables import Letter
from store.vocabulary import ItemKind
from tests.doses import doses

SECOND = timedelta(seconds=1)
DOWN = Failed("line down")
PATIENCE_S = 10.0


class Carrier:
    """A wire that is told what to do with the letters to each address: answer, fail so often, or be slow."""

    def __init__(self, clock):
        self.clock, self.taken, self.asked = clock, [], []
        self.heard = asyncio.Queue()
        self.answers = defaultdict(list)
        self.gates = {}
        self.at_once, self.most_at_once = 0, 0

    async def carry_letter(self, letter):
        self.asked.append((letter.id, letter.address))
        self.heard.put_nowait(letter.body["text"])
        self.at_once += 1
        self.most_at_once = max(self.most_at_once, self.at_once)
        try:
            if letter.address in self.gates:
                await self.gates[letter.address].wait()
        finally:
            self.at_once -= 1
        waiting = self.answers[letter.address]
        answer = waiting.pop(0) if waiting else Arrived(f"message {letter.id}")
        if isinstance(answer, Arrived):
            self.taken.append((letter.address, letter.body["text"]))
        return answer

    def texts(self, address=None):
        return [text for to, text in self.taken if address in {None, to}]


@pytest.fixture
def carrier(clock):
    return Carrier(clock)


@pytest.fixture
def postman(store, carrier, clock):
    return Postman(store, "wire", carrier, clock)


@pytest.fixture
def post(store, clock):
    """Return a function that stores letters, each (address, text), and returns their numbers."""

    def run(*said, wire="wire"):
        rows = [Letter(wire=wire, address=to, body={"text": text}, send_at=clock.now()) for to, text in said]
        return store.write(lambda s: [letters.add(s, row) for row in rows])

    return run


@pytest.fixture
def chat(store, clock):
    """Return a function that opens a chat, and one that reads it."""
    return lambda address: store.write(lambda s: lockers.open_chat(s, "wire", address, clock.now()))


def stored(store):
    """Return (number, address, attempts, when) of every letter that is kept."""
    rows = store.read(lambda s: list(s.exec(select(Letter).order_by(Letter.id))))
    return [(row.id, row.address, row.attempts, row.send_at) for row in rows]


def at(store, address):
    return store.read(lambda s: lockers.at_address(s, "wire", address))


async def carry(postman, *, but=0):
    """Carry until nothing can be sent now, or only `but` that are slow are under way; return how long to wait."""
    for _ in range(10_000):
        postman._bell.clear()
        wait_s = await postman._round()
        if postman._bell.is_set():  # one arrived while the round looked: the next of its chat is still to go
            continue
        if len(postman._under_way) <= but:
            return wait_s
        await asyncio.wait(postman._under_way.values(), return_when=asyncio.FIRST_COMPLETED)
    raise AssertionError("the post never rests")


# --- order -------------------------------------------------------------------------------------------------------------


async def test_letters_go_in_order_within_each_chat_and_are_gone_then(store, postman, carrier, post):
    post(*((address, n) for n in range(5) for address in ("deck", "boat")))
    await carry(postman)
    assert (carrier.texts("deck"), carrier.texts("boat"), stored(store)) == ([*range(5)], [*range(5)], [])


async def test_letter_of_another_wire_is_left_to_it(store, postman, carrier, post):
    (other,) = post(("deck", "there"), wire="other wire")
    post(("deck", "here"))
    await carry(postman)
    assert (carrier.texts(), [row[0] for row in stored(store)]) == (["here"], [other])


async def test_failed_letter_keeps_its_place_and_is_tried_again(store, postman, carrier, post, clock):
    first, second, boat = post(("deck", "one"), ("deck", "two"), ("boat", "three"))
    start = clock.now()
    carrier.answers["deck"] = [DOWN, DOWN]
    await carry(postman)
    assert carrier.texts() == ["three"]
    assert stored(store) == [(first, "deck", 1, start + SECOND), (second, "deck", 0, start)]
    tried = [await _carried_at(postman, carrier, clock, start + n * SECOND) for n in (0.9, 1, 2.9, 3)]
    assert tried == [[], [first], [], [first, second]]
    assert (carrier.texts("deck"), stored(store)) == (["one", "two"], [])
    assert boat not in {row[0] for row in stored(store)}


async def _carried_at(postman, carrier, clock, moment):
    clock.set(moment)
    before = len(carrier.asked)
    await carry(postman)
    return [number for number, _ in carrier.asked[before:]]


async def test_letter_that_fails_for_hours_is_dropped_and_the_next_one_goes(
    store, postman, carrier, post, clock
):
    first, second = post(("deck", "one"), ("deck", "two"))
    carrier.answers["deck"] = [DOWN] * ANSWERS.attempts
    gaps, moment = [], clock.now()
    while stored(store) and len(gaps) < 2 * ANSWERS.attempts:
        await carry(postman)
        due = [row[3] for row in stored(store)[:1]]
        gaps += [(when - moment).total_seconds() for when in due]
        moment = due[0] if due else moment
        clock.set(moment)
    assert gaps == [2**n for n in range(ANSWERS.attempts - 1)]
    assert [number for number, _ in carrier.asked] == [first] * ANSWERS.attempts + [second]
    assert carrier.texts() == ["two"]


async def test_post_that_waits_for_a_failed_letter_does_not_look_all_the_time(postman, carrier, post, clock):
    """Another letter lies behind it, whose own time has come long ago."""
    post(("deck", "one"), ("deck", "two"))
    carrier.answers["deck"] = [DOWN]
    await carry(postman)
    assert await postman._round() == 1.0
    clock.set(clock.now() + 0.75 * SECOND)
    assert await postman._round() == 0.25


async def test_post_with_nothing_to_do_looks_again_after_a_while(postman):
    assert await postman._round() == LOOK_AGAIN_S


# --- chats apart -------------------------------------------------------------------------------------------------------


@doses(100, 1_000)
async def test_slow_chat_and_failing_chat_among_many_hold_nobody_up(store, postman, carrier, post, dose):
    addresses = [f"chat {n}" for n in range(dose)]
    post(*((address, address) for address in addresses), ("chat 0", "again"), ("chat 1", "again"))
    carrier.gates["chat 0"] = asyncio.Event()
    carrier.answers["chat 1"] = [DOWN] * 50
    await carry(postman, but=1)
    assert sorted(carrier.texts()) == sorted(addresses[2:])
    assert [row[1:3] for row in stored(store)] == [("chat 0", 0), ("chat 1", 1), ("chat 0", 0), ("chat 1", 0)]
    assert carrier.most_at_once <= AT_ONCE
    carrier.gates["chat 0"].set()
    await carry(postman)
    assert carrier.texts("chat 0") == ["chat 0", "again"]
    assert carrier.asked.count((2, "chat 1")) == 1


async def test_chat_that_is_being_sent_to_gets_no_second_letter_meanwhile(postman, carrier, post):
    first, second = post(("deck", "one"), ("deck", "two"))
    carrier.gates["deck"] = asyncio.Event()
    for _ in range(3):
        await postman._round()
        await asyncio.sleep(0)
    assert carrier.asked == [(first, "deck")]
    carrier.gates["deck"].set()
    await carry(postman)
    assert [number for number, _ in carrier.asked] == [first, second]


# --- what a wire says of a chat ----------------------------------------------------------------------------------------


async def test_chat_that_is_gone_is_muted_and_its_letters_are_dropped(
    store, postman, carrier, post, chat, clock
):
    chat("deck")
    chat("boat")
    post(("deck", "one"), ("deck", "two"), ("boat", "three"))
    (elsewhere,) = post(("deck", "there"), wire="other wire")
    carrier.answers["deck"] = [Failed("blocked", gone=True)]
    await carry(postman)
    assert (at(store, "deck").muted_at, at(store, "boat").muted_at) == (clock.now(), None)
    assert (carrier.texts(), [row[0] for row in stored(store)]) == (["three"], [elsewhere])


async def test_chat_that_moved_is_sent_to_at_its_new_address_at_once(
    store, postman, carrier, post, chat, clock
):
    old = chat("deck")
    post(("deck", "one"), ("deck", "two"))
    carrier.answers["deck"] = [Failed("moved", moved_to="pier")]
    await carry(postman)
    assert carrier.taken == [("pier", "one"), ("pier", "two")]
    assert (at(store, "deck"), at(store, "pier").id, stored(store)) == (None, old.id, [])


@pytest.mark.parametrize("known", ["stranger", "new address has kit"])
async def test_letter_to_a_chat_that_cannot_be_moved_is_not_tried_without_end(
    store, postman, carrier, post, chat, clock, known
):
    """A stranger who may not write has no chat; where the new address has kit of its own the old chat is muted."""
    if known != "stranger":
        chat("deck")
        newer = chat("pier")
        store.write(
            lambda s: items.add(
                s,
                newer.locker_id,
                ItemKind.MASK,
                "mask",
                facts=ItemFacts(),
                on=clock.now().date(),
                by="wire:ola",
            )
        )
    post(("deck", "one"))
    carrier.answers["deck"] = [Failed("moved", moved_to="pier")] * 30
    for _ in range(20):
        await postman._round()
        await postman.finish()
    assert len(carrier.asked) <= 2


async def test_wait_of_the_wire_holds_that_chat_alone(store, postman, carrier, post, chat, clock):
    start = clock.now()
    chat("deck")
    first, _, _ = post(("deck", "one"), ("deck", "two"), ("boat", "three"))
    carrier.answers["deck"] = [Failed("flood", wait=60 * SECOND)]
    await carry(postman)
    assert (carrier.texts(), at(store, "deck").hold_until) == (["three"], start + 60 * SECOND)
    assert store.read(lambda s: letters.state(s, "wire").hold_until) is None
    post(("boat", "four"))
    assert await _carried_at(postman, carrier, clock, start + 59 * SECOND) == [first + 3]
    await _carried_at(postman, carrier, clock, start + 60 * SECOND)
    assert carrier.texts("deck") == ["one", "two"]


async def test_letter_to_a_chat_that_is_held_waits_for_the_end_of_the_hold(
    store, postman, carrier, post, chat, clock
):
    """As when a reminder was told to wait: nothing is sent to that chat before it, and only time ends it."""
    row, start = chat("deck"), clock.now()
    store.write(lambda s: setattr(lockers.find_chat(s, row.id), "hold_until", start + 30 * SECOND))
    deck, boat = post(("deck", "one"), ("boat", "two"))
    tried = [await _carried_at(postman, carrier, clock, start + n * SECOND) for n in (0, 29.9, 30)]
    assert tried == [[boat], [], [deck]]


async def test_wait_told_to_a_second_chat_holds_the_whole_wire_until_it_is_over(
    store, postman, carrier, post, chat, clock
):
    start = clock.now()
    for address in ("deck", "boat", "pier"):
        chat(address)
    post(("deck", "one"))
    carrier.answers["deck"] = [Failed("flood", wait=60 * SECOND)]
    carrier.answers["boat"] = [Failed("flood", wait=30 * SECOND)]
    await carry(postman)
    post(("boat", "two"))
    await carry(postman)
    assert store.read(lambda s: letters.state(s, "wire").hold_until) == start + 30 * SECOND
    (pier,) = post(("pier", "three"))
    assert [await _carried_at(postman, carrier, clock, start + n * SECOND) for n in (1, 29.9, 30)] == [
        [],
        [],
        [pier - 1, pier],
    ]
    await _carried_at(postman, carrier, clock, start + 60 * SECOND)
    assert sorted(carrier.texts()) == ["one", "three", "two"]


async def test_wait_for_all_chats_holds_the_wire_at_once(store, postman, carrier, post, chat, clock):
    start = clock.now()
    chat("deck")
    post(("deck", "one"))
    carrier.answers["deck"] = [Failed("flood", wait=30 * SECOND, everywhere=True)]
    await carry(postman)
    (boat,) = post(("boat", "two"))
    assert await _carried_at(postman, carrier, clock, start + 25 * SECOND) == []
    assert await postman._round() == 5.0
    assert boat in await _carried_at(postman, carrier, clock, start + 30 * SECOND)


async def test_buttons_stand_under_the_message_that_arrived(store, postman, carrier, post, chat):
    row = chat("deck")
    tokens = iter("ab")
    shown = store.write(
        lambda s: buttons.show(
            s, lockers.find_chat(s, row.id), [("Done", {}), ("Later", {})], lambda: next(tokens)
        )
    )
    ids = tuple(b.id for b in shown)
    post(("deck", "one"), ("deck", "two"))
    carrier.answers["deck"] = [Arrived("m1", ids), Arrived("m2")]
    await carry(postman)
    under = store.read(lambda s: [[b.id for b in buttons.under(s, row.id, m)] for m in ("m1", "m2")])
    assert under == [list(ids), []]


# --- crashes -----------------------------------------------------------------------------------------------------------


async def test_letter_stored_before_a_restart_is_sent_after_it(store, database, carrier, post, clock):
    post(("deck", "one"), ("deck", "two"))
    store.close()
    again = Store(database)
    try:
        await carry(Postman(again, "wire", carrier, clock))
        assert (carrier.texts(), stored(again)) == (["one", "two"], [])
    finally:
        again.close()


async def test_letter_under_way_when_the_machine_stopped_is_sent_again_under_its_number(
    store, postman, carrier, post, clock
):
    (first,) = post(("deck", "one"))
    carrier.gates["deck"] = asyncio.Event()
    await postman._round()
    await asyncio.sleep(0)
    for task in list(postman._under_way.values()):
        task.cancel()
    await postman.finish()
    del carrier.gates["deck"]
    await carry(Postman(store, "wire", carrier, clock))
    assert carrier.asked == [(first, "deck")] * 2
    assert stored(store) == []


class Failing:
    """A store that cannot be used so many times."""

    def __init__(self, store, *, reads=0, writes=0):
        self.store, self.reads, self.writes = store, reads, writes

    def read(self, work):
        self.reads -= 1
        if self.reads >= 0:
            raise StoreError("the database is locked")
        return self.store.read(work)

    def write(self, work):
        self.writes -= 1
        if self.writes >= 0:
            raise StoreError("the database is locked")
        return self.store.write(work)


@pytest.fixture
def no_naps(monkeypatch):
    """Let the post not wait after an error."""
    at_once = asyncio.sleep
    monkeypatch.setattr("scheduler.post.asyncio.sleep", lambda _: at_once(0))


async def test_store_that_cannot_be_read_loses_no_letter(store, carrier, post, clock):
    post(("deck", "one"))
    postman = Postman(Failing(store, reads=1), "wire", carrier, clock)
    assert (await postman._round(), carrier.asked) == (LOOK_AGAIN_S, [])
    await carry(postman)
    assert (carrier.texts(), stored(store)) == (["one"], [])


async def test_store_that_cannot_be_written_loses_no_letter_and_sends_none_twice(
    store, carrier, post, clock, no_naps
):
    first, second = post(("deck", "one"), ("deck", "two"))
    postman = Postman(Failing(store, writes=2), "wire", carrier, clock)
    await carry(postman)
    assert [number for number, _ in carrier.asked] == [first, second]
    assert stored(store) == []


# --- running -----------------------------------------------------------------------------------------------------------


async def test_letter_that_comes_while_the_post_rests_goes_when_it_is_rung(postman, carrier, post, store):
    running = asyncio.create_task(postman.run())
    for text in ("one", "two"):
        post(("deck", text))
        postman.ring()
        assert await asyncio.wait_for(carrier.heard.get(), PATIENCE_S) == text
    running.cancel()
    await asyncio.gather(running, return_exceptions=True)
    assert (carrier.texts(), stored(store)) == (["one", "two"], [])


async def test_post_that_is_stopped_finishes_what_is_under_way(postman, carrier, post, store):
    post(("deck", "one"))
    carrier.gates["deck"] = asyncio.Event()
    running = asyncio.create_task(postman.run())
    await asyncio.wait_for(carrier.heard.get(), PATIENCE_S)
    running.cancel()
    await asyncio.sleep(0)
    assert not running.done()
    carrier.gates["deck"].set()
    await asyncio.gather(running, return_exceptions=True)
    assert (running.cancelled(), carrier.texts(), stored(store)) == (True, ["one"], [])
