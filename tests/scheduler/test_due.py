"""When a rule falls due: each source alone, whichever first, and never by the order of entry."""

from calendar import isleap, monthrange
from dataclasses import replace
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.care import rule_by_id
from scheduler.care_rule import CareRule, Every
from scheduler.due import COUNTS_TOO, LAPSE_DAYS, Due, due
from scheduler.history import History
from scheduler.law import month_end
from store.care_log import Done
from store.catalogue import ItemFacts
from store.dives import Dived
from store.mishaps import Befell
from store.vocabulary import Condition, CylinderTest, Happening, ItemKind, Region, Task
from tests.doses import drawn

ADDED = date(2026, 1, 1)
TODAY = date(2026, 6, 10)
DAY = timedelta(days=1)
ON_ITEM = frozenset({ItemKind.MASK})

dates = st.dates(date(2015, 1, 1), date(2035, 12, 31))
months = st.integers(1, 120)
dived_lists = st.lists(
    st.builds(
        Dived,
        dates,
        st.integers(1, 4),
        st.frozensets(st.sampled_from([Condition.SAND.value, Condition.ICE.value])),
        st.just(0),
    ),
    max_size=8,
)
done_lists = st.lists(
    st.builds(
        Done, st.sampled_from(["service", "inspect", "rinse"]), st.sampled_from([None, "ring", "lid"]), dates
    ),
    max_size=5,
)
everys = st.builds(
    Every,
    dives=st.none() | st.integers(1, 12),
    days=st.none() | st.integers(1, 400),
    months=st.none() | st.integers(1, 60),
    each_dive=st.booleans(),
    after=st.sampled_from([frozenset(), frozenset({Condition.SAND})]),
)


def rule_of(every, task=Task.SERVICE, **facts):
    return CareRule("rule", task, every, **{"on_item": ON_ITEM, "why": "because", **facts})


def dive(on, dives=1, *conditions):
    return Dived(on, dives, frozenset(conditions), 0)


def stands(rule, *, dived=(), done=(), added_on=ADDED, today=TODAY, **more):
    part, related = ("", frozenset()) if rule.on_item else ("ring", frozenset({"ring", "rings"}))
    return due(rule, part, related, added_on=added_on, dived=History(dived), done=done, today=today, **more)


# --- each source alone -------------------------------------------------------------------------------------------------


def test_dives_not_yet_reached_are_counted():
    rule = rule_of(Every(dives=10))
    assert stands(rule, dived=[dive(date(2026, 5, 1), 3), dive(date(2026, 5, 3), 4)]) == Due(
        rule, "", None, "", None, 7, 3, None
    )


def test_dives_reached_are_due_on_the_day_of_the_last_of_them():
    rule = rule_of(Every(dives=10))
    dived = [dive(date(2026, 5, 1), 8), dive(date(2026, 5, 3), 4), dive(date(2026, 5, 9), 5)]
    assert stands(rule, dived=dived) == Due(rule, "", date(2026, 5, 3), "10 dives", None, 17, 0, None)


def test_dives_before_the_care_are_not_counted():
    rule = rule_of(Every(dives=10))
    dived = [dive(date(2026, 5, 1), 30), dive(date(2026, 5, 3), 4)]
    done = [Done("service", None, date(2026, 5, 2))]
    assert stands(rule, dived=dived, done=done) == Due(rule, "", None, "", date(2026, 5, 2), 4, 6, None)


def test_months_without_care_count_from_the_day_it_was_added():
    rule = rule_of(Every(months=6))
    on, added_on = date(2026, 7, 1), date(2026, 1, 1)
    assert stands(rule) == Due(rule, "", on, "time", None, 0, None, on, calendar_from=added_on)


def test_months_with_care_count_from_the_newest():
    rule = rule_of(Every(months=12))
    done = [Done("service", None, on) for on in (date(2026, 3, 31), date(2026, 2, 1))]
    on, newest = date(2027, 3, 31), date(2026, 3, 31)
    assert stands(rule, done=done) == Due(rule, "", on, "time", newest, 0, None, on, calendar_from=newest)


