"""Who may work with a locker, and the codes that let people in."""

from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy.exc import NoResultFound

from store import lockers, people
from store.people import INVITE_DAYS, INVITED_AT_MOST, Role
from store.tables import Chat, Invite, Member, Person

MARA, ILKA, OLA = "wire:mara", "wire:ilka", "wire:ola"
CODE = "7K3D-92QM-4HXD"
SECOND = timedelta(seconds=1)


@pytest.fixture
def met(store, noon):
    """Have met three people, one with a name."""
    for person, name in ((MARA, "Mara"), (ILKA, ""), (OLA, "Ola")):
        store.write(lambda s, p=person, n=name: people.meet(s, p, n, noon))


@pytest.fixture
def join(store, met, noon):
    """Return a function that lets a person in some seconds after noon."""

    def run(chat, person, after=0):
        return store.write(lambda s: people.join(s, chat.locker_id, person, noon + after * SECOND))

    return run


def roles(store, chat):
    return [(m.person, m.role) for m in store.read(lambda s: people.of_locker(s, chat.locker_id))]


def valid(store, code, at):
    """Return the locker that a code opens at an instant, None if it opens none."""
    row = store.read(lambda s: people.invited(s, code, at))
    return row and row.locker_id


# --- people ------------------------------------------------------------------------------------------------------------


def test_person_is_named_by_wire_and_address():
    assert people.key("matrix", "@ilka:reef.example") == "matrix:@ilka:reef.example"


def test_person_met_again_keeps_the_first_day_and_gets_the_newest_name(store, noon, rows):
    for n, name in enumerate(("Mara", "Mara of the Reef", "")):
        store.write(lambda s, n=n, name=name: people.meet(s, MARA, name, noon + n * SECOND))
    assert rows(Person) == [{"key": MARA, "name": "Mara of the Reef", "since": noon, "admitted": False}]


def test_person_met_on_two_wires_is_two_people(store, noon, rows):
    for wire in ("wire", "other wire"):
        store.write(lambda s, w=wire: people.meet(s, people.key(w, "mara"), "Mara", noon))
    assert [row["key"] for row in rows(Person)] == ["other wire:mara", "wire:mara"]


def test_person_never_met_is_not_found(store, met):
    found = store.read(lambda s: (people.find(s, MARA), people.find(s, "wire:edda")))
    assert [row and row.key for row in found] == [MARA, None]


def test_names_are_what_the_wire_shows_or_else_the_address(store, met):
    asked = [MARA, ILKA, "matrix:@edda:reef.example", "nobody"]
    assert store.read(lambda s: people.names(s, asked)) == {
        MARA: "Mara",
        ILKA: "ilka",
        "matrix:@edda:reef.example": "@edda:reef.example",
        "nobody": "nobody",
    }


# --- roles -------------------------------------------------------------------------------------------------------------


def test_first_who_joins_is_the_owner_and_the_others_are_members(store, open_chat, join):
    chat = open_chat("deck")
    given = [join(chat, person, n) for n, person in enumerate((ILKA, MARA, OLA))]
    assert given == [Role.OWNER, Role.MEMBER, Role.MEMBER]
    assert roles(store, chat) == [(ILKA, "owner"), (MARA, "member"), (OLA, "member")]


def test_person_who_joins_again_stays_what_they_were(store, open_chat, join, rows):
    chat = open_chat("deck")
    join(chat, MARA)
    join(chat, ILKA, 1)
    store.write(lambda s: people.set_role(s, chat.locker_id, ILKA, Role.KEEPER))
    before = rows(Member)
    assert [join(chat, person, 2) for person in (MARA, ILKA)] == [Role.OWNER, Role.KEEPER]
    assert rows(Member) == before


def test_people_are_told_the_owner_first_then_keepers_then_as_they_came(store, open_chat, join, met, noon):
    chat = open_chat("deck")
    for n, person in enumerate((MARA, OLA, ILKA)):
        join(chat, person, n)
    store.write(lambda s: people.meet(s, "wire:edda", "Edda", noon))
    join(chat, "wire:edda", 1)
    store.write(lambda s: people.set_role(s, chat.locker_id, ILKA, Role.KEEPER))
    assert [person for person, _ in roles(store, chat)] == [MARA, ILKA, "wire:edda", OLA]


def test_role_is_of_one_locker_and_a_stranger_has_none(store, open_chat, join):
    deck, boat = open_chat("deck"), open_chat("boat")
    join(deck, MARA)
    join(boat, ILKA)
    join(boat, MARA, 1)
    asked = [(c.locker_id, p) for c in (deck, boat) for p in (MARA, ILKA)]
    found = store.read(lambda s: [people.role(s, *of) for of in asked])
    assert found == [Role.OWNER, None, Role.MEMBER, Role.OWNER]


def test_role_of_whoever_is_not_in_cannot_be_set(store, open_chat, join, rows):
    chat = open_chat("deck")
    join(chat, MARA)
    with pytest.raises(NoResultFound):
        store.write(lambda s: people.set_role(s, chat.locker_id, ILKA, Role.KEEPER))
    assert len(rows(Member)) == 1


def test_who_leaves_one_locker_stays_in_the_others(store, open_chat, join):
    deck, boat = open_chat("deck"), open_chat("boat")
    for chat in (deck, boat):
        join(chat, MARA)
        join(chat, ILKA, 1)
    store.write(lambda s: people.leave(s, boat.locker_id, ILKA))
    assert roles(store, deck) == [(MARA, "owner"), (ILKA, "member")]
    assert roles(store, boat) == [(MARA, "owner")]


