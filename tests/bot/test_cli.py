"""The shell: its contracts on standard output, and one line and status 2 for whatever cannot be done."""

import io
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from bot.demo import SEASON
from store.engine import SCHEMA

ADVICE = [
    "question",
    "verdict",
    "part",
    "use",
    "avoid",
    "choices",
    "short",
    "text",
    "cautions",
    "because",
]
NECK_RING = "what do I put on the neck ring?"
SCRIPT = Path(sys.executable).with_name("rinsetank")
STDIN_BYTES = "bot/cli.py reads standard input without catching UnicodeDecodeError"


def path_of(url: str) -> Path:
    return Path(url.removeprefix("sqlite:///"))


def write_lines(path: Path, *lines: dict[str, object]) -> str:
    path.write_text("".join(json.dumps(line) + "\n" for line in lines), encoding="utf-8")
    return str(path)


@pytest.fixture
def season(tmp_path):
    return write_lines(
        tmp_path / "season.jsonl",
        {"at": "2026-06-10T14:00:00+02:00", "chat": "deck", "from": "mara", "text": "2 dives today, salt"},
        {"at": "2026-06-10T14:01:00+02:00", "chat": "deck", "from": "mara", "tap": "Undo"},
    )


# ask


def test_ask_json_has_the_fields_of_the_contract(run):
    ran = run("ask", NECK_RING, "--json")
    data = json.loads(ran.out)
    assert (ran.status, ran.err, list(data)) == (0, "", ADVICE)
    assert (data["question"], data["verdict"], data["part"], data["use"], data["choices"]) == (
        NECK_RING,
        "none",
        "cylinder neck O-ring",
        [],
        [],
    )
    assert {tuple(b) for b in data["because"]} == {("rule", "why", "source", "authority")}
    assert data["text"].splitlines()[0] == data["short"]


def test_ask_text_says_the_same_as_json(run):
    data = json.loads(run("ask", NECK_RING, "--json").out)
    said_by = "".join(f"  {b['rule']}: {b['source']}\n" for b in data["because"])
    assert run("ask", NECK_RING).out == f"{data['text']}\nSays who:\n{said_by}"


def test_ask_with_an_open_question_numbers_the_choices(run):
    data = json.loads(run("ask", "what goes on the dry suit zip", "--json").out)
    assert (data["verdict"], data["choices"]) == ("clarify", ["plastic", "metal"])
    lines = run("ask", "what goes on the dry suit zip").out.splitlines()
    assert [line for line in lines if line.startswith("[")] == ["[1] plastic", "[2] metal"]


def test_ask_dash_prints_one_object_for_each_line(run):
    ran = run("ask", "-", stdin=f"{NECK_RING}\n\n   \nwhat goes on the manifold\n")
    answers = [json.loads(line) for line in ran.out.splitlines()]
    assert [a["question"] for a in answers] == [NECK_RING, "what goes on the manifold"]
    assert [list(a) for a in answers] == [ADVICE, ADVICE]
    assert answers[0] == json.loads(run("ask", NECK_RING, "--json").out)


def test_ask_dash_with_nothing_to_read_prints_nothing(run):
    assert (run("ask", "-").status, run("ask", "-", stdin="\n \n").out) == (0, "")


@pytest.mark.parametrize("text", ["", "   ", "xyzzy", "🤿", "900 % oxygen neck ring"])
def test_ask_of_no_question_is_answered_with_what_would_work(run, text):
    ran = run("ask", text, "--json")
    data = json.loads(ran.out)
    assert (ran.status, ran.err, list(data), data["verdict"]) == (0, "", ADVICE, "clarify")
    assert data["choices"]
    assert data["short"]


class InterruptedInput(io.StringIO):
    def __next__(self):
        raise KeyboardInterrupt


def test_ask_interrupted_ends_quietly(run):
    ran = run("ask", "-", stdin=InterruptedInput())
    assert (ran.status, ran.out, ran.err) == (130, "", "")


# understand


