"""An item in another locker for a while: its record goes with it and comes back, and nothing else is seen through it."""

from datetime import date, timedelta

import pytest
from sqlmodel import select

from store import care_log, dives, items, journal, loans, lockers, mishaps, outbox, people, tasks
from store.catalogue import ItemFacts
from store.tables import (
    Care,
    CareTask,
    Chat,
    Dive,
    DiveItem,
    Item,
    JournalEntry,
    Loan,
    Locker,
    ManualNote,
    Mishap,
    Notice,
    Snooze,
)
from store.vocabulary import ItemKind

TODAY = date(2026, 6, 10)
LATER = date(2026, 6, 20)
MARA = "wire:mara"
FACTS = (Item, Dive, DiveItem, Care, ManualNote, Mishap, Snooze, Loan, Locker)
RECORD = (Care, ManualNote, Mishap, Snooze)


@pytest.fixture
def two(everything):
    """Fill two lockers; return (chat, what is filed) of each. The bag of the first is the one that is lent."""
    return everything("deck"), everything("boat")


@pytest.fixture
def bag(two):
    """Return the number of the bag that is lent."""
    return two[0][1]["item"].id


@pytest.fixture
def lend(store, two, bag):
    """Return a function that lends the bag of the first locker to the second, or another item."""

    def run(item_id=bag):
        return store.write(
            lambda s: loans.lend(s, s.get_one(Item, item_id), two[1][0].locker_id, TODAY, MARA).id
        )

    return run


@pytest.fixture
def give_back(store):
    """Return a function that gives a loan back."""
    return lambda loan_id, on=LATER: store.write(lambda s: loans.give_back(s, s.get_one(Loan, loan_id), on))


@pytest.fixture
def log(store, noon):
    """Return a function that logs an entry in a chat's locker."""

    def run(chat, on, n, *item_ids):
        dive = Dive(locker_id=chat.locker_id, on=on, dives=n, conditions=[], logged_at=noon, logged_by=MARA)
        return store.write(lambda s: dives.add(s, dive, item_ids).id)

    return run


@pytest.fixture
def facts(rows):
    """Return a function that reads every fact of all lockers."""
    return lambda: {table.__name__: rows(table) for table in FACTS}


def add(store, chat, name, kind=ItemKind.MASK):
    return store.write(
        lambda s: items.add(s, chat.locker_id, kind, name, facts=ItemFacts(), on=TODAY, by=MARA).id
    )


def names(store, chat):
    return [i.name for i in store.read(lambda s: items.of_locker(s, chat.locker_id))]


def whose(store, item_id):
    """Return the locker of an item, and the lockers in which its record stands."""

    def read(session):
        record = {
            row.locker_id for table in RECORD for row in session.exec(select(table)) if row.item_id == item_id
        }
        return session.get_one(Item, item_id).locker_id, record

    return store.read(read)


def counted(store, chat, item_id):
    """Return the (day, dives) that count for an item in a chat's locker."""
    return [(d.on, d.dives) for d in store.read(lambda s: dives.by_item(s, chat.locker_id)).get(item_id, ())]


# --- lending and giving back -------------------------------------------------------------------------------------------


def test_lent_item_is_in_the_other_locker_with_its_whole_record(store, two, bag, lend):
    (deck, _), (boat, _) = two
    loan = lend()
    assert whose(store, bag) == (boat.locker_id, {boat.locker_id})
    here, there = (
        store.read(
            lambda s, i=c.locker_id: [
                bag in {item.id for item in items.of_locker(s, i)},
                len(care_log.of_item(s, i, bag)),
                bag in care_log.by_item(s, i),
                bag in care_log.manuals(s, i),
                bag in mishaps.by_item(s, i),
                bag in {item_id for item_id, *_ in care_log.put_off_until(s, i)},
            ]
        )
        for c in (deck, boat)
    )
    assert (here, there) == ([False, 0, False, False, False, False], [True, 1, True, True, True, True])
    row = store.read(lambda s: s.get_one(Loan, loan))
    assert row.model_dump() == {
        "id": loan,
        "item_id": bag,
        "owner_id": deck.locker_id,
        "borrower_id": boat.locker_id,
        "name": "deck",
        "lent_on": TODAY,
        "lent_by": MARA,
        "back_on": None,
    }


