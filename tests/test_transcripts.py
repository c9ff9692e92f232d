"""Whole conversations, replayed on a set clock and compared with what was agreed.

After a change that is meant, write them anew: `pytest tests/test_transcripts.py --rewrite`, and read the difference.
"""

import asyncio
import re
from pathlib import Path

import pytest

from bot.render.text import with_buttons
from bot.replay import replay

FOLDER = Path(__file__).parent / "transcripts"
CODE = r"\b(?:[0-9A-Z]{4}-){2}[0-9A-Z]{4}\b"
"""A code that lets somebody in: another one each time."""
NAMES = sorted(p.stem for p in FOLDER.glob("*.jsonl"))


@pytest.mark.parametrize("name", NAMES)
def test_conversation_goes_as_agreed(name, store, request):
    lines = (FOLDER / f"{name}.jsonl").read_text(encoding="utf-8").splitlines()
    sent = asyncio.run(replay(store, lines))
    said = re.sub(
        CODE,
        "CODE",
        "".join(
            f"{s.at.isoformat()} {s.chat} ({s.reply.kind.value})\n{with_buttons(s.reply)}\n\n" for s in sent
        ),
    )
    golden = FOLDER / f"{name}.golden.txt"
    if request.config.getoption("--rewrite"):
        golden.write_text(said, encoding="utf-8")
    assert said == golden.read_text(encoding="utf-8")


def test_there_are_conversations_to_play():
    assert "on_deck" in NAMES
