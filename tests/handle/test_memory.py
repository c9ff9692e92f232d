"""What the bot keeps of a diver's own kit and words, and how the last question carries on."""

import pytest


@pytest.fixture
def deck(talk):
    return talk.has_said(
        "I live in Germany", "add stage 50%", "add dry suit, metal zip, latex seals", "add scooter"
    )


WRONG = "Out of oxygen service: a technician cleans and inspects the valve outlet O-ring (DIN or yoke)."


def test_wrong_grease_takes_the_part_out_of_oxygen_service(deck):
    assert deck.say("put silicone grease on the stage valve outlet o-ring").first == WRONG
    assert "OUT OF OXYGEN SERVICE: silicone grease" in "\n".join(deck.say("show kit").lines)
    assert "Out of oxygen service: clean and inspect" in "\n".join(deck.say("what is due?").lines)
    asked = deck.say("what goes on the stage valve outlet o-ring?")
    assert asked.lines[0].startswith("On it already: silicone grease since today.")


def test_wrong_grease_is_carried_by_reminders_trips_and_dives(deck):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    assert "Out of oxygen service" in "\n".join(deck.say("trip 20 to 27 June, 10 dives, salt").lines)
    assert any("Out of oxygen service" in c for c in deck.say("2 dives today with the stage, salt").cautions)
    assert "Out of oxygen service" in deck.wait(hours=12)[0].reply.first


@pytest.mark.parametrize(
    "said", ["cleaned the stage", "rinsed the stage", "brushed the stage valve outlet o-ring"]
)
def test_divers_own_cleaning_does_not_clear_it(deck, said):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    deck.say(said)
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)


@pytest.mark.parametrize(
    "said",
    [
        "stage serviced today",
        "stage cleaned by the technician",
        "stage oxygen cleaned and inspected by the workshop",
    ],
)
def test_technicians_cleaning_clears_it(deck, said):
    deck.say("put silicone grease on the stage valve outlet o-ring yesterday")
    deck.say(said)
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_all_done_does_not_clear_it(deck):
    deck.say("2 dives today with the stage")
    deck.say("put silicone grease on the stage valve outlet o-ring")
    deck.say("what is due?")
    done = deck.tap("All done")
    assert "Out of oxygen service stays" in done.cautions[0]
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)


def test_tapping_it_alone_asks_who_cleaned_it(deck):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    deck.say("what is due?")
    assert deck.tap("All done").first.startswith("Did a technician clean and inspect it: stage")
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)
    deck.say("what is due?")
    deck.tap("All done")
    deck.tap("A technician did it")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


@pytest.mark.parametrize(
    "said",
    [
        "no technician serviced the stage",
        "if a technician cleaned the stage would it be ok",
        "the technician did not service the stage",
        "serviced the stage without a technician",
        "instead of a technician I serviced the stage",
        "got the stage serviced by a friend who is no technician",
        "I watched a technician video and cleaned the stage",
        "I oxygen cleaned the stage",
        "rinsed and oxygen cleaned the stage",
        "my buddy serviced the stage",
    ],
)
def test_words_of_a_technician_who_did_nothing_do_not_clear_it(deck, said):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    deck.say(said)
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)


def test_service_tapped_done_in_a_list_does_not_clear_it(deck):
    """A tap says that it was done, not by whom."""
    deck.say("add regulator serviced May 2024")
    deck.say("50 %")
    deck.say("I got oil on the regulator")
    deck.say("what is due?")
    deck.tap("All done")
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)


def test_oil_after_the_workshop_is_not_cleared_by_the_workshop_of_that_day(deck):
    deck.say("stage serviced by the workshop today")
    deck.say("I got oil on the stage")
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)
    deck.say("stage serviced by the workshop today")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_own_service_does_not_clear_it_and_says_what_does(deck):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    told = deck.say("I serviced the stage myself today")
    assert "stays out of oxygen service" in told.cautions[-1]
    deck.tap("A technician did it")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


@pytest.mark.parametrize(
    "said",
    [
        "I got oil on the stage",
        "I dripped compressor oil on the stage valve",
        "oops, got sunscreen on the oxygen valve",
        "I put a drop of oil on the stage",
        "there is oil on my stage valve",
        "hand cream got on the stage",
        "some cooking oil dripped onto my stage",
    ],
)
def test_mishap_told_is_a_contamination_and_no_dive(deck, said):
    assert deck.say(said).first.startswith("Out of oxygen service")
    assert "OUT OF OXYGEN SERVICE" in "\n".join(deck.say("show kit").lines)
    deck.say("undo")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_what_if_stores_nothing(deck):
    deck.say("what if I got oil on the stage valve?")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_wrong_grease_on_the_whole_item_is_said_first_and_is_no_care(deck):
    deck.say("add regulator")
    deck.say("pure oxygen")
    told = deck.say("I put silicone grease on the regulator")
    assert told.first == "Out of oxygen service now: regulator set. Do not fill it, do not dive it."
    assert not any(line.startswith("Next") for line in told.lines)


def test_grease_unnamed_in_breathing_gas_is_questioned(deck):
    deck.say("add regulator")
    deck.say("air")
    assert "only oxygen-compatible PFPE" in deck.say("I greased the regulator").cautions[0]


