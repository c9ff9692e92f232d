r"""Care and trips as a calendar file, for whoever looks at a calendar rather than a chat. Pure: values in, bytes out.

The format is iCalendar, RFC 5545. Importing this module loads `icalendar`: import it where a calendar is asked for.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from icalendar import Alarm, Calendar, Event, Timezone, TimezoneStandard, vText

PRODID = "-//Rinse Tank//Kit care//EN"
SUMMARY_MOST = 500
"""A longer summary is cut to that many characters, the ellipsis included."""
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class DueEntry:
    """One act of care: all day on the date it falls due.

    `uid` is the same for the same task in every feed. `changed_at` is aware: when this entry last changed.
    `lead_days`: a warning is useful that many days before; 0: none. `description` may have several lines.
    """

    uid: str
    due_on: date
    summary: str
    description: str
    changed_at: datetime
    lead_days: int = 0
    critical: bool = False


@dataclass(frozen=True, slots=True)
class TripEntry:
    """A trip from its first day to its last, both included. `uid` and `changed_at` as of an act of care."""

    uid: str
    from_on: date
    to_on: date
    summary: str
    description: str
    changed_at: datetime


def calendar(
    entries: Iterable[DueEntry], trips: Iterable[TripEntry] = (), *, name: str, alarm_at: time
) -> bytes:
    """Return the file: events by date, then uid, so that the same facts give the same bytes.

    Alarms ring at `alarm_at`, to the minute, where the diver is: on the day of an act of care and `lead_days` earlier,
    and on the evening before a trip. They count from midnight (RFC 5545, 3.8.6.3), hours exactly (3.3.6): on the day
    on which clocks change, one may ring an hour off. Control characters of any text are dropped.
    """
    events = [(e.due_on, e.uid, _due(e, alarm_at)) for e in entries]
    events += [(t.from_on, t.uid, _trip(t, alarm_at)) for t in trips]
    file = Calendar()
    file.add("PRODID", PRODID)
    file.add("VERSION", "2.0")
    # NAME is RFC 7986, 5.1; X-WR-CALNAME is what readers took before it and in no standard.
    # Both are given a type here: left to itself, the library would write them without escaping.
    file.add("NAME", _line(name))
    file.add("X-WR-CALNAME", _line(name))
    for _, _, event in sorted(events, key=lambda found: found[:2]):
        file.add_component(event)
    if not events:
        file.add_component(_utc())
    written: bytes = file.to_ical()
    return written


def _due(entry: DueEntry, alarm_at: time) -> Event:
    event = _event(entry, entry.due_on)
    event.add("PRIORITY", 1 if entry.critical else 5)
    for days in sorted({entry.lead_days, 0}, reverse=True):
        event.add_component(_alarm(entry.summary, alarm_at, days))
    return event


def _trip(trip: TripEntry, alarm_at: time) -> Event:
    event = _event(trip, trip.from_on)
    event.add("DTEND", trip.to_on + DAY)  # the first day after it: RFC 5545, 3.6.1
    event.add_component(_alarm(trip.summary, alarm_at, days_before=1))
    return event


def _event(of: DueEntry | TripEntry, start: date) -> Event:
    event = Event()
    event.add("UID", _text(of.uid))
    event.add("DTSTAMP", of.changed_at)  # without METHOD: when it last changed, RFC 5545, 3.8.7.2
    event.add("LAST-MODIFIED", of.changed_at)
    event.add("DTSTART", start)
    event.add("TRANSP", "TRANSPARENT")
    event.add("SUMMARY", _line(of.summary))
    event.add("DESCRIPTION", _text(of.description))
    return event


def _alarm(summary: str, at: time, days_before: int) -> Alarm:
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("DESCRIPTION", _line(summary))
    alarm.add("TRIGGER", timedelta(hours=at.hour, minutes=at.minute) - days_before * DAY)
    return alarm


def _utc() -> Timezone:
    """Return what stands in a calendar of nothing: it must hold a component, and may hold a zone alone (RFC 5545, 3.6).

    An event "nothing is due" would need a date, and would stay with those who import the file once.
    """
    standard = TimezoneStandard()
    standard.add("DTSTART", datetime(1970, 1, 1))  # noqa: DTZ001 - local time by RFC 5545, 3.6.5
    standard.add("TZOFFSETFROM", timedelta(0))
    standard.add("TZOFFSETTO", timedelta(0))
    zone = Timezone()
    zone.add("TZID", "Etc/UTC")
    zone.add_component(standard)
    return zone


class _Text(vText):
    r"""Text that reads back as it was: the library's own takes a typed `\N`, as in a path, for a line break."""

    __slots__ = ()

    def to_ical(self) -> bytes:
        """Escape by RFC 5545, 3.3.11."""
        return re.sub(r"[\\;,]", r"\\\g<0>", self).replace("\n", r"\n").encode()


def _text(text: str) -> _Text:
    """Return text with every kind of line break as one newline, without the controls that RFC 5545, 3.1 forbids.

    Halves of surrogate pairs go too, as they have no UTF-8.
    """
    lines = re.sub("\r\n|[\r\x85\u2028\u2029]", "\n", text)
    return _Text(re.sub("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]", "", lines))


def _line(text: str) -> _Text:
    """Return text as one line, cut after a word if it is too long."""
    line = " ".join(_text(text).split())
    if len(line) <= SUMMARY_MOST:
        return _Text(line)
    head = line[: SUMMARY_MOST - 1]
    words = head.rpartition(" ")[0]
    return _Text((words if len(words) > SUMMARY_MOST // 2 else head) + "…")
