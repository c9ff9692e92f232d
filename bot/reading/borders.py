"""Where a clause begins and ends: what tells of one thing is joined, and an act told within a clause on dives is set apart."""

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from bot.reading import choose
from bot.reading.clauses import Clause
from bot.reading.encoder import Encoder
from bot.reading.figures import mended

_TALK = frozenset({"chat", "lead"})


def clauses_of(text: str, encoder: Encoder, context: str) -> tuple[Clause, ...]:
    """Return the clauses of a message that say something; small talk only where there is nothing else."""
    found = tuple(replace(c, spans=mended(c.spans, text)) for c in encoder.clauses(text, context))
    telling = [c for c in found if c.kind not in _TALK]
    if sum(c.kind == "dive" for c in telling) > 1:
        telling = [c for c in telling if not _says_what_was_not(c)]
    telling = [piece for c in _lists_whole(telling, text) for piece in _ahead_apart(c, text)]
    telling = [piece for c in _further_dives(telling) for piece in _gone_apart(c, text)]
    said = [c for c in telling if c.spans or choose.is_sure(c)] or telling
    return tuple(_joined([piece for c in said for piece in _acts_apart(c, text)], text)) or found[:1]


_AHEAD = re.compile(
    r"\b(?:will|going to|gonna|tomorrow|tmrw|tmr|next|later|l8r|still (?:has|have|need)s?|must|have to|needs? to)\b|'ll\b",
    re.IGNORECASE,
)
_PLANNED = re.compile(r"\b(?:plan\w*|hope|hoping|want|intend\w*|if)\b", re.IGNORECASE)
_BETWEEN = re.compile(r"[,;.]\s|\b(?:and|but|then)\b", re.IGNORECASE)


def _ahead_apart(clause: Clause, text: str) -> list[Clause]:
    """Set what lies ahead apart from what was done before it in one clause: "rinsed the wing, will do the suit tomorrow"."""
    ahead = _AHEAD.search(clause.text) if "will" in clause.flags and clause.kind in {"dive", "care"} else None
    if ahead is None:
        return [clause]
    cut = max((m.start() for m in _BETWEEN.finditer(clause.text, 0, ahead.start())), default=0)
    done = _piece(clause, clause.start, clause.start + cut, text)
    if not any(s.slot in {"act", "n", "depth"} for s in done.spans) or _PLANNED.search(done.text):
        return [clause]
    if clause.kind == "dive":
        return [replace(done, flags=clause.flags - {"will"})]
    return [
        replace(done, flags=clause.flags - {"will"}),
        _piece(clause, clause.start + cut, clause.end, text),
    ]


_GONE = re.compile(
    r"(?:[.;,!]\s+|\band\s+)(?=(?:the |my )?(?:old|cracked|broken|torn|dead|flooded|leaking|other) (?:ones?|wan)\b.*\b(?:bin|binned|garbage|trash\w*|rubbish|gone|sold|threw|thrown|chucked|tossed|scrapped)\b)",
    re.IGNORECASE,
)


def _gone_apart(clause: Clause, text: str) -> list[Clause]:
    """Set apart that the old one went when a new one came: "bought a new mask and the cracked one's in the bin"."""
    told = _GONE.search(clause.text) if clause.kind == "kit" else None
    if told is None:
        return [clause]
    cut = clause.start + told.end()
    return [
        _piece(clause, clause.start, cut, text),
        replace(_piece(clause, cut, clause.end, text), kind="gone", flags=frozenset()),
    ]


def _further_dives(clauses: list[Clause]) -> list[Clause]:
    """Return an unsure clause with a count behind one on dives as telling of further dives: "4 on saturday", "and on sunday only 1"."""
    found: list[Clause] = []
    for clause in clauses:
        further = (
            bool(found) and found[-1].kind == "dive" and clause.kind == "fix_dive" and clause.other == "dive"
        )
        unsure = clause.sure < choose.SURE_TO_ACT and bool(clause.of("n")) and bool(clause.of("when"))
        found.append(
            replace(clause, kind="dive", other="fix_dive", sure=choose.SURE_TO_ACT)
            if further and unsure
            else clause
        )
    return found


_ENDS_IN_A_LIST = re.compile(r"(?:\band|&|\bn|,)\s*$", re.IGNORECASE)


def _lists_whole(clauses: list[Clause], text: str) -> list[Clause]:
    """Move kit that a clause ends in with "and" to the next one, which goes on with kit: "... 21 m. Regulator and" "suit I put in water"."""
    found = list(clauses)
    for n, (clause, after) in enumerate(pairwise(clauses)):
        last = clause.spans[-1] if clause.spans else None
        first = after.spans[0] if after.spans else None
        if last is None or first is None or clause.kind != "dive" or after.kind not in {"care", "mishap"}:
            continue
        kit = {last.slot, first.slot} <= {"item", "part"} and first.start - after.start <= len("the ")
        between = text[last.end : first.start]
        if kit and len(between) <= len(" and the ") and _ENDS_IN_A_LIST.search(clause.text):
            found[n] = replace(
                clause, text=text[clause.start : last.start].rstrip(), end=last.start, spans=clause.spans[:-1]
            )
            found[n + 1] = replace(
                after, text=text[last.start : after.end], start=last.start, spans=(last, *after.spans)
            )
    return found


