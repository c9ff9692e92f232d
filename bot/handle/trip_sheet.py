"""The sheet of a trip: boxes to tick before leaving, when packing, on site and after."""

from collections.abc import Sequence
from datetime import timedelta

from bot.handle.board import heading
from bot.handle.packing import packing, weather
from bot.handle.trips import EXAMPLE, found_with, late, section, undated
from bot.handle.visit import Visit
from bot.handle.wording import Job, count, day, job_lines, law_note
from bot.pictures import PDF
from bot.pictures.sheets import CheckGroup, TripSheet
from bot.replies import Drawing, Reply
from scheduler.outlook import coming
from scheduler.standing import ItemDue
from store import trips
from store.tables import Trip

_AFTER_DAYS = 14
"""What falls due that soon after the trip stands on its sheet."""


def trip_sheet(visit: Visit) -> Reply:
    """Send the sheet of the next trip, or of the one under way."""
    planned = trips.ahead(visit.session, visit.locker_id, visit.today)
    if not planned:
        return Reply(
            "No trip is planned, so there is no sheet.",
            (f"Say: {EXAMPLE}.",),
            data={"intent": "export", "what": "trip_sheet", "done": False},
        )
    sheet = sheet_of(planned[0], visit)
    boxes = sum(len(group.boxes) for group in sheet.groups)
    return Reply(
        f"The sheet for {sheet.trip}: {count(boxes, 'box', 'boxes')} to tick.",
        cautions=sheet.cautions,
        data={"intent": "export", "what": "trip_sheet", "done": True, "boxes": boxes},
        files=(Drawing("trip-sheet.pdf", PDF, sheet, _plain(sheet)),),
    )


def sheet_of(trip: Trip, visit: Visit) -> TripSheet:
    """Put a trip on a sheet."""
    today, standing = visit.today, visit.standing()
    found = found_with(trip, visit)
    before, during = [p for p in found if p[1].before], [p for p in found if not p[1].before]
    take = [line.removeprefix("- ") for line in packing(standing)[1:]]
    groups = (
        CheckGroup(
            title="Before you leave",
            boxes=(*_boxes(section("", before, today)), *undated(standing)),
            empty="Nothing is open.",
        ),
        CheckGroup(title="To take", boxes=tuple(take), empty="Your kit is empty."),
        CheckGroup(
            title="On site, when it comes due",
            boxes=_boxes(section("", during, today)),
            empty="Nothing falls due during the trip.",
        ),
        CheckGroup(title="Each evening", boxes=(*_each_evening(standing), "Tell me the dives of the day")),
        CheckGroup(title="After the trip", boxes=_after(trip, visit)),
    )
    span = f"{day(trip.from_on, today)} to {day(trip.to_on, today)}, {count(trip.dives or 0, 'dive')}"
    return TripSheet(
        locker=heading(visit),
        on=f"{today.day} {today:%B %Y}",
        trip=span,
        groups=groups,
        cautions=late(before, trip.from_on, today),
        notes=(
            *weather(standing, trip.water, trip.min_temp_c, trip.max_temp_c, imperial=visit.imperial),
            *law_note(t.due.rule for _, t in found),
            "The maker's manual goes before this; on life support a qualified technician decides.",
        ),
    )


def _boxes(lines: Sequence[str]) -> tuple[str, ...]:
    return tuple(line.removeprefix("- ") for line in lines[1:])


def _each_evening(standing: Sequence[ItemDue]) -> list[str]:
    """Name what each dive day asks for, on the kit as a whole."""
    jobs = [Job(i.item, d.part, d.rule, manual=i.manual(d.part)) for i in standing for d in i.dues]
    return job_lines(job for job in jobs if job.rule.every.each_dive)


def _after(trip: Trip, visit: Visit) -> tuple[str, ...]:
    """Name what to do at home: the care of the last day, and what falls due within `_AFTER_DAYS` of it."""
    ends = trip.to_on + timedelta(days=_AFTER_DAYS)
    soon = [
        c
        for c in coming(visit.standing(), visit.ahead(), visit.today)
        if trip.to_on < c.on <= ends and not c.due.rule.every.each_dive
    ]
    jobs = [Job(c.item, c.due.part, c.due.rule, c.on, f"due {day(c.on, visit.today)}") for c in soon]
    return (
        "Rinse everything once more in fresh water, dry it in the shade",
        "Tell me what leaked, flooded, tore or met oil: I keep it in mind",
        *job_lines(jobs),
    )


def _plain(sheet: TripSheet) -> tuple[str, ...]:
    lines = [f"Trip {sheet.trip}"]
    for group in sheet.groups:
        lines += ["", f"{group.title}:", *(f"[ ] {box}" for box in group.boxes or ())]
        lines += [group.empty] if not group.boxes else []
    return (*lines, "", *(f"! {caution}" for caution in sheet.cautions), *sheet.notes)
