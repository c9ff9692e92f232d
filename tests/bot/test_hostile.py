"""What somebody in a club, or a hostile server, could try that no test of a single part looks at."""

import json
from pathlib import Path

import pytest
import structlog
from sqlmodel import select

from bot.conversation import Conversation, Update
from bot.files import Folder
from bot.handle import room
from bot.main import set_up_logging, token
from bot.replies import File
from bot.updates import well_formed
from store import archives
from store.exchange.archive import dump
from store.tables import Button, Chat, Item, OwnWord
from tests.conftest import START

CLUB = "!club:reef.example"
HALF = "\ud83e"
"""Half of a sign of two: JSON can hold it alone, and no database, hash or wire takes it."""


@pytest.mark.parametrize(
    "said",
    [
        {"text": f"add scooter called {HALF}Otter"},
        {"text": HALF},
        {"tap": HALF},
        {"tap_label": HALF},
        {"file": (f"{HALF}.csv", b"date,time\n2026-06-01,10:15\n")},
        {"cannot": f"I cannot read {HALF}."},
        {"text": "help", "actor": f"mara{HALF}", "actor_name": HALF},
        {"text": "help", "chat": HALF, "topic": HALF},
        {"tap_place": 0, "under": HALF},
    ],
    ids=lambda said: ascii(said)[:40],
)
@pytest.mark.parametrize("by_post", [True, False])
def test_half_a_sign_is_answered_like_any_other_text(store, said, by_post):
    at = {"wire": "boat", "chat": "mara", "actor": "mara", "at": START, "update_id": f"1{HALF}"}
    with structlog.testing.capture_logs() as logged:
        answer = Conversation(store, token).take(
            Update(**(at | {"message": f"m{HALF}", "by_post": by_post} | said))
        )
    assert logged == []
    assert answer is not None
    assert answer.reply.first == well_formed(answer.reply.first)


def test_halves_that_belong_together_become_the_sign():
    assert well_formed("a\ud83e\udd3fb") == "a🤿b"
    assert well_formed("\udd3f\ud83e") == "\ufffd\ufffd"
    assert well_formed("Møn 🤿") == "Møn 🤿"


# --- in a club ------------------------------------------------------------------------------------------------------------


class Club:
    """A group with a locker of its own: Mara owns it, Ola is a member."""

    def __init__(self, store):
        self.store, self.conversation, self.n = store, Conversation(store, token), 0
        self.say("mara", "help")
        self.say("ola", "help")

    def take(self, who, chat=CLUB, **said):
        self.n += 1
        update = Update(
            "boat",
            chat,
            who,
            START,
            update_id=str(self.n),
            actor_name=who.title(),
            group=chat == CLUB,
            **said,
        )
        answer = self.conversation.take(update)
        assert answer is not None
        return answer.reply

    def say(self, who, text, chat=CLUB):
        return self.take(who, chat, text=text)

    def tap(self, who, label):
        return self.take(who, tap_label=label)

    def chat(self):
        return self.store.read(lambda s: s.exec(select(Chat).where(Chat.address == CLUB)).one().model_dump())

    def words(self):
        return self.store.read(lambda s: [(w.word, w.substance) for w in s.exec(select(OwnWord))])


@pytest.fixture
def club(store):
    return Club(store)


@pytest.fixture
def silent(club):
    """Return a file of all data whose wishes are no reminders at all."""
    for said in ("reminders off", "add reel", "call this locker Ola's own"):
        club.say("ola", said, "ola")

    def work(session):
        chat = session.exec(select(Chat).where(Chat.address == "ola")).one()
        return dump(archives.export(session, chat.locker_id, chat, "boat:ola"))

    return club.store.read(work)


def test_member_brings_no_wishes_into_a_group_by_a_file(club, silent):
    before = club.chat()
    shown = club.take("ola", file=("data.json", silent))
    assert [o.label for o in shown.offers] == ["Drop it"]
    assert club.chat() | {"batch": 0} == before | {"batch": 0}
    assert before["reminders"] is True


def test_member_does_not_tap_the_file_of_the_owner_in(club, silent):
    shown = club.take("mara", file=("data.json", silent))
    assert "Take it in" in [o.label for o in shown.offers]
    assert (
        club.tap("ola", "Take it in").first == "Only the owner or somebody they named can take that file in."
    )
    assert club.chat()["reminders"] is True
    assert club.tap("mara", "Take it in").first.startswith("Taken in: 1 item")


