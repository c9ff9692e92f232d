"""Reads questions about the ring itself: its size, its groove, or why it leaks."""

import re

from bot.advice.question import About, Question, RingQuestion, Symptom
from bot.understand.intents import Ask
from bot.understand.message import Message
from store.catalogue.as568 import MM
from store.vocabulary import Motion

_N = r"(\d{1,2}/\d{1,2}|\d{1,3}(?:[.,]\d{1,3})?)"
_UNIT = r"\s*(mm|in\b|inch(?:es)?|\")?"
_DASH = re.compile(
    r"(?:\bas ?-?568(?:[a-d])?[- ]*|\bdash[- ]*|\bsize[- ]*-?|(?<![\w.,])-|\boring[- ]+-?)(\d{3})\b(?!\s*(?:bar|psi|m\b|mm|dives?|min))"
)
_BY = re.compile(rf"(?<![\w.,/-]){_N}{_UNIT}\s*(?:x|by)\s*{_N}{_UNIT}(?!\s*(?:dives?|min|m\b))")
_INSIDE = re.compile(rf"\b(?:id|inside|inner)(?: diameter)?(?: of| is|:)? {_N}{_UNIT}")
_SECTION = re.compile(rf"\b(?:cs|section|cross section|thick(?:ness)?)(?: of| is|:)? {_N}{_UNIT}")
_SECTION_AFTER = re.compile(rf"{_N}{_UNIT} (?:section|thick|cs)\b")
_DEPTH = re.compile(rf"\b(?:depth|deep)(?: of| is|:)? {_N}{_UNIT}|{_N}{_UNIT} deep\b|\bgroove {_N}{_UNIT}")
_WIDTH = re.compile(rf"\b(?:width|wide)(?: of| is|:)? {_N}{_UNIT}|{_N}{_UNIT} wide\b")
_SHAFT = re.compile(
    rf"\b(?:shaft|groove bottom|piston groove|spigot)(?: diameter)?(?: of| is|:)? {_N}{_UNIT}"
)
_ABOUT_SIZE = re.compile(
    r"\b(?:as ?-?568|dash|size|sizes|dimension|dimensions|measure[sd]?|id|inside diameter|which oring|what oring)\b|\bx\b|\d\s?x\s?\d"
)
_ABOUT_GROOVE = re.compile(r"\b(?:squeeze|stretch|gland|groove|fill)\b")
_SYMPTOMS = (
    (
        Symptom.POPS_OUT,
        re.compile(
            r"\b(?:pop(?:s|ped|ping)? (?:\w+ )?out|extrud\w+|blow(?:s|n|ing)? out|squeezed out|comes out of)\b"
        ),
    ),
    (
        Symptom.TWISTS,
        re.compile(r"\b(?:keeps? (?:on )?twisting|twisted|rolled|rolls (?:out|up|over)|spiral\w*)\b"),
    ),
    (Symptom.LEAKS, re.compile(r"\b(?:leak(?:s|ed|ing|y)?|weep(?:s|ing)?|bubbl(?:es|ing))\b")),
)
_WANTS_STUFF = re.compile(r"\b(?:put|grease|lube|lubricant|lubricate|goes on|use)\b")


def read_ring(m: Message) -> Ask | None:
    """Read a question about an O-ring's size, groove or trouble; None if it is about anything else."""
    if not {"oring", "dash", "as568", "as", "groove"} & set(m.tokens) or m.substances:
        return None
    text = m.mended.replace("o-ring", "oring").replace("o ring", "oring")
    found = _groove(m, text) or _size(text) or _trouble(m)
    if found is None:
        return None
    return Ask(question=Question(about=About.WHAT, ring=found), said=m.raw[:200])


def read_ring_size(m: Message) -> Ask | None:
    """Read a size alone, whose numbers must not be taken for a dive's."""
    asked = read_ring(m)
    ring = asked.question.ring if asked else None
    return asked if ring and (ring.id_mm is not None or ring.depth_mm is not None) else None


def _mm(match: re.Match[str] | None) -> float | None:
    """Return a length in millimetres; a number without a unit is inches where it is below one."""
    if match is None:
        return None
    groups = [g for g in match.groups() if g is not None]
    return _length(groups[0], groups[1] if len(groups) > 1 else None)


def _section(text: str) -> float | None:
    return _mm(_SECTION.search(text) or _SECTION_AFTER.search(text))


def _value(number: str) -> float:
    """Read a decimal or a fraction such as 3/4; a fraction of nothing is 0, which no ring has."""
    above, _, below = number.replace(",", ".").partition("/")
    return float(above) / float(below) if below and float(below) else 0.0 if below else float(above)


def _length(number: str, unit: str | None, *, inches: bool = False) -> float:
    value = _value(number)
    told_inches = "/" in number or (unit is not None and unit != "mm")
    return value * MM if told_inches or (unit is None and (inches or value < 1)) else value


def _size(text: str) -> RingQuestion | None:
    if m := _BY.search(text):
        if not _ABOUT_SIZE.search(text):
            return None
        first, u1, second, u2 = m.groups()
        unit = u1 or u2
        a, b = (_length(x, unit, inches=unit is None and _value(second) < 0.3) for x in (first, second))
        return RingQuestion(id_mm=max(a, b), cs_mm=min(a, b))
    inside, section = _mm(_INSIDE.search(text)), _section(text)
    if inside and section:
        return RingQuestion(id_mm=inside, cs_mm=section)
    if dash := _DASH.search(text):
        return RingQuestion(dash=dash.group(1))
    return None


def _groove(m: Message, text: str) -> RingQuestion | None:
    if not _ABOUT_GROOVE.search(text):
        return None
    depth, shaft = _mm(_DEPTH.search(text)), _mm(_SHAFT.search(text))
    if depth is None and shaft is None:
        return None
    dash = _DASH.search(text)
    moving = any(value is Motion.DYNAMIC for _, _, (name, value) in m.stated if name == "motion")
    return RingQuestion(
        dash=dash.group(1) if dash else None,
        id_mm=_mm(_INSIDE.search(text)),
        cs_mm=_section(text),
        depth_mm=depth,
        width_mm=_mm(_WIDTH.search(text)),
        shaft_mm=shaft,
        motion=Motion.DYNAMIC if moving else Motion.STATIC,
    )


def _trouble(m: Message) -> RingQuestion | None:
    if _WANTS_STUFF.search(m.plain):
        return None
    return next(
        (RingQuestion(symptom=symptom) for symptom, pattern in _SYMPTOMS if pattern.search(m.plain)), None
    )
