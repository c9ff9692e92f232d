"""Takes in dives of a file: shows first what it holds and what is new, asks which kit is which, and counts on a tap."""

from collections import Counter
from collections.abc import Sequence
from datetime import date

from rapidfuzz import fuzz, process

from bot.handle import find
from bot.handle.data_files import take_in
from bot.handle.room import too_many_dives
from bot.handle.visit import Visit
from bot.handle.wording import count, day, listed
from bot.replies import Reply
from bot.understand.intents import ImportDives, ShowDue, Undo
from bot.understand.reader import Offer
from bot.understand.text import clean
from store import dives, imports, lockers
from store.catalogue import CATALOGUE
from store.exchange.logbook import LogFile, LoggedDive, LoggedKit
from store.tables import DiveImport, Item
from store.vocabulary import ItemKind

_SURE = 88
"""A name that near is the item's own."""
_TOLD = 5
_ASKED = 6


def receive(name: str, log: LogFile, visit: Visit) -> Reply:
    """Keep a file that was read and show what it holds; nothing is counted before a tap."""
    log = _until(log, visit.today)
    kit = visit.kit()
    row = DiveImport(
        locker_id=visit.locker_id,
        name=name[:100],
        content={},
        answers=_guesses(log.kit, kit),
        sent_at=visit.now,
        sent_by=visit.actor,
    )
    imports.keep(visit.session, row, log)
    return _shown(row, log, visit)


def _until(log: LogFile, today: date) -> LogFile:
    """Leave out, and say so, dives of days to come: a clock that was set wrong, or a plan."""
    ahead = [d for d in log.dives if d.on > today]
    if not ahead:
        return log
    told = f"{count(len(ahead), 'dive')} dated after today, from {day(ahead[0].on, today)} on: left out"
    return LogFile(tuple(d for d in log.dives if d.on <= today), log.kit, (told, *log.skipped))


def import_dives(intent: ImportDives, visit: Visit) -> Reply:
    """Answer a button under a file: which item a piece of kit is, count the dives, or drop the file."""
    row = imports.get(visit.session, visit.locker_id, intent.import_id)
    if row is not None and row.state == "waiting":
        return _of_all_data(row, intent, visit)
    if row is None or row.state != "shown":
        return Reply("That file was dealt with already.", data={"intent": "import_dives"})
    log = imports.log_of(row)
    if intent.drops:
        row.state, row.content = "dropped", {}
        visit.session.add(row)
        return Reply(
            "Dropped: nothing of it was counted.",
            offers=(Offer("Undo", Undo()),),
            data={"intent": "import_dives"},
        )
    if intent.counts:
        return _count_in(row, log, visit)
    if intent.kit is not None and intent.item_id is not None:
        row.answers = {**row.answers, intent.kit: intent.item_id}
        visit.session.add(row)
    return _shown(row, log, visit)


def _of_all_data(row: DiveImport, intent: ImportDives, visit: Visit) -> Reply:
    if intent.drops:
        imports.remove(visit.session, row)
        return Reply("Dropped: nothing of it was taken in.", data={"intent": "import_dives"})
    return take_in(row, intent, visit)


def _guesses(named: Sequence[LoggedKit], kit: Sequence[Item]) -> dict[str, int]:
    """Return the items that pieces of kit surely are: by name, or the only one of its kind on both sides. 0: none is there."""
    if not kit:
        return dict.fromkeys((piece.key for piece in named), 0)
    names = [clean(item.name) for item in kit]
    rivals = Counter(kind for piece in named for kind in piece.kinds)
    alike = Counter(ItemKind(item.kind) for item in kit)
    found = {}
    for piece in named:
        near = process.extract(clean(piece.name), names, scorer=fuzz.ratio, score_cutoff=_SURE, limit=2)
        if len(near) == 1:
            found[piece.key] = lockers.number(kit[near[0][2]].id)
        elif not near and sum(alike[k] for k in piece.kinds) == 1 == max(rivals[k] for k in piece.kinds):
            found[piece.key] = next(lockers.number(i.id) for i in kit if i.kind in piece.kinds)
    return found


def _candidates(piece: LoggedKit, kit: Sequence[Item]) -> list[Item]:
    """Return the items that a piece of kit may be, the likeliest first."""
    kinds = piece.kinds or find.kinds_in(piece.name)
    said = clean(piece.name)
    wet = [i for i in kit if CATALOGUE[i.kind].wet]
    return sorted(wet, key=lambda i: (i.kind not in kinds, -fuzz.token_set_ratio(said, clean(i.name))))


