"""Reads doubt about whether kit may be dived: asked ("is my twinset ok to dive?"), or told of as a sign that it may not.

Whether an item may be dived hangs on what is open on it, so the answer is what is due, never a lubricant.
"""

import re

from bot.understand.care import read_refs
from bot.understand.happenings import mishap, read_happening
from bot.understand.intents import Misunderstood, RecordCare, ShowDue
from bot.understand.message import Message
from bot.understand.stuff import mentions_manual
from bot.understand.vocabulary import VAGUE
from store.catalogue import CATALOGUE
from store.vocabulary import Happening, ItemKind, Substance

_FIT = r"(?:ok|okay|safe|fine|good|fit|ready|usable|serviceable|alright|all right|diveable|divable|sound|trustworthy)"
_TO_DIVE = r"(?:to (?:be )?(?:dive|dived|use|used|fill|filled|breathe|go|take|trust)(?: (?:it|them|with|from|on))*|(?:for|on) (?:diving|use|filling|(?:(?:the|my|our|a|this|next|another) )*(?:dives?|trip|weekend|week|season|day|\w+day)))"
_AND_SO_ON = r"(?: (?:after|since|now that|again|now|still|yet|enough|as it is|or not|today|tonight|tomorrow|this|next|on \w+day|like (?:this|that))\b.*)?$"
"""Whatever follows such a word; a ".*" stands once, since inside a repetition it takes for ever."""
_IS_FIT = re.compile(
    rf"^(?:(?:hi|hey|so|and|but|ok|please|tell me|do you think|do you know|whether|if) )*(?:is|are|was|were) (?:it |this |that )?(?:still |really )?(?:(?:ok|okay|safe|fine|all right|alright) to (?:dive|use|fill|breathe)(?: with| on| from)? )?(?P<what>(?:(?:the|my|our|this|that|these|those|both|all) )*[\w' -]{{2,40}}?)(?: (?:still|really|now|again|yet|actually|even))*(?: {_FIT}(?: and {_FIT})?)?(?: {_TO_DIVE})*{_AND_SO_ON}"
)
_SAYS_FIT = re.compile(
    rf"\b{_FIT}\b|\bto (?:dive|use|fill|breathe)\b|\b(?:can|may|could|should|shall) (?:it|they|i|we)\b"
)
_MAY_DIVE = re.compile(
    r"^(?:(?:hi|hey|so|and|but|ok|then|please|do you think|when) )*(?:(?:can|may|could|should|shall|must|am|are) (?:i|we|one|you)(?: not)?|(?:is it |would it be )?(?:ok|okay|safe|fine|alright|all right)(?: for me| for us)? to)(?: (?:still|safely|now|just|already|again|allowed to|ok to|okay to|safe to|go))*"
    r" (?:dive|diving|use|fill|refill|trust|breathe|breathe from|take|rely on|get|have)(?: (?:with|on|from|in|it|down|diving with))*"
    r" (?P<what>(?:(?:the|my|our|this|that|these|those|both|all|old|new) )*[\w' -]{2,40}?)(?: (?:filled|refilled))?(?: (?:again|now|today|tonight|tomorrow|safely|still|already|as it is|like (?:this|that)|or not|anyway))*(?: (?:this|next|on|for|before|after|since|now that|although|even though|without (?:a )?(?:service|test|hydro|visual)|if)\b.*)?$"
)
_MAY_BE_DIVED = re.compile(
    r"^(?:(?:hi|hey|so|and|but|ok|do you think) )*(?:can|may|could|should|is|are) (?P<what>(?:(?:the|my|our|this|that|these|those|both|all) )+[\w' -]{2,40}?)(?: (?:still|safely|now|again|allowed to))* (?:be )?(?:dived|used|filled|refilled|trusted|dive)(?: .*)?$"
)
_FOR_GAS = re.compile(r"\b(?:for|with|on|to) (?:pure |\d++ ?|ean ?)*(?:oxygen|nitrox|trimix)\b")
"""What gas an item is clean for is another question than whether it may be dived."""
_ASIDE = frozenset(
    "the my our this that these those both all old new still and or twin spare other second first".split()
)
_BEFELL = re.compile(
    r"\b(?:after|since|now that|although|even though|because|if|when) (?:(?P<it>it|they|i) )?(?P<rest>.+)$"
)


