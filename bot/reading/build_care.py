"""Clauses that tell of care that was done, and of what befell kit."""

import re
from dataclasses import dataclass, field

from bot.advice.question import About, PartRef, Question, Stated
from bot.advice.substances import STUFF, Trait
from bot.reading import values
from bot.reading.clauses import Clause, Span
from bot.reading.link import kind_of, mention_in, refs_of, substance_of
from bot.reading.scene import Scene
from bot.understand.care import by_technician_said, part_words
from bot.understand.cylinders import TASK_OF
from bot.understand.intents import Ask, RecordCare
from bot.understand.message import Message
from store.vocabulary import CylinderTest, Happening, ItemKind, Substance, Task

_AHEAD = "tell me once it is done."
_TESTS = {
    "hydro": CylinderTest.HYDROSTATIC,
    "visual": CylinderTest.VISUAL,
    "valve": CylinderTest.VALVE,
    "eddy": CylinderTest.EDDY_CURRENT,
}
_TASKS = {**{t.value: t for t in Task}, "pack": Task.REPLACE}
_HAPPENED = {
    **{h.value: h for h in Happening},
    "freeflow": Happening.LEAKING,
    "battery": Happening.DAMAGED,
}
_BY_STUFF = {
    Substance.TALC: Task.POWDER,
    Substance.FRESH_WATER: Task.RINSE,
    Substance.DISINFECTANT: Task.DISINFECT,
    Substance.SOAPY_WATER: Task.CLEAN,
    Substance.WHITE_VINEGAR: Task.CLEAN,
}
_ALL = re.compile(r"\b(?:kit|gear|everything|all|lot|equipment|stuff)\b", re.IGNORECASE)


_PUT_ON = re.compile(r"\b(?:fresh|new|bit of|thin|little|film|dab|smear|on it|on them|with)\b", re.IGNORECASE)


@dataclass
class _Group:
    """Acts told of the same targets: "zip brushed and waxed"."""

    acts: list[Span] = field(default_factory=list)
    targets: list[Span] = field(default_factory=list)
    stuff: list[Span] = field(default_factory=list)
    tests: list[Span] = field(default_factory=list)
    left: list[Span] = field(default_factory=list)
    acts_first: bool = False


def record(clause: Clause, scene: Scene) -> RecordCare | None:
    """Return the acts of care that a clause tells, the first holding the others; None if it names no act or no target."""
    on, month_only = values.on_of(clause.of("when"), scene, _AHEAD)
    said = scene.of(clause.text)
    acts = [
        act.model_copy(
            update={
                "on": on,
                "month_only": month_only,
                "by_technician": by_technician_said(said, act.task or Task.CLEAN),
            }
        )
        for group in _groups(clause)
        for act in _of_group(group, clause, scene)
    ]
    return acts[0].model_copy(update={"also": tuple(acts[1:])}) if acts else None


def _groups(clause: Clause) -> list[_Group]:
    """Join acts and targets: a new group begins at an act after "act, target", or at a target after "target, act"."""
    groups = [_Group()]
    for span in clause.spans:
        here = groups[-1]
        if span.slot == "act":
            if here.acts and span.text.casefold() in {"done", "did", "finished"}:
                continue  # "gauge check done"
            if here.acts and here.targets and here.acts_first:
                groups.append(here := _Group())
            here.acts_first = here.acts_first or not here.targets
            here.acts.append(span)
        elif span.slot in {"item", "part"}:
            if here.acts and here.targets and not here.acts_first and not _belongs(span, clause):
                groups.append(here := _Group())
            here.targets.append(span)
        elif span.slot in {"stuff", "test", "left"}:
            {"stuff": here.stuff, "test": here.tests, "left": here.left}[span.slot].append(span)
    return groups


_OF = re.compile(r"\b(?:of|on|from|in|at|for)\s+(?:the|my|our|his|her|a)?\s*$", re.IGNORECASE)


def _belongs(span: Span, clause: Clause) -> bool:
    """Tell whether a target only says of what the one before is: "zip waxed on the dry suit"."""
    return bool(_OF.search(clause.text[: span.start - clause.start]))


def _of_group(group: _Group, clause: Clause, scene: Scene) -> list[RecordCare]:
    stuff = next((s for span in group.stuff if (s := substance_of(span, scene))), None)
    tests = [_TESTS[s.id] for s in group.tests if s.id in _TESTS]
    tasks = [_TASKS[s.id] for s in group.acts if s.id in _TASKS]
    if stuff and not tasks and group.targets:
        tasks = [_BY_STUFF.get(stuff, Task.LUBRICATE)]
    if (not tasks and not tests) or (group.stuff and not group.targets and not group.left):
        return []  # what it was put on is not said, and must not be guessed
    if (
        stuff
        and Trait.FILM in STUFF[stuff].traits
        and set(tasks) <= {Task.CLEAN, Task.INSPECT, Task.DRY, Task.RINSE}
        and _PUT_ON.search(clause.text)
    ):
        tasks.append(Task.LUBRICATE)  # "wiped the ring, fresh grease on it"
    everything = any(s.id == "all" and not _counts(s, group.targets, clause) for s in group.targets) or bool(
        group.left and not group.targets
    )
    items = [s for s in group.targets if s.slot == "item" and s.id != "all"]
    parts = [s for s in group.targets if s.slot == "part"]
    but = tuple(filter(None, (mention_in(s, clause, scene) for s in group.left)))
    found: list[RecordCare] = []
    for task, test in _acts(tasks, tests):
        suits = (
            stuff if task in {Task.LUBRICATE, Task.POWDER, Task.CLEAN, Task.DISINFECT, Task.RINSE} else None
        )
        suits = suits or (Substance.TALC if task is Task.POWDER else None)
        base = RecordCare(task=task, test=test, substance=suits)
        found += (
            [base.model_copy(update=on) for on in _targets(items, parts, clause, scene)]
            if not everything
            else []
        )
        if everything:
            of = _ALL.search(clause.text)
            found.append(
                base.model_copy(update={"everything": True, "but": but, "item": None if of else scene.item})
            )
            found += [
                base.model_copy(update=on) for on in _targets(items, parts, clause, scene) if items or parts
            ]
    return found


