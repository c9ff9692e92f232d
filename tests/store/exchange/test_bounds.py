"""Files of people are read in a time and a memory that grow with them and no faster, and bring no more than a locker holds."""

import json
import time
import tracemalloc
from datetime import date
from itertools import count

import pytest

from bot.conversation import Conversation, Update
from bot.handle import room
from bot.handle.imports import _guesses
from store.exchange import archive
from store.exchange.archive import ArchiveError
from store.exchange.logbook import MOST_KIT, LogFileError, LoggedKit, read_log
from store.exchange.values import LONGEST_NAME, MOST_DIVES, MOST_ITEMS
from store.tables import Item
from store.vocabulary import ItemKind
from tests.faults.script import START

MOST_A_BYTE = 6
"""Bytes of memory for a byte of a file of data while it is read: 20 MB take 120."""


def item(number, retired=None):
    return {
        "number": number,
        "kind": "mask",
        "name": f"mask {number}",
        "facts": {},
        "added_on": "2020-01-01",
        "retired_on": retired,
        "added_by": 1,
    }


def dive(number, dives=1, items=(1,)):
    return {
        "on": f"2024-{1 + number % 12:02d}-{1 + number % 28:02d}",
        "dives": dives,
        "duration_min": 45,
        "conditions": [],
        "items": list(items),
        "started": None,
        "water": "salt",
        "max_depth_m": 30.5,
        "min_temp_c": 7.0,
        "o2_fraction": None,
        "file": None,
        "logged_at": "2026-06-10T12:00:00Z",
        "logged_by": 1,
    }


def file(**more):
    empty = "files care mishaps manual words snoozes trips loans elsewhere borrowed told".split()
    whole = {
        "format": "rinse-tank-data",
        "version": 1,
        "locker": {"name": "", "region": None, "created_at": "2026-06-10T12:00:00Z"},
        "wishes": None,
        "people": [{"number": 1, "you": True, "name": None}],
        "items": [item(1)],
        "dives": [],
        **{name: [] for name in empty},
    }
    return json.dumps(whole | more).encode()


def processor_s(work, *given):
    """Return the least processor time of three runs."""
    took = []
    for _ in range(3):
        began = time.process_time()
        work(*given)
        took.append(time.process_time() - began)
    return min(took)


def grows(work, small, large):
    """Return how much longer the large one takes."""
    return processor_s(work, large) / max(processor_s(work, small), 1e-3)


def test_a_key_that_is_there_twice_is_found_in_one_pass():
    def keys(n):
        told = ", ".join(f'"k{i}": 1' for i in range(n))
        return f'{{"format": "rinse-tank-data", {told}, "k{n - 1}": 2}}'.encode()

    def refused(content):
        with pytest.raises(ArchiveError, match="is there twice in one place"):
            archive.load(content)

    assert grows(refused, keys(4_000), keys(32_000)) < 20  # eight times as many; each with each would be 64


def test_which_kit_is_which_is_guessed_in_one_pass():
    kit = [
        Item(id=n, locker_id=1, kind=ItemKind.MASK, name=f"mask {n}", added_on=date(2020, 1, 1))
        for n in range(20)
    ]

    def named(n):
        return [LoggedKit(f"{i}", f"thing {i}", frozenset({ItemKind.FINS})) for i in range(n)]

    assert (
        grows(lambda n: _guesses(named(n), kit), 400, 6_400) < 40
    )  # 16 times as many; each with each would be 256


def test_the_guess_goes_by_name_and_by_the_only_one_of_a_kind():
    fins, mask, lamp = (
        Item(id=n, locker_id=1, kind=kind, name=name, added_on=date(2020, 1, 1))
        for n, (kind, name) in enumerate(
            [(ItemKind.FINS, "fins"), (ItemKind.MASK, "mask"), (ItemKind.HAND_LIGHT, "lamp")], 1
        )
    )
    lights = frozenset({ItemKind.HAND_LIGHT, ItemKind.VIDEO_LIGHT})
    pieces = [
        LoggedKit("a", "Fins", frozenset()),
        LoggedKit("b", "Frameless", frozenset({ItemKind.MASK})),
        LoggedKit("c", "Torch", lights),
        LoggedKit("d", "Other torch", lights),
        LoggedKit("e", "Knife", frozenset()),
    ]
    assert _guesses(pieces, [fins, mask, lamp]) == {"a": 1, "b": 2}
    assert _guesses(pieces[:3], [fins, mask, lamp]) == {"a": 1, "b": 2, "c": 3}
    assert _guesses(pieces, []) == dict.fromkeys("abcde", 0)


def test_a_log_that_names_more_kit_than_any_locker_is_refused():
    def log(n):
        return ("date,kit\n" + "".join(f"2024-01-01,thing {i}\n" for i in range(n))).encode()

    assert len(read_log("log.csv", log(MOST_KIT)).kit) == MOST_KIT
    with pytest.raises(LogFileError, match="more than 1,000 pieces of kit"):
        read_log("log.csv", log(MOST_KIT + 1))


def test_a_file_of_data_is_read_in_a_few_times_its_size():
    archive.load(file())  # what is made at first use is no part of it
    content = file(
        items=[item(n) for n in range(1, 101)], dives=[dive(n, items=(1, 2, 3)) for n in range(4_000)]
    )
    tracemalloc.start()
    try:
        archive.load(content)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most / len(content) < MOST_A_BYTE


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (lambda: file(items=[item(n) for n in range(1, MOST_ITEMS + 2)]), "items: a locker holds up to 500"),
        (lambda: file(dives=[dive(1, dives=MOST_DIVES), dive(2)]), "dives: a locker holds up to 50,000"),
        (lambda: file(items=[item(1) | {"name": "x" * (LONGEST_NAME + 1)}]), "name: it is too long"),
        (
            lambda: file(
                items=[item(n) for n in range(1, 501)],
                dives=[dive(n, items=range(1, 501)) for n in range(1_001)],
            ),
            "more than 500,000 items are named",
        ),
        (lambda: file(items=[item(1)] * 60_000), "more lists and values than any locker"),
        (lambda: b'{"format": "rinse-tank-data", "x": ' + b"[" * 100_000, "nested too deep"),
    ],
    ids=["items", "dives", "names", "items on dives", "rows", "nesting"],
)
def test_what_is_more_than_a_locker_holds_is_refused(content, why):
    with pytest.raises(ArchiveError, match=why):
        archive.load(content())


def test_a_full_locker_with_all_that_it_retired_is_taken():
    kit = [item(n, "2021-01-01" if n > MOST_ITEMS else None) for n in range(1, MOST_ITEMS + 201)]
    assert len(archive.load(file(items=kit, dives=[dive(1, dives=MOST_DIVES)])).items) == MOST_ITEMS + 200


def test_dives_told_in_words_end_where_those_of_files_do(store, monkeypatch):
    monkeypatch.setattr(room, "MOST_DIVES", 5)
    talk, numbers = Conversation(store, map(str, count()).__next__), count()

    def say(text):
        told = Update(
            "boat", "1", "ana", START, text=text, update_id=str(next(numbers)), message=str(next(numbers))
        )
        return talk.take(told).reply

    assert say("3 dives today").first.startswith("Logged")
    assert say("3 dives today").first == "A locker holds up to 5 dives, so none was counted."
    assert say("2 dives today").first.startswith("Logged")
