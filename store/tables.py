"""The rows. Plain columns, no behaviour: what a row means stands in the module that queries it.

`_at` is an instant in UTC, `_on` a calendar date in the diver's zone. SQLModel does not validate table rows, so
values are validated before they get here.
"""

from datetime import date, datetime
from typing import Any

from sqlalchemy import JSON, Column, Index, UniqueConstraint
from sqlmodel import Field, SQLModel


class Person(SQLModel, table=True):
    """Somebody who writes on a wire. `key` is the wire and the person's address on it, "matrix:@ilka:reef.example"."""

    key: str = Field(primary_key=True)
    name: str = ""
    """As the wire shows it; "" where it shows none."""
    since: datetime
    admitted: bool = False
    """Let in by a code; of no account where everybody may write."""


class Locker(SQLModel, table=True):
    """A set of kit with its dives and records: one diver's, a club's or a class's."""

    id: int | None = Field(default=None, primary_key=True)
    name: str = ""
    """What its people call it; "" until somebody named it."""
    created_at: datetime
    region: str | None = None
    calendar_token: str | None = Field(default=None, unique=True, index=True)
    """Whoever knows it may read the calendar feed; None: no feed was asked for."""
    planned_by: str | None = None
    """Derived: the edition of the rules that the care tasks were worked out with; another edition works them out anew."""


class Member(SQLModel, table=True):
    """A person who may work with a locker. `role`: owner (one), keeper (may remove and export), member."""

    locker_id: int = Field(foreign_key="locker.id", primary_key=True, ondelete="CASCADE")
    person: str = Field(foreign_key="person.key", primary_key=True, index=True, ondelete="CASCADE")
    role: str
    since: datetime


class Invite(SQLModel, table=True):
    """A code that lets people into a locker until a day. Only its hash is kept."""

    code_hash: str = Field(primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    made_by: str
    until: datetime
    left: int
    """How many people it still lets in."""


class Chat(SQLModel, table=True):
    """A conversation on a wire, with the wishes of whoever holds it and what was last said."""

    __table_args__ = (UniqueConstraint("wire", "address"),)

    id: int | None = Field(default=None, primary_key=True)
    wire: str
    address: str
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    """Its own locker, which began with it; the reminders of that come here."""
    open_id: int | None = None
    """The locker of others that is open here now; None: its own. Heeded only while its holder is a member there."""
    group: bool = False
    """Several people write here."""
    topic: str | None = None
    """Where in the chat the bot was spoken to last, on wires with topics; None: in no topic."""
    zone: str = "UTC"
    digest_at: str = "18:00"
    quiet_from: str = "22:00"
    quiet_to: str = "07:00"
    units: str = "metric"
    reminders: bool = True
    """False: nothing is said unasked; what is due is still kept and shown."""
    dark: bool = False
    """The due board is drawn light on dark."""
    board_day: int | None = None
    """The weekday on which the due board comes by itself, Monday 0; None: only when asked for."""
    board_at: datetime | None = Field(default=None, index=True)
    """Derived: when the board comes by itself next, None if it does not."""
    last_digest_on: date | None = None
    muted_at: datetime | None = None
    hold_until: datetime | None = None
    """A flood hold of the wire: nothing is sent before it, and only time ends it."""
    batch: int = 0
    """Counts the messages to this chat; only the buttons of the newest can be answered by words or number."""
    last_intent: dict[str, Any] | None = Field(default=None, sa_column=Column(JSON))
    created_at: datetime


class Button(SQLModel, table=True):
    """A button that was shown, and the intent a tap on it carries. `batch` counts the messages of the chat."""

    id: str = Field(primary_key=True)
    chat_id: int = Field(foreign_key="chat.id", index=True, ondelete="CASCADE")
    batch: int
    place: int
    label: str
    intent: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))
    locker_id: int | None = None
    """The locker it speaks of; None: the chat's own."""
    message: str | None = Field(default=None, index=True)
    """The wire's name of the message it was shown under; None before that was sent, and on wires that name none."""


class Item(SQLModel, table=True):
    """A thing the diver owns. Numbers are never used twice: buttons and notices may still name an old one."""

    __table_args__ = {"sqlite_autoincrement": True}

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    kind: str
    name: str
    facts: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))
    added_on: date
    retired_on: date | None = None
    added_by: str