def test_days_count_from_the_care():
    rule = rule_of(Every(days=90))
    done = [Done("service", None, date(2026, 2, 1))]
    on, newest = date(2026, 5, 2), date(2026, 2, 1)
    assert stands(rule, done=done) == Due(rule, "", on, "time", newest, 0, None, on, calendar_from=newest)


def test_each_dive_is_due_on_the_last_day_dived():
    rule = rule_of(Every(each_dive=True), Task.RINSE)
    dived = [dive(TODAY - DAY, 2), dive(TODAY), dive(TODAY - 30 * DAY)]
    assert stands(rule, dived=dived) == Due(rule, "", TODAY, "dived", None, 4, None, None)


@pytest.mark.parametrize("critical", [False, True])
@pytest.mark.parametrize("days", [0, LAPSE_DAYS - 1, LAPSE_DAYS, 300])
def test_each_dive_lapses_after_some_days_unless_critical(critical, days):
    rule = rule_of(Every(each_dive=True), Task.RINSE, critical=critical)
    last = TODAY - days * DAY
    asked = critical or days < LAPSE_DAYS
    assert stands(rule, dived=[dive(last)]) == Due(
        rule, "", last if asked else None, "dived" if asked else "", None, 1, None, None
    )


def test_condition_is_due_on_the_first_day_it_was_met_and_does_not_lapse():
    rule = rule_of(Every(after=frozenset({Condition.OIL, Condition.POLLUTED})))
    dived = [dive(date(2026, 2, 2), 1, "sand"), dive(date(2026, 2, 5), 1, "polluted", "oil")]
    expected = Due(rule, "", date(2026, 2, 5), "oil, polluted", None, 3, None, None)
    assert stands(rule, dived=[dive(date(2026, 2, 7), 1, "oil"), *dived]) == expected


def test_condition_that_the_rule_does_not_name_is_nothing():
    rule = rule_of(Every(after=frozenset({Condition.OIL})))
    assert stands(rule, dived=[dive(TODAY, 2, "sand", "ice")]) == Due(rule, "", None, "", None, 2, None, None)


def test_nothing_counted_is_never_due():
    rule = rule_of(Every())
    assert stands(rule, dived=[dive(TODAY, 500, "oil")]).due_on is None


# --- whichever first ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dived", "due_on", "cause"),
    [
        ([], date(2026, 4, 1), "time"),
        ([dive(date(2026, 3, 1), 10)], date(2026, 3, 1), "10 dives"),
        ([dive(date(2026, 5, 1), 10)], date(2026, 4, 1), "time"),
        ([dive(date(2026, 2, 1), 1, "sand"), dive(date(2026, 3, 1), 10)], date(2026, 2, 1), "sand"),
        ([dive(date(2026, 2, 1), 10), dive(date(2026, 3, 1), 1, "sand")], date(2026, 2, 1), "10 dives"),
    ],
    ids=["nothing dived", "dives first", "time first", "sand first", "dives before sand"],
)
def test_due_by_whichever_comes_first(dived, due_on, cause):
    rule = rule_of(Every(dives=10, months=3, after=frozenset({Condition.SAND})))
    found = stands(rule, dived=dived)
    assert (found.due_on, found.cause) == (due_on, cause)


@drawn(60, 200, everys, dived_lists, done_lists, dates, dates)
def test_due_is_the_earliest_of_what_a_plain_count_finds(every, dived, done, added_on, today):
    rule = rule_of(every)
    found = stands(rule, dived=dived, done=done, added_on=added_on, today=today)
    last = max((d.on for d in done if (d.task, d.part) == ("service", None)), default=None)
    each = sorted(d.on for d in dived for _ in range(d.dives) if last is None or d.on > last)
    begun = last or added_on
    expected = [
        *(each[every.dives - 1 :][:1] if every.dives else []),
        *([begun + relativedelta(months=every.months)] if every.months else []),
        *([begun + every.days * DAY] if every.days else []),
        *(each[-1:] if every.each_dive and each and (today - each[-1]).days < LAPSE_DAYS else []),
        *sorted(d.on for d in dived if d.conditions & every.after and (last is None or d.on > last)),
    ]
    left = max(0, every.dives - len(each)) if every.dives else None
    assert (found.due_on, found.done_on, found.dives_since, found.dives_left) == (
        min(expected, default=None),
        last,
        len(each),
        left,
    )