def test_understand_json_has_the_fields_of_the_contract(run):
    ran = run("understand", "3 dives yesterday, salt, 60 ft", "--json", "--now", "2026-06-10T23:30:00+02:00")
    read = json.loads(ran.out)
    more = {key: read.pop(key) for key in ("clauses", "unused", "choices", "sure")}
    assert [(c["kind"], c["text"]) for c in more["clauses"]] == [("dive", "3 dives yesterday, salt, 60 ft")]
    assert (more["unused"], more["choices"]) == ([], [])
    assert 0.5 < more["sure"] <= 1
    assert read == {
        "text": "3 dives yesterday, salt, 60 ft",
        "intent": "log_dive",
        "fields": {
            "dives": 3,
            "on": "2026-06-09",
            "water": "salt",
            "max_depth_m": 18.3,
            "duration_min": None,
            "min_temp_c": None,
            "o2_fraction": None,
            "conditions": [],
            "items": [],
            "without": [],
            "only": False,
            "corrects": False,
            "removes": False,
            "was_on": None,
            "also": [],
            "happened": [],
        },
        "suggestions": [],
    }
    assert (ran.status, ran.err) == (0, "")


def test_understand_dash_prints_one_object_for_each_line(run):
    ran = run("understand", "-", "--now", "2026-06-10", stdin="undo\n\nxyzzy\n")
    read = [json.loads(line) for line in ran.out.splitlines()]
    assert [(r["text"], r["intent"], r["fields"]) for r in read] == [
        ("undo", "undo", {}),
        ("xyzzy", "misunderstood", {"problem": "I did not get that."}),
    ]
    assert [len(r["suggestions"]) for r in read] == [0, 3]


def test_understand_text_shows_what_was_said(run):
    ran = run("understand", "2 dives yesterday, salt", "--now", "2026-06-10T12:00:00Z")
    assert ran.out == "log_dive\n  dives: 2\n  on: 2026-06-09\n  water: salt\n"


@pytest.mark.parametrize("now", ["", "yesterday", "2026-13-01", "12:00", "2026-06-31T12:00:00Z"])
def test_understand_with_a_bad_now_is_refused(run, now):
    ran = run("understand", "2 dives today", "--now", now)
    assert ran.is_refusal
    assert repr(now) in ran.err


# replay


def test_replay_text_shows_every_message(run, season):
    ran = run("replay", season)
    assert ran.out == (
        "2026-06-10T12:00:00+00:00 deck (reply)\n"
        "Logged: 2 dives, today, salt water. 2 dives in all.\n"
        "Your kit is still empty, so nothing can fall due. Add it like: add dry suit, plastic zip, latex seals\n"
        "[1] Add kit  [2] Undo\n"
        "\n"
        "2026-06-10T12:01:00+00:00 deck (reply)\n"
        "Taken back: dive log.\n"
        "0 items, 0 dives logged.\n"
        "\n"
    )
    assert (ran.status, ran.err) == (0, "")


def test_replay_json_shows_every_message(run, season):
    ran = run("replay", season, "--json")
    assert [json.loads(line) for line in ran.out.splitlines()] == [
        {
            "at": "2026-06-10T12:00:00+00:00",
            "chat": "deck",
            "kind": "reply",
            "text": "Logged: 2 dives, today, salt water. 2 dives in all.\n"
            "Your kit is still empty, so nothing can fall due. "
            "Add it like: add dry suit, plastic zip, latex seals",
            "buttons": ["Add kit", "Undo"],
            "files": [],
            "data": {"intent": "log_dive", "dives": 2, "on": "2026-06-10", "total": 2, "due_now": []},
        },
        {
            "at": "2026-06-10T12:01:00+00:00",
            "chat": "deck",
            "kind": "reply",
            "text": "Taken back: dive log.\n0 items, 0 dives logged.",
            "buttons": [],
            "files": [],
            "data": {"intent": "undo", "undone": "log_dive"},
        },
    ]


def test_replay_dash_reads_standard_input(run, season):
    lines = Path(season).read_text(encoding="utf-8")
    assert run("replay", "-", "--json", stdin=lines).out == run("replay", season, "--json").out


def test_replay_on_a_database_keeps_what_was_said(run, season, database, tmp_path):
    later = write_lines(
        tmp_path / "later.jsonl", {"at": "2026-06-11T12:00:00Z", "chat": "deck", "text": "2 dives today"}
    )
    totals = [
        json.loads(run("replay", file, "--json", "--db", database).out.splitlines()[-1])["data"].get("total")
        for file in (season, later, later)
    ]
    assert totals == [None, 2, 4]


