"""Scores of the encoder to clauses: what kind each is, how it is told, and which spans of words it holds."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from bot.reading.labels import FLAGS, IDS, KINDS, SLOTS, columns
from bot.reading.pieces import Pieces

Scores: TypeAlias = NDArray[np.float32]
"""A row for each piece, a column for each label of `labels.HEADS`: logits."""

_AT = columns()
_LIKELY = 0.5
_NOT_TOLD = KINDS.index("lead")


@dataclass(frozen=True, slots=True)
class Span:
    """Words that fill a slot. `start` and `end` are places in the text."""

    slot: str
    text: str
    start: int
    end: int
    id: str | None = None
    """What they stand for, of the ids of that slot; None where the slot has none."""
    sure: float = 1.0
    """How likely the id is, from 0 to 1."""


@dataclass(frozen=True, slots=True)
class Clause:
    """A piece of a message that tells, asks or wants one kind of thing."""

    kind: str
    text: str
    start: int
    end: int
    flags: frozenset[str] = frozenset()
    spans: tuple[Span, ...] = ()
    sure: float = 1.0
    """How likely the kind is, from 0 to 1."""
    other: str = "chat"
    """The kind that is likely next."""

    def of(self, slot: str) -> tuple[Span, ...]:
        """Return its spans of a slot in order."""
        return tuple(s for s in self.spans if s.slot == slot)

    def ids(self, slot: str) -> tuple[str, ...]:
        """Return what its spans of a slot stand for, each once."""
        return tuple(dict.fromkeys(s.id for s in self.of(slot) if s.id))


def decode(scores: Scores, pieces: Pieces, text: str) -> tuple[Clause, ...]:
    """Return the clauses of a text in order; empty if it has no words. Words before the first clause belong to none."""
    rows = [n for n, place in enumerate(pieces.places) if place is not None]
    if not rows:
        return ()
    spans = _spans(scores, pieces, rows, text)
    starts = _borders(scores, pieces, rows)
    clauses: list[Clause] = []
    for n, first in enumerate(starts):
        own = rows[first : starts[n + 1] if n + 1 < len(starts) else len(rows)]
        start = _place(pieces, own[0])[0]
        end = _place(pieces, own[-1])[1]
        kinds = _softmax(scores[own][:, _AT["kind"]].mean(axis=0))
        kinds[_NOT_TOLD] = 0.0
        order = np.argsort(-kinds)
        flags = _sigmoid(scores[own][:, _AT["flags"]].mean(axis=0))
        clauses.append(
            Clause(
                kind=KINDS[order[0]],
                text=text[start:end],
                start=start,
                end=end,
                flags=frozenset(f for f, p in zip(FLAGS, flags, strict=True) if p > _LIKELY),
                spans=tuple(s for s in spans if start <= s.start < end),
                sure=float(kinds[order[0]]),
                other=KINDS[order[1]],
            )
        )
    return tuple(clauses)


def _borders(scores: Scores, pieces: Pieces, rows: Sequence[int]) -> list[int]:
    """Return at which of the rows a clause begins; at least one does."""
    chance = _sigmoid(scores[:, _AT["border"]][:, 0])
    found = [n for n, row in enumerate(rows) if pieces.begins[row] and chance[row] > _LIKELY]
    return found or [0]


def _spans(scores: Scores, pieces: Pieces, rows: Sequence[int], text: str) -> tuple[Span, ...]:
    """Join neighbouring words of a slot. The pieces of a word vote together, so that no span ends inside one."""
    runs: list[tuple[str, list[int]]] = []
    slot = ""
    for own in _words(pieces, rows, text):
        row = scores[own][:, _AT["tag"]]
        votes = row[:, 1:].reshape(len(own), len(SLOTS), 2)
        named = np.logaddexp(votes[:, :, 0], votes[:, :, 1]).mean(axis=0)
        best = int(named.argmax())
        if row[:, 0].mean() >= named[best]:
            slot = ""
            continue
        begins = votes[0, best, 0] > votes[0, best, 1]
        if SLOTS[best] == slot and not begins:
            runs[-1][1].extend(own)
        else:
            runs.append((SLOTS[best], list(own)))
        slot = SLOTS[best]
    return tuple(_span(named_slot, own, scores, pieces, text) for named_slot, own in runs)


def _words(pieces: Pieces, rows: Sequence[int], text: str) -> list[list[int]]:
    """Return the pieces of each word; figures and the letters right after them count as two."""
    found: list[list[int]] = []
    for row in rows:
        start = _place(pieces, row)[0]
        turns = start > 0 and text[start].isdigit() != text[start - 1].isdigit()
        if pieces.begins[row] or turns or not found:
            found.append([])
        found[-1].append(row)
    return found


def _span(slot: str, own: list[int], scores: Scores, pieces: Pieces, text: str) -> Span:
    start, end = _place(pieces, own[0])[0], _place(pieces, own[-1])[1]
    of = "item" if slot == "left" else slot
    if of not in IDS:
        return Span(slot, text[start:end], start, end)
    chances = _softmax(scores[own][:, _AT[of]].mean(axis=0))
    best = int(chances.argmax())
    return Span(slot, text[start:end], start, end, IDS[of][best], float(chances[best]))


def _place(pieces: Pieces, row: int) -> tuple[int, int]:
    place = pieces.places[row]
    return place if place is not None else (0, 0)


def _softmax(logits: Scores) -> Scores:
    raised = np.exp(logits - logits.max())
    chances: Scores = raised / raised.sum()
    return chances


def _sigmoid(logits: Scores) -> Scores:
    return (1 / (1 + np.exp(-np.clip(logits, -30, 30)))).astype(np.float32)