def _says_what_was_not(clause: Clause) -> bool:
    """Tell whether a clause beside another on dives only says what there was none of: "no surf today"."""
    return (
        clause.kind == "dive" and "not" in clause.flags and {s.slot for s in clause.spans} <= {"cond", "when"}
    )


_CHUNK = re.compile(r"\s*(?:[,;.!]+(?=\s|$)|\band\b|\bthen\b|\bplus\b|&|\+)\s*", re.IGNORECASE)


def _acts_apart(clause: Clause, text: str) -> list[Clause]:
    """Set an act told within a clause on dives apart: "2 dives, rinsed the suit" tells of two things, wherever its border was seen."""
    acts = [s for s in clause.of("act") if s.id != "other"]
    if clause.kind not in {"dive", "fix_dive"} or not acts:
        return [clause]
    edges = [clause.start + m.end() for m in _CHUNK.finditer(clause.text)]
    starts = list(
        dict.fromkeys(
            e for a in acts if (e := max((e for e in edges if e <= a.start), default=0)) > clause.start
        )
    )
    pieces = [
        _piece(clause, start, end, text)
        for start, end in zip([clause.start, *starts], [*starts, clause.end], strict=True)
    ]
    return [
        p if n == 0 else replace(p, kind=_kind_of_act(p), other=clause.kind) for n, p in enumerate(pieces)
    ]


def _piece(clause: Clause, start: int, end: int, text: str) -> Clause:
    spans = tuple(s for s in clause.spans if start <= s.start < end)
    return replace(clause, text=text[start:end].rstrip(" ,;"), start=start, end=end, spans=spans)


def _kind_of_act(clause: Clause) -> str:
    return "care" if any(s.id in _CARE for s in clause.of("act")) else "mishap"


_CARE = frozenset(
    "clean lubricate powder inspect service test replace rinse dry disinfect calibrate pack".split()
)


def _joined(clauses: Sequence[Clause], text: str) -> list[Clause]:
    """Join neighbours that tell of one thing: a list of kit, a dive whose figures come in pieces."""
    found: list[Clause] = []
    for clause in clauses:
        before = found[-1] if found else None
        if before is not None and (
            (before.kind == clause.kind and before.flags == clause.flags and _are_one(before, clause))
            or _goes_on(before, clause)
            or _is_of_that_act(before, clause)
        ):
            found[-1] = replace(
                before,
                text=text[before.start : clause.end],
                end=clause.end,
                spans=(*before.spans, *clause.spans),
                sure=max(before.sure, clause.sure),
            )
        else:
            found.append(clause)
    return found


def _is_of_that_act(before: Clause, clause: Clause) -> bool:
    """Tell whether a clause only names more kit to which what the one before tells was done: "rinsed the suit in the bath" "and the mask, fins"."""
    slots = {s.slot for s in clause.spans}
    bare = (
        slots
        and slots <= {"item", "part", "left", "n", "fact"}
        and len(clause.text.split()) <= _FEW * max(1, len(clause.spans))
    )
    told = before.kind == "care" and before.flags == clause.flags and bool(before.of("act"))
    return told and bool(bare) and clause.kind in {"care", "mishap"} and not _DENIED.search(clause.text)


_FEW = 4
_DENIED = re.compile(r"\b(?:not|no|but|never|later|tomorrow)\b", re.IGNORECASE)
_PUTS_RIGHT = re.compile(
    r"\b(?:no|not|wait|sorry|actually|correction|wrong|rather|instead|make (?:it|that)|should be|oops|second|first|last)\b",
    re.IGNORECASE,
)


def _goes_on(before: Clause, clause: Clause) -> bool:
    """Tell whether a clause only says more of the dives just told, whatever kind it was taken for: "deco on 50 %", "silt kicked up"."""
    if before.kind != "dive" or before.flags:
        return False
    had, has = ({s.slot for s in c.spans} for c in (before, clause))
    if clause.kind == "fix_dive":
        return (
            not has & {"n", "when"} and not had & has & _OF_ONE_DIVE and not _PUTS_RIGHT.search(clause.text)
        )
    return clause.kind == "mishap" and "cond" in has and not has & {"item", "part", "stuff"}


_OF_ONE_DIVE = frozenset({"n", "depth", "time", "temp", "when", "gas"})


def _are_one(before: Clause, clause: Clause) -> bool:
    if clause.kind in {"kit", "snooze", "trip"}:
        return True
    if clause.kind not in {"dive", "fix_dive", "drop_dive"}:
        return False
    had, has = ({s.slot for s in c.spans} & _OF_ONE_DIVE for c in (before, clause))
    if not had - {"when", "temp"} and (not had & has or had == {"when"}):
        return True  # "today under ice in the quarry. 3 dives, ..."
    if not had & {"n", "when"} and "n" in has and not had & has:
        return True  # "12 C down at 20 m; one dive, 39 minutes"
    return not has & {"n", "when"} and not had & has
