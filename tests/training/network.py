"""The encoder as it is trained: a small BERT with a linear head for each thing that it tells apart."""

import math
from dataclasses import dataclass

import torch
from torch import nn
from torch.nn import functional

from bot.reading.labels import HEADS

LAYERS, WIDTH, HEADS_OF_ATTENTION, INNER, POSITIONS = 6, 384, 12, 1536, 512


class Layer(nn.Module):
    def __init__(self) -> None:
        super().__init__()
        self.query, self.key, self.value, self.out = (nn.Linear(WIDTH, WIDTH) for _ in range(4))
        self.wide, self.narrow = nn.Linear(WIDTH, INNER), nn.Linear(INNER, WIDTH)
        self.norm1, self.norm2 = nn.LayerNorm(WIDTH, eps=1e-12), nn.LayerNorm(WIDTH, eps=1e-12)
        self.drop = nn.Dropout(0.1)

    def forward(self, x: torch.Tensor, mask: torch.Tensor) -> torch.Tensor:
        batch, length, _ = x.shape
        size = WIDTH // HEADS_OF_ATTENTION

        def split(y: torch.Tensor) -> torch.Tensor:
            return y.view(batch, length, HEADS_OF_ATTENTION, size).transpose(1, 2)

        scores = split(self.query(x)) @ split(self.key(x)).transpose(2, 3) / math.sqrt(size) + mask
        seen = (scores.softmax(-1) @ split(self.value(x))).transpose(1, 2).reshape(batch, length, WIDTH)
        x = self.norm1(x + self.drop(self.out(seen)))
        return self.norm2(x + self.drop(self.narrow(functional.gelu(self.wide(x)))))


class Encoder(nn.Module):
    def __init__(self, words: int) -> None:
        super().__init__()
        self.word, self.position, self.side = (
            nn.Embedding(words, WIDTH),
            nn.Embedding(POSITIONS, WIDTH),
            nn.Embedding(2, WIDTH),
        )
        self.norm, self.drop = nn.LayerNorm(WIDTH, eps=1e-12), nn.Dropout(0.1)
        self.layers = nn.ModuleList(Layer() for _ in range(LAYERS))
        self.heads = nn.Linear(WIDTH, sum(HEADS.values()))

    def forward(self, ids: torch.Tensor, types: torch.Tensor) -> torch.Tensor:
        """Return scores (batch, pieces, columns) of ids and types (batch, pieces); id 0 is padding."""
        place = torch.arange(ids.shape[1], device=ids.device)
        x = self.norm(self.word(ids) + self.position(place)[None] + self.side(types))
        mask = (ids == 0)[:, None, None, :].to(x.dtype) * -1e4
        x = self.drop(x)
        for layer in self.layers:
            x = layer(x, mask)
        return self.heads(x)


_NAMES = {
    "attention.self.query": "query", "attention.self.key": "key", "attention.self.value": "value", "attention.output.dense": "out",
    "attention.output.LayerNorm": "norm1", "intermediate.dense": "wide", "output.dense": "narrow", "output.LayerNorm": "norm2",
}  # fmt: skip
_TOP = {
    "embeddings.word_embeddings": "word", "embeddings.position_embeddings": "position", "embeddings.token_type_embeddings": "side", "embeddings.LayerNorm": "norm",
}  # fmt: skip


def renamed(name: str) -> str | None:
    """Return our name for a tensor of the base weights, None for one that we do not use."""
    whole, _, last = name.rpartition(".")
    if whole in _TOP:
        return f"{_TOP[whole]}.{last}"
    if not whole.startswith("encoder.layer."):
        return None
    number, _, part = whole.removeprefix("encoder.layer.").partition(".")
    return f"layers.{number}.{_NAMES[part]}.{last}"


@dataclass(frozen=True)
class Batch:
    ids: torch.Tensor
    types: torch.Tensor
    labels: dict[str, torch.Tensor]
