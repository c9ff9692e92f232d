"""Who writes: people on wires, the lockers they may work with, and the codes that let them in."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from hashlib import sha256

from sqlalchemy import bindparam
from sqlmodel import Session, col, delete, select, update

from store import lockers
from store.tables import Invite, Locker, Member, Person

INVITE_DAYS = 7
INVITED_AT_MOST = 30
"""People whom one code lets in: a class with its helpers."""
LONGEST_CALLED = 100
"""Characters of a name that go into a file of all data."""
TOLD = "told"
"""Stands for the wire in the key of somebody of whom a file of all data tells; their name stands for the address."""
GONE = "gone:somebody who left"
"""The key that stands in the record of others for whoever had themselves forgotten."""
_UNAMBIGUOUS = str.maketrans({"O": "0", "I": "1", "L": "1"})


class Role(StrEnum):
    """What a person may do in a locker: members log and record care; keepers may remove and export too."""

    OWNER = "owner"
    KEEPER = "keeper"
    MEMBER = "member"


@dataclass(frozen=True, slots=True)
class Held:
    """A locker as one of its people sees it."""

    locker_id: int
    name: str
    role: Role


def key(wire: str, address: str) -> str:
    """Name a person of a wire."""
    return f"{wire}:{address}"


def meet(session: Session, person: str, name: str, now: datetime) -> Person:
    """Return the person, noted the first time and named as the wire names them now."""
    row = session.get(Person, person) or Person(key=person, since=now)
    if row.name != (name or row.name) or row not in session:
        row.name = name or row.name
        session.add(row)
        session.flush()
    return row


def _take_turn(session: Session, person: str) -> None:
    """Let nobody else decide about a person unseen at the same time: see `lockers.take_turn`."""
    as_it_is = update(Person).where(col(Person.key) == person).values(name=Person.name)
    session.exec(as_it_is.execution_options(synchronize_session=False))


def admit(session: Session, person: str) -> None:
    """Let a person write, where not everybody may."""
    _take_turn(session, person)
    row = session.get_one(Person, person)
    row.admitted = True
    session.add(row)


def dismiss(session: Session, person: str) -> None:
    """Admit a person no longer who has no locker left but those they began."""
    _take_turn(session, person)
    row = session.get(Person, person)
    if row is not None and all(h.role is Role.OWNER for h in held(session, person)):
        row.admitted = False
        session.add(row)


def find(session: Session, person: str) -> Person | None:
    """Return the person, None if never met."""
    return session.get(Person, person)


def names(session: Session, people: Iterable[str]) -> dict[str, str]:
    """Return what each person is called: the wire's name for them, or else their address."""
    wanted = set(people)
    known = dict(session.exec(select(Person.key, Person.name).where(col(Person.key).in_(wanted))).all())
    return {person: known.get(person) or person.partition(":")[2] or person for person in wanted}


def names_alone(session: Session, people: Sequence[str]) -> list[str]:
    """Return what each person is called, in their order, each another, and never by their address."""
    known = names(session, people)
    found: dict[str, None] = {}
    for person in people:
        wire, _, address = person.partition(":")
        shown = wire in {TOLD, GONE.partition(":")[0]} or address not in known[person]
        name = (known[person] if shown else "")[:LONGEST_CALLED] or "somebody"
        free, n = name, 2
        while free in found:
            free, n = f"{name} {n}", n + 1
        found[free] = None
    return list(found)


def role(session: Session, locker_id: int, person: str) -> Role | None:
    """Return what a person may do in a locker, None for a stranger."""
    row = session.get(Member, (locker_id, person))
    return Role(row.role) if row else None


_OF_LOCKER = select(Member).where(Member.locker_id == bindparam("locker_id"))


def of_locker(session: Session, locker_id: int) -> list[Member]:
    """Return the people of a locker, the owner first, then as they came."""
    rows = session.exec(_OF_LOCKER, params={"locker_id": locker_id}).all()
    order = list(Role)
    return sorted(rows, key=lambda m: (order.index(Role(m.role)), m.since, m.person))


def join(session: Session, locker_id: int, person: str, now: datetime) -> Role:
    """Let a person in and return the role: the first becomes the owner, who was in stays what they were."""
    if known := role(session, locker_id, person):
        return known
    lockers.take_turn(session, locker_id)
    first = session.exec(select(Member).where(Member.locker_id == locker_id).limit(1)).first() is None
    given = Role.OWNER if first else Role.MEMBER
    session.add(Member(locker_id=locker_id, person=person, role=given, since=now))
    session.flush()
    return given


def set_role(session: Session, locker_id: int, person: str, given: Role) -> None:
    """Give a member another role."""
    lockers.take_turn(session, locker_id)
    row = session.get_one(Member, (locker_id, person))
    row.role = given
    session.add(row)
    session.flush()


def leave(session: Session, locker_id: int, person: str) -> None:
    """Take a person out of a locker. It passes from its owner to a keeper, or else to whoever is in longest."""
    row = session.get(Member, (locker_id, person))
    if row is None:
        return
    lockers.take_turn(session, locker_id)
    session.delete(row)
    session.flush()
    heirs = of_locker(session, locker_id)
    if row.role == Role.OWNER and heirs:
        set_role(session, locker_id, heirs[0].person, Role.OWNER)


def held(session: Session, person: str) -> list[Held]:
    """Return the lockers that a person may work with, in the order of joining."""
    query = (
        select(Member, Locker)
        .join(Locker, col(Locker.id) == Member.locker_id)
        .where(Member.person == person)
        .order_by(col(Member.since), col(Member.locker_id))
    )
    return [Held(m.locker_id, locker.name, Role(m.role)) for m, locker in session.exec(query)]


def _hash(code: str) -> str:
    """Return the hash of a code as somebody may type it: case, dashes and look-alike letters do not matter."""
    plain = "".join(c for c in code.upper() if c.isalnum()).translate(_UNAMBIGUOUS)
    return sha256(plain.encode()).hexdigest()


def invite(session: Session, locker_id: int, code: str, person: str, now: datetime) -> datetime:
    """Make a code valid for a locker and return until when; the codes before it end."""
    lockers.take_turn(session, locker_id)
    withdraw(session, locker_id)
    until = now + timedelta(days=INVITE_DAYS)
    session.add(
        Invite(code_hash=_hash(code), locker_id=locker_id, made_by=person, until=until, left=INVITED_AT_MOST)
    )
    session.flush()
    return until


def withdraw(session: Session, locker_id: int) -> None:
    """End the codes of a locker."""
    session.exec(delete(Invite).where(col(Invite.locker_id) == locker_id))


def invited(session: Session, code: str, now: datetime) -> Invite | None:
    """Return the invitation of a code, None if it is wrong, over or used up."""
    row = session.get(Invite, _hash(code))
    return row if row is not None and row.until > now and row.left > 0 else None


def use(session: Session, invitation: Invite) -> None:
    """Count one person let in."""
    invitation.left -= 1
    session.add(invitation)


def forget_strangers(session: Session, people: Iterable[str]) -> None:
    """Delete those of some people who have no locker left."""
    wanted = set(people)
    kept = set(session.exec(select(Member.person).where(col(Member.person).in_(wanted))))
    session.exec(delete(Person).where(col(Person.key).in_(wanted - kept)))
