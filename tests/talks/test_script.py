"""The conversations can be read, and there are enough of them. What they score is printed by `python -m tests.talks.play`."""

from pathlib import Path

import pytest

from tests.talks.script import read

FILES = sorted(Path(__file__).parent.glob("*.txt"))


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_conversation_can_be_played(path):
    talks = read(path)
    assert len(talks) >= 5
    for talk in talks:
        assert 8 <= len(talk["turns"]) <= 20
        assert all(turn["expect"] or turn["text"] for turn in talk["turns"])


def test_expectation_that_cannot_be_read_is_refused(tmp_path):
    path = tmp_path / "talk.txt"
    path.write_text("# a-1 | somebody | Norway | Europe/Oslo\n2026-04-10 19:05 hi\n  = itmes dry_suit 1\n")
    with pytest.raises(ValueError, match="no such expectation"):
        read(path)
