"""Clauses that tell of care that was done, and of what befell kit."""

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise

from bot.advice.substances import STUFF, Trait
from bot.reading import gates, values
from bot.reading.clauses import Clause, Span
from bot.reading.link import is_one, kind_of, mention_in, refs_of, substance_of
from bot.reading.scene import Scene
from bot.understand.care import by_technician_said, part_words
from bot.understand.cylinders import TASK_OF
from bot.understand.intents import RecordCare
from store.vocabulary import CylinderTest, Happening, ItemKind, Substance, Task

AHEAD = "tell me once it is done."
_TESTS = {
    "hydro": CylinderTest.HYDROSTATIC,
    "visual": CylinderTest.VISUAL,
    "valve": CylinderTest.VALVE,
    "eddy": CylinderTest.EDDY_CURRENT,
}
TASKS = {**{t.value: t for t in Task}, "pack": Task.REPLACE}
HAPPENED = {
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
_WITH = frozenset({Task.LUBRICATE, Task.POWDER, Task.CLEAN, Task.DISINFECT, Task.RINSE})
"""Tasks that are done with a substance."""
_BEFELL = re.compile(
    r"flood|leak|tor[en]|tear|rip|brok|break|crack|drop|flow|heat|hot|burn|corrod|rust|dent|damag|burst|split|snap|die|dead|fail|puncture|hole|swell|swollen|stuck|drown|hiss|empty",
    re.IGNORECASE,
)
_ALL = re.compile(r"\b(?:kit|gear|everything|all|lot|equipment|stuff)\b", re.IGNORECASE)


_PUT_ON = re.compile(
    r"\b(?:fresh|new|bit|thin|little|film|dab|smear|on it|on them|with|put|rubbed|applied)\b", re.IGNORECASE
)


@dataclass
class _Group:
    """Acts told of the same targets: "zip brushed and waxed"."""

    acts: list[Span] = field(default_factory=list)
    targets: list[Span] = field(default_factory=list)
    stuff: list[Span] = field(default_factory=list)
    tests: list[Span] = field(default_factory=list)
    left: list[Span] = field(default_factory=list)
    acts_first: bool = False
    stuff_first: bool = False

    @property
    def start(self) -> int:
        """Return where what was done is said."""
        return min((s.start for s in (*self.acts, *self.tests, *self.stuff)), default=0)

    def by_test(self) -> "list[_Group]":
        """Return a group for each of several tests, each with the day behind it: "hydro June 2022, visual in March"."""
        if len(self.tests) < 2:
            return [self]
        return [replace(self, tests=[test], acts=[]) for test in self.tests]

    def take(self, span: Span) -> None:
        """Add a span in its role."""
        self.acts_first = self.acts_first or (span.slot == "act" and not self.targets)
        self.stuff_first = self.stuff_first or (span.slot == "stuff" and not self.targets)
        of = {"act": self.acts, "stuff": self.stuff, "test": self.tests, "left": self.left}
        of.get(span.slot, self.targets).append(span)


def record(clause: Clause, scene: Scene) -> RecordCare | None:
    """Return the acts of care that a clause tells, the first holding the others; None if it names no act or no target."""
    groups = [one for group in _groups(clause) for one in group.by_test()]
    ahead = [w for w in clause.of("when") if _lies_ahead(w, scene)] if len(groups) > 1 else []
    behind = [w for w in clause.of("when") if w not in ahead]
    on, month_only = values.on_of(behind, scene, AHEAD)
    said = scene.of(clause.text)
    acts: list[RecordCare] = []
    for group, after in zip(groups, [*groups[1:], None], strict=True):
        own = [
            w for w in clause.of("when") if group.start <= w.start < (after.start if after else clause.end)
        ]
        if own and own[0] in ahead:
            continue  # "the bailouts stay for tomorrow"
        its_day = values.on_of(own, scene, AHEAD) if own else (on, month_only)
        for act in _of_group(group, clause, scene):
            technician = by_technician_said(said, act.task or Task.CLEAN)
            acts.append(
                act.model_copy(
                    update={"on": its_day[0], "month_only": its_day[1], "by_technician": technician}
                )
            )
        named = [m for s in group.targets if s.slot == "item" and (m := mention_in(s, clause, scene))]
        scene = scene.after(list(dict.fromkeys(named)))
    told = sorted(
        dict.fromkeys(acts), key=lambda a: a.happened is None
    )  # what befell it goes first, then what was done about it
    return told[0].model_copy(update={"also": tuple(told[1:])}) if told else None


def _lies_ahead(when: Span, scene: Scene) -> bool:
    on = values.days(when, scene).on
    return on is not None and on > scene.today


def _groups(clause: Clause) -> list[_Group]:
    """Join acts and targets: a new group begins at an act after "act, target", at a target after "target, act", and so with substances."""
    groups = [_Group()]
    spans = [
        s
        for s in clause.spans
        if s.slot in _ROLES
        and not (s.slot == "act" and gates.is_denied(s, clause))
        and not (s.slot in {"item", "part"} and _NOT_IT.match(clause.text, s.end - clause.start))
    ]
    for span, after in zip(spans, (*spans[1:], None), strict=False):
        if span.slot != "act" or not _repeats(span, groups[-1]):
            leads = after is not None and _leads_on(span, after, groups[-1], clause)
            if leads or _begins_group(span, groups[-1], clause):
                groups.append(_Group())
            groups[-1].take(span)
    for before, group in pairwise(groups):
        only_it = all(t.id == "it" for t in group.targets) and any(t.id == "all" for t in before.targets)
        if group.acts and (not group.targets or only_it):  # "opened the torch, dried it"
            gentle = {TASKS.get(a.id or "") for a in group.acts} <= _OF_ALL
            group.targets = [t for t in before.targets if gentle or t.id != "all"]
            group.left = group.left or before.left
    return groups


_NOT_IT = re.compile(
    r"\s+(?:is |was |are )?(?:not|no|nope)(?: yet| done)*\s*(?:[,.;!]|$|\band\b|\bbut\b)", re.IGNORECASE
)
"""Behind what was left out: "rinsed the wing, torch not yet"."""
_OF_ALL = frozenset({Task.RINSE, Task.DRY, Task.DISINFECT, Task.CLEAN, Task.INSPECT})
"""What may be done to everything without saying so again."""
_APART = re.compile(r"[,;.]|\b(?:and|then|plus|n)\b", re.IGNORECASE)


def _leads_on(target: Span, act: Span, group: _Group, clause: Clause) -> bool:
    """Tell whether a target belongs to the act right behind it rather than to the one before: "rinsed all, zip waxed"."""
    if target.slot == "stuff":  # "hosed the suit, talc on the seals"
        pair = act.slot in {"item", "part"} and bool((group.acts or group.stuff) and group.targets)
    else:
        pair = (
            target.slot in {"item", "part"}
            and act.slot == "act"
            and bool(group.targets and (group.acts_first or (group.stuff and group.acts)))
        )
    if not pair:
        return False
    last = max(s.end for s in (*group.acts, *group.targets, *group.left))
    before = clause.text[last - clause.start : target.start - clause.start]
    between = clause.text[target.end - clause.start : act.start - clause.start]
    return bool(_APART.search(before)) and not _APART.search(between)


_ROLES = frozenset({"act", "item", "part", "stuff", "test", "left"})


def _repeats(act: Span, group: _Group) -> bool:
    """Tell whether an act only says the one before once more: "gauge check done", "ran wax down it"."""
    if not group.acts:
        return False
    return act.text.casefold() in {"done", "did", "finished"} or (
        act.id == group.acts[-1].id and not group.targets
    )


def _begins_group(span: Span, group: _Group, clause: Clause) -> bool:
    if span.slot == "act" and not group.acts and group.stuff and group.targets:  # "talc on seals, wax on zip"
        last = max(s.end for s in (*group.targets, *group.stuff)) - clause.start
        between = clause.text[last : span.start - clause.start]
        return bool(_APART.search(between)) and (group.stuff_first or "." in between)
    if span.slot == "act" and group.acts:
        told = group.targets and group.acts_first
        return bool(told or not (group.targets or _beside(group.acts[-1], span, clause)))
    if span.slot in {"item", "part"} and group.targets and (group.acts or group.stuff):
        return not group.acts_first and not group.stuff_first and not _belongs(span, clause)
    return span.slot == "stuff" and bool(
        group.stuff and group.targets and group.stuff_first and not group.acts
    )


_JOINS = re.compile(r"[\s,&+/]*(?:(?:and|n|then|und|also)\b)?[\s,&+/]*", re.IGNORECASE)


def _beside(before: Span, act: Span, clause: Clause) -> bool:
    """Tell whether two acts stand beside each other, so that what follows was done to the same: "brushed and waxed the zip"."""
    return _JOINS.fullmatch(clause.text[before.end - clause.start : act.start - clause.start]) is not None


_OF = re.compile(r"\b(?:of|on|from|in|at|for)\s+(?:the|my|our|his|her|a)?\s*$", re.IGNORECASE)


def _belongs(span: Span, clause: Clause) -> bool:
    """Tell whether a target only says of what the one before is: "zip waxed on the dry suit"."""
    return bool(_OF.search(clause.text[: span.start - clause.start]))


def _of_group(group: _Group, clause: Clause, scene: Scene) -> list[RecordCare]:
    stuff = next((s for span in group.stuff if (s := substance_of(span, scene))), None)
    tests = [_TESTS[s.id] for s in group.tests if s.id in _TESTS]
    tasks = [TASKS[s.id] for s in group.acts if s.id in TASKS]
    if stuff is Substance.FRESH_WATER:
        tasks = [Task.RINSE if t is Task.CLEAN else t for t in tasks]
    befell = [
        HAPPENED[s.id]
        for s in group.acts
        if s.id in HAPPENED and _BEFELL.search(s.text) and not _is_mended(s, clause)
    ]
    if stuff is Substance.TALC:
        tasks = [Task.POWDER if t is Task.LUBRICATE else t for t in tasks]
    if stuff is Substance.DISINFECTANT:
        tasks = [Task.DISINFECT if t in {Task.CLEAN, Task.RINSE} else t for t in tasks]
    if stuff and not tasks and not befell and group.targets:
        tasks = [_BY_STUFF.get(stuff, Task.LUBRICATE)]
    if (not tasks and not tests and not befell) or (group.stuff and not group.targets and not group.left):
        return []  # what it was put on is not said, and must not be guessed
    if (
        stuff
        and Trait.FILM in STUFF[stuff].traits
        and set(tasks) <= {Task.CLEAN, Task.INSPECT, Task.DRY, Task.RINSE}
        and _PUT_ON.search(clause.text)
    ):
        tasks.append(Task.LUBRICATE)  # "wiped the ring, fresh grease on it"
    everything = any(
        s.id == "all" and s.sure >= _SURE_OF_ALL and not _counts(s, group.targets, clause)
        for s in group.targets
    ) or bool(group.left and not group.targets)
    items = [s for s in group.targets if s.slot == "item" and s.id != "all"]
    parts = [s for s in group.targets if s.slot == "part"]
    but = tuple(filter(None, (mention_in(s, clause, scene) for s in group.left)))
    found = [
        RecordCare(happened=what).model_copy(update=on)
        for what in dict.fromkeys(befell)
        for on in targets(items, parts[:1], clause, scene)
    ]
    for task, test in _acts(tasks, tests):
        film = stuff is not None and Trait.FILM in STUFF[stuff].traits
        suits = stuff if task in _WITH and not (film and task in {Task.CLEAN, Task.RINSE}) else None
        suits = None if task is Task.DISINFECT and stuff is not Substance.DISINFECTANT else suits
        suits = suits or (Substance.TALC if task is Task.POWDER else None)
        base = RecordCare(task=task, test=test, substance=suits)
        found += (
            [base.model_copy(update=on) for on in targets(items, parts, clause, scene)]
            if not everything
            else []
        )
        if everything:
            of = _ALL.search(clause.text)
            found.append(
                base.model_copy(update={"everything": True, "but": but, "item": None if of else scene.item})
            )
            found += [
                base.model_copy(update=on) for on in targets(items, parts, clause, scene) if items or parts
            ]
    return found


_SURE_OF_ALL = 0.8
_WAS = re.compile(r"\b(?:was|were|had been|had|used to)\s+(?:\w+\s+)?$", re.IGNORECASE)


def _is_mended(act: Span, clause: Clause) -> bool:
    """Tell whether a mishap is only why something was done before: "serviced the reg, it was free flowing"."""
    done = any(a.id in TASKS and a.end <= act.start for a in clause.of("act"))
    return done and bool(_WAS.search(clause.text[: act.start - clause.start]))


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


def targets(items: list[Span], parts: list[Span], clause: Clause, scene: Scene) -> list[dict[str, object]]:
    """Return what each act was done to: each part on its item, each item alone, or what was last spoken of."""
    named: list[tuple[str, ItemKind | None, bool]] = [
        (m, kind_of(s, scene), is_one(s, clause))
        for s in items
        if s.id != "it" and (m := mention_in(s, clause, scene))
    ]
    it = [s for s in items if s.id == "it"]
    if not named and not parts and (not items or it):
        many = not it or _MANY.search(it[0].text)
        named = [(m, None, False) for m in (scene.them if many else ())] or (
            [(scene.item, None, False)] if scene.item else []
        )
    if not parts:
        rows: list[dict[str, object]] = [{"item": item, "kind": k, "one": one} for item, k, one in named]
        if not rows and scene.part:
            refs = refs_of(scene.part, None, scene)
            rows = [{"refs": refs, "part": part_words(refs)}] if refs else rows
        return rows
    found: list[dict[str, object]] = []
    owners: list[str] = []
    for part in parts:
        of, kind, one = next(
            (row for row in named if _has(part, row[0], scene)), named[0] if named else (None, None, False)
        )
        if of is None:
            spoken = (*scene.items, *([scene.item] if scene.item else []))
            of = next((m for m in spoken if _has(part, m, scene)), None)
        owners.append(of or "")
        refs = refs_of(part, of, scene, kind)
        if refs or of:
            found.append({"item": of, "kind": kind, "refs": refs, "part": part_words(refs), "one": one})
    return found + [{"item": item, "kind": k, "one": one} for item, k, one in named if item not in owners]


_MANY = re.compile(r"\b(?:them|they|those|these|both|all)\b", re.IGNORECASE)


def _has(part: Span, item: str, scene: Scene) -> bool:
    """Tell whether an item of that name may have such a part; what any item has of that name goes first."""
    kinds = set(scene.of(item).kinds)
    anywhere = {r.item for r in refs_of(part, None, scene)}
    return bool(kinds & anywhere) or bool(kinds and not anywhere and refs_of(part, item, scene))
