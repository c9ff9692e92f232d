"""Reads what is added to the kit, one item or several in a breath, and facts that change an item."""

import re

from bot.understand.care import read_care
from bot.understand.counts import count_of
from bot.understand.cylinders import read_marks, read_told
from bot.understand.intents import AddItem, RecordCare
from bot.understand.lexicon import canonical
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.stamps import without_told
from bot.understand.text import visible
from bot.understand.vocabulary import PAST_TASKS, SMALL_WORDS, VAGUE
from store.catalogue import CATALOGUE, ItemFacts
from store.vocabulary import CylinderMaterial, Elastomer, ItemKind, SealMaterial, ZipMaterial

_ADD = re.compile(
    r"^(?:please |pls |hi |hey |can you |could you |so |ok |also |and )*(?:add|added (?:an?|my|the)|new|register|track|enter|got (?:a|an|my|me|new|myself|another|two)|bought|i bought|i got (?:a|an|my|me|new|myself|another)|i have (?:a|an|two|got|my)|i've got|ive got|i own|i dive|i just got|i just bought|just bought|just got|picked up|my new|we bought|we have|we got|have a|put (?:a|my) .* (?:on|in|to) (?:my |the |our )?(?:kit|list|locker)|i (?:also|have also) (?:own|have|got|a)\b|i have (?:now |also )+an?\b|i (?:own|have) .*\badd it)\b",
)
_ADD_IT = re.compile(
    r"\badd (?:it|them|that|this)\b|\bput (?:it|them) (?:in|on) (?:my|the) (?:kit|list|locker)"
)
_CALLED = re.compile(
    r"\b(?:called|named|call it|name it|name:)\s+[\"']?(?P<name>[^\"',;.]{1,40})",
    re.IGNORECASE,
)
_VOLUME = re.compile(r"\b(\d{1,4}(?:[.,]\d)?)\s*(?:l|lt|ltr|litre|litres|liter|liters)\b")
_COUNT = re.compile(
    r"^(?:\w+ ){0,3}?(?:add|got|bought|have|new)\s+(two|three|four|five|six|[2-9]|1\d|a pair of|a couple of)\s+(?!l\b|litre|liter)"
)


def read_add(m: Message) -> AddItem | None:
    """Read "add dry suit, plastic zip, latex seals" or a bare "add"; None if nothing is being added."""
    asked_to = _ADD_IT.search(m.plain) and m.item_hits
    if not (asked_to or _ADD.search(m.plain)) or (
        m.said[0] in {"new", "picked"} and not PAST_TASKS.isdisjoint(m.said)
    ):
        return None
    if _main_kind(m) is None and not re.fullmatch(
        r"(?:please )?(?:add|new)(?: (?:kit|gear|item|equipment|something|an item|a new item|new kit|new gear|new item|some kit|my kit|piece of kit))?",
        m.plain,
    ):
        return None
    (head, *others), unread = _each_item(m)
    return _one_item(head).model_copy(update={"also": tuple(map(_one_item, others)), "unread": unread})


def _one_item(m: Message) -> AddItem:
    kind = _main_kind(m)
    named = _CALLED.search(m.raw)
    counted = _COUNT.search(m.plain)
    said = counted.group(1) if counted else "1"
    count = {"a pair of": 2, "a couple of": 2}.get(said) or count_of(said)
    return AddItem(
        kind=kind,
        name=visible(named.group("name")) or None if named else None,
        facts=read_item_facts(m, kind),
        count=min(count, 12),
        done=_done_before(m, kind),
    )


def _done_before(m: Message, kind: ItemKind | None) -> tuple[RecordCare, ...]:
    """Read care told along with a new item; dates that tell of the item itself are no day of care."""
    if kind is not None and CATALOGUE[kind].tested:
        stamped = read_marks(m)
        if isinstance(stamped, RecordCare) and stamped.stamped:
            return (stamped,)
        m = without_told(m)
    told = read_care(m)
    acts = (told.model_copy(update={"also": ()}), *told.also) if told else ()
    of_it = {"item": first(m.item_mentions), "kind": kind}
    return tuple(act if act.item else act.model_copy(update=of_it) for act in acts if act.on)


_CHANGES = re.compile(
    r"^(?:please |ok |so |actually |no )*(?:(?:change|set|switch|convert|make) (?:the |my )?[\w ]+? (?:to|for)\b"
    r"|(?:the |my |this |that )?[\w ]+? (?:is|are|has|have) (?:now |actually |really |got |only |a |new |for |on |filled |cleaned |clean |with |used )*"
    r"(?:pure |oxygen|air|nitrox|ean|eanx|trimix|\d|metal|plastic|latex|silicone|neoprene|steel|aluminium))"
)


