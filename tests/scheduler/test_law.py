"""Tests of cylinders by region. Each check value names its source; dates by month arithmetic, with dateutil as referee."""

from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from scheduler.care_rule import Status
from scheduler.law import LAW, Basis, LegalDue, Passed, Stamp, cylinder_tests, is_late, month_end, next_test
from scheduler.published import PUBLISHED, published_for
from store.catalogue import ItemFacts
from store.vocabulary import CylinderMaterial, Happening, Region

DE = {"counts_from_due": True}
LONG_AGO = date(2010, 1, 1)


def rows(region, **facts):
    return {r.id: r for r in cylinder_tests(region, ItemFacts(**facts))}


def months(region, **facts):
    return {rule_id: r.every.months for rule_id, r in rows(region, **facts).items()}


def used(dived_on):
    return lambda after, to: any(after < on <= to for on in dived_on)


def visual(*tests, stamp=None, dived_on=()):
    """Germany, visual inspection, 30 months."""
    known = Stamp(stamp, LONG_AGO) if stamp else None
    found = next_test(30, [Passed(t) for t in tests], stamp=known, used=used(dived_on), **DE)
    return found.due_on if found else None


# --- how often ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("region", "facts", "expected"),
    [
        # 49 CFR 180.209(a) Table 1: 5 years for 3AA and 3AL in scuba service (second-hand for scuba: two bodies alike);
        # AAUS Standards 3.23.3 and 8 CCR 6057(b)(2)(C): internal look every 12 months, practice
        (Region.US, {}, {"hydro_test": 60, "visual_inspection": 12}),
        # 49 CFR 180.205(f)(4), 180.209(m), Part 180 Appendix C: alloy 6351-T6, eddy current with every requalification
        (
            Region.US,
            {"alloy_6351": True},
            {"hydro_test": 60, "visual_inspection": 12, "eddy_current_test": 60},
        ),
        # BetrSichV 2015, Anhang 2 Abschnitt 4 Nr. 7 Tabelle 12 Ziffer 7.6 b
        (Region.GERMANY, {}, {"hydro_test": 60, "visual_inspection": 30}),
        # New Brunswick Reg. 91-191 s. 339 (after CAN/CSA Z275.2-92)
        (Region.CANADA, {}, {"hydro_test": 60, "visual_inspection": 12}),
        # BS EN ISO 18119:2018 informative annex, second-hand, two bodies alike
        (Region.UK, {}, {"hydro_test": 60, "visual_inspection": 12}),
        (Region.UK, {"risk_assessed": True}, {"hydro_test": 60, "visual_inspection": 30}),
        # a risk assessment changes nothing where no rule knows it
        (Region.US, {"risk_assessed": True}, {"hydro_test": 60, "visual_inspection": 12}),
        # 49 CFR 180.205(c), 180.209 Table 1: a special permit cylinder by its own permit
        (Region.US, {"special_permit": True}, {"hydro_test": None, "visual_inspection": None}),
        (
            Region.GERMANY,
            {"cylinder_material": CylinderMaterial.COMPOSITE},
            {"hydro_test": None, "visual_inspection": None},
        ),
    ],
)
def test_months_between_tests_are_those_of_the_region(region, facts, expected):
    assert months(region, **facts) == expected


def test_alloy_6351_asks_for_eddy_current_only_where_a_rule_does():
    asked = {region for region in Region if "eddy_current_test" in rows(region, alloy_6351=True)}
    assert asked == {Region.US}


@pytest.mark.parametrize("region", [Region.AUSTRALIA, Region.NEW_ZEALAND])
def test_alloy_6351_where_approvals_are_said_to_be_withdrawn_is_told_as_hearsay(region):
    told = rows(region, alloy_6351=True)["hydro_test"].source
    assert "withdr" in told
    assert "second-hand" in told.partition("withdr")[2]


