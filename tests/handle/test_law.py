"""Tests of cylinders in conversation: what was told, which law counts it, and what a change of country moves."""

import pytest


@pytest.fixture
def deck(talk):
    """Open the chat of a diver in Germany with one twinset. 10 June 2026."""
    return talk.has_said("zone Europe/Berlin", "I live in Germany", "add twinset 32%")


def next_due(deck):
    """Return the dates of the tests by law, by rule."""
    tasks = deck.say("what is due until june 2035?").data["due"]
    return {t["task"]: t["due_on"] for t in tasks if t["part"] is None}


def test_hydro_is_answered_with_its_next_month_and_what_is_still_unknown(deck):
    told = deck.say("twinset hydro tested May 2024")
    assert told.first == "Noted: twinset 32 %, hydrostatic test May 2024."
    assert told.lines == (
        "Next due by 31 May 2029, counted from the test of May 2024.",
        "Not known yet: visual inspection.",
        "Test dates by law: check locally.",
    )


def test_look_inside_at_the_hydro_is_one_tap_more(deck):
    deck.say("twinset hydro tested May 2024")
    assert deck.tap("Looked inside as well").first == "Noted: twinset 32 %, visual inspection May 2024."
    assert deck.say("show twinset").lines[:2] == ("- visual test May 2024", "- hydrostatic test May 2024")


def test_german_visual_two_months_late_keeps_the_old_due_month(deck):
    """BetrSichV § 14(5): due May 2026, done in July, next in November 2028."""
    deck.say("twinset visual done November 2023")
    deck.until("2026-07-20T10:00:00+02:00")
    told = deck.say("twinset visual done today")
    assert told.lines[0] == "Next due by 30 November 2028, counted from the old due month, May 2026."


def test_german_visual_three_months_late_says_so(deck):
    deck.say("twinset visual done November 2023")
    deck.until("2026-08-20T10:00:00+02:00")
    told = deck.say("twinset visual done today")
    assert told.lines[:2] == (
        "It was due by May 2026: more than two months late.",
        "Next due by 28 February 2029, counted from the test of August 2026.",
    )


def test_stamped_month_ahead_is_the_next_due_date(deck):
    told = deck.say("twinset hydro due May 2029")
    assert told.first == "Noted: twinset 32 % (32 % oxygen, hydro stamped due May 2029)."
    assert told.lines == (
        "Changed:",
        "- Hydrostatic test, twinset 32 %: due by 31 May 2029",
        "Test dates by law: check locally.",
    )


@pytest.mark.parametrize(
    ("tap", "due"),
    [("Tested then", "31 May 2029"), ("Due then", "31 May 2024")],
)
def test_stamped_month_behind_is_asked_about(deck, tap, due):
    asked = deck.say("twinset stamped 05/2024")
    assert asked.first == "twinset 32 %, stamped May 2024: is that the test, or the next due date?"
    deck.tap(tap)
    assert due in deck.say("when is my hydro due?").first


def test_usa_out_of_date_is_not_to_be_refilled_but_may_be_used_up(deck):
    """49 CFR 180.205(c) as read in PHMSA 09-0148."""
    deck.say("I live in the USA")
    deck.say("twinset hydro tested May 2021")
    deck.say("twinset visual done May 2026")
    deck.say("valve serviced on the twinset May 2026")
    told = deck.say("2 dives today, salt")
    assert (
        told.cautions[0]
        == "twinset 32 %. Hydrostatic test (test station), overdue since 31 May: not to be refilled before the test; a fill made before it fell due may be used up (49 CFR 180.205(c), PHMSA 09-0148). Check locally."
    )


def test_change_of_country_says_every_date_that_it_moved(deck):
    deck.say("twinset hydro tested May 2024")
    deck.say("twinset visual done May 2024")
    told = deck.say("I live in the UK")
    assert told.lines[3:] == (
        "Changed:",
        "- Visual inspection, twinset 32 %: OVERDUE since 31 May 2025, was November 2026",
        "Law changes and differs by place: check locally.",
    )


