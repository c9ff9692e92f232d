"""How much a locker holds: every message works out all of it, so one that never ends would keep all others waiting."""

from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.replies import Reply
from bot.understand.intents import AddItem
from store import dives
from store.exchange.values import MOST_DIVES, MOST_ITEMS


def too_many_items(intent: AddItem, visit: Visit) -> Reply | None:
    """Refuse to add what goes beyond; None if there is room."""
    if len(visit.kit()) + sum(sort.count for sort in (intent, *intent.also)) <= MOST_ITEMS:
        return None
    return Reply(
        f"A locker holds up to {count(MOST_ITEMS, 'item')}, so nothing was added.",
        ("Take out what is gone, or begin another locker in a chat of its own.",),
        data={"intent": "add_item"},
    )


def too_many_dives(more: int, visit: Visit, intent: str = "import_dives") -> Reply | None:
    """Refuse dives that go beyond; None if there is room."""
    if dives.count(visit.session, visit.locker_id) + more <= MOST_DIVES:
        return None
    return Reply(
        f"A locker holds up to {MOST_DIVES:,} dives, so none was counted.",
        ("Begin another locker in a chat of its own, or send a file of fewer dives.",),
        data={"intent": intent},
    )
