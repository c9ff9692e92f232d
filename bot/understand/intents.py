"""What a message can mean: one typed intent each, validated where the text ends and the facts begin.

Dates are calendar dates in the diver's zone; depths metres, temperatures degrees Celsius, durations minutes.
None or empty always means: not said. Fields named `..._id` come from buttons, never from text.
"""

from datetime import date, time
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from bot.advice.question import PartRef, Question
from bot.understand.one_dive import OneDive
from store.catalogue import ItemFacts
from store.vocabulary import (
    Condition,
    CylinderTest,
    Happening,
    ItemKind,
    Region,
    Substance,
    Task,
    Units,
    Water,
)


class _Intent(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)
    hidden: ClassVar[frozenset[str]] = frozenset()

    def fields(self) -> dict[str, Any]:
        """Return the contract's fields as JSON values."""
        return self.model_dump(mode="json", by_alias=True, exclude={"intent"} | self.internal())

    def internal(self) -> set[str]:
        """Name what is not shown: ids, which only buttons fill, and `refs`, the catalogue's places of what `part` says."""
        return {
            n for n in type(self).model_fields if n.endswith(("_id", "_ids")) or n in {"refs", *self.hidden}
        }


class LogDive(_Intent):
    intent: Literal["log_dive"] = "log_dive"
    dives: int | None = None
    on: date | None = None
    water: Water | None = None
    max_depth_m: float | None = None
    duration_min: int | None = None
    min_temp_c: float | None = None
    o2_fraction: float | None = None
    conditions: tuple[Condition, ...] = ()
    items: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    """Items said to have stayed ashore."""
    only: bool = False
    """Nothing but `items` was dived."""
    corrects: bool = False
    """The last entry was wrong: these fields replace its own."""
    removes: bool = False
    """The entry of that day (or the last one) is to go: it never happened."""
    was_on: date | None = None
    """The entry meant is the one logged for this day; None: the last one."""
    also: tuple["LogDive", ...] = ()
    """Further entries told in the same breath, each of a day of its own."""
    happened: tuple["RecordCare", ...] = ()
    """What befell the kit, told along with the dive."""
    like_last: bool = False
    """What was not said is as it was at the entry before: "same again today"."""
    each: tuple[OneDive, ...] = ()
    """The dives one by one, as many as `dives`, where each was told its own depth or time; the fields above hold for all."""
    which: str | None = None
    was_depth_m: float | None = None
    """Which of several entries is meant: its number from "1", "last", "deepest" or "shallowest"; or how deep it was told."""
    dive_id: int | None = None
    alike_ids: tuple[int, ...] = ()
    item_ids: tuple[int, ...] | None = None

    hidden: ClassVar[frozenset[str]] = frozenset({"like_last", "each", "which", "was_depth_m"})


class Ask(_Intent):
    intent: Literal["ask"] = "ask"
    question: Question
    said: str = ""

    def fields(self) -> dict[str, Any]:
        """Flatten the question into the contract's fields."""
        q = self.question
        stated = {k: v for k, v in q.stated.model_dump(mode="json").items() if v is not None}
        part = q.candidates[0].part if q.candidates else None
        return {
            "about": q.about.value,
            "part": part,
            "item": q.item.value if q.item else None,
            "substance": q.substance.value if q.substance else q.unknown_substance,
            **stated,
        }


class AddItem(_Intent):
    intent: Literal["add_item"] = "add_item"
    kind: ItemKind | None = None
    name: str | None = None
    facts: ItemFacts = ItemFacts()
    count: int = 1
    item_id: int | None = None
    """The item was added already; these facts complete it."""
    also: tuple["AddItem", ...] = ()
    """Further items named in the same breath; once added, those whose facts are asked for next."""
    done: tuple["RecordCare", ...] = ()
    """What was done to it before: "serviced May 2025"."""
    of: str | None = None
    """The item of the kit, as said, that these facts change; None: a new one."""
    alike_ids: tuple[int, ...] = ()
    """Items of the same sort that the same facts complete."""
    skip_ids: tuple[str, ...] = ()
    """Names of facts the diver would rather not say."""
    unread: tuple[str, ...] = ()
    """What was named to be added and is no kind of kit, as said."""


