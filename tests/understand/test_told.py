"""Dives of several days, what befell kit, cylinders by their size, and wishes in words: text to exact fields, near misses."""

from datetime import date
from typing import Any

import pytest

from bot.understand.dates import read_dates
from bot.understand.intents import LogDive, Misunderstood, PlanTrip, RecordCare, SetPreference, Snooze
from bot.understand.message import Message
from bot.understand.reader import understand
from store.vocabulary import Happening, ItemKind, Task

TODAY = date(2026, 6, 10)
"""A Wednesday."""


def dives(text: str) -> list[tuple[int | None, str]]:
    """Return number and day of each entry that a text logs."""
    intent = understand(text, TODAY)
    assert isinstance(intent, LogDive), intent
    return [(one.dives, str(one.on)) for one in (intent, *intent.also)]


def told(text: str, *names: str) -> tuple[Any, ...]:
    """Return the intent's name and the named fields."""
    said = understand(text, TODAY).fields()
    return (understand(text, TODAY).intent, *(said.get(name) for name in names))


MONDAY, TUESDAY, WEDNESDAY = "2026-06-08", "2026-06-09", "2026-06-10"
SATURDAY, SUNDAY = "2026-06-06", "2026-06-07"


@pytest.mark.parametrize(
    ("text", "entries"),
    [
        (
            "Dove every day from 3 to 7 june, 2 a day, salt water",
            [(2, f"2026-06-0{n}") for n in range(3, 8)],
        ),
        ("did 3 dives a day between 1 and 4 june, lake", [(3, f"2026-06-0{n}") for n in range(1, 5)]),
        ("3.6. to 7.6. 2 dives a day", [(2, f"2026-06-0{n}") for n in range(3, 8)]),
        ("dived every day from 3 to 5 june", [(1, f"2026-06-0{n}") for n in range(3, 6)]),
        ("10 dives from 3 to 7 june", [(10, "2026-06-07")]),
        ("14 dives 3 to 7 june, 45 min each", [(14, "2026-06-07")]),
        ("was on a liveaboard 20 to 27 may, 18 dives", [(18, "2026-05-27")]),
        ("we were in egypt 28.5.-4.6., 14 dives, salt", [(14, "2026-06-04")]),
        ("2 dives a day from monday to friday", [(2, f"2026-06-0{n}") for n in range(1, 6)]),
        ("dived mon to wed", [(1, MONDAY), (1, TUESDAY), (1, WEDNESDAY)]),
        ("last weekend 2 dives per day, ocean", [(2, SATURDAY), (2, SUNDAY)]),
        ("since monday 2 dives a day", [(2, MONDAY), (2, TUESDAY), (2, WEDNESDAY)]),
        ("the last 3 days 2 dives a day", [(2, MONDAY), (2, TUESDAY), (2, WEDNESDAY)]),
        ("every day this week 1 dive", [(1, MONDAY), (1, TUESDAY), (1, WEDNESDAY)]),
        ("dived mon, tue and wed", [(1, MONDAY), (1, TUESDAY), (1, WEDNESDAY)]),
        ("mon tue and today, one dive each, quarry", [(1, MONDAY), (1, TUESDAY), (1, WEDNESDAY)]),
        ("2 dives each on sat and sun", [(2, SATURDAY), (2, SUNDAY)]),
        ("4 dives sat and sun, salt", [(2, SATURDAY), (2, SUNDAY)]),
        ("3 dives saturday and sunday", [(3, SUNDAY)]),
        ("2 dives on the 3rd and 4th of june", [(1, "2026-06-03"), (1, "2026-06-04")]),
        ("went diving, 1 on monday, 2 on tuesday", [(1, MONDAY), (2, TUESDAY)]),
        ("3 dives: 1 on monday, 2 on tuesday, sea", [(1, MONDAY), (2, TUESDAY)]),
        (
            "forgot to log.. fri 1 dive sat 2 dives sun 2 dives",
            [(1, "2026-06-05"), (2, SATURDAY), (2, SUNDAY)],
        ),
        ("sat: 2 dives, sun: 1 dive", [(2, SATURDAY), (1, SUNDAY)]),
        ("on the 30.5. two dives and on the 31.5. one dive", [(2, "2026-05-30"), (1, "2026-05-31")]),
        ("Yesterday 2 pool sessions with the kids, today also one", [(2, TUESDAY), (1, WEDNESDAY)]),
        ("dived on saturday and again on sunday", [(1, SATURDAY), (1, SUNDAY)]),
        ("last sat 2 dives", [(2, SATURDAY)]),
        # one day, whatever else is named
        ("dived today, first time since saturday", [(None, WEDNESDAY)]),
        ("2 dives yesterday, first this week", [(2, TUESDAY)]),
        ("dived saturday, sunday was too windy", [(None, SATURDAY)]),
        ("2 dives yesterday, next dive on sunday", [(2, TUESDAY)]),
        ("i want to log a dive on sunday", [(1, SUNDAY)]),
    ],
)
def test_each_day_told_is_an_entry(text, entries):
    assert dives(text) == entries


