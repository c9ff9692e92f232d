"""Adding several items in one breath: nothing named is lost, and each gets its own facts."""

import pytest


def kit(talk) -> str:
    return "\n".join(talk.say("show kit").lines)


@pytest.mark.parametrize(
    ("said", "first", "held"),
    [
        (
            "add rebreather, twinset air, drysuit latex seals plastic zip",
            "Added: rebreather, twinset 21 % and dry suit.",
            [
                "- rebreather: 0 dives",
                "- twinset 21 % (21 % oxygen): 0 dives",
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
