"""Adding several items in one breath: nothing named is lost, and each gets its own facts."""

import pytest


def kit(talk) -> str:
    return "\n".join(talk.say("show kit").lines)


@pytest.mark.parametrize(
    ("said", "first", "held"),
    [
        (
            "add rebreather, twinset air, drysuit latex seals plastic zip",
            "Added: rebreather, twinset air and dry suit.",
            [
                "- rebreather: 0 dives",
                "- twinset air (21 % oxygen): 0 dives",
                "- dry suit (plastic zip, latex seals): 0 dives",
            ],
        ),
        (
            "add torch, scooter and knife",
            "Added: twist-switched hand light, scooter and knife or cutter.",
            ["- twist-switched hand light: 0 dives", "- scooter: 0 dives", "- knife or cutter: 0 dives"],
        ),
        (
            "add dry suit, plastic zip, latex seals",
            "Added: dry suit.",
            ["- dry suit (plastic zip, latex seals): 0 dives"],
        ),
        (
            "add stage, aluminium 80, 50%",
            "Added: aluminium stage cylinder 50 %.",
            ["- aluminium stage cylinder 50 % (50 % oxygen): 0 dives"],
        ),
    ],
)
def test_each_item_named_is_added_and_what_describes_it_stays_with_it(talk, said, first, held):
    assert talk.say(said).first == first
    assert kit(talk).splitlines() == held


def test_numbers_of_several_sorts_are_kept(talk):
    added = talk.say("add 8 bcds and 6 torches")
    assert added.first == (
        "Added: buoyancy device to buoyancy device 8 and twist-switched hand light to twist-switched hand light 6."
    )
    assert talk.say("show kit").first.startswith("14 items")
    talk.say("undo")
    assert "0 items" in talk.say("show kit").first or "empty" in talk.say("show kit").first


def test_answer_completes_all_of_one_sort_and_the_next_sort_is_asked_after(talk):
    asked = talk.say("add 2 regulators, dry suit, knife")
    assert "richest gas" in asked.first
    asked = talk.say("50 %")
    assert "plastic or metal" in asked.first
    talk.say("plastic")
    talk.say("latex")
    assert kit(talk).splitlines() == [
        "- regulator set (50 % oxygen): 0 dives",
        "- regulator set 2 (50 % oxygen): 0 dives",
        "- dry suit (plastic zip, latex seals): 0 dives",
        "- knife or cutter: 0 dives",
    ]


def test_size_of_a_cylinder_is_not_its_oxygen(talk):
    talk.say("add stage 80 aluminium, 50 % oxygen")
    assert "(50 % oxygen)" in kit(talk)


@pytest.mark.parametrize(
    ("said", "first"),
    [
        ("the regulator is for oxygen", "Noted: regulator set (100 % oxygen)."),
        ("change regulator to 50 %", "Noted: regulator set (50 % oxygen)."),
        ("my dry suit has silicone seals now", "Noted: dry suit (plastic zip, silicone seals)."),
        ("my stage is 80 %", "There is no stage in your kit, so I noted nothing."),
    ],
)
def test_facts_of_an_item_can_be_put_right(talk, said, first):
    talk.say("add regulator, air")
    talk.say("add dry suit, plastic zip, latex seals")
    before = kit(talk)
    assert talk.say(said).first == first
    if first.startswith("Noted"):
        talk.say("undo")
    assert kit(talk) == before


def test_service_told_while_adding_is_kept_through_the_questions(talk):
    talk.say("add 2 regulators serviced May 2025")
    talk.say("air")
    due = "\n".join(talk.say("what is due?").lines)
    assert "Service: regulator set; regulator set 2 - OVERDUE since 1 May" in due


def test_correction_of_the_day_goes_to_what_was_told_last(talk):
    talk.say("add dry suit, plastic zip, latex seals")
    talk.say("2 dives today, salt")
    talk.wait(hours=1)
    talk.say("brushed the zip today")
    assert talk.say("no, yesterday").first == "Corrected: dry-suit zip cleaned yesterday."
    talk.wait(hours=1)
    assert talk.say("no, that was fresh water").first.startswith("Corrected: 2 dives, today, fresh water")


def test_a_remark_stays_with_the_item_and_tells_it_from_others(talk):
    talk.say("I have two regs, one yellow, one black, and a torch")
    talk.say("air")
    talk.say("air")
    assert "yellow" in kit(talk)
    assert "which" not in talk.say("rinsed the yellow reg").first.casefold()


def test_an_item_takes_the_name_that_it_is_given(talk):
    talk.say("add wing")
    talk.say("when I write velha I mean the wing")
    assert "velha" in kit(talk)
