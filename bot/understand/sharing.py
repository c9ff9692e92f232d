"""Reads what is wanted of lockers and their people: let in, join, who is in, open another, lend, give back."""

import re
from typing import Literal

from bot.understand.intents import ShareLocker
from bot.understand.message import Message

_GROUP = r"[0-9a-z]{4}"
_CODE = re.compile(rf"{_GROUP}[- ]?{_GROUP}[- ]?{_GROUP}")
_JOIN = re.compile(
    rf"(?:please |pls |hi |hello )*(?:i )?(?:(?:would like|want) to )?(?:join|start|code|my code is|the code is|enter|use)(?: the| a| locker| club| with| code| by)*:?\s+(?P<code>{_CODE.pattern})[.!]?"
)
_JOIN_WHAT = re.compile(
    r"(?:(?:how|where) (?:can|do) i )?join(?: an?| the| another| my| our)*(?: locker| club| class| group)?"
)
_PLACE = r"(?:lockers?|club|class|team|kit|gear|group)"
_WITHIN = re.compile(rf"(?:\b(?:join|code)\b.*?|^)(?P<code>\b{_GROUP}-{_GROUP}-{_GROUP}\b)")
_BARE = re.compile(rf"(?P<code>{_CODE.pattern})")
_PEOPLE = re.compile(
    r"^(?:so )?who(?: else)?(?:'s| is| are) in(?: here| there| it| this| on this)?$"
    r"|^(?:please )?(?:kick|throw|take|remove|let|allow|make|promote) (?!it\b|the\b|my\b|that\b|this\b|them\b|me\b)[\w'-]+(?: \w+)? (?:out|from (?:the|this|our|my) (?:locker|club|class|group)|(?:to )?(?:delete|remove|export)\b.*|owner|keeper|(?:a )?(?:helper|admin))$|"
    rf"\b(?:who (?:else )?(?:is|are|has|can|uses|shares|may|all is)\b(?: \w+){{0,5}} {_PLACE})\b|^(?:show |list )?(?:the |all |our |my )?(?:members|people)(?: of| in| here)?(?: the| this| my| our)?(?: {_PLACE})?$"
)
_CHOOSE = re.compile(
    r"^(?:show |list |what are |which are )?(?:all )?(?:of )?my lockers$|^lockers$|^(?:in )?(?:which|what|whose) locker (?:am i in|is (?:this|open|it))(?: now| here)?$|^(?:switch|change|choose|pick|select|other|another|next)(?: the| my| to| a| an| another| other)* lockers?$"
    r"|^(?:open|use|switch to|change to|go to|back to)(?: the| our)* (?P<name>[\w' -]{2,40}?)(?:'s)? locker$"
)
_OWN = {"my", "my own", "own", "mine"}
_LEAVE = re.compile(
    r"^(?:i )?(?:want to )?(?:leave|quit|get out of)(?: the| this| that)?(?: (?P<name>[\w' -]{2,40}?)(?:'s)?)? locker$"
)
_WITHDRAW = re.compile(
    r"^(?:stop|end|no more|cancel|revoke|withdraw|kill)(?: the| this| my| our| any)*(?: sharing| invites?| invitations?| join codes?| codes?)(?: this| my| the)*(?: locker)?$"
)
_ACTS: tuple[tuple[re.Pattern[str], Literal["people", "withdraw"]], ...] = (
    (_PEOPLE, "people"),
    (_WITHDRAW, "withdraw"),
)
_NAME = re.compile(
    r"(?i)^(?:please )?(?:name|call|rename) (?:(?:this|my|our|the) )?(?:locker|club|class|group)(?: to| as| is)? (?P<name>.{2,40})$"
)
_LEND = re.compile(
    r"^(?:please |can you |i |we |i have |i've |to )*(?:lend|lent|loan|loaned|lending) (?:out )?(?P<item>.{2,60}?)(?: (?:over )?to (?:the |our )?(?P<name>[\w' -]{2,40}?)(?:'s)?(?: locker)?)?[.!]?$"
)
_GIVEN = re.compile(
    r"^(?:i |we |i have |i've |please )*(?:lend|lent|loan|loaned|give|gave) (?!the\b|my\b|our\b|back\b|it\b)(?P<name>[\w'-]{2,40}) (?P<item>(?:the|my|our) [\w' -]{2,60}?)[.!]?$"
)
_HAS = re.compile(
    r"^(?!(?:it|that|this|who|what|he|she|i|we|they)\b)(?P<name>[\w'-]{2,40}) has (?P<item>(?:the|my|our) [\w' -]{2,60}?)(?: now)?[.!]?$"
)
_BACK = re.compile(
    r"^(?:i |we |they |please |have |has |\w+ )?(?:return(?:ed|s)?|g[ai]ve back|given back|brought back|got back|hand(?:ed)? back) (?P<item>.{2,60}?)[.!]?$"
    r"|^(?:i |we |\w+ )?(?:gave|g[oe]t|brought|have|give|handed) (?P<item2>.{2,60}?) back(?: from [\w' -]+)?[.!]?$"
    r"|^(?P<item3>.{2,60}?) (?:is|are|came|has come|'s) back(?: again| home| from .*)?[.!]?$"
)
_SERVICED = re.compile(
    r"\b(?:servic\w*|repair\w*|technicians?|tech|workshop|shop|dealer|tests?|tested|testing|hydro|visual|fill\w*|overhaul\w*|fitted)\b"
)
"""Back from there it was not lent to anybody."""
_LEADING = re.compile(r"^(?:(?:the|my|our|his|her|their|a|an) )+")


