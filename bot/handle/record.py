"""The service record: what a buyer, a technician or an insurer asks of an item, or of a whole locker."""

from collections.abc import Sequence
from datetime import date

from bot.advice.substances import STUFF
from bot.handle import find
from bot.handle.acts import HAPPENED
from bot.handle.known import facts_said
from bot.handle.visit import Visit
from bot.handle.why import counted_from
from bot.handle.wording import act, count, depth, listed, month, part_name, temperature
from bot.pictures import PDF
from bot.pictures.sheets import Chapter, Section, ServiceRecord
from bot.replies import Drawing, Reply
from bot.understand.intents import Export
from bot.understand.reader import Offer
from scheduler.due import Due
from scheduler.policy import is_overdue
from scheduler.standing import ItemDue
from store import care_log, dives, items, lockers, mishaps, people
from store.tables import Care, Dive, Item, ManualNote, Mishap
from store.vocabulary import Condition, CylinderTest, Happening, Substance, Task, Water

_NOTES = (
    "Written from what its people told the bot. A date by law is counted by the rule named beside it: check locally.",
    "It replaces no certificate, stamp or invoice; the maker's manual and a qualified technician decide.",
)
_LAST = date.max
_TESTS = {
    CylinderTest.HYDROSTATIC: "hydrostatic test",
    CylinderTest.VISUAL: "visual inspection",
    CylinderTest.EDDY_CURRENT: "eddy current test",
    CylinderTest.VALVE: "valve service",
}


def service_record(intent: Export, visit: Visit) -> Reply:
    """Send the record of an item that is or was in the kit, or of all of them."""
    everything = items.of_locker(visit.session, visit.locker_id, retired=True)
    data = {"intent": "export", "what": "record", "done": False}
    if not everything:
        return Reply("Your kit is empty, so there is no record yet.", data=data)
    wanted = _wanted(intent, everything)
    if not wanted:
        return Reply(
            f"There is no {intent.item} in your kit.",
            (f"You have: {listed([i.name for i in everything])}.",),
            data=data,
        )
    if intent.item and len(wanted) > 1:
        offers = tuple(Offer(i.name, Export(what="record", item_id=i.id)) for i in wanted[:8])
        return Reply("The record of which one?", offers=offers, data=data)
    one = wanted[0] if intent.item or intent.item_id else None
    record = record_of(wanted, one, visit)
    name = "service-record.pdf"
    told = sum(len(s.rows) for c in record.chapters for s in c.sections)
    return Reply(
        f"Service record: {one.name if one else count(len(wanted), 'item')}, {count(told, 'entry', 'entries')}.",
        ("It names who did what." if visit.shared else "What was never told is not in it.",),
        data={**data, "done": True, "items": [i.name for i in wanted], "entries": told},
        files=(Drawing(name, PDF, record, _plain(record)),),
    )


def _wanted(intent: Export, everything: Sequence[Item]) -> list[Item]:
    if intent.item_id is not None:
        return [i for i in everything if i.id == intent.item_id]
    if intent.item is None:
        return list(everything)
    here = [i for i in everything if i.retired_on is None]
    return find.by_mention(here, intent.item) or find.by_mention(everything, intent.item)


def record_of(wanted: Sequence[Item], one: Item | None, visit: Visit) -> ServiceRecord:
    """Put items on paper. `one`: the only one, whose dives are listed whole; None: a locker, with one list of its log."""
    today = visit.today
    standing = {i.item.id: i for i in visit.standing()}
    writer = _Writer(visit)
    chapters = [writer.chapter(item, standing.get(item.id), dives_too=one is not None) for item in wanted]
    if one is None:
        log = dives.whole_log(visit.session, visit.locker_id)
        chapters.append(Chapter(title="Dive log", sections=(writer.dives(log),)))
    total = dives.count(visit.session, visit.locker_id)
    counted = () if one else (("Items", str(len(wanted))), ("Dives logged", str(total)))
    summary = (*_whose(visit), *counted)
    return ServiceRecord(
        title=f"Service record: {one.name}" if one else "Service record",
        on=_on(today),
        summary=summary,
        chapters=tuple(chapters),
        notes=_NOTES,
    )


def _whose(visit: Visit) -> tuple[tuple[str, str], ...]:
    """Name the locker and whose it is, as others know them."""
    name = lockers.locker(visit.session, visit.locker_id).name
    owner = people.of_locker(visit.session, visit.locker_id)[:1]
    names = people.names(visit.session, [m.person for m in owner])
    known = [names[m.person] for m in owner if names[m.person] != "you"]  # at a terminal nobody has a name
    return (*((("Locker", name),) if name else ()), *(("Kept by", who) for who in known))


