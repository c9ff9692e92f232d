"""A file that cannot be written, is full or is damaged: said kindly, nothing half stored, nothing destroyed.

What else a file can be (no database, a stranger's, of a newer program, locked, a folder) is in `tests/store/test_engine.py`.
"""

import io
import os
import pwd
import random
import shutil
import sqlite3
import stat
import subprocess
import tempfile
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import event
from sqlmodel import select

from bot.cli import main
from bot.conversation import Conversation
from bot.main import token
from store.engine import SCHEMA, Store, sqlite_url
from store.errors import StoreError
from store.tables import Locker
from tests.doses import doses

from .script import reference, say, script, state

EACH = 7
PAGE = 4096


@pytest.fixture(scope="module")
def lived_in(template, tmp_path_factory) -> Path:
    """Return a database in which a chat has said what it had to say."""
    path = tmp_path_factory.mktemp("lived in") / "kit.db"
    shutil.copy(template, path)
    with closing(Store(sqlite_url(path))) as store:
        say(store, script(1, EACH)["c0"])
    return path


@pytest.fixture
def kit(lived_in, tmp_path) -> Path:
    """Return a copy of it in a folder of its own."""
    (tmp_path / "kit").mkdir()
    return Path(shutil.copy(lived_in, tmp_path / "kit" / "kit.db"))


def held(path) -> bool:
    """Tell whether all that was said is in there, and the file is whole."""
    with closing(sqlite3.connect(path)) as look:
        assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    with closing(Store(sqlite_url(path))) as store:
        return store.read(lambda s: state(s, "c0")) == reference(1, EACH)["c0"][-1]


# --- damaged -----------------------------------------------------------------------------------------------------------


def _random(count: int) -> bytes:
    return random.Random(1).randbytes(count)