def _counts(span: Span, targets: list[Span], clause: Clause) -> bool:
    """Tell whether "all" only counts the kit named right after it: "all the cylinders"."""
    after = next((s for s in targets if s.slot == "item" and s.start >= span.end), None)
    gap = clause.text[span.end - clause.start : after.start - clause.start] if after else None
    return gap is not None and _OF_THEM.fullmatch(gap) is not None


_OF_THEM = re.compile(r"\s*(?:of\s+)?(?:the|my|our)?\s*(?:\d+\s*)?", re.IGNORECASE)


def _acts(tasks: list[Task], tests: list[CylinderTest]) -> list[tuple[Task, CylinderTest | None]]:
    """Join tests named with the words that say they were done; an act that is no test stands beside them."""
    if not tests:
        return [(task, None) for task in dict.fromkeys(tasks)]
    others = [t for t in tasks if t not in {Task.TEST, Task.INSPECT, Task.SERVICE}]
    return [*((TASK_OF[test], test) for test in dict.fromkeys(tests)), *((t, None) for t in others)]


def _targets(items: list[Span], parts: list[Span], clause: Clause, scene: Scene) -> list[dict[str, object]]:
    """Return what each act was done to: each part on its item, each item alone, or what was last spoken of."""
    named = [(m, kind_of(s, scene)) for s in items if (m := mention_in(s, clause, scene))]
    if not parts:
        whole = named or ([(scene.item, None)] if scene.item else [])
        rows: list[dict[str, object]] = [{"item": item, "kind": kind} for item, kind in whole]
        if not items and scene.item is None and scene.part:
            refs = refs_of(scene.part, None, scene)
            rows = [{"refs": refs, "part": part_words(refs)}] if refs else rows
        return rows
    of, kind = named[0] if named else (scene.item if scene.fresh or _has(parts, scene) else None, None)
    found: list[dict[str, object]] = []
    for part in parts:
        refs = refs_of(part, of, scene, kind)
        if refs or of:
            found.append({"item": of, "kind": kind, "refs": refs, "part": part_words(refs)})
    return found + [{"item": item, "kind": k} for item, k in named[1:]]


def _has(parts: list[Span], scene: Scene) -> bool:
    """Tell whether the item last spoken of has such a part."""
    kinds = set(scene.of(scene.item).kinds) if scene.item else set()
    return any({r.item for r in refs_of(p, None, scene)} & kinds for p in parts)


def happened(clause: Clause, scene: Scene) -> RecordCare | Ask | None:
    """Return what befell kit: a mishap to record, or a substance that got where it should not be. None if nothing is named."""
    stuff = [(s, substance_of(s, scene)) for s in clause.of("stuff")]
    told = [s.id for s in clause.of("act") if s.id]
    items = [s for s in clause.of("item") if s.id != "all"]
    parts = list(clause.of("part"))
    if stuff and (not told or "contaminated" in told or not any(t in _HAPPENED for t in told)):
        return got_on(stuff[0], items, parts, clause, scene)
    befell = next((_HAPPENED[t] for t in told if t in _HAPPENED), None)
    if befell is None:
        return None
    on, _ = values.on_of(clause.of("when"), scene, _AHEAD)
    rows = _targets(items, parts[:1], clause, scene)
    acts = [RecordCare(happened=befell, on=on).model_copy(update=row) for row in rows]
    return acts[0].model_copy(update={"also": tuple(acts[1:])}) if acts else None


def tainted(at: tuple[PartRef, ...] | ItemKind, words: Message, clause: Clause) -> Ask:
    """Return that something that burns got on a part or an item in breathing gas."""
    burning = next(s for _, _, s in words.substances if Trait.BURNS in STUFF[s].traits)
    kind = at if isinstance(at, ItemKind) else next(iter(words.kinds), None)
    question = Question(
        about=About.CONTAMINATED,
        candidates=() if isinstance(at, ItemKind) else at,
        item=kind,
        substance=burning,
        happened=True,
        stated=_gas_of(words.plain),
    )
    return Ask(question=question, said=clause.text[-200:])


def _gas_of(said: str | None) -> Stated:
    """Return the gas by which one of several cylinders is told: "the oxygen stage"."""
    return Stated(o2_fraction=values.oxygen_of(said)) if said else Stated()


def got_on(
    stuff: tuple[Span, Substance | None], items: list[Span], parts: list[Span], clause: Clause, scene: Scene
) -> Ask | None:
    """Return that a substance got on a part; the handler notes what that takes out of oxygen service."""
    span, substance = stuff
    of = next((m for s in items if (m := mention_in(s, clause, scene))), None) or scene.item
    kind = next((k for s in items if (k := kind_of(s, scene))), None)
    if kind is None and of:
        kind = next(iter(scene.of(of).kinds), None)
    refs: tuple[PartRef, ...] = ()
    for part in parts:
        refs = refs_of(part, of, scene, kind)
        if refs:
            break
    if not refs and kind is None and not parts:
        return None
    question = Question(
        about=About.CONTAMINATED,
        candidates=refs,
        item=kind,
        substance=substance,
        happened=True,
        unknown_substance=None if substance else span.text[:40],
        stated=_gas_of(of),
    )
    said = f"{clause.text} ({of})" if of and of not in clause.text else clause.text
    return Ask(question=question, said=said[-200:])
