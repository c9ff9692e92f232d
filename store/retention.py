"""Drops rows whose time is over, a batch in a unit of work. Facts are none of them: kit, dives, care, people, wishes stay.

What is old is looked for by reading, so that the writer is held for the dropping alone.
"""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy import CursorResult
from sqlmodel import Session, col, delete, select, update

from store.tables import CareTask, DiveImport, Invite, JournalEntry, Notice, SeenUpdate

BATCH = 200
"""Rows dropped in one unit of work: a few milliseconds."""
_SETTLED = ("sent", "cancelled", "dead")


def old_updates(session: Session, before: datetime) -> list[tuple[str, str]]:
    """Return some updates that acted before an instant."""
    query = select(SeenUpdate.wire, SeenUpdate.update_id).where(SeenUpdate.seen_at < before)
    return [(wire, update_id) for wire, update_id in session.exec(query.limit(BATCH))]


def drop_updates(session: Session, ids: Sequence[tuple[str, str]]) -> int:
    """Forget that updates acted."""
    dropped = 0
    for wire in sorted({wire for wire, _ in ids}):
        of_it = [update_id for w, update_id in ids if w == wire]
        these = (col(SeenUpdate.wire) == wire, col(SeenUpdate.update_id).in_(of_it))
        dropped += _count(session.exec(delete(SeenUpdate).where(*these)))
    return dropped


def old_notices(session: Session, before: datetime, after: int) -> list[int]:
    """Return some notices numbered after `after` that were settled, and due to be sent before an instant.

    One whose task still stands as it was told stays, however old: its key keeps it from being told again.
    """
    stands = (
        select(CareTask.id)
        .where(CareTask.item_id == Notice.item_id, CareTask.part == Notice.part)
        .where(CareTask.rule == Notice.rule, CareTask.due_on == Notice.due_on)
        .exists()
    )
    query = (
        select(Notice.id)
        .where(col(Notice.id) > after, col(Notice.state).in_(_SETTLED), Notice.send_at < before)
        .where(~stands)
    )
    return [i for i in session.exec(query.order_by(col(Notice.id)).limit(BATCH)) if i is not None]


def drop_notices(session: Session, ids: Sequence[int]) -> int:
    """Drop notices that are settled still."""
    these = (col(Notice.id).in_(ids), col(Notice.state).in_(_SETTLED))
    return _count(session.exec(delete(Notice).where(*these)))


def old_entries(session: Session, before: datetime, after: int) -> list[int]:
    """Return the entries of the next page of the journal, after number `after`, that are older than an instant.

    Entries are numbered as they came in: nothing old in a page means that the rest is younger.
    """
    page = select(JournalEntry.id, JournalEntry.at).where(col(JournalEntry.id) > after)
    rows = session.exec(page.order_by(col(JournalEntry.id)).limit(BATCH))
    return [i for i, at in rows if i is not None and at < before]


def drop_entries(session: Session, ids: Sequence[int]) -> int:
    """Drop entries of the journal: what they did can no longer be taken back."""
    return _count(session.exec(delete(JournalEntry).where(col(JournalEntry.id).in_(ids))))


def old_files(session: Session, shown_before: datetime | None, counted_before: datetime | None) -> list[int]:
    """Return some files whose content is kept though nobody answered, or nobody can take the counting back.

    None: those are kept for ever.
    """
    query = select(DiveImport.id).where(_done_with(shown_before, counted_before))
    return [i for i in session.exec(query.order_by(col(DiveImport.id)).limit(BATCH)) if i is not None]


def empty_files(
    session: Session, ids: Sequence[int], shown_before: datetime | None, counted_before: datetime | None
) -> int:
    """Empty those files that are done with still; one that nobody answered counts as dropped. Dives that were counted stay."""
    these = (col(DiveImport.id).in_(ids), _done_with(shown_before, counted_before))
    state = sa.case((col(DiveImport.state) == "counted", "counted"), else_="dropped")
    return _count(session.exec(update(DiveImport).where(*these).values(content={}, state=state)))


def _done_with(shown_before: datetime | None, counted_before: datetime | None) -> sa.ColumnElement[bool]:
    held = sa.func.length(sa.cast(col(DiveImport.content), sa.String)) > len("{}")
    old = [
        sa.and_(col(DiveImport.state) == state, col(DiveImport.sent_at) < before)
        for state, before in (("shown", shown_before), ("waiting", shown_before), ("counted", counted_before))
        if before is not None
    ]
    return sa.and_(held, sa.or_(sa.false(), *old))


def drop_invites(session: Session, now: datetime) -> int:
    """Drop codes that let nobody in any more."""
    return _count(session.exec(delete(Invite).where(col(Invite.until) < now)))


def _count(result: object) -> int:
    return result.rowcount if isinstance(result, CursorResult) else 0
