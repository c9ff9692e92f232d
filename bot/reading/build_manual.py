"""Clauses that tell what the maker's manual says."""

import re
from dataclasses import replace
from itertools import pairwise

from bot.reading.build_other import in_words
from bot.reading.clauses import Clause
from bot.reading.scene import Scene
from bot.understand.intents import Intent, RecordManual, Several
from bot.understand.manual import read_manual
from bot.understand.rings import read_ring_size


def manual(clause: Clause, scene: Scene) -> Intent | None:
    """Return what the maker's manual says; of several intervals each with its act. None if it says nothing that is kept."""
    parts = [_one(part, scene) for part in _by_interval(clause)]
    told = [m.model_copy(update={"text": clause.text[:500]}) for m in parts if isinstance(m, RecordManual)]
    if len(parts) < 2 or not told:
        return _one(clause, scene)
    return Several(of=tuple(told)) if len(told) > 1 else told[0]


def _one(clause: Clause, scene: Scene) -> Intent | None:
    m = in_words(clause, scene)
    return read_manual(m) or read_ring_size(m) or read_manual(scene.of(f"the manual says {m.raw}"))


_JOINT = re.compile(r"\b(?:and|then)\b|[,;]\s", re.IGNORECASE)
_OR = re.compile(r"\s*(?:,|/|or)+\s*", re.IGNORECASE)


def _by_interval(clause: Clause) -> list[Clause]:
    """Return a clause cut at the "and" before each further interval, the kit named first kept in all; "every 2 years or 100 dives" is one."""
    cuts = [clause.start]
    for before, every in pairwise(clause.of("every")):
        between = clause.text[before.end - clause.start : every.start - clause.start]
        joint = _JOINT.search(between)
        if joint is not None and not _OR.fullmatch(between):
            cuts.append(before.end + joint.end())
    kit = [s for s in clause.spans if s.slot in {"item", "part", "stuff"} and s.end <= (*cuts, clause.end)[1]]
    found = []
    for start, end in pairwise([*cuts, clause.end]):
        own = clause.text[start - clause.start : end - clause.start]
        named = any(start <= s.start < end for s in clause.spans if s.slot in {"item", "part"})
        words = "" if named else " ".join(s.text for s in reversed(kit)) + " "
        found.append(replace(clause, text=f"{words}{own}".strip(" ,;"), spans=()))
    return found
