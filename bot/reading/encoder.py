"""The one learned step: pieces to scores. Everything it needs lies beside it; nothing is fetched, nothing leaves the machine."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from bot.reading.clauses import Clause, Scores, decode
from bot.reading.labels import HEADS
from bot.reading.pieces import Pieces, cut

WEIGHTS = Path(__file__).parent / "weights"


class WeightsError(Exception):
    """The weights are missing, damaged or of another edition: the message is one line for the operator."""


@dataclass(frozen=True)
class Encoder:
    """Scores texts. Made by `encoder`."""

    vocabulary: Mapping[str, int]
    session: Any
    """Of the library that runs the weights, which ships no types."""

    def scores(self, pieces: Pieces) -> Scores:
        """Return a row of scores for each piece."""
        fed = {"ids": np.array([pieces.ids], np.int64), "types": np.array([pieces.types], np.int64)}
        rows: Scores = self.session.run(None, fed)[0][0]
        return rows

    def clauses(self, text: str, context: str = "") -> tuple[Clause, ...]:
        """Return the clauses of a text, read with what the talk was about before it."""
        pieces = cut(text, self.vocabulary, context)
        return decode(self.scores(pieces), pieces, text)


@lru_cache(maxsize=1)
def encoder() -> Encoder:
    """Return the one encoder, loaded at first use. WeightsError if it cannot be."""
    return load(WEIGHTS)


def load(folder: Path) -> Encoder:
    """Load the weights of a folder after comparing them with their card. WeightsError if they do not match."""
    try:
        card = json.loads((folder / "card.json").read_text(encoding="utf-8"))
        weights = (folder / "reader.onnx").read_bytes()
        words = (folder / "vocabulary.txt").read_bytes()
    except (OSError, ValueError) as error:
        raise WeightsError(
            f"The reader's weights cannot be read: {type(error).__name__}. Install Rinse Tank again."
        ) from error
    if (
        hashlib.sha256(weights).hexdigest() != card.get("weights_sha256")
        or hashlib.sha256(words).hexdigest() != card.get("vocabulary_sha256")
        or card.get("labels") != sum(HEADS.values())
    ):
        raise WeightsError("The reader's weights do not match their card. Install Rinse Tank again.")
    import onnxruntime  # noqa: PLC0415 - a tenth of a second, only where something is read

    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    options.add_session_config_entry("session.disable_quant_qdq", "1")  # the tables are widened once, at load
    session = onnxruntime.InferenceSession(weights, options, providers=["CPUExecutionProvider"])
    lines = words.decode("utf-8").split("\n")
    return Encoder({piece: n for n, piece in enumerate(lines) if piece}, session)
