"""What one reminder says, as facts: read again at the moment it is sent, so that nothing stale goes out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from scheduler.care import CareRule, order, rule_by_id
from scheduler.plan import region_of
from store import care_log, items, lockers, tasks
from store.engine import Session
from store.tables import CareTask, Chat, Item, ManualNote, Notice


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
class Digest:
    """One message to one chat. `key` is the same for the same notices, for wires that can refuse a repeat."""

    chat: Chat
    lines: tuple[Line, ...]
    key: str


def split_stale(
    session: Session, chat: Chat, notices: Sequence[Notice]
) -> tuple[Digest, list[Notice], list[Notice]]:
    """Return the digest of what is still true, the notices in it, and those that were answered or became untrue."""
    fresh: list[tuple[Notice, Line]] = []
    stale: list[Notice] = []
    region = region_of(lockers.locker(session, chat.locker_id))
    manuals = care_log.manuals(session, chat.locker_id)
    for notice in notices:
        item = items.get(session, notice.locker_id, notice.item_id)
        task = tasks.find(session, notice.locker_id, notice.item_id, notice.part, notice.rule)
        if item is None or item.retired_on or task is None or task.due_on != notice.due_on:
            stale.append(notice)
            continue
        rule = rule_by_id(notice.rule, items.facts_of(item).region or region)
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
    sent = [notice for notice, _ in ordered]
    key = "-".join(str(n.id) for n in sent)
    return Digest(chat, tuple(line for _, line in ordered), key), sent, stale


def _manual(manuals: Mapping[int, Sequence[ManualNote]], notice: Notice) -> tuple[str, ...] | None:
    return care_log.manual_says(manuals.get(notice.item_id, ()), notice.part) if notice.part else None