def read_item_change(m: Message) -> AddItem | None:
    """Read "the regulator is for oxygen", "change the stage to 80 %": facts of an item that is in the kit."""
    one = bool(m.item_mentions) and len(m.kinds) <= 1 and len(m.own_names) <= 1
    if not one or m.substances:
        return None
    kind = _main_kind(m)
    if not _CHANGES.search(m.plain) or without_told(m).past.on:
        return None
    facts = read_item_facts(m, kind)
    if "oxygen" in m.tokens and facts.o2_fraction is None:
        facts = facts.model_copy(update={"o2_fraction": 1.0})
    return AddItem(kind=kind, of=m.item_mentions[0], facts=facts) if facts != ItemFacts() else None


_LISTED = re.compile(r"\s*(?:,|;|\+|&|\band\b|\bplus\b)\s*", re.IGNORECASE)
_MOST_AT_ONCE = 12
_MOST_TOLD = 8
"""Clauses that are looked at to tell which item they describe."""
_ITEM_FIRST = 4
"""Among how many words of a clause its item stands, if the clause is to name an item of its own."""


def _each_item(m: Message) -> tuple[list[Message], tuple[str, ...]]:
    """Split "add torch, regulator and knife" into one message an item, and name what is no item.

    What describes an item stays with it.
    """
    if _CALLED.search(m.raw):  # a name may hold an "and"
        return [m], ()
    clauses = [c for c in _LISTED.split(m.raw) if c.strip()]
    groups: list[list[str]] = [clauses[:1]]
    unread: list[str] = []
    for clause in clauses[1:]:
        one_of_many = len(groups) > 1 or not _CUBIC.search(clause)
        if one_of_many and _is_another(m.again(", ".join(groups[-1][:_MOST_TOLD])), m.again(clause)):
            groups.append([f"add {clause}"])
        elif _is_unknown(m.again(clause)):
            unread.append(visible(clause).strip(" .!")[:40])
        else:
            groups[-1].append(clause)
    if _main_kind(m.again(groups[0][0])) is None:
        return [m], ()
    beyond = [visible(", ".join(g)).removeprefix("add ")[:40] for g in groups[_MOST_AT_ONCE:]]
    return [m.again(", ".join(group)) for group in groups[:_MOST_AT_ONCE]], (*unread, *beyond)


def _is_another(before: Message, clause: Message) -> bool:
    """Tell whether a clause begins another item rather than saying more of the one before."""
    kind, had = _main_kind(clause), _main_kind(before)
    if kind is None or had is None or (clause.item_hits and clause.item_hits[0][0] >= _ITEM_FIRST):
        return False
    if not PAST_TASKS.isdisjoint(clause.said) or _tells_more(clause, kind, had):
        return False
    return not (clause.parts and clause.kinds and kind not in clause.kinds[:1])


_ONLY_SIZE = re.compile(
    r"(?:(?:it is|they are|an?|of|steel|alu\w*+|ali|carbon|twin|double|both|two|2) ?)*(?:x ?)?(?:\d|1\d|20)(?:[.,]\d)?(?: ?(?:l|lt|ltr|lit(?:re|er)s?|s))?(?: (?:steel|alu\w*|carbon|each|at|with) ?.*)?"
)
_CUBIC = re.compile(r"^\s*(?:an? )?(?:al|alu\w*|ali|steel|s|[hl]p) ?-?\d{2,3}s?\b", re.IGNORECASE)
"""A cylinder by its cubic feet: an item in a list of items, else the size of the one before."""
_TWO_CYLINDERS = re.compile(r"(?:2 ?x|two|both|twin|double|\b\w+s$)")
_ONE_BY_MANY_WORDS = frozenset({ItemKind.DRY_SUIT, ItemKind.REBREATHER, ItemKind.CAMERA_HOUSING})
"""What is often named twice over: "dry suit, trilaminate", "rebreather, closed circuit"."""


def _tells_more(clause: Message, kind: ItemKind, had: ItemKind) -> bool:
    """Tell whether a clause that names a kind only describes the item before it: its size, its tanks, its stages."""
    cylinder = CATALOGUE[had].tested and CATALOGUE[kind].tested
    if cylinder and (
        _ONLY_SIZE.fullmatch(clause.text.strip(" ."))
        or (
            had is ItemKind.TWINSET
            and kind is ItemKind.CYLINDER
            and _TWO_CYLINDERS.search(clause.text.strip(" ."))
        )
    ):
        return True
    if kind is had is ItemKind.REGULATOR:
        return "regulator" not in clause.tokens
    return kind is had and kind in _ONE_BY_MANY_WORDS