# --- the calendar ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("done_on", "n", "due_on"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2024, 1, 31), 1, date(2024, 2, 29)),
        (date(2024, 2, 29), 12, date(2025, 2, 28)),
        (date(2024, 2, 29), 48, date(2028, 2, 29)),
        (date(2025, 8, 31), 6, date(2026, 2, 28)),
        (date(2025, 12, 31), 6, date(2026, 6, 30)),
        (date(2025, 11, 30), 3, date(2026, 2, 28)),
    ],
    ids=str,
)
def test_months_from_the_end_of_a_month_stop_at_the_end_of_the_other(done_on, n, due_on):
    rule = rule_of(Every(months=n))
    assert stands(rule, done=[Done("service", None, done_on)]).due_on == due_on


@given(dates, months)
@settings(max_examples=200, deadline=None)
def test_months_agree_with_the_referee_and_with_plain_arithmetic(done_on, n):
    found = stands(rule_of(Every(months=n)), done=[Done("service", None, done_on)], added_on=done_on).due_on
    year, month = divmod(done_on.year * 12 + done_on.month - 1 + n, 12)
    plain = date(year, month + 1, min(done_on.day, monthrange(year, month + 1)[1]))
    assert found == done_on + relativedelta(months=n) == plain


@given(dates, months)
@settings(max_examples=200, deadline=None)
def test_test_by_law_is_due_at_the_end_of_its_month(done_on, n):
    rule = rule_of(Every(months=n), Task.TEST, by_law=True, test=CylinderTest.HYDROSTATIC)
    found = stands(rule, done=[Done("test", None, done_on)]).due_on
    assert found == done_on + relativedelta(months=n, day=31)
    assert (found + DAY).day == 1


def test_hydro_in_june_is_due_by_the_last_of_june_five_years_later():
    # 49 CFR 180.205(c) and 180.209 as applied in PHMSA interpretation 11-0131: any day of the month it falls due
    rule = rule_by_id("hydro_test", Region.US)
    on = {stands(rule, done=[Done("test", None, date(2024, 6, day))]).due_on for day in range(1, 31)}
    assert on == {date(2029, 6, 30)}


def test_test_by_law_without_a_known_test_has_no_date():
    rule = rule_by_id("hydro_test", Region.US)
    assert stands(rule, dived=[dive(TODAY, 500)]) == Due(rule, "", None, "", None, 500, None, None)


@given(dates)
@settings(max_examples=100, deadline=None)
def test_month_end_is_the_day_before_a_first(on):
    end = month_end(on)
    assert (end >= on, end.month, (end + DAY).day) == (True, on.month, 1)
    assert on.month != 2 or end.day == (29 if isleap(on.year) else 28)


# --- care and the dives of its day -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("every", "left"),
    [
        (Every(each_dive=True), None),
        (Every(after=frozenset({Condition.SAND})), None),
        (Every(dives=2), 2),
    ],
)
def test_care_on_the_day_of_the_dives_counts_as_after_them(every, left):
    rule = rule_of(every, critical=True)
    found = stands(rule, dived=[dive(TODAY, 2, "sand")], done=[Done("service", None, TODAY)])
    assert found == Due(rule, "", None, "", TODAY, 0, left, None)


def test_care_on_the_day_before_the_dives_does_not_count_for_them():
    rule = rule_of(Every(each_dive=True))
    found = stands(rule, dived=[dive(TODAY, 2)], done=[Done("service", None, TODAY - DAY)])
    assert found == Due(rule, "", TODAY, "dived", TODAY - DAY, 2, None, None)


@drawn(60, 200, dived_lists, done_lists, everys, dates)
def test_due_date_lies_after_the_last_care(dived, done, every, today):
    found = stands(rule_of(every), dived=dived, done=done, today=today)
    assert found.due_on is None or found.done_on is None or found.due_on > found.done_on


