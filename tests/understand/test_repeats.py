"""Whatever is said again and again is read in about the time that other words take: no pattern runs away.

`pytest tests/understand/test_repeats.py -m fuzz -s -n 0` tries every token, pair of neighbours and class of the corpora.
"""

import json
import random
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from statistics import median

import pytest

from bot.understand.reader import understand
from bot.understand.text import LONGEST
from tests.understand.test_total import TODAY

CORPORA = Path(__file__).parents[1] / "corpora"
SAID = [
    json.loads(line).get("text") or json.loads(line)["question"]
    for path in sorted(CORPORA.glob("*.jsonl"))
    for line in path.read_text().splitlines()
]
TOKENS = sorted({word for said in SAID for word in said.lower().split()})
PAIRS = sorted({f"{a} {b}" for said in SAID for words in [said.lower().split()] for a, b in pairwise(words)})
CLASSES = "1 12 1.5 1,5 50% 1/2 1/1 1, 1. 1: 1- 30m 30' 7°c 1.1. 2026 2026-01-01 a i x x1 no all on the of in and or not is was to ' - . , ; : ( ) ? ! & + é день".split()
BEGINNINGS = (
    "",
    "what is due for",
    "what goes on",
    "can i dive",
    "is the reg",
    "i am",
    "2 dives",
    "add",
    "delete",
    "no dives",
    "for",
    "trip",
    "the",
)
SEPARATORS = (" ", ", ", ". ", "", "-", "/")
LENGTHS = (48, LONGEST, 4096)
ALARM_S = 10.0
TIMES_AS_LONG = 12
"""As the median of what is tried, and 50 ms besides for a machine that does something else."""


class HangsError(BaseException):
    """Not to be caught by what is tried."""


def _on_alarm(*_: object) -> None:
    raise HangsError


@contextmanager
def _alarm() -> Iterator[None]:
    before = signal.signal(signal.SIGPROF, _on_alarm)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def repeated(beginning: str, unit: str, separator: str, length: int) -> str:
    return (f"{beginning} " + (unit + separator) * length).strip()[:length]


def took_s(text: str, times: int = 1) -> float:
    """Return the processor time that the reading of a text takes, the least of some."""
    least = ALARM_S
    for _ in range(times):
        signal.setitimer(signal.ITIMER_PROF, ALARM_S)
        began = time.process_time()
        understand(text, TODAY)
        least = min(least, time.process_time() - began)
    return least


def slowest(texts: list[str]) -> list[tuple[float, str]]:
    """Return how long each text took, the longest first."""
    understand("rinsd the zibber", TODAY)  # loads the list of words
    with _alarm():
        took = []
        for text in texts:
            try:
                took.append((took_s(text), text))
            except HangsError:
                pytest.fail(f"hangs: {text[:60]!r}, {len(text)} letters")
        took.sort(reverse=True)
        return [(took_s(text, 3), text) for _, text in took[:5]] + took[5:]


def some(dice: random.Random, count: int) -> list[str]:
    """Make texts: every class behind every beginning, short, since 48 letters are enough to hang; and some of the rest, long."""
    short = [repeated(b, u, " ", 60) for b in BEGINNINGS for u in (*CLASSES, *BEGINNINGS[1:])]
    units = [dice.choice(dice.choice((TOKENS, PAIRS, CLASSES))) for _ in range(count)]
    return short + [
        repeated(dice.choice(("", *BEGINNINGS, *_heads(dice))), unit, dice.choice(SEPARATORS), LONGEST)
        for unit in units
    ]


def _heads(dice: random.Random) -> tuple[str, ...]:
    words = dice.choice(SAID).lower().split()
    return (" ".join(words[: dice.randint(1, 6)]),) * len(BEGINNINGS)


def test_what_is_repeated_is_read_as_fast_as_other_words():
    took = slowest(some(random.Random(20), 90))
    usual = median(s for s, text in took if len(text) > 100)
    assert took[0][0] <= TIMES_AS_LONG * usual + 0.05, took[0]


@pytest.mark.parametrize("beginning", ["what is due for", "what goes on"])
@pytest.mark.parametrize("unit", ["5", "50%", "1", "12", "5 and", "pure", "ean"])
def test_a_figure_repeated_after_a_question_hangs_nobody(beginning, unit):
    with _alarm():
        for text in (repeated(beginning, unit, " ", length) for length in LENGTHS):
            assert took_s(text) < ALARM_S
            assert took_s(text.replace(" ", "")) < ALARM_S


@pytest.mark.long
@pytest.mark.fuzz
@pytest.mark.parametrize("units", [TOKENS, PAIRS, CLASSES], ids=["tokens", "pairs", "classes"])
def test_everything_is_read_in_a_tenth_of_a_second(units):
    dice = random.Random(1)
    took = slowest(
        [
            repeated(dice.choice(BEGINNINGS), unit, dice.choice(SEPARATORS), length)
            for unit in units
            for length in LENGTHS
        ]
    )
    print(f"\n{len(took):,} texts, the slowest:")
    for seconds, text in took[:5]:
        print(f"{seconds * 1000:7.1f} ms  {text[:70]!r}")
    assert took[0][0] <= 0.1
