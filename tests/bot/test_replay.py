"""The replay driver: the objects it prints, the clock that its lines set, taps, reminders, and updates that come twice."""

import asyncio
import json
from datetime import datetime

import pytest

from bot.handle.table import HANDLERS
from bot.replay import ReplayError, read_lines, replay
from bot.replies import Reply
from bot.understand.intents import LogDive
from bot.understand.reader import Offer
from store import lockers

FIELDS = ["at", "chat", "kind", "text", "buttons", "files", "data"]
SUIT = "add dry suit, plastic zip, latex seals"
DIVED = (("dry suit", None, "rinse"), ("dry suit", None, "dry"), ("dry suit", "seals", "powder"))


def line(at: str, **said: str) -> str:
    return json.dumps({"at": f"2026-06-{at}:00Z", **({"chat": "deck"} if said else {}), **said})


def play(store, *lines: str) -> list[dict]:
    return [sent.as_json() for sent in asyncio.run(replay(store, lines))]


def test_every_object_has_the_fields_of_the_contract(store):
    sent = play(
        store, line("10T12:00", text=SUIT), line("10T12:01", text="2 dives today, salt"), line("10T19:00")
    )
    assert [list(s) for s in sent] == [FIELDS] * 3
    assert [s["kind"] for s in sent] == ["reply", "reply", "reminder"]
    assert [s["at"] for s in sent] == [f"2026-06-10T{t}:00+00:00" for t in ("12:00", "12:01", "18:00")]
    assert {s["chat"] for s in sent} == {"deck"}
    assert json.loads(json.dumps(sent)) == sent


def test_reminder_data_holds_its_notices(store):
    *_, reminder = play(
        store, line("10T12:00", text=SUIT), line("10T12:01", text="2 dives today, salt"), line("10T19:00")
    )
    assert reminder == {
        "at": "2026-06-10T18:00:00+00:00",
        "chat": "deck",
        "kind": "reminder",
        "text": "Rinse: dry suit, today. And 2 more.\n"
        "- Rinse: dry suit - today\n"
        "- Dry: dry suit - today\n"
        "- Powder: neck and wrist seals (dry suit), unscented talc - today",
        "buttons": ["Done", "Part of it", "Later", "Why"],
        "files": [],
        "data": {
            "notices": [
                {"item": item, "part": part, "task": task, "due_on": "2026-06-10", "stage": "due"}
                for item, part, task in DIVED
            ]
        },
    }


def test_advice_data_is_the_object_of_ask(store, run):
    (sent,) = play(store, line("10T12:00", text="what do I put on the neck ring?"))
    assert sent["data"] == json.loads(run("ask", "what do I put on the neck ring?", "--json").out)


def test_time_passes_with_only_at(store):
    sent = play(
        store,
        line("10T12:00", text=SUIT),
        line("10T12:01", text="2 dives today, salt"),
        *[line(f"{day}T{hour}:00") for day in (10, 11, 12) for hour in (17, 18, 19)],
    )
    assert [s["kind"] for s in sent] == ["reply", "reply", "reminder"]


def test_at_alone_with_a_chat_says_nothing(store):
    assert play(store, json.dumps({"at": "2026-06-10T12:00:00Z", "chat": "deck"})) == []


def test_no_lines_say_nothing(store):
    assert play(store, "", "  \n") == []


def test_tap_acts_on_the_newest_button_of_that_label(store):
    sent = play(
        store,
        line("10T12:00", text="2 dives today, salt"),
        line("10T12:01", text="3 dives today, fresh"),
        line("10T12:02", tap="Undo"),
        line("10T12:03", text="show kit"),
    )
    assert sent[2]["data"] == {"intent": "undo", "undone": "log_dive"}
    assert sent[3]["data"] == {"intent": "show_kit", "items": [], "dives": 2}


def test_tap_on_a_reminder_settles_it(store):
    sent = play(
        store,
        line("10T12:00", text=SUIT),
        line("10T12:01", text="2 dives today, salt"),
        line("10T18:30", tap="Done"),
        line("10T18:31", tap="Done"),
    )
    assert [(s["at"][11:16], s["data"].get("done")) for s in sent[2:]] == [
        ("18:00", None),
        ("18:30", 3),
        ("18:31", 0),
    ]
    assert sent[4]["text"] == "That was recorded already, or is no longer in your kit."


def test_tap_on_a_label_nobody_showed_is_refused(store):
    (sent,) = play(store, line("10T12:00", tap="Undo"))
    assert sent["data"] == {"intent": "misunderstood", "suggestions": ["what is due?"]}


