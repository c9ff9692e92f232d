"""What is told of kit: care that was not done, items by their own names, many at once, and what cannot be."""

from datetime import date

import pytest

from bot.handle.find import all_by_mention, by_mention
from bot.understand.intents import (
    AddItem,
    Ask,
    LogDive,
    Misunderstood,
    RecordCare,
    RecordManual,
    RetireItem,
    Several,
    ShowDue,
)
from bot.understand.message import Message
from bot.understand.reader import Context, understand
from store.catalogue import ItemFacts
from store.items import dump_facts
from store.tables import Item
from store.vocabulary import CylinderMaterial, CylinderTest, Happening, ItemKind, Region, Task

TODAY = date(2026, 6, 10)
"""A Wednesday."""
NAMES = (
    *(f"cylinder {n}" for n in (*range(2, 9), 12)),
    "cylinder",
    "stage",
    "steel cylinder",
    "boots",
    "twinset",
)
"""The kit of a diver who has many of a kind; "cylinder" is the first of them."""


def read(text: str, *names: str) -> object:
    """Return the intent of a text, for a diver whose items have these names."""
    return understand(text, TODAY, Context(names=names))


def acts(text: str, *names: str) -> list[tuple[Task | None, str | None]]:
    """Return task and item of each act that a text records."""
    meant = read(text, *names)
    told = [
        t for t in (meant.of if isinstance(meant, Several) else (meant,)) if not isinstance(t, Misunderstood)
    ]
    assert told, meant
    assert all(isinstance(t, RecordCare) for t in told), meant
    return [(act.task, act.item) for t in told for act in (t, *t.also)]


@pytest.mark.parametrize(
    ("text", "item", "task"),
    [
        ("twinset visual not done", "twinset", Task.INSPECT),
        ("twinset hydro not done yet", "twinset", Task.TEST),
        ("I don't know when the twinset was hydro tested", "twinset", Task.TEST),
        ("no idea when the twinset was tested", "twinset", Task.TEST),
        ("can't remember when the twinset was tested", "twinset", Task.TEST),
        ("unsure when the stage was last tested", "stage", Task.TEST),
        ("I think the twinset was tested", "twinset", Task.TEST),
        ("twinset hydro tested May 2024 I think", "twinset", Task.TEST),
        ("maybe the twinset was tested in 2024", "twinset", Task.TEST),
        ("twinset not tested since May 2021", "twinset", Task.TEST),
        ("station closed, twinset not tested", "twinset", Task.TEST),
        ("regs not serviced", "regs", Task.SERVICE),
        ("the regs have not been serviced", "regs", Task.SERVICE),
        ("regs: not serviced", "regs", Task.SERVICE),
        ("not sure if the regs were serviced", "regs", Task.SERVICE),
        ("nobody serviced the regs", "regs", Task.SERVICE),
        ("the regs were supposed to be serviced", "regs", Task.SERVICE),
        ("need to service the regs", "regs", Task.SERVICE),
        ("want to get the regs serviced", "regs", Task.SERVICE),
        ("regs are being serviced", "regs", Task.SERVICE),
        ("took the regs to be serviced", "regs", Task.SERVICE),
        ("not rinsed the suit yet", "suit", Task.RINSE),
        ("haven't rinsed and dried the suit", "suit", Task.RINSE),
        ("forgot to rinse the torch", "torch", Task.RINSE),
        ("wing not rinsed today", "wing", Task.RINSE),
        ("must rinse the suit", "suit", Task.RINSE),
        ("should have powdered the seals", "dry suit", Task.POWDER),
        ("zip not waxed", "dry suit", Task.LUBRICATE),
        ("all cylinders hydro not done", "cylinders", Task.TEST),
    ],
)
def test_care_that_is_open_shows_what_is_due(text, item, task):
    told = read(text)
    assert isinstance(told, ShowDue), told
    assert (told.item, told.task) == (item, task)


@pytest.mark.parametrize(
    "text",
    [
        "haven't greased the rings",
        "will rinse tomorrow",
        "the shop did not test it",
        "hydro not done",
        "rinsed nothing",
        "still have to grease the rings",
    ],
)
def test_care_denied_without_an_item_says_that_nothing_was_noted(text):
    told = read(text)
    assert isinstance(told, Misunderstood)
    assert "noted nothing" in told.problem


