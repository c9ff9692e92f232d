"""What an answer says beyond the verdict: temperatures, oxygen lines, what would change it, several parts."""

import pytest

from bot.advice.answer import answer
from bot.advice.change import what_would_change
from bot.advice.decide import decide
from bot.advice.rules import Verdict
from bot.understand.in_passing import understand_question
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import PartKind
from tests.conftest import START


def told(question: str):
    return answer(understand_question(question, START.date()).question)


def test_catalogue_covers_the_whole_kit():
    parts = [p for kind in CATALOGUE.values() for p in kind.parts]
    assert (len(CATALOGUE) >= 30, len(parts) >= 150) == (True, True)


@pytest.mark.parametrize("kind", CATALOGUE.values(), ids=lambda k: k.kind)
def test_every_part_of_the_catalogue_is_answered_or_asked_about(kind):
    for part in kind.parts:
        told_it = decide(part.facts(ItemFacts()))
        assert (
            told_it in {"zip_material", "elastomer"}
            or told_it.id != "unknown_part"
            or part.kind is PartKind.LENS
        )


# USP 32, Petrolatum: melting range 38 to 60 degrees Celsius (that a closed car reaches it is an inference).
def test_petroleum_jelly_in_a_hot_car_may_melt():
    said = told(
        "the manual says petroleum jelly on the scooter hull rings, it lies in a hot car, what do I use?"
    )
    assert (said.use[0], "It may melt from 38 °C" in said.text) == ("petroleum_jelly", True)


# common practice, no source: PFPE keeps its consistency over a wider span than silicone grease
def test_wide_span_of_temperatures_puts_pfpe_first():
    said = told("which grease for my twist light head, from minus 20 on deck to 20 degrees indoors?")
    assert (said.use, said.because[0].source) == (
        ("pfpe_grease", "silicone_grease"),
        "common practice, no source",
    )


def test_usual_temperatures_leave_silicone_first():
    assert told("which grease for my twist light head in 10 degree water?").use[0] == "silicone_grease"


# EN 144-3:2003 over 22 %, 46 CFR 197.326(a) over 40 %: both seen; the others second-hand and marked so.
def test_why_shows_which_authority_draws_which_line():
    text = told("why pfpe on the manifold with 32%?").text
    assert (
        "over 22 %: EN 144-3:2003 and EN 13949:2003, separate, oxygen-clean equipment in Europe: applies"
        in text
    )
    assert "over 40 %: 46 CFR 197.326(a), US Coast Guard, designed for oxygen: does not apply" in text
    assert "over 23.5 %: US gas-industry codes (second-hand), oxygen-enriched: applies" in text


def test_why_says_what_would_change_the_verdict():
    text = told("why is the canister light lid left dry?").text
    assert "- if it turned or slid: silicone grease or oxygen-compatible PFPE grease" in text


def test_fact_that_changes_nothing_is_not_listed():
    facts = CATALOGUE["cylinder"].part("neck_ring").facts(ItemFacts())
    assert "if no breathing gas touched it" not in " ".join(what_would_change(facts, decide(facts)))


def test_several_parts_in_one_question_get_a_line_each():
    said = told("what goes on the neck ring, the din ring and the hose swivel?")
    assert said.text.splitlines()[:3] == [
        "Cylinder neck O-ring: nothing on it. Clean and dry.",
        "O-ring between first stage and valve: nothing on it. Clean and dry.",
        "Swivelling end of a hose (second stage): oxygen-compatible PFPE grease.",
    ]


@pytest.mark.parametrize(
    ("question", "whom"),
    [
        ("what deco schedule for 60 m?", "instructor"),
        ("is tingling in my arm after a dive normal?", "diving doctor"),
        ("how do I rebuild my second stage?", "technician"),
    ],
)
def test_question_out_of_scope_is_declined_with_whom_to_ask(question, whom):
    assert whom in understand_question(question, START.date()).problem


@pytest.mark.parametrize(
    "asked",
    [
        "the manual says: 'lubricate scrubber lid o-ring with petroleum jelly'. so I can?",
        "the manual of my torch o-ring and regulator says cooking oil, may I",
        "the maker says mineral oil for the cylinder boot and valve, can I use mineral oil?",
        "the manual says: 'lubricate drysuit zip and regulator with petroleum jelly'. so I can?",
        "the manual says: 'lubricate purge button with penetrating oil'. so I can?",
        "the manual says: 'lubricate oxygen cell with talc'. so I can?",
        "the maker says cooking oil for the latex neck seal, can I use cooking oil?",
    ],
)
def test_manual_quoted_never_turns_a_refusal_into_leave(asked):
    assert told(asked).verdict is Verdict.NO
    assert not told(asked).use


@pytest.mark.parametrize(
    "asked",
    [
        "can I put silicone grease on the torch and the regulator",
        "can I grease the regulator and torch with silicone grease",
        "silicone grease on scooter hull and the oxygen valve",
        "can I use silicone grease on the torch, the canister light and the oxygen regulator?",
    ],
)
def test_leave_for_one_item_is_never_leave_for_the_other(asked):
    said = told(asked)
    assert said.verdict is Verdict.NO
    assert said.short.startswith("No: no silicone grease")
    assert any(line.startswith("Yes: silicone grease suits") for line in said.lines)
