"""What was said and not used: numbers, dates and names that no slot took are said back."""

import re
from collections.abc import Sequence

from bot.reading.clauses import Clause
from bot.reading.gates import RECORDS

_FIGURE = re.compile(
    r"(?<![\w.])\d+(?:[.,:/]\d+)*(?:st|nd|rd|th|m|ft|kg|bar|psi|%|°c?|c|f|l|min|h)?(?!\w)(?:\s?(?:bar|psi|kg|metres|meters|feet|litres|minutes|degrees))?",
    re.IGNORECASE,
)
_DENIED = re.compile(r"\b(?:not|no|instead of|rather than)\s+$", re.IGNORECASE)
_NAMES_IT = re.compile(
    r"\b(?:cylinder|tank|bottle|stage|reg|regulator|set|suit|light|torch|number|nr|no\.?)\s+$", re.IGNORECASE
)
_MOST = 3


def unused(clauses: Sequence[Clause], read_by_pattern: frozenset[str] = frozenset()) -> tuple[str, ...]:
    """Return the figures of clauses that record which stand in none of their spans; `read_by_pattern` names kinds whose readers take figures by themselves."""
    found: list[str] = []
    for clause in clauses:
        if (
            clause.kind not in RECORDS
            or clause.kind in read_by_pattern
            or clause.kind in {"fix_dive", "drop_dive"}  # what was wrong is said as well as what is right
            or clause.flags & {"not", "will", "if", "they"}
        ):
            continue
        for figure in _FIGURE.finditer(clause.text):
            at = clause.start + figure.start()
            if len(re.sub(r"\D", "", figure.group())) < 2 and not re.search(
                r"m$|ft|°|st|nd|rd|th", figure.group().lower()
            ):
                continue  # "1 cup of water"
            if _NAMES_IT.search(clause.text[: figure.start()]):
                continue
            if _DENIED.search(clause.text[: figure.start()]):
                continue
            if not any(
                s.start <= at < s.end or s.start < at + len(figure.group()) <= s.end for s in clause.spans
            ):
                found.append(figure.group().strip())
    return tuple(dict.fromkeys(found))[:_MOST]


_FROM_LONG = 300
"""Letters from which on a message may be longer than what is read of it."""


def beyond(clauses: Sequence[Clause], text: str) -> tuple[str, ...]:
    """Return where the reading of a long message ended; nothing where all of it was read."""
    end = max((c.end for c in clauses), default=0)
    rest = text[end:].strip(" .,;!?)")
    return (
        (f"what comes after “{text[max(0, end - 20) : end].strip()}”",)
        if len(text) > _FROM_LONG and rest
        else ()
    )
