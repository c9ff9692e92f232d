"""Marked messages to what the encoder is trained on: pieces with a label each, and honest disturbances of them."""

import random
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bot.reading.labels import FLAGS, IDS, KINDS, TAGS
from bot.reading.pieces import cut
from tests.training.marks import Marked, Span

NOTHING = -100
"""A label that no loss is taken of."""


@dataclass(slots=True)
class Example:
    """Rows are pieces. `border` and `flags` are 0 or 1; other labels are numbers of `labels`, NOTHING where none applies."""

    ids: list[int]
    types: list[int]
    border: list[int]
    kind: list[int]
    flags: list[list[int]]
    tag: list[int]
    links: dict[str, list[int]]
    kinds: tuple[int, ...] = ()
    """Where only the intent of a whole message is known: the kinds that it may be of."""


def labelled(marked: Marked, vocabulary: Mapping[str, int]) -> Example:
    """Return a marked message as pieces with their labels."""
    pieces = cut(marked.text, vocabulary, marked.context)
    rows = len(pieces.ids)
    out = Example(
        pieces.ids,
        pieces.types,
        [NOTHING] * rows,
        [NOTHING] * rows,
        [[0] * len(FLAGS) for _ in range(rows)],
        [NOTHING] * rows,
        {slot: [NOTHING] * rows for slot in IDS},
    )
    begun: set[int] = set()
    last: Span | None = None
    for row, place in enumerate(pieces.places):
        if place is None:
            continue
        at = next((n for n, c in enumerate(marked.clauses) if c.start <= place[0] < c.end), None)
        clause = marked.clauses[at] if at is not None else None
        if pieces.begins[row]:
            out.border[row] = int(at is not None and at not in begun)
            begun.add(at if at is not None else -1)
        out.kind[row] = KINDS.index(clause.kind if clause else "lead")
        if clause:
            out.flags[row] = [int(f in clause.flags) for f in FLAGS]
        span = next((s for s in marked.spans if s.start < place[1] and place[0] < s.end), None)
        out.tag[row] = TAGS.index(f"{'I' if span is last else 'B'}-{span.slot}") if span else 0
        last = span
        if span and span.id:
            of = "item" if span.slot == "left" else span.slot
            out.links[of][row] = IDS[of].index(span.id)
    return out


_KINDS_OF: dict[str, tuple[str, ...]] = {
    "log_dive": ("dive", "fix_dive", "drop_dive"),
    "record_care": ("care", "mishap"),
    "add_item": ("kit", "fact"),
    "plan_trip": ("trip", "fix_trip", "drop_trip", "show_trip"),
    "show_due": ("due", "why", "board", "history"),
    "show_kit": ("show_kit", "show_dives", "history"),
    "set_preference": ("wish", "word"),
    "snooze": ("snooze",),
    "retire_item": ("gone",),
    "record_manual": ("manual",),
    "undo": ("undo", "drop_dive"),
    "export": ("export", "paper"),
    "share_locker": ("share",),
    "help": ("help",),
    "forget_me": ("forget",),
    "ask": ("ask",),
}
"""Which kinds of clause the older corpora's intents may be."""


def of_intent(text: str, intent: str, vocabulary: Mapping[str, int]) -> Example | None:
    """Return a message of which only the intent is known; None for intents that say nothing of a kind."""
    return of_kinds(text, _KINDS_OF[intent], vocabulary) if intent in _KINDS_OF else None


def of_kinds(text: str, kinds: Sequence[str], vocabulary: Mapping[str, int], context: str = "") -> Example:
    """Return a message of which only the kinds are known that it may be of."""
    pieces = cut(text, vocabulary, context)
    rows = len(pieces.ids)
    bare = [NOTHING] * rows
    return Example(
        pieces.ids,
        pieces.types,
        bare,
        bare,
        [[0] * len(FLAGS) for _ in range(rows)],
        bare,
        dict.fromkeys(IDS, bare),
        tuple(KINDS.index(k) for k in kinds),
    )


_LEADS = """so|ok so|right|hi|hey|hello|hi there|morning|evening all|hey bot|ok|okay|well|um|erm|btw|by the way|quick one|just so you know|oh|oh and|and|also|hm|hmm|good evening|right then,|so yeah|listen|please|pls|dear bot,|hiya|yo|ahoy|good morning!|sorry,|fyi|for the record|note:|update:|one more thing|before i forget|hi its me again|ok next|guess what|well well|back again|alright|bonjour|hallo|hola|ciao|hei|moin|g'day|now|look|here we go|thanks!|thank you.|cheers,|great,|good,|cool|nice one.|yes|yeah|no worries,""".split(
    "|"
)
_TAILS = """thanks|thx|please|pls|cheers|:)|!|!!|...|lol|haha|mate|bot|ok?|that's all|over|ta|thank you|btw|as usual|today was cold|👍|x""".split(
    "|"
)
_FILLERS = "like|uh|um|actually|basically|you know|i think|just|really|erm|well|kind of".split("|")
_JOINTS = (
    ", ",
    ". ",
    " and ",
    "; ",
    " - ",
    " also ",
    " then ",
    ", and ",
    ", oh and ",
    " ",
    ";",
    ". then ",
    " plus ",
)
_WORDS = dict(
    zip(
        "0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16 17 18 19 20 30 40 50 60 70 80 90".split(),
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety".split(),
        strict=True,
    )
)
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")


