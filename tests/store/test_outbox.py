"""The notices' way: pending, claimed, and then sent, pending again, cancelled or dead. Each step is guarded."""

from datetime import date, timedelta

import pytest
from sqlalchemy.exc import IntegrityError

from store import lockers, outbox
from store.outbox import LEASE
from store.tables import Notice

SECOND = timedelta(seconds=1)


@pytest.fixture
def queue(store, noon):
    """Return a function that queues a notice of a chat."""

    def run(chat, key, *, at=noon):
        notice = Notice(
            key=key,
            locker_id=chat.locker_id,
            chat_id=chat.id,
            item_id=1,
            part="",
            rule="rinse",
            due_on=date(2026, 6, 10),
            stage="due",
            send_at=at,
        )
        return store.write(lambda s: outbox.add(s, notice))

    return run


@pytest.fixture
def claim(store):
    """Return a function that claims as a worker does: {address: [keys]}."""

    def run(now, chats=50, wires=("wire",)):
        def unit(session):
            outbox.release_expired(session, now)
            return outbox.claim(session, now, chats, wires)

        return store.write(unit)

    return run


@pytest.fixture
def states(rows):
    """Return a function that reads (key, state, attempts, lease, send at, sent at, error) of every notice."""
    return lambda: [
        (n["key"], n["state"], n["attempts"], n["lease_until"], n["send_at"], n["sent_at"], n["error"])
        for n in sorted(rows(Notice), key=lambda n: n["id"])
    ]


def keys(claimed):
    return {chat_id: [n.key for n in notices] for chat_id, notices in claimed.items()}


def test_key_queued_before_is_not_queued_again(open_chat, queue, states, noon):
    chat = open_chat("deck")
    assert [queue(chat, "a"), queue(chat, "a", at=noon + SECOND)] == [True, False]
    assert states() == [("a", "pending", 0, None, noon, None, None)]


@pytest.mark.parametrize("state", ["sent", "dead"])
def test_key_is_not_queued_again_whatever_became_of_it(store, open_chat, queue, claim, states, noon, state):
    chat = open_chat("deck")
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    store.write(lambda s: outbox.settle(s, mine, state))
    before = states()
    assert (queue(chat, "a"), states()) == (False, before)


def test_key_that_was_cancelled_and_is_true_again_goes_back_to_pending(
    store, open_chat, queue, claim, states, noon
):
    chat = open_chat("deck")
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    store.write(lambda s: outbox.settle(s, mine, "cancelled"))
    assert (queue(chat, "a"), states()) == (True, [("a", "pending", 0, None, noon, None, None)])


def test_key_twice_is_refused_by_the_database(store, open_chat, queue, rows):
    chat = open_chat("deck")
    queue(chat, "a")
    copy = Notice(**{**rows(Notice)[0], "id": None})
    with pytest.raises(IntegrityError, match=r"notice[._]key"):
        store.write(lambda s: s.add(copy))


def test_claim_takes_all_that_is_due_and_leases_it(open_chat, queue, claim, states, noon):
    deck, boat = open_chat("deck"), open_chat("boat")
    queue(deck, "a")
    queue(boat, "b")
    queue(deck, "c", at=noon - SECOND)
    queue(deck, "later", at=noon + SECOND)
    assert keys(claim(noon)) == {deck.id: ["a", "c"], boat.id: ["b"]}
    assert [row[:4] for row in states()] == [
        ("a", "claimed", 1, noon + LEASE),
        ("b", "claimed", 1, noon + LEASE),
        ("c", "claimed", 1, noon + LEASE),
        ("later", "pending", 0, None),
    ]


def test_claim_takes_the_longest_waiting_chats_first(open_chat, queue, claim, noon):
    chats = [open_chat(address) for address in ("deck", "boat", "pier")]
    for chat, waited in zip(chats, (1, 3, 2), strict=True):
        queue(chat, f"old {chat.id}", at=noon - waited * SECOND)
        queue(chat, f"new {chat.id}")
    deck, boat, pier = (chat.id for chat in chats)
    assert list(claim(noon, chats=2)) == [boat, pier]
    assert list(claim(noon, chats=2)) == [deck]


def test_claim_by_a_second_worker_gets_nothing(open_chat, queue, claim, noon):
    queue(open_chat("deck"), "a")
    assert [len(claim(noon)), len(claim(noon)), len(claim(noon + SECOND))] == [1, 0, 0]