class _Writer:
    """Puts rows into words; the names of people are read once."""

    def __init__(self, visit: Visit) -> None:
        self._visit, self._names = visit, dict[str, str]()
        self._care = care_log.manuals(visit.session, visit.locker_id)

    def chapter(self, item: Item, standing: ItemDue | None, *, dives_too: bool) -> Chapter:
        """Return the record of an item. `standing` None: it has left the kit, and nothing falls due on it."""
        visit, item_id = self._visit, lockers.number(item.id)
        record = sorted(care_log.of_item(visit.session, visit.locker_id, item_id), key=lambda c: (c.on, c.id))
        dived = dives.of_item(visit.session, item_id)
        sections = (
            *((_state(standing, record, visit.today),) if standing else ()),
            self._tests(item, [c for c in record if c.test or c.task in {Task.SERVICE, Task.TEST}]),
            self._acts(
                item,
                [c for c in record if not (c.test or c.task in {Task.SERVICE, Task.TEST} or c.contaminates)],
            ),
            self._befell(item, mishaps.of_item(visit.session, visit.locker_id, item_id)[::-1], record),
            self._manuals(item, self._care.get(item_id, [])[::-1]),
            *((self.dives(dived),) if dives_too else ()),
        )
        return Chapter(title=item.name, facts=self._facts(item, dived), sections=sections)

    def _facts(self, item: Item, dived: Sequence[Dive]) -> tuple[tuple[str, str], ...]:
        minutes = sum(d.dives * (d.duration_min or 0) for d in dived)
        untimed = sum(d.dives for d in dived if d.duration_min is None)
        told = facts_said(item).strip(" ()")
        hours = f", {minutes // 60} h {minutes % 60} min" if minutes else ""
        unsaid = f" ({count(untimed, 'dive')} without a length)" if minutes and untimed else ""
        span = f", {_on(dived[0].on)} to {_on(dived[-1].on)}" if dived else ""
        return (
            *((("What is known", told),) if told else ()),
            (
                "In the kit",
                f"since {_on(item.added_on)}" + (f" until {_on(item.retired_on)}" if item.retired_on else ""),
            ),
            ("Dived", f"{count(sum(d.dives for d in dived), 'dive')}{hours}{span}{unsaid}"),
        )

    def _tests(self, item: Item, record: Sequence[Care]) -> Section:
        rows = tuple(
            (
                _when(c),
                _TESTS[CylinderTest(c.test)] if c.test else _act(c, item),
                month(c.next_on) if c.next_on else "",
                "technician" if c.by_technician else "",
                self._name(c.done_by),
            )
            for c in record
        )
        return _table(
            "Tests and services",
            ("Date", "What", "Next, as stamped", "Done by", "Told by"),
            rows,
            "None recorded.",
        )

    def _acts(self, item: Item, record: Sequence[Care]) -> Section:
        rows = tuple(
            (
                _when(c),
                _act(c, item),
                STUFF[Substance(c.substance)].name if c.substance else "",
                "technician" if c.by_technician else "",
                self._name(c.done_by),
            )
            for c in record
        )
        return _table("Care", ("Date", "What", "With", "Done by", "Told by"), rows, "None recorded.")

    def _befell(self, item: Item, befell: Sequence[Mishap], record: Sequence[Care]) -> Section:
        """List what befell it, with what burns among what was put on it and whether a technician cleaned it since."""
        told = [((m.on, m.logged_at), HAPPENED[Happening(m.happened)], self._name(m.told_by)) for m in befell]
        still = {due.part for due in self._visit.contaminated(item)}
        for c in record:
            if c.contaminates:
                where = part_name(item, c.part or "") or "it"
                stuff = STUFF[Substance(c.substance)].name if c.substance else "something that burns"
                state = (
                    "out of oxygen service" if (c.part or "") in still else "cleaned by a technician since"
                )
                told.append(((c.on, c.logged_at), f"{stuff} on {where}: {state}", self._name(c.done_by)))
        rows = tuple((_on(on), what, who) for (on, _), what, who in sorted(told, key=lambda t: t[0]))
        return _table("What befell it", ("Date", "What", "Told by"), rows, "Nothing was told.")

    def _manuals(self, item: Item, notes: Sequence[ManualNote]) -> Section:
        rows = tuple(
            (_on(n.noted_at.date()), part_name(item, n.part or "") or "whole item", n.text) for n in notes
        )
        return _table(
            "From the maker's manual", ("Noted", "Part", "What it says"), rows, "Nothing was noted."
        )

    def dives(self, dived: Sequence[Dive]) -> Section:
        """List dives."""
        imperial = self._visit.imperial
        rows = tuple(
            (
                _on(d.on) + (f" {d.started}" if d.started else ""),
                str(d.dives),
                depth(d.max_depth_m, imperial) if d.max_depth_m is not None else "",
                f"{d.duration_min} min" if d.duration_min is not None else "",
                temperature(d.min_temp_c, imperial) if d.min_temp_c is not None else "",
                f"{d.o2_fraction * 100:g} %" if d.o2_fraction is not None else "",
                ", ".join(
                    filter(
                        None,
                        (
                            Water(d.water).value if d.water else "",
                            *(Condition(c).value for c in d.conditions),
                        ),
                    )
                ),
                self._name(d.logged_by),
            )
            for d in dived
        )
        return _table(
            "Dives",
            ("Date", "Dives", "Deepest", "Each", "Coldest", "Oxygen", "Water", "Told by"),
            rows,
            "None logged.",
        )

    def _name(self, person: str) -> str:
        """Return what somebody is called, whoever asks: it is for others to read."""
        if person not in self._names:
            self._names |= people.names(self._visit.session, [person])
        return self._names[person]


