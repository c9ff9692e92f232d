"""The corpora can be read, and meet all that the encoder is to tell apart."""

from collections import Counter

import pytest

from bot.reading.labels import FLAGS, IDS, KINDS, SLOTS
from tests.training.marks import MarkError, all_writers, read_line
from tests.training.train import HELD_OUT

WRITERS = all_writers()
MESSAGES = [m for rows in WRITERS.values() for m in rows]
ENOUGH = 25


def test_every_kind_flag_slot_and_id_is_met_often_enough():
    met = Counter(c.kind for m in MESSAGES for c in m.clauses)
    met += Counter(f for m in MESSAGES for c in m.clauses for f in c.flags)
    met += Counter(s.slot for m in MESSAGES for s in m.spans)
    wanted = [*(k for k in KINDS if k != "lead"), *FLAGS, *SLOTS]
    assert {name: met[name] for name in wanted if met[name] < ENOUGH} == {}
    ids = Counter((("item" if s.slot == "left" else s.slot), s.id) for m in MESSAGES for s in m.spans if s.id)
    rare = {(slot, i): ids[slot, i] for slot, known in IDS.items() for i in known if ids[slot, i] < ENOUGH}
    assert rare == {}


def test_messages_are_spread_as_asked():
    several = sum(len([c for c in m.clauses if c.kind != "chat"]) > 1 for m in MESSAGES)
    followed = sum(bool(m.context) for m in MESSAGES)
    held = sum(any(c.flags & {"not", "will", "if", "they"} for c in m.clauses) for m in MESSAGES)
    least = {several: 0.15, followed: 0.15, held: 0.10}
    assert all(n >= share * len(MESSAGES) for n, share in least.items()), least


def test_a_sixth_of_the_writers_is_never_trained_on():
    held = [name for name in WRITERS if HELD_OUT.match(name)]
    assert 6 * len(held) >= len(WRITERS) - 3


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("did 2 dives", "no clause"),
        ("@dived did 2 dives", "unknown kind or flag"),
        ("@dive.maybe did 2 dives", "unknown kind or flag"),
        ("@dive did [2|count] dives", "unknown slot"),
        ("@care [rinsed|act=wash] it", "unknown id"),
        ("@dive did [2|n dives", "left over"),
    ],
)
def test_a_mark_that_cannot_be_read_is_refused(line, fault):
    with pytest.raises(MarkError, match=fault):
        read_line(line)


def test_places_are_those_of_the_text():
    read = read_line("hi @dive [2|n] dives @care.not [suit|item=dry_suit] not [rinsed|act=rinse]")
    assert [(read.text[c.start : c.end].strip(), c.kind, set(c.flags)) for c in read.clauses] == [
        ("2 dives", "dive", set()),
        ("suit not rinsed", "care", {"not"}),
    ]
    assert [read.text[s.start : s.end] for s in read.spans] == ["2", "suit", "rinsed"]