def test_member_gives_no_word_of_others_another_meaning(club):
    club.say("ola", "goo is silicone grease")
    club.say("mara", "gunk is silicone grease")
    assert club.words() == [("goo", "silicone_grease"), ("gunk", "silicone_grease")]
    refused = club.say("ola", "gunk is PFPE grease")
    assert refused.first.startswith("Only Mara")
    assert club.say("ola", "gunk is silicone grease").first == "Remembered: gunk is silicone grease."
    assert club.words() == [("goo", "silicone_grease"), ("gunk", "silicone_grease")]
    club.say("mara", "gunk is PFPE grease")
    assert club.words()[1] == ("gunk", "pfpe_grease")


def test_locker_has_an_end(club, monkeypatch):
    monkeypatch.setattr(room, "MOST_ITEMS", 5)
    monkeypatch.setattr(room, "MOST_DIVES", 3)
    club.say("mara", "add 3 reels, torch")
    refused = club.say("ola", "add 2 scooters")
    assert refused.first == "A locker holds up to 5 items, so nothing was added."
    assert club.say("ola", "add scooter").first.startswith("Added: scooter")
    assert len(club.store.read(lambda s: s.exec(select(Item)).all())) == 5
    rows = b"".join(b"2026-06-0%d,10:15\n" % n for n in range(1, 5))
    club.take("ola", file=("log.csv", b"date,time\n" + rows))
    assert club.tap("ola", "Count 4 dives").first == "A locker holds up to 3 dives, so none was counted."


# --- after an update of the program ---------------------------------------------------------------------------------------


def test_button_and_question_of_an_older_program_stop_no_chat(club):
    club.say("mara", "what goes on a neck ring?")

    def age(session):
        for button in session.exec(select(Button)):
            button.intent = {"intent": "polish", "item": 1}
            session.add(button)
        for chat in session.exec(select(Chat)):
            chat.last_intent = {"by": "boat:mara", "asked": {"intent": "polish"}}
            session.add(chat)

    club.say("mara", "help")
    club.store.write(age)
    assert club.tap("mara", "Show kit").first == "That button is too old or not from this chat."
    club.store.write(age)
    assert club.say("mara", "why?").first != "Something went wrong on my side. Nothing was changed."
    assert club.say("mara", "add scooter").first.startswith("Added: scooter")


# --- the log, the disk ----------------------------------------------------------------------------------------------------


def test_log_of_a_fault_is_one_line_whatever_a_server_sends(store, capsys, monkeypatch):
    forged = 'x\n{"event": "all_is_well", "level": "error"}\r\u2028\x1b[2J'

    def fails(*_):
        raise RuntimeError(forged)

    set_up_logging("ERROR")  # onto the standard error that is looked at
    monkeypatch.setattr("bot.conversation.handle", fails)
    Conversation(store, token).take(Update("boat", forged, forged, START, text="help", update_id=forged))
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert json.loads(said)["event"] == "update_failed"
    assert "\x1b" not in said


@pytest.mark.parametrize("anew", [True, False])
@pytest.mark.parametrize(
    "name", ["../../out.txt", "/etc/out.txt", "a/../../out.txt", "..", ".", "", "a\x00b.txt", "/"]
)
def test_file_is_written_into_its_folder_whatever_its_name(tmp_path, name, anew):
    folder = tmp_path / "deep" / "sent"
    path = Folder(folder, anew=anew).save(File(name, "text/plain", b"hello"))
    assert path.resolve().parent == folder.resolve()
    assert [p.relative_to(tmp_path).parts[:2] for p in tmp_path.rglob("*") if p.is_file()] == [
        ("deep", "sent")
    ]
    assert path.read_bytes() == b"hello"


@pytest.mark.sqlite
def test_stolen_database_holds_no_code_and_no_word_that_was_said(club, store):
    code = club.say("mara", "share this locker").data["code"]
    club.say("ola", "quillfish quillfish, what goes on a latex seal?")
    club.say("ola", "brushed the quillfish")
    path = Path(store.url.removeprefix("sqlite:///"))
    store.close()
    held = b"".join(p.read_bytes() for p in path.parent.glob(f"{path.name}*"))
    assert b"boat:ola" in held
    assert code.encode() not in held
    assert code.replace("-", "").encode() not in held
