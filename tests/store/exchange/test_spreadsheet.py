"""The table of dives: its columns and units, dates that can be misread, and rows that cannot be read."""

import csv
import io
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import strategies as st

from store.exchange.logbook import MOST_DIVES, LogFile, LogFileError, LoggedDive, LoggedKit, read_log
from store.vocabulary import Condition, Water
from tests.doses import drawn

DATA = Path(__file__).parent / "data"
DAY = LoggedDive(None, date(2026, 2, 28), None, None, None, None, None, frozenset(), (), None)


def read(text):
    """Read a table."""
    return read_log("log.csv", text.encode())


def field(column, text, mark=","):
    """Read a table of one dive with this column, and return its dive and what was skipped."""
    log = read(f"date{mark}{column}\n2026-02-28{mark}{text}\n")
    assert len(log.dives) == 1
    return log.dives[0], log.skipped


def test_read_log_table_with_semicolons_and_decimal_commas():
    assert read_log("log.csv", (DATA / "log.csv").read_bytes()) == LogFile(
        (
            LoggedDive(
                started_at=datetime(2026, 2, 28, 10, 15),
                on=date(2026, 2, 28),
                duration_s=2520,
                max_depth_m=24.6,
                min_temp_c=6.0,
                o2_fraction=0.32,
                water=Water.SALT,
                conditions=frozenset({Condition.SAND, Condition.SILT}),
                kit=("Left post regulator", "Blue trilaminate"),
                number=None,
            ),
            LoggedDive(
                started_at=None,
                on=date(2026, 3, 1),
                duration_s=3000,
                max_depth_m=12.0,
                min_temp_c=None,
                o2_fraction=0.21,
                water=Water.FRESH,
                conditions=frozenset(),
                kit=("Blue trilaminate",),
                number=None,
                dives=3,
            ),
        ),
        (
            LoggedKit("Left post regulator", "Left post regulator", frozenset()),
            LoggedKit("Blue trilaminate", "Blue trilaminate", frozenset()),
        ),
        ('Columns: not known here, or there twice, so not read: "Buddy"',),
    )


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_read_log_table_whatever_sets_fields_and_lines_apart(mark, end):
    rows = [["Depth", " DATE ", "No."], ["12.5", "2026-02-28", "7"], ["", "", ""]]
    log = read(end.join(mark.join(row) for row in rows))
    assert log == LogFile(
        (LoggedDive(None, date(2026, 2, 28), None, 12.5, None, None, None, frozenset(), (), 7),), (), ()
    )


def test_read_log_table_in_latin_1_where_it_is_no_utf_8():
    log = read_log("log.csv", "date;temp (°C);kit\n2026-02-28;6;grüne Maske\n".encode("latin-1"))
    assert ([dive.min_temp_c for dive in log.dives], log.kit, log.skipped) == (
        [6.0],
        (LoggedKit("grüne Maske", "grüne Maske", frozenset()),),
        (),
    )


@pytest.mark.parametrize(
    ("written", "on"),
    [
        ("2026-02-28", date(2026, 2, 28)),
        ("2026/2/28", date(2026, 2, 28)),
        ("28.02.2026", date(2026, 2, 28)),
        ("4.3.2026", date(2026, 3, 4)),
        ("28/02/2026", date(2026, 2, 28)),
        ("02/28/2026", date(2026, 2, 28)),
        ("05/05/2026", date(2026, 5, 5)),
    ],
)
def test_read_log_date_that_can_be_read_one_way(written, on):
    log = read(f"date\n{written}\n")
    assert ([dive.on for dive in log.dives], log.skipped) == ([on], ())