@pytest.mark.parametrize(
    "text",
    [
        "about to wax the zip",
        "planning to wax the zip",
        "neither the regs nor the wing were serviced",
        "regs unserviced",
        "twinset untested since 2019",
        "rinsed? not yet",
        "if i rinsed the regs",
        "twinset not condemned",
        "I don't have a test date for the twinset",
        "I lost the test certificate of the twinset",
    ],
)
def test_nothing_is_recorded_nor_retired(text):
    assert not isinstance(read(text), RecordCare | RetireItem)


@pytest.mark.parametrize(
    ("text", "done"),
    [
        ("rinsed the suit, not the regs", [(Task.RINSE, "suit")]),
        ("rinsed the regs but not the suit", [(Task.RINSE, "regs")]),
        ("rinsed the regs and didn't dry the suit", [(Task.RINSE, "regs")]),
        ("forgot to rinse the regs, dried the suit", [(Task.DRY, "suit")]),
        ("suit: dried, not rinsed", [(Task.DRY, "suit")]),
        ("rinsed the wing, will do the suit tomorrow", [(Task.RINSE, "wing")]),
        ("rinsed the wing, the suit tomorrow", [(Task.RINSE, "wing")]),
        ("twinset hydro tested, not visual", [(Task.TEST, "twinset")]),
        ("serviced the regs, no problems found", [(Task.SERVICE, "regs")]),
        ("forgot to tell you, rinsed the torch yesterday", [(Task.RINSE, "torch")]),
        ("forgot to log: regs serviced in May 2026", [(Task.SERVICE, "regs")]),
        ("rinsed the torch, now I need to charge it", [(Task.RINSE, "torch")]),
        ("can't complain, serviced the regs in May 2026", [(Task.SERVICE, "regs")]),
        ("rinsed regs, wing and torch", [(Task.RINSE, "regs"), (Task.RINSE, "wing"), (Task.RINSE, "torch")]),
        ("regs, wing and torch rinsed", [(Task.RINSE, "regs"), (Task.RINSE, "wing"), (Task.RINSE, "torch")]),
        ("dried the suit in the bag", [(Task.DRY, "suit")]),
        ("new battery in the torch, rinsed the mask", [(Task.REPLACE, "torch"), (Task.RINSE, "mask")]),
        ("camera housing, o-ring greased", [(Task.LUBRICATE, "camera housing")]),
    ],
)
def test_only_what_is_told_as_done_is_recorded(text, done):
    assert acts(text) == done


@pytest.mark.parametrize(
    ("text", "item", "test"),
    [
        ("twinset failed hydro", "twinset", CylinderTest.HYDROSTATIC),
        ("twinset did not pass hydro", "twinset", CylinderTest.HYDROSTATIC),
        ("twinset hydro tested, failed", "twinset", CylinderTest.HYDROSTATIC),
        ("the twinset was condemned", "twinset", CylinderTest.HYDROSTATIC),
        ("stage failed eddy current", "stage", CylinderTest.EDDY_CURRENT),
        ("twinset didn't pass the visual", "twinset", CylinderTest.VISUAL),
        ("failed visual", None, CylinderTest.VISUAL),
        ("condemned", None, CylinderTest.HYDROSTATIC),
    ],
)
def test_failed_cylinder_is_damaged_and_never_tested(text, item, test):
    told = read(text)
    assert isinstance(told, RecordCare)
    assert (told.happened, told.task, told.item, told.test, told.also) == (
        Happening.DAMAGED,
        None,
        item,
        test,
        (),
    )


def test_what_passed_beside_a_failure_is_kept():
    told = read("twinset hydro passed in May 2024, visual failed")
    assert isinstance(told, RecordCare)
    assert (told.happened, told.on) == (Happening.DAMAGED, None)
    assert [(a.test, a.on, a.item) for a in told.also] == [
        (CylinderTest.HYDROSTATIC, date(2024, 5, 1), "twinset")
    ]


@pytest.mark.parametrize(
    "text", ["sold the twinset, it failed hydro", "scrapped the twinset after it failed hydro"]
)
def test_failed_cylinder_that_left_is_retired(text):
    assert isinstance(read(text), RetireItem)