class Dive(SQLModel, table=True):
    """One entry of the log: one dive or several alike."""

    __table_args__ = {"sqlite_autoincrement": True}

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    on: date
    dives: int
    water: str | None = None
    max_depth_m: float | None = None
    duration_min: int | None = None
    min_temp_c: float | None = None
    o2_fraction: float | None = None
    conditions: list[str] = Field(sa_column=Column(JSON, nullable=False))
    logged_at: datetime
    logged_by: str
    started: str | None = None
    """Local time of day it began, "10:15"; None: not said."""
    import_id: int | None = Field(default=None, index=True)
    """The file it came from; None: told by hand."""


class DiveImport(SQLModel, table=True):
    """A dive log file that was sent: read and shown, and only counted once the diver says so.

    `content`: its dives and kit, with what was skipped; emptied once it is dropped. `answers`: which item of
    the locker each kit of the file is, 0 for none. `state`: shown -> counted | dropped; waiting: a file of all data.
    """

    __tablename__ = "dive_import"
    __table_args__ = {"sqlite_autoincrement": True}

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    name: str
    content: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))
    answers: dict[str, int] = Field(sa_column=Column(JSON, nullable=False))
    state: str = "shown"
    sent_at: datetime
    sent_by: str


class DiveItem(SQLModel, table=True):
    """An item was on that dive."""

    __tablename__ = "dive_item"

    dive_id: int = Field(foreign_key="dive.id", primary_key=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", primary_key=True, index=True, ondelete="CASCADE")


class Care(SQLModel, table=True):
    """An act of care that was done. `part` None: on the item as a whole."""

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", index=True, ondelete="CASCADE")
    part: str | None = None
    task: str
    substance: str | None = None
    contaminates: bool = False
    """What was put on it takes the part out of oxygen service."""
    by_technician: bool = False
    on: date
    month_only: bool = False
    """Only the month of it is known; `on` is its first day."""
    test: str | None = None
    """Which test of a cylinder; None: told by its task alone."""
    next_on: date | None = None
    """First day of the next due month as stamped or certified at this test; it goes before our arithmetic."""
    made_on: date | None = None
    """Date of manufacture printed on what was put in; None: not told."""
    done_by: str
    logged_at: datetime


class Mishap(SQLModel, table=True):
    """What befell an item: it asks for a look until an act of care answers it."""

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", index=True, ondelete="CASCADE")
    happened: str
    on: date
    told_by: str
    logged_at: datetime


class ManualNote(SQLModel, table=True):
    """What the maker's manual of this very item says. `substances` None: it speaks of an interval only."""

    __tablename__ = "manual_note"

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", index=True, ondelete="CASCADE")
    part: str | None = None
    substances: list[str] | None = Field(default=None, sa_column=Column(JSON))
    task: str | None = None
    every_dives: int | None = None
    every_months: int | None = None
    every_days: int | None = None
    every_hours: float | None = None
    """Hours of immersion."""
    ring: str | None = None
    """AS568 dash number of its O-ring."""
    text: str
    noted_at: datetime


class OwnWord(SQLModel, table=True):
    """What a diver's own word stands for: the class of a tube, or a part of a kind of item."""

    __tablename__ = "own_word"
    __table_args__ = (UniqueConstraint("locker_id", "word"),)

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    word: str
    substance: str | None = None
    kind: str | None = None
    part: str | None = None


class Snooze(SQLModel, table=True):
    """A wish not to hear of one rule on one part before a date. It is gone once it has been fulfilled."""

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", ondelete="CASCADE")
    part: str = ""
    rule: str
    until_on: date


class Trip(SQLModel, table=True):
    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    from_on: date
    to_on: date
    dives: int | None = None
    water: str | None = None
    min_temp_c: float | None = None
    max_temp_c: float | None = None
    told: int | None = None
    """Derived: days before leaving that the last call spoke of (see `scheduler.trips`), None before the first."""
    notify_at: datetime | None = Field(default=None, index=True)
    """Derived: when the next call is to be made, None when all is said."""


class CareTask(SQLModel, table=True):
    """Derived: one rule on one part of one item, with when it is due and when somebody is to be told next.

    Facts decide it; it may be thrown away and worked out again at any time. `part` is "" for the item as a whole.
    `due_on` None: nothing is due and no date is known. `notify_at` None: nothing to tell.
    """

    __tablename__ = "care_task"
    __table_args__ = (UniqueConstraint("item_id", "part", "rule"), {"sqlite_autoincrement": True})

    id: int | None = Field(default=None, primary_key=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    item_id: int = Field(foreign_key="item.id", index=True, ondelete="CASCADE")
    part: str = ""
    rule: str
    task: str
    critical: bool
    due_on: date | None = None
    cause: str = ""
    told: int | None = None
    """The stage somebody was told of last (see `scheduler.policy`), None if of none since it fell due."""
    notify_at: datetime | None = Field(default=None, index=True)
    was_due_on: date | None = None
    was_told: int | None = None
    """The date before this one and what was told of it: an undo that brings it back brings back what was said."""
    changed_at: datetime
    """When `due_on` last changed."""


class Notice(SQLModel, table=True):
    """The outbox: ids, not text; what is sent is read again from the facts at delivery.

    state: pending -> claimed -> sent | pending (retry at `send_at`) | cancelled | dead
    """

    __table_args__ = (Index("ix_notice_state_send_at", "state", "send_at"),)

    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    locker_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    chat_id: int = Field(foreign_key="chat.id", index=True, ondelete="CASCADE")
    item_id: int | None = None
    """None: the notice is about a trip as a whole."""
    trip_id: int | None = None
    part: str = ""
    rule: str = ""
    due_on: date
    """The day the task falls due, or the day of leaving."""
    stage: str
    send_at: datetime
    state: str = "pending"
    attempts: int = 0
    sent_as: str | None = None
    """Key of the message it was last sent in while nobody knows whether that arrived; it goes again by the same key."""
    lease_until: datetime | None = None
    sent_at: datetime | None = None
    error: str | None = None


class Letter(SQLModel, table=True):
    """An answer on its way to a chat, stored with what the message did and gone once the wire has taken it."""

    __table_args__ = {"sqlite_autoincrement": True}

    id: int | None = Field(default=None, primary_key=True)
    wire: str
    address: str = Field(index=True)
    body: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))
    send_at: datetime = Field(index=True)
    attempts: int = 0