@pytest.mark.parametrize("content", ["", "\n\n  \n"])
def test_replay_of_an_empty_file_prints_nothing(run, tmp_path, content):
    path = tmp_path / "empty.jsonl"
    path.write_text(content, encoding="utf-8")
    ran = run("replay", str(path))
    assert (ran.status, ran.out, ran.err) == (0, "", "")


LINES = {
    "not_json": ('{"at":', "line 2 is not JSON: Expecting value"),
    "no_zone": (
        '{"at": "2026-06-10T12:00:00", "chat": "deck", "text": "help"}',
        "line 2: at: Input should have timezone info",
    ),
    "no_time": ('{"chat": "deck", "text": "help"}', "line 2: at: Field required"),
    "no_chat": (
        '{"at": "2026-06-10T12:00:00Z", "text": "help"}',
        "line 2: line: Value error, a line that says something names its chat",
    ),
    "text_and_tap": (
        '{"at": "2026-06-10T12:00:00Z", "chat": "deck", "text": "help", "tap": "Undo"}',
        "line 2: line: Value error, a line has one of text, tap and file",
    ),
    "file": (
        '{"at": "2026-06-10T12:00:00Z", "chat": "deck", "file": "log.uddf"}',
        "there is no file log.uddf",
    ),
    "unknown_field": (
        '{"at": "2026-06-10T12:00:00Z", "chat": "deck", "text": "help", "mood": 1}',
        "line 2: mood: Extra inputs are not permitted",
    ),
    "a_list": ("[]", "line 2: line: Input should be a valid dictionary or instance of Line"),
    "a_word": ('"help"', "line 2: line: Input should be a valid dictionary or instance of Line"),
}


@pytest.mark.sqlite
@pytest.mark.parametrize("name", LINES)
def test_replay_with_a_bad_line_is_refused_before_anything_acts(run, tmp_path, database, name):
    line, reason = LINES[name]
    path = tmp_path / "bad.jsonl"
    path.write_text(
        f'{{"at": "2026-06-10T12:00:00Z", "chat": "deck", "text": "2 dives today"}}\n{line}\n',
        encoding="utf-8",
    )
    before = path_of(database).read_bytes()
    ran = run("replay", str(path), "--db", database)
    assert (ran.status, ran.out, ran.err) == (2, "", f"rinsetank: {reason}\n")
    assert path_of(database).read_bytes() == before


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-12:00"])
def test_replay_with_a_moment_outside_the_calendar_is_refused(run, tmp_path, at):
    path = write_lines(tmp_path / "far.jsonl", {"at": at, "chat": "deck", "text": "help"})
    assert run("replay", path).is_refusal


def test_replay_with_half_a_surrogate_pair_ends_without_a_trace(run, tmp_path):
    path = write_lines(
        tmp_path / "half.jsonl", {"at": "2026-06-10T12:00:00Z", "chat": "deck", "text": "\ud800 neck ring?"}
    )
    assert run("replay", path, "--json").status in {0, 2}


def test_replay_of_an_unreadable_file_is_refused(run, tmp_path):
    missing, latin = tmp_path / "missing.jsonl", tmp_path / "latin.jsonl"
    latin.write_bytes(b'{"text": "\xe9"}\n')
    assert [run("replay", str(p)).err for p in (missing, tmp_path, latin)] == [
        f"rinsetank: cannot read {missing}: No such file or directory\n",
        f"rinsetank: cannot read {tmp_path}: Is a directory\n",
        f"rinsetank: cannot read {latin}: it is not UTF-8 text\n",
    ]
    assert [run("replay", str(p)).status for p in (missing, tmp_path, latin)] == [2, 2, 2]


@pytest.mark.parametrize("args", [("ask", "-"), ("understand", "-")])
def test_standard_input_that_is_not_utf8_is_answered_kindly(run, args):
    ran = run(*args, stdin=b"\xff\xfe\n")
    assert (ran.status, ran.err, len(ran.out.splitlines())) == (0, "", 1)


def test_replay_of_standard_input_that_is_not_utf8_is_refused(run):
    assert run("replay", "-", stdin=b"\xff\xfe\n").is_refusal


# demo, chat


def test_demo_plays_its_season_and_leaves_its_pictures(run, tmp_path):
    ran = run("demo", "--files", str(tmp_path / "drawn"))
    said = [line.split("  Mara: ")[1] for line in ran.out.splitlines() if "  Mara: " in line]
    assert (ran.status, ran.err, said) == (0, "", [text for _, text in SEASON])
    assert "Rinse Tank (reminder):" in ran.out
    assert not [bad for bad in ("went wrong", "did not get", "too old", "cannot be") if bad in ran.out]
    assert {"due-board.png", "pocket-card.pdf"} <= {path.name for path in (tmp_path / "drawn").iterdir()}


