"""Reads what befell an item, which asks for a look whatever the calendar says: "flooded the torch", "ran the stage empty"."""

import re
from dataclasses import dataclass

from bot.advice.question import PartRef
from bot.understand.care import part_words, read_care, read_refs, tells_dive
from bot.understand.cylinders import is_cylinders
from bot.understand.intents import RecordCare
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.stamps import named_test
from bot.understand.stuff import mentions_manual
from bot.understand.undone import fails_test
from bot.understand.vocabulary import PAST_TASKS, VAGUE
from store.catalogue import CATALOGUE
from store.vocabulary import CylinderTest, Happening, ItemKind, Substance, Task

_CYLINDERS = frozenset(kind for kind in ItemKind if CATALOGUE[kind].tested)
_DRY_INSIDE = frozenset(
    {
        ItemKind.CANISTER_LIGHT,
        ItemKind.HAND_LIGHT,
        ItemKind.VIDEO_LIGHT,
        ItemKind.STROBE,
        ItemKind.CAMERA_HOUSING,
        ItemKind.DRY_BOX,
        ItemKind.SCOOTER,
        ItemKind.DIVE_COMPUTER,
        ItemKind.TRANSMITTER,
        ItemKind.ANALYSER,
        ItemKind.HEATED_VEST,
    }
)
"""A leak of these lets water in; of other kit it lets gas out, or a little water."""
_WET_ANYWAY = frozenset(
    {ItemKind.MASK, ItemKind.SNORKEL, ItemKind.WETSUIT, ItemKind.BOOTS, ItemKind.GLOVES, ItemKind.HOOD}
)

_OF_WATER = frozenset({Happening.FLOODED, Happening.LEAKING})


@dataclass(frozen=True, slots=True)
class _Sign:
    """Words for a happening; `only` names the kinds they are said of, None meaning any."""

    happening: Happening
    words: re.Pattern[str]
    only: frozenset[ItemKind] | None = None


