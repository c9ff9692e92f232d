"""The due board: each item with its tasks, how far through their intervals they are, and what the next trip makes due."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor

from bot.handle import find
from bot.handle.visit import HOW_FAR_DAYS, Visit
from bot.handle.wording import CHECK_LOCALLY, act, befell, by_whom, count, day, listed, part_name
from bot.pictures import PNG
from bot.pictures.sheets import Board, BoardItem, BoardRow, Mark
from bot.render.board import board_lines
from bot.replies import Drawing, Reply
from bot.understand.intents import AddItem, SetPreference, ShowDue
from bot.understand.reader import Offer
from scheduler.care import OXYGEN_CLEAN
from scheduler.care_rule import By
from scheduler.due import Due
from scheduler.outlook import Coming, Overview, overview
from scheduler.policy import is_overdue
from scheduler.progress import progress
from scheduler.standing import ItemDue
from store import lockers
from store.tables import Item

_LINES_A_PAGE = 24.0
_HEADING_LINES = 1.5
"""What an item's name takes."""
_LINE_CHARS = 34
_NEARLY = 0.1
"""Of a unit: months are of uneven length."""
_MORE = ", more"
"""Follows the name of an item that goes on from the page before."""
_MOST_PAGES = 4
_GRAVITY = list(Mark)
_FAR = date.max


def show_board(intent: ShowDue, visit: Visit) -> Reply:
    """Draw the board of the kit, or of the items that are named."""
    kit = visit.kit()
    if not kit:
        return Reply(
            "Nothing to show yet: your kit is empty.",
            ("Add it like: add dry suit, plastic zip, latex seals",),
            offers=(Offer("Add kit", AddItem()),),
            data={"intent": "show_due", "board": None},
        )
    wanted = find.by_mention(kit, intent.item) if intent.item else kit
    if not wanted:
        return Reply(
            f"There is no {intent.item} in your kit.",
            (f"You have: {listed([i.name for i in kit])}.",),
            data={"intent": "show_due", "board": None},
        )
    seen = overview(visit.session, visit.locker_id, visit.standing(), visit.today)
    pages = boards(
        seen,
        only={lockers.number(i.id) for i in wanted},
        whole=len(wanted) == 1,
        dark=visit.chat.dark if intent.dark is None else intent.dark,
        group=visit.chat.group,
    )
    first, *_ = pages
    weekly = (
        (Offer("Every Sunday", SetPreference(board_day="sunday")),) if visit.chat.board_day is None else ()
    )
    return Reply(
        f"{first.first}.",
        offers=(Offer("What is due", ShowDue()), *weekly),
        data={"intent": "show_due", "board": [page.model_dump(mode="json") for page in pages]},
        files=drawings(pages),
    )


def drawings(pages: Sequence[Board]) -> tuple[Drawing, ...]:
    """Return the pages as pictures to send; nothing for no pages."""
    if not pages:
        return ()
    names = [f"due-board-{page.page}.png" if len(pages) > 1 else "due-board.png" for page in pages]
    plain = [board_lines(pages), *((),) * (len(pages) - 1)]  # a terminal has one page
    return tuple(Drawing(*of) for of in zip(names, (PNG,) * len(pages), pages, plain, strict=True))


def heading(visit: Visit) -> str:
    """Return what stands at the head of a paper of the locker that is open."""
    return _titled(lockers.locker(visit.session, visit.locker_id).name, group=visit.chat.group)


def _titled(name: str, *, group: bool) -> str:
    return name or ("Our kit" if group else "Your kit")


@dataclass(frozen=True, slots=True)
class _Row:
    """A row with what orders it."""

    row: BoardRow
    critical: bool
    on: date
    tasks: int = 1
    """How many it stands for."""

    @property
    def order(self) -> tuple[int, bool, date]:
        return _GRAVITY.index(self.row.mark), not self.critical, self.on


