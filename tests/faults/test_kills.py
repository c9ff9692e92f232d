"""Killed at any instant: nothing acknowledged is lost, nothing acts twice, every notice arrives.

`pytest tests/faults -m faults -s -n 0` kills some hundreds of times and prints where it hit; `--fault-seed` and
`--fault-kills` say at which instants and how often. The usual run kills a few times.
"""

import pytest

from .phases import PHASES

FEW = 3


@pytest.mark.parametrize("name", PHASES)
def test_a_few_kills_lose_nothing(nursery, worlds, dose, name):
    phase, chats, each = PHASES[name]
    tally = phase(nursery, worlds, dose.seed, max(2, chats // 4), min(each, 5)).run(FEW)
    assert tally.kills.total() == FEW


@pytest.mark.faults
@pytest.mark.long
@pytest.mark.parametrize("name", PHASES)
def test_hundreds_of_kills_lose_nothing(nursery, worlds, dose, name):
    phase, chats, each = PHASES[name]
    tally = phase(nursery, worlds, dose.seed, chats, each).run(dose.kills)
    print(f"\n{tally.line(name, worlds.kind)}")
    assert len(tally.kills) > 1, "kills that always hit the same"
