"""Forgetting somebody: what goes, what stays in lockers of others and why, and two taps before any of it."""

from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.replies import Reply
from bot.understand.intents import Export, ForgetMe, ShowKit
from bot.understand.reader import Offer
from scheduler.plan import refresh
from store import dives, people
from store.forget import forget_person

_KEEP = Offer("Keep it", ShowKit())
_STAYS = (
    "What you logged and did in lockers of others stays there, without your name: they breathe from that kit."
)


def forget_me(intent: ForgetMe, visit: Visit) -> Reply:
    """Delete whoever asks for it with all that is theirs, after two taps; in a group, the locker of the group."""
    visit.enters(visit.chat.locker_id)
    if intent.sure:
        return _forget(visit)
    group, elsewhere = visit.chat.group, _elsewhere(visit)
    if intent.confirmed:
        return Reply(
            "Sure? It cannot be brought back.",
            (
                *((_STAYS,) if elsewhere else ()),
                "What this chat program keeps of our messages is yours to delete there.",
            ),
            offers=(Offer("Yes, for good", ForgetMe(confirmed=True, sure=True)), _KEEP),
            data={"intent": "forget_me", "done": False},
        )
    kit, total = visit.kit(), dives.count(visit.session, visit.locker_id)
    others = len(people.of_locker(visit.session, visit.locker_id)) - 1
    what = "this group's locker" if group else "everything"
    return Reply(
        f"This deletes {what}: {count(len(kit), 'item')}, {count(total, 'dive')}, all care records, for good.",
        (
            "Nothing is deleted yet.",
            *((f"{count(others, 'other person', 'other people')} will lose it too.",) if others > 0 else ()),
            *((_STAYS,) if elsewhere else ()),
        ),
        offers=(
            Offer("Send me my data first", Export()),
            Offer("Delete it all", ForgetMe(confirmed=True)),
            _KEEP,
        ),
        data={"intent": "forget_me", "done": False},
    )


def _elsewhere(visit: Visit) -> bool:
    """Tell whether whoever asks is in lockers of others, whose record stays."""
    return not visit.chat.group and len(people.held(visit.session, visit.actor)) > 1


def _forget(visit: Visit) -> Reply:
    gone = forget_person(visit.session, visit.actor, visit.chat, visit.today)
    for locker_id in sorted(gone.touched):
        refresh(visit.session, visit.chat, visit.now, locker_id=locker_id)
    visit.forgotten = True
    stays = f"{count(gone.left, 'locker')} of others keep" + ("s" if gone.left == 1 else "")
    return Reply(
        "Everything is deleted. If you write again, we start afresh.",
        (f"{stays} the record of the kit, without your name.",) if gone.left else (),
        data={"intent": "forget_me", "done": True},
    )
