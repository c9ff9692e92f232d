"""Answers on their way: in order within a chat, each chat for itself; and where each wire stands."""

from datetime import timedelta

import pytest

from store import letters
from store.tables import Letter, WireState

SECOND = timedelta(seconds=1)


@pytest.fixture
def post(store, noon):
    """Return a function that queues a letter to an address and returns its number."""

    def run(address, after=0, wire="wire"):
        letter = Letter(wire=wire, address=address, body={"to": address}, send_at=noon + after * SECOND)
        return store.write(lambda s: letters.add(s, letter))

    return run


@pytest.fixture
def waiting(store, noon):
    """Return a function that lists the letters that may go, some seconds after noon."""

    def run(after=0, limit=50, but=(), wire="wire"):
        found = store.read(lambda s: letters.waiting(s, wire, noon + after * SECOND, limit, but))
        return [letter.id for letter in found]

    return run


def test_waiting_is_the_oldest_letter_of_each_chat_oldest_first(post, waiting):
    deck, _, boat, _, pier = (post(address) for address in ("deck", "deck", "boat", "deck", "pier"))
    assert waiting() == [deck, boat, pier]


def test_letter_dropped_makes_room_for_the_next_of_its_chat(store, post, waiting):
    first, second, boat = post("deck"), post("deck"), post("boat")
    seen = [waiting()]
    for gone in (first, second):
        store.write(lambda s, i=gone: letters.drop(s, i))
        seen.append(waiting())
    assert seen == [[first, boat], [second, boat], [boat]]


def test_letter_put_off_holds_those_behind_it_in_its_chat_and_no_other(store, post, waiting, noon):
    first, _, boat = post("deck"), post("deck"), post("boat")
    store.write(lambda s: letters.put_off(s, first, noon + 5 * SECOND))
    assert [waiting(n) for n in (0, 4, 5)] == [[boat], [boat], [first, boat]]


def test_letter_put_off_counts_attempts_and_keeps_how_far_it_came(store, post, rows, noon):
    letter = post("deck")
    for n in (1, 2):
        store.write(lambda s, n=n: letters.put_off(s, letter, noon + n * SECOND, done=n, under="m7"))
    (row,) = rows(Letter)
    assert (row["attempts"], row["send_at"]) == (2, noon + 2 * SECOND)
    assert (row["body"]["done"], row["body"]["under"]) == (2, "m7")


def test_letter_put_off_after_it_was_dropped_stays_dropped(store, post, rows, noon):
    letter = post("deck")
    store.write(lambda s: letters.drop(s, letter))
    store.write(lambda s: letters.put_off(s, letter, noon))
    assert rows(Letter) == []


def test_chats_that_are_busy_are_left_out(post, waiting):
    deck, boat, pier = (post(address) for address in ("deck", "boat", "pier"))
    assert waiting(but=["deck", "pier"]) == [boat]
    assert waiting(but=["quay"]) == [deck, boat, pier]


def test_no_more_letters_than_asked_for(post, waiting):
    deck, boat, _ = (post(address) for address in ("deck", "boat", "pier"))
    assert [waiting(limit=n) for n in (0, 1, 2)] == [[], [deck], [deck, boat]]


def test_wires_are_kept_apart(post, waiting):
    here, there = post("deck"), post("deck", wire="other wire")
    assert (waiting(), waiting(wire="other wire"), waiting(wire="third")) == ([here], [there], [])


def test_next_send_is_the_earliest_head_of_the_wire(store, post, noon):
    """What stands behind another letter of its chat waits for that one, whatever its own time."""
    seen = [store.read(lambda s: letters.next_send(s, "wire", noon))]
    for address, after, wire in (
        ("deck", 9, "wire"),
        ("deck", 1, "wire"),
        ("boat", 1, "other"),
        ("boat", 5, "wire"),
    ):
        post(address, after, wire)
        seen.append(store.read(lambda s: letters.next_send(s, "wire", noon)))
    assert seen == [None, *[noon + n * SECOND for n in (9, 9, 9, 5)]]
    assert store.read(lambda s: letters.next_send(s, "wire", noon, ["boat"])) == noon + 9 * SECOND


def test_dropping_all_of_a_chat_leaves_other_chats_and_wires(store, post, rows):
    post("deck")
    post("deck")
    boat, there = post("boat"), post("deck", wire="other wire")
    store.write(lambda s: letters.drop_all(s, "wire", "deck"))
    assert sorted(row["id"] for row in rows(Letter)) == [boat, there]


def test_wire_that_was_never_heard_of_stands_nowhere(store, rows):
    state = store.read(lambda s: letters.state(s, "wire"))
    assert (state.wire, state.position, state.hold_until) == ("wire", None, None)
    assert rows(WireState) == []


def test_position_and_hold_of_a_wire_are_kept_apart(store, rows, noon):
    store.write(lambda s: letters.set_position(s, "wire", "7"))
    store.write(lambda s: letters.hold_wire(s, "wire", noon))
    store.write(lambda s: letters.set_position(s, "wire", "8"))
    store.write(lambda s: letters.set_position(s, "other wire", "1"))
    assert rows(WireState) == [
        {"wire": "other wire", "position": "1", "hold_until": None},
        {"wire": "wire", "position": "8", "hold_until": noon},
    ]


def test_hold_of_a_wire_only_grows(store, noon):
    seen = []
    for n in (5, 3, 8):
        store.write(lambda s, n=n: letters.hold_wire(s, "wire", noon + n * SECOND))
        seen.append(store.read(lambda s: letters.state(s, "wire").hold_until))
    assert seen == [noon + n * SECOND for n in (5, 5, 8)]
