"""Care and trips as a calendar file. The raw bytes are read here without the library that wrote them."""

import re
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import icalendar
import pytest
import recurring_ical_events
from hypothesis import assume, example
from hypothesis import strategies as st

from scheduler.calendar import SUMMARY_MOST, DueEntry, TripEntry, calendar
from tests.doses import drawn

DAY = timedelta(days=1)
CHANGED = datetime(2026, 6, 1, 9, 30, tzinfo=UTC)
SERVICE = DueEntry(
    uid="service-7@locker-1.rinsetank.invalid",
    due_on=date(2026, 6, 10),
    summary="Service (technician): regulator set",
    description="Twelve months since the last service.\nNot a job for the bench at home; it is breathing gas.",
    changed_at=CHANGED,
    lead_days=28,
    critical=True,
)
WAX = DueEntry("wax-3@locker-1.rinsetank.invalid", date(2026, 6, 8), "Wax: dry suit zip", "", CHANGED)
TRIP = TripEntry(
    "trip-2@locker-1.rinsetank.invalid",
    date(2026, 6, 12),
    date(2026, 6, 19),
    "Trip: Lake Ferran",
    "14 dives",
    CHANGED,
)

HOSTILE = [
    "a,b;c\\d\ne:f",
    "x\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nUID:other",
    "BEGIN:VEVENT",
    "one\rtwo\x85three\u2028four\u2029five",
    "\x00nul \x07bell \x1bescape \x7fdelete \x0bvt \x0cff \ttab",
    "C:\\New\\next\\",
    "🤿" * 60 + "👩‍🔧",
    "\u202eright to left\u202c שירות וסת " * 6,
    "half a pair \ud83e",
    " leading" + " " * 160 + "trailing ",
    "é" * 37 + "\\;,",
]
texts = (
    st.text(max_size=160) | st.text('a\\nN;,:\r\n \t"^%🤿é\x00\x85\u2028', max_size=160)
) | st.sampled_from(HOSTILE)
days = st.dates(date(2024, 1, 1), date(2032, 12, 31))
moments = st.datetimes(datetime(2024, 1, 1), datetime(2032, 1, 1), timezones=st.just(UTC))
dues = st.builds(
    DueEntry, st.uuids().map(str), days, texts, texts, moments, st.integers(0, 90), st.booleans()
)
trips = st.builds(
    lambda uid, on, length, *rest: TripEntry(uid, on, on + length * DAY, *rest),
    st.uuids().map(str),
    days,
    st.integers(0, 20),
    texts,
    texts,
    moments,
)


def feed(*entries, trips=(), name="Kit care", at=time(18)):
    return calendar(entries, trips, name=name, alarm_at=at)


def unfolded(raw):
    """Return the content lines, each joined from its physical lines by the rule alone."""
    assert raw.endswith(b"\r\n")
    return raw.removesuffix(b"\r\n").replace(b"\r\n ", b"").decode().split("\r\n")


def values(raw, name):
    """Return the values of all lines of a property, in order."""
    return [line.partition(":")[2] for line in unfolded(raw) if re.match(rf"{name}[;:]", line)]


def shown(text):
    """Return what may be left of a text: breaks as newlines, no controls but tabs, nothing that has no UTF-8."""
    for mark in ("\r\n", "\r", "\x85", "\u2028", "\u2029"):
        text = text.replace(mark, "\n")
    kept = (c for c in text if c in "\t\n" or (ord(c) >= 32 and ord(c) != 127))
    return "".join(kept).encode(errors="ignore").decode()


