"""Finds words of the trade in a message: exact phrases, parts in any word order, and bad spelling.

Built once from the catalogue and the tables of `vocabulary`; matching is plain set arithmetic.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Generic, TypeVar

from rapidfuzz import process
from rapidfuzz.distance import OSA

from bot.advice.question import PartRef
from bot.understand import vocabulary as v
from bot.understand.text import joined, stem, words
from store.catalogue import CATALOGUE
from store.vocabulary import ItemKind  # noqa: TC001 - it stands in a generic at run time

T = TypeVar("T")


def canonical(word: str) -> str:
    """Return the one word that stands for a word and its synonyms."""
    stemmed = stem(word)
    return v.SYNONYMS.get(word) or v.SYNONYMS.get(stemmed) or stemmed


def content(text: str) -> list[str]:
    """Return the canonical words of a phrase without the small words."""
    return [canonical(w) for w in words(joined(text)) if w not in v.SMALL_WORDS]


class Phrases(Generic[T]):
    """Runs of neighbouring words that stand for a value; the longest run wins."""

    def __init__(self, rows: Iterable[tuple[str, T]]) -> None:
        self._rows: dict[tuple[str, ...], T] = {}
        for phrase, value in rows:
            self._rows.setdefault(tuple(canonical(w) for w in words(joined(phrase))), value)
        self._longest: dict[str, int] = {}
        """The longest run by its first word: most words begin none, and are passed over."""
        for run in filter(None, self._rows):
            self._longest[run[0]] = max(len(run), self._longest.get(run[0], 0))
        self.words = frozenset(w for row in self._rows for w in row)

    def find(self, tokens: Sequence[str]) -> list[tuple[int, int, T]]:
        """Return (start, end, value) for each match, left to right, longest first, none overlapping."""
        found, at = [], 0
        while at < len(tokens):
            for size in range(min(self._longest.get(tokens[at], 0), len(tokens) - at), 0, -1):
                run = tuple(tokens[at : at + size])
                if run in self._rows:
                    found.append((at, at + size, self._rows[run]))
                    at += size
                    break
            else:
                at += 1
        return found


class PartIndex:
    """Parts by the set of words people use for them; order and small words between do not matter."""

    def __init__(self) -> None:
        self._by_words: dict[frozenset[str], set[PartRef]] = defaultdict(set)
        for kind in CATALOGUE.values():
            for part in kind.parts:
                for phrase in part.words:
                    self._by_words[frozenset(content(phrase))].add(PartRef(item=kind.kind, part=part.key))
        self._by_word: dict[str, list[frozenset[str]]] = defaultdict(list)
        for key in self._by_words:
            for word in key:
                self._by_word[word].append(key)
        self.words = frozenset(self._by_word)

    def find(self, tokens: Iterable[str]) -> dict[PartRef, frozenset[str]]:
        """Return the parts whose words all occur, each with its longest match; shorter matches inside a longer one are dropped."""
        present = set(tokens)
        hits = {key for word in present for key in self._by_word.get(word, ()) if key <= present}
        telling = [key for key in hits if key & v.TELLING]
        hits = set(telling) or hits
        maximal = [key for key in hits if not any(key < other for other in hits)]
        best: dict[PartRef, frozenset[str]] = {}
        for key in maximal:
            for ref in self._by_words[key]:
                if len(key) > len(best.get(ref, frozenset())):
                    best[ref] = key
        return best


class Lexicon:
    """All that a message is searched for."""

    def __init__(self) -> None:
        self.parts = PartIndex()
        self.items: Phrases[ItemKind] = Phrases(
            (w, kind.kind) for kind in CATALOGUE.values() for w in kind.words
        )
        self.substances = Phrases(v.SUBSTANCES)
        self.facts = Phrases(v.FACTS)
        self.waters = Phrases(v.WATERS)
        self.conditions = Phrases(v.CONDITIONS)
        self.tasks = Phrases(v.TASKS)
        tables = (self.items, self.substances, self.facts, self.waters, self.conditions, self.tasks)
        known = (
            set(self.parts.words).union(*(t.words for t in tables))
            | set(v.SYNONYMS)
            | v.VAGUE
            | v.PAST_TASKS
            | v.WORTH_MENDING
        )
        self._right = known | v.SMALL_WORDS | v.UNITS | set(v.NUMBERS)
        self._targets = sorted(w for w in known | v.SMALL_WORDS if len(w) >= 4 and w != "lite")

    def knows(self, word: str) -> bool:
        """Tell whether a word is one of the trade, a small word, or ordinary English."""
        return self.is_of_the_trade(word) or _is_ordinary(word)

    def is_of_the_trade(self, word: str) -> bool:
        """Tell whether a word has a meaning here already, or is a small word."""
        return word in self._right or stem(word) in self._right

    def spelled(self, word: str) -> str:
        """Return the word of the trade that a misspelt word most likely is, or the word as it stands."""
        if len(word) < 4 or self.is_of_the_trade(word) or any(c.isdigit() for c in word):
            return word
        if word.startswith("un") and self.is_of_the_trade(word[2:]):  # "unserviced" is no slip of the pen
            return word
        return self._corrected(word)

    @lru_cache(maxsize=8192)  # noqa: B019 - one lexicon lives as long as the process
    def _corrected(self, word: str) -> str:
        if _is_ordinary(word):
            return word
        if whole := next((w for w in _endings(word) if w in self._right), None):
            return whole
        allowed = 1 if len(word) < 7 else 2
        steps = (
            [(word, 1), (stem(word), 1)]
            if word in _english()
            else [(word, 1), (stem(word), 1), (word, allowed)]
        )
        for said, most in steps:
            near = process.extract(said, self._targets, scorer=OSA.distance, score_cutoff=most, limit=8)
            alike = [
                (distance, target[0] != said[0], target[-1] != word[-1], target)
                for target, distance, _ in near
                if target[0] == said[0] or len(said) >= 7
            ]
            if (
                len(word) == 4
            ):  # so short that one letter changed is more often another word: only missing, doubled or swapped ones
                alike = [hit for hit in alike if len(hit[3]) != 4 or sorted(hit[3]) == sorted(said)]
            alike = [hit for hit in alike if hit[0] < 2 or hit[3] not in self.substances.words]
            if alike:
                return min(alike)[3]
        return word


def _endings(word: str) -> Sequence[str]:
    """Return what a word in -d or -pt may stand for: "leakd" is leaked, "dropt" is dropped."""
    if word.endswith("pt"):
        return (f"{word[:-1]}ped",)
    if not word.endswith("d") or word[-2] in "aeioud":
        return ()
    return f"{word[:-1]}ed", f"{word[:-1]}{word[-2]}ed", f"{word[:-1]}'d"


_ORDINARY = 300
"""Occurrences in the word list from which a word is taken as meant; rarer ones are more often misspelt words of the trade."""


@lru_cache(maxsize=1)
def _english() -> Mapping[str, int]:
    from spellchecker import SpellChecker  # noqa: PLC0415 - a tenth of a second, only for words that no table has

    counts: Mapping[str, int] = SpellChecker(distance=1).word_frequency.dictionary
    return counts


def _is_ordinary(word: str) -> bool:
    """Tell whether a word is ordinary English, which is never "corrected" into a word of the trade."""
    return _english().get(word, 0) >= _ORDINARY


@lru_cache(maxsize=1)
def lexicon() -> Lexicon:
    """Return the one lexicon, built at first use."""
    return Lexicon()
