"""What a handler works with: the chat that spoke, its locker, who it was and when, in one unit of work."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from scheduler.clock import local_date
from scheduler.due import Due, contaminated
from scheduler.forecast import PlannedDives
from scheduler.outlook import planned
from scheduler.plan import refresh
from scheduler.standing import ItemDue
from store import care_log, items, journal, lockers, people, tasks
from store.engine import Session
from store.tables import CareTask, Chat, Item
from store.vocabulary import Units

HOW_FAR_DAYS = 30
"""How far ahead a list of what is due looks when nobody said."""


class Links(NamedTuple):
    """Where this bot can be reached from outside. None: it cannot."""

    web_url: str | None = None
    """Its web endpoint."""
    join: str | None = None
    """What goes before a code to make a link of it."""


@dataclass
class Visit:
    """One message being answered. Handlers change facts through the store's queries with `locker_id`, then reply."""

    session: Session
    chat: Chat
    actor: str
    """Who speaks, as `store.people` names them."""
    now: datetime
    token: Callable[[], str]
    """Makes words that nobody can guess."""
    links: Links = Links()  # noqa: RUF009 - a tuple of nothing
    received: datetime | None = None
    """When it came in; what lapses is judged by it, not by when somebody says it was said."""
    takes_back: bool = False
    """Set by `undo`: what this message changes is not itself to be undone."""
    forgotten: bool = False
    """Set by `forget me`: the chat is gone."""
    _entered: int | None = None
    _standing: list[ItemDue] | None = None
    _changes: int = 0
    _acts: tuple[tuple[int, int], dict[int, list[care_log.Done]]] | None = None

    @property
    def locker_id(self) -> int:
        """Return the locker that is worked with: of a tap the one it speaks of, else the one that is open here."""
        return self._entered or self.chat.open_id or self.chat.locker_id

    def enters(self, locker_id: int) -> bool:
        """Work with a locker from here on; False, and nothing changes, if whoever speaks is none of its people."""
        if people.role(self.session, locker_id, self.actor) is None:
            return False
        self._entered, self._standing = locker_id, None
        return True

    @property
    def role(self) -> people.Role:
        """Return what whoever speaks may do in this locker."""
        return people.role(self.session, self.locker_id, self.actor) or people.Role.MEMBER

    @property
    def shared(self) -> bool:
        """Tell whether this locker has several people."""
        return len(people.of_locker(self.session, self.locker_id)) > 1

    @property
    def today(self) -> date:
        """Return the date in the diver's zone."""
        return local_date(self.now, self.chat.zone)

    @property
    def imperial(self) -> bool:
        """Tell whether the diver wants feet and Fahrenheit."""
        return self.chat.units == Units.IMPERIAL

    @property
    def own(self) -> str | None:
        """Say whose last word a correction means: in a shared locker one's own; None elsewhere, where there is but one."""
        return self.actor if self.shared else None

    def name_of(self, person: str) -> str:
        """Return what somebody is called."""
        return "you" if person == self.actor else people.names(self.session, [person])[person]

    def title_of(self, locker_id: int) -> str:
        """Return what a locker is called: its name, or else whose it is."""
        name = lockers.locker(self.session, locker_id).name
        if name:
            return name
        owner = next((m.person for m in people.of_locker(self.session, locker_id)), self.actor)
        began = lockers.first_chat(self.session, locker_id)
        if began is not None and began.group:
            return (
                "this group's locker"
                if began.id == self.chat.id
                else f"a group's locker ({self.name_of(owner)})"
            )
        return "your own locker" if owner == self.actor else f"{self.name_of(owner)}'s locker"

    def by(self, person: str) -> str:
        """Say who did it, where several people work with this locker."""
        return f", by {self.name_of(person)}" if self.shared else ""

    def kit(self) -> list[Item]:
        """Return the items of the locker."""
        return items.of_locker(self.session, self.locker_id)

    def standing(self) -> list[ItemDue]:
        """Return where every rule of the kit stands with the facts as they are now, and keep the care tasks in step."""
        self.session.flush()
        changes = journal.noted(self.session)
        if self._standing is None or self._changes != changes:
            self._standing, self._changes = (
                refresh(
                    self.session,
                    self.chat,
                    self.now,
                    locker_id=self.locker_id,
                    takes_back=self.takes_back,
                ),
                changes,
            )
        return self._standing

    def contaminated(self, item: Item) -> list[Due]:
        """Return the parts of an item that are out of oxygen service."""
        self.session.flush()
        of = (self.locker_id, journal.noted(self.session))
        if self._acts is None or self._acts[0] != of:
            self._acts = (of, care_log.by_item(self.session, self.locker_id))
        return contaminated(self._acts[1].get(lockers.number(item.id), []))

    def is_broken(self, item: Item) -> bool:
        """Tell whether something befell an item that nothing has answered yet, or it is out of oxygen service."""
        dues = next((s.dues for s in self.standing() if s.item.id == item.id), ())
        befell = any(d.rule.every.happened and d.due_on is not None and d.due_on <= self.today for d in dues)
        return befell or bool(self.contaminated(item))

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
