"""Numbers with units, held against arithmetic done another way."""

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.understand.counts import count_of
from bot.understand.quantities import Quantities, SenselessError, read_quantities
from bot.understand.text import clean

few = settings(max_examples=100, deadline=None, database=None, derandomize=True)


def read(text: str) -> Quantities:
    return read_quantities(clean(text))


def values(text: str) -> dict[str, object]:
    """Return what was found, without what was not said and the text left over."""
    found = read(text)
    named = ("dives", "duration_min", "max_depth_m", "temps_c", "o2_fraction")
    return {name: value for name in named if (value := getattr(found, name)) not in (None, ())}


def tenth(value: Fraction) -> float:
    """Round to one decimal place."""
    return float(round(value, 1))


def test_feet_are_metres():
    wanted = {n: tenth(Fraction(n) * 3048 / 10000) for n in range(1, 1149)}
    assert {n: read(f"{n} ft").max_depth_m for n in wanted} == wanted


def test_metres_are_metres():
    wanted = {n: float(n) for n in range(1, 351)}
    assert {n: read(f"{n} m").max_depth_m for n in wanted} == wanted


def test_fahrenheit_is_celsius():
    wanted = {n: (tenth(Fraction(n - 32) * 5 / 9),) for n in range(-40, 141)}
    assert {n: read(f"{n} °F").temps_c for n in wanted} == wanted


def test_celsius_is_celsius():
    wanted = {n: (float(n),) for n in range(-40, 61)}
    assert {n: read(f"{n} °C").temps_c for n in wanted} == wanted


def test_percent_is_a_fraction():
    wanted = {n: n / 100 for n in range(4, 101)}
    assert {n: read(f"{n}%").o2_fraction for n in wanted} == wanted
    assert {n: read(f"nitrox {n}").o2_fraction for n in wanted if n > 9} == {
        n: f for n, f in wanted.items() if n > 9
    }


def test_hours_and_minutes_are_minutes():
    wanted = {(h, m): h * 60 + m for h in range(1, 24) for m in range(0, 60, 7)}
    assert {(h, m): read(f"{h} h {m} min").duration_min for h, m in wanted} == wanted
    assert {(h, m): read(f"{h}h{m:02}").duration_min for h, m in wanted} == wanted


def test_minutes_are_minutes():
    wanted = {n: n for n in range(1, 24 * 60 + 1, 11)}
    assert {n: read(f"{n} min").duration_min for n in wanted} == wanted


def test_digits_are_dives():
    wanted = {n: n for n in range(1, 21)}
    assert {n: read(f"{n} dives").dives for n in wanted} == wanted


@few
@given(
    st.decimals("0.1", "350", places=1),
    st.sampled_from([".", ","]),
    st.sampled_from(["m", " m", " metres", "mtr"]),
)
def test_decimal_metres_with_point_or_comma(depth, sign, unit):
    assert read(f"2 dives, {str(depth).replace('.', sign)}{unit}").max_depth_m == float(depth)