DAMAGE = {
    "first bytes": lambda whole: bytes(16) + whole[16:],
    "page size": lambda whole: whole[:16] + b"\0\1" + whole[18:],
    "first page": lambda whole: whole[:100] + _random(PAGE - 100) + whole[PAGE:],
    "all but the first page": lambda whole: whole[:PAGE] + _random(len(whole) - PAGE),
    "cut in half": lambda whole: whole[: len(whole) // 2 // PAGE * PAGE],
    "cut within the first page": lambda whole: whole[:1000],
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damaged_file_is_refused_in_one_line_and_left_as_it_is(kit, capsys, monkeypatch, damage):
    kit.write_bytes(DAMAGE[damage](kit.read_bytes()))
    before = kit.read_bytes()
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"show kit\n")))
    with pytest.raises(SystemExit) as ended:
        main(["chat", "--db", sqlite_url(kit)])
    out, err = capsys.readouterr()
    assert (ended.value.code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith("rinsetank: ")
    assert ("is not a database file" in err) == (damage == "first bytes")
    assert kit.read_bytes() == before


@doses(8, 25)
def test_end_of_the_log_that_was_torn_off_takes_only_what_was_not_stored_whole(kit, dose):
    """A copy made while it is in use, cut anywhere in its write-ahead log: it holds the first so many messages."""
    kit.unlink()
    with closing(Store(sqlite_url(kit))) as store:
        store.write(lambda s: s.connection().exec_driver_sql("PRAGMA wal_autocheckpoint=0"))
        say(store, script(1, EACH)["c0"])
        file, log = kit.read_bytes(), Path(f"{kit}-wal").read_bytes()
    assert len(log) > 10 * PAGE
    come_to = set()
    for cut in sorted(random.Random(1).sample(range(len(log)), dose)):
        torn = kit.with_name(f"torn {cut}.db")
        torn.write_bytes(file)
        Path(f"{torn}-wal").write_bytes(log[:cut])
        try:
            with closing(Store(sqlite_url(torn))) as store:
                found = store.read(lambda s: state(s, "c0"))
        except StoreError as error:
            raise AssertionError(f"cut at {cut}: {error}") from error
        assert found == reference(1, EACH)["c0"][found.acted]
        come_to.add(found.acted)
    assert len(come_to) > EACH // 2


def test_empty_file_beside_the_log_of_a_full_one_is_refused(kit):
    with closing(Store(sqlite_url(kit))) as store:
        say(store, script(1, EACH + 1)["c0"][EACH:])
        log = Path(f"{kit}-wal").read_bytes()
    assert log
    kit.write_bytes(b"")
    Path(f"{kit}-wal").write_bytes(log)
    with pytest.raises(StoreError):
        Store(sqlite_url(kit))
    assert Path(f"{kit}-wal").read_bytes() == log


def test_damage_found_in_the_middle_is_trouble_of_the_database(kit):
    with closing(sqlite3.connect(kit)) as look:
        root = look.execute("SELECT rootpage FROM sqlite_master WHERE name = 'locker'").fetchone()[0]
    whole = kit.read_bytes()
    kit.write_bytes(whole[: (root - 1) * PAGE] + _random(PAGE) + whole[root * PAGE :])
    with closing(Store(sqlite_url(kit))) as store:
        assert _taken(store, script(1, EACH + 1)["c0"][EACH].update()) == REFUSED[1]
        with pytest.raises(StoreError, match="is damaged: put a backup back"):
            store.read(lambda s: s.exec(select(Locker)).all())


def test_newer_database_beside_which_stands_a_log_is_refused_before_anything_is_written(kit):
    with closing(sqlite3.connect(kit)) as other:
        other.execute("PRAGMA journal_mode=wal")
        other.execute("UPDATE alembic_version SET version_num = '9999'")
        other.commit()
        log = Path(f"{kit}-wal")
        before = (kit.read_bytes(), log.read_bytes())
        with pytest.raises(StoreError, match=f"newer .schema 9999. than this program .schema {SCHEMA}"):
            Store(sqlite_url(kit))
        assert (kit.read_bytes(), log.read_bytes()) == before
        assert before[1], "the version stands in the log alone"


# --- not to be written ------------------------------------------------------------------------------------------------


@pytest.fixture
def open_kit(lived_in):
    """Return a copy where everybody may go."""
    with tempfile.TemporaryDirectory(prefix="rinsetank-o-") as folder:
        Path(folder).chmod(0o755)
        yield Path(shutil.copy(lived_in, Path(folder) / "kit.db"))
        Path(folder).chmod(0o755)


MODES = {
    "file": (0o444, 0o777, "I cannot reach my records just now, so nothing was changed."),
    "folder": (0o666, 0o555, "the database {url} is read-only: nothing was stored"),
    "file and folder": (0o444, 0o555, "the database {url} is read-only: nothing was stored"),
    "not even to be read": (0o000, 0o555, "cannot use the database {url}: unable to open database file"),
}
"""Mode of the file, mode of its folder, and what is said: at the start, or to a message where that went well."""


@pytest.mark.parametrize("what", MODES)
def test_file_that_may_not_be_written_is_said_and_left_as_it_is(nursery, open_kit, what):
    mode, of_folder, expected = MODES[what]
    before = open_kit.read_bytes()
    open_kit.chmod(mode)
    open_kit.parent.chmod(of_folder)
    user = pwd.getpwnam("nobody").pw_uid if os.geteuid() == 0 else None
    job = {"work": "talk", "url": sqlite_url(open_kit), "user": user, "text": "add bag"}
    life = nursery.live(job, [], random.Random(1))
    open_kit.parent.chmod(0o755)
    open_kit.chmod(stat.S_IRUSR | stat.S_IWUSR)
    assert life.said == expected.format(url=sqlite_url(open_kit))
    assert open_kit.read_bytes() == before


def test_file_that_becomes_read_only_stores_nothing_half_and_goes_on_when_it_is_not(kit):
    said = script(1, EACH + 1)["c0"][EACH:]
    with closing(Store(sqlite_url(kit))) as store:

        def forbid(connection) -> None:
            connection.exec_driver_sql("PRAGMA query_only=ON")

        event.listen(store._engine, "begin", forbid)
        with pytest.raises(StoreError, match="is read-only: nothing was stored"):
            say(store, said)
        event.remove(store._engine, "begin", forbid)
        store._engine.dispose()
        assert held(kit)
        say(store, said)
        assert store.read(lambda s: state(s, "c0")) == reference(1, EACH + 1)["c0"][-1]


# --- full --------------------------------------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path):
    """Mount a file system of 2 MB, where this may be done."""
    folder = tmp_path / "small disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(folder)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode != 0:
        pytest.skip("a file system can be mounted by root alone")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_disk_that_is_full_stores_nothing_half_and_goes_on_when_there_is_room(lived_in, small_disk):
    """A message that finds no room is refused to the wire, or answered with the request to send it again."""
    kit, ballast = Path(shutil.copy(lived_in, small_disk / "kit.db")), small_disk / "ballast"
    said, states, n = script(1, 40)["c0"], reference(1, 40)["c0"], EACH
    told = []
    with closing(Store(sqlite_url(kit))) as store:

        def facts() -> tuple[str, str]:
            found = store.read(lambda s: state(s, "c0"))
            return found.facts, found.due

        for room in (80_000, 40_000, 20_000, 0):
            free = os.statvfs(small_disk)
            ballast.write_bytes(bytes(max(0, free.f_bavail * free.f_frsize - room)))
            while (answer := _taken(store, said[n].update())) not in REFUSED:
                n += 1
            told.append(answer)
            assert facts() == (states[n].facts, states[n].due), "it can still be read, as it was"
            ballast.unlink()
            again = replace(said[n].update(), update_id=f"again {n}")
            assert _taken(store, again) not in REFUSED
            n += 1
            assert facts() == (states[n].facts, states[n].due)
    with closing(sqlite3.connect(kit)) as look:
        assert look.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    print(f"\nfull disk: {n} messages acted, each once; {len(told)} refused ({told.count(None)} to the wire)")


REFUSED = (None, "I cannot reach my records just now, so nothing was changed.")


def _taken(store, update) -> str | None:
    """Return what is answered to an update, None if it is refused to the wire, which brings it again."""
    try:
        return Conversation(store, token).take(update).reply.first
    except StoreError as error:
        return None if "no space left for the database" in str(error) else str(error)


def test_database_that_may_not_grow_stores_nothing_half_and_goes_on_when_it_may(kit):
    said, states, n = script(1, 40)["c0"], reference(1, 40)["c0"], EACH
    with closing(Store(sqlite_url(kit))) as store:

        def most(pages: int) -> int:
            return store.write(
                lambda s: s.connection().exec_driver_sql(f"PRAGMA max_page_count={pages}").scalar_one()
            )

        most(1)  # which is: as large as it is
        while _taken(store, said[n].update()) not in REFUSED:
            n += 1
        found, was = store.read(lambda s: state(s, "c0")), states[n]
        assert (found.facts, found.due) == (was.facts, was.due)
        most(1_000_000)
        told = found.acted > was.acted  # there was room left to say so: the diver says it again
        say(store, [replace(said[n], number=len(said)) if told else said[n], *said[n + 1 :]])
        found, last = store.read(lambda s: state(s, "c0")), states[-1]
        assert (found.due, found.acted) == (last.due, last.acted + told)
        assert told or found.facts == last.facts  # which hold the number of the message