def test_right_grease_contaminates_nothing(deck):
    deck.say("add twinset 32%")
    deck.say("greased the manifold with pfpe")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_oxygen_grease_on_a_neck_ring_is_wrong_but_burns_nothing(deck):
    told = deck.say("put PFPE grease on the neck ring of the stage")
    assert "neck" in told.first
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_undo_takes_a_contamination_back(deck):
    deck.say("put silicone grease on the stage valve outlet o-ring")
    deck.say("undo")
    assert "OUT OF OXYGEN SERVICE" not in "\n".join(deck.say("show kit").lines)


def test_silicone_near_glue_comes_up_when_the_seal_is_replaced(deck):
    deck.say("put silicone spray on the dry suit zip")
    said = "\n".join(deck.say("replaced the dry suit zip").lines)
    assert "tell whoever glues or replaces it" in said


def test_name_on_a_tube_is_asked_once_and_remembered(deck):
    asked = deck.say("can I use glorp on the scooter hull rings?")
    assert asked.first == "I know classes, not names on tubes. What does the label say it is made of?"
    assert "Remembered: glorp is silicone grease" in "\n".join(deck.tap("silicone grease").lines)
    assert deck.say("can I use glorp on the stage valve outlet o-ring?").data["verdict"] == "no"
    assert "Your words: glorp = silicone grease" in deck.say("show kit").lines


def test_name_on_a_tube_can_be_changed_and_forgotten(deck):
    deck.say("glorp is silicone grease")
    assert deck.say("glorp is petroleum jelly").first == "Remembered: glorp is petroleum jelly."
    assert deck.say("forget glorp").first == "Forgotten: glorp."
    assert deck.say("can I use glorp on the scooter hull rings?").data["verdict"] == "clarify"


def test_plain_english_word_can_be_a_name_on_a_tube(deck):
    assert deck.say("goo is silicone grease").first == "Remembered: goo is silicone grease."
    assert deck.say("can I put goo on the regulator?").data["verdict"] == "no"
    assert deck.say("can I put goo on the scooter hull rings?").data["verdict"] == "yes"
    assert deck.say("forget goo").first == "Forgotten: goo."


def test_own_word_for_a_part_is_understood(deck):
    deck.say("i call the hose swivel wiggler")
    assert deck.say("what goes on the wiggler?").data["part"] == "swivelling end of a hose (second stage)"


def test_own_words_stay_in_their_locker(deck):
    deck.say("glorp is silicone grease")
    other = deck.elsewhere("boat")
    assert other.say("can I use glorp on the scooter hull rings?").data["verdict"] == "clarify"


@pytest.mark.parametrize(
    "line",
    ["the zip is beeswax", "the tube is silicone grease", "that was fresh water", "my dry suit is talc"],
)
def test_words_of_the_trade_are_not_renamed(deck, line):
    assert not deck.say(line).first.startswith("Remembered")


@pytest.mark.parametrize(
    ("first", "then", "verdict", "part"),
    [
        ("what goes on my zip?", "and the inside?", "use", "inner teeth of the metal zip"),
        ("what goes on my zip?", "it is plastic", "use", "dry-suit zip"),
        (
            "what do I put on the scooter hull rings?",
            "with petroleum jelly?",
            "depends",
            "scooter hull O-rings",
        ),
        ("what do I put on the scooter hull rings?", "why?", "use", "scooter hull O-rings"),
        ("what goes on the neck seal of my dry suit?", "can I use petroleum jelly?", "no", "neck seal"),
        ("what goes on the neck seal of my dry suit?", "how much?", "use", "neck seal"),
        ("what goes on my zip?", "can I use silicone on it?", "no", "dry-suit zip"),
        (
            "what goes on the rebreather solenoid o-ring?",
            "and the scrubber lid?",
            "use",
            "scrubber canister O-ring",
        ),
        ("what goes on the scrubber o-ring?", "and the counterlungs", "none", "counterlungs"),
        (
            "can I use silicone on the scooter hull rings?",
            "and on the neck ring?",
            "no",
            "cylinder neck O-ring",
        ),
        ("what do I put on the scooter hull rings?", "and the neck ring?", "none", "cylinder neck O-ring"),
    ],
)
def test_follow_up_carries_the_last_question_on(deck, first, then, verdict, part):
    deck.say(first)
    said = deck.say(then).data
    assert (said["verdict"], said["part"]) == (verdict, part)


def test_why_after_two_items_still_begins_with_the_refusal(deck):
    deck.say("can I put silicone grease on the torch and the regulator?")
    assert deck.say("why?").first.startswith("No: no silicone grease")


def test_ring_size_noted_on_a_part_comes_up_for_the_trip(deck):
    assert deck.say("the scooter hull takes a -240 o-ring").first.startswith("Noted for")
    assert "-240 (scooter)" in "\n".join(deck.say("trip 20 to 27 June, 10 dives, salt").lines)


def test_hydro_date_is_answered_first(deck):
    deck.say("stage hydro tested May 2024")
    assert (
        deck.say("when is my hydro due?").first
        == "Hydrostatic test, stage cylinder 50 %: by 31 May 2029 (test station), counted from the test of May 2024."
    )