_SIGNS: tuple[_Sign, ...] = (
    _Sign(
        Happening.OVERHEATED,
        re.compile(
            r"\b(?:in|through|during|caught in|survived) (?:a|the|our|that)? ?(?:\w+ )?fire\b|\bcaught fire\b|\b(?:house|car|garage|boat|van|shed) (?:fire|burned|burnt|burned down)\b|\bon fire\b"
        ),
    ),
    _Sign(
        Happening.OVERHEATED,
        re.compile(
            r"\b(?:burned|burnt|roasted|baked|scorched|charred|singed|overheated|heat treated|blowtorched|torched)\b(?! out)|\b(?:in|into|out of) (?:an?|the) (?:\w+ )?(?:oven|kiln|furnace)\b"
        ),
        _CYLINDERS,
    ),
    _Sign(
        Happening.DRAINED,
        re.compile(
            r"\b(?:ran|run|sucked|breathed|drained|emptied|drank|bled)(?: \w+){1,4}? (?:empty|dry|down to (?:zero|0|nothing)|to zero|flat)\b"
            r"|\b(?:drained|emptied)\b|\b(?:ran|went|run|sucked|breathed|bled) (?:completely |totally |right )?(?:empty|dry)\b|\b(?:was|came back|came up|left|ended up|is|got) (?:completely |totally |bone )?(?:empty|drained|at 0 bar|at zero)\b"
            r"|\bran out of (?:gas|air|oxygen) (?:on|in|with)\b|\bdown to (?:zero|0|nothing)\b|\bempty$"
        ),
        _CYLINDERS,
    ),
    _Sign(
        Happening.CORRODED,
        re.compile(
            r"\b(?:rust|rusty|rusted|rusting|corroded|corrosion|corroding|pitting|pitted|verdigris|oxidi[sz]ed)\b"
        ),
    ),
    _Sign(
        Happening.FLOODED,
        re.compile(
            r"\b(?:flooded|floods|flooding|flood|drowned|waterlogged)\b(?! (?:mine|quarry|pit|cave|tunnel|shaft|valley|village))"
            r"|\b(?:water|moisture|droplets|puddle|condensation) (?:(?:is|was|has|had|got|gets|came|comes|went|leaked|ran|getting|found|sloshing|inside|some) )*(?:in|into|inside|inside of|under)\b"
            r"|\b(?:full of|took|takes|taking|taken|let|lets|letting|drew|sucked|drank|drunk|swallowed|ingested|shipped) (?:on |in |up )?(?:some |a bit of |a little |a lot of |lots of |loads of |a few drops of |\w+ )?water\b(?! (?:samples?|temp\w*|pressure))|\bgot wet inside\b|\bwet inside\b"
        ),
    ),
    _Sign(
        Happening.LEAKING,
        re.compile(
            r"\b(?:leak|leaks|leaked|leaking|leaky|leakage|bubbles|bubbling|bubbled|hisses|hissing|hissed|weeping|weeps|free ?flows?|free ?flowed|free ?flowing|free ?flew|blew off|hiss)\b(?! (?:test|tested|check|checked)\b)"
            r"|\b(?:loses|losing|lost|bleeding|bleeds) (?:some |a bit of |a lot of )?(?:gas|air|pressure)\b(?! (?:supply|source|share))|\b(?:doesn't|dosent|doesnt|does not|won't|wont|will not|didn't|did not) hold (?:any )?(?:air|gas|pressure)\b|\b(?:gas|air) (?:is |was |keeps |kept )?(?:escaping|escapes|coming out|comes out|blowing out)\b"
        ),
    ),
    _Sign(
        Happening.DAMAGED,
        re.compile(
            r"\b(?:dent|dents|dented|ding|dinged|gouge|gouges|gouged|crack|cracks|cracked|bulge|bulging|bulged|arc burn|smashed|shattered|squashed|crushed|bent|broke|broken|snapped|tore|torn|ripped|punctured|damaged|chipped)\b(?! (?:the valve )?open\b)(?! (?:the )?(?:surface|ice|record|rule)\b)"
            r"|\b(?:deep|big|bad|nasty|long) scratch(?:es)?\b|\b(?:hole|cut|tear|rip|slash) in\b"
            r"|\bdropped (?:the|my|our|a|this|that|it|one)\b(?! \w+(?: \w+){0,3} (?:off(?! (?:the|a|my|our) (?!shop|service|dealer|dive (?:shop|cent))\w+)|at|for service|with)\b)|\b(?:fell|fallen|got dropped|was dropped|been dropped|tipped over|knocked over|hit (?:a|the) (?:rock|wall|reef|boat|ladder|bottom|wreck|quay|pier)|hit by|(?:backed|drove|parked|rolled|reversed)(?: \w+){1,3}? over|run over|driven over|ran over|drove over)\b"
        ),
    ),
)
_DENIED = re.compile(
    r"(?:\b(?:no|not|never|nothing|without|isn't|isnt|wasn't|wasnt|didn't|didnt|doesn't|doesnt|hasn't|don't|if|almost|nearly|any|avoid|prevent|against|will|would|could|might|may|can|to)\b(?: \w+){0,2} )$"
)
_NOT_TOLD = re.compile(
    r"^(?:if|when|what if|in case|should|suppose|imagine|say)\b|\b(?:fixed|repaired|stopped|sold|binned|threw|thrown|chucked|flogged|scrapped|stolen|retire|retired|remove|delete|(?:take|took)(?! (?:on |in )?(?:\w+ ){0,3}water)|gave|warranty|tested dry)\b"
    r"|\b(?:his|her|their|buddy's|friend's|student's)\b|\bbattery (?:is |was )?(?:drained|empty|flat)|\bdrained the battery\b"
)


def read_happening(m: Message) -> RecordCare | None:
    """Read what befell an item, with the care told beside it in `also`.

    None if nothing did, or if a dive with figures is told, whose reader asks `read_happenings`.
    """
    if _tells_dive(m):
        return None
    if _WONDERS.search(m.plain):
        return read_happened_and_asked(m)
    told = _passed_and_failed(m) or _happening(m) or _with_care(m)
    if told is None and _wets_what_is_wet(m):
        raise SenselessError("That gets wet on every dive, so I noted nothing: rinse it and dry it.")
    return told


def _wets_what_is_wet(m: Message) -> bool:
    """Tell whether water is told in kit that is wet on every dive."""
    flooded = next(s for s in _SIGNS if s.happening is Happening.FLOODED)
    wet = bool(m.kinds) and set(m.kinds) <= _WET_ANYWAY
    return wet and not _tells_of_else(m) and _is_told(m, flooded, set(m.kinds))


_PASSED = re.compile(r"(?<!n't )(?<!not )\b(?:passed|ok|fine|good)\b")