@pytest.mark.parametrize(
    "text",
    [
        "2 dives saturday and 3 on sunday, all in the sea, deepest 28m",
        "max 28 m in the sea: 2 dives saturday and 3 on sunday",
        "2 dives sat and 3 sun, both days salt water, 28 m",
    ],
)
def test_what_is_said_of_all_days_stands_on_every_entry(text):
    intent = understand(text, TODAY)
    assert isinstance(intent, LogDive)
    assert [(d.dives, d.max_depth_m, d.water) for d in (intent, *intent.also)] == [
        (2, 28.0, "salt"),
        (3, 28.0, "salt"),
    ]


def test_what_befell_kit_on_several_days_is_told_once():
    intent = understand("saturday and sunday 1 dive each, flooded my torch", TODAY)
    assert isinstance(intent, LogDive)
    assert sum(len(d.happened) for d in (intent, *intent.also)) == 1


@pytest.mark.parametrize(
    "text",
    [
        "dived from 1 to 30 may, 1 a day",
        "dived 8 to 12 june",
        "25 dives from 1 to 30 may",
    ],
)
def test_days_that_cannot_be_logged_at_once_are_refused(text):
    assert isinstance(understand(text, TODAY), Misunderstood)


@pytest.mark.parametrize(
    ("text", "start", "number"),
    [
        ("we will dive on sunday", date(2026, 6, 14), 1),
        ("planning 2 dives on sunday", date(2026, 6, 14), 2),
        ("want to dive on saturday", date(2026, 6, 13), None),
        ("friday to sunday 5 dives", date(2026, 6, 12), 5),
    ],
)
def test_dives_ahead_are_planned_and_not_logged(text, start, number):
    intent = understand(text, TODAY)
    assert isinstance(intent, PlanTrip)
    assert (intent.from_on, intent.dives) == (start, number)


@pytest.mark.parametrize(
    ("text", "changed"),
    [
        ("on sunday it was 3 dives not 2", {"was_on": date(2026, 6, 7), "dives": 3}),
        ("sorry, on sunday it was 3 not 2", {"was_on": date(2026, 6, 7), "dives": 3}),
        ("i did 3 dives on sunday, not two", {"was_on": date(2026, 6, 7), "dives": 3}),
        ("saturday it was 30 m not 40", {"was_on": date(2026, 6, 6), "max_depth_m": 30.0}),
        ("the dive on 2 june was 13 m not 31 m", {"was_on": date(2026, 6, 2), "max_depth_m": 13.0}),
        ("the last dive was 20 min not 40 min", {"duration_min": 20}),
        ("yesterday was fresh not salt", {"was_on": date(2026, 6, 9), "water": "fresh"}),
        ("the dive was on saturday, not sunday", {"was_on": date(2026, 6, 7), "on": date(2026, 6, 6)}),
    ],
)
def test_contrast_puts_the_entry_of_a_day_right(text, changed):
    assert understand(text, TODAY).fields() == LogDive(corrects=True, **changed).fields()


