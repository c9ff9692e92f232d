"""Which substance a message asks about, and what a maker's manual is said to ask for."""

import re

from bot.understand import vocabulary as v
from bot.understand.message import Message
from store.vocabulary import Substance

_MANUAL = re.compile(
    r"manual|maker|manufacturer|handbook|instructions?|makers|manufacturers|booklet|maker's|manufacturer's"
)
_MANUAL_SAYS = re.compile(
    rf"\b(?:{_MANUAL.pattern})\b(?: \w+){{0,6}}? (?:says?|asks?|wants?|calls?|recommends?|specifies|tells?|requires?|states?|suggests?|names?"
    r"|allows?|said|want|prescribes?|insists?)\b"
)
_SILENT = re.compile(
    r"(?:says?|said|has|is) (?:nothing|silent|no word)\b(?! (?:goes|on|may|should|at all on|to be put))"
)
_NOTHING = re.compile(
    r"\b(?:nothing|no lubricant|no grease|dry|without lubricant|never lubricate|do not lubricate|not to lubricate)\b"
)
_CONTAINS = re.compile(
    r"\b(?:with|contain\w*|has|having|made (?:of|from)|based on|full of) (?:some |a bit of )?(silicone|paraffin)\b|\b(silicone|paraffin) in it\b"
)
_VAGUE_CHOICE = re.compile(
    r"\boil or (?:a )?(?:grease|lubricant)\b|\b(?:grease|lubricant|lube) or (?:an? )?oil\b"
)
_ASKS_LEAVE = re.compile(
    r"\b(?:can|may|should|ok|okay|is it|still|really|use|follow|trust|obey|do as|as it says|do it|right|true|fine|good|correct)\b"
)
_UNKNOWN = re.compile(
    r"\b(?:can|could|may|should|is it ok(?:ay)?|is it safe|ok|safe)\b(?: to)? (?:i |we |you )?(?:put|use|apply|spray|rub) "
    r"(?:some |my |the |this |a bit of |a little )?(?P<name>[\w-]+(?: [\w-]+)?) (?:on|in|for|to|onto)\b"
    r"|\b(?:is|are) (?:some |my |the |this )?(?P<named>[\w-]+(?: [\w-]+)?) (?:ok|okay|safe|good|fine|allowed|all right|alright) (?:on|in|for|to|onto)\b"
)
_UNKNOWN_DONE = re.compile(
    r"\b(?:put|used|sprayed|smeared|rubbed|applied|wiped) (?:some |my |a bit of |a little )?(?P<name>[\w-]{3,20}) (?:on|onto|over|into)\b"
)
_GENERIC = frozenset(
    "grease lubricant oil lube wax anything something it this that stuff any some spray nothing same cream".split()
)
_ORDINARY_OBJECTS = frozenset(
    "them those these one two hands fingers pressure weight tape glue water sand mine ours lots plenty more less too".split()
)
_APPLY = {"use", "put", "apply", "rub", "spray", "smear", "wipe"}
_MODALS = {"can", "could", "may", "should", "must", "ok", "okay", "safe", "to"}
_WATER_BEFORE = frozenset("in under into salt cold warm deep of keep keeps let out".split())
_WATER_AFTER = frozenset("out side pressure in through base based".split())


def read_substance(m: Message) -> Substance | None:
    """Pick the substance asked about, None if none is: what it contains, what would be applied, else the longest phrase."""
    found = [hit for hit in m.substances if not _is_scenery(m, hit)]
    if contains := _CONTAINS.search(m.plain):
        return Substance.SILICONE_GREASE if "silicone" in contains.group() else Substance.PARAFFIN_WAX
    if not found or _VAGUE_CHOICE.search(m.plain):
        return None
    if quotes_manual(m) and len({s for _, _, s in found}) == 1 and not _ASKS_LEAVE.search(m.plain):
        return None
    if (last := m.asked_last) is not m and last.substances:
        asked = read_substance(last)
        if asked is not None:
            return asked
    after = [hit for hit in found if (used := _applied_at(m)) is not None and hit[0] > used]
    return max(after[:1] or found, key=lambda hit: (hit[1] - hit[0], -hit[0]))[2]