class RetireItem(_Intent):
    intent: Literal["retire_item"] = "retire_item"
    item: str | None = None
    item_id: int | None = None
    one: bool = False  # of several: which of those that are alike does not matter
    hidden: ClassVar[frozenset[str]] = frozenset({"one"})


class ShowKit(_Intent):
    intent: Literal["show_kit"] = "show_kit"
    item: str | None = None
    dives: bool = False
    """The dive log rather than the kit."""
    item_id: int | None = None


class ShowDue(_Intent):
    intent: Literal["show_due"] = "show_due"
    item: str | None = None
    until: date | None = None
    task: Task | None = None
    """Only this act: "when is my hydro due"."""
    why: bool = False
    refs: tuple[PartRef, ...] = ()
    """Parts said; only filled with `why`."""
    task_ids: tuple[int, ...] = ()
    board: bool = False
    """As a picture of the whole."""
    dark: bool | None = None
    """The picture light on dark; None: as the chat wants it."""


class RecordCare(_Intent):
    intent: Literal["record_care"] = "record_care"
    task: Task | None = None
    item: str | None = None
    part: str | None = None
    substance: Substance | None = None
    on: date | None = None
    refs: tuple[PartRef, ...] = ()
    kind: ItemKind | None = None
    also: tuple["RecordCare", ...] = ()
    """Further acts told in the same breath."""
    by_technician: bool = False
    month_only: bool = False  # only the month was said; `on` is its first day
    test: CylinderTest | None = None
    stamped: bool = False
    """Only "stamped" was said of a month behind us: it may be the test's own or the next one's."""
    next_on: date | None = None
    """The next due date told along with the test, as stamped on the cylinder; first of the month where no day was said."""
    made_on: date | None = None
    """Date of manufacture printed on what was put in ("new cells, made March 2026"); first of the month where no day was said."""
    happened: Happening | None = None
    """No act of care: this befell the item ("flooded the torch"). `task` is None then."""
    everything: bool = False  # done to all of the kit, or to all that `item` names
    one: bool = False  # of several that are alike: which of them does not matter
    but: tuple[str, ...] = ()
    """Items left out of `everything`, as said."""
    item_id: int | None = None
    task_ids: tuple[int, ...] = ()
    hidden: ClassVar[frozenset[str]] = frozenset({"one"})


class Snooze(_Intent):
    intent: Literal["snooze"] = "snooze"
    until: date | None = None
    days: int | None = None
    after_trip: bool = False
    item: str | None = None
    refs: tuple[PartRef, ...] = ()
    """Parts said where no item was: "snooze the zip"."""
    task_ids: tuple[int, ...] = ()


class PlanTrip(_Intent):
    intent: Literal["plan_trip"] = "plan_trip"
    from_on: date | None = Field(default=None, alias="from")
    to_on: date | None = Field(default=None, alias="to")
    dives: int | None = None
    water: Water | None = None
    min_temp_c: float | None = None
    max_temp_c: float | None = None
    shows: bool = False  # asks for the planned trip: "when is my trip", "packing list"
    cancels: bool = False
    changes: bool = False  # puts right what is planned: what is None stays
    by_days: int | None = None
    trip_id: int | None = None
    hidden: ClassVar[frozenset[str]] = frozenset({"changes", "by_days"})


class RecordManual(_Intent):
    intent: Literal["record_manual"] = "record_manual"
    item: str | None = None
    part: str | None = None
    substances: tuple[Substance, ...] = ()
    nothing: bool = False  # the manual says that nothing goes on it
    task: Task | None = None
    every_dives: int | None = None
    every_months: int | None = None
    every_days: int | None = None
    every_hours: float | None = None  # of immersion
    ring: str | None = None
    """AS568 dash number of the part's O-ring."""
    text: str = ""
    refs: tuple[PartRef, ...] = ()
    kind: ItemKind | None = None
    item_id: int | None = None


class Undo(_Intent):
    intent: Literal["undo"] = "undo"
    entry_id: int | None = None
    """What to take back, from a button; None: whatever this person did last."""
    dive: bool = False
    """The last dive, whatever was told since."""

    def internal(self) -> set[str]:
        """Keep to ourselves how it is found."""
        return super().internal() | {"dive"}


Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday", "never"]