@pytest.mark.parametrize(
    ("others", "on", "taken"),
    [
        ([], date(2026, 4, 3), "day first"),
        (["28/02/2026"], date(2026, 4, 3), "day first"),
        (["28/02/2026", "02/28/2026"], date(2026, 4, 3), "day first"),
        (["02/28/2026"], date(2026, 3, 4), "month first, as the other dates of the file are"),
    ],
)
def test_read_log_date_that_can_be_read_two_ways_is_told_once(others, on, taken):
    log = read("\n".join(["date", *others, "03/04/2026", "03/04/2026"]))
    assert [dive.on for dive in log.dives] == [*([date(2026, 2, 28)] * len(others)), on, on]
    assert log.skipped == (
        f"Dates: 2 could be day or month first, such as 03/04/2026; they are read {taken}",
    )


def test_read_log_date_with_a_time_behind_it():
    assert [dive.started_at for dive in read("date\n28.02.2026 10:15\n2026-02-28T11:00:00Z\n").dives] == [
        datetime(2026, 2, 28, 10, 15),
        datetime(2026, 2, 28, 11),
    ]


@pytest.mark.parametrize("text", ["10:15", "10.15", "10:15:00", "10:15 am"])
def test_read_log_time_of_day(text):
    dive, skipped = field("time", text)
    assert (dive.started_at, skipped) == (datetime(2026, 2, 28, 10, 15), ())


@pytest.mark.parametrize(
    ("column", "text", "seconds"),
    [
        ("duration", "42", 2520),
        ("duration", "42:00", 2520),
        ("duration", "0:42", 2520),
        ("duration", "0:42:00", 2520),
        ("duration", "1:05", 3900),
        ("duration", "4:59", 17940),
        ("duration", "5:00", 300),
        ("duration (min)", "42.5", 2550),
        ("Duration (s)", "2520", 2520),
        ("duration", "42 min", 2520),
        ("duration [h]", "0.7", 2520),
    ],
)
def test_read_log_duration(column, text, seconds):
    dive, skipped = field(column, text)
    assert (dive.duration_s, skipped) == (seconds, ())


@pytest.mark.parametrize(
    ("column", "text", "metres"),
    [
        ("depth", "24.6", 24.6),
        ("max depth (m)", "24.6", 24.6),
        ("Depth (ft)", "80", 24.38),
        ("depth", "80 ft", 24.38),
    ],
)
def test_read_log_depth(column, text, metres):
    """A foot is 0.3048 m: International yard and pound agreement, 1959."""
    dive, skipped = field(column, text)
    assert (dive.max_depth_m, skipped) == (metres, ())


@pytest.mark.parametrize(
    ("column", "text", "celsius"),
    [
        ("temperature", "-1.5", -1.5),
        ("min temp (C)", "6", 6.0),
        ("temp (F)", "43", 6.1),
        ("temp [°F]", "32", 0.0),
        ("temp", "50 °F", 10.0),
    ],
)
def test_read_log_temperature(column, text, celsius):
    """Fahrenheit to Celsius: minus 32, times 5/9, by definition of the scale."""
    dive, skipped = field(column, text)
    assert (dive.min_temp_c, skipped) == (celsius, ())


@pytest.mark.parametrize(
    ("column", "text", "o2"),
    [
        ("oxygen", "0.32", 0.32),
        ("oxygen", "32", 0.32),
        ("oxygen", "32 %", 0.32),
        ("oxygen (%)", "32", 0.32),
        ("gas", "EAN32", 0.32),
        ("gas", "EANx 32", 0.32),
        ("gas", "nitrox 32", 0.32),
        ("gas", "Air", 0.21),
        ("gas", "oxygen", 1.0),
        ("gas", "18/45", 0.18),
        ("o2", "1", 1.0),
        ("o2", "100", 1.0),
    ],
)
def test_read_log_oxygen(column, text, o2):
    dive, skipped = field(column, text)
    assert (dive.o2_fraction, skipped) == (o2, ())


@pytest.mark.parametrize(
    ("text", "water"),
    [
        ("salt", Water.SALT),
        ("Sea", Water.SALT),
        ("fresh water lake", Water.FRESH),
        ("brackish", Water.BRACKISH),
        ("swimming pool", Water.POOL),
    ],
)
def test_read_log_water(text, water):
    assert field("water", text)[0].water is water


