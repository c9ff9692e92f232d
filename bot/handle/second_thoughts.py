"""A message that was edited or deleted after it acted: what it did is taken back first."""

from dataclasses import dataclass
from datetime import timedelta

from bot.handle.visit import Visit
from bot.replies import Reply
from bot.updates import Update
from scheduler.plan import refresh
from store import journal, loans, lockers, people, tasks
from store.tables import JournalEntry, Loan

EDITS = timedelta(days=30)
"""An edit of an older message acts only while the journal knows what it did: it must not be done once more."""
TOUCHED = {
    "item": "kit",
    "dive": "dive log",
    "dive_item": "dive log",
    "care": "care record",
    "mishap": "mishap",
    "dive_import": "dives of a file",
    "manual_note": "note from a manual",
    "own_word": "own word",
    "snooze": "reminder put off",
    "trip": "trip",
    "loan": "loan",
    "chat": "wish",
    "locker": "locker",
}
"""What a diver calls the tables."""


def take_back(visit: Visit, entry: JournalEntry) -> list[str] | None:
    """Take an entry back and return what it touched, in words; None if later entries build on it and it stays."""
    touched = journal.lockers_of(visit.session, entry)
    strange = any(people.role(visit.session, i, visit.actor) is None for i in touched)  # left, or gone itself
    if strange or journal.built_on(visit.session, entry, touched) is not None:
        return None
    if (loan := journal.loan_of(visit.session, entry)) is not None:
        return _end(loan, entry, visit)
    tables = journal.undo(visit.session, entry, visit.now)
    tasks.drop_of_items(visit.session, journal.moved(entry))
    for locker_id in touched:
        refresh(visit.session, visit.chat, visit.now, locker_id=locker_id, takes_back=True)
    return list(dict.fromkeys(TOUCHED[t] for t in tables))


def _end(loan: Loan, entry: JournalEntry, visit: Visit) -> list[str] | None:
    """Take a lending back as a giving back, which brings home what was recorded meanwhile; a return is not taken back."""
    if loan.back_on is not None:
        return None
    entry.undone_at = visit.now
    visit.session.add(entry)
    loans.give_back(visit.session, loan, visit.today)
    visit.session.flush()
    for locker_id in (loan.owner_id, loan.borrower_id):
        refresh(visit.session, visit.chat, visit.now, locker_id=locker_id)
    return [TOUCHED["loan"]]


@dataclass(frozen=True, slots=True)
class Thought:
    """What became of an edit or deletion. `ends`: there is nothing more to do, and `reply` is all there is to say."""

    ends: bool = False
    reply: Reply | None = None
    corrects: bool = False
    """Something was taken back, and the new words take its place."""


def second_thought(visit: Visit, update: Update, said: str | None) -> Thought:
    """Take back what an edited or deleted message did. `said` is the hash of its new words.

    Nobody changes another's message, and an edit that leaves the words alone is none.
    """
    if update.message is None or not (update.edits or update.taken_back):
        return Thought()
    of_it = journal.of_message(visit.session, lockers.number(visit.chat.id), update.message)
    own = [entry for entry in of_it if entry.actor == visit.actor]
    standing = [entry for entry in own if entry.undone_at is None]
    unchanged = bool(own) and own[0].said == said
    if (of_it and not own) or (update.edits and unchanged) or (update.taken_back and not standing):
        return Thought(ends=True)
    if update.edits and not of_it and update.at < (visit.received or visit.now) - EDITS:
        return Thought(ends=True, reply=_too_old())
    if standing:
        visit.enters(standing[0].locker_id or visit.locker_id)
    words: list[str] = []
    for entry in standing:
        undone = take_back(visit, entry)
        if undone is None:
            return Thought(ends=True, reply=_stands(edited=update.edits))
        words += undone
    if update.edits:
        return Thought(corrects=bool(standing))
    told = ", ".join(dict.fromkeys(words))
    reply = Reply(f"Taken back with your message: {told}.", data={"intent": "undo"})
    return Thought(ends=True, reply=reply)


def _too_old() -> Reply:
    return Reply(
        "I left things as they were: I no longer know what that old message did, so an edit of it changes nothing.",
        ("Tell me what is right in a new message.",),
        data={"intent": "undo", "undone": None},
    )


def _stands(*, edited: bool) -> Reply:
    what = "your edit" if edited else "the deletion"
    return Reply(
        f"I left things as they were: later messages build on that one, so {what} came too late.",
        ("Say undo to take back the last thing, or tell me what is right.",),
        data={"intent": "undo", "undone": None},
    )