_DESCRIBES = frozenset(
    """black white red blue green yellow orange grey gray pink silver steel brass titanium carbon small medium large xl xxl l s m size left right long short
second hand used spare primary main deep tec technical cave wreck cold warm water rec recreational travel diving dive custom made measure favourite
years year old months brand bought today yesterday shop online front back zip entry thick thin mm kg both pair complete full set sets clean cleaned nitrox trimix air
oxygen helium argon gas mix fill filled rated bar psi lumen lumens metre metres deep serial number working fine broken kit gear locker list please thanks""".split()
)
_UNKNOWN_WORDS = 4


def _is_unknown(clause: Message) -> bool:
    """Tell whether a clause names something that is no kit of the trade, nor says anything of an item."""
    told = clause.item_hits or clause.parts or clause.stated or clause.substances or clause.tasks
    if told or clause.past.on or re.search(r"\d", clause.text) or _CALLED.search(clause.raw):
        return False
    words = [w for w in clause.said if w not in SMALL_WORDS and w not in VAGUE]
    return 0 < len(words) <= _UNKNOWN_WORDS and not any(
        w in _DESCRIBES or canonical(w) in _DESCRIBES or w in PAST_TASKS for w in words
    )


_BY_NAME = {kind.name: kind.kind for kind in CATALOGUE.values()}
_ADDING = frozenset({"add", "also", "another", "spare"})


def _main_kind(m: Message) -> ItemKind | None:
    """Pick the thing being added: the most telling kind named, a twinset before its cylinders."""
    named = [kind for _, _, kind in m.item_hits]
    if not named:
        return _BY_NAME.get(" ".join(w for w in m.said if w not in SMALL_WORDS and w not in _ADDING))
    for telling in (
        ItemKind.REBREATHER,
        ItemKind.TWINSET,
        ItemKind.STAGE,
        ItemKind.DRY_SUIT,
        ItemKind.CAMERA_HOUSING,
    ):
        if telling in named and named[0] is not ItemKind.REGULATOR:
            return telling
    return max(m.item_hits[:2], key=lambda hit: (hit[1] - hit[0], -hit[0]))[2]


def read_item_facts(m: Message, kind: ItemKind | None) -> ItemFacts:
    """Read what is said of the item itself; SenselessError for impossible numbers."""
    stated = {name: value for _, _, (name, value) in m.stated}
    volume = _VOLUME.search(m.text)
    litres = float(volume.group(1).replace(",", ".")) if volume else None
    o2 = m.quantities().o2_fraction
    if kind is ItemKind.STAGE and o2 is None and "oxygen" in m.tokens:
        o2 = 1.0
    elastomer = stated.get("elastomer")
    seal = _SEAL_OF.get(elastomer) if kind is ItemKind.DRY_SUIT and isinstance(elastomer, Elastomer) else None
    if seal is SealMaterial.NEOPRENE and not re.search(
        r"neoprene (?:\w+ )?(?:seal|neck|wrist|cuff)", m.plain
    ):
        seal = None
    zip_material = stated.get("zip_material") if kind in {ItemKind.DRY_SUIT, ItemKind.WETSUIT} else None
    if litres is not None and not 0 < litres <= 60:
        raise SenselessError(f"A cylinder of {litres:g} litres cannot be: up to 60 works.")
    metal = next(
        (
            c
            for c in CylinderMaterial
            if kind is not None
            and CATALOGUE[kind].tested
            and (c.value in m.tokens or (c is CylinderMaterial.COMPOSITE and "carbon" in m.tokens))
        ),
        None,
    )
    told = read_told(m) if kind is not None and CATALOGUE[kind].tested else ItemFacts()
    return ItemFacts(
        **told.model_dump(exclude_none=True),
        o2_fraction=o2,
        pure_oxygen_fill=True if stated.get("pure_oxygen_fill") else None,
        zip_material=zip_material if isinstance(zip_material, ZipMaterial) else None,
        seal_material=seal,
        cylinder_material=metal,
        volume_l=litres,
    )


_SEAL_OF = {
    Elastomer.NR: SealMaterial.LATEX,
    Elastomer.VMQ: SealMaterial.SILICONE,
    Elastomer.CR: SealMaterial.NEOPRENE,
}