def _shown(row: DiveImport, log: LogFile, visit: Visit) -> Reply:
    new = imports.unknown(visit.session, visit.locker_id, log.dives)
    total, fresh = sum(d.dives for d in log.dives), sum(d.dives for d in new)
    names = {lockers.number(i.id): i.name for i in visit.kit()}
    known = [(k, row.answers[k.key]) for k in log.kit if k.key in row.answers]
    lines = [f"From {_span(log.dives, visit.today)}. Nothing is counted yet."] if log.dives else []
    lines += [f"- {k.name} = {names.get(item, 'none of yours')}" for k, item in known]
    lines += _skipped(log)
    unsure = [k for k in log.kit if k.key not in row.answers]
    data = {"intent": "import_dives", "dives": total, "new": fresh, "unsure": [k.name for k in unsure]}
    drop = Offer("Drop it", ImportDives(import_id=lockers.number(row.id), drops=True))
    first = f"{row.name}: {count(total, 'dive')}, {fresh} new, {total - fresh} here already."
    if not new:
        return Reply(first, tuple(lines), offers=(drop,), data=data)
    if unsure:
        asked, *rest = unsure
        offers = tuple(
            _is(row, asked, i.name, lockers.number(i.id)) for i in _candidates(asked, visit.kit())[:_ASKED]
        )
        more = f" ({len(rest)} more to ask)" if rest else ""
        lines.append(f"Which of yours is: {asked.name}?{more}")
        return Reply(
            first, tuple(lines), offers=(*offers, _is(row, asked, "none of mine", 0), drop), data=data
        )
    if any(not d.kit for d in new):
        lines.append(
            "Dives that name no kit count for what you dive now, each item from the day you added it."
        )
    go = Offer(f"Count {count(fresh, 'dive')}", ImportDives(import_id=lockers.number(row.id), counts=True))
    return Reply(first, tuple(lines), offers=(go, drop), data=data)


def _is(row: DiveImport, piece: LoggedKit, label: str, item_id: int) -> Offer:
    return Offer(label, ImportDives(import_id=lockers.number(row.id), kit=piece.key, item_id=item_id))


def _span(told: Sequence[LoggedDive], today: date) -> str:
    return f"{day(told[0].on, today)} to {day(told[-1].on, today)}"


def _skipped(log: LogFile) -> list[str]:
    if not log.skipped:
        return []
    more = [f"- and {len(log.skipped) - _TOLD} more"] if len(log.skipped) > _TOLD else []
    return ["Not read:", *(f"- {line}" for line in log.skipped[:_TOLD]), *more]


def _count_in(row: DiveImport, log: LogFile, visit: Visit) -> Reply:
    """Log the new dives with the kit that was settled, and say what they make due."""
    new = imports.unknown(visit.session, visit.locker_id, log.dives)
    if full := too_many_dives(sum(d.dives for d in new), visit):
        return full
    usual = _usual(visit)
    mine = {lockers.number(i.id) for i in visit.kit()}
    rows = [(d, _on_it(d, row, usual) & mine) for d in new]
    imports.count_in(visit.session, row, rows, visit.now)
    fresh, total = sum(d.dives for d in new), dives.count(visit.session, visit.locker_id)
    used = {i for _, on_it in rows for i in on_it}
    names = [i.name for i in visit.kit() if i.id in used]
    due = [t for t in visit.fresh_tasks() if t.due_on is not None and t.due_on <= visit.today]
    return Reply(
        f"Counted: {count(fresh, 'dive')} of {row.name}. {count(total, 'dive')} in all.",
        (
            f"Counted for: {listed(names)}." if names else "Counted for no item of your kit.",
            f"{count(len(due), 'thing')} due now.",
        ),
        offers=(Offer("What is due", ShowDue()), Offer("Undo", Undo())),
        data={"intent": "import_dives", "counted": fresh, "total": total},
    )


def _usual(visit: Visit) -> list[Item]:
    """Return what is dived now: the kit of the last entry, or all that gets wet."""
    wet = [i for i in visit.kit() if CATALOGUE[i.kind].wet]
    last = dives.latest(visit.session, visit.locker_id, visit.own)
    on_last = set(dives.items_of(visit.session, lockers.number(last.id))) if last else set()
    return [i for i in wet if i.id in on_last] or wet


def _on_it(dive: LoggedDive, row: DiveImport, usual: Sequence[Item]) -> set[int]:
    """Return the items of a dive: those it names; if it names none, what is dived now and was there on that day."""
    if dive.kit:
        return {item for key in dive.kit if (item := row.answers.get(key, 0))}
    return {lockers.number(i.id) for i in usual if i.added_on <= dive.on}
