"""Dates in free text, held against the calendar of the standard library and against dateutil."""

import calendar
from datetime import date, timedelta

import pytest
from dateutil.relativedelta import FR, MO, SA, SU, TH, TU, WE, relativedelta
from dateutil.rrule import DAILY, rrule

from bot.understand.dates import Dates, read_dates
from bot.understand.quantities import SenselessError
from bot.understand.text import clean

TODAY = date(2026, 6, 10)
TWO_YEARS = [day.date() for day in rrule(DAILY, dtstart=date(2027, 1, 1), until=date(2028, 12, 31))]
A_WEEK = [TODAY + timedelta(days=n) for n in range(7)]
WEEKDAYS = dict(zip(calendar.day_name, (MO, TU, WE, TH, FR, SA, SU), strict=True))


def past(text: str, today: date = TODAY) -> Dates:
    return read_dates(clean(text), today, "past")


def future(text: str, today: date = TODAY) -> Dates:
    return read_dates(clean(text), today, "future")


def ordinal(day: int) -> str:
    if 10 < day < 14:
        return f"{day}th"
    return f"{day}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(day % 10, 'th') }"


# every day of two years, one of them a leap year

FORMS = {
    "iso": lambda d: d.isoformat(),
    "day_month_year": lambda d: f"{d.day} {calendar.month_name[d.month]} {d.year}",
    "ordinal_of_short_month": lambda d: f"{ordinal(d.day)} of {calendar.month_abbr[d.month]} {d.year}",
    "month_day_year": lambda d: f"{calendar.month_name[d.month].upper()} {d.day}, {d.year}",
    "dotted": lambda d: f"{d.day}.{d.month}.{d.year}",
    "slashed": lambda d: f"{d.day:02}/{d.month:02}/{d.year}",
    "weekday": lambda d: f"{calendar.day_name[d.weekday()]}, {d.day} {calendar.month_abbr[d.month]} {d.year}",
}


@pytest.mark.parametrize("form", FORMS)
def test_written_form_is_read_for_every_day_of_two_years(form):
    written = {FORMS[form](day): day for day in TWO_YEARS}
    assert len(written) == 731
    assert {text: past(f"3 dives {text} in the lake").on for text in written} == written


def test_form_leaves_the_rest_of_the_text():
    assert past("3 dives on 9 June 2026, 30 m") == Dates("3 dives  ; , 30 m", on=date(2026, 6, 9))


def test_day_without_a_year_is_the_nearest_on_the_side_asked_for():
    for back in range(1, 365):
        day = TODAY - timedelta(days=back)
        text = f"{day.day} {calendar.month_name[day.month]}"
        assert past(text).on == day
        assert future(text).on == day + relativedelta(years=1)


@pytest.mark.parametrize(
    "day", [(31, 2), (30, 2), (31, 4), (31, 6), (31, 9), (31, 11), (32, 1), (0, 5), (29, 2)], ids=str
)
@pytest.mark.parametrize(
    "form", ["{d} {name} 2027", "{name} {d}, 2027", "{d}.{m}.2027", "{d}/{m}/2027", "2027-{m:02}-{d:02}"]
)
def test_day_that_no_calendar_has_is_named(day, form):
    d, m = day
    text = form.format(d=d, m=m, name=calendar.month_name[m].lower())
    with pytest.raises(SenselessError) as error:
        past(f"2 dives on {text}")
    assert str(error.value) == f"No calendar has a {text}: try 12 June or 2026-06-12."


def test_twenty_ninth_of_february_is_that_of_a_leap_year():
    assert past("29 february").on == date(2024, 2, 29)
    assert future("29 february").on == date(2028, 2, 29)
    assert past("29 feb 2028").on == date(2028, 2, 29)


# weekdays


@pytest.mark.parametrize("name", WEEKDAYS)
def test_weekday_told_is_the_last_one_or_today(name):
    wanted = {today: today + relativedelta(weekday=WEEKDAYS[name](-1)) for today in A_WEEK}
    for text in (name, f"on {name}", name[:3]):
        assert {today: past(f"2 dives {text}", today).on for today in A_WEEK} == wanted


