"""What was dived and with what, what may be dived, and what a message is while buttons wait for an answer. Text to exact fields."""

from datetime import date
from typing import Any

import pytest

from bot.understand.intents import (
    AddItem,
    Ask,
    ForgetMe,
    ImportDives,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RetireItem,
    SetPreference,
    ShowDue,
    ShowKit,
    Snooze,
    Undo,
)
from bot.understand.places import region_of, zone_of_place
from bot.understand.reader import Context, Offer, understand
from store.vocabulary import Happening, Region, Task

TODAY = date(2026, 6, 10)
"""A Wednesday."""


def read(text: str, *offers: Offer, names: tuple[str, ...] = (), today: date = TODAY) -> Any:
    return understand(text, today, Context(offers=offers, names=names))


def told(text: str, *names: str, today: date = TODAY) -> tuple[str, dict[str, Any]]:
    """Return the intent and the fields it fills."""
    intent = read(text, names=names, today=today)
    return intent.intent, {
        k: v for k, v in intent.model_dump(mode="json", exclude_defaults=True).items() if k != "refs"
    }


# a question that waits does not eat what is told anew

CYLINDERS = tuple(f"cylinder {n}" for n in range(1, 9))
EIGHT = tuple(
    Offer(name, RecordCare(task=Task.TEST, item_id=n)) for n, name in enumerate(CYLINDERS, start=11)
)


@pytest.mark.parametrize(
    "text",
    [
        "call cylinder 3 Blue Nine",
        "dropped cylinder 4",
        "rinsed cylinder 3",
        "sold cylinder 5",
        "cylinder 3 leaks",
        "cylinder 2 rusty inside",
        "ran cylinder 6 empty",
        "dented cylinder 1",
        "cylinder 9",
        "cylinder 33",
        "not cylinder 3",
        "cylinder",
        "what is due on cylinder 3?",
        "cylinder 3 needs paint",
    ],
)
def test_what_is_told_anew_is_no_answer_to_the_buttons(text):
    assert read(text, *EIGHT, names=CYLINDERS) not in [offer.intent for offer in EIGHT]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("cylinder 4", 4),
        ("Cylinder 4.", 4),
        ("cylindr 4", 4),
        ("cilinder 8", 8),
        ("it is cylinder 4", 4),
        ("it's the cylinder 4 please", 4),
        ("4", 4),
        ("the 4", 4),
        ("number 4", 4),
    ],
)
def test_answer_in_the_words_of_a_button_is_taken(text, number):
    assert read(text, *EIGHT) == EIGHT[number - 1].intent


@pytest.mark.parametrize("text", ["dry suit wet, forgot rinse", "dry suit is wet", "the dry suit leaks"])
def test_what_befell_an_item_does_not_take_it_off_the_dive(text):
    button = Offer("Not dry suit", LogDive(corrects=True, dive_id=1, item_ids=()))
    assert read(text, button, names=("dry suit",)) != button.intent


@pytest.mark.parametrize("text", ["not dry suit", "not the dry suit", "not the drysuit please"])
def test_an_item_is_taken_off_the_dive_by_the_words_of_its_button(text):
    button = Offer("Not dry suit", LogDive(corrects=True, dive_id=1, item_ids=()))
    assert read(text, button, names=("dry suit",)) == button.intent


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("they are latex", "latex"),
        ("latex seals", "latex"),
        ("its silicone", "silicone"),
        ("not latex", None),
        ("I put silicone grease on them", None),
        ("latex, torn", None),
    ],
)
def test_fact_asked_for_is_told_in_few_words(text, label):
    offers = tuple(
        Offer(word, AddItem(item_id=1, skip_ids=(word,))) for word in ("latex", "silicone", "neoprene")
    )
    chosen = next((o.label for o in offers if o.intent == read(text, *offers)), None)
    assert chosen == label


FINAL = (
    Offer("Out of my kit", RetireItem(item_id=1)),
    Offer("Remove 12 June: 2 dives", LogDive(corrects=True, removes=True, dive_id=1)),
    Offer("Delete it all", ForgetMe(confirmed=True)),
    Offer("Trip is off", PlanTrip(cancels=True, trip_id=1)),
    Offer("Drop it", ImportDives(import_id=1, drops=True)),
)