@few
@given(
    st.integers(1, 20), st.integers(3, 350), st.integers(5, 200), st.integers(-2, 40), st.integers(21, 100)
)
def test_quantities_said_together_do_not_disturb_each_other(dives, depth, minutes, degrees, percent):
    assert values(f"{dives} dives, {depth} m, {minutes} min each, {degrees} degrees, {percent}%") == {
        "dives": dives,
        "max_depth_m": float(depth),
        "duration_min": minutes,
        "temps_c": (float(degrees),),
        "o2_fraction": percent / 100,
    }


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("100 feet", {"max_depth_m": 30.5}),
        ("100 foot", {"max_depth_m": 30.5}),
        ("100 fsw", {"max_depth_m": 30.5}),
        ("100'", {"max_depth_m": 30.5}),
        ("100’", {"max_depth_m": 30.5}),
        ("30 msw", {"max_depth_m": 30.0}),
        ("30 meters", {"max_depth_m": 30.0}),
        ("３０ m", {"max_depth_m": 30.0}),
        ("thirty metres", {"max_depth_m": 30.0}),
        ("twenty five m", {"max_depth_m": 25.0}),
        ("12 m and 60 ft", {"max_depth_m": 18.3}),
        ("60 ft then 12 m", {"max_depth_m": 18.3}),
        ("45 minutes", {"duration_min": 45}),
        ("forty five minutes", {"duration_min": 45}),
        ("an hour", {"duration_min": 60}),
        ("half an hour", {"duration_min": 30}),
        ("an hour and a half", {"duration_min": 90}),
        ("one and a half hours", {"duration_min": 90}),
        ("two hours", {"duration_min": 120}),
        ("an hour and ten", {"duration_min": 70}),
        ("an hour and a quarter", {"duration_min": 75}),
        ("1.5 hours", {"duration_min": 90}),
        ("1,5 h", {"duration_min": 90}),
        ("1h 10m", {"duration_min": 70}),
        ("50 °F", {"temps_c": (10.0,)}),
        ("50 degrees fahrenheit", {"temps_c": (10.0,)}),
        ("50f", {"temps_c": (10.0,)}),
        ("-2 °C", {"temps_c": (-2.0,)}),
        ("−2 °C", {"temps_c": (-2.0,)}),
        ("7 deg", {"temps_c": (7.0,)}),
        ("7º", {"temps_c": (7.0,)}),
        ("7,5 celsius", {"temps_c": (7.5,)}),
        ("water temp 6", {"temps_c": (6.0,)}),
        ("coldest was 4", {"temps_c": (4.0,)}),
        ("4 to 8 degrees", {"temps_c": (4.0, 8.0)}),
        ("4-8 °C", {"temps_c": (4.0, 8.0)}),
        ("40 to 50 °F", {"temps_c": (4.4, 10.0)}),
        ("between 4 and 8 c", {"temps_c": (4.0, 8.0)}),
        ("32 percent", {"o2_fraction": 0.32}),
        ("ean32", {"o2_fraction": 0.32}),
        ("nitrox 32", {"o2_fraction": 0.32}),
        ("32 nitrox", {"o2_fraction": 0.32}),
        ("trimix 18/45", {"o2_fraction": 0.18}),
        ("tx 10/70", {"o2_fraction": 0.10}),
        ("18/45 and 50%", {"o2_fraction": 0.5}),
        ("18/45, 50% and pure oxygen", {"o2_fraction": 1.0}),
        ("on air", {"o2_fraction": 0.21}),
        ("32% and air", {"o2_fraction": 0.32}),
        ("one dive", {"dives": 1}),
        ("a dive", {"dives": 1}),
        ("two deep cold dives", {"dives": 2}),
        ("twelve dips", {"dives": 12}),
        ("thirteen dives", {"dives": 13}),
        ("twenty dives", {"dives": 20}),
        ("a couple of dives", {"dives": 2}),
        ("a pair of dives", {"dives": 2}),
        ("a dozen dives", {"dives": 12}),
        ("30m dive", {"dives": 1, "max_depth_m": 30.0}),
        ("fifty-two minutes", {"duration_min": 52}),
        ("dived twice", {"dives": 2}),
        ("dived 3 times", {"dives": 3}),
        ("3x dives", {"dives": 3}),
        ("did 4", {"dives": 4}),
        ("dive 1 20 m, dive 2 15 m", {"dives": 2, "max_depth_m": 20.0}),
        ("no dive", {}),
        ("12 l cylinder", {}),
        ("200 bar", {}),
        ("", {}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_written_form_is_read(text, found):
    assert values(text) == found


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("351 m", "A depth of 351 m cannot be: up to 350 m works."),
        ("1149 ft", "A depth of 350.215 m cannot be: up to 350 m works."),
        ("0 m", "A depth of 0 m cannot be: up to 350 m works."),
        ("-1 m", "A depth of -1 m cannot be: up to 350 m works."),
        ("20 m and 900 m", "A depth of 900 m cannot be: up to 350 m works."),
        ("-41 °C", "-41 °C cannot be: -40 to 60 works."),
        ("61 °C", "61 °C cannot be: -40 to 60 works."),
        ("150 °F", "65.6 °C cannot be: -40 to 60 works."),
        ("3 %", "3 % oxygen cannot be: 4 to 100 works."),
        ("101 %", "101 % oxygen cannot be: 4 to 100 works."),
        ("-32 %", "-32 % oxygen cannot be: 4 to 100 works."),
        ("nitrox 400", "400 % oxygen cannot be: 4 to 100 works."),
        ("0 min", "A dive of 0 minutes cannot be: up to 1440 works."),
        ("1441 min", "A dive of 1441 minutes cannot be: up to 1440 works."),
        ("24 h 1 min", "A dive of 1441 minutes cannot be: up to 1440 works."),
        ("0 dives", "0 dives cannot be: a count from 1 to 20 works."),
        ("-2 dives", "-2 dives cannot be: a count from 1 to 20 works."),
        ("1001 dives", "1001 dives cannot be: a count from 1 to 20 works."),
        (f"{'9' * 400} m", "A depth of inf m cannot be: up to 350 m works."),
    ],
    ids=lambda value: value[:24],
)
def test_value_that_cannot_be_is_named(text, said):
    with pytest.raises(SenselessError) as error:
        read(text)
    assert str(error.value) == said


