"""Lockers and their people: letting somebody in, who is in, which locker is open here, leaving."""

from collections.abc import Callable
from hashlib import sha256

from bot.handle.lend import give_back, lend
from bot.handle.visit import Visit
from bot.handle.wording import count, day
from bot.replies import Reply
from bot.understand.intents import (
    Export,
    ForgetMe,
    Intent,
    PlanTrip,
    RetireItem,
    SetPreference,
    ShareLocker,
    ShowDue,
    ShowKit,
    Snooze,
)
from bot.understand.reader import Offer
from scheduler.clock import local_date
from scheduler.limits import START_CHARS
from store import lockers, own_words, people
from store.people import INVITE_DAYS, INVITED_AT_MOST, Held, Role

_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_CODE_CHARS = 12
"""60 bits: at five guesses an hour nobody finds one within its week."""
_MOST_NAMED = 12
_OWN_ACTS = {"join", "people", "choose", "leave"}
"""What every member may do; the rest is for the owner and whom they named."""
_DATA: dict[str, object] = {"intent": "share_locker"}


def code_of(token: str) -> str:
    """Make a code that can be read out over an engine, from a word that nobody can guess."""
    number = int.from_bytes(sha256(token.encode()).digest())
    plain = "".join(_ALPHABET[number >> 5 * n & 31] for n in range(_CODE_CHARS))
    return "-".join(plain[n : n + 4] for n in range(0, _CODE_CHARS, 4))


def not_admitted(who: str, *, by_code: bool) -> Reply:
    """Tell a stranger how to get in; whoever runs the bot needs the name to let them in."""
    how = "Ask for a code and write: join CODE." if by_code else "Ask whoever runs it to let you in."
    return Reply(
        "This bot is not open to everybody.", (how, f"You are {who} to me."), data={"intent": "misunderstood"}
    )


def not_one_of_them(visit: Visit) -> Reply:
    """Tell somebody who was brought into a private chat that its locker is not theirs."""
    return Reply(
        f"{visit.title_of(visit.chat.locker_id).capitalize()} is open here, and you are not in it.",
        ("Ask for a code and write: join CODE. Or write to me in a chat of your own.",),
        data={**_DATA, "done": False},
    )


def not_yours(visit: Visit) -> Reply:
    """Answer a tap that speaks of a locker its sender has left."""
    return Reply("You are no longer in that locker.", offers=_choices(visit), data=_DATA)


def guarded(intent: Intent) -> bool:
    """Tell whether only the owner and whom they named may do it: what removes, exports, or changes it for all."""
    if isinstance(intent, ShareLocker):
        return intent.act not in _OWN_ACTS
    if isinstance(intent, SetPreference):
        return intent.region is not None or intent.forget
    if isinstance(intent, PlanTrip):
        return intent.cancels
    if isinstance(intent, Export):
        return intent.what not in {"card", "trip_sheet"}
    return isinstance(intent, RetireItem | Snooze)


def refused(intent: Intent, visit: Visit) -> Reply:
    """Say who may."""
    if isinstance(intent, ForgetMe):
        return Reply(
            "Say that to me in a chat of your own.",
            ("There it deletes what is yours. This locker is not yours alone.",),
            data={**_DATA, "done": False},
        )
    owner = people.of_locker(visit.session, visit.locker_id)[:1]
    name = visit.name_of(owner[0].person) if owner else "its owner"
    return Reply(
        f"Only {name}, whose locker this is, or somebody they named can do that.",
        ("You may log dives, record care and ask.",),
        data={**_DATA, "done": False},
    )


def share_locker(intent: ShareLocker, visit: Visit) -> Reply:
    """Do what is wanted of lockers and their people."""
    return _ACTS[intent.act](intent, visit)


def _invite(_intent: ShareLocker, visit: Visit) -> Reply:
    code = code_of(visit.token())
    until = people.invite(visit.session, visit.locker_id, code, visit.actor, visit.now)
    link = visit.links.join and f"{visit.links.join}{code.replace('-', '')}"
    last = day(local_date(until, visit.chat.zone), visit.today)
    return Reply(
        f"Code for {_title(visit)}: {code}",
        (
            f"They write to me: join {code}",
            *((f"Or open: {link}",) if link and len(code) <= START_CHARS else ()),
            f"It lets in up to {INVITED_AT_MOST} people, until {last}; a new code ends it.",
            "They can see this kit, log dives and record care. Only you and those you name may remove or export.",
        ),
        offers=(
            Offer("Who is in", ShareLocker(act="people")),
            Offer("End the code", ShareLocker(act="withdraw")),
        ),
        data={**_DATA, "code": code, "days": INVITE_DAYS},
    )