@pytest.mark.parametrize("offer", FINAL, ids=[o.label for o in FINAL])
def test_what_takes_away_wants_its_exact_words(offer):
    assert read(offer.label, offer) == offer.intent
    assert read(offer.label[:-1], offer) != offer.intent
    assert read(f"the {offer.label} ones", offer) != offer.intent


# yes, no, all done

PREVIEW = (
    Offer("Count 30 dives", ImportDives(import_id=1, counts=True)),
    Offer("Drop it", ImportDives(import_id=1, drops=True)),
)
DONE = Offer("All done", RecordCare(task_ids=(1, 2)))
LATER = Offer("Later", Snooze(task_ids=(1, 2), days=1))
ADD = Offer("Add dry suit", AddItem())
UNDO = Offer("Undo", Undo())


@pytest.mark.parametrize(
    "text", ["yes", "Yes please", "ok", "count them", "go", "go ahead", "count 30 dives", "y", "1"]
)
def test_yes_counts_the_dives_of_a_file(text):
    assert read(text, *PREVIEW) == PREVIEW[0].intent


@pytest.mark.parametrize(
    "text", ["no", "nope", "drop it", "no thanks", "drop them", "don't", "2", "no, drop it"]
)
def test_no_drops_the_file(text):
    assert read(text, *PREVIEW) == PREVIEW[1].intent


@pytest.mark.parametrize(
    "text", ["all done", "All done!", "it's all done", "everything is done", "done", "finished", "did it all"]
)
def test_all_done_taps_done(text):
    assert read(text, DONE, LATER) == DONE.intent
    assert read(text, Offer("Done", DONE.intent), LATER) == DONE.intent
    assert isinstance(read(text), Misunderstood)


@pytest.mark.parametrize(
    "text", ["not all done", "nothing done", "all done?", "almost done", "yes", "ok", "no"]
)
def test_care_is_not_recorded_by_less(text):
    assert read(text, DONE, LATER) != DONE.intent


def test_yes_adds_what_was_offered_alone_and_chooses_none_of_several():
    assert read("yes", ADD, UNDO) == ADD.intent
    assert isinstance(read("yes", *EIGHT), Misunderstood)
    assert isinstance(read("yes", Offer("Delete it all", ForgetMe(confirmed=True))), Misunderstood)
    assert isinstance(
        read("yes", Offer("Looked inside as well", RecordCare(task=Task.INSPECT)), UNDO), Misunderstood
    )


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("it's fine", "Nothing was changed"),
        ("never mind", "Nothing was changed"),
        ("stop", "reminders off"),
        ("please stop", "reminders off"),
        ("leave me alone", "reminders off"),
        ("I'm back home", "Welcome back"),
        ("back from the trip", "Welcome back"),
        ("no dives today", "nothing is logged"),
        ("didn't dive this weekend", "nothing is logged"),
        ("we had no dives today, weather", "nothing is logged"),
        ("yes", "what that answers"),
    ],
)
def test_small_talk_is_answered_kindly(text, answer):
    intent = read(text)
    assert isinstance(intent, Misunderstood)
    assert answer in intent.problem


# may it be dived?


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("is my twinset ok to dive?", "twinset"),
        ("can I dive the regs?", "regs"),
        ("is the torch safe after flooding?", "torch"),
        ("can I fill the stage?", "stage"),
        ("is my reg safe?", "reg"),
        ("are my regs fine for sunday?", "regs"),
        ("are the twins good to go?", "twins"),
        ("is it safe to dive my drysuit?", "drysuit"),
        ("can i still use my twinset without a hydro", "twinset"),
        ("should I dive the rebreather?", "rebreather"),
        ("may I take the scooter tomorrow", "scooter"),
        ("is my dry suit still good?", "drysuit"),
        ("can the twinset be filled?", "twinset"),
        ("are the regs and the torch ok to dive?", None),
    ],
)
def test_whether_kit_may_be_dived_asks_what_is_open_on_it(text, item):
    assert read(text) == ShowDue(item=item)


@pytest.mark.parametrize(
    "text",
    [
        "can I use olive oil on the torch?",
        "is it ok to grease the reg?",
        "is it safe to use silicone on the reg?",
        "can I use petroleum jelly on my dry suit?",
        "what do I put on the neck seal?",
    ],
)
def test_a_question_of_a_lubricant_stays_one(text):
    assert isinstance(read(text), Ask)