@pytest.mark.parametrize("name", WEEKDAYS)
def test_weekday_ahead_is_the_next_one(name):
    wanted = {
        today: today + timedelta(days=1) + relativedelta(weekday=WEEKDAYS[name](+1)) for today in A_WEEK
    }
    for text in (f"until {name}", f"on {name}", f"next {name}"):
        assert {today: future(f"snooze {text}", today).on for today in A_WEEK} == wanted


@pytest.mark.parametrize("name", WEEKDAYS)
def test_last_weekday_is_before_today(name):
    wanted = {
        today: today - timedelta(days=1) + relativedelta(weekday=WEEKDAYS[name](-1)) for today in A_WEEK
    }
    assert {today: past(f"2 dives last {name}", today).on for today in A_WEEK} == wanted


# days counted from today


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("today", 0),
        ("tonight", 0),
        ("just now", 0),
        ("this morning", 0),
        ("this evening", 0),
        ("yesterday", -1),
        ("yday", -1),
        ("last night", -1),
        ("day before yesterday", -2),
        ("the day before yesterday", -2),
        ("tomorrow", 1),
        ("tmrw", 1),
        ("the day after tomorrow", 2),
        ("3 days ago", -3),
        ("two weeks ago", -14),
        ("a week ago", -7),
        ("a fortnight ago", -14),
        ("last week", -7),
        ("next week", 7),
    ],
)
def test_day_counted_from_today(text, days):
    for today in (TODAY, date(2026, 12, 31), date(2027, 1, 1), date(2028, 2, 29)):
        wanted = today + timedelta(days=days)
        assert (past(text, today).on, future(text, today).on) == (wanted, wanted)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("in 3 weeks", 21),
        ("in three weeks", 21),
        ("in a week", 7),
        ("in 1 day", 1),
        ("in ten days", 10),
        ("for 3 days", 3),
        ("for two weeks", 14),
        ("for a week", 7),
        ("in 2 months", 60),
    ],
)
def test_span_ahead_is_counted_in_days(text, days):
    assert future(f"remind me {text}") == Dates("remind me  ; ", on=TODAY + timedelta(days=days), days=days)


def test_years_ago_are_calendar_years():
    assert {n: past(f"serviced {n} years ago").on.year for n in range(1, 40)} == {
        n: (TODAY - relativedelta(years=n)).year for n in range(1, 40)
    }


def test_month_alone_is_its_first_day():
    months = {
        f"{calendar.month_name[m]} {y}": date(y, m, 1) for y in (2024, 2025, 2027) for m in range(1, 13)
    }
    assert {text: past(f"hydro tested {text}").on for text in months} == months


# ranges


def test_range_within_a_month_is_read_for_every_day():
    starts = [d for d in TWO_YEARS if d.day + 6 <= calendar.monthrange(d.year, d.month)[1]]
    wanted = {d: (d, d + timedelta(days=6)) for d in starts[::5]}
    assert len(wanted) > 100
    assert {
        d: future(f"trip {d.day} to {d.day + 6} {calendar.month_name[d.month]} {d.year}").span for d in wanted
    } == wanted


@pytest.mark.parametrize(
    "today", [date(2026, 6, 10), date(2026, 12, 1), date(2026, 12, 30), date(2027, 1, 2)], ids=str
)
@pytest.mark.parametrize(
    "text",
    [
        "28 december to 3 january",
        "28 dec - 3 jan",
        "28th of december until the 3rd of january",
        "28 dec through 3 jan 2027",
        "december 28 to january 3",
        "dec 28 to jan 3, 2027",
        "2026-12-28 to 2027-01-03",
        "2026-12-28/2027-01-03",
    ],
)
def test_range_over_new_year(text, today):
    assert future(f"trip {text}", today).span == (date(2026, 12, 28), date(2027, 1, 3))


