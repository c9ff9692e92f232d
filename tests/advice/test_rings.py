"""Sizes and grooves against published tables and worked examples."""

import json

import pytest

from bot.advice.answer import answer
from bot.advice.question import About, Question, RingQuestion, Symptom
from bot.advice.rings import candidates, fill_pct, squeeze_pct, stretch_pct
from bot.understand.in_passing import understand_question
from store.catalogue.as568 import AS568, MM
from store.vocabulary import Motion
from tests.conftest import START


def ring(**facts: object):
    return answer(Question(about=About.WHAT, ring=RingQuestion(**facts)))


# Sections and their tolerances by series: two public transcriptions of SAE AS568, and the gland table arithmetic.
@pytest.mark.parametrize(
    ("series", "section", "tolerance"),
    [("0", 0.070, 0.003), ("1", 0.103, 0.003), ("2", 0.139, 0.004), ("3", 0.210, 0.005), ("4", 0.275, 0.006)],
)
def test_series_has_one_section(series, section, tolerance):
    found = {
        (s.cs_in, s.cs_tol_in) for d, s in AS568.items() if d[0] == series and d not in {"001", "002", "003"}
    }
    assert found == {(section, tolerance)}


# Inside diameters that stand alike in two public transcriptions of SAE AS568.
@pytest.mark.parametrize(
    ("dash", "inside_in", "inside_mm"),
    [
        ("012", 0.364, 9.25),
        ("014", 0.489, 12.42),
        ("110", 0.362, 9.19),
        ("112", 0.487, 12.37),
        ("203", 0.296, 7.52),
        ("210", 0.734, 18.64),
        ("214", 0.984, 24.99),
    ],
)
def test_inside_diameter_is_that_of_the_transcriptions(dash, inside_in, inside_mm):
    assert (AS568[dash].id_in, round(AS568[dash].id_in * MM, 2)) == (
        inside_in,
        pytest.approx(inside_mm, abs=0.006),
    )


def test_table_holds_the_356_sizes_that_were_transcribed():
    assert len(AS568) == 356


@pytest.mark.parametrize("dash", ["006", "014", "112", "214", "222", "325", "450"])
def test_measured_ring_leads_back_to_its_size(dash):
    size = AS568[dash]
    assert candidates(size.id_in * MM, size.cs_in * MM)[0] == size


# Gland tables of the Apple Rubber design guide: squeeze of a section over a range of depths, within half a point.
@pytest.mark.parametrize(
    ("section", "tolerance", "shallow", "deep", "least", "most"),
    [
        (0.070, 0.003, 0.055, 0.057, 15, 25),
        (0.103, 0.003, 0.087, 0.090, 10, 18),
        (0.139, 0.004, 0.119, 0.123, 9, 17),
        (0.210, 0.005, 0.183, 0.188, 8.5, 15),
        (0.275, 0.006, 0.234, 0.240, 10.5, 17),
        (0.070, 0.003, 0.050, 0.055, 18, 32),
        (0.103, 0.003, 0.080, 0.086, 14, 25),
        (0.139, 0.004, 0.110, 0.116, 14, 23),
        (0.210, 0.005, 0.170, 0.176, 14, 21),
        (0.275, 0.006, 0.225, 0.235, 13, 20),
        (0.070, 0.003, 0.049, 0.054, 19, 33),
        (0.103, 0.003, 0.075, 0.081, 19, 29),
        (0.139, 0.004, 0.100, 0.108, 20, 30),
        (0.210, 0.005, 0.155, 0.165, 20, 28),
        (0.275, 0.006, 0.205, 0.215, 20, 27),
    ],
)
def test_squeeze_is_that_of_the_gland_table(section, tolerance, shallow, deep, least, most):
    assert squeeze_pct(section - tolerance, deep) == pytest.approx(least, abs=0.5)
    assert squeeze_pct(section + tolerance, shallow) == pytest.approx(most, abs=0.5)


# Worked example, calcady.com, o-ring squeeze and gland fill: section 0.139, depth 0.111, width 0.187.
def test_worked_example_of_squeeze_and_fill():
    assert squeeze_pct(0.139, 0.111) == pytest.approx(20.14, abs=0.05)
    assert fill_pct(0.139, 0.111, 0.187) == pytest.approx(73.1, abs=0.05)