@pytest.mark.parametrize("text", ["2 dives on sunday, not much vis", "dive yesterday, 30 m, not 1 fish"])
def test_denied_words_that_are_no_figures_correct_nothing(text):
    intent = understand(text, TODAY)
    assert isinstance(intent, LogDive)
    assert not intent.corrects


@pytest.mark.parametrize(
    "text",
    [
        "which dives have you got for me",
        "can i see the dives i put in so far",
        "logbook pls",
        "what dives do you have",
        "let me see my dives",
        "what's in my dive log",
        "i want to see my logbook",
    ],
)
def test_log_is_shown_by_any_words(text):
    assert told(text, "dives") == ("show_kit", True)


@pytest.mark.parametrize(
    "text",
    ["can i see the dives left on the reg", "can i see my dive computer", "which dives need the drysuit"],
)
def test_log_is_not_shown_where_kit_is_asked_of(text):
    assert told(text)[0] != "show_kit"


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("14.-21.8.", date(2026, 8, 14), date(2026, 8, 21)),
        ("14.8.-21.8. malta", date(2026, 8, 14), date(2026, 8, 21)),
        ("14-21.8.2026", date(2026, 8, 14), date(2026, 8, 21)),
        ("14/8 to 21/8", date(2026, 8, 14), date(2026, 8, 21)),
        ("28.12.-4.1. norway", date(2026, 12, 28), date(2027, 1, 4)),
        ("3.-7.6.", date(2027, 6, 3), date(2027, 6, 7)),
        ("between 3 and 7 july", date(2026, 7, 3), date(2026, 7, 7)),
    ],
)
def test_range_in_figures_lies_ahead(text, first, last):
    assert read_dates(text, TODAY, "future").span == (first, last)


@pytest.mark.parametrize("text", ["1.5-2.5 m", "12.5-14.5 degrees", "tx 18/45 - 50/20", "4.5 to 6.5 h"])
def test_measures_are_no_range_of_days(text):
    assert read_dates(text, TODAY, "future").span is None


@pytest.mark.parametrize(
    ("text", "ahead", "behind"),
    [
        ("until end of august", date(2026, 8, 31), date(2025, 8, 1)),
        ("end of the month", date(2026, 6, 30), date(2026, 6, 1)),
        ("end of next month", date(2026, 7, 31), date(2026, 7, 1)),
        ("by the end of the year", date(2026, 12, 31), date(2026, 1, 1)),
        ("middle of august", date(2026, 8, 16), date(2025, 8, 1)),
        ("start of july 2027", date(2027, 7, 1), date(2027, 7, 1)),
    ],
)
def test_part_of_a_month_is_a_day_ahead_and_a_month_behind(text, ahead, behind):
    assert read_dates(text, TODAY, "future").on == ahead
    past = read_dates(text, TODAY, "past")
    assert (past.on, past.month_only) == (behind, True)


CYLINDER, TWINSET, STAGE = ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.STAGE


@pytest.mark.parametrize(
    ("text", "kind", "mention"),
    [
        ("steel 12", CYLINDER, "steel cylinder"),
        ("my steel 12's", CYLINDER, "steel cylinder"),
        ("steel 100", CYLINDER, "steel cylinder"),
        ("hp 100", CYLINDER, "steel cylinder"),
        ("lp85", CYLINDER, "steel cylinder"),
        ("alu 80", CYLINDER, "aluminium cylinder"),
        ("aluminium 7", CYLINDER, "aluminium cylinder"),
        ("the club 12s", CYLINDER, "cylinder"),
        ("the 12's", CYLINDER, "cylinder"),
        ("the 10 litre bottle", CYLINDER, "bottle"),
        ("old 10l", CYLINDER, "cylinder"),
        ("twin 12s", TWINSET, "twinset"),
        ("double 12s", TWINSET, "twinset"),
        ("12l twinset", TWINSET, "twinset"),
        ("7 l alu stage", STAGE, "stage"),
    ],
)
def test_size_of_a_cylinder_names_it(text, kind, mention):
    m = Message(text, TODAY)
    assert (m.kinds, m.item_mentions) == ((kind,), (mention,))


