"""The tables of care: the intervals that others have published, and that every row says who and why."""

import pytest

from scheduler import care  # by name `tests_by_law` would be collected as a test
from scheduler.care import CARE, LAW, PRACTICE, By, Every, care_of_item, order, rule_by_id
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import Condition, ItemKind, Region

REGIONS = [None, *Region]
BY_LAW = [(region, row) for region in REGIONS for row in care.tests_by_law(region)]


def months(rule_id, region=None):
    return rule_by_id(rule_id, region).every.months


@pytest.mark.parametrize(
    ("region", "hydro", "visual"),
    [
        # hydro: 49 CFR 180.209 Table 1; visual: AAUS Standards 3.23.3 (practice, not federal law)
        (Region.US, 60, 12),
        # BetrSichV 2015, Anhang 2 Abschnitt 4 Nr. 7 Tabelle 12 Ziffer 7.6 b
        (Region.GERMANY, 60, 30),
        # New Brunswick Reg. 91-191 s. 339
        (Region.CANADA, 60, 12),
        # BS EN ISO 18119:2018 informative annex, as quoted alike by two bodies; without a risk assessment
        (Region.UK, 60, 12),
    ],
)
def test_months_between_cylinder_tests_are_those_of_the_region(region, hydro, visual):
    law = LAW[region]
    assert (law.hydro, law.visual) == (hydro, visual)
    assert {row.id: row.every for row in care.tests_by_law(region)} == {
        "hydro_test": Every(months=hydro),
        "visual_inspection": Every(months=visual),
    }


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
    assert rule.every == Every(dives=100, months=12)  # common practice, no source (the dives)
    assert rule.source.endswith(f"100 dives: {PRACTICE}")


def test_depth_gauge_is_checked_every_six_months():
    # NOAA Diving Program, Equipment Regulations: depth gauge every 6 months
    named = [kind for kind in CATALOGUE.values() if "depth gauge" in kind.words]
    checks = {row.every.months for kind in named for row in care_of_item(kind, None) if row.task == "test"}
    assert checks == {6}


@pytest.mark.parametrize("row", CARE, ids=lambda row: row.id)
def test_row_of_care_says_who_and_why(row):
    assert (bool(row.source.strip()), bool(row.why.strip())) == (True, True)


@pytest.mark.parametrize(("region", "row"), BY_LAW, ids=[f"{region}-{row.id}" for region, row in BY_LAW])
def test_row_of_law_names_its_region_and_tells_to_check(region, row):
    where = f"{region.value}: {LAW[region].source}" if region else "region unknown"
    assert (row.source.startswith(where), row.source.endswith("Check locally")) == (True, True)
    assert (row.by, row.by_law, row.critical, bool(row.why)) == (By.TEST_STATION, True, True, True)


def test_law_knows_every_region_and_names_a_source_for_each():
    assert (set(LAW), [r for r, law in LAW.items() if not law.source]) == (set(Region), [])


def test_ids_of_all_rows_are_unique():
    ids = [row.id for row in (*CARE, *care.tests_by_law(Region.US))]
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
def test_vessel_has_its_tests_by_law(kind):
    rows = care_of_item(CATALOGUE[kind], Region.GERMANY)
    assert [row.id for row in rows if row.by_law] == ["hydro_test", "visual_inspection"]


def test_item_that_is_no_vessel_has_no_tests_by_law():
    by_law = {
        kind for kind, v in CATALOGUE.items() if any(row.by_law for row in care_of_item(v, Region.GERMANY))
    }
    assert by_law == {ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.STAGE}


def test_order_of_care_is_that_of_the_table_with_tests_by_law_last():
    by_law = care.tests_by_law(None)
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