@pytest.mark.parametrize(
    ("text", "region"),
    [
        ("twinset tested in Germany", Region.GERMANY),
        ("twinset was tested in Germany", Region.GERMANY),
        ("stage hydro tested in the UK", Region.UK),
    ],
)
def test_where_it_is_tested_is_a_fact(text, region):
    told = read(text)
    assert isinstance(told, AddItem)
    assert told.facts == ItemFacts(region=region)


@pytest.mark.parametrize(
    "text",
    [
        "twinset tested in Germany today",
        "had the twinset tested in Germany",
        "twinset tested in Germany May 2026",
    ],
)
def test_test_that_was_made_abroad_is_a_test(text):
    assert acts(text) == [(Task.TEST, "twinset")]


@pytest.mark.parametrize(
    ("text", "item", "but"),
    [
        ("rinsed all but the regs", None, ("regs",)),
        ("rinsed everything except the torch", None, ("torch",)),
        ("rinsed everything apart from the regs and the suit", None, ("regs", "suit")),
        ("everything but the regs rinsed", None, ("regs",)),
        ("rinsed the kit, not the regs", None, ("regs",)),
        ("rinsed everything but the loop", None, ("rebreather",)),
        ("rinsed all the cylinders except cylinder 3", "cylinders", ("cylinder 3",)),
        ("all the cylinders rinsed", "cylinders", ()),
        ("every cylinder rinsed", "cylinder", ()),
        ("the cylinders were all rinsed", "cylinders", ()),
        ("rinsed everything today", None, ()),
    ],
)
def test_everything_leaves_out_what_was_left_out(text, item, but):
    told = read(text, *NAMES)
    assert isinstance(told, RecordCare)
    assert (told.everything, told.item, told.but, told.task) == (True, item, but, Task.RINSE)


def test_exception_that_is_no_kit_records_nothing():
    assert isinstance(read("rinsed everything except the dog"), Misunderstood)


def test_everything_keeps_what_was_done_besides():
    told = read("rinsed everything, dried the mask")
    assert isinstance(told, RecordCare)
    assert (told.everything, told.item) == (True, None)
    assert [(a.task, a.item) for a in told.also] == [(Task.DRY, "mask")]


@pytest.mark.parametrize(
    ("names", "everything"),
    [((), True), (("stage", "stage 2"), True), (("stage", "stage 2", "stage 3"), False)],
)
def test_both_are_two(names, everything):
    told = read("both stages rinsed", *names)
    assert isinstance(told, RecordCare)
    assert told.everything is everything


@pytest.mark.parametrize(
    ("text", "items", "on"),
    [
        ("cylinder 3 hydro tested June 2022", ["cylinder 3"], date(2022, 6, 1)),
        ("hydro tested cylinder 3 June 2022", ["cylinder 3"], date(2022, 6, 1)),
        ("tank no 3 hydro tested June 2022", ["cylinder 3"], date(2022, 6, 1)),
        ("cylinder 1 hydro tested June 2022", ["cylinder"], date(2022, 6, 1)),
        ("rinsed cylinder 3", ["cylinder 3"], None),
        ("cylinder 3 and 4 hydro tested May 2024", ["cylinder 3", "cylinder 4"], date(2024, 5, 1)),
        (
            "cylinders 3, 5 and 7 visual done May 2026",
            ["cylinder 3", "cylinder 5", "cylinder 7"],
            date(2026, 5, 1),
        ),
        (
            "cylinders 4 to 6 visual tested March 2026",
            ["cylinder 4", "cylinder 5", "cylinder 6"],
            date(2026, 3, 1),
        ),
        (
            "cylinders 4-6 visual tested March 2026",
            ["cylinder 4", "cylinder 5", "cylinder 6"],
            date(2026, 3, 1),
        ),
        ("cylinder 3 and the stage hydro tested May 2024", ["cylinder 3", "stage"], date(2024, 5, 1)),
        ("steel cylinder hydro tested May 2024", ["steel cylinder"], date(2024, 5, 1)),
        ("carbon cylinder hydro tested May 2024", ["carbon cylinder"], date(2024, 5, 1)),
        # one of them is not known: which are meant is asked
        ("cylinders 4 to 20 visual tested March 2026", ["cylinders"], date(2026, 3, 1)),
    ],
)
def test_numbered_items_are_meant_by_their_names(text, items, on):
    told = read(text, *NAMES)
    assert isinstance(told, RecordCare)
    assert [(a.item, a.on) for a in (told, *told.also)] == [(item, on) for item in items]


