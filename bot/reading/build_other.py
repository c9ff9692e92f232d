"""Clauses that ask, or want something shown, set, shared or sent. What each says in detail is read by the readers of its family."""

import re

from bot.advice.question import About
from bot.reading.clauses import Clause
from bot.reading.link import mention, spelled
from bot.reading.scene import Scene
from bot.understand.about import is_question
from bot.understand.dive_changes import read_log
from bot.understand.fitness import read_fitness
from bot.understand.follow_up import follow_up
from bot.understand.intents import (
    Ask,
    Export,
    Intent,
    Misunderstood,
    ShowDue,
    ShowKit,
    Snooze,
)
from bot.understand.kit import read_show, read_why_due
from bot.understand.message import Message
from bot.understand.papers import read_paper
from bot.understand.put_off import read_snooze
from bot.understand.questions import read_question
from bot.understand.requests import read_request
from bot.understand.rings import read_ring
from bot.understand.small_talk import declined, read_small_talk, thanked
from store.vocabulary import Task


def in_words(clause: Clause, scene: Scene) -> Message:
    """Return a clause with kit and substances in words that the catalogue knows."""
    text, at = "", clause.start
    for span in clause.spans:
        if span.start < at:
            continue
        text += clause.text[at - clause.start : span.start - clause.start] + spelled(span, scene)
        at = span.end
    return scene.of((text + clause.text[at - clause.start :]).strip(" ,;"))


def _item(clause: Clause, scene: Scene) -> str | None:
    named = (mention(s, scene) for s in clause.of("item") if s.id != "all")
    return next((n for n in named if n), None)


def _task(clause: Clause) -> Task | None:
    return next((_TASKS[i] for i in clause.ids("act") if i in _TASKS), None)


_TASKS = {t.value: t for t in Task}


def ask(clause: Clause, scene: Scene, last: Intent | None) -> Intent | None:
    """Return the question of a clause, carried on from the one before it where it names no part of its own."""
    m = in_words(clause, scene)
    if (refused := read_fitness(m) or declined(m)) is not None and is_question(m):
        return refused
    carried = (follow_up(m, last) or _carried(clause, m, last)) if isinstance(last, Ask) else None
    found = carried or (_of_it(clause, m, scene) or read_ring(m) or read_question(m))
    if found is None and scene.item:
        found = read_question(scene.of(f"{m.raw} on the {scene.item}"))
    return found


_ITS = re.compile(r"\b(?:it|its|it's|that|this|the same)\b", re.IGNORECASE)


def _of_it(clause: Clause, m: Message, scene: Scene) -> Intent | None:
    """Return a question on a part of "it" as one on the item last spoken of: "what goes on its ring"."""
    if scene.item is None or not _ITS.search(clause.text) or _item(clause, scene) not in {None, scene.item}:
        return None
    if not clause.of("part"):
        return None
    read = read_question(scene.of(f"{m.raw.rstrip(' ?.')} on the {scene.item}"))
    return read if isinstance(read, Ask) and read.question.candidates else None


_WHAT_THEN = re.compile(
    r"\b(?:what(?:'?s)?|which|how|whit)\b.*\b(?:then|instead|use|put|go|goes|want|need|best|proper|right|good|ok|okay|should|stuff|on it|there)\b|^\W*(?:so |and |ok )*(?:what|whit) then\b|^\W*(?:and |so |ok )*then (?:what|whit)\b",
    re.IGNORECASE,
)
_GOOD = re.compile(r"\b(?:good|ok|okay|fine|safe|all right|alright|usable|dive it|use it)\b", re.IGNORECASE)
_WIPE = re.compile(
    r"\b(?:wipe|wiped|clean|cleaned|rinse|rinsed|wash|still|just)\b.*\b(?:use|dive|fill|off|on|tomorrow|ok|okay|it)\b",
    re.IGNORECASE,
)
_NOTHING_NEW: dict[str, object] = {
    "weighed": (), "rest": (), "happened": False, "unknown_substance": None, "cleaning": False, "manual": None,
}  # fmt: skip
_SHORT = 12
"""Words up to which a question that names nothing is of what was spoken of."""