@pytest.mark.parametrize("text", ["sand silt", "sand;silt", "Sand | SILT", "sand/silt"])
def test_read_log_conditions(text):
    dive, skipped = field("conditions", text)
    assert (dive.conditions, skipped) == (frozenset({Condition.SAND, Condition.SILT}), ())


@pytest.mark.parametrize(
    ("mark", "text"),
    [
        (",", "Mask; Blue suit"),
        (",", "Mask|Blue suit"),
        (";", "Mask / Blue suit"),
        (";", '"Mask; Blue  suit;mask"'),
    ],
)
def test_read_log_kit_names(mark, text):
    assert field("kit", text, mark)[0].kit == ("Mask", "Blue suit")


def test_read_log_kit_beyond_a_hundred_pieces_is_told():
    dive, skipped = field("kit", "|".join(f"piece {n}" for n in range(103)))
    assert dive.kit == tuple(f"piece {n}" for n in range(100))
    assert skipped == ("Line 2: it names 103 pieces of kit; only the first 100 are kept",)


def test_read_log_formula_is_text_like_any_other():
    assert field("kit", "=1+1 | @now | +cmd")[0].kit == ("=1+1", "@now", "+cmd")


@pytest.mark.parametrize(
    ("column", "text", "told"),
    [
        ("time", "noon", 'the time "noon" cannot be read, so only the day is kept'),
        ("depth", "351", 'the depth "351" comes to 351, outside 0 to 350 m, so it is left out'),
        ("depth", "-2", 'the depth "-2" comes to -2, outside 0 to 350 m, so it is left out'),
        ("depth", "12 fathoms", 'the depth "12 fathoms" cannot be read, so it is left out'),
        ("depth", '"24,6"', 'the depth "24,6" cannot be read, so it is left out'),
        (
            "duration",
            "25:00:00",
            'the duration "25:00:00" comes to 90000, outside 0 to 86400 s, so it is left out',
        ),
        ("temp", "60", 'the temperature "60" comes to 60, outside -5 to 45 °C, so it is left out'),
        ("oxygen", "0", 'the oxygen "0" comes to 0, outside 0.01 to 1 as a fraction, so it is left out'),
        ("oxygen", "bottled", 'the oxygen "bottled" cannot be read, so it is left out'),
        ("water", "lava", 'the water "lava" is not salt, fresh, brackish or pool, so it is left out'),
        ("conditions", "windy", 'no condition known here, so left out: "windy"'),
        ("kit", "x" * 101, f'the kit "{"x" * 37}..." has too long a name, so it is left out'),
        ("dives", "1001", '"1001" is no count of dives from 1 to 1000, so it is left out'),
        ("number", "first", '"first" is no dive number from 1 to 1000000, so it is left out'),
    ],
)
def test_read_log_nonsense_field_is_dropped_and_the_dive_kept(column, text, told):
    assert field(column, text) == (DAY, (f"Line 2: {told}",))


def test_read_log_rows_that_cannot_be_read_are_told_by_line():
    text = 'date,depth,notes\n\n"2026-02-28",,"two\nlines"\nTotal,5\n,7\n30.02.2026\n2026-02-28,24,6,5\n'
    assert read(text) == LogFile(
        (DAY,),
        (),
        (
            'Columns: not known here, or there twice, so not read: "notes"',
            'Line 5: its date "Total" cannot be read, so it is left out',
            "Line 6: it has no date, so it is left out",
            'Line 7: its date "30.02.2026" cannot be read, so it is left out',
            "Line 8: it has more fields than the first line has columns, so it is left out",
        ),
    )


