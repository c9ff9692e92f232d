"""The weights are those of their card, read what they are expected to, and are missed kindly."""

import hashlib
import json
import shutil
from datetime import date

import pytest

from bot.reading import encoder as rooms
from bot.reading.encoder import WEIGHTS, WeightsError, encoder, load
from bot.understand.reader import understand
from tests.training.train import BASE_SHA256

TODAY = date(2026, 6, 10)
MOST_BYTES = 16_000_000
EXPECTED = {
    "hi! i have a drysuit with metal zip, a wing and two torches": ["kit"],
    "did 2 dives in the lake, 24 m": ["dive"],
    "no, it was 33 m": ["fix_dive"],
    "rinsed everything and waxed the zip": ["care"],
    "the torch flooded": ["mishap"],
    "what goes on the wrist seals?": ["ask"],
    "what is due this week": ["due"],
    "sold the scooter": ["gone"],
    "the manual says service every two years": ["manual"],
    "use feet please": ["wish"],
}


def test_files_are_those_of_the_card():
    card = json.loads((WEIGHTS / "card.json").read_text())
    weights = (WEIGHTS / "reader.onnx").read_bytes()
    assert hashlib.sha256(weights).hexdigest() == card["weights_sha256"]
    assert card["base_sha256"] == BASE_SHA256
    assert len(weights) <= MOST_BYTES


@pytest.mark.parametrize(("said", "kinds"), EXPECTED.items())
def test_what_is_plain_is_read_plainly(said, kinds):
    read = [
        c.kind for c in encoder().clauses(said, "dive" if kinds == ["fix_dive"] else "") if c.kind != "chat"
    ]
    assert list(dict.fromkeys(read)) == kinds


@pytest.mark.parametrize("broken", ["reader.onnx", "vocabulary.txt", "card.json"])
@pytest.mark.parametrize("how", ["cut", "gone"])
def test_damaged_weights_are_told_and_only_commands_are_taken(broken, how, tmp_path, monkeypatch):
    folder = tmp_path / "weights"
    shutil.copytree(WEIGHTS, folder)
    if how == "gone":
        (folder / broken).unlink()
    else:
        (folder / broken).write_bytes((folder / broken).read_bytes()[:100])
    with pytest.raises(WeightsError, match="Install Rinse Tank again"):
        load(folder)
    monkeypatch.setattr(rooms, "WEIGHTS", folder)
    encoder.cache_clear()
    try:
        assert understand("2 dives today", TODAY).intent == "misunderstood"
        assert understand("/due", TODAY).intent == "show_due"
    finally:
        encoder.cache_clear()