@pytest.mark.parametrize(
    "text",
    ["hp 100 bar", "steel 12 kg", "5 l of water", "a 12 m dive", "steel 12 mm", "20l box", "in 12s time"],
)
def test_other_measures_name_no_cylinder(text):
    assert CYLINDER not in Message(text, TODAY).kinds


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("sold the old 10l, it failed the hydro", ("retire_item", "cylinder", None)),
        ("binned the alu 80", ("retire_item", "aluminium cylinder", None)),
        ("hydro done today on the 15 litre, next one 10.06.2031", ("record_care", "cylinder", "2031-06-10")),
        ("twinset visual yesterday, next on 8 december 2028", ("record_care", "twinset", "2028-12-08")),
        ("hydro made on 4.6.2026, due again 06/2031", ("record_care", None, "2031-06-01")),
    ],
)
def test_tests_and_sales_of_cylinders_by_size(text, expected):
    assert told(text, "item", "next_on") == expected


@pytest.mark.parametrize(
    ("text", "facts"),
    [
        ("my steel 12's hydro is due on 15 sept 2027", {"hydro_due_on": "2027-09-15"}),
        ("next visual of the twinset is due 2027-02-28", {"visual_due_on": "2027-02-28"}),
        ("hydro of the club 12s due in september 2027", {"hydro_due_on": "2027-09-01"}),
        ("pony made 14 march 2011", {"made_on": "2011-03-14"}),
        ("pony made march 2011", {"made_on": "2011-03-01"}),
        ("steel 100 has a special permit", {"special_permit": True}),
        ("we did a risk asessment for the club 12s", {"risk_assessed": True}),
        ("no risk assesment for the twin 12s", {"risk_assessed": False}),
        ("the club 12s are tested in germany", {"region": "DE"}),
    ],
)
def test_facts_of_a_cylinder_keep_the_day_that_was_said(text, facts):
    intent, said = told(text, "facts")
    assert intent == "add_item"
    assert {k: v for k, v in said.items() if v is not None} == facts


@pytest.mark.parametrize(
    ("text", "on", "month_only"),
    [("stage stamped 14/05/2024", "2024-05-14", False), ("stage stamped 05/2024", "2024-05-01", True)],
)
def test_stamp_is_a_month_only_where_no_day_was_said(text, on, month_only):
    assert told(text, "on", "month_only", "stamped") == ("record_care", on, month_only, True)


@pytest.mark.parametrize(
    ("text", "made_on"),
    [
        ("swapped o2 cell 2 in the breather yesterday, cell is from jan 2026", "2026-01-01"),
        ("Replaced the neck seal on 1 june, date of manufacture 2026-02-14", "2026-02-14"),
        ("changed the hp hose, date on it 11/2024", "2024-11-01"),
        ("new hose on the octo, it's from 3/2025", "2025-03-01"),
        ("replaced the cells, label says 03/2026", "2026-03-01"),
        ("new cells in the rebreather, all from may 2026", "2026-05-01"),
        ("changed the cells, dated 12 feb 2026", "2026-02-12"),
        ("new o2 sensors in, dated 04/2026", "2026-04-01"),
    ],
)
def test_date_on_what_was_put_in_is_its_manufacture(text, made_on):
    assert told(text, "task", "made_on") == ("record_care", "replace", made_on)


FLOODED, LEAKING, DAMAGED = Happening.FLOODED, Happening.LEAKING, Happening.DAMAGED