def _passed_and_failed(m: Message) -> RecordCare | None:
    """Read "hydro passed, visual failed": the failure, and besides it only what is plainly told as passed."""
    clauses = [m.again(clause) for clause in _CLAUSES.split(m.text) if clause]
    failed = next((c for c in clauses if fails_test(c)), None)
    passed = [c for c in clauses if c is not failed and _PASSED.search(c.plain) and named_test(c.plain)]
    happened = _happening(failed, m) if failed and passed and not _NOT_TOLD.search(m.plain) else None
    care = read_care(m.again(", ".join(c.text for c in passed))) if happened else None
    if happened is None or care is None:
        return None
    item = {"item": happened.item or first(m.item_mentions), "kind": happened.kind or first(m.kinds)}
    acts = (care.model_copy(update={"also": ()}), *care.also)
    return happened.model_copy(update={**item, "also": tuple(a.model_copy(update=item) for a in acts)})


_CARE_AFTER_WATER = frozenset({Task.RINSE, Task.DRY, Task.CLEAN})


def _with_care(m: Message) -> RecordCare | None:
    """Read "torch flooded, rinsed it": both; but care told ahead of a leak has mended it, and is all there is to record."""
    clauses = [m.again(clause) for clause in _CLAUSES.split(m.text) if clause]
    if len(clauses) < 2 or _NOT_TOLD.search(m.plain) or mentions_manual(m):
        return None
    told = [(at, found) for at, clause in enumerate(clauses) if (found := _happening(clause, m))]
    if len(told) != 1:
        return None
    at, happened = told[0]
    care = read_care(m.again(", ".join(c.text for n, c in enumerate(clauses) if n != at))) or read_care(m)
    if care is None:
        return None
    acts = (care.model_copy(update={"also": ()}), *care.also)
    ahead = any(not PAST_TASKS.isdisjoint(clause.said) for clause in clauses[:at])
    if ahead and not {act.task for act in acts} <= _CARE_AFTER_WATER:
        return None
    if happened.item is None and happened.part is None:
        happened = happened.model_copy(update={"item": acts[0].item, "kind": acts[0].kind})
    done = [_on_same(act, happened) for act in acts]
    day = {} if happened.on else {"on": done[0].on, "month_only": done[0].month_only}
    return happened.model_copy(update={**day, "also": tuple(done)})


def _on_same(act: RecordCare, happened: RecordCare) -> RecordCare:
    """Take an act that names no item as done on what the happening befell."""
    if act.item or (act.refs and happened.kind not in {ref.item for ref in act.refs}):
        return act
    of_it: dict[str, object] = {"item": happened.item, "kind": happened.kind}
    return act.model_copy(
        update=of_it if act.refs else {**of_it, "part": happened.part, "refs": happened.refs}
    )


def read_happenings(m: Message) -> tuple[RecordCare, ...]:
    """Read what befell the kit, clause by clause, with the care told beside the dive."""
    clauses = [m.again(clause) for clause in _CLAUSES.split(m.text) if clause]
    told = [(clause, _happening(clause)) for clause in clauses]
    happened = [one for _, one in told if one]
    rest = [clause.text for clause, one in told if one is None and not tells_dive(clause)]
    care = read_care(m.again(", ".join(rest))) if rest and len(rest) < len(clauses) else None
    acts = (care.model_copy(update={"also": ()}), *care.also) if care else ()
    done = [_on_same(act, happened[-1]) if happened else act for act in acts]
    named = [act for act in done if act.everything or act.item or act.refs]
    return (*happened, *(act for act in named if act.task is not Task.INSPECT or act.test))[:6]


_WONDERS = re.compile(r"\b(?:what|how|which|why|should|whether)\b|\bwith$")
_CLAUSES = re.compile(r"\s*(?:[,;+&]|\band\b|\bbut\b|\bthen\b|\bso (?=i\b|we\b)|\.\s)\s*")
_DIVED = re.compile(r"\b(?:dives?|dived|dove|dips?)\b")


def _tells_dive(m: Message) -> bool:
    if not _DIVED.search(m.plain):
        return False
    q = m.quantities()
    counted = q.dives is not None and not q.unnumbered
    return bool(counted or q.max_depth_m or q.duration_min or q.temps_c or q.o2_fraction or m.waters)