def test_number_of_a_name_is_no_figure():
    dived = read("2 dives with cylinder 3 and cylinder 7, 45 min, 20 m", *NAMES)
    assert isinstance(dived, LogDive)
    assert (dived.dives, dived.duration_min, dived.max_depth_m) == (2, 45, 20.0)
    assert dived.items == ("cylinder 3", "cylinder 7")
    dented, sold, told = (
        read(t, *NAMES) for t in ("dented cylinder 8", "sold cylinder 12", "cylinder 3 is alloy 6351")
    )
    assert isinstance(dented, RecordCare)
    assert isinstance(sold, RetireItem)
    assert isinstance(told, AddItem)
    assert (dented.item, sold.item, told.of) == ("cylinder 8", "cylinder 12", "cylinder 3")


def item(name: str, kind: ItemKind = ItemKind.CYLINDER, **facts: object) -> Item:
    """Return an item of a kit."""
    told = dump_facts(ItemFacts.model_validate(facts))
    return Item(locker_id=1, kind=kind, name=name, facts=told, added_on=TODAY, added_by="test")


KIT = [
    item("cylinder", cylinder_material=CylinderMaterial.COMPOSITE),
    item("cylinder 2"),
    item("cylinder 3"),
    item("steel cylinder"),
    item("stage", ItemKind.STAGE),
    item("boots", ItemKind.BOOTS),
]


@pytest.mark.parametrize(
    ("mention", "names"),
    [
        ("cylinder 3", ["cylinder 3"]),
        ("cylinder", ["cylinder"]),
        ("cylinders", ["cylinder", "cylinder 2", "cylinder 3", "steel cylinder"]),
        ("steel cylinder", ["steel cylinder"]),
        ("steel tank", ["steel cylinder"]),
        ("carbon cylinder", ["cylinder"]),
        ("alu tank", ["cylinder 2", "cylinder 3"]),
        ("steal cylinder", ["steel cylinder"]),
        ("boots", ["boots"]),
        ("deco stage", ["stage"]),
    ],
)
def test_mention_finds_the_items_it_may_mean(mention, names):
    assert [i.name for i in by_mention(KIT, mention)] == names


def test_all_of_a_kind_are_found_whatever_their_names():
    assert [i.name for i in all_by_mention(KIT, "cylinder")] == [
        "cylinder",
        "cylinder 2",
        "cylinder 3",
        "steel cylinder",
    ]


@pytest.mark.parametrize(
    ("text", "kinds"),
    [
        (
            "add twinset 32%, stage 50%, regulator set, drysuit with plastic zip and latex seals, rebreather",
            ["twinset", "stage", "regulator", "dry_suit", "rebreather"],
        ),
        ("add twinset 32%, stage, alu 80", ["twinset", "stage", "cylinder"]),
        ("add 12 l steel tank, pony", ["cylinder", "cylinder"]),
        ("add torch, canister lite, wing", ["hand_light", "canister_light", "buoyancy_device"]),
        (
            "add bailout bottle, argon bottle, O2 cylinder, dil cylinder",
            ["stage", "cylinder", "stage", "cylinder"],
        ),
        ("add steel cylinder 3AA, aluminium cylinder 3AL", ["cylinder", "cylinder"]),
        ("add regs, spg, wing", ["regulator", "pressure_gauge", "buoyancy_device"]),
        ("add torch and backup torch", ["hand_light", "hand_light"]),
        ("add wetsuit, boots, gloves", ["wetsuit", "boots", "gloves"]),
        # what only describes the item before it
        ("add dry suit, trilam, plastic zip, latex seals", ["dry_suit"]),
        ("add twinset 2x12 steel, manifold, 32 %", ["twinset"]),
        ("add twinset, two 12 l tanks", ["twinset"]),
        ("add steel cylinder, 12 l, air", ["cylinder"]),
        ("add regulator, first stage and second stage", ["regulator"]),
        ("add dry suit, metal zip, silicone seals, serviced May 2025", ["dry_suit"]),
        ("add torch, black, bought in May", ["hand_light"]),
    ],
)
def test_everything_listed_is_added(text, kinds):
    told = read(text)
    assert isinstance(told, AddItem)
    assert [one.kind for one in (told, *told.also)] == kinds
    assert told.unread == ()