def _withdraw(_intent: ShareLocker, visit: Visit) -> Reply:
    people.withdraw(visit.session, visit.locker_id)
    return Reply("That code lets nobody in any more. Who is in, stays.", offers=_people_offer(), data=_DATA)


def _join(intent: ShareLocker, visit: Visit) -> Reply:
    if visit.chat.group:
        return Reply("Join from a chat of your own with me: a group works with its own locker.", data=_DATA)
    if intent.code is None:
        return Reply(
            "Send me the code of whoever lets you in.", ("It looks like: join 7K3D-92QM-4HXD.",), data=_DATA
        )
    found = people.invited(visit.session, intent.code, visit.received or visit.now)
    if found is None:
        return Reply(
            "That code is wrong, used up or over.",
            ("Ask for a new one; it looks like 7K3D-92QM-4HXD.",),
            data={**_DATA, "done": False},
        )
    if people.role(visit.session, found.locker_id, visit.actor) is None:
        people.join(visit.session, found.locker_id, visit.actor, visit.now)
        people.use(visit.session, found)
    people.admit(visit.session, visit.actor)
    _open(visit, found.locker_id)
    return Reply(
        f"You are in. Open here now: {_title(visit)}.",
        (
            f"{count(len(visit.kit()), 'item')} in it. What you log counts there.",
            "Your own locker stays yours. Say: my lockers, to change.",
        ),
        offers=(
            Offer("Show kit", ShowKit()),
            Offer("What is due", ShowDue()),
            *(o for o in _choices(visit) if o.label.startswith("Open")),
        ),
        data={**_DATA, "done": True},
    )


def _people(_intent: ShareLocker, visit: Visit) -> Reply:
    members = people.of_locker(visit.session, visit.locker_id)
    lines = [f"- {visit.name_of(m.person)}: {_MAY[Role(m.role)]}" for m in members[:_MOST_NAMED]]
    if len(members) > _MOST_NAMED:
        lines.append(f"- and {len(members) - _MOST_NAMED} more")
    offers: list[Offer] = []
    if visit.role is Role.OWNER:
        for m in members[1:5]:
            name, keeper = visit.name_of(m.person), m.role == Role.KEEPER
            of = {"person_id": m.person, "locker_id": visit.locker_id}
            offers += [
                Offer(
                    f"{name}: {'member only' if keeper else 'let remove'}",
                    ShareLocker(act="make_member" if keeper else "make_keeper", **of),
                ),
                Offer(f"{name}: out", ShareLocker(act="remove", **of)),
            ]
    if visit.role is not Role.MEMBER:
        offers.append(Offer("Invite", ShareLocker()))
    return Reply(
        f"{count(len(members), 'person', 'people')} in {_title(visit)}.",
        tuple(lines),
        offers=tuple(offers),
        data=_DATA,
    )


_MAY = {
    Role.OWNER: "owner",
    Role.KEEPER: "may remove and export",
    Role.MEMBER: "logs dives, records care",
}


def _set_role(intent: ShareLocker, visit: Visit) -> Reply:
    person = intent.person_id or ""
    now = people.role(visit.session, visit.locker_id, person)
    if visit.role is not Role.OWNER or now in {None, Role.OWNER}:
        return refused(intent, visit)
    given = Role.KEEPER if intent.act == "make_keeper" else Role.MEMBER
    people.set_role(visit.session, visit.locker_id, person, given)
    return Reply(f"{visit.name_of(person)}: {_MAY[given]}.", offers=_people_offer(), data=_DATA)


def _remove(intent: ShareLocker, visit: Visit) -> Reply:
    person = intent.person_id or ""
    if people.role(visit.session, visit.locker_id, person) in {None, Role.OWNER}:
        return Reply("There is nobody like that to take out.", offers=_people_offer(), data=_DATA)
    if visit.chat.group and visit.locker_id == visit.chat.locker_id:
        return Reply(
            "Whoever is in this group works with its locker: take them out of the group.", data=_DATA
        )
    name = visit.name_of(person)
    people.leave(visit.session, visit.locker_id, person)
    people.withdraw(visit.session, visit.locker_id)
    people.dismiss(visit.session, person)
    lockers.locker(visit.session, visit.locker_id).calendar_token = None  # whoever may have had the link
    return Reply(
        f"{name} is out. What they logged stays, with their name.",
        ("The code and the calendar link, if there were any, have ended.",),
        offers=_people_offer(),
        data=_DATA,
    )


