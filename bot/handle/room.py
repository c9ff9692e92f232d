"""How much a locker holds: every message works out all of it, so one that never ends would keep all others waiting."""

from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.replies import Reply
from bot.understand.intents import AddItem
from store import dives

MOST_ITEMS = 500
"""More than any club owns; a message then takes about a second."""
MOST_DIVES = 50_000
"""Half of what a file of all data can take."""


def too_many_items(intent: AddItem, visit: Visit) -> Reply | None:
    """Refuse to add what goes beyond; None if there is room."""
    if len(visit.kit()) + sum(sort.count for sort in (intent, *intent.also)) <= MOST_ITEMS:
        return None
    return Reply(
        f"A locker holds up to {count(MOST_ITEMS, 'item')}, so nothing was added.",
        ("Take out what is gone, or begin another locker in a chat of its own.",),
        data={"intent": "add_item"},
    )


def too_many_dives(more: int, visit: Visit) -> Reply | None:
    """Refuse dives of a file that go beyond; None if there is room."""
    if dives.count(visit.session, visit.locker_id) + more <= MOST_DIVES:
        return None
    return Reply(
        f"A locker holds up to {MOST_DIVES:,} dives, so none was counted.",
        ("Send a file of fewer dives.",),
        data={"intent": "import_dives"},
    )