def _happening(m: Message, whole: Message | None = None) -> RecordCare | None:
    """Read what befell an item; `whole` is the message of which `m` is a clause, where "it" may name no item."""
    failed = fails_test(m) and is_cylinders(m) and not _GONE.search((whole or m).plain)
    named = m.item_mentions or m.parts or "valve" in m.tokens or failed
    of_it = whole is not None and (whole.item_mentions or whole.parts) and _IT.match(m.plain)
    if not (named or of_it) or (_tells_of_else(m) and not failed):
        return None
    refs = _parts_apart(m)
    kinds = set(m.kinds) or {ref.item for ref in refs}
    found = (
        Happening.DAMAGED if failed else next((s.happening for s in _SIGNS if _is_told(m, s, kinds)), None)
    )
    if found is None or (found in _OF_WATER and kinds and kinds <= _WET_ANYWAY):
        return None
    if found is Happening.LEAKING and "oring" in m.tokens:  # a ring that leaks is a question of its own
        return None
    if found is Happening.LEAKING and kinds and kinds <= _DRY_INSIDE:
        found = Happening.FLOODED
    test = (named_test(m.plain) or CylinderTest.HYDROSTATIC) if failed else None
    return mishap(m, found, refs, test)


def mishap(
    m: Message, happened: Happening, refs: tuple[PartRef, ...], test: CylinderTest | None = None
) -> RecordCare:
    """Return the record of what befell an item, dated no later than today; `test`: the one it failed."""
    on = m.past.on if m.past.on is not None and m.past.on <= m.today else None
    return RecordCare(
        happened=happened,
        item=first(m.item_mentions),
        part=part_words(refs),
        refs=refs,
        kind=first(m.kinds),
        on=on,
        month_only=on is not None and m.past.month_only,
        test=test,
    )


_GONE = re.compile(
    r"\b(?:sold|bin(?:ned)?|threw|thrown|chucked|flogged|scrap|scrapped|stolen|retired?|remove|delete|gave)\b"
)
_IT = re.compile(r"(?:it|they|which|because it|as it|since it|one|that)\b")


def _tells_of_else(m: Message) -> bool:
    """Tell whether care, a lubricant, a manual or a sale is what the message is about."""
    substances = {s for _, _, s in m.substances} - {Substance.FRESH_WATER}
    care = not PAST_TASKS.isdisjoint(m.said) or any(task is Task.CLEAN for _, _, task in m.tasks)
    lubricant = bool(substances) or not VAGUE.isdisjoint(m.said)
    return care or lubricant or mentions_manual(m) or bool(_NOT_TOLD.search(m.plain))


def _parts_apart(m: Message) -> tuple[PartRef, ...]:
    """Return the parts named by words of their own, not by the item's name."""
    of_item = {m.tokens[i] for start, end, _ in m.item_hits for i in range(start, end)} | _ANY_ITEM
    return tuple(ref for ref in read_refs(m) if m.parts[ref] - of_item)


_ANY_ITEM = frozenset({"cylinder", "rebreather", "scooter"})


def _is_told(m: Message, sign: _Sign, kinds: set[ItemKind]) -> bool:
    if sign.only is not None and kinds and not kinds & sign.only:
        return False
    text = _BEGAN.sub("", m.plain)
    told = sign.words.search(text)
    return told is not None and not _DENIED.search(text[: told.start()])


_BEGAN = re.compile(
    r"\b(?:started|starts|began|begins|begun|tends|seems|appears|continues|decided) to\b|\b(?:won't|will not|doesn't|does not) (?=stop)"
)


_WHAT_NOW = re.compile(
    r"^(?:so |and |but |ok |help )*(?:what (?:do|should|must|can|shall|to|now)(?: i| we)?(?: do| next| now)*(?: with it| about it| about that| to it)?|now what|what next|what's next|help|any advice|is it (?:dead|ruined|ok|safe|still ok|still safe|a problem|bad)(?: to (?:dive|use))?(?: it)?|can i (?:still )?(?:dive|use|fill) it(?: again| now)?|do i (?:need|have) to do anything)$"
)
_ASKS = re.compile(r"[.,;!?]+\s*|\s+-\s+|\s+\b(?=(?:what|now what|is it|can i) )")


def read_happened_and_asked(m: Message) -> RecordCare | None:
    """Read "my torch flooded, what do I do?"; None where a part or a substance is asked about."""
    told, *asked = [part for part in _ASKS.split(m.mended) if part and part.strip()] or [""]
    last = m.again(asked[-1]) if asked else None
    if last is None or not _WHAT_NOW.match(last.plain) or not VAGUE.isdisjoint(m.said):
        return None
    head = m.again(", ".join((told, *asked[:-1])))
    return (
        None
        if re.match(r"(?:is|are|was|did|does|do|can|why|how|what|when|should)\b", head.plain)
        else _happening(head) or _with_care(head)
    )
