"""Questions typed badly: the verdict stays, and nothing becomes unsafe."""

import json
import random
from collections.abc import Callable
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from bot.advice.answer import answer
from bot.understand.in_passing import understand_question
from bot.understand.intents import Ask
from bot.understand.vocabulary import SMALL_WORDS
from tests.doses import doses

CORPORA = Path(__file__).parent.parent / "corpora"
TODAY = date(2026, 6, 10)
ROWS = [
    json.loads(line)
    for name in ("first", "second", "third", "fourth", "fifth", "hard", "kit")
    for line in (CORPORA / f"questions_{name}.jsonl").read_text(encoding="utf-8").splitlines()
]


@cache
def verdict_and_use(question: str) -> tuple[str, frozenset[str]]:
    intent = understand_question(question, TODAY)
    if not isinstance(intent, Ask):
        return "clarify", frozenset()
    told = answer(intent.question)
    return told.verdict.value, frozenset(s.value for s in told.use)


def long_word(words: list[str], rng: random.Random) -> int | None:
    """Pick a word long enough to be mistyped and still be read."""
    places = [i for i, w in enumerate(words) if len(w) >= 6 and w.isalpha()]
    return rng.choice(places) if places else None


def swapped_letters(text: str, rng: random.Random) -> str:
    words = text.split()
    if (at := long_word(words, rng)) is not None:
        word = words[at]
        k = rng.randrange(1, len(word) - 2)
        words[at] = word[:k] + word[k + 1] + word[k] + word[k + 2 :]
    return " ".join(words)


def dropped_letter(text: str, rng: random.Random) -> str:
    words = text.split()
    if (at := long_word(words, rng)) is not None:
        k = rng.randrange(1, len(words[at]) - 1)
        words[at] = words[at][:k] + words[at][k + 1 :]
    return " ".join(words)


def doubled_letter(text: str, rng: random.Random) -> str:
    words = text.split()
    if (at := long_word(words, rng)) is not None:
        k = rng.randrange(1, len(words[at]) - 1)
        words[at] = words[at][: k + 1] + words[at][k:]
    return " ".join(words)


MEANINGFUL = {
    "no",
    "not",
    "never",
    "without",
    "or",
    "should",
    "can",
    "may",
    "what",
    "how",
    "why",
    "when",
    "do",
    "is",
    "instead",
    "off",
    "on",
    "dont",
    "don't",
    "isn't",
    "already",
    "i",
    "put",
    "used",
    "use",
}


def dropped_small_word(text: str, rng: random.Random) -> str:
    words = text.split()
    places = [i for i, w in enumerate(words) if w.casefold() in SMALL_WORDS - MEANINGFUL]
    if places:
        del words[rng.choice(places)]
    return " ".join(words)


def plural(text: str, rng: random.Random) -> str:
    words = text.split()
    places = [
        i
        for i, w in enumerate(words)
        if w in {"ring", "zip", "seal", "cylinder", "tank", "hose", "light", "torch", "suit", "valve"}
    ]
    if places:
        words[rng.choice(places)] += "s"
    return " ".join(words)


def no_spaces(text: str, _rng: random.Random) -> str:
    for pair in (
        "o ring",
        "o-ring",
        "dry suit",
        "first stage",
        "second stage",
        "neck ring",
        "neck seal",
        "twin set",
    ):
        text = text.replace(pair, pair.replace(" ", "").replace("-", ""))
    return text


def all_lower_without_marks(text: str, _rng: random.Random) -> str:
    return "".join(c for c in text.casefold() if c not in "?!,")


MUTATIONS: tuple[Callable[[str, random.Random], str], ...] = (
    swapped_letters,
    dropped_letter,
    doubled_letter,
    dropped_small_word,
    plural,
    no_spaces,
    all_lower_without_marks,
)


@doses(8, 1)
@pytest.mark.parametrize("mutate", MUTATIONS, ids=lambda f: f.__name__)
def test_mistyped_question_keeps_its_verdict_and_is_never_unsafe(mutate, dose):
    """Each question at length, one of eight in every run."""
    rng = random.Random(20260610)
    kept, unsafe, asked = 0, [], 0
    for row in ROWS[::dose]:
        typed = mutate(row["question"], rng)
        if typed == row["question"]:
            continue
        asked += 1
        verdict, use = verdict_and_use(typed)
        kept += verdict == verdict_and_use(row["question"])[0]
        if use & set(row["never"]):
            unsafe.append(typed)
    assert asked > 60 // dose
    assert unsafe == []
    assert kept >= 0.95 * asked - (dose > 1), f"{kept} of {asked}"