@pytest.mark.parametrize(
    ("text", "happened"),
    [
        ("my camera housing has taken water yesterday", FLOODED),
        ("the housing took on water", FLOODED),
        ("torch took water on the last dive", FLOODED),
        ("computer has taken in some water", FLOODED),
        ("i flod my torch", FLOODED),
        ("the reg is free flowing", LEAKING),
        ("regulator started to free flow", LEAKING),
        ("reg won't stop free flowing", LEAKING),
        ("my octo is hissing", LEAKING),
        ("bubbles from the valve", LEAKING),
        ("my pony is losing gas", LEAKING),
        ("bcd dosent hold air", LEAKING),
        ("hp hose leakd yesterday", LEAKING),
        ("dropd my reg", DAMAGED),
        ("dropt the camera", DAMAGED),
        ("someone backed the car over the alu 80", DAMAGED),
        ("someone dropped the steel 12 , big dent in the shoulder", DAMAGED),
        ("dropped the torch off the boat", DAMAGED),
    ],
)
def test_mishap_is_read_by_any_words(text, happened):
    intent = understand(text, TODAY)
    assert isinstance(intent, RecordCare)
    assert (intent.happened, intent.task, intent.also) == (happened, None, ())


@pytest.mark.parametrize(
    "text",
    [
        "took water samples with the housing",
        "dropped the tank off at the dive shop",
        "dropped off the twinset for hydro",
        "rinsed the bcd, no leaks",
        "serviced the reg, it was free flowing",
        "replaced the o-ring, torch was leaking",
        "regulator does not hiss",
    ],
)
def test_no_mishap_where_none_was_told_or_it_is_mended(text):
    assert told(text, "happened")[1] is None


@pytest.mark.parametrize(
    ("text", "happened", "tasks"),
    [
        ("torch flooded, rinsed it", FLOODED, [Task.RINSE]),
        ("my torch flooded on sunday, rinsed and dried it", FLOODED, [Task.RINSE, Task.DRY]),
        ("rinsed the torch, it flooded", FLOODED, [Task.RINSE]),
        ("flooded torch, replaced the o-ring", FLOODED, [Task.REPLACE]),
        ("reg free flowed, got it serviced yesterday", LEAKING, [Task.SERVICE]),
        ("drysuit leaked so i waxed the zip", LEAKING, [Task.LUBRICATE]),
        ("torch flooded, rinsed it, what now?", FLOODED, [Task.RINSE]),
    ],
)
def test_care_told_beside_a_mishap_is_kept_with_it(text, happened, tasks):
    intent = understand(text, TODAY)
    assert isinstance(intent, RecordCare)
    assert (intent.happened, [act.task for act in intent.also]) == (happened, tasks)
    assert {act.item for act in intent.also} == {intent.item}


@pytest.mark.parametrize(
    "text",
    [
        "We are not going to norway anymore",
        "not flying to egypt any more",
        "malta got cancelled",
        "the red sea is off",
        "norway isn't happening",
        "we won't go to croatia after all",
        "can't go on the trip",
        "scrap egypt",
        "we cancelled bonaire",
        "not doing norway this year",
        "no trip to malta",
    ],
)
def test_trip_is_called_off_by_its_place(text):
    assert understand(text, TODAY) == PlanTrip(cancels=True)


@pytest.mark.parametrize(
    "text",
    [
        "the regulator is off",
        "the valve is off",
        "gas is off",
        "i can't go to the pool any more",
        "reminders off",
    ],
)
def test_trip_stands_where_something_else_is_off(text):
    assert not isinstance(understand(text, TODAY), PlanTrip)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("leave the drysuit zip till after the trip", {"after_trip": True, "item": "drysuit"}),
        ("leave the zip for now", {}),
        ("skip the regulator until monday", {"until": date(2026, 6, 15), "item": "regulator"}),
        ("put off the reg service for 2 weeks", {"days": 14, "item": "reg"}),
        ("the bcd can wait till monday", {"until": date(2026, 6, 15), "item": "bcd"}),
        ("don't remind me about the zip", {}),
        ("don't nag me about the torch until friday", {"until": date(2026, 6, 12), "item": "torch"}),
        ("no reminders for the zip", {}),
        ("snooze till end of the week", {"until": date(2026, 6, 14)}),
    ],
)
def test_care_of_one_thing_is_put_off(text, fields):
    intent = understand(text, TODAY)
    assert isinstance(intent, Snooze)
    assert intent.model_copy(update={"refs": ()}) == Snooze(**fields)


