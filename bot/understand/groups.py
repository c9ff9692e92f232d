"""Reads what care was done to many items at once: all of a kind, everything, everything but a few."""

import re
from collections.abc import Iterable

from bot.understand.intents import RecordCare
from bot.understand.message import Message, first
from bot.understand.quantities import SenselessError
from bot.understand.text import clean
from bot.understand.vocabulary import PAST_TASKS, SMALL_WORDS
from store.catalogue import CATALOGUE
from store.vocabulary import Task

_ALL = r"(?:all(?: of)?(?: (?:the|my|our|it|of it|kit|gear|stuff|equipment))*|everything|the (?:whole )?(?:lot|kit|gear|rest)|(?:my |the )?whole (?:kit|lot)|all (?:the |my |our )?\w+|every \w+)"
_EXCEPTION = re.compile(
    rf"\b(?P<all>{_ALL})(?P<between>(?: \w+ed)?(?: today| yesterday)?)\s*[,(]?\s*(?:but|except|excepting|excluding|apart from|aside from|other than|bar|barring|save|minus|without|besides|with the exception of)\b(?: for\b| not\b)?\s*(?P<but>[^;.)]+)\)?"
)
_NO_NOUN = re.compile(
    r"all(?: of)?(?: (?:the|my|our|it|of it))*|all (?:rinsed|washed|dried|cleaned|serviced)"
)
_LIST = re.compile(r"(\s*(?:,|\band\b|\bor\b|&)\s*)")
_WHOLE = frozenset({Task.RINSE, Task.DRY, Task.DISINFECT, Task.TEST})


def cut_exception(m: Message) -> tuple[Message, tuple[str, ...]]:
    """Return the message without "but the regs", and what was left out; SenselessError where that is nothing known."""
    found = _EXCEPTION.search(m.mended)
    if found is None:
        return m, ()
    pieces = _LIST.split(found["but"])
    count = next(
        (n for n, p in enumerate(pieces) if n and n % 2 == 0 and _begins_care(m.again(p))), len(pieces)
    )
    out, beyond = (
        m.again("".join(pieces[:count])),
        "".join(pieces[max(count - 1, 0) :] if count < len(pieces) else []),
    )
    but = mentions_of([out])
    if not but:
        if out.tasks or not m.tasks:
            return m, ()
        raise SenselessError(
            "I do not know what is left out there, so I noted nothing. Say it like: rinsed everything except the torch."
        )
    kept = out.mended if out.item_mentions else (out.past.on.isoformat() if out.past.on else "")
    for name in sorted(but, key=len, reverse=True):
        kept = re.sub(rf"(?:\b(?:the|my|our|both) )?(?<!\w){re.escape(clean(name))}(?!\w)", " ", kept)
    kept = re.sub(r"(?:\s*(?:\band\b|,|\bor\b|&)\s*)+", " ", kept)
    every = "everything" if _NO_NOUN.fullmatch(found["all"]) else found["all"]
    text = f"{m.mended[: found.start()]}{every}{found['between']} {kept}{beyond}{m.mended[found.end() :]}"
    return m.again(text), but


def _begins_care(m: Message) -> bool:
    return bool(m.said) and m.said[0] in PAST_TASKS


def mentions_of(left: Iterable[Message]) -> tuple[str, ...]:
    """Return the items that clauses name, by their own words or by a part of theirs."""
    named: list[str] = []
    for m in left:
        kinds = {} if m.item_mentions else {ref.item: None for ref in m.parts}
        named += [*m.item_mentions, *(CATALOGUE[kind].name for kind in kinds)]
    return tuple(dict.fromkeys(named))


def group_named(m: Message, task: Task) -> str | None:
    """Return the word for all items of a kind that were cared for: "both stages", "every cylinder"; None if one was."""
    mention = first(m.item_mentions)
    if mention is None or (m.parts and task not in _WHOLE and _names_part(m)):
        return None
    said = re.escape(clean(mention))
    ahead = re.search(
        rf"\b(?P<all>all|every|each|both|the (?:two|three|four|five|six|\d{{1,2}}))\b(?: of)?(?: (?:the|my|our|these|those))?(?: (?:two|three|four|five|six|\d{{1,2}}))?(?: (?:old|new|deco|club|big|small))? {said}(?!\w)",
        m.plain,
    )
    behind = re.search(
        rf"(?<!\w){said} (?:(?:were|are|got|have been|have|was) )?(?P<all>all|both)\b(?! but| except)",
        m.plain,
    )
    found = ahead or behind
    if found is None or (mention in m.own_names and found["all"] not in {"every", "each"}):
        return None
    if found["all"] == "both" and m.names and _owned(m, mention) != _PAIR:
        return None
    return mention


_PAIR = 2


def _owned(m: Message, mention: str) -> int:
    """Return how many of the diver's items are called by the kind that a mention names."""
    kinds = set(m.again(mention).kinds)
    return sum(bool(kinds & set(m.again(name).kinds)) for name in m.names)


def _names_part(m: Message) -> bool:
    """Tell whether a part is named by words of its own."""
    return any(said - words_of_items(m) for said in m.parts.values())


def words_of_items(m: Message) -> set[str]:
    """Return the words that name items, which name no part by themselves."""
    return {m.tokens[i] for a, b, _ in m.item_hits for i in range(a, b)} | {
        "cylinder",
        "rebreather",
        "scooter",
    }


def of_group(act: RecordCare, m: Message) -> RecordCare:
    """Return the act as done to all of a kind, where all of them were named."""
    group = group_named(m, act.task) if act.task and not act.everything else None
    return (
        act.model_copy(update={"everything": True, "item": group, "part": None, "refs": ()}) if group else act
    )


_ADDED = re.compile(r"^(?:a |some |with )*(?:new|fresh|got|spare)\b")


def only_names(m: Message) -> bool:
    """Tell whether a clause names an item or a part and says nothing else of it, but when or with what."""
    if not (m.item_mentions or m.parts) or len(m.item_mentions) > 1 or _ADDED.match(m.plain):
        return False
    if m.future.on is not None and m.future.on > m.today and (m.past.on is None or m.past.on > m.today):
        return False
    dated = m.again(m.past.rest)
    own = {w for name in m.own_names for w in m.again(name).tokens}
    known = words_of_items(dated) | own | set().union(*dated.parts.values()) | _TEST_NOUNS
    known |= {dated.tokens[i] for a, b, _ in dated.substances for i in range(a, b)}
    return all(t in known or t in SMALL_WORDS or t in _MORE for t in dated.tokens)


_TEST_NOUNS = frozenset({"hydro", "visual", "vip", "eddy", "current", "hydrostatic", "test"})
_MORE = frozenset(
    {"both", "all", "two", "as", "well", "set", "steel", "aluminium", "carbon", "again", "today"}
)