@pytest.mark.parametrize(
    "text",
    [
        "battery of the scooter is swollen",
        "battery swollen",
        "the battery is bulging",
        "scooter battery hot",
        "torch battery smoking",
        "battery leaking",
        "battery puffed up",
        "the scooter battery got really hot",
        "swollen battery in the scooter",
        "what do I do about a swollen battery?",
        "can I dive with a swollen battery?",
        "smoke is coming from the battery",
    ],
)
def test_a_battery_in_trouble_is_a_mishap(text):
    intent = read(text)
    assert isinstance(intent, RecordCare)
    assert (intent.task, intent.happened) == (None, Happening.DAMAGED)


@pytest.mark.parametrize(
    "text",
    [
        "battery is not hot",
        "no swollen battery",
        "grease on the battery oring?",
        "how do I clean the battery contacts?",
        "charged the battery in a hot car",
    ],
)
def test_a_battery_at_peace_is_none(text):
    intent = read(text)
    assert not (isinstance(intent, RecordCare) and intent.happened)


@pytest.mark.parametrize("text", ["reg breathes wet", "my reg is breathing wet", "the regs breathe water"])
def test_a_wet_breath_is_a_leak(text):
    assert read(text).happened is Happening.LEAKING


@pytest.mark.parametrize(
    "text",
    [
        "smell in the tank",
        "bad taste in the gas",
        "air in my tank smells of oil",
        "the gas tastes funny",
        "fill tastes oily",
        "the twinset stinks",
        "reg smells weird",
    ],
)
def test_bad_gas_is_not_breathed(text):
    intent = read(text)
    assert isinstance(intent, Misunderstood)
    assert intent.problem.startswith("Do not breathe it")


@pytest.mark.parametrize(
    "text", ["my wetsuit smells", "the gas smells fine", "gloves smell", "no smell in the tank"]
)
def test_other_smells_are_no_alarm(text):
    intent = read(text)
    assert not (isinstance(intent, Misunderstood) and intent.problem.startswith("Do not breathe it"))


# what was dived, and how often

DIVED: list[tuple[str, dict[str, Any]]] = [
    ("2 dives today, without the dry suit", {"dives": 2, "on": "2026-06-10", "without": ["dry suit"]}),
    (
        "2 dives without the scooter and the torch, salt",
        {"dives": 2, "water": "salt", "without": ["scooter", "torch"]},
    ),
    ("2 dives, no scooter", {"dives": 2, "without": ["scooter"]}),
    ("2 dives today but the regs were not used", {"dives": 2, "on": "2026-06-10", "without": ["regs"]}),
    ("2 dives, dry suit left at home", {"dives": 2, "without": ["dry suit"]}),
    ("2 dives, dry suit stayed dry", {"dives": 2, "without": ["dry suit"]}),
    ("2 dives, didn't use the scooter", {"dives": 2, "without": ["scooter"]}),
    ("3 dives, scooter not used, salt", {"dives": 3, "water": "salt", "without": ["scooter"]}),
    ("dived twice w/o the scooter", {"dives": 2, "without": ["scooter"]}),
    ("2 dives, all but the scooter", {"dives": 2, "without": ["scooter"]}),
    ("2 dives with everything but the scooter", {"dives": 2, "without": ["scooter"]}),
    ("2 dives, left the scooter on the boat", {"dives": 2, "without": ["scooter"]}),
    ("2 dives, the torch only worked once", {"dives": 2, "items": ["torch"]}),
    ("no, without the dry suit", {"corrects": True, "without": ["dry suit"]}),
    ("sorry, only with the twinset", {"corrects": True, "items": ["twinset"], "only": True}),
    ("dived 4 in egypt yesterday", {"dives": 4, "on": "2026-06-09"}),
    ("boat trip today 2 dives 18 m", {"dives": 2, "on": "2026-06-10", "max_depth_m": 18.0}),
    ("2 dives except the scooter", {"dives": 2, "without": ["scooter"]}),
    (
        "2 dives today, only the regulator",
        {"dives": 2, "on": "2026-06-10", "items": ["regulator"], "only": True},
    ),
    (
        "2 dives today, just with the twinset",
        {"dives": 2, "on": "2026-06-10", "items": ["twinset"], "only": True},
    ),
    ("2 dives only with my reg and the twinset", {"dives": 2, "items": ["reg", "twinset"], "only": True}),
    ("2 dives with the regulator only", {"dives": 2, "items": ["regulator"], "only": True}),
    ("2 dives, nothing but the regulator", {"dives": 2, "items": ["regulator"], "only": True}),
    ("only 2 dives with the twinset", {"dives": 2, "items": ["twinset"]}),
    ("just did 2 dives with the twinset", {"dives": 2, "items": ["twinset"]}),
    ("2 dives, no problems with the regs", {"dives": 2, "items": ["regs"]}),
    ("2 dvs tdy salt 30m", {"dives": 2, "on": "2026-06-10", "water": "salt", "max_depth_m": 30.0}),
    ("1 dv salt", {"dives": 1, "water": "salt"}),
    ("dived 3 today, salt", {"dives": 3, "on": "2026-06-10", "water": "salt"}),
    ("dived 2 yesterday", {"dives": 2, "on": "2026-06-09"}),
    ("3 tanks today", {"dives": 3, "on": "2026-06-10"}),
    ("did 2 tanks yesterday in the lake", {"dives": 2, "on": "2026-06-09", "water": "fresh"}),
    ("did 2 today n 1 yest", {"dives": 2, "on": "2026-06-10", "also": [{"dives": 1, "on": "2026-06-09"}]}),
    ("20 dives from 1 to 7 june, salt", {"dives": 20, "on": "2026-06-07", "water": "salt"}),
    ("2 dives today on the trip", {"dives": 2, "on": "2026-06-10"}),
    ("trip today was great, 2 dives", {"dives": 2, "on": "2026-06-10"}),
]