def read_sharing(m: Message) -> ShareLocker | None:
    """Read what is wanted of lockers; None if nothing is. Only an item that the message names is lent or given back."""
    return _code(m) or _about_people(m) or _which(m) or _named(m) or _lent(m)


def _code(m: Message) -> ShareLocker | None:
    """Read a code that lets in, or the wish for one."""
    found = _JOIN.fullmatch(m.text) or _WITHIN.search(m.text)
    if found is None and re.search(r"\d", m.text):
        found = _BARE.fullmatch(m.text)
    if found is not None:
        return ShareLocker(act="join", code=found.group("code").upper())
    return ShareLocker(act="join") if _JOIN_WHAT.fullmatch(m.plain) else None


def _about_people(m: Message) -> ShareLocker | None:
    return next((ShareLocker(act=act) for pattern, act in _ACTS if pattern.search(m.plain)), None)


def _which(m: Message) -> ShareLocker | None:
    """Read which locker is to be opened or left."""
    if left := _LEAVE.fullmatch(m.plain):
        return ShareLocker(act="leave", name=left.group("name"))
    if chosen := _CHOOSE.fullmatch(m.plain):
        name = chosen.group("name")
        return ShareLocker(act="choose", name="your own locker" if name in _OWN else name)
    return None


def _named(m: Message) -> ShareLocker | None:
    """Read a name for the locker, as it was written."""
    said = _NAME.match(m.raw.strip().rstrip(".!"))
    return ShareLocker(act="name", name=said.group("name")) if said else None


def _lent(m: Message) -> ShareLocker | None:
    if "?" in m.raw or not m.item_mentions or _SERVICED.search(m.text):
        return None
    if (given := _GIVEN.match(m.text)) or (given := _HAS.match(m.text)):
        return ShareLocker(act="lend", item=_bare(given.group("item")), name=given.group("name"))
    if lent := _LEND.match(m.text):
        return ShareLocker(act="lend", item=_bare(lent.group("item")), name=lent.group("name"))
    if back := _BACK.match(m.text):
        said = back.group("item") or back.group("item2") or back.group("item3")
        return ShareLocker(act="give_back", item=_bare(said))
    return None


def _bare(said: str) -> str:
    return _LEADING.sub("", said)
