"""What only sounds as if an item left the kit, as if everything were to be deleted, or as if all data were wanted."""

from datetime import date

import pytest

from bot.understand.intents import Export, ForgetMe, LogDive, Misunderstood, RetireItem, ShowDue, Undo
from bot.understand.reader import understand

TODAY = date(2026, 7, 12)


def read(text):
    return understand(text, TODAY)


@pytest.mark.parametrize(
    "text",
    ["remove the regulator from the cylinder", "take the regulator off the cylinder", "remove the regulator to dry",
     "remove the dry suit after the dive", "remove the seals from the dry suit", "remove the twinset valve",
     "the dry suit is gone dry", "lost the o-ring of the canister light", "threw away the old o-ring of the canister light",
     "sold a spare o-ring of the twinset", "took the regulator off and rinsed it"],
)  # fmt: skip
def test_what_is_taken_apart_stays_in_the_kit(text):
    assert not isinstance(read(text), RetireItem)


@pytest.mark.parametrize(
    "text",
    ["sold the dry suit", "remove the scooter", "remove the regulator from my kit", "the torch is gone", "lost my torch",
     "threw away the old wetsuit", "take the twinset out of the kit", "sold my dry suit with latex seals",
     "the scooter is gone for good", "delete the canister light"],
)  # fmt: skip
def test_what_left_the_kit_leaves_it(text):
    assert isinstance(read(text), RetireItem)


@pytest.mark.parametrize(
    "text",
    ["wipe everything down", "please do not forget me", "delete everything on the camera card", "delete my data plan",
     "forget me not is a nice flower", "wipe the regulator"],
)  # fmt: skip
def test_no_deletion_is_offered_to_who_asked_for_none(text):
    assert not isinstance(read(text), ForgetMe)


@pytest.mark.parametrize(
    "text",
    [
        "forget me",
        "please delete all my data",
        "wipe my account",
        "delete everything",
        "forget about me",
        "/forget",
    ],
)
def test_deletion_is_asked_for_in_plain_words(text):
    assert read(text) == ForgetMe()


@pytest.mark.parametrize(
    "text", ["export of wreck photos", "i want to export beer to malta", "download my computer"]
)
def test_no_data_is_sent_to_who_asked_for_none(text):
    assert not isinstance(read(text), Export)


@pytest.mark.parametrize(
    "text", ["export", "export my data", "please export everything", "download my logbook", "/export"]
)
def test_data_is_asked_for_in_plain_words(text):
    assert read(text) == Export()


@pytest.mark.parametrize("text", ["delete the last dive", "forget the last dive", "remove my last dive"])
def test_the_last_dive_is_taken_out_as_a_dive(text):
    assert read(text) == Undo(dive=True)


def test_the_dive_of_a_day_can_be_forgotten():
    assert read("forget the dive of yesterday") == LogDive(
        corrects=True, removes=True, was_on=date(2026, 7, 11)
    )


def test_undo_of_something_by_name_is_refused_kindly():
    assert isinstance(read("undo the zip"), Misunderstood)
    assert read("undo the last one") == Undo()
    assert read("undo that") == Undo()


@pytest.mark.parametrize("text", ["bord", "show baord", "boards", "overview", "show it as a picture"])
def test_board_in_other_words(text):
    meant = read(text)
    assert isinstance(meant, ShowDue)
    assert meant.board


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("history of the regulator", "regulator"),
        ("record of everything", None),
        ("service record of all", None),
    ],
)
def test_record_in_other_words(text, item):
    assert read(text) == Export(what="record", item=item)


@pytest.mark.parametrize("text", ["print the card", "show me my card"])
def test_card_in_other_words(text):
    assert read(text) == Export(what="card")
