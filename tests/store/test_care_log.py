"""What was done, what the manuals say, and what was put off."""

from datetime import date

import pytest

from store import care_log
from store.care_log import Done
from store.tables import Care, ManualNote, Snooze


def note(part, *substances, silent=False):
    return ManualNote(part=part, substances=None if silent else list(substances))


@pytest.mark.parametrize(
    ("notes", "says"),
    [
        ([], None),
        ([note("zip_teeth", "zip_stick")], ("zip_stick",)),
        ([note("zip", "zip_stick")], ("zip_stick",)),
        ([note(None, "talc")], ("talc",)),
        ([note("seals", "talc")], None),
        ([note("zip_teeth")], ()),
        ([note("zip_teeth", silent=True), note("zip_teeth", "beeswax")], ("beeswax",)),
        ([note("zip_teeth", "zip_stick"), note("zip_teeth", "beeswax")], ("zip_stick",)),
    ],
    ids=["no note", "part", "whole", "item", "other part", "nothing on it", "interval only", "newest first"],
)
def test_manual_says_what_the_newest_note_on_the_part_says(notes, says):
    assert care_log.manual_says(notes, "zip_teeth", "zip") == says


def test_manual_notes_are_newest_first(store, everything, noon):
    chat, filed = everything("deck")
    newer = ManualNote(locker_id=chat.locker_id, item_id=filed["item"].id, text="newer", noted_at=noon)
    store.write(lambda s: care_log.note_manual(s, newer))
    found = store.read(lambda s: care_log.manuals(s, chat.locker_id))
    assert {i: [n.text for n in notes] for i, notes in found.items()} == {filed["item"].id: ["newer", "talc"]}


def test_care_by_item_is_oldest_first_however_recorded(store, everything, noon):
    chat, filed = everything("deck")
    earlier = Care(
        locker_id=chat.locker_id,
        item_id=filed["item"].id,
        part="bag_zip",
        task="lubricate",
        on=date(2026, 1, 1),
        done_by="mara",
        logged_at=noon,
    )
    store.write(lambda s: care_log.add(s, earlier))
    found, newest = store.read(
        lambda s: (
            care_log.by_item(s, chat.locker_id),
            [c.task for c in care_log.of_item(s, chat.locker_id, filed["item"].id)],
        )
    )
    assert found == {
        filed["item"].id: [
            Done("lubricate", "bag_zip", date(2026, 1, 1), told_at=noon),
            Done("clean", None, date(2026, 6, 10), told_at=noon),
        ]
    }
    assert newest == ["clean", "lubricate"]


def test_put_off_again_replaces_the_wish(store, everything, rows):
    chat, filed = everything("deck")
    key = (filed["item"].id, "bag_zip", "spray_bag_zip")
    store.write(lambda s: care_log.put_off(s, chat.locker_id, *key, until=date(2027, 1, 1)))
    wishes = store.read(lambda s: care_log.put_off_until(s, chat.locker_id))
    assert (wishes, len(rows(Snooze))) == ({key: date(2027, 1, 1)}, 1)


def test_wish_fulfilled_is_gone_and_no_other(store, everything):
    (deck, filed), (boat, other) = everything("deck"), everything("boat")
    store.write(lambda s: care_log.fulfil(s, deck.locker_id, filed["item"].id, "bag_zip", "spray_bag_zip"))
    left = store.read(lambda s: [list(care_log.put_off_until(s, chat.locker_id)) for chat in (deck, boat)])
    assert left == [[], [(other["item"].id, "bag_zip", "spray_bag_zip")]]