def read_all(m: Message) -> tuple[Substance, ...]:
    """Return every substance named, in order."""
    return tuple(dict.fromkeys(hit[2] for hit in m.substances if not _is_scenery(m, hit)))


def _applied_at(m: Message) -> int | None:
    """Return where the verb of application stands behind "can I", "is it safe to"."""
    places = (i for i, w in enumerate(m.said) if w in _APPLY and set(m.said[max(0, i - 3) : i]) & _MODALS)
    return next(places, None)


def _is_scenery(m: Message, hit: tuple[int, int, Substance]) -> bool:
    """Tell whether a word only sets the scene: "in fresh water", "the oil side", "powder the seals"."""
    start, end, substance = hit
    before = m.tokens[start - 1] if start else ""
    after = m.tokens[end] if end < len(m.tokens) else ""
    run = m.tokens[start:end]
    if (before in {"no", "without"} and start <= 2) or _is_rejected(m, start, end):
        return True
    if substance is Substance.FRESH_WATER:
        return before in _WATER_BEFORE or after in _WATER_AFTER
    asked_by = before in {"i", "to", "we", "you", "often"}
    if run == ["wax"]:
        return start == 0 or (asked_by and after != "on")
    return run in (["powder"], ["talc"], ["oil"]) and asked_by


def _is_rejected(m: Message, start: int, end: int) -> bool:
    """Tell whether a substance is only named as the one that is not there: instead of it, without it, it ran out."""
    ahead = " ".join(m.said[max(0, start - 5) : start])
    behind = " ".join(m.said[end : end + 4])
    return bool(_INSTEAD.search(ahead) or _MISSING.match(behind))


_INSTEAD = re.compile(
    r"\b(?:instead of|rather than|skip|skipping|out of|lost|lost the|forgot|forgot the|ran out of|no more|in place of)(?: (?:the|my|our|dear|expensive|usual))*$"
)
_MISSING = re.compile(
    r"(?:is |was |got |were )?(?:forgotten|lost|gone|missing|finished|empty|left at home|ran out|ashore)\b"
)


def quotes_manual(m: Message) -> bool:
    """Tell whether the message says what a maker's instructions say."""
    return bool(_MANUAL_SAYS.search(m.plain))


def mentions_manual(m: Message) -> bool:
    """Tell whether the message speaks of the maker's instructions."""
    return any(_MANUAL.fullmatch(w) for w in m.said)


def manual_substances(m: Message) -> tuple[Substance, ...] | None:
    """Return what a manual is said to ask for: classes, an empty tuple for "nothing", None if neither is said."""
    if _SILENT.search(m.plain):
        return None
    at = next((i for i, w in enumerate(m.said) if _MANUAL.fullmatch(w)), 0)
    behind = tuple(dict.fromkeys(s for start, _, s in m.substances if start > at))
    named = behind or (
        tuple(dict.fromkeys(s for _, _, s in m.substances)) if _AS_IT_SAYS.search(m.plain) else ()
    )
    return named or (() if _NOTHING.search(m.plain) else None)


_AS_IT_SAYS = re.compile(
    rf"\b(?:what|as|like|per|which|because|since) (?:the |its |my |their )?(?:{_MANUAL.pattern})\b|\bsays so\b"
)


def unknown_name(m: Message) -> str | None:
    """Return the name on a tube that no table knows, None if the message names none."""
    match = _UNKNOWN.search(m.plain)
    if match is None and (done := _UNKNOWN_DONE.search(m.plain)):
        name = done.group("name")
        known = name in _GENERIC | v.SMALL_WORDS | v.VAGUE or name in _ORDINARY_OBJECTS
        return None if known else name
    name = (match.group("name") or match.group("named")) if match else ""
    if not name or set(name.split()) & (_GENERIC | v.SMALL_WORDS | v.VAGUE):
        return None
    return name.strip()[:40]