class SetPreference(_Intent):
    intent: Literal["set_preference"] = "set_preference"
    zone: str | None = None
    digest_at: time | None = None
    quiet_from: time | None = None
    quiet_to: time | None = None
    units: Units | None = None
    region: Region | None = None
    reminders: bool | None = None
    """Reminders on or off altogether."""
    board_day: Weekday | None = None
    """The day on which the due board comes by itself."""
    dark: bool | None = None
    """The due board light on dark."""
    word: str | None = None
    """A word of the diver's own: for a class of substance, for a part, or to be forgotten."""
    substance: Substance | None = None
    part: PartRef | None = None
    forget: bool = False


class ShareLocker(_Intent):
    """Lockers and their people. `act`: what is wanted of them; the rest is filled as the act needs it."""

    intent: Literal["share_locker"] = "share_locker"
    act: Literal[
        "invite",
        "withdraw",
        "join",
        "people",
        "choose",
        "leave",
        "remove",
        "make_keeper",
        "make_member",
        "name",
        "lend",
        "give_back",
    ] = "invite"
    code: str | None = None
    name: str | None = None
    """Of a locker or its holder, as said."""
    item: str | None = None
    item_id: int | None = None
    locker_id: int | None = None
    person_id: str | None = None


class Export(_Intent):
    intent: Literal["export"] = "export"
    what: Literal[
        "data", "csv", "calendar", "calendar_link", "new_calendar_link", "card", "record", "trip_sheet"
    ] = "data"
    item: str | None = None
    """Of which item, as said; only with `record`. None: of the whole locker."""
    item_id: int | None = None


class ImportDives(_Intent):
    """From buttons under a dive file that was shown, never from text."""

    intent: Literal["import_dives"] = "import_dives"
    import_id: int = 0
    kit: str | None = None
    """The file's key of a piece of kit, with `item_id` the item of the locker that it is, 0 for none."""
    item_id: int | None = None
    counts: bool = False
    replaces: bool = False
    """Only with a file of all data: in place of what the locker holds."""
    drops: bool = False


class ForgetMe(_Intent):
    intent: Literal["forget_me"] = "forget_me"
    confirmed: bool = False
    sure: bool = False
    """Asked a second time."""

    def internal(self) -> set[str]:
        """Keep the confirmations to buttons."""
        return {"confirmed", "sure"}


class Help(_Intent):
    intent: Literal["help"] = "help"


class Misunderstood(_Intent):
    """`problem` says kindly what is wrong; `suggestions` are lines that would work; `choices` what may have been meant."""

    intent: Literal["misunderstood"] = "misunderstood"
    problem: str = "I did not get that."
    suggestions: tuple[str, ...] = ()
    choices: tuple["Choice", ...] = ()

    def fields(self) -> dict[str, Any]:
        """Suggestions and choices stand beside the fields in the contract."""
        return {"problem": self.problem}


class Choice(BaseModel):
    """One of several readings of a message, with the words of its button."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    label: str
    intent: "Intent"


class Several(_Intent):
    """Several things told or asked in one message, in its order."""

    intent: Literal["several"] = "several"
    of: tuple["Intent", ...] = ()
    unused: tuple[str, ...] = ()
    """Figures that were said and that nothing of it took."""


Intent = Annotated[
    LogDive
    | Ask
    | AddItem
    | RetireItem
    | ShowKit
    | ShowDue
    | RecordCare
    | Snooze
    | PlanTrip
    | RecordManual
    | Undo
    | SetPreference
    | ShareLocker
    | Export
    | ImportDives
    | ForgetMe
    | Help
    | Misunderstood
    | Several,
    Field(discriminator="intent"),
]
for _model in (Choice, Misunderstood, Several):
    _model.model_rebuild()

_ADAPTER: TypeAdapter[Intent] = TypeAdapter(Intent)


def dump(intent: Intent) -> dict[str, Any]:
    """Return the intent as JSON values, for the row of a button."""
    return intent.model_dump(mode="json", by_alias=True)


def load(data: dict[str, Any]) -> Intent:
    """Read back what `dump` wrote; ValueError if it is not an intent."""
    return _ADAPTER.validate_python(data)