def test_country_of_one_cylinder_goes_before_that_of_the_diver(deck):
    deck.say("twinset visual done May 2024")
    told = deck.say("the twinset is tested in the UK")
    assert told.lines == (
        "Changed:",
        "- Visual inspection, twinset 32 %: OVERDUE since 31 May 2025, was November 2026",
        "Test dates by law: check locally.",
    )
    deck.say("I live in Switzerland")
    assert next_due(deck)["inspect"] == "2025-05-31"


def test_risk_assessment_gives_the_longer_visual_interval_in_the_uk(deck):
    """BS EN ISO 18119:2018 annex as quoted by two bodies: 12 months, 30 after a risk assessment."""
    deck.say("I live in the UK")
    deck.say("twinset visual done May 2025")
    told = deck.say("twinset risk assessment done")
    assert "- Visual inspection, twinset 32 %: due by 30 November 2027, was May 2026" in told.lines


def test_alloy_6351_in_the_usa_asks_for_eddy_current(deck):
    """49 CFR 180.209(m): with every requalification."""
    deck.say("I live in the USA")
    deck.say("twinset hydro tested May 2024")
    told = deck.say("the twinset is alloy 6351")
    assert "- Eddy-current test of neck and shoulder, twinset 32 %: date not known" in told.lines
    told = deck.say("twinset eddy current tested May 2024")
    assert told.lines[0] == "Next due by 31 May 2029, counted from the test of May 2024."
    assert next_due(deck)["test"] == "2029-05-31"


def test_special_permit_is_asked_for_its_own_rule(deck):
    deck.say("I live in the USA")
    deck.say("twinset hydro tested May 2024")
    told = deck.say("the twinset has a special permit")
    assert "- Hydrostatic test, twinset 32 %: date not known, was May 2029" in told.lines
    assert "its own permit says how often" in deck.say("when is my hydro due?").first
    deck.say("the permit says hydro of the twinset every 36 months")
    assert "31 May 2027" in deck.say("when is my hydro due?").first


def test_manual_does_not_move_a_test_by_law(deck):
    deck.say("twinset hydro tested May 2024")
    told = deck.say("the manual says hydro of the twinset every 36 months")
    assert told.lines[0] == "Test dates stay those of the law, unless the cylinder has a permit of its own."
    assert "31 May 2029" in deck.say("when is my hydro due?").first


def test_cylinder_never_tested_counts_from_its_manufacture(deck):
    told = deck.say("the twinset was made in March 2023")
    assert "- Hydrostatic test, twinset 32 %: due by 31 March 2028" in told.lines


def test_valve_service_is_no_look_inside(deck):
    deck.say("valve serviced on the twinset today")
    assert "Visual inspection" in "\n".join(deck.say("what is due?").lines)


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ("drained the twinset", ["Visual inspection"]),
        ("ran the twinset empty", ["Visual inspection"]),
        ("flooded the twinset", ["Valve service", "Visual inspection"]),
        ("the twinset has a dent", ["Hydrostatic test", "Visual inspection"]),
        ("rust inside the twinset", ["Hydrostatic test", "Visual inspection"]),
        ("the twinset was in a fire", ["Hydrostatic test", "Visual inspection"]),
        ("the twinset is leaking", ["Valve service"]),
    ],
)
def test_mishap_makes_its_tests_due_now_whatever_the_calendar_says(deck, said, asked):
    deck.say("twinset hydro tested May 2026")
    deck.say("twinset visual done May 2026")
    deck.say("valve serviced on the twinset 1 June 2026")
    told = deck.say(said)
    assert told.first.startswith("Do not ")
    assert sorted(line[2:].partition(" (")[0] for line in told.lines if line.startswith("- ")) == asked


