"""Which reader a file goes to, what no reader takes, and that nothing but LogFileError comes out."""

from contextlib import suppress
from datetime import date, datetime

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from store.errors import StoreError
from store.exchange import logbook
from store.exchange.logbook import MOST_BYTES, LogFile, LogFileError, LoggedDive, read_log, start

UDDF = b"<uddf version='3.2.3'><profiledata><repetitiongroup><dive id='d1'><informationbeforedive><datetime>2026-02-28</datetime></informationbeforedive></dive></repetitiongroup></profiledata></uddf>"
CSV = b"date\n2026-02-28\n"
ONE_DAY = LogFile(
    (LoggedDive(None, date(2026, 2, 28), None, None, None, None, None, frozenset(), (), None),), (), ()
)


@pytest.mark.parametrize("name", ["log.uddf", "log.csv", "log", ""])
@pytest.mark.parametrize("before", [b"", b"\xef\xbb\xbf"])
def test_read_log_uddf_by_content_whatever_the_name(name, before):
    assert read_log(name, before + UDDF) == ONE_DAY


@pytest.mark.parametrize("name", ["log.csv", "log.txt", "log"])
@pytest.mark.parametrize("before", [b"", b"\xef\xbb\xbf", b"\n\r\n"])
def test_read_log_table_where_it_is_no_xml(name, before):
    assert read_log(name, before + CSV) == ONE_DAY


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("log.csv", b"", "empty"),
        ("log.csv", b" \r\n" * 900, "empty"),
        ("log.csv", CSV + b" " * MOST_BYTES, "over 20 MB"),
        ("log.uddf", b"PK\x03\x04\x14\x00" + UDDF, "a zip archive"),
        ("log.uddf", b"\x1f\x8b\x08\x00" + UDDF, "a gzip archive"),
        ("log.csv", b"%PDF-1.7 date", "a PDF"),
        ("log.csv", b"SQLite format 3\0 date", "a database"),
        ("log.csv", b"date\n2026-02-28\0\n", "not plain text in UTF-8"),
        ("log.csv", CSV.decode().encode("utf-16"), "not plain text in UTF-8"),
        ("log.uddf", UDDF.decode().encode("utf-16"), "not plain text in UTF-8"),
        ("log.uddf", UDDF.decode().encode("utf-16-be"), "not plain text in UTF-8"),
        ("log.UDDF", CSV, "named as XML but holds none"),
        ("log.xml", CSV, "named as XML but holds none"),
        ("log.txt", b"Dear diary, it rained.", "no dive log known here"),
    ],
    ids=lambda value: repr(value)[:20],
)
def test_read_log_refused_with_the_way_out(name, content, says):
    with pytest.raises(LogFileError) as refused:
        read_log(name, content)
    message = str(refused.value)
    assert says in message
    assert message.count("\n") == 0
    assert message.endswith(".")
    assert "send" in message


def test_log_file_error_is_caught_as_a_store_error():
    assert issubclass(LogFileError, StoreError)


@given(st.binary(max_size=400), st.sampled_from(["a.uddf", "a.csv", ""]))
@example(b"<?xml version='1.0' encoding='unicode_escape'?><uddf/>", "a.uddf")
@example(b"<?xml version='1.0' encoding='utf-7'?><uddf/>", "a.uddf")
@example(b"<?xml version='1.0' encoding='iso-8859-12'?><uddf/>", "a.uddf")
@example(b'date\n"', "a.csv")
def test_read_log_raises_one_error_only_for_any_bytes(content, name):
    with suppress(LogFileError):
        read_log(name, content)


@given(st.integers(0, len(UDDF)), st.binary(max_size=8), st.integers(0, 8))
def test_read_log_raises_one_error_only_for_a_uddf_file_with_damage(place, put, cut):
    with suppress(LogFileError):
        read_log("a.uddf", UDDF[:place] + put + UDDF[place + cut :])


@given(st.text(max_size=60), st.text("0123456789.,:/-;\"'|\t\n\r dateimxEANkft%()", max_size=120))
def test_read_log_raises_one_error_only_for_any_table(title, body):
    with suppress(LogFileError):
        read_log(
            "a.csv",
            f"date,time,duration,depth,temp,o2,water,conditions,kit,dives,number,{title}\n{body}".encode(),
        )


@pytest.mark.parametrize(
    ("text", "hour", "minute", "second"),
    [
        ("10:15", 10, 15, 0),
        ("10.15", 10, 15, 0),
        ("9:05", 9, 5, 0),
        ("10:15:07", 10, 15, 7),
        ("10:15:07.25Z", 10, 15, 7),
        ("10:15:07+02:00", 10, 15, 7),
        ("10:15 am", 10, 15, 0),
        ("10:15PM", 22, 15, 0),
        ("12:30 a.m.", 0, 30, 0),
        ("12 pm", 12, 0, 0),
    ],
)
def test_start_on_the_wall_clock_as_written(text, hour, minute, second):
    assert start(date(2026, 2, 28), text) == datetime(2026, 2, 28, hour, minute, second)


def test_start_at_24_00_is_the_next_midnight():
    """Source: XML Schema Part 2, dateTime."""
    assert start(date(2026, 2, 28), "24:00:00") == datetime(2026, 3, 1)


@pytest.mark.parametrize(
    "text", ["", "10", "25:00", "10:75", "13:00 pm", "0 am", "noon", "10:15:00:00", "24:01", "٣:١٥"]
)
def test_start_none_where_it_is_no_time(text):
    assert start(date(2026, 2, 28), text) is None


def test_start_none_past_the_last_day_of_the_calendar():
    assert start(date.max, "24:00") is None


def test_skipped_many_are_told_as_a_number():
    skipped = logbook.Skipped()
    for line in range(1003):
        skipped.add(f"Line {line}", "it has no date, so it is left out")
    assert len(skipped.told()) == 1001
    assert skipped.told()[-2:] == (
        "Line 999: it has no date, so it is left out",
        "And 3 more things like these",
    )