def test_item_given_back_is_home_with_all_that_was_done_meanwhile(store, two, bag, lend, give_back, noon):
    (deck, _), (boat, _) = two
    loan = lend()
    of_item = {"locker_id": boat.locker_id, "item_id": bag}
    store.write(
        lambda s: s.add_all(
            [
                Care(**of_item, task="rinse", on=TODAY, done_by="wire:ilka", logged_at=noon),
                Mishap(**of_item, happened="dropped", on=TODAY, told_by="wire:ilka", logged_at=noon),
                ManualNote(**of_item, text="wax", noted_at=noon),
                Snooze(**of_item, rule="rinse", until_on=LATER),
            ]
        )
    )
    assert give_back(loan).id == bag
    assert whose(store, bag) == (deck.locker_id, {deck.locker_id})
    done = store.read(lambda s: care_log.of_item(s, deck.locker_id, bag))
    assert sorted((c.task, c.done_by) for c in done) == [("clean", "wire:deck"), ("rinse", "wire:ilka")]
    assert store.read(lambda s: s.get_one(Loan, loan).back_on) == LATER


def test_record_of_other_items_stays_where_it_is(store, two, lend, give_back, rows):
    other = add(store, two[0][0], "mask")
    store.write(
        lambda s: s.add(
            Mishap(
                locker_id=two[0][0].locker_id,
                item_id=other,
                happened="flooded",
                on=TODAY,
                told_by=MARA,
                logged_at=two[0][0].created_at,
            )
        )
    )
    theirs = two[1][1]["item"].id
    before = {i: whose(store, i) for i in (other, theirs)}
    loan = lend()
    assert {i: whose(store, i) for i in (other, theirs)} == before
    give_back(loan)
    assert {i: whose(store, i) for i in (other, theirs)} == before


def test_what_was_worked_out_of_a_lent_item_is_dropped_and_its_notices_cancelled(store, two, lend, rows):
    (_, filed), (_, theirs) = two
    lend()
    assert [row["item_id"] for row in rows(CareTask)] == [theirs["item"].id]
    assert {n["item_id"]: n["state"] for n in rows(Notice)} == {
        filed["item"].id: "cancelled",
        theirs["item"].id: "pending",
    }


def test_notice_that_was_sent_stays_sent_when_its_item_is_lent(store, two, lend, noon, rows):
    def send(session):
        claimed = outbox.claim(session, noon, 50, ("wire",))
        outbox.settle(session, claimed[two[0][0].id], "sent", now=noon)

    store.write(send)
    lend()
    assert next(n["state"] for n in rows(Notice) if n["key"] == "deck") == "sent"


def test_name_that_is_taken_gets_a_number_there_and_the_old_one_at_home(store, two, bag, lend, give_back):
    (deck, _), (boat, _) = two
    add(store, boat, "Deck")
    loan = lend()
    assert names(store, boat) == ["deck 2", "boat", "Deck"]
    assert give_back(loan).name == "deck"
    assert names(store, deck) == ["deck"]


def test_name_that_was_given_away_meanwhile_gets_a_number_at_home(store, two, lend, give_back):
    (deck, _), _ = two
    loan = lend()
    add(store, deck, "deck")
    give_back(loan)
    assert sorted(names(store, deck)) == ["deck", "deck 2"]


def test_open_loans_are_listed_on_both_sides_until_given_back(store, two, bag, lend, give_back):
    (deck, _), (boat, _) = two

    def seen():
        return store.read(
            lambda s: (
                [loan.item_id for c in (deck, boat) for loan in loans.lent_by(s, c.locker_id)],
                [loan.item_id for c in (deck, boat) for loan in loans.borrowed_by(s, c.locker_id)],
                (found := loans.open_loan(s, bag)) and loans.item_of(s, found).name,
            )
        )

    assert seen() == ([], [], None)
    loan = lend()
    assert seen() == ([bag], [bag], "deck")
    assert store.read(lambda s: (loans.lent_by(s, boat.locker_id), loans.borrowed_by(s, deck.locker_id))) == (
        [],
        [],
    )
    give_back(loan)
    assert seen() == ([], [], None)


def test_item_lent_a_second_time_has_a_loan_of_its_own(store, two, bag, lend, give_back):
    give_back(lend())
    second = lend()
    assert store.read(lambda s: loans.open_loan(s, bag).id) == second
    give_back(second, LATER + timedelta(days=1))
    assert [loan.back_on for loan in store.read(lambda s: list(s.exec(select(Loan))))] == [
        LATER,
        LATER + timedelta(days=1),
    ]


# --- dives -------------------------------------------------------------------------------------------------------------