def test_what_is_no_kit_is_named():
    told = read("add mask, fins, flux capacitor, snorkel")
    assert isinstance(told, AddItem)
    assert [one.kind for one in (told, *told.also)] == ["mask", "fins", "snorkel"]
    assert told.unread == ("flux capacitor",)


def test_flooded_boots_are_boots_where_the_diver_has_some():
    assert Message("flooded my boots", TODAY, NAMES).kinds == (ItemKind.BOOTS,)
    assert isinstance(read("flooded my boots", *NAMES), Misunderstood)
    told = read("flooded my boots", "dry suit")
    assert isinstance(told, RecordCare)
    assert {ref.item for ref in told.refs} == {ItemKind.DRY_SUIT}


@pytest.mark.parametrize("text", ["stage eddy current due March 2031", "stage eddy due March 2031"])
def test_due_eddy_current_test_is_not_the_hydro(text):
    told = read(text)
    assert isinstance(told, AddItem)
    assert told.facts == ItemFacts(eddy_due_on=date(2031, 3, 1))


@pytest.mark.parametrize(
    ("text", "task", "kind"),
    [
        ("disinfected the loop", Task.DISINFECT, ItemKind.REBREATHER),
        ("pressure gauge tested today", Task.TEST, ItemKind.PRESSURE_GAUGE),
        ("gauge check done today", Task.TEST, ItemKind.PRESSURE_GAUGE),
        ("depth check of the dive computer done today", Task.TEST, ItemKind.DIVE_COMPUTER),
    ],
)
def test_checks_of_instruments_are_tests(text, task, kind):
    told = read(text)
    assert isinstance(told, RecordCare)
    assert told.task is task
    assert kind in {told.kind, *(ref.item for ref in told.refs)}


def test_care_told_beside_a_dive_loses_neither():
    told = read("2 dives today 20 m, torch flooded, rinsed it")
    assert isinstance(told, LogDive)
    assert (told.dives, told.max_depth_m) == (2, 20.0)
    assert [(a.happened, a.task, a.item) for a in told.happened] == [
        (Happening.FLOODED, None, "torch"),
        (None, Task.RINSE, "torch"),
    ]
    assert isinstance(read("2 dives today, rinsed the suit"), LogDive)
    assert isinstance(read("rinsed the suit after 2 dives today"), RecordCare)
    meant = read("2 dives today 20 m, haven't rinsed the suit")
    denied = meant.of[0] if isinstance(meant, Several) else meant
    assert isinstance(denied, LogDive)
    assert denied.happened == ()


@pytest.mark.parametrize(
    ("text", "bounds"),
    [
        ("service the regs every 500 years", "1 to 240 months"),
        ("service the regs every 21 years", "1 to 240 months"),
        ("the manual says service the regs every 0 dives", "1 to 1000 dives"),
        ("service the regs every 1200 dives", "1 to 1000 dives"),
        ("replace the cells every 4000 days", "1 to 3650 days"),
        ("service the scooter every 6000 hours", "0.5 to 5000 hours"),
        ("service the scooter every 0.2 hours", "0.5 to 5000 hours"),
    ],
)
def test_interval_that_cannot_be_is_refused_kindly(text, bounds):
    told = read(text)
    assert isinstance(told, Misunderstood)
    assert bounds in told.problem


@pytest.mark.parametrize(
    "text",
    [
        "service the regs every 20 years",
        "service the scooter every 4000 hours",
        "service the regs every 1000 dives",
    ],
)
def test_longest_interval_is_taken(text):
    assert isinstance(read(text), RecordManual)


@pytest.mark.parametrize(
    "text", ["what do I put on the zip?", "should I rinse the torch?", "do I need to service the regs?"]
)
def test_question_stays_a_question(text):
    assert isinstance(read(text), Ask | ShowDue | Misunderstood)
    assert not (isinstance(told := read(text), Misunderstood) and "noted nothing" in told.problem)
