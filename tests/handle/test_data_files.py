"""All data as a file and back, through the conversation. The format itself is tested in tests/store/exchange."""

import io
import json
import zipfile

import pytest

from bot.conversation import Conversation, Update
from bot.main import token
from store.engine import Store, sqlite_url

LINES = (
    "zone Europe/Berlin",
    "I live in Germany",
    "reminders at 19:30",
    "add dry suit, plastic zip, latex seals",
    "add twinset 32%",
    "twinset hydro tested May 2024",
    "add regulator set, 32%",
    "2 dives on 5 June 2026, salt, 31 m, 45 min each, 7 degrees, sandy",
    "rinsed the regulator",
    "greased the regulator hose swivel with silicone grease",
    "the manual says PFPE grease on the regulator hose swivel",
    "goo is silicone grease",
    "trip 20 to 27 June, 14 dives, salt",
    "snooze 3 days",
    "board every sunday",
)


@pytest.fixture
def deck(talk):
    return talk.has_said(*LINES)


def content(reply):
    (file,) = reply.files
    return file.content


def send(talk, name, data, store=None):
    """Send a file into a chat and return the answer."""
    conversation = Conversation(store or talk.store, token)
    answer = conversation.take(Update("replay", talk.chat, "mara", talk.now, file=(name, data)))
    return answer.reply


def shown(talk):
    """Return what the bot says of the whole locker."""
    return [
        talk.say(q) for q in ("show kit", "what is due by 1 January 2027?", "show my dives", "trip", "board")
    ]


def test_export_tells_what_is_in_it_and_sends_one_file(deck):
    told = deck.say("export my data")
    assert told.first == "All data of your own locker: 3 items, 2 dives, 3 acts of care."
    assert [(f.name, f.mime) for f in told.files] == [("rinse-tank-data.json", "application/json")]
    assert json.loads(content(told))["format"] == "rinse-tank-data"


def test_wipe_and_import_give_the_same_bytes_and_the_same_answers(deck):
    before, answers = content(deck.say("export my data")), shown(deck)
    deck.say("forget me")
    deck.tap("Delete it all")
    deck.tap("Yes, for good")
    assert deck.say("show kit").first == "Your kit is empty. 0 dives logged."
    told = send(deck, "rinse-tank-data.json", before)
    assert told.first == "rinse-tank-data.json: all data of a locker, 3 items, 2 dives, 3 acts of care."
    assert told.lines == ("Nothing is changed yet.",)
    assert deck.say("show kit").first == "Your kit is empty. 0 dives logged."
    send(deck, "rinse-tank-data.json", before)
    assert deck.tap("Take it in").first == "Taken in: 3 items, 2 dives, 3 acts of care."
    assert content(deck.say("export my data")) == before
    for one, other in zip(answers, shown(deck), strict=True):
        assert (one.first, one.lines, one.cautions) == (other.first, other.lines, other.cautions)


def test_another_person_on_another_database_takes_it_in(deck, tmp_path, template):
    data = content(deck.say("export my data"))
    path = tmp_path / "other.db"
    path.write_bytes(template.read_bytes())
    other = Store(sqlite_url(path))
    try:
        conversation = Conversation(other, token)

        def say(**said):
            return conversation.take(Update("boat", "b1", "ilka", deck.now, **said)).reply

        say(text="hello")
        say(file=("data.json", data))
        assert say(tap_label="Take it in").first.startswith("Taken in: 3 items")
        assert content(say(text="export my data")) == data
    finally:
        other.close()


def test_reminders_go_on_after_an_import_at_the_hour_of_the_file(deck):
    data = content(deck.say("export my data"))
    deck.say("forget me")
    deck.tap("Delete it all")
    deck.tap("Yes, for good")
    send(deck, "data.json", data)
    deck.tap("Take it in")
    sent = deck.wait(days=6)
    assert sent
    assert {f"{s.at:%H:%M}" for s in sent if s.at.tzinfo} <= {
        "17:30",
        "16:00",
    }  # 19:30 in Berlin; the eve of the trip
    assert any(s.reply.data.get("board") for s in sent)


def test_locker_that_is_not_empty_is_replaced_only_by_its_own_button(deck):
    data = content(deck.say("export my data"))
    deck.say("add scooter")
    told = send(deck, "data.json", data)
    assert told.lines[0].startswith(
        "This locker is not empty (4 items). To take the file in deletes all that is here"
    )
    assert [o.label for o in told.offers] == ["Replace what is here", "Drop it", "Show kit"]
    deck.say("yes")
    assert deck.say("show kit").data["items"][-1] == "scooter"
    send(deck, "data.json", data)
    assert deck.tap("Replace what is here").first.startswith("Taken in: 3 items")
    assert "scooter" not in deck.say("show kit").data["items"]
    assert content(deck.say("export my data")) == data


def test_button_shown_on_an_empty_locker_does_not_replace_what_came_since(deck):
    data = content(deck.say("export my data"))
    fresh = deck.elsewhere("fresh")
    fresh.say("hello")
    send(fresh, "data.json", data)
    conversation = Conversation(fresh.store, token)
    conversation.take(Update("replay", "fresh", "mara", fresh.now, text="add scooter"))
    told = conversation.take(Update("replay", "fresh", "mara", fresh.now, tap_label="Take it in"))
    assert told.reply.first == "This locker is not empty any more, so nothing was changed."
    assert fresh.say("show kit").data["items"] == ["scooter"]


def test_dropped_file_leaves_nothing(deck):
    before = content(deck.say("export my data"))
    send(deck, "data.json", before)
    assert deck.tap("Drop it").first == "Dropped: nothing of it was taken in."
    assert content(deck.say("export my data")) == before
    assert (
        deck.store.read(lambda s: s.connection().exec_driver_sql("SELECT count(*) FROM dive_import").scalar())
        == 0
    )


def test_second_tap_says_that_it_was_dealt_with(deck):
    data = content(deck.say("export my data"))
    send(deck, "data.json", data)
    deck.tap("Replace what is here")
    assert deck.say("undo").first != "Taken back: import_dives."


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda d: d[:-20], "The file"),
        (lambda d: d.replace(b'"version": 1', b'"version": 99'), "update the program"),
        (lambda d: d.replace(b'"twinset"', b'"submarine"'), "items, number 2, kind"),
    ],
)
def test_spoiled_file_is_refused_kindly_and_changes_nothing(deck, spoil, said):
    before = content(deck.say("export my data"))
    told = send(deck, "data.json", spoil(before))
    assert said in told.first
    assert told.lines == ("Nothing was stored.",)
    assert content(deck.say("export my data")) == before


def test_tables_come_as_a_zip_whose_dives_can_be_read_again(deck):
    told = deck.say("export csv")
    assert told.first == "Your data as tables: 3 items, 2 dives, 3 acts of care."
    with zipfile.ZipFile(io.BytesIO(content(told))) as tables:
        assert "dives.csv" in tables.namelist()
        dives = tables.read("dives.csv")
    fresh = deck.elsewhere("fresh")
    fresh.say("add regulator set")
    assert send(fresh, "dives.csv", dives).first == "dives.csv: 2 dives, 2 new, 0 here already."


def test_every_name_of_a_stranger_stays_out_of_the_file(deck):
    text = content(deck.say("export my data")).decode()
    assert "replay:" not in text
    assert '"you": true' in text
