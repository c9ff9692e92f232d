"""Dives of a file: shown first, matched with the kit, counted on a tap, taken back whole."""

from datetime import timedelta

import pytest

from bot.files import read_file
from bot.replay import Line

HEAD = "date,time,duration,depth (m),water,kit\n"
ROWS = (
    "2026-06-01,10:15,42,24.6,salt,Regulator set|Blue suit\n"
    "2026-06-01,13:05,38,18,salt,Regulator set|Blue suit\n"
    "2026-06-03,09:40,55,31,fresh,Regulator set\n"
)
UDDF = """<?xml version="1.0"?>
<uddf xmlns="http://www.streit.cc/uddf/3.2/" version="3.2.3"><generator><name>sample</name></generator>
<diver><owner id="o"><personal><firstname>Ola</firstname><lastname>Testperson</lastname></personal>
<equipment><suit id="s"><name>Blue suit</name><suittype>dry-suit</suittype></suit></equipment></owner></diver>
<profiledata><repetitiongroup id="g"><dive id="d"><informationbeforedive><datetime>2026-06-02T10:15:00</datetime>
<equipmentused><link ref="s"/></equipmentused></informationbeforedive><informationafterdive>
<greatestdepth>24.6</greatestdepth><diveduration>2520</diveduration></informationafterdive></dive>
</repetitiongroup></profiledata></uddf>"""