@pytest.mark.parametrize(
    ("text", "span"),
    [
        ("12 to 19 december", (date(2026, 12, 12), date(2026, 12, 19))),
        ("12-19 december", (date(2026, 12, 12), date(2026, 12, 19))),
        ("12th to 19th december", (date(2026, 12, 12), date(2026, 12, 19))),
        ("december 12 to 19, 2027", (date(2027, 12, 12), date(2027, 12, 19))),
        ("from 28 june until 4 july", (date(2026, 6, 28), date(2026, 7, 4))),
        ("8 to 12 june", (date(2026, 6, 8), date(2026, 6, 12))),
        ("1 to 3 june", (date(2027, 6, 1), date(2027, 6, 3))),
        ("28 to 29 february 2028", (date(2028, 2, 28), date(2028, 2, 29))),
        ("27 feb to 1 march 2028", (date(2028, 2, 27), date(2028, 3, 1))),
    ],
)
def test_range_as_written(text, span):
    found = future(f"trip {text}, 14 dives")
    assert (found.on, found.span, found.days) == (None, span, None)
    assert found.rest.endswith(" ; , 14 dives")


def test_range_over_more_than_a_year_is_refused():
    with pytest.raises(SenselessError) as error:
        future("trip 2026-12-30 to 2028-12-30")
    assert str(error.value) == "A trip ends after it begins, within a year: try 12 to 19 December."


@pytest.mark.parametrize(
    "text", ["", "2 dives", "at 30 m", "12 to 19 degrees", "18/45", "may I dive", "march on"]
)
def test_text_without_a_date_has_none(text):
    assert past(text) == Dates(clean(text))


# what goes wrong today


@pytest.mark.parametrize(
    "text", ["19 to 12 december", "december 19 to 12", "30 to 2 june", "2026-12-30 to 2026-12-01"]
)
def test_range_backwards_is_refused(text):
    with pytest.raises(SenselessError):
        future(f"trip {text}")


def test_range_to_a_day_that_no_month_has_is_refused():
    with pytest.raises(SenselessError):
        future("trip 1 to 99 december")


def test_range_with_a_year_on_either_side():
    span = future("trip 28 december 2026 to 3 january 2027").span
    assert span == (date(2026, 12, 28), date(2027, 1, 3))


def test_thurs_is_thursday():
    assert past("2 dives on thurs").on == date(2026, 6, 4)


def test_weekday_after_on_with_a_date_is_that_date():
    assert past("serviced on Sunday, 26 March 2023").on == date(2023, 3, 26)


@pytest.mark.parametrize(
    "text", ["2 dives in the sun", "sun cream on the seals", "we sat at 6 m", "2 dives, no sun"]
)
def test_word_that_looks_like_a_weekday_is_no_date(text):
    assert past(text).on is None


def test_year_of_two_digits_is_of_this_century():
    assert (past("2 dives 11.06.26").on, future("trip 9.6.26").on) == (date(2026, 6, 11), date(2026, 6, 9))


@pytest.mark.parametrize(("text", "months"), [("a month ago", 1), ("3 months ago", 3), ("two months ago", 2)])
def test_months_ago_are_calendar_months(text, months):
    assert past(f"serviced {text}").on == TODAY - relativedelta(months=months)


def test_couple_of_weeks_ago():
    assert past("serviced a couple of weeks ago").on == TODAY - timedelta(days=14)


# months


@pytest.mark.parametrize(
    ("text", "on"),
    [
        ("06/2024", date(2024, 6, 1)),
        ("6/2024", date(2024, 6, 1)),
        ("06.2024", date(2024, 6, 1)),
        ("2024-06", date(2024, 6, 1)),
        ("2024/6", date(2024, 6, 1)),
        ("june 2024", date(2024, 6, 1)),
        ("in june 2024", date(2024, 6, 1)),
        ("june '24", date(2024, 6, 1)),
        ("in june", date(2026, 6, 1)),
        ("last may", date(2026, 5, 1)),
    ],
)
def test_month_alone_is_its_first_day_and_said_to_be_one(text, on):
    found = past(f"tested {text}")
    assert (found.on, found.month_only) == (on, True)


@pytest.mark.parametrize(
    "text", ["24 june 2024", "june 24th 2024", "2024-06-24", "24/6/2024", "yesterday", "last week"]
)
def test_day_is_not_said_to_be_a_month(text):
    assert not past(f"tested {text}").month_only


@pytest.mark.parametrize("text", ["13/2024", "2024-13", "00/2024", "1/10", "2024"])
def test_what_is_no_month_is_not_read_as_one(text):
    assert not past(f"tested {text}").month_only