@pytest.mark.parametrize("text", ["leave for egypt on 5 july", "left the torch at home", "don't remind me"])
def test_nothing_is_put_off_by_other_words(text):
    assert not isinstance(understand(text, TODAY), Snooze)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("send reminders at half past 7 in the morning", {"digest_at": "07:30"}),
        ("remind me at quarter to eight", {"digest_at": "07:45"}),
        ("digest at quarter past six in the evening", {"digest_at": "18:15"}),
        ("reminders at ten to eight", {"digest_at": "07:50"}),
        ("reminders at seven", {"digest_at": "07:00"}),
        ("quiet hours from half past ten pm to seven", {"quiet_from": "22:30", "quiet_to": "07:00"}),
        ("im on the road, use bangkok time for now", {"zone": "Asia/Bangkok"}),
        ("we're on lisbon time this week", {"zone": "Europe/Lisbon"}),
        ("switch to new york time please", {"zone": "America/New_York"}),
        ("i'm in thailand till sunday, bangkok time", {"zone": "Asia/Bangkok"}),
        ("set clock to auckland", {"zone": "Pacific/Auckland"}),
    ],
)
def test_hours_and_zones_in_words_are_read(text, fields):
    assert understand(text, TODAY) == SetPreference(**fields)


@pytest.mark.parametrize("text", ["no time to dive", "dive time was 40 min", "use dive time"])
def test_time_of_no_place_sets_no_zone(text):
    assert not isinstance(understand(text, TODAY), SetPreference)


@pytest.mark.parametrize(
    ("text", "task"),
    [
        ("rebreather handbook: change o2 cells every 12 months", "replace"),
        ("manual: swap the sorbent every 3 hours", "replace"),
        ("handbook says check the wing every 6 months", "inspect"),
        ("the maker says new cells every 12 months", "replace"),
    ],
)
def test_act_of_an_interval_is_read_by_any_verb(text, task):
    assert told(text, "task") == ("record_manual", task)


@pytest.mark.parametrize(
    ("text", "task", "why"),
    [
        ("why does the pony need a hydro now, did it last year", "test", True),
        ("why is my twinset asking for a visual again", "inspect", True),
        ("why another hydro already", "test", True),
        ("why hydro again", "test", True),
        ("why are you on about the twinset hydro", "test", True),
        ("When must the drysuit zip be lubricated next", "lubricate", False),
        ("when was the zip last waxed", "lubricate", False),
        ("when do i have to service the reg again", "service", False),
    ],
)
def test_when_and_why_of_one_act_ask_of_what_is_due(text, task, why):
    assert told(text, "task", "why") == ("show_due", task, why)


@pytest.mark.parametrize("text", ["why does the zip need wax", "when should I grease the zip?"])
def test_when_and_why_of_a_lubricant_stay_questions(text):
    assert told(text)[0] == "ask"


@pytest.mark.parametrize(
    ("text", "until"),
    [
        ("what is due until end of august", "2026-08-31"),
        ("what is due this month", "2026-06-30"),
        ("what is due next month", "2026-07-31"),
        ("due by end of week", "2026-06-14"),
    ],
)
def test_due_is_asked_up_to_the_end_of_a_period(text, until):
    assert told(text, "until") == ("show_due", until)


@pytest.mark.parametrize(
    "text",
    [
        "did a valve check today",
        "remind me to get the reg serviced in 2 weeks",
        "leave the suit to dry for two days",
    ],
)
def test_no_service_is_recorded_that_was_not_done(text):
    assert not isinstance(understand(text, TODAY), RecordCare)