@pytest.mark.parametrize(
    ("rule", "authority", "expected"),
    [
        ("regulator_service", "NOAA", 12),  # NOAA Diving Program, Equipment Regulations
        ("gauge_check", "NOAA", 12),  # same
        ("depth_check", "NOAA", 6),  # same
        ("regulator_service", "AAUS", 12),  # AAUS Standards 3.21.2
        ("visual_inspection", "AAUS", 12),  # AAUS 3.23.3
        ("valve_check", "AAUS", 12),  # AAUS 3.23.4
        ("gauge_check", "AAUS", 12),  # AAUS 3.25
        ("regulator_service", "California", 6),  # 8 CCR 6057(b)(1)
        ("gauge_check", "California", 6),  # 8 CCR 6057(b)(3)
        ("inflator_check", "California", 6),  # 8 CCR 6057(b)(4)(B)
        ("depth_check", "California", 6),  # 8 CCR 6057(b)(5)
        ("visual_inspection", "California", 12),  # 8 CCR 6057(b)(2)(C)
        ("depth_check", "Coast Guard", 6),  # 46 CFR 197.458
    ],
)
def test_yardstick_is_the_published_one(rule, authority, expected):
    assert {p.months for p in PUBLISHED if (p.rule, p.authority) == (rule, authority)} == {expected}


def test_yardsticks_of_a_rule_come_with_the_strictest_first():
    told = [(p.authority, p.months) for p in published_for("gauge_check")]
    assert told == [("California", 6), ("NOAA", 12), ("AAUS", 12)]
    assert published_for("rinse") == []


# --- counted how -------------------------------------------------------------------------------------------------------


def test_test_in_june_is_due_through_the_last_day_of_june():
    """49 CFR 180.205(c) as applied in PHMSA interpretation 11-0131: last test 06/2024, 60 months, due June 2029."""
    found = next_test(60, [Passed(date(2024, 6, 17))])
    assert found == LegalDue(date(2029, 6, 30), Basis.TEST, date(2024, 6, 17))


def test_usa_out_of_date_may_be_used_up_but_not_refilled():
    """PHMSA interpretation 09-0148."""
    said = rows(Region.US)["hydro_test"].overdue
    assert said.startswith(
        "not to be refilled before the test; a fill made before it fell due may be used up"
    )
    assert "do not dive" not in said.lower()


@pytest.mark.parametrize(
    ("done", "due"),
    [
        # BetrSichV § 14(5) with Anhang 2, Tabelle 12: our arithmetic on the statute, due month + 30 months
        (date(2026, 7, 31), date(2028, 11, 30)),  # two months late: on time, from the due month
        (date(2026, 5, 2), date(2028, 11, 30)),
        (date(2026, 4, 1), date(2028, 11, 30)),  # not more than two months early
        (date(2026, 3, 1), date(2028, 11, 30)),
        (date(2026, 2, 28), date(2028, 8, 31)),  # more than two months early: from the test
    ],
)
def test_german_visual_due_in_may_2026_counts_from_the_due_month_unless_too_early(done, due):
    assert visual(done, stamp=date(2026, 5, 1)) == due


def test_german_visual_due_in_may_and_done_in_august_is_late():
    """BetrSichV § 14(5): on time up to two months after the due month."""
    assert [is_late(date(2026, 5, 31), date(2026, m, 1)) for m in (5, 7, 8)] == [False, False, True]


@pytest.mark.parametrize(
    ("dived_on", "due"),
    [
        ([], date(2029, 2, 28)),  # out of use at its due date: counts from the test (BetrSichV § 14(5))
        ([date(2026, 5, 31)], date(2029, 2, 28)),  # in use until it fell due, not since
        ([date(2026, 6, 1)], date(2028, 11, 30)),  # in use while it was out of date: from the due month
    ],
)
def test_german_test_far_too_late_counts_from_the_test_only_if_it_was_out_of_use(dived_on, due):
    assert visual(date(2026, 8, 20), stamp=date(2026, 5, 1), dived_on=dived_on) == due


def test_german_test_years_late_never_falls_due_before_it_was_done():
    dived = [date(2018, 1, 1)]
    assert visual(date(2014, 1, 10), date(2024, 3, 1), dived_on=dived) == date(2026, 9, 30)


def test_german_tests_are_followed_one_after_the_other():
    first, second, third = date(2019, 5, 3), date(2021, 12, 20), date(2024, 4, 2)
    assert visual(first) == date(2021, 11, 30)
    assert visual(first, second) == date(2024, 5, 31)
    assert visual(third, first, second) == date(2026, 11, 30)


def test_short_period_done_a_month_early_counts_from_the_test():
    """BetrSichV § 14(5): the two months are for periods of more than two years."""
    found = next_test(24, [Passed(date(2024, 4, 1))], stamp=Stamp(date(2024, 5, 1), LONG_AGO), **DE)
    assert found == LegalDue(date(2026, 4, 30), Basis.TEST, date(2024, 4, 1))


def test_elsewhere_the_period_counts_from_the_test():
    found = next_test(30, [Passed(date(2023, 11, 2)), Passed(date(2026, 7, 5))])
    assert found == LegalDue(date(2029, 1, 31), Basis.TEST, date(2026, 7, 5))