def _table(title: str, columns: tuple[str, ...], rows: Sequence[tuple[str, ...]], empty: str) -> Section:
    """Return a table without the columns that no row fills."""
    filled = [n for n in range(len(columns)) if any(row[n] for row in rows)]
    return Section(
        title=title,
        columns=tuple(columns[n] for n in filled),
        rows=tuple(tuple(row[n] for n in filled) for row in rows),
        empty=empty,
    )


def _state(standing: ItemDue, record: Sequence[Care], today: date) -> Section:
    months = {c.on for c in record if c.month_only}
    rows = [
        (due.due_on or due.calendar_on or _LAST, _due(standing.item, due, months, today))
        for due in standing.dues
        if not due.rule.every.each_dive
        and (due.due_on or due.calendar_on or due.rule.by_law or due.dives_left)
    ]
    rows.sort(key=lambda row: row[0])
    columns = ("Due", "What", "Last done", "By whose rule")
    return _table("What falls due", columns, tuple(row for _, row in rows), "Nothing has a date.")


def _due(item: Item, due: Due, months: set[date], today: date) -> tuple[str, ...]:
    """Say when one act is due, when it was done last, and who says so. `months`: dates that are known by the month."""
    on = due.due_on or due.calendar_on
    late = " OVERDUE" if on is not None and is_overdue(due.rule, on, today) else ""
    said = f"{_on(on)}{late}" if on else "not known" if due.rule.by_law else ""
    if due.dives_left and not late:
        said += f"{' or ' if said else ''}in {count(due.dives_left, 'dive')}"
    part = part_name(item, due.part)
    what = act(due.rule) + (f": {part}" if part else "")
    last = "never told"
    if due.done_on is not None:
        last = month(due.done_on) if due.done_on in months else _on(due.done_on)
    if due.legal is not None:
        last += f"; {counted_from(due.legal)}"
    elif due.calendar_from is not None and due.calendar_from != due.done_on:
        last += f"; counted from {_on(due.calendar_from)}"
    return said, what, last, due.rule.source


def _act(care: Care, item: Item) -> str:
    part = part_name(item, care.part or "")
    return Task(care.task).value + (f": {part}" if part else "")


def _when(care: Care) -> str:
    return month(care.on) if care.month_only else _on(care.on)


def _on(on: date) -> str:
    """Say a date whole, with its year: a paper is read years later."""
    return f"{on.day} {on:%B %Y}"


def _plain(record: ServiceRecord) -> tuple[str, ...]:
    lines = [record.title, *(f"{name}: {value}" for name, value in record.summary)]
    for chapter in record.chapters:
        lines += ["", chapter.title, *(f"{name}: {value}" for name, value in chapter.facts)]
        for section in chapter.sections:
            lines.append(f"{section.title}:")
            lines += [f"- {', '.join(filter(None, row))}" for row in section.rows] or [f"- {section.empty}"]
    return (*lines, "", *record.notes)