class WireState(SQLModel, table=True):
    """Where a wire stands: how far its updates were handled, and a hold on all of it."""

    __tablename__ = "wire_state"

    wire: str = Field(primary_key=True)
    position: str | None = None
    """The sync token or update offset up to which everything was handled."""
    hold_until: datetime | None = None


class Loan(SQLModel, table=True):
    """An item that is in another locker for a while."""

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True, ondelete="CASCADE")
    owner_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    """The locker it belongs to and comes back to."""
    name: str
    """What it is called there."""
    borrower_id: int = Field(foreign_key="locker.id", index=True, ondelete="CASCADE")
    lent_on: date
    lent_by: str
    back_on: date | None = None
    """None: still lent."""


class SeenUpdate(SQLModel, table=True):
    """An update that took effect: its id is stored with its effect, so that it never acts twice."""

    __tablename__ = "seen_update"

    wire: str = Field(primary_key=True)
    update_id: str = Field(primary_key=True)
    seen_at: datetime


class Attempt(SQLModel, table=True):
    """An update that was begun. Its effect deletes the row: one that stays belongs to a process that died meanwhile."""

    __tablename__ = "attempt"

    wire: str = Field(primary_key=True)
    update_id: str = Field(primary_key=True)
    what: str
    """What kind of update it is and how large; none of its words."""
    times: int
    """How often it was begun."""
    begun_at: datetime
    set_aside: bool = False
    """It is not begun again."""


class JournalEntry(SQLModel, table=True):
    """What one message changed, with the values before it, so that it can be taken back."""

    __tablename__ = "journal_entry"

    id: int | None = Field(default=None, primary_key=True)
    chat_id: int = Field(foreign_key="chat.id", index=True, ondelete="CASCADE")
    at: datetime
    actor: str
    locker_id: int | None = Field(default=None, index=True)
    message: str | None = Field(default=None, index=True)
    """The wire's name of the message that did it; None on wires that name none."""
    said: str | None = None
    """Hash of its text: an edit that leaves the words alone is no edit."""
    intent: str
    changes: list[dict[str, Any]] = Field(sa_column=Column(JSON, nullable=False))
    undone_at: datetime | None = None