def test_dives_in_both_lockers_count_for_a_lent_item_wherever_it_is(store, two, bag, lend, give_back, log):
    (deck, _), (boat, _) = two
    home, away, again = (TODAY, 1), (date(2026, 6, 15), 3), (date(2026, 6, 25), 2)
    assert (counted(store, deck, bag), counted(store, boat, bag)) == ([home], [])
    loan = lend()
    assert counted(store, boat, bag) == [home]
    log(boat, *away, bag)
    assert counted(store, boat, bag) == [home, away]
    give_back(loan)
    assert counted(store, deck, bag) == [home, away]
    log(deck, *again, bag)
    assert counted(store, deck, bag) == [home, away, again]
    assert store.read(lambda s: [dives.count(s, c.locker_id) for c in (deck, boat)]) == [3, 4]


def test_dives_of_other_items_stay_in_their_locker(store, two, bag, lend, give_back, log):
    (deck, _), (boat, filed) = two
    mask = add(store, deck, "mask")
    log(deck, date(2026, 6, 9), 2, mask, bag)
    loan = lend()
    log(boat, LATER, 4, bag, filed["item"].id)
    assert counted(store, deck, mask) == [(date(2026, 6, 9), 2)]
    assert counted(store, boat, filed["item"].id) == [(TODAY, 1), (LATER, 4)]
    give_back(loan)
    assert counted(store, deck, mask) == [(date(2026, 6, 9), 2)]
    assert counted(store, boat, filed["item"].id) == [(TODAY, 1), (LATER, 4)]


@pytest.mark.parametrize("back", [False, True], ids=["while lent", "given back"])
def test_no_locker_sees_other_items_of_the_other_through_a_loan(store, two, bag, lend, give_back, log, back):
    (deck, _), (boat, filed) = two
    mask = add(store, deck, "mask")
    log(deck, date(2026, 6, 9), 2, mask, bag)
    loan = lend()
    log(boat, LATER, 4, bag, filed["item"].id)
    if back:
        give_back(loan)
    for chat in (deck, boat):
        mine = {i.id for i in store.read(lambda s, c=chat: items.of_locker(s, c.locker_id))}
        assert mine == ({bag, mask} if chat is deck else {filed["item"].id}) ^ (set() if back else {bag})
        assert set(store.read(lambda s, c=chat: dives.by_item(s, c.locker_id))) <= mine
        assert set(store.read(lambda s, c=chat: care_log.by_item(s, c.locker_id))) <= mine
        assert {n for n, *_ in store.read(lambda s, c=chat: dives.log(s, c.locker_id))} <= (
            {TODAY, date(2026, 6, 9)} if chat is deck else {TODAY, LATER}
        )
        assert all(store.read(lambda s, c=chat, m=m: items.get(s, c.locker_id, m)) for m in mine)
    assert store.read(lambda s: items.get(s, boat.locker_id, mask)) is None


def test_lent_item_stays_on_an_old_dive_that_is_corrected(store, two, bag, lend, give_back):
    (deck, filed), _ = two
    mask, fins = add(store, deck, "mask"), add(store, deck, "fins", ItemKind.FINS)
    dive_id, seen = filed["dive"].id, []

    def say(*wanted):
        store.write(lambda s: dives.set_items(s, s.get_one(Dive, dive_id), wanted))
        seen.append(store.read(lambda s: dives.items_of(s, dive_id)))

    say(bag, mask)
    loan = lend()
    say(fins)
    say()
    give_back(loan)
    say(fins)
    assert seen == [[bag, mask], [bag, fins], [bag], [fins]]


def test_dive_removed_takes_its_links_along_whoever_has_the_items_now(store, two, bag, lend, rows):
    (_, filed), (_, theirs) = two
    lend()
    store.write(lambda s: dives.remove(s, s.get_one(Dive, filed["dive"].id)))
    assert [row["dive_id"] for row in rows(DiveItem)] == [theirs["dive"].id]


# --- before a locker is deleted ----------------------------------------------------------------------------------------


def test_bring_home_ends_loans_from_and_to_a_locker_and_no_others(store, two, everything, bag, lend):
    (deck, _), (boat, theirs) = two
    pier, third = everything("pier")

    def lend_to(item_id, chat):
        store.write(lambda s: loans.lend(s, s.get_one(Item, item_id), chat.locker_id, TODAY, MARA))

    lend()
    lend_to(theirs["item"].id, pier)
    lend_to(third["item"].id, deck)
    others = store.write(lambda s: loans.bring_home(s, deck.locker_id, LATER))
    assert others == {boat.locker_id, pier.locker_id}
    homes = {i: whose(store, i)[0] for i in (bag, theirs["item"].id, third["item"].id)}
    assert homes == {
        bag: deck.locker_id,
        theirs["item"].id: pier.locker_id,
        third["item"].id: pier.locker_id,
    }
    assert store.read(lambda s: [loan.item_id for loan in loans.lent_by(s, boat.locker_id)]) == [
        theirs["item"].id
    ]
    assert store.write(lambda s: loans.bring_home(s, deck.locker_id, LATER)) == set()