def test_care_of_another_kind_counts_only_where_it_does_the_lesser_along_the_way():
    counted = {
        (task, done)
        for task in Task
        for done in Task
        if stands(rule_of(Every(each_dive=True), task), done=[Done(done, None, TODAY)]).done_on is not None
    }
    greater = {(task, done) for task, some in COUNTS_TOO.items() for done in some}
    assert counted == {(task, task) for task in Task} | greater


@pytest.mark.parametrize(
    ("on_item", "part", "counts"),
    [
        (ON_ITEM, None, True),
        (ON_ITEM, "ring", False),
        (frozenset(), None, True),
        (frozenset(), "ring", True),
        (frozenset(), "rings", True),
        (frozenset(), "lid", False),
    ],
)
def test_care_counts_for_the_part_its_relations_and_as_care_of_the_whole(on_item, part, counts):
    rule = rule_of(Every(each_dive=True), on_item=on_item)
    assert (stands(rule, done=[Done("service", part, TODAY)]).done_on is not None) is counts


@pytest.mark.parametrize(
    ("on_item", "done", "begun_on"),
    [
        (ON_ITEM, Done("inspect", None, date(2025, 5, 3)), date(2025, 5, 3)),
        (ON_ITEM, Done("service", None, date(2025, 5, 3)), ADDED),
        (frozenset(), Done("inspect", "ring", date(2025, 5, 3)), date(2025, 5, 3)),
        (frozenset(), Done("inspect", None, date(2025, 5, 3)), ADDED),
        (ON_ITEM, Done("service", None, date(2026, 2, 1)), date(2026, 2, 1)),
    ],
    ids=["the act", "a greater act", "the act on the part", "the act on the whole", "a greater act since"],
)
def test_clock_starts_before_the_item_came_only_by_the_very_act(on_item, done, begun_on):
    rule = rule_of(Every(months=12), Task.INSPECT, on_item=on_item)
    assert stands(rule, done=[done]).calendar_on == begun_on + relativedelta(months=12)


# --- order of entry ----------------------------------------------------------------------------------------------------


@drawn(60, 200, everys, dived_lists, done_lists, dates, st.booleans(), st.data())
def test_order_of_entry_does_not_matter(every, dived, done, today, critical, data):
    rule = replace(rule_of(every), critical=critical)
    shuffled = stands(
        rule,
        dived=data.draw(st.permutations(dived)),
        done=data.draw(st.permutations(done)),
        today=today,
    )
    assert shuffled == stands(rule, dived=dived, done=done, today=today)


def test_order_of_entry_of_conditions_on_one_day_does_not_matter():
    rule = rule_of(Every(after=frozenset({Condition.SAND, Condition.SURF})))
    dived = [dive(TODAY, 1, "sand"), dive(TODAY, 1, "surf")]
    assert stands(rule, dived=dived) == stands(rule, dived=dived[::-1])


# --- hours, age, first use, mishaps ------------------------------------------------------------------------------------

HOURLY = rule_of(Every(hours=3), Task.REPLACE)


def timed(on, minutes, dives=1):
    return Dived(on, dives, frozenset(), minutes)


def test_hours_are_full_on_the_day_they_were_dived():
    dived = [timed(date(2026, 5, 1), 100), timed(date(2026, 5, 3), 80), timed(date(2026, 5, 9), 60)]
    found = stands(HOURLY, dived=dived)
    assert (found.due_on, found.cause, found.dives_left, found.hours_left) == (
        date(2026, 5, 3),
        "3 hours",
        0,
        0.0,
    )


def test_hours_left_are_told_as_dives_of_the_usual_length():
    found = stands(HOURLY, dived=[timed(date(2026, 5, 1), 40), timed(date(2026, 5, 3), 40)])
    assert (found.due_on, found.hours_left, found.dives_left) == (None, 1.67, 3)


def test_dive_whose_length_was_not_told_counts_an_hour():
    """Common practice, no source: too much rather than too little."""
    assert stands(HOURLY, dived=[dive(date(2026, 5, 1), 2)]).hours_left == 1.0


