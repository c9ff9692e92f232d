"""Whose law dates the tests of cylinders, and what changes with it."""

from datetime import date

from bot.handle.visit import Visit
from bot.handle.wording import act, day, month
from scheduler.care_rule import Status
from scheduler.law import LAW, Interval
from store import lockers
from store.tables import Item
from store.vocabulary import Region

COUNTRY = {
    Region.US: "the USA",
    Region.CANADA: "Canada",
    Region.UK: "the UK",
    Region.EU: "the EU",
    Region.GERMANY: "Germany",
    Region.SWITZERLAND: "Switzerland",
    Region.AUSTRALIA: "Australia",
    Region.NEW_ZEALAND: "New Zealand",
    Region.SOUTH_AFRICA: "South Africa",
}
LegalDates = dict[tuple[str, str], date | None]


def set_region(region: Region, visit: Visit) -> tuple[str, ...]:
    """Set the region of a locker; return the rule that now holds and every date that it moved."""
    before = legal_dates(visit)
    locker = lockers.locker(visit.session, visit.locker_id)
    locker.region = region
    visit.session.add(locker)
    law = LAW[region]
    lines = [f"Hydrostatic every {_said(law.hydro)}.", f"Visual every {_said(law.visual)}."]
    if law.visual.assessed:
        lines.append(
            f"Visual {law.visual.assessed} months after a risk assessment: say, twinset risk assessment done."
        )
    if law.counts_from_due:
        lines.append("The next period runs from the old due month; a test up to two months late is on time.")
    lines += changed_dates(before, legal_dates(visit), visit.today)
    return (*lines, "Law changes and differs by place: check locally.")


def _said(interval: Interval) -> str:
    mark = " (second-hand)" if interval.status is Status.SECOND_HAND else ""
    return f"{interval.months} months: {interval.source}{mark}"


def legal_dates(visit: Visit, item: Item | None = None) -> LegalDates:
    """Return the date of each test by law, of the locker or of one item; None where it is not known."""
    return {
        (i.item.name, act(d.rule)): d.due_on
        for i in visit.standing()
        if item is None or i.item.id == item.id
        for d in i.dues
        if d.rule.by_law
    }


def changed_dates(before: LegalDates, after: LegalDates, today: date) -> tuple[str, ...]:
    """Say each date that has changed, was found or is no longer known."""
    lines = []
    for key in sorted({*before, *after}):
        was, now = before.get(key), after.get(key)
        if was == now and (key in before) == (key in after):
            continue
        item, test = key
        head, old = f"- {test}, {item}: ", f", was {month(was)}" if was else ""
        if now is None:
            lines.append(head + ("no longer asked for" if key not in after else "date not known") + old)
        else:
            late = "OVERDUE since" if now < today else "due by"
            lines.append(f"{head}{late} {day(now, today)}{old}")
    return (*(["Changed:", *lines] if lines else []),)