def test_read_log_columns_twice_or_in_a_unit_not_known_are_told():
    log = read("Date (dd.mm.yyyy),depth (fathoms),date,depth\n28.02.2026,3,2026-03-01,\n")
    assert log == LogFile(
        (DAY,), (), ('Columns: not known here, or there twice, so not read: "depth (fathoms)", "date"',)
    )


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"when,depth\n2026-02-28,5\n", "whose first line names the columns"),
        (b"date,kit\n2026-02-28," + b"x" * 1_000_000, "Line 2 is far too long"),
        (b'date,kit\n2026-02-28,"' + b"x\n" * 90_000, "at line 2 do not match up"),
        (b'date,kit\n2026-02-28,"mask\n2026-03-01,fins\n', "at line 2 do not match up"),
        (b'date,kit\n2026-02-28,"mask"fins\n', "at line 2 do not match up"),
        (b"date\n" + b"2026-02-28\n" * (MOST_DIVES + 1), "more than 20000 rows"),
        (b"date\n" + b"\n" * 300_000, "more than 200000 lines"),
        (b"\xff\xd8\xff\xe0 a picture", "whose first line names the columns"),
    ],
    ids=lambda value: repr(value)[:24],
)
def test_read_log_table_refused_with_the_way_out(content, says):
    with pytest.raises(LogFileError, match=says) as refused:
        read_log("log.csv", content)
    assert str(refused.value).endswith(".")
    assert "send" in str(refused.value)


NAMES = st.text(
    st.characters(
        min_codepoint=33, max_codepoint=0x2FF, exclude_categories=("C", "Z"), exclude_characters=";|/"
    ),
    min_size=1,
    max_size=20,
)


@st.composite
def logs(draw):
    """Draw a log that a table can say."""
    names = draw(st.lists(NAMES, max_size=4, unique_by=str.casefold))
    starts = draw(st.lists(st.integers(0, 10**6), max_size=6, unique=True))
    dives = tuple(
        LoggedDive(
            started_at=(at := datetime(2020, 1, 1) + timedelta(minutes=minutes)),
            on=at.date(),
            duration_s=draw(st.none() | st.integers(0, 1440).map(lambda x: x * 60)),
            max_depth_m=draw(st.none() | st.integers(0, 35_000).map(lambda x: x / 100)),
            min_temp_c=draw(st.none() | st.integers(-50, 450).map(lambda x: x / 10)),
            o2_fraction=draw(st.none() | st.integers(100, 10_000).map(lambda x: x / 10_000)),
            water=draw(st.none() | st.sampled_from(Water)),
            conditions=draw(st.frozensets(st.sampled_from(Condition))),
            kit=tuple(names),
            number=draw(st.none() | st.integers(1, 1_000_000)),
            dives=draw(st.integers(1, 1000)),
        )
        for minutes in sorted(starts)
    )
    kit = tuple(LoggedKit(name, name, frozenset()) for name in names)
    return LogFile(dives, kit if dives else (), ())


def written(log, mark):
    """Write a log as a table, with a decimal comma where the fields are not set apart by one."""

    def decimal(value):
        return "" if value is None else str(value).replace(".", "." if mark == "," else ",")

    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark)
    writer.writerow("date time duration depth temperature oxygen water conditions kit dives number".split())
    for dive in log.dives:
        writer.writerow(
            [
                dive.on.strftime("%d.%m.%Y"),
                dive.started_at.strftime("%H:%M"),
                "" if dive.duration_s is None else dive.duration_s // 60,
                decimal(dive.max_depth_m),
                decimal(dive.min_temp_c),
                decimal(dive.o2_fraction),
                dive.water or "",
                " ".join(sorted(dive.conditions)),
                "|".join(dive.kit),
                dive.dives,
                dive.number or "",
            ]
        )
    return out.getvalue().encode()


@drawn(25, 100, logs(), st.sampled_from(",;\t"))
def test_read_log_gives_back_what_was_written(log, mark):
    assert read_log("log.csv", written(log, mark)) == log