def read_fitness(m: Message) -> ShowDue | RecordCare | Misunderstood | None:
    """Read whether an item may be dived, used or filled as a question of what is open on it.

    What is told beside it ("after it flooded") is kept, since it decides. None where something else is asked.
    """
    if told := read_unfit(m):
        return told
    if _FOR_GAS.search(m.plain) or m.substances or not VAGUE.isdisjoint(m.said) or mentions_manual(m):
        return None
    what = _doubted(m)
    if what is None:
        return None
    item = what.item_mentions[0] if len(what.item_mentions) == 1 else None
    return _befell(m, what) or ShowDue(item=item)


def _doubted(m: Message) -> Message | None:
    """Return the words for what is asked about, if they name items and nothing else."""
    patterns = (_MAY_DIVE, _MAY_BE_DIVED, *((_IS_FIT,) if _SAYS_FIT.search(m.plain) else ()))
    asked = (found for pattern in patterns if (found := pattern.match(m.plain)))
    named = (m.again(found["what"]) for found in asked)
    return next((what for what in named if what.item_mentions and _is_all_items(what)), None)


def _is_all_items(what: Message) -> bool:
    """Tell whether items, and no part of theirs, are all that is named."""
    named = {i for a, b, _ in what.item_hits for i in range(a, b)}
    own = {w for name in what.own_names for w in what.again(name).said}
    return all(i in named or w in _ASIDE or w in own for i, w in enumerate(what.said))


def _befell(m: Message, what: Message) -> RecordCare | None:
    told = _BEFELL.search(m.plain)
    if told is None or told["it"] is None:  # "after flooding" may be no more than a thought
        return None
    rest = re.sub(r"\b(?:it|them)\b", "", told["rest"]) if told["it"] == "i" else told["rest"]
    item = what.item_mentions[0]
    line = f"{rest} the {item}" if told["it"] == "i" else f"the {item} {rest}"
    return read_happening(m.again(line))


_BATTERY = re.compile(
    r"\b(?:battery|batteries|accu|cells? pack|battery pack)\b(?: \w+){0,4}? (?P<sign>swol+en|swel+(?:s|ed|ing|ling)?|bulg(?:e|es|ed|ing)|bloated|puffy|puff(?:s|ed|ing)?(?: up)?|ballooning|blown up|deformed|expanded|expanding|distended"
    r"|(?:too |very |really |burning |red |so )?hot(?! (?:water|car|van|boot|trunk|day|sun|climate|place))|overheat(?:s|ed|ing)?|smok(?:e|es|ed|ing)|fum(?:e|es|ing)|burn(?:s|ed|t|ing)|on fire|caught fire|leak(?:s|ed|ing|y)?|leaks? (?:acid|fluid)|hiss(?:es|ed|ing)|fizz(?:es|ed|ing)|sizzl(?:es|ed|ing)|smells)\b"
    r"|\b(?P<before>swol+en|swel+ing|bulging|bloated|puffy|deformed|overheat(?:ed|ing)|smoking|burning|leaking|leaky|hissing|fizzing|(?<!in a )(?<!in the )hot) (?:\w+ ){0,2}?batter(?:y|ies)\b(?! (?:box|tube|compartment|contacts?|oring|lid|seal|housing|can(?:ister)?)s?\b)"
    r"|\b(?:smoke|fumes) (?:is |was |are |came |comes |coming )*(?:from|out of|in) (?:the |my |a )?(?:\w+ ){0,2}?batter(?:y|ies)\b"
)
_OF_BATTERY = re.compile(
    r"\bbattery (?:box|tube|compartment|contacts?|orings?|lid|seal|housing|cap|door|can(?:ister)?)\b"
)
_DENIED = re.compile(
    r"\b(?:no|not|never|isn't|isnt|wasn't|doesn't|didn't|without|avoid|prevent|against|stop|before|if|nearly|almost|until)\b(?: \w+){0,3}$"
)
_GAS_BAD = re.compile(
    r"\b(?:smells?|smelt|smelled|smelly|stinks?|stank|stinky|taste|tastes|tasted|tasting|odou?r|odou?rs|whiff|reek|reeks|oily)\b"
)
_OF_GAS = re.compile(
    r"\b(?:gas|air|oxygen|nitrox|trimix|fill|fills|mix|breath|cylinder|cylinders|tank|tanks|bottle|bottles|twinset|twins|doubles|stage|stages|pony|regulator|reg|regs|regulators)\b"
)
_NO_GAS_SMELL = re.compile(
    r"\b(?:wetsuit|drysuit|suit|boots?|gloves?|hood|bag|undersuit|no|not|never|without|smells? (?:fine|good|ok|nice)|tastes? (?:fine|good|ok)|mask|mouthpiece|wing|bcd|loop|counterlung)\b|\bgas (?:station|stove)\b"
)
_BREATHES_WET = re.compile(
    r"\b(?:breath(?:es?|ed|ing)?|inhal(?:es?|ed|ing)) (?:\w+ ){0,2}?(?:wet|water|sea ?water|salt ?water)\b|\bwet (?:breath|breathing|breather|breathe)\b|\bwater (?:when|with each|with every|on|while) (?:i )?(?:inhal\w+|breath\w*)\b|\bgives? (?:me )?(?:a )?(?:mouthful of |wet )?(?:water|wet breath)\b"
)
_BREATHED_FROM = frozenset({ItemKind.REGULATOR, ItemKind.REBREATHER, ItemKind.STAGE})