@pytest.mark.parametrize(("text", "fields"), DIVED, ids=[row[0] for row in DIVED])
def test_dives_are_read_to_exactly_these_fields(text, fields):
    intent, found = told(text, "dry suit")
    found["also"] = [{k: v for k, v in one.items() if k in {"dives", "on"}} for one in found.pop("also", ())]
    assert (intent, found) == ("log_dive", {"also": [], **fields})


def test_only_what_was_named_counts_the_dive(talk):
    for line in ("add regulator", "add dry suit, plastic zip, latex seals", "add scooter"):
        talk.say(line)
    assert "Counted for: regulator set and scooter." in talk.say("2 dives today, without the dry suit").lines
    assert "Counted for: scooter." in talk.say("1 dive today, only the scooter").lines


def test_a_trip_named_by_its_month_is_the_one_cancelled(talk):
    for line in ("add regulator", "trip 1 to 8 july, 10 dives", "trip 1 to 8 september, 10 dives"):
        talk.say(line)
    assert talk.say("cancel the september trip").first.startswith("Trip 1 September to 8 September is off")
    assert talk.say("trip of 3 july is off").first.startswith("Trip 1 July to 8 July is off")


@pytest.mark.parametrize(
    ("text", "happened"),
    [
        ("2 dives today, reg breathed wet", Happening.LEAKING),
        ("2 dives salt 20 m, scooter battery swollen", Happening.DAMAGED),
    ],
)
def test_signs_told_with_a_dive_are_kept_with_it(text, happened):
    intent = read(text)
    assert isinstance(intent, LogDive)
    assert [one.happened for one in intent.happened] == [happened]


def test_bad_gas_goes_before_the_dive_and_says_that_it_is_not_logged():
    assert "not logged yet" in read("2 dives today, air tasted bad").problem


@pytest.mark.parametrize(
    ("text", "entries"),
    [
        ("3 dives on 12, 13 and 14 april, 2 on 16 april", [(12, 1), (13, 1), (14, 1), (16, 2)]),
        ("12, 13 and 14 april 1 dive each, 16 april 3 dives", [(12, 1), (13, 1), (14, 1), (16, 3)]),
        ("dove on 1, 2 and 3 june and on 5 june", [(1, 1), (2, 1), (3, 1), (5, 1)]),
        ("2 dives on the 3rd and 4th of june, 1 on the 6th of june", [(3, 1), (4, 1), (6, 1)]),
        ("2 dives on 3 june, 3 on 4 june and 1 on 5 june", [(3, 2), (4, 3), (5, 1)]),
        ("2 dives on 3 and 4 june, serviced the regs on 6 june", [(3, 1), (4, 1)]),
    ],
)
def test_days_in_a_list_and_days_after_it_are_an_entry_each(text, entries):
    intent = read(text)
    if isinstance(intent, LogDive):
        assert [(one.on.day, one.dives) for one in (intent, *intent.also)] == entries
    else:
        assert "serviced" in text