@pytest.mark.parametrize(
    ("word", "number"),
    [
        ("a", 1),
        ("one", 1),
        ("seven", 7),
        ("twelve", 12),
        ("couple", 2),
        ("dozen", 12),
        ("17", 17),
        ("-3", -3),
    ],
)
def test_count_of_a_word_or_digits(word, number):
    assert count_of(word) == number


# what goes wrong today


@pytest.mark.parametrize(
    ("text", "depth"), [("18 m dive", 18.0), ("a 12 m dive", 12.0), ("60 ft dive", 18.3)]
)
def test_depth_that_goes_before_dive_is_no_count(text, depth):
    assert values(text) == {"dives": 1, "max_depth_m": depth}


def test_decimal_hours_after_dive_are_read_whole():
    assert values("dive 1.5 hours") == {"dives": 1, "duration_min": 90}


def test_air_temperature_is_no_gas():
    assert values("air temperature 9") == {"temps_c": (9.0,)}


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("1 dive 20 m and 1 dive 15 m", {"dives": 2, "max_depth_m": 20.0}),
        ("2 dives this morning and 1 at night", {"dives": 3}),
        ("the plan was two dives, just one dive then", {"dives": 1}),
        ("going on a dive trip, 15 dives", {"dives": 15}),
        ("today's dive: 90 min, 36 m", {"dives": 1, "duration_min": 90, "max_depth_m": 36.0}),
        ("1 dive, 28 and 22 metres", {"dives": 1, "max_depth_m": 28.0}),
        ("4 dives, 19 20 22 15m", {"dives": 4, "max_depth_m": 22.0}),
        ("1 dive, 18,5 m", {"dives": 1, "max_depth_m": 18.5}),
        ("1 dive, 1:25 h, 24 m", {"dives": 1, "duration_min": 85, "max_depth_m": 24.0}),
        ("dive 14.5m 53'", {"dives": 1, "duration_min": 53, "max_depth_m": 14.5}),
        ("dive 60' 40 min", {"dives": 1, "duration_min": 40, "max_depth_m": 18.3}),
        ("stage 80 aluminium, 50 % oxygen", {"o2_fraction": 0.5}),
        ("stage 50", {"o2_fraction": 0.5}),
    ],
)
def test_figures_of_real_messages(text, found):
    assert values(text) == found