def read_unfit(m: Message) -> RecordCare | Misunderstood | None:
    """Read a sign that kit may not be used, where no act of care is told: a swollen battery, a smell in the gas, a wet breath."""
    sign, gas = _sign(m), _bad_gas(m)
    if not (sign or gas) or not _tells_dive(m):
        return sign or gas
    return _bad_gas(m, "Your dives are not logged yet: tell me those again, on their own.")


def read_unfit_on_dive(m: Message) -> tuple[RecordCare, ...]:
    """Read such signs told along with a dive, clause by clause."""
    clauses = (m.again(clause) for clause in _CLAUSES.split(m.text) if clause)
    return tuple(found for clause in clauses if (found := _sign(clause)))


_CLAUSES = re.compile(r"\s*(?:[,;+&]|\band\b|\bbut\b|\bthen\b|\.\s)\s*")
_DIVED = re.compile(r"\b(?:dives?|dived|dove|dips?)\b")


def _tells_dive(m: Message) -> bool:
    q = m.quantities()
    counted = q.dives is not None and not q.unnumbered
    return bool(_DIVED.search(m.plain)) and bool(counted or q.max_depth_m or q.duration_min or m.waters)


def _sign(m: Message) -> RecordCare | None:
    if {s for _, _, s in m.substances} - {Substance.FRESH_WATER}:
        return None
    battery = _BATTERY.search(m.plain)
    if battery and not _DENIED.search(_before_sign(m.plain, battery)) and not _OF_BATTERY.search(m.plain):
        return _mishap(m, Happening.DAMAGED)
    wet = _BREATHES_WET.search(m.plain)
    if wet and set(m.kinds) & _BREATHED_FROM and not _DENIED.search(m.plain[: wet.start()].rstrip()):
        return _mishap(m, Happening.LEAKING)
    return None


def _before_sign(text: str, found: re.Match[str]) -> str:
    return text[: found.start("sign") if found["sign"] else found.start()].rstrip()


def _mishap(m: Message, happened: Happening) -> RecordCare:
    refs = tuple(r for r in read_refs(m) if not m.kinds or r.item in m.kinds)
    if happened is Happening.DAMAGED:
        refs = tuple(r for r in refs if "battery" in CATALOGUE[r.item].part(r.part).name.casefold())
    else:
        refs = ()
    return mishap(m, happened, refs)


def _bad_gas(m: Message, besides: str = "") -> Misunderstood | None:
    found = _GAS_BAD.search(m.plain)
    if found is None or not _OF_GAS.search(m.plain) or _NO_GAS_SMELL.search(m.plain):
        return None
    if found.group() == "oily" and not re.search(
        r"\b(?:gas|air|oxygen|nitrox|fill|breath) (?:is |was |feels |seems |felt )?oily\b|\boily (?:gas|air|fill|nitrox|oxygen)\b",
        m.plain,
    ):
        return None
    return Misunderstood(
        problem="Do not breathe it: a smell or taste in the gas may be oil or something worse. Have a technician look"
        " inside the cylinder and find out where it came from, and have the gas analysed, before anyone dives it."
        + f" {besides}".rstrip(),
        suggestions=("what is due?",),
    )