def test_hours_before_the_care_are_not_counted():
    done = [Done("replace", None, date(2026, 5, 2))]
    assert stands(HOURLY, dived=[timed(date(2026, 5, 1), 300)], done=done).hours_left == 3.0


AGED = rule_of(Every(months=12, age_months=18), Task.REPLACE)


@pytest.mark.parametrize(
    ("made_on", "put_in", "due_on", "cause"),
    [
        (None, None, date(2027, 1, 1), "time"),
        (date(2025, 1, 1), None, date(2026, 7, 1), "age"),
        (date(2025, 1, 1), (date(2026, 3, 1), None), date(2027, 3, 1), "time"),
        (None, (date(2026, 3, 1), date(2025, 2, 1)), date(2026, 8, 1), "age"),
        (None, (date(2026, 3, 1), date(2026, 2, 1)), date(2027, 3, 1), "time"),
    ],
    ids=["nothing known", "as it came", "new, undated", "new but old stock", "new and fresh"],
)
def test_age_counts_from_the_manufacture_of_what_is_in_it(made_on, put_in, due_on, cause):
    """Oxygen cells: 12 months in use, 18 from manufacture (common practice, no source)."""
    done = [Done("replace", None, put_in[0], made_on=put_in[1])] if put_in else []
    found = stands(AGED, done=done, facts=ItemFacts(made_on=made_on))
    assert (found.due_on, found.cause) == (due_on, cause)


def test_first_use_counts_from_the_first_dive_since_it_was_replaced():
    rule = rule_of(Every(first_use_months=24), Task.REPLACE)
    dived = [dive(date(2026, 2, 28)), dive(date(2026, 4, 1)), dive(date(2026, 5, 1))]
    assert stands(rule).due_on is None
    assert stands(rule, dived=dived).due_on == date(2028, 2, 28)
    done = [Done("replace", None, date(2026, 3, 1))]
    found = stands(rule, dived=dived, done=done)
    assert (found.due_on, found.cause) == (date(2028, 4, 1), "first use")


def test_mishap_is_due_on_its_day_until_care_answers_it():
    rule = rule_of(Every(months=12, happened=frozenset({Happening.FLOODED, Happening.DAMAGED})))
    befell = [
        Befell("flooded", date(2026, 5, 3)),
        Befell("damaged", date(2026, 5, 3)),
        Befell("leaking", date(2026, 5, 1)),
    ]
    found = stands(rule, befell=befell)
    assert (found.due_on, found.cause) == (date(2026, 5, 3), "damaged, flooded")
    answered = stands(rule, befell=befell, done=[Done("service", None, date(2026, 5, 3))])
    assert (answered.due_on, answered.cause) == (date(2027, 5, 3), "time")


def test_mishap_that_the_rule_does_not_name_is_nothing():
    rule = rule_of(Every(happened=frozenset({Happening.FLOODED})))
    assert stands(rule, befell=[Befell("damaged", date(2026, 5, 3))]).due_on is None


@pytest.mark.parametrize(
    ("rule_id", "done", "counts"),
    [
        ("visual_inspection", Done("inspect", None, TODAY), False),
        ("visual_inspection", Done("inspect", None, TODAY, test="visual"), True),
        ("visual_inspection", Done("service", None, TODAY), False),
        ("visual_inspection", Done("test", None, TODAY, test="hydrostatic"), False),
        ("hydro_test", Done("test", None, TODAY), True),
        ("hydro_test", Done("test", None, TODAY, test="eddy_current"), False),
        ("eddy_current_test", Done("test", None, TODAY, test="eddy_current"), True),
        ("eddy_current_test", Done("test", None, TODAY), False),
        ("valve_check", Done("service", None, TODAY), True),
        ("valve_check", Done("inspect", None, TODAY), False),
    ],
)
def test_test_of_a_cylinder_is_answered_by_that_test_alone(rule_id, done, counts):
    rule = rule_by_id(rule_id, Region.US, ItemFacts(alloy_6351=True))
    found = due(rule, "", frozenset(), added_on=ADDED, dived=History(()), done=[done], today=TODAY)
    assert (found.done_on is not None) is counts