def test_claim_at_the_same_instant_gets_only_what_is_new(open_chat, queue, claim, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    claim(noon)
    queue(chat, "b")
    assert keys(claim(noon)) == {chat.id: ["b"]}


@pytest.mark.parametrize(
    ("column", "after", "claimed"),
    [
        ("muted_at", -SECOND, False),
        ("hold_until", SECOND, False),
        ("hold_until", timedelta(0), True),
        ("hold_until", -SECOND, True),
    ],
    ids=["muted", "held", "hold just over", "hold long over"],
)
def test_claim_leaves_chats_alone_that_are_muted_or_held(
    store, open_chat, queue, claim, noon, column, after, claimed
):
    chat, other = open_chat("deck"), open_chat("boat")
    queue(chat, "a")
    queue(other, "b")
    store.write(lambda s: setattr(lockers.find_chat(s, chat.id), column, noon + after))
    assert set(claim(noon)) == {other.id, *([chat.id] if claimed else [])}


def test_settled_as_sent_keeps_when(store, open_chat, queue, claim, states, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    assert store.write(lambda s: outbox.settle(s, mine, "sent", now=noon + SECOND)) == 1
    assert states() == [("a", "sent", 1, None, noon, noon + SECOND, None)]


def test_settled_as_pending_waits_for_its_retry(store, open_chat, queue, claim, states, noon):
    chat, again = open_chat("deck"), noon + timedelta(minutes=1)
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    store.write(lambda s: outbox.settle(s, mine, "pending", send_at=again, error="line down"))
    assert states() == [("a", "pending", 1, None, again, None, "line down")]
    assert [keys(claim(at)) for at in (again - SECOND, again)] == [{}, {chat.id: ["a"]}]
    assert states()[0][1:3] == ("claimed", 2)


@pytest.mark.parametrize("state", ["sent", "cancelled", "dead"])
def test_settled_for_good_is_never_claimed_again(store, open_chat, queue, claim, noon, state):
    chat = open_chat("deck")
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    store.write(lambda s: outbox.settle(s, mine, state, now=noon))
    assert [claim(noon + timedelta(days=n)) for n in range(3)] == [{}, {}, {}]


@pytest.mark.parametrize("first", ["sent", "cancelled", "dead", "pending"])
@pytest.mark.parametrize("then", ["sent", "cancelled", "dead", "pending"])
def test_settled_twice_stays_as_it_was(store, open_chat, queue, claim, states, noon, first, then):
    chat = open_chat("deck")
    queue(chat, "a")
    mine = claim(noon)[chat.id]
    store.write(lambda s: outbox.settle(s, mine, first, now=noon))
    before = states()
    ours = store.write(lambda s: outbox.settle(s, mine, then, now=noon + SECOND, error="late"))
    assert (ours, states()) == (0, before)


def test_settled_without_being_claimed_stays_pending(store, open_chat, queue, states, noon):
    queue(open_chat("deck"), "a")
    ours = store.write(lambda s: outbox.settle(s, outbox.of_chat(s, 1), "sent", now=noon))
    assert (ours, states()) == (0, [("a", "pending", 0, None, noon, None, None)])


def test_lease_ends_on_the_second(store, open_chat, queue, claim, states, noon):
    queue(open_chat("deck"), "a")
    claim(noon)
    seen = []
    for now in (noon + LEASE - SECOND, noon + LEASE):
        store.write(lambda s, now=now: outbox.release_expired(s, now))
        seen.append(states()[0][1:4])
    assert seen == [("claimed", 1, noon + LEASE), ("pending", 1, None)]


def test_lease_that_ended_is_taken_by_another_worker(open_chat, queue, claim, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    claim(noon)
    assert keys(claim(noon + LEASE)) == {chat.id: ["a"]}


def test_lease_taken_over_cannot_be_settled_by_the_first_worker(store, open_chat, queue, claim, states, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    first = claim(noon)[chat.id]
    claim(noon + LEASE)
    before = states()
    ours = store.write(lambda s: outbox.settle(s, first, "pending", send_at=noon + LEASE, error="line down"))
    assert (ours, states()) == (0, before)


def test_next_send_is_the_earliest_pending(store, open_chat, queue, claim, noon):
    chat = open_chat("deck")
    times = [None]
    for key, at in (("late", 2 * SECOND), ("early", SECOND)):
        queue(chat, key, at=noon + at)
        times.append(store.read(outbox.next_send))
    claim(noon + SECOND)
    times.append(store.read(outbox.next_send))
    assert times == [None, noon + 2 * SECOND, noon + SECOND, noon + 2 * SECOND]


def test_next_send_of_a_muted_chat_is_none(store, open_chat, queue, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    store.write(lambda s: setattr(lockers.find_chat(s, chat.id), "muted_at", noon))
    assert store.read(outbox.next_send) is None


def test_next_send_of_a_held_chat_is_the_end_of_the_hold(store, open_chat, queue, noon):
    chat = open_chat("deck")
    queue(chat, "a")
    store.write(lambda s: setattr(lockers.find_chat(s, chat.id), "hold_until", noon + 60 * SECOND))
    assert store.read(outbox.next_send) == noon + 60 * SECOND