# Apple Rubber Seal Design Guide: static squeeze about 10 to 40 %, dynamic at most 30 %, stretch at most 5 %.
@pytest.mark.parametrize(
    ("facts", "verdict"),
    [
        ({"cs_mm": 3.53, "depth_mm": 2.82}, "yes"),
        ({"cs_mm": 3.53, "depth_mm": 3.30}, "no"),
        ({"cs_mm": 3.53, "depth_mm": 2.00}, "no"),
        ({"cs_mm": 3.53, "depth_mm": 2.40, "motion": Motion.DYNAMIC}, "no"),
        ({"cs_mm": 3.53, "depth_mm": 3.00, "motion": Motion.DYNAMIC}, "yes"),
        ({"dash": "014", "shaft_mm": 13.0}, "yes"),
        ({"dash": "014", "shaft_mm": 13.2}, "no"),
        ({"cs_mm": 3.53, "depth_mm": 2.82, "width_mm": 3.6}, "no"),
    ],
)
def test_groove_is_judged_by_the_published_limits(facts, verdict):
    assert ring(**facts).verdict == verdict


def test_stretch_of_a_ring_on_its_own_diameter_is_none():
    assert stretch_pct(12.42, 12.42) == 0


@pytest.mark.parametrize(
    ("question", "first"),
    [
        ("what size is an AS568 -014 o-ring?", "-014: inside 12.42 ± 0.13 mm, section 1.78 ± 0.08 mm."),
        (
            "o-ring 12.4 x 1.78 mm, which dash?",
            "Nearest: -014: inside 12.42 ± 0.13 mm, section 1.78 ± 0.08 mm.",
        ),
        (
            "which dash is a 0.364 x 0.070 o ring",
            "Nearest: -012: inside 9.25 ± 0.13 mm, section 1.78 ± 0.08 mm.",
        ),
        (
            "o-ring section 0.139 groove 0.111 deep 0.187 wide, squeeze ok?",
            "Squeeze 20.1 %: fine for a ring that stays still (10 to 40 %).",
        ),
        ("what size is o-ring -999", "AS568 has no -999. Measure inside and section: o-ring 12.4 x 1.78 mm."),
        (
            "my o-ring keeps popping out",
            "A ring that pops out: too little of it sits in the groove, or pressure pushes it through a gap.",
        ),
        ("the light o-ring leaks", "A leaking ring: clean, look, replace. Grease does not mend a ring."),
        (
            "the oring twisted in its groove",
            "A ring that twists: it moves dry, or it is too thin for its groove.",
        ),
        (
            "o-ring 0.75 x 0.103 in",
            "Nearest: -910: inside 19.18 ± 0.23 mm, section 2.46 ± 0.08 mm.",
        ),
        (
            'o-ring 3/4" x 1/8"',
            "No AS568 size is 19.05 x 3.175 mm: it may be a metric or a maker's own ring.",
        ),
        (
            "o-ring inside 20 mm section 2.5 mm",
            "Nearest: -117: inside 20.29 ± 0.25 mm, section 2.62 ± 0.08 mm.",
        ),
        ("o-ring 0 x 0", "No AS568 size is 0 x 0 mm: it may be a metric or a maker's own ring."),
        (
            "what dash is a 99 x 17 mm o-ring",
            "No AS568 size is 99 x 17 mm: it may be a metric or a maker's own ring.",
        ),
    ],
)
def test_question_about_a_ring_is_read_and_answered(question, first):
    assert answer(understand_question(question, START.date()).question).short == first


@pytest.mark.parametrize("symptom", list(Symptom))
def test_trouble_with_a_ring_sends_gas_to_a_technician(symptom):
    assert "technician" in ring(symptom=symptom).cautions[0]


def test_size_is_never_said_to_settle_the_rubber():
    assert "life support the maker's part decides" in ring(dash="014").text


def test_ring_answers_fit_the_contract():
    data = ring(dash="014").as_data("q")
    assert (
        json.loads(json.dumps(data))["because"][0]["source"] == "SAE AS568 as transcribed from public tables"
    )
