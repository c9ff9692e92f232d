"""What a row of care says: the act, how often, by whom, and who says so."""

from dataclasses import dataclass
from enum import StrEnum

from store.catalogue.when import When
from store.vocabulary import Condition, CylinderTest, Happening, ItemKind, Task

PRACTICE = "common practice, no source"


class By(StrEnum):
    DIVER = "diver"
    TECHNICIAN = "technician"
    TEST_STATION = "test station"


class Status(StrEnum):
    """How well a source is known: its words were read, somebody else's statement of them was, or there is none."""

    SEEN = "seen"
    SECOND_HAND = "second-hand"
    PRACTICE = "practice"


_CONDITION_WORDS = {
    Condition.SAND: "sand",
    Condition.SILT: "silt",
    Condition.ICE: "ice",
    Condition.POLLUTED: "polluted water",
    Condition.CHLORINE: "chlorine",
    Condition.OIL: "oil on the water",
    Condition.SURF: "surf",
}


@dataclass(frozen=True, slots=True)
class Every:
    """Whichever comes first. None: not counted so. `each_dive`: due on every day it was dived.

    `after` names conditions: a dive with one of them makes the task due that day. `happened` names what befell the item.
    `hours` are hours of immersion. `age_months` count from the date of manufacture, where that is known;
    `first_use_months` from the first dive since it was last replaced. `months` and `days` count from the last care.
    """

    dives: int | None = None
    days: int | None = None
    months: int | None = None
    each_dive: bool = False
    after: frozenset[Condition] = frozenset()
    hours: float | None = None
    first_use_months: int | None = None
    age_months: int | None = None
    happened: frozenset[Happening] = frozenset()

    @property
    def counted(self) -> bool:
        """Tell whether anything but an event makes it due."""
        return bool(
            self.dives or self.days or self.months or self.hours or self.first_use_months or self.age_months
        )

    def in_words(self) -> str:
        """Say the interval as a diver would; what befalls an item is named only where nothing else makes it due."""
        parts = []
        if self.each_dive:
            parts.append("after each dive day")
        if self.dives:
            parts.append(f"about every {self.dives} dives" if self.dives > 1 else "after every dive")
        if self.hours:
            parts.append(f"every {self.hours:g} hours under water")
        if self.months:
            parts.append(_months(self.months))
        if self.days:
            parts.append(f"every {self.days} days")
        if self.first_use_months:
            parts.append(f"{_span(self.first_use_months)} after first use")
        if self.age_months:
            parts.append(f"{_span(self.age_months)} after manufacture")
        if self.after:
            parts.append("after " + " or ".join(_CONDITION_WORDS[c] for c in sorted(self.after)))
        if self.happened and not parts:
            parts.append("once " + " or ".join(h.value for h in sorted(self.happened)))
        joined = " or ".join(parts)
        return joined + (", whichever comes first" if len(parts) > 1 and self.counted else "")


def _months(months: int) -> str:
    if months == 12:
        return "once a year"
    return f"every {_span(months)}"


def _span(months: int) -> str:
    return f"{months // 12} years" if months % 12 == 0 and months > 12 else f"{months} months"


ANYTHING = When()


@dataclass(frozen=True, slots=True)
class CareRule:
    """One act of care. `on_item` rows concern the whole item, the others each part whose facts fit.

    `lead_days`: how long before the due date a warning is useful (a technician needs weeks).
    `critical`: neglect can hurt someone; it goes first in a message and is repeated weekly when overdue.
    """

    id: str
    task: Task
    every: Every
    when: When = ANYTHING
    on_item: frozenset[ItemKind] = frozenset()
    by: By = By.DIVER
    lead_days: int = 0
    critical: bool = False
    only_by_technician: bool = False
    """Nobody else's word answers it."""
    before_next: bool = False
    """Done before the next dive, whenever that is: told once, never called overdue."""
    by_law: bool = False
    """Dated by the month from known tests, as `scheduler.law` counts; without one there is no date to give."""
    by_permit: bool = False
    """The cylinder's own permit sets the months, and only the diver can tell them."""
    test: CylinderTest | None = None
    """The test that answers it, so that a valve service is never taken for an inspection."""
    counts_from_due: bool = False
    """The next period runs from the old due month, where the test was neither too early nor too late."""
    source: str = PRACTICE
    status: Status = Status.PRACTICE
    why: str = ""
    label: str = ""
    """What people call the act, where the bare task would not tell it from another."""
    overdue: str = ""
    """What being overdue means for the next dive or fill, where it is not simply "do not dive it"."""
