"""Clauses that tell what the maker's manual says."""

import re
from dataclasses import replace

from bot.reading.build_other import in_words
from bot.reading.clauses import Clause, Span
from bot.reading.scene import Scene
from bot.understand.intents import Intent, RecordManual, Several
from bot.understand.manual import read_manual
from bot.understand.rings import read_ring_size


def manual(clause: Clause, scene: Scene) -> Intent | None:
    """Return what the maker's manual says; of several intervals each with its act. None if it says nothing that is kept."""
    pairs = _pairs(clause)
    if len(pairs) < 2:
        return _one(clause, scene)
    told = [
        m for act, every in pairs if isinstance(m := _one(_only(clause, act, every), scene), RecordManual)
    ]
    own = [m.model_copy(update={"text": clause.text[:500]}) for m in told]
    return Several(of=tuple(own)) if len(own) > 1 else own[0] if own else None


def _one(clause: Clause, scene: Scene) -> Intent | None:
    m = in_words(clause, scene)
    return read_manual(m) or read_ring_size(m) or read_manual(scene.of(f"the manual says {m.raw}"))


_OR = re.compile(r"\s*(?:,|/|or)+\s*", re.IGNORECASE)


def _pairs(clause: Clause) -> list[tuple[Span, Span]]:
    """Pair each interval with the act it is of: the one before it, else the one behind; "every 2 years or 100 dives" is one."""
    acts = clause.of("act")
    found: list[tuple[Span, Span]] = []
    if len(acts) < 2:
        return []
    for every in clause.of("every"):
        before = [a for a in acts if a.end <= every.start]
        act = before[-1] if before else acts[0]
        if found and _OR.fullmatch(clause.text[found[-1][1].end - clause.start : every.start - clause.start]):
            continue
        found.append((act, every))
    return found if len({id(a) for a, _ in found}) == len(found) else []


def _only(clause: Clause, act: Span, every: Span) -> Clause:
    """Return a clause with one act and one interval of several, the kit kept."""
    kept = [s for s in clause.spans if s.slot in {"item", "part", "stuff"}]
    text, spans = "", []
    for span in (*kept, act, every):
        spans.append(
            replace(span, start=clause.start + len(text), end=clause.start + len(text) + len(span.text))
        )
        text += f"{span.text} "
    return replace(clause, text=text.strip(), end=clause.start + len(text.strip()), spans=tuple(spans))