def test_chat_with_piped_lines_answers_and_keeps_them(run, database):
    said = "add dry suit, plastic zip, latex seals\n\nshow kit\nquit\nadd scooter\n"
    ran = run("chat", "--db", database, stdin=said)
    first, second = ran.out.split("> ")[1:]
    assert (ran.status, ran.err) == (0, "")
    assert first.splitlines()[:2] == ["add dry suit, plastic zip, latex seals", "Added: dry suit."]
    assert second == (
        "show kit\n1 item, 0 dives logged.\n- dry suit (plastic zip, latex seals): 0 dives\n[1] dry suit  [2] Pocket card\n\n"
    )
    assert run("chat", "--db", database, stdin="show kit").out == f"> {second}"


def test_chat_without_db_uses_the_data_folder(run, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert run("chat", stdin="add scooter\n").status == 0
    assert (tmp_path / "data" / "rinsetank" / "rinsetank.db").is_file()


def test_chat_uses_the_database_of_the_settings(run, database, monkeypatch, tmp_path):
    monkeypatch.setenv("RINSETANK_DB", database)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    run("chat", stdin="add scooter\n")
    assert "- scooter: 0 dives" in run("chat", "--db", database, stdin="show kit\n").out
    assert not (tmp_path / "data").exists()


# doctor


NO_WIRES = [
    "ok    access: open, and no wire is on",
    "ok    wires: none is on: set credentials to talk from a phone",
]


@pytest.mark.sqlite
def test_doctor_on_a_sound_place_finds_all_well(run, database):
    before = path_of(database).read_bytes()
    ran = run("doctor", "--db", database)
    assert (ran.status, ran.err) == (0, "")
    assert [line.split(":")[0] for line in ran.out.splitlines()] == [
        "ok    clock",
        "ok    time zone",
        "ok    reader",
        "ok    database",
        "ok    reminders",
        "ok    set aside",
        "ok    disk",
        "ok    backup",
        "ok    kept",
        "ok    access",
        "ok    wires",
    ]
    told = ran.out.splitlines()
    assert told[3:5] == [
        f"ok    database: schema {SCHEMA}, a row was written and taken back",
        "ok    reminders: none waiting",
    ]
    assert told[-len(NO_WIRES) :] == NO_WIRES
    assert path_of(database).read_bytes() == before


def test_doctor_with_an_unknown_zone_says_how_to_set_it(run, database, monkeypatch):
    monkeypatch.setenv("RINSETANK_ZONE", "Mars/Olympus")
    ran = run("doctor", "--db", database)
    assert (ran.status, ran.err) == (
        2,
        "rinsetank: setting RINSETANK_ZONE: Value error, 'Mars/Olympus' is no time zone I know: try Europe/Berlin\n",
    )


# databases that cannot be used


@pytest.fixture
def broken(request, tmp_path, template, monkeypatch):
    """Return the URL of a database that cannot be used, and what is said of it."""
    path, holder = tmp_path / "broken.db", None
    url = f"sqlite:///{path}"
    match request.param:
        case "not_a_database":
            path.write_bytes(b"no database, only words\n" * 200)
            reason = f"{url} is not a database file"
        case "newer":
            shutil.copy(template, path)
            _sql(path, "UPDATE alembic_version SET version_num = '9999'")
            reason = (
                f"the database is newer (schema 9999) than this program (schema {SCHEMA}): update the program"
            )
        case "stranger":
            _sql(path, "PRAGMA journal_mode=WAL", "CREATE TABLE page (body)")
            reason = "that database belongs to another program: it holds tables but no schema version"
        case "missing_folder":
            url = f"sqlite:///{tmp_path}/no/such/broken.db"
            reason = f"cannot use the database {url}: unable to open database file"
        case "a_folder":
            path.mkdir()
            reason = f"cannot use the database {url}: unable to open database file"
        case "locked":
            shutil.copy(template, path)
            monkeypatch.setattr("store.engine._BUSY_MS", 20)
            holder = sqlite3.connect(path)
            holder.execute("BEGIN EXCLUSIVE")
            reason = f"the database {url} is locked by another program: close that one and try again"
    yield url, reason
    if holder:
        holder.close()


def _sql(path: Path, *statements: str) -> None:
    connection = sqlite3.connect(path)
    for statement in statements:
        connection.execute(statement)
    connection.commit()
    connection.close()


BROKEN = ["not_a_database", "newer", "stranger", "missing_folder", "a_folder", "locked"]


@pytest.mark.parametrize("broken", BROKEN, indirect=True)
@pytest.mark.parametrize("command", ["chat", "replay"])
def test_database_that_cannot_be_used_is_refused_and_left_as_it_was(run, broken, command, season):
    url, reason = broken
    before = path_of(url).read_bytes() if path_of(url).is_file() else None
    ran = run(command, *([season] if command == "replay" else []), "--db", url, stdin="2 dives today\n")
    assert (ran.status, ran.out, ran.err) == (2, "", f"rinsetank: {reason}\n")
    assert (path_of(url).read_bytes() if path_of(url).is_file() else None) == before


@pytest.mark.parametrize("broken", BROKEN, indirect=True)
def test_doctor_on_a_database_that_cannot_be_used_says_what_to_mend(run, broken):
    url, reason = broken
    ran = run("doctor", "--db", url)
    assert (ran.status, ran.err, ran.out.splitlines()[3:]) == (
        2,
        "",
        [f"MEND  database: {reason}", *NO_WIRES],
    )


def test_database_of_another_program_keeps_its_journal_mode(run, tmp_path):
    path = tmp_path / "other.db"
    _sql(path, "CREATE TABLE page (body)")
    before = path.read_bytes()
    assert run("chat", "--db", f"sqlite:///{path}").is_refusal
    assert path.read_bytes() == before


URLS = {
    "words": "'words' is no database URL: say it like sqlite:///kit.db",
    "://": "'://' is no database URL: say it like sqlite:///kit.db",
    "nosuch://here": "'nosuch://here' is no database URL: say it like sqlite:///kit.db",
    "sqlite://host/kit.db": "'sqlite://host/kit.db' is no database URL: say it like sqlite:///kit.db",
    "mysql://here": "the driver for that database is not installed: MySQLdb",
}


@pytest.mark.parametrize("url", URLS)
@pytest.mark.parametrize("command", ["chat", "replay"])
def test_malformed_url_is_refused(run, url, command, season):
    ran = run(command, *([season] if command == "replay" else []), "--db", url)
    assert (ran.status, ran.out, ran.err) == (2, "", f"rinsetank: {URLS[url]}\n")


@pytest.mark.parametrize("url", URLS)
def test_doctor_with_a_malformed_url_says_what_to_mend(run, url):
    ran = run("doctor", "--db", url)
    assert (ran.status, ran.err, ran.out.splitlines()[3:]) == (
        2,
        "",
        [f"MEND  database: {URLS[url]}", *NO_WIRES],
    )


@pytest.mark.parametrize("url", ["postgresql://here:port/kit", "sqlite:///kit.db?timeout=soon"])
def test_url_with_a_bad_port_or_option_is_refused(run, url, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert run("chat", "--db", url).is_refusal


# misuse of the command line


@pytest.mark.parametrize(
    "args",
    [
        ("frobnicate",),
        ("--frobnicate",),
        ("ask",),
        ("ask", "one", "two"),
        ("ask", NECK_RING, "--frobnicate"),
        ("ask", NECK_RING, "--json=maybe"),
        ("understand",),
        ("understand", "undo", "--now"),
        ("replay",),
        ("chat", "--db"),
        ("chat", "extra"),
        ("doctor", "extra"),
        ("demo", "extra"),
    ],
    ids=" ".join,
)
def test_misuse_is_refused_in_one_line(run, args):
    assert run(*args).is_refusal


def test_no_command_shows_the_commands(run):
    ran = run()
    assert ran.status in {0, 2}
    assert "Commands:" in ran.out + ran.err


def test_help_lists_every_command(run):
    ran = run("--help")
    commands = ran.out.split("Commands:\n")[1].splitlines()
    assert (ran.status, ran.err) == (0, "")
    assert [line.split()[0] for line in commands if line.strip()] == [
        "ask",
        "understand",
        "chat",
        "replay",
        "demo",
        "import",
        "export",
        "serve",
        "doctor",
        "backup",
        "restore",
        "move",
    ]


# as a program of its own


def script(*args: str, stdin: bytes = b"", **env: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [SCRIPT, *args], input=stdin, capture_output=True, check=False, timeout=120, env={**os.environ, **env}
    )


def test_script_ask_answers(run):
    ran = script("ask", "-", stdin=NECK_RING.encode())
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert json.loads(ran.stdout) == json.loads(run("ask", NECK_RING, "--json").out)


def test_script_replay_reads_standard_input(run, season):
    ran = script("replay", "-", "--json", stdin=Path(season).read_bytes())
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert ran.stdout.decode() == run("replay", season, "--json").out


def test_script_refusal_is_one_line(tmp_path):
    ran = script("replay", str(tmp_path / "missing.jsonl"))
    assert (ran.returncode, ran.stdout, ran.stderr.decode()) == (
        2,
        b"",
        f"rinsetank: cannot read {tmp_path / 'missing.jsonl'}: No such file or directory\n",
    )


def test_script_misuse_is_one_line():
    ran = script("ask", NECK_RING, "--frobnicate")
    assert (ran.returncode, ran.stdout, ran.stderr.count(b"\n"), ran.stderr[:10]) == (
        2,
        b"",
        1,
        b"rinsetank:",
    )


def test_script_chat_in_memory_works_or_is_refused_in_one_line():
    ran = script("chat", "--db", "sqlite://", stdin=b"help\n")
    assert (ran.returncode, ran.stderr) == (0, b"") or (ran.returncode, ran.stderr.count(b"\n")) == (2, 1)


def test_ask_starts_without_database_wire_and_scheduler():
    heavy = "telegram sqlalchemy sqlmodel alembic apscheduler prompt_toolkit dateparser"
    code = (
        "import sys\n"
        "from bot.cli import main\n"
        "try:\n"
        f"    main(['ask', {NECK_RING!r}, '--json'])\n"
        "except SystemExit as ended:\n"
        "    assert ended.code == 0\n"
        "loaded = {name.partition('.')[0] for name in sys.modules}\n"
        f"print(sorted(loaded & set({heavy!r}.split())), 'bot' in loaded)\n"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    assert ran.stdout.splitlines()[1] == "[] True"


LOG = "date,time,duration,max depth\n2026-06-01,10:00,45,30\n2026-06-02,10:00,50,25\n"


@pytest.fixture
def exported(run, tmp_path, database):
    """Import two dives and export all data to a file."""
    log, file = tmp_path / "log.csv", tmp_path / "data.json"
    log.write_text(LOG)
    run("import", str(log), "--yes", "--db", database)
    ran = run("export", str(file), "--db", database)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out == f"All data of your own locker: 0 items, 2 dives, 0 acts of care.\n[file] {file}\n"
    return file


def test_export_and_import_into_an_empty_database_give_the_same_file(run, exported, tmp_path):
    other, again = f"sqlite:///{tmp_path}/other.db", tmp_path / "again.json"
    ran = run("import", str(exported), "--yes", "--db", other)
    assert (ran.status, "Taken in: 0 items, 2 dives" in ran.out, "Go on in" in ran.out) == (0, True, False)
    run("export", str(again), "--db", other)
    assert again.read_bytes() == exported.read_bytes()


def test_import_of_data_into_a_locker_that_is_not_empty_waits_for_the_button(run, exported, database):
    ran = run("import", str(exported), "--yes", "--db", database)
    assert (ran.status, "Taken in" in ran.out) == (0, False)
    assert ran.out.endswith("Go on in: rinsetank chat (the buttons above wait there).\n")


def test_export_never_writes_over_a_file(run, exported, database):
    before = exported.read_bytes()
    ran = run("export", str(exported), "--db", database)
    assert ran.is_refusal
    assert "is there already: name another file, or remove it first" in ran.err
    assert exported.read_bytes() == before


def test_export_into_a_folder_that_is_not_there_says_so(run, tmp_path, database):
    ran = run("export", str(tmp_path / "none" / "data.json"), "--db", database)
    assert ran.is_refusal
    assert "No such file or directory" in ran.err


def test_export_of_tables_is_a_zip(run, tmp_path, database):
    assert run("export", "--csv", str(tmp_path / "tables.zip"), "--db", database).status == 0
    assert zipfile.is_zipfile(tmp_path / "tables.zip")