def boards(
    seen: Overview,
    *,
    only: set[int] | None = None,
    whole: bool = False,
    dark: bool = False,
    group: bool = False,
    most_pages: int = _MOST_PAGES,
) -> tuple[Board, ...]:
    """Put a locker on one or more pages, the gravest first. `only`: these items; `whole`: with all that is in order."""
    chosen = [i for i in seen.standing if only is None or i.item.id in only]
    found = [(i.item, sorted(_rows(i, seen), key=lambda r: r.order)) for i in chosen]
    found.sort(
        key=lambda pair: (*(pair[1][0].order if pair[1] else (len(_GRAVITY), True, _FAR)), pair[0].id or 0)
    )
    items = [_shown(item, rows, whole=whole) for item, rows in found if rows]
    pages = _paged(items)
    shown, more = (
        pages[:most_pages],
        [i.name.removesuffix(_MORE) for page in pages[most_pages:] for i in page],
    )
    rules = [d.rule for i in chosen for d in i.dues]
    notes = (
        *(
            (f"Not shown: tasks of {count(len(set(more)), 'item')}. Say: board of the {more[0]}.",)
            if more
            else ()
        ),
        *((CHECK_LOCALLY,) if any(rule.by_law for rule in rules) else ()),
        "The maker's manual goes before this.",
    )
    first = _first([r for _, rows in found for r in rows], bool(chosen))
    return tuple(
        Board(
            locker=_titled(seen.name, group=group),
            on=f"{seen.today.day} {seen.today:%B %Y}",
            first=first,
            trip=_trip(seen),
            items=tuple(page),
            notes=notes,
            page=n,
            pages=len(shown),
            dark=dark,
        )
        for n, page in enumerate(shown, 1)
    )


def _trip(seen: Overview) -> str:
    trip, today = seen.trip, seen.today
    if trip is None:
        return ""
    span = f"{day(trip.from_on, today)} to {day(trip.to_on, today)}"
    return f"Trip {span}, {count(trip.dives or 0, 'dive')}"


def _first(rows: Sequence[_Row], kit: bool) -> str:
    counted = {mark: sum(r.tasks for r in rows if r.row.mark is mark) for mark in Mark}
    said = [
        f"{counted[mark]} {word}"
        for mark, word in (
            (Mark.OVERDUE, "overdue"),
            (Mark.DUE, "due"),
            (Mark.TRIP, "by the end of the trip"),
            (Mark.SOON, "soon"),
            (Mark.UNKNOWN, "without a date"),
        )
        if counted[mark]
    ]
    return ", ".join(said) or ("Nothing is due" if kit else "The kit is empty")


def _shown(item: Item, rows: Sequence[_Row], *, whole: bool) -> BoardItem:
    open_rows = [r.row for r in rows if r.row.mark is not Mark.FINE]
    fine = [r.row for r in rows if r.row.mark is Mark.FINE]
    shown = fine if whole else fine[:1]  # the next one
    return BoardItem(name=item.name, rows=(*open_rows, *shown), fine=len(fine) - len(shown))


def _paged(items: Sequence[BoardItem]) -> list[list[BoardItem]]:
    """Put items on pages; one that does not fit is cut and goes on with the next page."""
    pages: list[list[BoardItem]] = [[]]
    left = _LINES_A_PAGE
    for item in items:
        rows = list(item.rows)
        name = item.name
        while True:
            room = _fitting(rows, left - _HEADING_LINES)
            if not room and rows and pages[-1]:
                pages.append([])
                left = _LINES_A_PAGE
                continue
            room = room or rows[:1]  # one that is longer than a page is drawn all the same
            rows = rows[len(room) :]
            shown = BoardItem(
                name=name, goes_on=name != item.name, rows=tuple(room), fine=0 if rows else item.fine
            )
            pages[-1].append(shown)
            left -= _HEADING_LINES + sum(map(_lines, room))
            if not rows:
                break
            name = item.name + _MORE
    return pages


def _fitting(rows: Sequence[BoardRow], left: float) -> list[BoardRow]:
    fitting: list[BoardRow] = []
    for row in rows:
        left -= _lines(row)
        if left < 0:
            break
        fitting.append(row)
    return fitting


