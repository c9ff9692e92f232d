"""Files at the shell: dives in, a calendar out, and what is refused in one line."""

import json
import socket
from pathlib import Path

import icalendar
import pytest

DIVES = "date,time,duration,kit\n2024-06-01,10:15,42,Post regulator\n2024-06-02,10:15,42,Post regulator\n"


@pytest.fixture
def log(tmp_path):
    """Write a dive log of two dives."""
    path = tmp_path / "log.csv"
    path.write_text(DIVES)
    return path


def test_import_shows_first_and_waits_in_the_chat(run, database, log):
    run("chat", "--db", database, stdin="add 2 regulators\n")
    ran = run("import", str(log), "--db", database)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith("log.csv: 2 dives, 2 new, 0 here already.")
    assert "Go on in: rinsetank chat" in ran.out
    ran = run("chat", "--db", database, stdin="none of mine\nCount 2 dives\nshow my dives\n")
    assert "Counted: 2 dives of log.csv." in ran.out


def test_import_yes_counts_at_once_and_says_what_kit_was_left_out(run, database, log):
    run("chat", "--db", database, stdin="add 2 regulators\n")
    ran = run("import", str(log), "--yes", "--db", database)
    assert (ran.status, ran.err) == (0, "")
    assert "- Post regulator = none of yours" in ran.out
    assert "Counted: 2 dives of log.csv. 2 dives in all." in ran.out


def test_import_yes_again_counts_nothing_twice(run, database, log):
    run("import", str(log), "--yes", "--db", database)
    ran = run("import", str(log), "--yes", "--db", database)
    assert (ran.status, "0 new" in ran.out, "Counted" in ran.out) == (0, True, False)


def test_import_of_a_file_that_is_not_there_is_refused(run, database, tmp_path):
    ran = run("import", str(tmp_path / "no.uddf"), "--db", database)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == f"rinsetank: cannot read {tmp_path}/no.uddf: No such file or directory\n"


def test_import_of_what_is_no_dive_log_ends_with_status_2(run, database, tmp_path):
    odd = tmp_path / "odd.csv"
    odd.write_bytes(b"PK\x03\x04")
    ran = run("import", str(odd), "--db", database)
    assert (ran.status, "Nothing was stored." in ran.out) == (2, True)


def test_chat_takes_a_file_and_sends_one(run, database, log):
    ran = run(
        "chat", "--db", database, stdin=f"import {log}\nimport /no/such/file.csv\nadd twinset 32%\ncalendar\n"
    )
    assert "log.csv: 2 dives, 2 new" in ran.out
    assert "I cannot read /no/such/file.csv: No such file or directory." in ran.out
    path = next(line for line in ran.out.splitlines() if line.startswith("[file] ")).removeprefix("[file] ")
    assert icalendar.Calendar.from_ical(Path(path).read_bytes())["VERSION"] == "2.0"


def test_replay_reads_files_beside_it_and_puts_sent_ones_where_it_is_told(run, log, tmp_path):
    lines = [
        {"at": "2026-06-10T12:00:00Z", "chat": "a", "file": log.name},
        {"at": "2026-06-10T12:01:00Z", "chat": "a", "text": "calendar"},
        {"at": "2026-06-10T12:02:00Z", "chat": "a", "text": "calendar"},
    ]
    script = tmp_path / "script.jsonl"
    script.write_text("".join(json.dumps(line) + "\n" for line in lines))
    ran = run("replay", str(script), "--json", "--files", str(tmp_path / "sent"))
    shown, first, second = (json.loads(line) for line in ran.out.splitlines())
    assert shown["data"]["new"] == 2
    assert [first["files"], second["files"]] == [
        [f"{tmp_path}/sent/rinse-tank.ics"],
        [f"{tmp_path}/sent/rinse-tank-2.ics"],
    ]
    assert sorted(p.name for p in (tmp_path / "sent").iterdir()) == ["rinse-tank-2.ics", "rinse-tank.ics"]


def test_serve_on_a_port_that_is_taken_is_refused(run, database, monkeypatch):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        monkeypatch.setenv("RINSETANK_WEB_PORT", str(taken.getsockname()[1]))
        ran = run("serve", "--db", database)
    assert ran.status == 2
    assert ran.err.splitlines()[-1].startswith("rinsetank: cannot serve on 127.0.0.1:")


def test_web_address_that_is_none_is_refused(run, database, monkeypatch):
    monkeypatch.setenv("RINSETANK_WEB_URL", "kit.example")
    ran = run("serve", "--db", database)
    assert (ran.status, ran.err) == (
        2,
        "rinsetank: setting RINSETANK_WEB_URL: Value error, 'kit.example' is no web address: try https://kit.example\n",
    )
