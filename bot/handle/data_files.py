"""All data of a locker as a file, and back: shown before it is taken in, and never in place of anything unasked."""

from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.replies import File, Reply
from bot.understand.intents import Export, ImportDives, ShowKit
from bot.understand.reader import Offer
from scheduler.plan import refresh
from store import archives, imports, loans, lockers, people, restoring
from store.exchange.archive import Archive, dump
from store.exchange.sheets import csv_zip
from store.people import Role
from store.tables import DiveImport

JSON_NAME, JSON_MIME = "rinse-tank-data.json", "application/json"
ZIP_NAME, ZIP_MIME = "rinse-tank-tables.zip", "application/zip"


def send_data(intent: Export, visit: Visit) -> Reply:
    """Send all data of the locker that is open: as one file that can be taken in again, or as tables to look at."""
    archive = archives.export(visit.session, visit.locker_id, visit.chat, visit.actor)
    held = _held(archive)
    others = [h for h in people.held(visit.session, visit.actor) if h.locker_id != visit.locker_id]
    more = (
        (f"{count(len(others), 'other locker')} of yours: open it (my lockers) and export again.",)
        if others
        else ()
    )
    data = {"intent": "export", "what": intent.what, "done": True, **_counts(archive)}
    if intent.what == "csv":
        return Reply(
            f"Your data as tables: {held}.",
            ("One zip of CSV files for a spreadsheet. The dives among them can be read in again.", *more),
            offers=(Offer("As one file", Export()),),
            data=data,
            files=(File(ZIP_NAME, ZIP_MIME, csv_zip(archive)),),
        )
    return Reply(
        f"All data of {visit.title_of(visit.locker_id)}: {held}.",
        (
            "Send me the file, here or elsewhere, and I take it in again. Keep it safe: it is not encrypted.",
            *more,
        ),
        offers=(Offer("As tables", Export(what="csv")), Offer("Calendar", Export(what="calendar"))),
        data=data,
        files=(File(JSON_NAME, JSON_MIME, dump(archive)),),
    )


def receive_data(name: str, archive: Archive, visit: Visit) -> Reply:
    """Keep a file of data and show what it holds; nothing is changed before a tap."""
    row = imports.keep_archive(
        visit.session,
        DiveImport(
            locker_id=visit.locker_id,
            name=name[:100],
            content={},
            answers={},
            sent_at=visit.now,
            sent_by=visit.actor,
        ),
        archive,
    )
    import_id = lockers.number(row.id)
    drop = Offer("Drop it", ImportDives(import_id=import_id, drops=True))
    first = f"{row.name}: all data of a locker, {_held(archive)}."
    data = {"intent": "import_dives", "data_file": True, **_counts(archive)}
    if visit.role is Role.MEMBER:
        return Reply(
            first,
            ("It brings a name and wishes along, so only the owner or somebody they named can take it in.",),
            offers=(drop,),
            data=data,
        )
    if not _in_the_way(visit):
        take = Offer("Take it in", ImportDives(import_id=import_id, counts=True))
        return Reply(first, ("Nothing is changed yet.",), offers=(take, drop), data=data)
    if visit.role is not Role.OWNER:
        return Reply(
            first,
            ("This locker is not empty, and only its owner can put a file in its place.",),
            offers=(drop,),
            data=data,
        )
    here = count(len(visit.kit()), "item")
    replace = Offer("Replace what is here", ImportDives(import_id=import_id, replaces=True))
    return Reply(
        first,
        (
            f"This locker is not empty ({here}). To take the file in deletes all that is here, for good.",
            "Nothing is changed yet.",
        ),
        offers=(replace, drop, Offer("Show kit", ShowKit())),
        data=data,
    )


def take_in(row: DiveImport, intent: ImportDives, visit: Visit) -> Reply:
    """Put a file of data into the locker, in place of what is there only if that was asked for."""
    if visit.role is Role.MEMBER:  # the button stands in a group, where anybody can tap it
        return Reply(
            "Only the owner or somebody they named can take that file in.", data={"intent": "import_dives"}
        )
    archive = imports.archive_of(row)
    imports.remove(visit.session, row)
    if _in_the_way(visit):
        if not intent.replaces or visit.role is not Role.OWNER:
            return Reply(
                "This locker is not empty any more, so nothing was changed.",
                ("Send the file again.",),
                data={"intent": "import_dives"},
            )
        for locker_id in loans.bring_home(visit.session, visit.locker_id, visit.today):
            refresh(visit.session, visit.chat, visit.now, locker_id=locker_id)
    restoring.clear(visit.session, visit.locker_id)
    restoring.restore(visit.session, archive, visit.locker_id, visit.chat, person=visit.actor, now=visit.now)
    held, counts = _held(archive), _counts(archive)
    del archive  # a large one, and what comes next takes memory of its own
    visit.takes_back = True  # written in bulk, past the journal: there is nothing to undo
    visit.session.refresh(visit.chat)
    visit.standing()
    return Reply(
        f"Taken in: {held}.",
        ("What is due was worked out anew.",),
        offers=(Offer("Show kit", ShowKit()),),
        data={"intent": "import_dives", "done": True, **counts},
    )


def _in_the_way(visit: Visit) -> bool:
    return not restoring.is_empty(visit.session, visit.locker_id)


def _held(archive: Archive) -> str:
    held = _counts(archive)
    return f"{count(held['items'], 'item')}, {count(held['dives'], 'dive')}, {count(held['care'], 'act')} of care"


def _counts(archive: Archive) -> dict[str, int]:
    return {
        "items": len(archive.items),
        "dives": sum(d.dives for d in archive.dives),
        "care": len(archive.care),
    }