@pytest.fixture
def deck(talk, tmp_path):
    """Open the chat of a diver with a regulator and two dry suits, who can send files. 10 June 2026."""
    talk.has_said(
        "add regulator set, 32%",
        "regs serviced on 1 May 2026",
        "add dry suit, plastic zip, latex seals",
        "add dry suit, metal zip, latex seals",
    )

    def send(content, name="log.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        talk.now += timedelta(minutes=1)
        line = Line.model_validate({"at": talk.now, "chat": talk.chat, "from": "mara", "file": str(path)})
        return talk._runner.run(talk.replay.play(line))[-1].reply

    talk.send = send
    return talk


def labels(reply):
    return [o.label for o in reply.offers]


def test_file_is_shown_first_and_unsure_kit_is_asked_about(deck):
    shown = deck.send(HEAD + ROWS)
    assert shown.first == "log.csv: 3 dives, 3 new, 0 here already."
    assert shown.lines == (
        "From 1 June to 3 June. Nothing is counted yet.",
        "- Regulator set = regulator set",
        "Which of yours is: Blue suit?",
    )
    assert labels(shown) == ["dry suit", "dry suit 2", "regulator set", "none of mine", "Drop it"]
    assert deck.say("show my dives").first == "0 dives logged."


def test_dives_count_for_the_kit_that_was_settled(deck):
    deck.send(HEAD + ROWS)
    assert labels(deck.tap("dry suit 2"))[0] == "Count 3 dives"
    counted = deck.tap("Count 3 dives")
    assert counted.first == "Counted: 3 dives of log.csv. 3 dives in all."
    kit = "\n".join(deck.say("show kit").lines)
    assert "regulator set (32 % oxygen): 3 dives" in kit
    assert "dry suit 2 (metal zip, latex seals): 2 dives" in kit
    assert "dry suit (plastic zip, latex seals): 0 dives" in kit


def test_entries_keep_what_the_file_says(deck):
    deck.send(HEAD + ROWS)
    deck.tap("none of mine")
    deck.tap("Count 3 dives")
    assert deck.say("show my dives").lines == (
        "- 1 dive, 3 June, fresh water, 31 m, 55 min",
        "- 1 dive, 1 June, salt water, 18 m, 38 min",
        "- 1 dive, 1 June, salt water, 24.6 m, 42 min",
    )


def test_same_file_again_holds_nothing_new(deck):
    deck.send(HEAD + ROWS)
    deck.tap("dry suit")
    deck.tap("Count 3 dives")
    again = deck.send(HEAD + ROWS.replace("10:15", "10:18").replace(",42,", ",44,"))
    assert (again.first, labels(again)) == ("log.csv: 3 dives, 0 new, 3 here already.", ["Drop it"])


@pytest.mark.parametrize(
    ("row", "new"),
    [
        ("2026-06-01,10:24,42,24,salt,\n", 0),
        ("2026-06-01,10:26,42,24,salt,\n", 1),
        ("2026-06-01,10:15,48,24,salt,\n", 1),
        ("2026-06-01,10:15,,24,salt,\n", 0),
        ("2026-06-02,10:15,42,24,salt,\n", 1),
    ],
    ids=["nine minutes apart", "eleven minutes apart", "longer", "length not told", "next day"],
)
def test_duplicate_is_told_by_its_time_and_length(deck, row, new):
    deck.send(HEAD + "2026-06-01,10:15,42,24,salt,\n")
    deck.tap("Count 1 dive")
    assert deck.send(HEAD + row).data["new"] == new


def test_dives_told_by_hand_are_taken_for_those_of_the_same_day(deck):
    deck.say("2 dives on 1 June, salt")
    assert deck.send(HEAD + ROWS).first == "log.csv: 3 dives, 1 new, 2 here already."


def test_dives_without_kit_count_for_what_was_there_on_that_day(deck):
    deck.send("date\n2026-06-09\n2026-06-10\n")
    counted = deck.tap("Count 2 dives")
    assert counted.lines[0] == "Counted for: regulator set, dry suit and dry suit 2."
    assert "regulator set (32 % oxygen): 1 dive" in "\n".join(deck.say("show kit").lines)


def test_undo_takes_the_whole_file_back_and_it_can_be_counted_again(deck):
    deck.say("1 dive on 5 June, salt")
    deck.send(HEAD + ROWS)
    deck.tap("dry suit")
    deck.tap("Count 3 dives")
    assert deck.say("undo").lines == ("3 items, 1 dive logged.",)
    assert deck.send(HEAD + ROWS).first == "log.csv: 3 dives, 3 new, 0 here already."


def test_file_that_was_dropped_or_counted_is_dealt_with(deck):
    deck.send("date\n2026-06-09\n")
    deck.tap("Drop it")
    assert deck.tap("Count 1 dive").first == "That file was dealt with already."
    assert deck.say("show my dives").first == "0 dives logged."


def test_uddf_counts_like_a_table(deck):
    shown = deck.send(UDDF, "log.uddf")
    assert shown.first == "log.uddf: 1 dive, 1 new, 0 here already."
    deck.tap("dry suit")
    deck.tap("Count 1 dive")
    assert deck.say("show my dives").lines == ("- 1 dive, 2 June, 24.6 m, 42 min",)


def test_old_dives_make_nothing_due_that_was_seen_to_since(deck):
    deck.send("date,dives,kit\n2024-06-09,90,regulator set\n2026-05-02,90,regulator set\n")
    deck.tap("Count 180 dives")
    assert "Service" not in "\n".join(deck.say("what is due?").lines)
    deck.send("date,dives,kit\n2026-06-09,10,regulator set\n")
    deck.tap("Count 10 dives")
    assert "- Service: regulator set - today (technician)" not in deck.say("what is due?").lines
    assert any(line.startswith("- Service: regulator set") for line in deck.say("what is due?").lines)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00\x01\x02",
        b"PK\x03\x04zip",
        b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "a">]><uddf>&a;</uddf>',
        "date\nnever\n",
        "what,is,this\n1,2,3\n",
        b"<uddf><profiledata>",
    ],
    ids=["empty", "binary", "zip", "entities", "no date", "no columns", "cut off"],
)
def test_file_that_cannot_be_read_is_refused_kindly_and_nothing_is_stored(deck, content):
    told = deck.send(content, "odd.uddf" if isinstance(content, bytes) else "odd.csv")
    assert told.first
    assert not any(label.startswith("Count") for label in labels(told))
    assert deck.say("show my dives").first == "0 dives logged."


def test_file_of_one_locker_is_not_counted_in_another(deck):
    deck.send("date\n2026-06-09\n")
    other = deck.elsewhere("other")
    assert other._play(tap="Count 1 dive")[-1].reply.first == "That button is too old or not from this chat."


def test_hostile_names_are_only_shown(deck):
    shown = deck.send("date,kit\n2026-06-09,<b>x</b>'; DROP TABLE dive; --\n", "a'b\"c.csv")
    assert "Which of yours is: <b>x<? (3 more to ask)" in shown.lines
    assert deck.say("show my dives").first == "0 dives logged."


def test_huge_file_is_read_no_further_than_is_taken(tmp_path):
    path = tmp_path / "huge.csv"
    with path.open("wb") as out:
        out.truncate(50_000_000)
    assert len(read_file(path)[1]) == 20_000_001