STAMP = Stamp(date(2026, 5, 1), told_on=date(2025, 3, 10))


@pytest.mark.parametrize(
    ("test", "due"),
    [
        (Passed(date(2024, 4, 10)), date(2026, 5, 31)),
        (Passed(date(2024, 4, 10), told_on=date(2025, 3, 12)), date(2026, 5, 31)),
        (Passed(date(2025, 3, 8)), date(2026, 5, 31)),
        (Passed(date(2025, 3, 8), told_on=date(2025, 3, 12)), date(2030, 3, 31)),
        (Passed(date(2025, 4, 1)), date(2030, 4, 30)),
    ],
    ids=[
        "its own test",
        "its own test, told later",
        "before it was told",
        "just before, told later",
        "since",
    ],
)
def test_stamp_holds_until_a_later_test_than_its_own_whatever_the_period(test, due):
    """A stamp may know a shorter period than the region: that of a permit, or of another country."""
    assert next_test(60, [test], stamp=STAMP).due_on == due


def test_permit_that_nobody_has_told_still_knows_its_stamps():
    assert next_test(None, [], stamp=STAMP).due_on == date(2026, 5, 31)
    assert next_test(None, [Passed(date(2025, 4, 1), date(2028, 4, 1))], stamp=STAMP).due_on == date(
        2028, 4, 30
    )
    assert next_test(None, [Passed(date(2025, 4, 1))]) is None


def test_due_month_told_with_the_test_goes_before_our_arithmetic():
    found = next_test(60, [Passed(date(2024, 6, 17), date(2029, 3, 1))])
    assert found == LegalDue(date(2029, 3, 31), Basis.STAMP, date(2024, 6, 17))


def test_cylinder_never_tested_counts_from_its_manufacture():
    """Second-hand, South Africa: the first test counts from the manufacture mark."""
    assert next_test(48, [], made_on=date(2023, 9, 1)) == LegalDue(
        date(2027, 9, 30), Basis.MADE, date(2023, 9, 1)
    )


def test_nothing_known_gives_no_date():
    assert next_test(60, []) is None


def test_leap_february_is_due_on_its_last_day():
    assert next_test(60, [Passed(date(2023, 2, 28))]).due_on == date(2028, 2, 29)


def test_mishaps_ask_for_a_look_inside_and_heat_dents_and_rust_for_the_test_as_well():
    """49 CFR as read in PHMSA 13-0164 (dents, corrosion, heat: test before use); drained or flooded: a university's rule."""
    row = rows(Region.US)
    broken = {Happening.OVERHEATED, Happening.DAMAGED, Happening.CORRODED}
    assert row["hydro_test"].every.happened == broken
    assert row["visual_inspection"].every.happened == broken | {Happening.DRAINED, Happening.FLOODED}


def test_statuses_are_those_of_the_fact_sheet():
    seen = {r for r, law in LAW.items() if law.hydro.status is Status.SEEN}
    assert seen == {Region.CANADA, Region.GERMANY}
    assert LAW[Region.US].eddy.status is Status.SEEN


# --- properties --------------------------------------------------------------------------------------------------------

days = st.dates(date(1990, 1, 1), date(2040, 12, 31))


@given(days, st.integers(1, 120))
def test_one_test_is_due_that_many_months_on_as_dateutil_counts(on, period):
    expected = month_end(on.replace(day=1) + relativedelta(months=period))
    assert next_test(period, [Passed(on)]).due_on == expected


@given(st.lists(days, max_size=8), st.permutations(range(8)), st.booleans(), st.none() | days)
def test_order_of_entry_changes_nothing(tests, order, from_due, stamp):
    shuffled = [tests[i] for i in order if i < len(tests)]
    one, other = (
        next_test(
            30, [Passed(t) for t in told], counts_from_due=from_due, stamp=stamp and Stamp(stamp, LONG_AGO)
        )
        for told in (tests, shuffled)
    )
    assert one == other


@given(st.lists(days, min_size=1, max_size=8), st.booleans(), st.lists(days, max_size=5))
def test_next_test_lies_after_the_last_and_no_later_than_a_period_and_its_tolerance(
    tests, from_due, dived_on
):
    found = next_test(30, [Passed(t) for t in tests], counts_from_due=from_due, used=used(dived_on))
    last = max(tests)
    assert last < found.due_on <= month_end(last + relativedelta(months=32))