def _carried(clause: Clause, m: Message, last: Ask) -> Ask | None:
    """Return "what should I use then" and "wipe it off and dive it?" as asking of the part last spoken of."""
    before = last.question
    names = [s for s in clause.spans if s.slot in {"item", "part", "stuff"} and s.id != "it"]
    if names or m.substances or not (before.candidates or before.item) or len(clause.text.split()) > _SHORT:
        return None
    good_again = clause.text.rstrip().endswith("?") and _GOOD.search(clause.text)
    if before.about is About.CONTAMINATED and (good_again or _WIPE.search(clause.text)):
        return Ask(question=before.model_copy(update={"happened": False, "rest": ()}), said=clause.text[:200])
    if not _WHAT_THEN.search(clause.text):
        return None
    return Ask(
        question=before.model_copy(update={**_NOTHING_NEW, "about": About.WHAT, "substance": None}),
        said=clause.text[:200],
    )


def due(clause: Clause, scene: Scene) -> Intent:
    """Return what of the due list is wanted."""
    m = in_words(clause, scene)
    found = read_show(m)
    return found if isinstance(found, ShowDue) else ShowDue(item=_item(clause, scene))


def why(clause: Clause, scene: Scene) -> Intent:
    """Return which task is asked about."""
    found = read_why_due(in_words(clause, scene))
    item = _item(clause, scene)
    refs = () if item else tuple(sorted(in_words(clause, scene).parts, key=lambda r: (r.item, r.part)))
    return found or ShowDue(
        why=True, item=item or (None if refs else scene.item), refs=refs, task=_task(clause)
    )


def history(clause: Clause, scene: Scene) -> Intent:
    """Return what of the record is asked: when an act was done last, or how often an item was dived."""
    item = _item(clause, scene)
    task = _task(clause)
    m = in_words(clause, scene)
    refs = tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    if task is None and not refs:
        return ShowKit(item=item or scene.item)
    return ShowDue(
        why=True, item=item or (None if refs else scene.item), task=task, refs=() if item else refs
    )


def show_kit(clause: Clause, scene: Scene) -> Intent:
    """Return whether the kit is wanted or one item of it."""
    return ShowKit(item=_item(clause, scene))


def show_dives(clause: Clause, scene: Scene) -> Intent:
    """Return the wish to see the log."""
    return read_log(in_words(clause, scene)) or ShowKit(dives=True)


def snooze(clause: Clause, scene: Scene) -> Intent:
    """Return what is put off, and until when."""
    m = in_words(clause, scene)
    found = read_snooze(m) or read_snooze(scene.of(f"snooze {m.raw}"))
    return found or Snooze(item=_item(clause, scene))


_PAPERS: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("record", re.compile(r"\brecord|history|log ?book|service")),
    ("trip_sheet", re.compile(r"\btrip|sheet|pack")),
    ("card", re.compile(r"card|pocket|cheat|print")),
)


def paper(clause: Clause, scene: Scene) -> Intent:
    """Return which paper is wanted."""
    m = in_words(clause, scene)
    found = read_paper(m)
    if isinstance(found, Export):
        return found
    what = next((w for w, words in _PAPERS if words.search(m.plain)), "card")
    return Export.model_validate({"what": what, "item": _item(clause, scene) if what == "record" else None})


def export(clause: Clause, scene: Scene) -> Intent:
    """Return which file is wanted."""
    m = scene.of(clause.text)
    found = read_paper(m) or read_request(m)
    if isinstance(found, Export):
        return found
    text = m.plain
    what = (
        "csv"
        if re.search(r"csv|spread|table|excel", text)
        else "calendar"
        if re.search(r"calend|ical|\bics\b", text)
        else "data"
    )
    return Export.model_validate({"what": what})


def board(clause: Clause, scene: Scene) -> Intent:
    """Return the wish for the picture of what is due."""
    found = read_paper(scene.of(clause.text))
    return found if isinstance(found, ShowDue) else ShowDue(board=True)


def chat(clause: Clause, scene: Scene) -> Intent:
    """Return a kind word to what asks for nothing."""
    m = scene.of(clause.text)
    return (
        declined(m)
        or thanked(m)
        or read_small_talk(m)
        or Misunderstood(problem="All right. Nothing to note in that.")
    )


def other(clause: Clause, scene: Scene) -> Intent:
    """Return that this is not ours, with whom to ask."""
    found = declined(scene.of(clause.text))
    return found or Misunderstood(problem="That is not mine to answer: I keep kit and its care.")