def test_mishap_is_answered_by_the_test_that_follows_it(deck):
    deck.say("twinset hydro tested May 2026")
    deck.say("twinset visual done May 2026")
    deck.say("drained the twinset")
    assert "Not for the next fill or dive: twinset 32 %." in deck.say("1 dive today").cautions[0]
    deck.wait(days=3)
    deck.say("twinset visual done today")
    assert deck.say("1 dive today").cautions == ()


@pytest.mark.parametrize(
    ("care", "mishap"),
    [
        ("twinset visual done today", "ran the twinset empty"),
        ("valve serviced on the twinset today", "the twinset is leaking"),
    ],
)
def test_mishap_later_on_the_day_of_the_care_is_not_answered_by_it(deck, care, mishap):
    deck.say(care)
    deck.wait(hours=5)
    assert deck.say(mishap).first.startswith("Do not ")
    assert deck.say("1 dive today").cautions != ()


def test_mishap_that_was_seen_to_the_same_day_is_answered(deck):
    deck.say("valve serviced on the twinset 1 June 2026")
    deck.say("twinset visual done May 2026")
    deck.say("ran the twinset empty")
    told = deck.tap("It has been seen to")
    assert told.first == "Noted: twinset 32 %, visual inspection today."
    assert "Test dates by law: check locally." in told.lines
    assert deck.say("1 dive today").cautions == ()


def test_every_list_with_a_legal_date_says_to_check_locally(deck):
    deck.say("twinset hydro tested June 2021")
    check = "Test dates by law: check locally."
    for line in ("what is due?", "when is my hydro due?", "why is the hydro due?", "trip 12 to 19 July"):
        assert check in deck.say(line).lines, line
    told = deck.until("2026-07-20T12:00:00+02:00")
    assert any(check in sent.reply.lines for sent in told)


def test_tap_records_the_very_test(deck):
    deck.say("I live in the USA")
    deck.say("the twinset is alloy 6351")
    deck.say("twinset hydro tested May 2026")
    deck.say("twinset visual done May 2026")
    deck.say("valve serviced on the twinset May 2026")
    deck.say("twinset eddy current tested May 2020")
    deck.say("what is due?")
    assert deck.tap("All done").first.startswith(
        "Noted: Eddy-current test of neck and shoulder, twinset 32 %"
    )
    told = deck.say("show twinset").lines
    assert "- eddy-current test today" in told
    assert "- hydrostatic test May 2026" in told


def test_look_at_a_cylinder_is_not_taken_for_the_legal_one(deck):
    deck.say("twinset visual done May 2020")
    deck.say("inspected the twinset today")
    assert "visual" in "\n".join(deck.say("what is due?").lines).lower()


def test_oil_on_gas_kit_is_cleared_by_a_technician_s_word_alone(deck):
    deck.say("add regulator set, 100%")
    deck.say("1 dive today, oil on the water")
    open_ = "Oxygen-clean and inspect"
    for said in ("inspected the regulator", "regs serviced today", "cleaned the regulator"):
        deck.say(said)
        assert open_ in "\n".join(deck.say("what is due?").lines), said
    deck.say("what is due?")
    deck.tap("All done")
    assert open_ in "\n".join(deck.say("what is due?").lines)
    deck.say("a technician cleaned and inspected the regulator")
    assert "regulator" not in "".join(line for line in deck.say("what is due?").lines if open_ in line)


def test_visual_out_of_date_in_the_usa_does_not_quote_the_hydro_rule(deck):
    """No federal law dates it: AAUS 3.23.3 and 8 CCR 6057(b)(2)(C) are practice."""
    deck.say("I live in the USA")
    deck.say("twinset hydro tested May 2026")
    deck.say("twinset visual done May 2020")
    (told,) = (c for c in deck.say("1 dive today").cautions if "Visual" in c)
    assert "180.205" not in told


def test_permit_keeps_the_stamp_that_is_on_it(deck):
    deck.say("the twinset has a special permit")
    deck.say("twinset hydro due May 2026")
    assert "OVERDUE since 31 May" in deck.say("when is my hydro due?").first