def escaped(text):
    return "".join({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"}.get(c, c) for c in text)


def read(raw, first=date(2023, 12, 1), last=date(2034, 1, 1)):
    """Return (uid, first day, last day, summary, description) of what a reader shows between two dates."""
    found = recurring_ical_events.of(icalendar.Calendar.from_ical(raw)).between(first, last)
    return {(str(e["UID"]), e.start, e.end - DAY, str(e["SUMMARY"]), str(e["DESCRIPTION"])) for e in found}


def rings(raw, zone):
    """Return the local times of all alarms: days by the calendar, hours exactly, from 00:00 local of the start."""
    found = []
    for line in unfolded(raw):
        if line.startswith("DTSTART;VALUE=DATE:"):
            start = datetime.strptime(line[-8:], "%Y%m%d").replace(tzinfo=ZoneInfo(zone))
        if line.startswith("TRIGGER:"):
            sign, *parts = re.fullmatch(
                r"TRIGGER:(-?)P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?)?", line
            ).groups()
            whole, hours, minutes = (int(part or 0) * (-1 if sign else 1) for part in parts)
            exact = timedelta(hours=hours, minutes=minutes)
            found.append(((start + whole * DAY).astimezone(UTC) + exact).astimezone(ZoneInfo(zone)))
    return found


# --- bytes -------------------------------------------------------------------------------------------------------------


def test_feed_of_one_act_and_one_trip():
    """RFC 5545, 3.4, 3.6.1 and 3.6.6: each component whole. The order of properties within one is free."""
    assert Counter(unfolded(feed(SERVICE, trips=[TRIP]))) == Counter(
        r"""BEGIN:VCALENDAR
PRODID:-//Rinse Tank//Kit care//EN
VERSION:2.0
NAME:Kit care
X-WR-CALNAME:Kit care
BEGIN:VEVENT
UID:service-7@locker-1.rinsetank.invalid
DTSTAMP:20260601T093000Z
LAST-MODIFIED:20260601T093000Z
DTSTART;VALUE=DATE:20260610
TRANSP:TRANSPARENT
SUMMARY:Service (technician): regulator set
DESCRIPTION:Twelve months since the last service.\nNot a job for the bench at home\; it is breathing gas.
PRIORITY:1
BEGIN:VALARM
ACTION:DISPLAY
DESCRIPTION:Service (technician): regulator set
TRIGGER:-P27DT6H
END:VALARM
BEGIN:VALARM
ACTION:DISPLAY
DESCRIPTION:Service (technician): regulator set
TRIGGER:PT18H
END:VALARM
END:VEVENT
BEGIN:VEVENT
UID:trip-2@locker-1.rinsetank.invalid
DTSTAMP:20260601T093000Z
LAST-MODIFIED:20260601T093000Z
DTSTART;VALUE=DATE:20260612
DTEND;VALUE=DATE:20260620
TRANSP:TRANSPARENT
SUMMARY:Trip: Lake Ferran
DESCRIPTION:14 dives
BEGIN:VALARM
ACTION:DISPLAY
DESCRIPTION:Trip: Lake Ferran
TRIGGER:-PT6H
END:VALARM
END:VEVENT
END:VCALENDAR""".split("\n")
    )


@drawn(50, 200, st.lists(dues, max_size=4), st.lists(trips, max_size=2), texts)
def test_physical_lines_of_any_feed_are_short_and_whole(entries, journeys, name):
    """RFC 5545, 3.1 and 3.1.4: CRLF, 75 octets at most, no UTF-8 sequence split, no control but a tab."""
    lines = feed(*entries, trips=journeys, name=name).split(b"\r\n")
    assert lines[-1] == b""
    assert max(len(line) for line in lines) <= 75
    assert [line for line in lines if re.search(r"[\x00-\x08\x0a-\x1f\x7f]", line.decode())] == []


@drawn(50, 300, texts)
@example("a,b;c\\d\ne:f")
@example("é" * 400)
def test_text_of_any_kind_unfolds_to_its_exact_escape(text):
    """RFC 5545, 3.1 and 3.3.11: backslash, semicolon, comma and newline are escaped, nothing else is."""
    raw = feed(replace(WAX, summary=text, description=text), name=text)
    line = escaped(" ".join(shown(text).split()))
    assert values(raw, "DESCRIPTION") == [escaped(shown(text)), line]
    assert [values(raw, name) for name in ("SUMMARY", "NAME", "X-WR-CALNAME")] == [[line]] * 3


def test_text_of_the_published_check():
    """RFC 5545, 3.3.11: a colon is not escaped."""
    raw = feed(replace(WAX, description="a,b;c\\d\ne:f"))
    assert values(raw, "DESCRIPTION")[0] == r"a\,b\;c\\d\ne:f"


@pytest.mark.parametrize(
    ("summary", "cut"),
    [
        ("x" * SUMMARY_MOST, "x" * SUMMARY_MOST),
        ("x" * (SUMMARY_MOST + 1), "x" * (SUMMARY_MOST - 1) + "…"),
        ("rinse " * 100, "rinse " * 82 + "rinse…"),
        ("Wax: " + "x" * 600, "Wax: " + "x" * (SUMMARY_MOST - 6) + "…"),
        ("Wax:\r\n\tzip  and\nseals ", "Wax: zip and seals"),
    ],
    ids=["just fits", "one word", "many words", "long last word", "lines"],
)
def test_summary_too_long_is_cut_after_a_word(summary, cut):
    assert values(feed(replace(WAX, summary=summary)), "SUMMARY") == [cut]


# --- dates -------------------------------------------------------------------------------------------------------------


def test_act_without_an_end_lasts_one_day():
    """RFC 5545, 3.6.1: a DATE start without DTEND lasts one day."""
    raw = feed(WAX)
    assert values(raw, "DTEND") == []
    shown_on = {n: len(read(raw, WAX.due_on + n * DAY, WAX.due_on + (n + 1) * DAY)) for n in (-1, 0, 1)}
    assert shown_on == {-1: 0, 0: 1, 1: 0}


def test_trip_lasts_to_its_last_day():
    """RFC 5545, 3.8.2.2 and 3.6.1: DTEND is the first day after."""
    raw = feed(trips=[TRIP])
    shown_on = [n for n in range(-2, 12) if read(raw, TRIP.from_on + n * DAY, TRIP.from_on + (n + 1) * DAY)]
    assert shown_on == list(range(8))


@drawn(
    50,
    200,
    st.lists(dues, max_size=4, unique_by=lambda e: e.uid),
    st.lists(trips, max_size=2, unique_by=lambda t: t.uid),
)
def test_feed_of_any_texts_reads_back_as_it_went_in(entries, journeys):
    """RFC 5545, 3.3.11: whatever a chat said stays text, and no event comes or goes."""
    raw = feed(*entries, trips=journeys)
    lines = unfolded(raw)
    count = len(entries) + len(journeys)
    assert (lines.count("BEGIN:VEVENT"), lines.count("END:VEVENT")) == (count, count)
    assert len(icalendar.Calendar.from_ical(raw).events) == count
    went_in = [(e, e.due_on, e.due_on) for e in entries] + [(t, t.from_on, t.to_on) for t in journeys]
    assert read(raw) == {
        (x.uid, first, last, " ".join(shown(x.summary).split()), shown(x.description))
        for x, first, last in went_in
    }


def test_order_of_facts_makes_no_difference():
    same_day = replace(WAX, uid="clean-9@locker-1.rinsetank.invalid")
    trip = replace(TRIP, from_on=WAX.due_on - DAY)
    raw = feed(SERVICE, WAX, same_day, trips=[trip])
    assert raw == feed(same_day, WAX, SERVICE, trips=[trip])
    assert values(raw, "UID") == [trip.uid, same_day.uid, WAX.uid, SERVICE.uid]


def test_uid_stays_when_the_date_moves():
    """RFC 5545, 3.8.4.7 and 3.8.7.2: the same item has the same UID, DTSTAMP says when it changed."""
    later = replace(SERVICE, due_on=date(2027, 6, 10), changed_at=CHANGED + DAY)
    feeds = [feed(SERVICE), feed(later)]
    assert [
        [values(raw, name)[0] for name in ("UID", "DTSTART", "DTSTAMP", "LAST-MODIFIED")] for raw in feeds
    ] == [
        [SERVICE.uid, "20260610", "20260601T093000Z", "20260601T093000Z"],
        [SERVICE.uid, "20270610", "20260602T093000Z", "20260602T093000Z"],
    ]


@pytest.mark.parametrize("zone", ["Asia/Kathmandu", "America/Chicago", "UTC"])
def test_stamp_of_any_zone_is_written_in_utc(zone):
    """RFC 5545, 3.8.7.2 and 3.8.7.3."""
    raw = feed(replace(WAX, changed_at=CHANGED.astimezone(ZoneInfo(zone)).replace(microsecond=5)))
    assert [values(raw, name) for name in ("DTSTAMP", "LAST-MODIFIED")] == [["20260601T093000Z"]] * 2


def test_priority_of_what_can_hurt_is_the_highest():
    """RFC 5545, 3.8.1.9: 1 is the highest, 5 the middle."""
    assert values(feed(WAX, SERVICE), "PRIORITY") == ["5", "1"]


# --- alarms ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "due_on", "lead_days", "at", "local"),
    [
        ("Europe/Berlin", "2026-06-10", 0, "18:00", ["2026-06-10T18:00+02:00"]),
        ("Europe/Berlin", "2026-06-10", 28, "18:00", ["2026-05-13T18:00+02:00", "2026-06-10T18:00+02:00"]),
        ("Europe/Berlin", "2026-04-10", 28, "07:30", ["2026-03-13T07:30+01:00", "2026-04-10T07:30+02:00"]),
        ("America/Chicago", "2026-11-10", 14, "00:00", ["2026-10-27T00:00-05:00", "2026-11-10T00:00-06:00"]),
        ("Europe/Berlin", "2026-03-29", 1, "18:00", ["2026-03-28T18:00+01:00", "2026-03-29T19:00+02:00"]),
    ],
    ids=["summer", "ahead", "across spring", "across autumn, midnight", "on the day of change an hour off"],
)
def test_alarm_of_care_rings_at_the_hour(zone, due_on, lead_days, at, local):
    """RFC 5545, 3.8.6.3 and 3.3.6: from 00:00 local; days by the calendar, hours exactly."""
    act = replace(SERVICE, due_on=date.fromisoformat(due_on), lead_days=lead_days)
    found = rings(feed(act, at=time.fromisoformat(at)), zone)
    assert [moment.isoformat(timespec="minutes") for moment in found] == local


@drawn(
    50,
    300,
    days,
    st.integers(0, 90),
    st.times().map(lambda at: at.replace(second=0, microsecond=0)),
    st.sampled_from(["Europe/Berlin", "America/Chicago", "Australia/Adelaide", "UTC"]),
)
def test_alarm_rings_at_the_hour_on_all_days_but_those_of_a_change(due_on, lead_days, at, zone):
    """RFC 5545, 3.8.6.3: a change of clocks between the warning and the day moves neither."""
    told_on = sorted({due_on - lead_days * DAY, due_on})
    nights = [[datetime.combine(day + n * DAY, time(), ZoneInfo(zone)) for n in (0, 1)] for day in told_on]
    assume(all(here.utcoffset() == there.utcoffset() for here, there in nights))
    found = rings(feed(replace(SERVICE, due_on=due_on, lead_days=lead_days), at=at), zone)
    assert found == [datetime.combine(day, at, ZoneInfo(zone)) for day in told_on]


def test_alarm_of_a_trip_rings_on_the_evening_before():
    """RFC 5545, 3.8.6.3."""
    found = rings(feed(trips=[TRIP], at=time(19, 45)), "Europe/Berlin")
    assert [moment.isoformat() for moment in found] == ["2026-06-11T19:45:00+02:00"]


# --- nothing -----------------------------------------------------------------------------------------------------------


def test_feed_of_nothing_holds_a_zone_and_shows_nothing():
    """RFC 5545, 3.6 and 3.6.5: at least one component; a zone with its three properties may stand alone."""
    raw = feed()
    assert Counter(unfolded(raw)) == Counter(
        """BEGIN:VCALENDAR
PRODID:-//Rinse Tank//Kit care//EN
VERSION:2.0
NAME:Kit care
X-WR-CALNAME:Kit care
BEGIN:VTIMEZONE
TZID:Etc/UTC
BEGIN:STANDARD
DTSTART:19700101T000000
TZOFFSETFROM:+0000
TZOFFSETTO:+0000
END:STANDARD
END:VTIMEZONE
END:VCALENDAR""".split("\n")
    )
    assert read(raw) == set()
