"""Tables for a spreadsheet: readable by one, harmless in one, and the dives are read back by our own reader."""

import csv
import io
import json
import zipfile
from datetime import UTC, date, datetime

import pytest

from store.exchange import archive as files
from store.exchange.logbook import read_log
from store.exchange.record import Archive
from store.exchange.sheets import HEADS, csv_zip
from store.vocabulary import Condition, Water

from .test_archive import good

NAMES = ["items.csv", "dives.csv", "care.csv", "mishaps.csv", "manual.csv", "trips.csv"]


def archive(**lists) -> Archive:
    return files.load(json.dumps(good() | lists).encode())


def entries(raw: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(raw)) as zipped:
        assert zipped.testzip() is None
        return {info.filename: zipped.read(info) for info in zipped.infolist()}


def rows(raw: bytes, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(entries(raw)[name].decode("utf-8-sig"), newline=""), strict=True))


def suit(name: str) -> list[dict[str, object]]:
    return [good()["items"][0] | {"name": name}]


def test_zip_holds_six_tables_with_plain_heads():
    found = entries(csv_zip(archive()))
    assert list(found) == NAMES
    for name, raw in found.items():
        assert raw.startswith(b"\xef\xbb\xbf"), name
        head, *others = raw.decode("utf-8-sig").split("\r\n")
        assert next(csv.reader([head])) == list(HEADS[name])
        assert others[-1] == ""
        assert b"\n" not in raw.replace(b"\r\n", b"")
        assert len(others) == 2


def test_same_facts_give_same_bytes():
    assert csv_zip(archive()) == csv_zip(archive())
    with zipfile.ZipFile(io.BytesIO(csv_zip(archive()))) as zipped:
        assert {info.date_time for info in zipped.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_cells_say_in_words_what_is_known_and_are_empty_for_the_rest():
    raw = csv_zip(archive())
    (item,) = rows(raw, "items.csv")
    assert {k: v for k, v in item.items() if v} == {
        "name": "suit",
        "kind": "dry suit",
        "added": "2026-06-10",
        "added by": "Ola",
        "zip": "plastic",
        "made": "2026-06-10",
    }
    (care,) = rows(raw, "care.csv")
    assert (care["item"], care["task"], care["with"], care["told by"]) == (
        "suit",
        "lubricate",
        "beeswax",
        "you",
    )
    assert (care["contaminates"], care["told at (UTC)"]) == ("no", "2026-06-10 12:00:00")
    (note,) = rows(raw, "manual.csv")
    assert (note["goes on it"], note["every (dives)"]) == ("nothing", "10")
    (trip,) = rows(raw, "trips.csv")
    assert (trip["from"], trip["highest temperature (C)"]) == ("2026-06-10", "20.0")
    (mishap,) = rows(raw, "mishaps.csv")
    assert (mishap["what happened"], mishap["told by"]) == ("flooded", "Ola")


def test_manual_that_speaks_of_an_interval_only_says_nothing_of_what_goes_on():
    raw = csv_zip(archive(manual=[good()["manual"][0] | {"substances": None}]))
    assert rows(raw, "manual.csv")[0]["goes on it"] == ""


# OWASP, CSV injection: a cell that begins with one of these may be run as a formula.
@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r"])
def test_text_that_a_spreadsheet_would_run_is_defused(first):
    bad = f'{first}HYPERLINK("x";"y")'
    raw = csv_zip(
        archive(
            items=suit(bad),
            people=[good()["people"][0], {"number": 2, "you": False, "name": bad}],
            manual=[good()["manual"][0] | {"text": bad}],
        )
    )
    (item,) = rows(raw, "items.csv")
    assert (item["name"], item["added by"]) == (f"'{bad}", f"'{bad}")
    assert rows(raw, "manual.csv")[0]["note"] == f"'{bad}"
    cells = [
        c
        for name in NAMES
        for row in csv.reader(io.StringIO(entries(raw)[name].decode("utf-8-sig"), newline=""))
        for c in row
    ]
    assert [c for c in cells if c.startswith(("=", "+", "-", "@", "\t", "\r"))] == []


def test_numbers_are_left_alone():
    cold = good()["dives"][0] | {"min_temp_c": -1.5}
    assert rows(csv_zip(archive(dives=[cold])), "dives.csv")[0]["temperature (C)"] == "-1.5"


@pytest.mark.parametrize("name", ['my "best", suit', "two\r\nlines", "übung 🤿", "semi;colon", "a\tb"])
def test_text_is_quoted_and_comes_back_whole(name):
    assert rows(csv_zip(archive(items=suit(name))), "items.csv")[0]["name"] == name


def test_dives_are_read_back_by_our_own_reader():
    dive = good()["dives"][0]
    more = [
        dive,
        dive
        | {"on": "2026-06-12", "dives": 1, "started": None, "file": None, "conditions": ["silt", "surf"]},
        {
            **dive,
            **dict.fromkeys(
                ("duration_min", "started", "water", "max_depth_m", "min_temp_c", "o2_fraction", "file")
            ),
            "on": "2026-07-03",
            "conditions": [],
            "items": [],
        },
        dive
        | {"on": "2026-07-04", "min_temp_c": -1.5, "max_depth_m": 0.0, "o2_fraction": 1.0, "items": [2, 1]},
    ]
    kit = [*suit("suit"), good()["items"][0] | {"number": 2, "name": "reel; spare | 2/3"}]
    found = read_log("dives.csv", entries(csv_zip(archive(dives=more, items=kit)))["dives.csv"])
    assert found.skipped == ()
    one, two, three, four = found.dives
    assert (one.on, one.started_at, one.dives) == (date(2026, 6, 10), datetime(2026, 6, 10, 10, 15), 2)
    assert (one.duration_s, one.max_depth_m, one.min_temp_c, one.o2_fraction) == (2400, 31.5, 8.0, 0.32)
    assert (one.water, one.conditions, one.kit) == (Water.SALT, {Condition.SAND}, ("suit",))
    assert (two.started_at, two.conditions) == (None, {Condition.SILT, Condition.SURF})
    assert (three.on, three.dives, three.water, three.duration_s, three.kit) == (
        date(2026, 7, 3),
        2,
        None,
        None,
        (),
    )
    assert (four.min_temp_c, four.max_depth_m, four.o2_fraction) == (-1.5, 0.0, 1.0)
    assert four.kit == ("reel spare 2 3", "suit")


def test_empty_locker_gives_tables_with_heads_alone():
    empty = {name: [] for name, value in good().items() if isinstance(value, list) and name != "people"}
    raw = csv_zip(archive(**empty, people=good()["people"][:1]))
    assert {name: rows(raw, name) for name in NAMES} == {name: [] for name in NAMES}


def test_instants_are_shown_in_utc():
    at = "2026-06-10T12:00:00+02:00"
    raw = csv_zip(archive(mishaps=[good()["mishaps"][0] | {"logged_at": at}]))
    assert (
        rows(raw, "mishaps.csv")[0]["told at (UTC)"]
        == f"{datetime(2026, 6, 10, 10, tzinfo=UTC):%Y-%m-%d %H:%M:%S}"
    )
