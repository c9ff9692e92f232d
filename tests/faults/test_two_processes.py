"""Two processes on one database: a file as well as PostgreSQL.

Who of them delivers is told in `tests/store/test_helm.py`; two stores in one process in `tests/store/test_engine.py`
and `tests/bot/test_replicas.py`.
"""

import random
from contextlib import closing

import pytest

from store.engine import Store

from .script import reference, state

FEW, MANY = (3, 7), (8, 22)
"""How many chats, and how much is said in each."""


@pytest.mark.parametrize(
    "size", [FEW, pytest.param(MANY, marks=(pytest.mark.faults, pytest.mark.long))], ids=["few", "many"]
)
def test_two_processes_that_are_both_brought_everything_do_it_once(nursery, worlds, size):
    url = worlds.prepared(lambda _: None)
    chats, each = size
    life = nursery.live(
        {"work": "two at once", "url": url, "chats": chats, "each": each}, [], random.Random(1)
    )
    assert life.done
    worlds.sound(url)
    with closing(Store(url)) as store:
        for chat, states in reference(chats, each).items():
            assert store.read(lambda s, c=chat: state(s, c)) == states[-1]
    print(f"\ntwo processes on one {worlds.kind}: {chats * each} messages brought to both, each acted once")