@pytest.mark.parametrize(
    "text",
    [
        "20 dives from 1 to 7 july, salt",
        "from 1 to 7 july 20 dives, salt",
        "20 dives 1-7 july salt",
        "1 to 7 july, 20 dives, salt",
    ],
)
def test_a_range_that_has_just_passed_is_dived(text):
    intent = read(text, today=date(2025, 7, 8))
    assert (intent.intent, intent.dives, intent.on) == ("log_dive", 20, date(2025, 7, 7))


@pytest.mark.parametrize(
    "text", ["2.5 dives", "1,5 dives today", "half a dive today", "one and a half dives", "0 dives today"]
)
def test_what_is_no_number_of_dives_is_refused(text):
    assert isinstance(read(text), Misunderstood)


@pytest.mark.parametrize(
    "text", ["rinsed 3 tanks today", "3 tanks filled today", "3 tanks need a test", "2 tanks leak"]
)
def test_tanks_are_no_dives_where_something_is_done_to_them(text):
    assert not isinstance(read(text), LogDive)


@pytest.mark.parametrize(
    "text", ["next dive is on sunday", "my next dive is on 14 june", "next dives are planned for sunday"]
)
def test_a_next_dive_is_offered_as_a_trip_and_not_planned(text):
    intent = read(text)
    assert isinstance(intent, Misunderstood)
    assert intent.suggestions[0] == "trip 14 June, 2 dives"
    assert isinstance(read(intent.suggestions[0]), PlanTrip)


# trips

TRIPS: list[tuple[str, dict[str, Any]]] = [
    ("trip today, 2 dives", {"from_on": "2026-06-10", "dives": 2}),
    ("day trip today 3 dives salt", {"from_on": "2026-06-10", "dives": 3, "water": "salt"}),
    ("trip july 1 to 8 2027, 14 dives", {"from_on": "2027-07-01", "to_on": "2027-07-08", "dives": 14}),
    ("trip 1 to 8 july, 400 dives", {"from_on": "2026-07-01", "to_on": "2026-07-08", "dives": 400}),
    ("cancel the trip", {"cancels": True}),
    ("cancel trip of 1 july", {"cancels": True, "from_on": "2026-07-01"}),
    ("cancel the july trip", {"cancels": True, "from_on": "2026-07-01", "to_on": "2026-07-31"}),
    ("december trip is cancelled", {"cancels": True, "from_on": "2026-12-01", "to_on": "2026-12-31"}),
    ("cancel my trip on 12 december", {"cancels": True, "from_on": "2026-12-12"}),
    (
        "the trip from 12 to 19 december is off",
        {"cancels": True, "from_on": "2026-12-12", "to_on": "2026-12-19"},
    ),
    ("trip of 1 june is off", {"cancels": True, "from_on": "2026-06-01"}),
    ("cancel next week's trip", {"cancels": True, "from_on": "2026-06-15", "to_on": "2026-06-21"}),
    ("cancel the trip to malta in july", {"cancels": True, "from_on": "2026-07-01", "to_on": "2026-07-31"}),
    (
        "croatia is off, boat broke, no trip in september",
        {"cancels": True, "from_on": "2026-09-01", "to_on": "2026-09-30"},
    ),
    ("trip 12 to 19 december, off the coast of malta", {"from_on": "2026-12-12", "to_on": "2026-12-19"}),
    ("no trip on 1 july", {"cancels": True, "from_on": "2026-07-01"}),
    ("cancel the trip next month", {"cancels": True, "from_on": "2026-07-01", "to_on": "2026-07-31"}),
    ("don't cancel the july trip", {"shows": True}),
]


@pytest.mark.parametrize(("text", "fields"), TRIPS, ids=[row[0] for row in TRIPS])
def test_trips_are_read_to_exactly_these_fields(text, fields):
    intent = read(text)
    assert isinstance(intent, PlanTrip)
    assert intent.model_dump(mode="json", exclude_defaults=True) == fields


@pytest.mark.parametrize(
    ("text", "answer"),
    [
        ("trip 1 to 8 July, 5000 dives", "up to 400"),
        ("trip 1 to 8 July, 5,000 dives", "up to 400"),
        ("trip 1 to 8 July, 401 dives", "up to 400"),
        ("trip 1 july 2026 to 5 july 2028", "within a year"),
        ("plan a trip from 1 july 2026, back on 5 july 2028", "a year"),
    ],
)
def test_a_trip_that_cannot_be_is_refused_kindly(text, answer):
    intent = read(text)
    assert isinstance(intent, Misunderstood)
    assert answer in intent.problem


