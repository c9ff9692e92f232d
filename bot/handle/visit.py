"""What a handler works with: the chat that spoke, its locker, who it was and when, in one unit of work."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from scheduler.clock import local_date
from scheduler.due import Due, contaminated
from scheduler.forecast import PlannedDives
from scheduler.outlook import planned
from scheduler.plan import refresh
from scheduler.standing import ItemDue
from store import care_log, items, journal, lockers, tasks
from store.engine import Session
from store.tables import CareTask, Chat, Item
from store.vocabulary import Units

HOW_FAR_DAYS = 30
"""How far ahead a list of what is due looks when nobody said."""


@dataclass
class Visit:
    """One message being answered. Handlers change facts through the store's queries with `locker_id`, then reply."""

    session: Session
    chat: Chat
    actor: str
    now: datetime
    token: Callable[[], str]
    """Makes words that nobody can guess."""
    web_url: str | None = None
    """Where this bot's web endpoint is reached from outside; None: it has none."""
    takes_back: bool = False
    """Set by `undo`: what this message changes is not itself to be undone."""
    forgotten: bool = False
    """Set by `forget me`: the chat is gone."""
    _standing: list[ItemDue] | None = None
    _changes: int = 0

    @property
    def locker_id(self) -> int:
        """Return the locker this chat opens."""
        return self.chat.locker_id

    @property
    def today(self) -> date:
        """Return the date in the diver's zone."""
        return local_date(self.now, self.chat.zone)

    @property
    def imperial(self) -> bool:
        """Tell whether the diver wants feet and Fahrenheit."""
        return self.chat.units == Units.IMPERIAL

    def kit(self) -> list[Item]:
        """Return the items of the locker."""
        return items.of_locker(self.session, self.locker_id)

    def standing(self) -> list[ItemDue]:
        """Return where every rule of the kit stands with the facts as they are now, and keep the care tasks in step."""
        self.session.flush()
        changes = journal.noted(self.session)
        if self._standing is None or self._changes != changes:
            self._standing, self._changes = (
                refresh(self.session, self.chat, self.now, takes_back=self.takes_back),
                changes,
            )
        return self._standing

    def contaminated(self, item: Item) -> list[Due]:
        """Return the parts of an item that are out of oxygen service."""
        done = care_log.by_item(self.session, self.locker_id).get(lockers.number(item.id), [])
        return contaminated(done)

    def fresh_tasks(self) -> Sequence[CareTask]:
        """Return the care tasks worked out from the facts as they are now."""
        self.standing()
        return tasks.of_locker(self.session, self.locker_id)

    def item(self, item_id: int) -> Item | None:
        """Return an item of this locker by number."""
        return items.get(self.session, self.locker_id, item_id)

    def ahead(self) -> tuple[PlannedDives, ...]:
        """Return the dives of the trips that are planned."""
        return planned(self.session, self.locker_id, self.today)

    def region_known(self) -> bool:
        """Tell whether the diver has said which country's law applies."""
        return lockers.locker(self.session, self.locker_id).region is not None
