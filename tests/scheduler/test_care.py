"""The tables of care: the intervals that others have published, and that every row says who and why."""

import pytest

from scheduler.care import CARE, care_of_item, order, rule_by_id
from scheduler.care_rule import PRACTICE, By, Every, Status
from scheduler.law import LAW, cylinder_tests
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import Condition, ItemKind, Region

REGIONS = [None, *Region]
BY_LAW = [(region, row) for region in REGIONS for row in cylinder_tests(region, ItemFacts())]


def months(rule_id, region=None):
    return rule_by_id(rule_id, region).every.months


@pytest.mark.parametrize(
    ("rule_id", "expected"),
    [
        ("regulator_service", 12),  # NOAA Diving Program, Equipment Regulations; AAUS Standards 3.21.2
        ("gauge_check", 12),  # NOAA, same (submersible pressure gauge); AAUS 3.25
        ("valve_check", 12),  # AAUS 3.23.4; 8 CCR 6057(b)(2)(D)
        ("inflator_check", 12),  # NOAA Diving Program, Maintenance, Repair and Accountability
    ],
)
def test_months_between_services_are_those_published(rule_id, expected):
    assert months(rule_id) == expected


def test_hundred_dives_between_regulator_services_name_no_source():
    rule = rule_by_id("regulator_service")
    assert (rule.every.dives, rule.every.months) == (100, 12)  # common practice, no source (the dives)
    assert rule.source.endswith(f"100 dives: {PRACTICE}")


def test_depth_gauge_is_checked_every_six_months():
    # NOAA Diving Program, Equipment Regulations: depth gauge every 6 months
    named = [kind for kind in CATALOGUE.values() if "depth gauge" in kind.words]
    checks = {
        row.every.months
        for kind in named
        for row in care_of_item(kind, ItemFacts(), None)
        if row.task == "test"
    }
    assert checks == {6}


@pytest.mark.parametrize("row", CARE, ids=lambda row: row.id)
def test_row_of_care_says_who_and_why(row):
    assert (bool(row.source.strip()), bool(row.why.strip())) == (True, True)


@pytest.mark.parametrize(("region", "row"), BY_LAW, ids=[f"{region}-{row.id}" for region, row in BY_LAW])
def test_row_of_law_names_its_region_and_tells_to_check(region, row):
    law = LAW[region or Region.EU]
    interval = law.hydro if row.id == "hydro_test" else law.visual
    where = f"{region.value}: {interval.source}" if region else "region unknown"
    assert (row.source.startswith(where), row.source.endswith("Check locally")) == (True, True)
    assert (row.by, row.by_law, row.critical, bool(row.why)) == (By.TEST_STATION, True, True, True)


def test_law_knows_every_region_and_names_a_source_for_each():
    unsourced = [r for r, law in LAW.items() if not (law.hydro.source and law.visual.source)]
    assert (set(LAW), unsourced) == (set(Region), [])


def test_law_heard_at_second_hand_says_so():
    """The rows of the fact sheet whose rule itself was not read."""
    heard = {r for r, law in LAW.items() if law.hydro.status is Status.SECOND_HAND}
    shown = {r for r in Region for row in cylinder_tests(r, ItemFacts()) if "second-hand" in row.source}
    expected = {
        Region.US,  # that scuba falls under the five years of the table
        Region.UK,
        Region.EU,
        Region.SWITZERLAND,
        Region.AUSTRALIA,
        Region.NEW_ZEALAND,
        Region.SOUTH_AFRICA,
    }
    assert (heard, shown) == (expected, expected)


def test_ids_of_all_rows_are_unique():
    ids = [row.id for row in (*CARE, *cylinder_tests(Region.US, ItemFacts(alloy_6351=True)))]
    assert sorted(set(ids)) == sorted(ids)


@pytest.mark.parametrize("row", CARE, ids=lambda row: row.id)
def test_row_of_care_has_some_interval(row):
    assert row.every != Every()


@pytest.mark.parametrize("row", CARE, ids=lambda row: row.id)
def test_row_of_care_fits_some_item_of_the_catalogue(row):
    facts = ItemFacts()
    fits = [
        kind.kind
        for kind in CATALOGUE.values()
        if kind.kind in row.on_item
        or (
            not row.on_item
            and any(row.when.unknown(p.facts(facts)) is not None for p in kind.parts if p.care)
        )
    ]
    assert fits != []


@pytest.mark.parametrize("kind", [k for k, v in CATALOGUE.items() if v.tested])
def test_vessel_has_its_cylinder_tests(kind):
    rows = care_of_item(CATALOGUE[kind], ItemFacts(), Region.GERMANY)
    assert [row.id for row in rows if row.by_law] == ["hydro_test", "visual_inspection"]


def test_item_that_is_no_vessel_has_no_cylinder_tests():
    by_law = {
        kind
        for kind, v in CATALOGUE.items()
        if any(row.by_law for row in care_of_item(v, ItemFacts(), Region.GERMANY))
    }
    assert by_law == {ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.STAGE}


def test_order_of_care_is_that_of_the_table_with_cylinder_tests_last():
    by_law = cylinder_tests(None, ItemFacts())
    assert sorted([*by_law, *reversed(CARE)], key=order) == [*CARE, *by_law]


def test_rule_that_no_table_has_is_refused():
    with pytest.raises(KeyError, match="polish"):
        rule_by_id("polish")


@pytest.mark.parametrize(
    ("every", "words"),
    [
        (Every(each_dive=True), "after each dive day"),
        (Every(months=12), "once a year"),
        (Every(months=6), "every 6 months"),
        (Every(days=90), "every 90 days"),
        (Every(dives=100, months=12), "about every 100 dives or once a year, whichever comes first"),
        (
            Every(dives=10, after=frozenset({Condition.SURF, Condition.SAND})),
            "about every 10 dives or after sand or surf, whichever comes first",
        ),
        (Every(after=frozenset({Condition.OIL})), "after oil on the water"),
    ],
)
def test_interval_reads_as_a_diver_would_say_it(every, words):
    assert every.in_words() == words