@pytest.mark.parametrize(
    "text", ["trip was on 13 to 14 June", "the trip was 13 june to 14 june", "my trip ended on 14 june"]
)
def test_a_trip_behind_is_logged_by_its_dives(text):
    intent = read(text, today=date(2026, 6, 16))
    assert isinstance(intent, Misunderstood)
    assert "2 dives on 14 June" in intent.problem


# reminders put off


@pytest.mark.parametrize(
    "text",
    [
        "snooze 5000 days",
        "snooze forever",
        "snooze for ever",
        "snooze 0 days",
        "snooze 367 days",
        "snooze 2 years",
        "remind me in 400 days",
        "snooze until 2030-01-01",
        "snooze indefinitely",
        "snooze -3 days",
        "snooze zero days",
        "snooze the reg until 2028",
        "never remind me of the zip again",
    ],
)
def test_no_reminder_is_put_off_for_less_than_a_day_or_more_than_a_year(text):
    intent = read(text)
    assert isinstance(intent, Misunderstood)
    assert "one day to a year" in intent.problem
    assert "reminders off" in intent.problem


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("snooze 1 day", 1),
        ("snooze 366 days", 366),
        ("snooze 1 year", 365),
        ("snooze a week", 7),
        ("remind us in 3 days", 3),
    ],
)
def test_a_reminder_is_put_off_by_days(text, days):
    assert read(text) == Snooze(days=days)


# places

PLACES: list[tuple[str, SetPreference | None]] = [
    ("I live in New South Wales, Australia", SetPreference(zone="Australia/Sydney", region=Region.AUSTRALIA)),
    ("I live in Wales", SetPreference(region=Region.UK)),
    ("I live in South Wales", SetPreference(region=Region.UK)),
    ("I live in the US", SetPreference(region=Region.US)),
    ("I live in South Germany", SetPreference(region=Region.GERMANY)),
    ("I live in South Africa", SetPreference(region=Region.SOUTH_AFRICA)),
    ("I live in Northern Ireland", SetPreference(region=Region.UK)),
    ("I live in Ireland", SetPreference(region=Region.EU)),
    ("I live in New Zealand", SetPreference(region=Region.NEW_ZEALAND)),
    ("I live in Japan", SetPreference(zone="Asia/Tokyo")),
    ("I live in Egypt", SetPreference(zone="Africa/Cairo")),
    ("I live in South Korea", SetPreference(zone="Asia/Seoul")),
    ("country: Japan", SetPreference(zone="Asia/Tokyo")),
    ("we live in the Philippines", SetPreference(zone="Asia/Manila")),
    ("zone Japan", SetPreference(zone="Asia/Tokyo")),
    ("zone UTC+14", SetPreference(zone="Etc/GMT-14")),
    ("zone GMT+2", SetPreference(zone="Etc/GMT-2")),
    ("zone UTC-5", SetPreference(zone="Etc/GMT+5")),
    ("my time zone is UTC −5", SetPreference(zone="Etc/GMT+5")),
    ("use UTC+2", SetPreference(zone="Etc/GMT-2")),
    ("zone UTC", SetPreference(zone="UTC")),
    ("zone UTC+0", SetPreference(zone="UTC")),
    ("zone Etc/GMT-14", SetPreference(zone="Etc/GMT-14")),
    ("I live in New England", None),
    ("I live in New Mexico", None),
    ("I live in South America", None),
    ("I live in Latin America", None),
    ("I live in Georgia", None),
    ("I live in Indonesia", None),
    ("zone UTC+5:30", None),
    ("zone UTC+15", None),
    ("zone UTC-13", None),
]


@pytest.mark.parametrize(("text", "wish"), PLACES, ids=[row[0] for row in PLACES])
def test_a_place_gives_its_own_law_and_zone_or_a_kind_refusal(text, wish):
    found = read(text)
    assert found == wish if wish else isinstance(found, Misunderstood)


@pytest.mark.parametrize("text", ["let us see", "tell us", "new england", "new wales", "latin america"])
def test_words_that_hold_a_country_name_no_law(text):
    assert region_of(text) is None


def test_a_country_of_several_zones_has_none():
    assert zone_of_place("indonesia") is None
    assert zone_of_place("thailand") == "Asia/Bangkok"
    assert read("show kit") == ShowKit()