def changed(marked: Marked, edits: Sequence[tuple[int, int, str]]) -> Marked:
    """Return a message with pieces of its text replaced and all places moved along; edits neither overlap nor cross an edge of a span."""
    text, moved, at, shift = "", [], 0, 0
    for start, end, new in sorted(edits):
        text += marked.text[at:start] + new
        at = end
        shift += len(new) - (end - start)
        moved.append((start, end, shift))
    text += marked.text[at:]

    def place(p: int) -> int:
        return p + next((after for _, end, after in reversed(moved) if p >= end), 0)

    return replace(
        marked,
        text=text,
        clauses=tuple(replace(c, start=place(c.start), end=place(c.end)) for c in marked.clauses),
        spans=tuple(replace(s, start=place(s.start), end=place(s.end)) for s in marked.spans),
    )


def joined(first: Marked, second: Marked, joint: str) -> Marked:
    """Return two messages as one, the second without a context of its own."""
    shift = len(first.text) + len(joint)
    clauses = tuple(replace(c, start=c.start + shift, end=c.end + shift) for c in second.clauses)
    last = first.clauses[-1]
    return replace(
        first,
        text=first.text + joint + second.text,
        clauses=(*first.clauses[:-1], replace(last, end=clauses[0].start), *clauses),
        spans=(*first.spans, *(replace(s, start=s.start + shift, end=s.end + shift) for s in second.spans)),
    )


def disturbed(marked: Marked, others: Sequence[Marked], dice: random.Random) -> Marked:
    """Return the message as others might have typed it: joined with another, with a lead-in, fillers, slips, bare of signs."""
    for _ in range(2):
        if dice.random() < 0.25 and len(marked.text) < 140:
            other = dice.choice(others)
            if not other.context and len(other.text) < 100:
                marked = joined(marked, other, dice.choice(_JOINTS))
    if dice.random() < 0.15:
        marked = _led(marked, dice.choice(_LEADS) + dice.choice((" ", ", ", " ")))
    if dice.random() < 0.10 and marked.text:
        tail = " " + dice.choice(_TAILS)
        end = len(marked.text)
        marked = replace(
            marked,
            text=marked.text + tail,
            clauses=(*marked.clauses[:-1], replace(marked.clauses[-1], end=end + len(tail))),
        )
    if dice.random() < 0.30:
        marked = changed(marked, _slips(marked, dice, dice.choice((0.04, 0.08, 0.15))))
    if dice.random() < 0.15:
        marked = changed(
            marked,
            [
                (m.start(), m.end(), " ")
                for m in re.finditer(r"(?<=\w)[,;.!?](?=\s)", marked.text)
                if not _inside(marked, m.start())
            ],
        )
    if dice.random() < 0.15:
        marked = changed(
            marked,
            [
                (m.start(), m.end(), dice.choice((" ; ", ";", " and ", "; ")))
                for m in re.finditer(r", ", marked.text)
                if not _inside(marked, m.start())
            ],
        )
    if dice.random() < 0.12:
        marked = changed(
            marked,
            [
                (m.start(), m.end(), _WORDS[m.group()])
                for m in re.finditer(r"(?<![\w.,/:])\d{1,2}(?![\w.,/:%])", marked.text)
                if m.group() in _WORDS
            ],
        )
    if dice.random() < 0.08:
        spots = [m.start() for m in re.finditer(r" ", marked.text) if not _inside(marked, m.start())]
        if spots:
            at = dice.choice(spots)
            marked = changed(marked, [(at, at + 1, f" {dice.choice(_FILLERS)} ")])
    return marked


def _led(marked: Marked, lead: str) -> Marked:
    return replace(
        marked,
        text=lead + marked.text,
        clauses=tuple(replace(c, start=c.start + len(lead), end=c.end + len(lead)) for c in marked.clauses),
        spans=tuple(replace(s, start=s.start + len(lead), end=s.end + len(lead)) for s in marked.spans),
    )


def _inside(marked: Marked, at: int) -> bool:
    return any(s.start <= at < s.end for s in marked.spans)


def _slips(marked: Marked, dice: random.Random, rate: float) -> list[tuple[int, int, str]]:
    """Return slips of the thumb inside words: letters doubled, swapped, left out, or the one beside it."""
    found = []
    for m in re.finditer(r"[a-zA-Z]{4,}", marked.text):
        if dice.random() >= rate:
            continue
        word = m.group()
        at = dice.randrange(1, len(word) - 1)
        row = next((r for r in _ROWS if word[at].lower() in r), "")
        near = row[max(0, row.find(word[at].lower()) - 1)] if row else word[at]
        slip = dice.choice(
            (
                word[:at] + word[at + 1 :],
                word[:at] + word[at] + word[at:],
                word[:at] + word[at + 1] + word[at] + word[at + 2 :],
                word[:at] + near + word[at + 1 :],
            )
        )
        found.append((m.start(), m.end(), slip))
    return found
