"""What comes next at this diver's pace, in words; entries that move or go; reminders off; the care that the maker asks for."""

from datetime import date, timedelta

import pytest

from bot.conversation import Update
from bot.replay import Line


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Berlin with a dry suit and a regulator serviced lately. 10 June 2026."""
    return talk.has_said(
        "zone Europe/Berlin",
        "add dry suit, plastic zip, latex seals",
        "valves of the dry suit serviced 1 June 2026",
        "add regulator set, 32%",
        "regs serviced on 1 June 2026",
    )


def dive_weekly(deck, weeks):
    for _ in range(weeks):
        deck.wait(days=7)
        deck.say("2 dives today, salt")
        deck.say("rinsed everything")


def test_task_counted_in_dives_is_told_with_its_likely_day_and_range(deck):
    told = deck.say("2 dives today, salt")
    zip_line = next(line for line in told.lines if "docking end" in line)
    assert zip_line.startswith("- Lubricate: docking end of the plastic zip (dry suit), in 8 dives, about ")
    assert " (8 in 10: " in zip_line


def test_range_narrows_with_what_the_log_tells(deck):
    def days():
        told = deck.say("what is due until june 2029?").data["by_pace"]
        seals = next(t for t in told if (t["part"], t["task"]) == ("seals", "inspect"))
        earliest, latest = (date.fromisoformat(seals[k]) for k in ("earliest", "latest"))
        return seals["dives_left"], (latest - earliest).days

    deck.say("the manual says inspect the seals every 30 dives")
    deck.say("2 dives today, salt")
    left, wide = days()
    dive_weekly(deck, 8)
    later, narrow = days()
    assert (left, later) == (28, 12)
    assert narrow < wide / 2


def test_trip_that_is_planned_brings_the_day_nearer(deck):
    deck.say("2 dives today, salt")

    def about():
        paced = deck.say("what is due until june 2029?").data["by_pace"]
        return next(t["about"] for t in paced if t["part"] == "zip_docking_end")

    alone = about()
    deck.say("trip 12 to 19 July, 14 dives")
    assert "2026-07-12" <= about() <= "2026-07-19" < alone


def test_dive_of_another_day_is_moved_and_care_counts_anew(deck):
    deck.say("2 dives on 8 June, salt, sandy")
    deck.say("brushed the zip 9 June")
    assert "Brush" not in "\n".join(deck.say("what is due?").lines)
    assert (
        deck.say("the dive on 8 June was on 10 June").first
        == "Corrected: 2 dives, today, salt water, sand. 2 dives in all."
    )
    assert deck.say("brushed the zip 9 June").lines
    assert "Brush" in "\n".join(deck.say("what is due?").lines)


def test_dive_that_never_happened_is_taken_out_and_comes_back_by_undo(deck):
    deck.say("2 dives on 8 June, salt")
    deck.say("3 dives on 9 June, salt")
    assert (
        deck.say("delete the dive of 8 June").first
        == "Out of the log: 2 dives, 8 June, salt water. 3 dives in all."
    )
    deck.say("undo")
    assert deck.say("show my dives").first == "5 dives logged."


def test_day_with_two_entries_asks_which(deck):
    deck.say("1 dive on 8 June, salt")
    deck.say("2 dives on 8 June, fresh water")
    asked = deck.say("delete the dive of 8 June")
    assert (asked.first, [o.label for o in asked.offers]) == (
        "Which of that day?",
        ["1 dive, 8 June, salt water", "2 dives, 8 June, fresh water"],
    )
    deck.tap("2 dives, 8 June, fresh water")
    assert deck.say("show my dives").first == "1 dive logged."


def test_day_without_a_dive_changes_nothing(deck):
    deck.say("1 dive on 8 June, salt")
    assert deck.say("delete the dive of 3 June").first == "No dive is logged on 3 June, so I changed nothing."


def test_log_is_shown_newest_first_with_a_button_that_removes(deck):
    deck.say("1 dive on 8 June, salt")
    deck.say("2 dives on 7 June, salt")
    told = deck.say("show my dives")
    assert told.lines == ("- 1 dive, 8 June, salt water", "- 2 dives, 7 June, salt water")
    deck.tap("Remove 7 June: 2 dives")
    assert deck.say("show my dives").lines == ("- 1 dive, 8 June, salt water",)


def test_reminders_off_says_nothing_unasked_and_keeps_the_record(deck):
    deck.say("2 dives today, salt")
    assert deck.say("reminders off").first == "Noted: reminders off."
    assert deck.wait(days=400) == []
    assert "things due now" in deck.say("what is due?").first
    deck.say("reminders on")
    assert len(deck.wait(days=1)) == 1


def test_overdue_service_is_said_with_every_dive_even_without_reminders(deck):
    deck.say("reminders off")
    deck.wait(days=370)
    for _ in range(2):
        assert "Not for the next dive: regulator set. Service (technician), overdue." in (
            deck.say("1 dive today").cautions
        )


def test_hours_under_water_that_the_maker_asks_for_are_counted(deck):
    deck.say("add rebreather, 100%")
    deck.say("the manual says replace the sorbent every 3 hours")
    deck.say("1 dive today with the rebreather, 90 min")
    assert "Check the hours" in "\n".join(deck.say("what is due?").lines)
    deck.say("replaced the sorbent")
    deck.wait(days=1)
    deck.say("2 dives today with the rebreather, 100 min each")
    why = "\n".join(deck.say("why is the sorbent due?").lines)
    assert "every 3 hours under water" in why


def test_cells_age_from_the_date_printed_on_them(deck):
    """Common practice, no source: 12 months in use, 18 from manufacture."""
    deck.say("add rebreather, 100%")
    deck.say("new cells in the rebreather, made February 2025")
    why = "\n".join(deck.say("why are the cells of the rebreather due?").lines)
    assert "18 months after manufacture" in why
    due = [t for t in deck.say("what is due until june 2029?").data["due"] if t["task"] == "replace"]
    assert {t["due_on"] for t in due if t["part"] and "cell" in t["part"]} == {"2026-08-01"}


def test_why_names_trigger_count_and_source(deck):
    deck.say("12 dives today, salt")
    why = next(line for line in deck.say("why is the zip due?").lines if line.startswith("- Lubricate"))
    for bit in (
        "about every 10 dives",
        "Due since today: after 10 dives.",
        "12 dives since then.",
        "Source: common practice",
    ):
        assert bit in why


def test_flooded_suit_and_torch_ask_for_their_own_care(deck):
    deck.say("add torch")
    assert deck.say("flooded the torch").first == "Do not dive it: twist-switched hand light flooded today."
    told = deck.say("suit flooded")
    assert told.first == "Noted: dry suit flooded today."
    assert any("rinse the inside too" in line for line in told.lines)
    deck.wait(days=1)
    deck.say("cleaned the dry suit")
    assert "Wash inside" not in "\n".join(deck.say("what is due?").lines)


def test_interval_of_the_maker_leaves_what_only_an_event_makes_due(deck):
    deck.say("add rebreather, 100%")
    deck.say("the manual says service the rebreather every 6 months")
    deck.wait(days=400)
    told = "\n".join(deck.say("what is due?").lines)
    assert "Service: rebreather" in told
    assert "Flooded loop" not in told


def test_item_that_stays_ashore_is_not_forecast_at_the_pace_of_the_others(deck):
    deck.say("add torch")
    deck.say("2 dives today, salt")
    for _ in range(20):
        deck.wait(days=7)
        deck.say("2 dives today, salt, without the dry suit")
    paced = deck.say("what is due until june 2029?").data["by_pace"]
    zipped = [t for t in paced if t["part"] == "zip_docking_end"]
    lamp = [t for t in paced if t["item"] == "twist-switched hand light"]
    assert lamp == [] or zipped == [] or min(t["about"] for t in lamp) < min(t["about"] for t in zipped)
    assert all(t["about"] > "2027-01-01" for t in zipped)


def test_task_is_listed_once_whether_the_calendar_or_the_dives_come_first(deck):
    for _ in range(12):
        deck.wait(days=3)
        deck.say("2 dives today, salt")
    told = deck.say("what is due until june 2029?").data
    listed = [(t["item"], t["part"], t["task"]) for t in (*told["due"], *told["by_pace"])]
    twice = {t for t in listed if listed.count(t) > 1 and t[2] in {"lubricate", "service"}}
    assert twice == set()


def test_word_between_the_hour_and_the_ring_does_not_put_the_reminder_off(store, deck):
    """As when the program was not running at six, and the diver writes at seven."""
    deck.say("2 dives today, salt")
    deck.replay.clock.set(deck.now.replace(hour=17, minute=0))  # 19:00 in Berlin; nothing rang at 18:00
    deck.now = deck.replay.clock.now()
    answer = deck.replay._conversation.take(
        Update("replay", deck.chat, "mara", deck.now, text="I did not wear the hood")
    )
    assert answer is not None
    deck.replay._conversation.take(Update("replay", deck.chat, "mara", deck.now, text="units metric"))
    assert [s.reply.first[:5] for s in deck.wait(minutes=1)] == ["Rinse"]


def test_wish_comes_back_with_the_care_that_was_taken_back(deck):
    deck.say("12 dives today, salt")
    deck.say("rinsed everything")
    deck.say("snooze 20 days")
    deck.say("put zip stick on the docking end")
    deck.say("undo")
    told = "\n".join(deck.say("what is due?").lines)
    assert "put off until 30 June" in told


def test_dive_that_came_in_a_file_is_nobody_s_last_word(deck, tmp_path):

    deck.say("1 dive on 8 June, salt")
    path = tmp_path / "old.csv"
    path.write_text("date,kit\n2015-06-01,regulator set\n")
    deck.now += timedelta(minutes=1)
    line = Line.model_validate({"at": deck.now, "chat": deck.chat, "from": "mara", "file": str(path)})
    deck._runner.run(deck.replay.play(line))
    deck.tap("Count 1 dive")
    told = deck.say("actually 30 m")
    assert told.first == "Corrected: 1 dive, 8 June, salt water, 30 m. 2 dives in all."
    assert "dry suit" in deck.say("1 dive today").lines[0]


def test_flood_told_along_with_a_dive_is_kept_or_asked_about(deck):
    deck.say("add torch")
    assert "Do not dive it" in deck.say("2 dives today, 30 m, the torch flooded").lines[0]
    deck.say("add torch")
    asked = deck.say("2 dives today, 30 m, the torch flooded")
    assert (asked.first, len(asked.offers)) == ("On which one?", 2)
    assert any(line.startswith("Logged: 2 dives") for line in asked.lines)


def test_going_west_over_the_date_line_nothing_lies_in_the_future(deck):
    deck.say("zone Pacific/Auckland")
    deck.until("2026-06-10T20:00:00+12:00")
    deck.say("2 dives today, salt")
    deck.say("zone Pacific/Honolulu")
    assert deck.say("show my dives").lines[0].startswith("- 2 dives, today")
    assert "due now" in deck.say("what is due?").first
    deck.say("rinsed everything")
    assert "Rinse" not in "\n".join(deck.say("what is due?").lines)


def test_on_the_road_the_law_of_the_cylinders_stays_that_of_home(deck):
    deck.say("I live in Germany")
    told = deck.say("I'm in Malta")
    if told.data.get("region"):
        assert told.lines == ("Your cylinders stay under the rules of Germany.",)
        assert told.offers[0].label == "They are tested here"


def test_dive_mishap_and_care_told_in_one_breath_are_all_kept(deck):
    deck.say("add torch")
    told = deck.say("2 dives today 20 m, torch flooded, rinsed it")
    assert told.first.startswith("Logged: 2 dives")
    record = deck.say("show twist-switched hand light").lines
    assert {"- flooded today", "- rinse today"} <= set(record)
    assert "twist-switched hand light" not in next(line for line in told.lines if line.startswith("- Rinse"))