def _choose(intent: ShareLocker, visit: Visit) -> Reply:
    held = [h for h in people.held(visit.session, visit.actor) if _fits(intent, h, visit)]
    if visit.chat.group:
        return Reply("A group works with its own locker; open others in a chat of your own.", data=_DATA)
    if len(held) == 1 and (intent.locker_id is not None or intent.name is not None):
        _open(visit, held[0].locker_id)
        return Reply(
            f"Open here now: {_title(visit)}.",
            (f"{count(len(visit.kit()), 'item')} in it.",),
            offers=(Offer("Show kit", ShowKit()), Offer("What is due", ShowDue()), *_choices(visit)),
            data=_DATA,
        )
    alone = len(people.held(visit.session, visit.actor)) == 1
    lines = ("You have no other. Say: share my locker, or: join CODE.",) if alone else ("Which one?",)
    return Reply(f"Open here: {_title(visit)}.", lines, offers=_choices(visit), data=_DATA)


def _leave(intent: ShareLocker, visit: Visit) -> Reply:
    if intent.name is not None:
        meant = [h for h in people.held(visit.session, visit.actor) if _fits(intent, h, visit)]
        if len(meant) != 1:
            return Reply("Which one do you want to leave? Open it first.", offers=_choices(visit), data=_DATA)
        visit.enters(meant[0].locker_id)
    if visit.locker_id == visit.chat.locker_id:
        return Reply(
            "This locker began with this chat, so it goes only by: forget me.",
            offers=_choices(visit),
            data=_DATA,
        )
    if visit.role is Role.OWNER:
        return Reply("You own that locker: it goes with its own chat, by: forget me.", data=_DATA)
    title = _title(visit)
    people.leave(visit.session, visit.locker_id, visit.actor)
    _open(visit, visit.chat.locker_id)
    return Reply(
        f"You have left {title}. Your own locker is open.",
        ("What you logged there stays, with your name.",),
        offers=(Offer("Show kit", ShowKit()),),
        data=_DATA,
    )


def _name(intent: ShareLocker, visit: Visit) -> Reply:
    name = (intent.name or "").strip()[:40]
    if not name:
        return Reply("What shall it be called?", ("Say: call this locker Harbour Club.",), data=_DATA)
    locker = lockers.locker(visit.session, visit.locker_id)
    locker.name = name
    visit.session.add(locker)
    return Reply(f"This locker is now called {name}.", offers=_people_offer(), data=_DATA)


_ACTS: dict[str, Callable[[ShareLocker, Visit], Reply]] = {
    "invite": _invite,
    "withdraw": _withdraw,
    "join": _join,
    "people": _people,
    "choose": _choose,
    "leave": _leave,
    "remove": _remove,
    "make_keeper": _set_role,
    "make_member": _set_role,
    "name": _name,
    "lend": lend,
    "give_back": give_back,
}


def _fits(intent: ShareLocker, held: Held, visit: Visit) -> bool:
    if intent.locker_id is not None:
        return held.locker_id == intent.locker_id
    if intent.name is None:
        return True
    return intent.name.casefold() in visit.title_of(held.locker_id).casefold()


def _open(visit: Visit, locker_id: int) -> None:
    visit.chat.open_id = None if locker_id == visit.chat.locker_id else locker_id
    visit.session.add(visit.chat)
    visit.enters(locker_id)


def _title(visit: Visit) -> str:
    return visit.title_of(visit.locker_id)


def _choices(visit: Visit) -> tuple[Offer, ...]:
    """Offer the other lockers of whoever speaks, and to leave one that is not their own."""
    others = [h for h in people.held(visit.session, visit.actor) if h.locker_id != visit.locker_id]
    offers = [
        Offer(f"Open {visit.title_of(h.locker_id)}", ShareLocker(act="choose", locker_id=h.locker_id))
        for h in others
    ]
    if visit.locker_id != visit.chat.locker_id:
        offers.append(Offer("Leave this one", ShareLocker(act="leave")))
    return tuple(offers[:_MOST_NAMED])


def _people_offer() -> tuple[Offer, ...]:
    return (Offer("Who is in", ShareLocker(act="people")),)


def may(intent: Intent, visit: Visit) -> bool:
    """Tell whether whoever speaks may do it here."""
    here = people.role(visit.session, visit.chat.locker_id, visit.actor)
    if isinstance(intent, ForgetMe):
        return here is Role.OWNER
    if (
        isinstance(intent, SetPreference) and intent.word is None and here is Role.MEMBER
    ):  # wishes of the chat
        return False
    if visit.role is not Role.MEMBER:
        return True
    return not guarded(intent) and not _means_another(intent, visit)


def _means_another(intent: Intent, visit: Visit) -> bool:
    """Tell whether it gives a word that others taught another meaning: what goes into breathing gas may hang on it."""
    if not isinstance(intent, SetPreference) or not intent.word:
        return False
    known = next(
        (w for w in own_words.of_locker(visit.session, visit.locker_id) if w.word == intent.word), None
    )
    part = (intent.part.item, intent.part.part) if intent.part else (None, None)
    return known is not None and (known.substance, known.kind, known.part) != (intent.substance, *part)
