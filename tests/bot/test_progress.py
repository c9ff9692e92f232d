"""Progress on a terminal: nothing for what is quick, nothing where nobody watches, and no trace afterwards."""

import io
import time

import pytest

from bot.cli import main
from bot.progress import progress


class Terminal(io.StringIO):
    def isatty(self):
        return True


def shown(out):
    return out.getvalue()


def test_long_work_shows_how_far_it_is():
    out = Terminal()
    with progress("Playing", 4, out, patience_s=0) as tell:
        deadline = time.monotonic() + 5
        for done in range(1, 4):
            tell(done)
        while "75%" not in shown(out) and time.monotonic() < deadline:
            time.sleep(0.05)
    assert "Playing" in shown(out)
    assert "75%" in shown(out)


def test_quick_work_shows_nothing():
    out = Terminal()
    with progress("Playing", 4, out) as tell:
        tell(4)
    assert shown(out) == ""


def test_nothing_is_shown_where_nobody_watches():
    out = io.StringIO()
    with progress("Playing", 4, out, patience_s=0) as tell:
        tell(1)
        time.sleep(0.05)
    assert shown(out) == ""


def test_an_error_within_comes_out_and_the_line_is_cleared():
    out = Terminal()
    with pytest.raises(ZeroDivisionError), progress("Reading", None, out, patience_s=0):
        1 // (time.sleep(0.05) or 0)
    assert "Reading" in shown(out)
    assert shown(out).rstrip().endswith("\x1b[2K")  # the line was erased


def test_replay_still_prints_its_messages(capsys, tmp_path):
    file = tmp_path / "day.jsonl"
    file.write_text('{"at": "2026-06-10T12:00:00+02:00", "chat": "a", "text": "hello"}\n')
    with pytest.raises(SystemExit) as ended:
        main(["replay", str(file)])
    assert ended.value.code == 0
    assert "Tell me what you dived" in capsys.readouterr().out