def test_lines_out_of_order_do_not_move_time_back(store):
    sent = play(
        store,
        line("12T12:00", text="2 dives today, salt"),
        line("10T12:00", text="2 dives today, salt"),
        line("11T12:00"),
        line("12T12:01", text="1 dive today, salt"),
    )
    assert [(s["at"], s["data"]["on"]) for s in sent] == [
        ("2026-06-12T12:00:00+00:00", "2026-06-12"),
        ("2026-06-12T12:00:00+00:00", "2026-06-12"),
        ("2026-06-12T12:01:00+00:00", "2026-06-12"),
    ]


def test_offsets_of_other_zones_are_the_same_instants(store):
    sent = play(
        store,
        '{"at": "2026-06-10T23:30:00-05:00", "chat": "deck", "text": "2 dives today"}',
        '{"at": "2026-06-11T06:30:00+02:00", "chat": "deck", "text": "2 dives today"}',
    )
    assert [(s["at"], s["data"]["on"]) for s in sent] == [("2026-06-11T04:30:00+00:00", "2026-06-11")] * 2


def test_chats_of_one_file_have_lockers_of_their_own(store):
    sent = play(
        store,
        line("10T12:00", text=SUIT),
        json.dumps({"at": "2026-06-10T12:01:00Z", "chat": "boat", "text": "show kit"}),
    )
    assert [(s["chat"], s["data"].get("items")) for s in sent] == [("deck", None), ("boat", [])]


def test_error_names_the_line_blank_ones_counted():
    with pytest.raises(ReplayError) as error:
        list(read_lines(["", line("10T12:00"), "{}"]))
    assert str(error.value) == "line 3: at: Field required"


def test_bad_line_stops_the_file_before_any_of_it_acts(store, facts):
    before = facts()
    with pytest.raises(ReplayError):
        play(store, line("10T12:00", text="2 dives today"), "nonsense")
    assert facts() == before


# updates that come twice


def test_update_seen_twice_acts_once(wire, facts):
    first = wire.take(text="2 dives today, salt", update_id="7")
    after = facts()
    assert first is not None
    assert wire.take(text="2 dives today, salt", update_id="7") is None
    assert facts() == after
    assert len(after["dive"]) == 1


def test_update_id_seen_with_other_words_does_not_act(wire, facts):
    wire.take(text="2 dives today, salt", update_id="7")
    after = facts()
    assert wire.take("boat", text="9 dives today, fresh", update_id="7") is None
    assert facts() == after


def test_same_id_on_another_wire_acts(wire, facts):
    wire.take(text="2 dives today, salt", update_id="7")
    assert wire.take(wire="other", text="2 dives today, salt", update_id="7") is not None
    assert len(facts()["dive"]) == 2


def test_update_without_id_acts_each_time(wire, facts):
    for _ in range(2):
        wire.take(text="2 dives today, salt")
    assert len(facts()["dive"]) == 2


def test_tap_seen_twice_acts_once(wire, store, facts):
    wire.say("help")
    chat = store.read(lambda s: lockers.at_address(s, "test", "deck"))
    offered = Reply("How many?", offers=(Offer("Two", LogDive(dives=2)),))
    (two,) = wire.conversation.offer(chat.id, offered)
    wire.take(tap=two, update_id="8")
    assert wire.take(tap=two, update_id="8") is None
    assert [d["dives"] for d in facts()["dive"]] == [2]
    wire.take(tap=two, update_id="9")
    assert [d["dives"] for d in facts()["dive"]] == [2, 2]


def test_tap_on_undo_takes_back_what_its_own_message_did_once(wire, facts):
    *_, undo = wire.say("2 dives today, salt").button_ids
    wire.say("3 dives today, salt")
    wire.tap(undo)
    assert [d["dives"] for d in facts()["dive"]] == [3]
    assert wire.tap(undo).reply.first == "There is nothing to take back."
    assert [d["dives"] for d in facts()["dive"]] == [3]


def test_update_that_failed_acts_when_it_comes_again(wire, facts, monkeypatch):
    def broken(_intent, _visit):
        raise RuntimeError("broken")

    with monkeypatch.context() as for_now:
        for_now.setitem(HANDLERS, LogDive, broken)
        wire.take(text="2 dives today, salt", update_id="7")
    answer = wire.take(text="2 dives today, salt", update_id="7")
    assert answer is not None
    assert [(d["dives"], d["logged_at"]) for d in facts()["dive"]] == [
        (2, datetime.fromisoformat("2026-06-10T12:00:00+00:00"))
    ]
