"""What was done, what was not, what lies ahead, what may be and what others do are told apart, in one message too."""

from datetime import date

import pytest

from bot.reading.acts import told
from bot.understand.intents import (
    AddItem,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RetireItem,
    SetPreference,
    Snooze,
)
from bot.understand.reader import Context, Talk, understand
from store.vocabulary import Task

TODAY = date(2026, 6, 10)


def acts(text, about="", item=None):
    return told(understand(text, TODAY, Context(talk=Talk(about=about, item=item))))


def cared(text):
    return {(a.task.value, a.part or a.item) for a in acts(text) if isinstance(a, RecordCare) and a.task}


@pytest.mark.parametrize(
    ("text", "done"),
    [
        (
            "rinsed da wetsuit in da bath n da mask fins snorkel",
            {("rinse", i) for i in ("wetsuit", "mask", "fins", "snorkel")},
        ),
        ("Me after lunch. 1 dive. 10 m. 8 C. Suit hosed, not disinfected yet.", {("rinse", "Suit")}),
        ("rinsed the wing, will do the suit tomorrow", {("rinse", "wing")}),
        ("rinsed the wing, torch not yet", {("rinse", "wing")}),
        (
            "suit dry. talc on seals. wax on zip.",
            {("dry", "suit"), ("powder", "neck and wrist seals"), ("lubricate", "dry-suit zip")},
        ),
        (
            "Suit I rinsed yesterday evening and zipper got beeswax. Regulators not rinsed yet, do not nag.",
            {("rinse", "Suit"), ("lubricate", "dry-suit zip")},
        ),
        (
            "last thing the oxygen sensors in the rebreather were replaced in March of last year",
            {("replace", "oxygen cells")},
        ),
    ],
)
def test_only_what_was_done_is_noted_each_on_its_own(text, done):
    assert cared(text) == done


@pytest.mark.parametrize(
    "text",
    [
        "Bent had 2 dives at the fuel pier, 9 m. I was tender on the line. Not me in water.",
        "Karthik has changed his sorbent and calibrated the cells, I was only holding the torch",
        "we might go down Pembroke way in August if my mam has the boys I'm not counting on it",
        "Marek buy rebreather, third hand, from internet.",
        "tmrw i have 2 groups more w the german family, 12 m max, pray 4 me",
        "my dad greased everything with pig fat in the army",
    ],
)
def test_what_others_do_and_what_may_be_is_not_noted(text):
    kinds = (AddItem, LogDive, PlanTrip, RecordCare, RetireItem, SetPreference, Snooze)
    assert not [a for a in acts(text) if isinstance(a, kinds)]


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("Correction: 64 m. Run time 102.", {"max_depth_m": 64.0, "duration_min": 102}),
        ("temp 6 not 7", {"min_temp_c": 6.0, "max_depth_m": None}),
        ("mix was 30 not 32 btw, analyzed", {"o2_fraction": 0.3, "max_depth_m": None}),
        ("sori 16m lol 18 was my cuz", {"max_depth_m": 16.0}),
        ("wait watch says 18.6 lol", {"max_depth_m": 18.6}),
    ],
)
def test_what_is_put_right_is_the_figure_that_is_named(text, fields):
    (read,) = acts(text, "dive")
    assert isinstance(read, LogDive)
    assert read.corrects
    assert {n: getattr(read, n) for n in fields} == fields


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        ("Day 2, same deal, 2 more today. 35 ft and 40 ft. 4 new divers!!", {"dives": 2}),
        (
            "this morning one dive with the tank, 17 m, 40 minutes, sea has 22",
            {"max_depth_m": 17.0, "min_temp_c": 22.0},
        ),
        ("yesterday: dive 1 30m 40min, dive 2 22m 50min, both ean32, sea", {"dives": 2, "max_depth_m": 30.0}),
    ],
)
def test_a_number_is_what_the_words_beside_it_say(text, fields):
    read = acts(text)[0]
    assert isinstance(read, LogDive)
    assert {n: getattr(read, n) for n in fields} == fields


def test_the_old_one_goes_when_a_new_one_comes():
    new, gone = acts("I've bought a new mask and the cracked one's in the bin")
    assert isinstance(new, AddItem)
    assert isinstance(gone, RetireItem)
    assert gone.item == "cracked mask"


def test_a_clause_that_names_too_little_is_asked_about_and_the_rest_is_noted():
    read = acts("bought silicone grease, wiped the big oring. then 2 dives house reef, 14m 50 min, 9m 62 min")
    assert [a.dives for a in read if isinstance(a, LogDive)] == [2]
    assert [a for a in read if isinstance(a, Misunderstood) and "what was that done to" in a.problem]


def test_kit_that_is_rented_is_not_the_divers():
    read = acts(
        "I bought: mask, fins and wetsuit of 5 mm. The BCD and the regulator I always rent of the dive center"
    )
    assert {a.kind.value for a in read if isinstance(a, AddItem)} == {"mask", "fins", "wetsuit"}


def test_talc_is_powder_and_disinfectant_disinfects():
    assert Task.POWDER in {a.task for a in acts("put talc on the neck seal") if isinstance(a, RecordCare)}
    assert cared("washed the gloves and the hood with disinfectant") == {
        ("disinfect", "gloves"),
        ("disinfect", "hood"),
    }
