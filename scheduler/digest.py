"""What one reminder says, as facts: read again at the moment it is sent, so that nothing stale goes out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256

from scheduler.care import order, rule_by_id
from scheduler.care_rule import CareRule
from scheduler.clock import local_date
from scheduler.due import lapsed
from scheduler.outlook import Overview, overview, planned, with_trip
from scheduler.standing import ItemDue, region_of, work_out
from scheduler.trips import EVE, TripDue
from store import care_log, items, lockers, outbox, tasks, trips
from store.engine import Session
from store.tables import CareTask, Chat, Item, ManualNote, Notice, Trip


@dataclass(frozen=True, slots=True)
class Line:
    """One task of a reminder."""

    task: CareTask
    item: Item
    rule: CareRule
    stage: str
    due_on: date
    manual: tuple[str, ...] | None = None
    """What the maker's manual says goes on the part; None if it is silent."""


@dataclass(frozen=True, slots=True)
class TripCall:
    """What is said of a trip ahead: `found` is what it makes due, `standing` the whole kit to pack from."""

    trip: Trip
    days_before: int
    found: tuple[tuple[ItemDue, TripDue], ...]
    standing: tuple[ItemDue, ...]

    @property
    def last_check(self) -> bool:
        """Tell whether it is the evening before."""
        return self.days_before == EVE


@dataclass(frozen=True, slots=True)
class Digest:
    """One message to one chat. `key` is the same for the same notices, for wires that can refuse a repeat."""

    chat: Chat
    lines: tuple[Line, ...]
    key: str
    trips: tuple[TripCall, ...] = ()
    board: Overview | None = None
    """The whole locker, where the board of the week is to come along."""
    repeats: bool = False
    """It was sent before by this key, and nobody knows whether it arrived."""

    @property
    def empty(self) -> bool:
        """Tell whether nothing is left to say."""
        return not self.lines and not self.trips and self.board is None

    @property
    def cannot_wait(self) -> bool:
        """Tell whether it would come too late tomorrow, a message having gone out today."""
        return any(call.last_check for call in self.trips)


def split_stale(
    session: Session, chat: Chat, notices: Sequence[Notice], now: datetime
) -> tuple[Digest, list[Notice], list[Notice]]:
    """Return the digest of what is still true, the notices in it, and those that were answered or became untrue."""
    calls, stale_calls = _calls(session, chat, [n for n in notices if n.trip_id is not None], now)
    today = local_date(now, chat.zone)
    of_tasks = [n for n in notices if n.trip_id is None and n.stage != outbox.BOARD]
    lines, stale = _lines(session, chat, of_tasks, today)
    weekly = [n for n in notices if n.stage == outbox.BOARD]
    wanted = weekly[-1:] if chat.board_day is not None else []  # of two weeks that waited one board is enough
    sent = [*(notice for notice, _ in (*calls, *lines)), *wanted]
    board = (
        overview(session, chat.locker_id, work_out(session, chat.locker_id, today), today) if wanted else None
    )
    digest = Digest(
        chat,
        tuple(line for _, line in lines),
        # Of keys, not of numbers, which a restored copy gives anew.
        key=sha256("\n".join(n.key for n in sent).encode()).hexdigest()[:32],
        trips=tuple(call for _, call in calls),
        board=board,
    )
    return digest, sent, [*stale, *stale_calls, *(n for n in weekly if n not in wanted)]


def _lines(
    session: Session, chat: Chat, notices: Sequence[Notice], today: date
) -> tuple[list[tuple[Notice, Line]], list[Notice]]:
    fresh: list[tuple[Notice, Line]] = []
    stale: list[Notice] = []
    region = region_of(lockers.locker(session, chat.locker_id))
    manuals = care_log.manuals(session, chat.locker_id)
    put_off = care_log.put_off_until(session, chat.locker_id)
    for notice in notices:
        item_id = notice.item_id or 0
        item = items.get(session, notice.locker_id, item_id)
        task = tasks.find(session, notice.locker_id, item_id, notice.part, notice.rule)
        if item is None or item.retired_on or task is None or task.due_on != notice.due_on:
            stale.append(notice)
            continue
        facts = items.facts_of(item)
        rule = rule_by_id(notice.rule, facts.region or region, facts)
        wish = put_off.get((item_id, notice.part, notice.rule))
        if lapsed(rule, notice.due_on, today) or (wish is not None and wish > today):
            stale.append(notice)
            continue
        fresh.append((notice, Line(task, item, rule, notice.stage, notice.due_on, _manual(manuals, notice))))
    newest = {(line.task.id): (notice, line) for notice, line in fresh}
    stale += [notice for notice, line in fresh if newest[line.task.id][0] is not notice]
    ordered = sorted(
        newest.values(),
        key=lambda pair: (
            not pair[1].rule.critical,
            pair[1].due_on,
            order(pair[1].rule),
            pair[1].item.id or 0,
        ),
    )
    return ordered, stale


def _calls(
    session: Session, chat: Chat, notices: Sequence[Notice], now: datetime
) -> tuple[list[tuple[Notice, TripCall]], list[Notice]]:
    """Read each trip again; one that was cancelled, moved or has begun is not spoken of, nor a lead time nobody needs."""
    today = local_date(now, chat.zone)
    fresh: dict[int, tuple[Notice, TripCall]] = {}
    stale: list[Notice] = []
    for notice in sorted(notices, key=lambda n: -int(n.stage)):
        trip_id = notice.trip_id or 0
        trip = trips.get(session, chat.locker_id, trip_id)
        if trip is None or trip.from_on != notice.due_on or trip.from_on <= today:
            stale.append(notice)
            continue
        standing = work_out(session, chat.locker_id, today)
        found = with_trip(standing, trip, planned(session, chat.locker_id, today), today)
        call = TripCall(trip, int(notice.stage), tuple(found), tuple(standing))
        if not call.last_check and not any(t.lead_days for _, t in found):
            stale.append(notice)
            continue
        if trip_id in fresh:  # of two calls of one trip the later says it all
            stale.append(fresh[trip_id][0])
        fresh[trip_id] = (notice, call)
    return list(fresh.values()), stale


def _manual(manuals: Mapping[int, Sequence[ManualNote]], notice: Notice) -> tuple[str, ...] | None:
    notes = manuals.get(notice.item_id or 0, ())
    return care_log.manual_says(notes, notice.part) if notice.part else None
