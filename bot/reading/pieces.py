"""Text to the word pieces that the encoder knows, each with its place in the text.

The rules are those of the uncased WordPiece tokenizer that the base weights were trained with. The usual library for it
brings a client for a model hub along, and gives places in another text than ours; this is all of it that is needed.
"""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

LONGEST_PIECES = 128
"""Pieces read of one message; what is beyond is left over."""
_LONGEST_WORD = 64
_UNKNOWN, _BEGIN, _END = "[UNK]", "[CLS]", "[SEP]"
_WORD = re.compile(r"[^\W_]+|[^\w\s]|_")


@dataclass(frozen=True, slots=True)
class Pieces:
    """Ids for the encoder. `places` gives start and end in the text for each id, None where it is not of the text."""

    ids: list[int]
    types: list[int]
    places: list[tuple[int, int] | None]
    begins: list[bool]
    """Whether a piece begins a word."""


def _folded(char: str) -> str:
    """Return a letter in lower case without its accents: none, one or several characters."""
    return "".join(c for c in unicodedata.normalize("NFD", char.lower()) if unicodedata.category(c) != "Mn")


def _word_pieces(word: str, vocabulary: Mapping[str, int]) -> list[tuple[int, int, int]]:
    """Return (id, start, end) of the longest pieces of a folded word; one unknown piece where none fit."""
    found: list[tuple[int, int, int]] = []
    at = 0
    while at < len(word):
        for end in range(len(word), at, -1):
            piece = word[at:end] if at == 0 else f"##{word[at:end]}"
            if piece in vocabulary:
                found.append((vocabulary[piece], at, end))
                at = end
                break
        else:
            return [(vocabulary[_UNKNOWN], 0, len(word))]
    return found


def cut(text: str, vocabulary: Mapping[str, int], context: str = "") -> Pieces:
    """Cut a text into pieces, with those of the context before it."""
    out = Pieces([vocabulary[_BEGIN]], [0], [None], [False])
    if context:
        _append(out, context, vocabulary, 0, within=False)
        _mark(out, vocabulary[_END], 0)
    _append(out, text, vocabulary, 1 if context else 0, within=True)
    _mark(out, vocabulary[_END], 1 if context else 0)
    return out


def _mark(out: Pieces, piece: int, kind: int) -> None:
    out.ids.append(piece)
    out.types.append(kind)
    out.places.append(None)
    out.begins.append(False)


def _append(out: Pieces, text: str, vocabulary: Mapping[str, int], kind: int, *, within: bool) -> None:
    for match in _WORD.finditer(text):
        folded, back = _fold(match.group())
        if not folded:
            continue
        pieces: Sequence[tuple[int, int, int]] = (
            _word_pieces(folded, vocabulary)
            if len(folded) <= _LONGEST_WORD
            else [(vocabulary[_UNKNOWN], 0, len(folded))]
        )
        for n, (piece, start, end) in enumerate(pieces):
            if len(out.ids) >= LONGEST_PIECES - 1:
                return
            out.ids.append(piece)
            out.types.append(kind)
            place = (match.start() + back[start], match.start() + back[end - 1] + 1)
            out.places.append(place if within else None)
            out.begins.append(within and n == 0)


def _fold(word: str) -> tuple[str, list[int]]:
    """Return a word folded, with the place of each of its characters in the word as it stood."""
    kept: list[str] = []
    back: list[int] = []
    for at, char in enumerate(word):
        for c in _folded(char):
            kept.append(c)
            back.append(at)
    return "".join(kept), back