def test_held_are_the_lockers_of_a_person_in_the_order_of_joining(store, open_chat, join, noon):
    deck, boat, pier = open_chat("deck"), open_chat("boat"), open_chat("pier")
    join(boat, ILKA)
    join(pier, ILKA, 1)
    join(deck, MARA, 2)
    join(boat, MARA, 3)
    store.write(lambda s: setattr(lockers.locker(s, boat.locker_id), "name", "Harbour Club"))
    tablet = Chat(wire="wire", address="tablet", locker_id=boat.locker_id, created_at=noon)
    store.write(lambda s: s.add(tablet))

    def of(person):
        held = store.read(lambda s: people.held(s, person))
        return [(h.locker_id, h.name, h.role) for h in held]

    assert of(MARA) == [
        (deck.locker_id, "", Role.OWNER),
        (boat.locker_id, "Harbour Club", Role.MEMBER),
    ]
    assert [row[0] for row in of(ILKA)] == [boat.locker_id, pier.locker_id]
    assert of(OLA) == []


# --- codes -------------------------------------------------------------------------------------------------------------


@pytest.fixture
def invite(store, noon):
    """Return a function that makes a code for a chat's locker at noon."""
    return lambda chat, code=CODE: store.write(lambda s: people.invite(s, chat.locker_id, code, MARA, noon))


@pytest.mark.parametrize(
    ("told", "typed"),
    [
        (CODE, CODE),
        (CODE, "7k3d-92qm-4hxd"),
        (CODE, "7K3D92QM4HXD"),
        (CODE, " 7K3D 92QM 4HXD "),
        (CODE, "7k3d\u201392qm\u20134hxd."),
        ("0A1B-0000-1111", "OAIB-O0o0-lL1i"),
        ("OAIB-LLLL-OOOO", "0a1b-1111-0000"),
    ],
)
def test_code_is_known_however_it_is_typed(store, open_chat, invite, noon, told, typed):
    chat = open_chat("deck")
    invite(chat, told)
    assert valid(store, typed, noon) == chat.locker_id


@pytest.mark.parametrize("typed", ["7K3D-92QM-4HXE", "7K3D-92QM-4HX", "7K3D-92QM-4HXDD", "", "-", "92QM"])
def test_code_that_is_wrong_opens_nothing(store, open_chat, invite, noon, typed):
    invite(open_chat("deck"))
    assert valid(store, typed, noon) is None


def test_code_ends_on_the_second(store, open_chat, invite, noon):
    chat = open_chat("deck")
    until = invite(chat)
    assert until == noon + timedelta(days=INVITE_DAYS)
    assert [valid(store, CODE, at) for at in (until - SECOND, until)] == [chat.locker_id, None]


def test_code_lets_in_so_many_and_no_more(store, open_chat, invite, noon):
    chat = open_chat("deck")
    invite(chat)

    def let_in(session):
        row = people.invited(session, CODE, noon)
        if row is not None:
            people.use(session, row)
        return row is not None

    assert [store.write(let_in) for _ in range(INVITED_AT_MOST + 2)] == [True] * INVITED_AT_MOST + [False] * 2


def test_code_that_was_withdrawn_opens_nothing_and_those_of_others_stay(store, open_chat, invite, noon):
    deck, boat = open_chat("deck"), open_chat("boat")
    invite(deck)
    invite(boat, "9999-AAAA-BBBB")
    store.write(lambda s: people.withdraw(s, deck.locker_id))
    assert valid(store, CODE, noon) is None
    assert valid(store, "9999-AAAA-BBBB", noon) == boat.locker_id


def test_new_code_ends_the_one_before(store, open_chat, invite, noon, rows):
    chat = open_chat("deck")
    invite(chat)
    invite(chat, "9999-AAAA-BBBB")
    assert [valid(store, code, noon) for code in (CODE, "9999-AAAA-BBBB")] == [None, chat.locker_id]
    assert len(rows(Invite)) == 1


@pytest.mark.sqlite
def test_code_itself_is_stored_nowhere(store, open_chat, invite, database, rows):
    invite(open_chat("deck"))
    (row,) = rows(Invite)
    assert (len(row["code_hash"]), int(row["code_hash"], 16) > 0) == (64, True)
    files = [path.read_bytes() for path in _files_of(database)]
    plain = [CODE.encode(), CODE.replace("-", "").encode(), CODE.lower().encode()]
    assert any(row["code_hash"].encode() in content for content in files)
    assert not any(code in content for code in plain for content in files)


def _files_of(url):
    path = Path(url.removeprefix("sqlite:///"))
    return [p for p in path.parent.glob(f"{path.name}*") if p.is_file()]


# --- forgetting --------------------------------------------------------------------------------------------------------


def test_forget_strangers_deletes_those_who_have_no_locker_left(store, open_chat, join, rows):
    chat = open_chat("deck")
    join(chat, MARA)
    store.write(lambda s: people.forget_strangers(s, [MARA, ILKA]))
    assert [row["key"] for row in rows(Person)] == [MARA, OLA]  # nobody asked to forget Ola
    store.write(lambda s: people.leave(s, chat.locker_id, MARA))
    store.write(lambda s: people.forget_strangers(s, [MARA]))
    assert [row["key"] for row in rows(Person)] == [OLA]


def test_forget_strangers_of_nobody_deletes_nobody(store, met, rows):
    store.write(lambda s: people.forget_strangers(s, []))
    assert len(rows(Person)) == 3
