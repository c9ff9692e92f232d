"""O-rings as seals: sizes both ways, and whether a groove suits a ring. Pure arithmetic on published limits.

Limits: Apple Rubber Seal Design Guide (static squeeze 10 to 40 %, dynamic at most 30 %, stretch at most 5 %, at least 75 % of
the section inside the groove); Mechanical Engineers' Handbook vol. 3 (30 % static, 16 % dynamic); fill below 85 %: a trade page.
"""

from dataclasses import dataclass
from math import pi

from bot.advice.model import Advice, Because
from bot.advice.question import RingQuestion, Symptom
from bot.advice.rules import Verdict
from bot.advice.sources import RUBBER_TABLE
from bot.advice.wording import shorten
from store.catalogue.as568 import AS568, MM, RingSize
from store.vocabulary import Motion

STATIC_SQUEEZE_PCT = (10.0, 40.0)
DYNAMIC_SQUEEZE_PCT = 30.0
DYNAMIC_CAUTION_PCT = 16.0
MOST_STRETCH_PCT = 5.0
MOST_FILL_PCT = 85.0
_MEASURED_MM = 0.15
"""What a caliper in cold hands may be off."""

GUIDE = "Apple Rubber Seal Design Guide, O-ring installation"
HANDBOOK = "Mechanical Engineers' Handbook, vol. 3, Seal Technology"
SIZES = "SAE AS568 as transcribed from public tables"
FILL_PAGE = "trade page on gland fill (below 85 %)"


def squeeze_pct(cs: float, depth: float) -> float:
    """Return how much of the section a groove of that depth presses together; any one unit."""
    return 100 * (cs - depth) / cs


def stretch_pct(inside: float, shaft: float) -> float:
    """Return how much a ring is stretched over a shaft or groove bottom; any one unit."""
    return 100 * (shaft - inside) / inside


def fill_pct(cs: float, depth: float, width: float) -> float:
    """Return how much of the groove's section the ring fills; any one unit."""
    return 100 * (pi * cs**2 / 4) / (depth * width)


def candidates(id_mm: float, cs_mm: float) -> list[RingSize]:
    """Return the sizes within tolerance of a measured ring, nearest first."""
    found = []
    for size in AS568.values():
        off_id, off_cs = abs(size.id_in * MM - id_mm), abs(size.cs_in * MM - cs_mm)
        if off_id <= size.id_tol_in * MM + _MEASURED_MM and off_cs <= size.cs_tol_in * MM + _MEASURED_MM:
            found.append((off_id + off_cs, size))
    return [size for _, size in sorted(found, key=lambda pair: pair[0])]


def _nearest(id_mm: float, cs_mm: float) -> RingSize:
    return min(AS568.values(), key=lambda s: abs(s.id_in * MM - id_mm) + abs(s.cs_in * MM - cs_mm))


def dimensions(size: RingSize) -> str:
    """Say a size in millimetres and inches."""
    return f"-{size.dash}: inside {size.id_in * MM:.2f} ± {size.id_tol_in * MM:.2f} mm, section {size.cs_in * MM:.2f} ± {size.cs_tol_in * MM:.2f} mm"


@dataclass(frozen=True, slots=True)
class _Finding:
    text: str
    well: bool
    source: str


def ring_answer(question: RingQuestion) -> Advice:
    """Answer a question about the ring itself."""
    if question.symptom is not None:
        return _trouble(question.symptom)
    if question.depth_mm is not None or question.shaft_mm is not None:
        return _gland(question)
    if question.dash is not None:
        return _by_dash(question.dash)
    return _by_measure(question.id_mm or 0, question.cs_mm or 0)


def _by_dash(dash: str) -> Advice:
    size = AS568.get(dash)
    if size is None:
        return Advice(
            Verdict.CLARIFY,
            "O-ring",
            f"AS568 has no -{dash}. Measure inside and section: o-ring 12.4 x 1.78 mm.",
        )
    inches = f"In inches: {size.id_in:.3f} ± {size.id_tol_in:.3f} by {size.cs_in:.3f} ± {size.cs_tol_in:.3f}."
    return _told(
        Verdict.YES,
        f"{dimensions(size)}.",
        (inches, *_MATERIAL),
        (Because("as568", "standard size", SIZES, "published"), _RUBBER),
    )


def _by_measure(id_mm: float, cs_mm: float) -> Advice:
    found = candidates(id_mm, cs_mm)
    if not found:
        return _told(
            Verdict.NO,
            f"No AS568 size is {id_mm:g} x {cs_mm:g} mm: it may be a metric or a maker's own ring.",
            (f"The nearest is {dimensions(_nearest(id_mm, cs_mm))}: too far off to be it.", *_MATERIAL),
        )
    lines = tuple(dimensions(size) + "." for size in found[1:4])
    first = f"Nearest: {dimensions(found[0])}."
    return _told(
        Verdict.YES,
        first,
        (*lines, *_MATERIAL),
        (Because("as568", "within tolerance of what you measured", SIZES, "published"), _RUBBER),
    )


