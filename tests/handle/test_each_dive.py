"""Dives told one by one are kept one by one, and what puts one right finds it by its number, its depth or its place."""

import pytest
from sqlmodel import select

from store.tables import Dive


def depths(talk):
    """Return depth and minutes of every entry, in the order they were logged."""
    rows = talk.store.read(lambda s: [(d.max_depth_m, d.duration_min, d.dives) for d in s.exec(select(Dive))])
    return sorted(rows, key=lambda row: (row[0] or 0, row[1] or 0), reverse=True)


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("2 dives today in the lake, 24 and 19 meters, 6 degrees", [(24.0, None, 1), (19.0, None, 1)]),
        ("two dives today, 31 m for 40 min, 18 m for 35 min", [(31.0, 40, 1), (18.0, 35, 1)]),
        ("2 dives today 15m 50min each then 1 night dive 9m", [(15.0, 50, 2), (9.0, None, 1)]),
        (
            "3 dives today: 12, 11, 9 m. 25, 22, 15 min. water 3 C",
            [(12.0, 25, 1), (11.0, 22, 1), (9.0, 15, 1)],
        ),
        ("2 dives, friday 20m, saturday 18m", [(20.0, None, 1), (18.0, None, 1)]),
        (
            "3 dives this weekend, sat 18m n 14m, sunday one to 21",
            [(21.0, None, 1), (18.0, None, 1), (14.0, None, 1)],
        ),
        ("sat 12m and 14m, sun 20", [(20.0, None, 1), (14.0, None, 1), (12.0, None, 1)]),
        ("2 dives today, 30 m, 45 min each", [(30.0, 45, 2)]),
        ("1 dive today from 10 to 30 m, 45 min", [(30.0, 45, 1)]),
    ],
)
def test_each_dive_keeps_its_own_figures(talk, said, kept):
    talk.say(said)
    assert depths(talk) == kept


def test_several_are_told_in_one_line(talk):
    assert talk.say("2 dives today, fresh, 24 and 19 m").first == (
        "Logged: 2 dives, today, fresh water, 24 m, 19 m. 2 dives in all."
    )


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("no, 26 m", [(26.0, None, 1), (19.0, None, 1)]),
        ("second one was 17 m", [(24.0, None, 1), (17.0, None, 1)]),
        ("it was 22 m not 19", [(24.0, None, 1), (22.0, None, 1)]),
        ("the deep one was 25 m", [(25.0, None, 1), (19.0, None, 1)]),
    ],
)
def test_what_puts_right_finds_its_dive(talk, said, kept):
    talk.say("2 dives today, 24 and 19 m")
    talk.say(said)
    assert depths(talk) == kept


def test_water_is_that_of_all(talk):
    talk.say("2 dives today, 24 and 19 m")
    talk.say("it was salt water")
    assert talk.store.read(lambda s: {d.water for d in s.exec(select(Dive))}) == {"salt"}


def test_one_of_several_is_taken_out_by_its_depth_or_number(talk):
    talk.say("3 dives today: 12, 11 and 9 m")
    assert talk.say("delete the 11 m dive").first.startswith("Out of the log: 1 dive")
    assert depths(talk) == [(12.0, None, 1), (9.0, None, 1)]
    talk.say("delete the second dive of today")
    assert depths(talk) == [(12.0, None, 1)]


def test_one_undo_takes_all_of_them_back(talk):
    talk.say("3 dives today: 12, 11 and 9 m")
    talk.say("undo")
    assert depths(talk) == []


@pytest.mark.parametrize(
    "said",
    [
        "maybe 2 dives tomorrow if there is no wind",
        "my cousin did 3 dives yesterday, I was at work",
        "today the plan is 2 dives, will tell you after",
    ],
)
def test_dives_ahead_or_of_others_are_not_logged(talk, said):
    talk.say(said)
    assert depths(talk) == []


def test_what_is_put_right_of_one_day_leaves_the_other_day_alone(talk):
    talk.say("1 dive saturday 12 m, 1 dive sunday 15 m")
    days = talk.store.read(lambda s: sorted(d.on for d in s.exec(select(Dive))))
    assert len(set(days)) == 2
    talk.say("it was salt water")
    waters = talk.store.read(lambda s: {d.on: d.water for d in s.exec(select(Dive))})
    assert waters == {days[0]: None, days[1]: "salt"}


@pytest.mark.parametrize(
    "said", ["jarek did 3 dives yesterday", "Angus had three dives today, I sat in the van"]
)
def test_a_name_before_the_verb_is_somebody_else(talk, said):
    talk.say(said)
    assert depths(talk) == []


def test_one_of_several_alike_leaves_without_a_question(talk):
    talk.say("add marker buoy")
    talk.say("add marker buoy")
    talk.say("sold one of the marker buoys")
    assert talk.say("show kit").data["items"] == ["marker buoy"]