def _lines(row: BoardRow) -> int:
    """Return how many lines of a page a row takes."""
    title = min(2, 1 + len(row.task) // _LINE_CHARS)
    return title + 1 + (row.span != "") + (row.share is not None)


def _rows(of: ItemDue, seen: Overview) -> list[_Row]:
    """Return the rows of an item: what is due, what comes, and tests whose date nobody told; not what waits for an event."""
    comes = {(c.due.part, c.due.rule.id): c for c in seen.coming if c.item.id == of.item.id}
    by_trip = {(t.due.part, t.due.rule.id): t.on for i, t in seen.with_trip if i.item.id == of.item.id}
    found = []
    for due in of.dues:
        key = (due.part, due.rule.id)
        row = _row(of.item, due, comes.get(key), by_trip.get(key), seen)
        if row is not None:
            found.append(row)
    return _joined(found)


def _joined(rows: Sequence[_Row]) -> list[_Row]:
    """Join rows that say the same of several parts."""
    alike: dict[tuple[str, BoardRow, bool, date], list[str]] = defaultdict(list)
    for row in rows:
        verb, _, part = row.row.task.partition(": ")
        alike[verb, row.row.model_copy(update={"task": ""}), row.critical, row.on].append(part)
    return [
        _Row(
            blank.model_copy(update={"task": verb + (f": {', '.join(parts)}" if any(parts) else "")}),
            critical,
            on,
            len(parts),
        )
        for (verb, blank, critical, on), parts in alike.items()
    ]


def _row(item: Item, due: Due, comes: Coming | None, by_trip: date | None, seen: Overview) -> _Row | None:
    today, rule = seen.today, due.rule
    untold = due.done_on is None and rule.by is not By.DIVER and due.legal is None
    if due.due_on is not None and due.due_on <= today:
        grave = rule is OXYGEN_CLEAN or (rule.critical and befell(due) != "")
        mark = Mark.OVERDUE if grave or is_overdue(rule, due.due_on, today) else Mark.DUE
        when = f"since {day(due.due_on, today)}" if due.due_on < today else day(due.due_on, today)
        when, on = (f"do not dive it, {when}" if grave else when), due.due_on
    elif comes is not None and not untold:
        mark = _ahead(comes, by_trip, today)
        when, on = (f"about {day(comes.on, today)}" if comes.by_pace else day(comes.on, today)), comes.on
    elif comes is not None:  # a used item may be long due: what we count from is the day it was added
        mark, when, on = Mark.UNKNOWN, f"last one not told, by {day(comes.on, today)}", comes.on
    elif rule.by_law:
        mark, when, on = Mark.UNKNOWN, "last test not told", _FAR
    else:
        return None
    put_off = seen.put_off.get((lockers.number(item.id), due.part, rule.id))
    when += f", put off until {day(put_off, today)}" if put_off and put_off > today else ""
    share, counted, with_trip = _progress(due, mark, comes, seen)
    part = part_name(item, due.part)
    row = BoardRow(
        mark=mark,
        task=f"{act(rule)}{by_whom(rule)}" + (f": {part}" if part else ""),
        share=share,
        share_with_trip=with_trip,
        counted=counted,
        when=when,
        span=_span(comes, today),
    )
    return _Row(row, rule.critical, on)


def _ahead(comes: Coming, by_trip: date | None, today: date) -> Mark:
    if by_trip is not None:
        return Mark.TRIP
    return Mark.SOON if comes.on <= today + timedelta(days=HOW_FAR_DAYS) else Mark.FINE


def _progress(
    due: Due, mark: Mark, comes: Coming | None, seen: Overview
) -> tuple[float | None, str, float | None]:
    """Return how far it is through its interval, that in words, and how far the trip takes it; None, "" where nothing is counted."""
    by_dives = comes is not None and comes.by_pace is not None
    done = progress(due, seen.today, by_dives=by_dives)
    if done is None or due.rule.every.each_dive or mark is Mark.UNKNOWN:
        return None, "", None
    whole = count(round(done.whole), done.unit)
    counted = f"{floor(done.gone + _NEARLY)} of {whole}"
    if mark in {Mark.OVERDUE, Mark.DUE}:  # an event may have made it due before its time
        by_time = done.unit in {"month", "day"}
        told = (f"every {whole}" if by_time else counted) if done.share >= 1 else ""
        return max(done.share, 1.0), told, None
    trip = seen.trip
    then = progress(due, max(seen.today, trip.to_on), trip.dives or 0, by_dives=by_dives) if trip else None
    return done.share, counted, then.share if then else None


def _span(comes: Coming | None, today: date) -> str:
    found = comes.by_pace if comes else None
    if found is None or found.earliest == found.latest:
        return ""
    if found.latest is None:
        return f"from {day(found.earliest, today)} on"
    return f"{day(found.earliest, today)} to {day(found.latest, today)}"