@pytest.mark.parametrize("gone", [0, 1], ids=["owner", "borrower"])
def test_locker_forgotten_after_its_loans_came_home_leaves_the_other_as_it_was(
    store, everything, rows, noon, gone
):
    stays, _ = everything("boat")
    before = rows()
    goes, _ = everything("deck")
    owner, borrower = (goes, stays) if gone == 0 else (stays, goes)
    item = store.read(lambda s: next(i.id for i in items.of_locker(s, owner.locker_id)))
    store.write(lambda s: loans.lend(s, s.get_one(Item, item), borrower.locker_id, TODAY, MARA))
    dive = Dive(
        locker_id=borrower.locker_id, on=LATER, dives=2, conditions=[], logged_at=noon, logged_by=MARA
    )
    store.write(lambda s: dives.add(s, dive, [item]))
    if borrower is stays:
        store.write(lambda s: dives.remove(s, s.get_one(Dive, dive.id)))

    def forget(session):
        loans.bring_home(session, goes.locker_id, LATER)
        lockers.forget(session, goes.locker_id)
        people.forget_strangers(session, ["wire:deck", "wire:boat"])

    store.write(forget)
    after = rows()
    if owner is stays:  # what was worked out and queued about it is worked out anew
        assert (after.pop("care_task"), [n["state"] for n in after.pop("notice")]) == ([], ["cancelled"])
        before = {name: some for name, some in before.items() if name not in {"care_task", "notice"}}
    assert after == before


# --- undo --------------------------------------------------------------------------------------------------------------


@pytest.fixture
def message(store, two, noon):
    """Return a function that does some work as one message in the first locker; it returns the journal entry."""
    chat = two[0][0]

    def run(work):
        def unit(session):
            journal.watch(session)
            work(session)
            entry = JournalEntry(
                chat_id=chat.id,
                at=noon,
                actor=MARA,
                locker_id=chat.locker_id,
                intent="share_locker",
                changes=[],
            )
            return journal.keep(session, entry)

        return store.write(unit)

    return run


def take_back(store, entry, at):
    return store.write(lambda s: journal.undo(s, s.get_one(JournalEntry, entry.id), at))


def test_undo_of_a_lend_restores_everything_in_both_lockers(store, two, bag, message, facts, noon):
    boat = two[1][0]
    add(store, boat, "deck")  # its name is taken there
    before = facts()
    entry = message(lambda s: loans.lend(s, s.get_one(Item, bag), boat.locker_id, TODAY, MARA))
    moved = {name for name, some in facts().items() if some != before[name]}
    assert moved == {"Item", "Care", "ManualNote", "Mishap", "Snooze", "Loan"}
    lockers_touched = store.read(lambda s: journal.lockers_of(s, s.get_one(JournalEntry, entry.id)))
    assert lockers_touched == {two[0][0].locker_id, boat.locker_id}
    tables = take_back(store, entry, noon)
    assert set(tables) == {"item", "care", "manual_note", "mishap", "snooze", "loan"}
    assert facts() == before


def test_undo_of_a_return_lends_it_again_with_everything(store, two, bag, lend, message, facts, noon):
    add(store, two[1][0], "deck")
    loan = lend()
    before = facts()
    entry = message(lambda s: loans.give_back(s, s.get_one(Loan, loan), LATER))
    assert facts() != before
    take_back(store, entry, noon)
    assert facts() == before


def test_lend_of_an_item_that_was_changed_since_is_built_on(store, two, bag, message, noon):
    boat = two[1][0]
    entry = message(lambda s: loans.lend(s, s.get_one(Item, bag), boat.locker_id, TODAY, MARA))
    assert (
        store.read(lambda s: journal.built_on(s, s.get_one(JournalEntry, entry.id), [entry.locker_id]))
        is None
    )

    def rename(session):
        session.get_one(Item, bag).name = "renamed"

    later = message(rename)
    found = store.read(lambda s: journal.built_on(s, s.get_one(JournalEntry, entry.id), [entry.locker_id]))
    assert found is not None
    assert found.id == later.id


def test_tasks_of_a_chat_know_nothing_of_an_item_that_is_lent(store, two, bag, lend):
    (deck, _), (boat, _) = two
    lend()
    assert store.read(lambda s: tasks.of_locker(s, deck.locker_id)) == []
    assert store.read(lambda s: tasks.find(s, boat.locker_id, bag, "", "spray_bag_zip")) is None


def test_chats_are_not_moved_by_a_loan(two, lend, rows):
    before = rows(Chat)
    lend()
    assert rows(Chat) == before
