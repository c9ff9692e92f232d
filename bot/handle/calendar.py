"""The calendar of a locker: what falls due and when trips are, as a file or as a feed that a calendar program reads."""

from datetime import UTC, datetime, time
from uuid import NAMESPACE_OID, uuid5
from zoneinfo import ZoneInfo

from bot.handle.visit import Visit
from bot.handle.why import why_due
from bot.handle.wording import act, by_whom, count, part_name
from bot.replies import File, Reply
from bot.understand.intents import Export
from bot.understand.reader import Offer
from scheduler.clock import local_date
from scheduler.due import Due
from scheduler.outlook import Coming, coming, planned
from scheduler.standing import ItemDue, work_out
from store import lockers, tasks, trips
from store.engine import Session
from store.tables import Chat, Item, Locker

NAME = "rinse-tank.ics"
MIME = "text/calendar"
_CAUTION = "The maker's manual goes before this; on life support a qualified technician decides."


def send_calendar(intent: Export, visit: Visit) -> Reply:
    """Send the calendar as a file, or the address of its feed; a new link makes the old one worthless."""
    if intent.what == "calendar":
        return _as_file(visit)
    locker = lockers.locker(visit.session, visit.locker_id)
    if visit.links.web_url is None:
        return Reply(
            "This bot has no web address, so there is no link; here is the file.",
            ("Import it, and ask again when your kit changes.",),
            files=_as_file(visit).files,
            data={"intent": "export", "what": intent.what, "done": False},
        )
    if locker.calendar_token is None or intent.what == "new_calendar_link":
        locker.calendar_token = visit.token()
        visit.session.add(locker)
    return Reply(
        f"Subscribe your calendar to: {visit.links.web_url.rstrip('/')}/calendar/{locker.calendar_token}.ics",
        (
            "Whoever has this link can read what falls due on your kit, when it was last done, and your trips.",
            "Say: new calendar link, and the old one stops working.",
        ),
        offers=(Offer("Send it as a file", Export(what="calendar")),),
        data={"intent": "export", "what": intent.what, "done": True},
    )


def _as_file(visit: Visit) -> Reply:
    visit.standing()
    content = calendar_of(visit.session, visit.chat, visit.now, visit.locker_id)
    events = content.count(b"BEGIN:VEVENT")
    return Reply(
        f"Your calendar: {count(events, 'date')}.",
        ("Dates by dives are estimates at your pace. Test dates by law: check locally.",),
        files=(File(NAME, MIME, content),),
        data={"intent": "export", "what": "calendar", "done": True, "events": events},
    )


def calendar_of(session: Session, chat: Chat, now: datetime, locker_id: int | None = None) -> bytes:
    """Return the calendar of a locker by the wishes of a chat; it only reads. The same facts on the same day give the same bytes.

    `locker_id` None: the chat's own.
    """
    from scheduler.calendar import DueEntry, TripEntry, calendar  # noqa: PLC0415 - loads a library few messages need

    today = local_date(now, chat.zone)
    locker_id = locker_id or chat.locker_id
    locker = lockers.locker(session, locker_id)
    standing = work_out(session, locker_id, today)
    changed = {(t.item_id, t.part, t.rule): t.changed_at for t in tasks.of_locker(session, locker_id)}
    daybreak = datetime.combine(today, time(), ZoneInfo(chat.zone)).astimezone(UTC)
    ahead = coming(standing, planned(session, locker_id, today), today)
    paced = {(c.item.id, c.due.part, c.due.rule.id): c for c in ahead}
    entries = []
    for item, found in _dated(standing):
        key = (lockers.number(item.id), found.part, found.rule.id)
        estimate = paced.get(key)
        on = estimate.on if estimate and estimate.by_pace else found.due_on
        if on is None:
            continue
        entries.append(
            DueEntry(
                _uid(locker, "care", *key),
                on,
                _summary(item, found, estimate),
                f"{why_due(found, found.rule, estimate, today)}\n{_CAUTION}",
                daybreak if estimate and estimate.by_pace else changed.get(key, daybreak),
                found.rule.lead_days,
                found.rule.critical,
            )
        )
    journeys = [
        TripEntry(
            _uid(locker, "trip", lockers.number(t.id)),
            t.from_on,
            t.to_on,
            f"Trip, {count(t.dives or 0, 'dive')}",
            "What falls due before it stands in this calendar too.",
            daybreak,
        )
        for t in trips.ahead(session, locker_id, today)
    ]
    return calendar(entries, journeys, name="Kit care", alarm_at=time.fromisoformat(chat.digest_at))


def _dated(standing: list[ItemDue]) -> list[tuple[Item, Due]]:
    """Return what belongs in a calendar: not what each dive day asks for, which a calendar would say too late."""
    return [(i.item, d) for i in standing for d in i.dues if not d.rule.every.each_dive]


def _summary(item: Item, found: Due, estimate: Coming | None) -> str:
    part = part_name(item, found.part)
    about = ", about" if estimate and estimate.by_pace else ""
    return f"{act(found.rule)}{by_whom(found.rule)}: {part + ', ' if part else ''}{item.name}{about}"


def _uid(locker: Locker, *of: object) -> str:
    """Name an entry alike in every feed, and unlike any of another locker or another bot (RFC 5545, 3.8.4.7)."""
    seed = "/".join(str(x) for x in (locker.id, locker.created_at.isoformat(), *of))
    return f"{uuid5(NAMESPACE_OID, seed)}@rinsetank"