_MATERIAL = (
    "The size says nothing of the rubber: on life support the maker's part decides, in oxygen service too.",
)


_RUBBER = Because(
    "rubber_by_oil",
    "hydrocarbons attack NR, IIR and EPDM and spare NBR and FKM",
    str(RUBBER_TABLE),
    "published",
)


def _gland(q: RingQuestion) -> Advice:
    cs_mm = q.cs_mm or (AS568[q.dash].cs_in * MM if q.dash in AS568 else None)
    inside = q.id_mm or (AS568[q.dash].id_in * MM if q.dash in AS568 else None)
    findings: list[_Finding] = []
    if cs_mm and q.depth_mm:
        findings += _squeeze(squeeze_pct(cs_mm, q.depth_mm), q.motion)
    if cs_mm and q.depth_mm and q.width_mm:
        fill = fill_pct(cs_mm, q.depth_mm, q.width_mm)
        findings.append(
            _Finding(
                f"Fill {fill:.1f} %: {'room to swell' if fill < MOST_FILL_PCT else 'too full, it cannot swell'} (below 85 %).",
                fill < MOST_FILL_PCT,
                FILL_PAGE,
            )
        )
    if inside and q.shaft_mm:
        stretch = stretch_pct(inside, q.shaft_mm)
        well = 0 <= stretch <= MOST_STRETCH_PCT
        findings.append(
            _Finding(
                f"Stretch {stretch:.1f} %: {'fine' if well else 'not right'} (at most 5 %).", well, GUIDE
            )
        )
    if not findings:
        return Advice(
            Verdict.CLARIFY,
            "O-ring",
            "I need section and groove: o-ring section 3.53 mm, groove 2.82 deep, 4.75 wide.",
        )
    bad = [f for f in findings if not f.well]
    first = (bad or findings)[0].text
    because = tuple(Because("gland", f.text, f.source, "published") for f in findings)
    return _told(
        Verdict.NO if bad else Verdict.YES, first, tuple(f.text for f in findings if f.text != first), because
    )


def _squeeze(squeeze: float, motion: Motion | None) -> list[_Finding]:
    if motion is Motion.DYNAMIC:
        well = 0 < squeeze <= DYNAMIC_SQUEEZE_PCT
        found = [
            _Finding(
                f"Squeeze {squeeze:.1f} %: {'fine' if well else 'not right'} for a moving ring (at most 30 %).",
                well,
                GUIDE,
            )
        ]
        if well and squeeze > DYNAMIC_CAUTION_PCT:
            found.append(
                _Finding(
                    "Another handbook stops at 16 % for moving rings, 25 % in small sections.", True, HANDBOOK
                )
            )
        return found
    low, high = STATIC_SQUEEZE_PCT
    well = low <= squeeze <= high
    return [
        _Finding(
            f"Squeeze {squeeze:.1f} %: {'fine' if well else 'not right'} for a ring that stays still (10 to 40 %).",
            well,
            GUIDE,
        )
    ]


_TROUBLE: dict[Symptom, tuple[str, tuple[str, ...]]] = {
    Symptom.LEAKS: (
        "A leaking ring: clean, look, replace. Grease does not mend a ring.",
        (
            "Hair or grit across it, a nick or a flat, a scratched groove, the wrong size, too little squeeze (10 to 40 % where it stays still).",
            "Too hard or too old rubber does not press back: replace it.",
        ),
    ),
    Symptom.POPS_OUT: (
        "A ring that pops out: too little of it sits in the groove, or pressure pushes it through a gap.",
        (
            "At least 75 % of the section belongs inside the groove, or it may roll or be squeezed out.",
            "Check the size, the gap between the parts and worn threads; a lubricated cylinder neck ring can be squeezed out of its seat.",
        ),
    ),
    Symptom.TWISTS: (
        "A ring that twists: it moves dry, or it is too thin for its groove.",
        ("A thin film where it moves, the right section, a clean groove; a twisted ring is replaced.",),
    ),
}


def _trouble(symptom: Symptom) -> Advice:
    first, lines = _TROUBLE[symptom]
    because = (
        Because("section_in_groove", "at least 75 % of the section inside the groove", GUIDE, "published"),
        Because(f"ring_{symptom.value}", first, "common practice, no source", "practice"),
    )
    advice = _told(Verdict.DEPENDS, first, lines, because)
    return Advice(
        advice.verdict,
        advice.part,
        advice.short,
        lines=advice.lines,
        cautions=("Where breathing gas is behind it: do not dive it, a technician looks first.",),
        because=because,
    )


def _told(verdict: Verdict, first: str, lines: tuple[str, ...], because: tuple[Because, ...] = ()) -> Advice:
    return Advice(verdict, "O-ring", shorten(first), lines=lines, because=because)
