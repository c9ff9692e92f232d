"""Reads what is said of the kit itself: retired, shown, and what is due on it."""

import re
from datetime import date

from dateutil.relativedelta import relativedelta

from bot.understand.dates import read_dates
from bot.understand.intents import RetireItem, ShowDue, ShowKit
from bot.understand.message import Message, first
from bot.understand.spans import read_span
from bot.understand.undone import read_undone
from store.vocabulary import Task

_RETIRE = re.compile(
    r"\b(?:sold|retire|retired|get rid of|got rid of|remove|delete|threw away|thrown away|scrapped|lost my|lost the|gave away|given away|binned|no longer have|don't have|dont have|(?<!a )(?<!one )(?<!the )drop(?! of\b)|gone|flogged|thrown out|threw out|chucked|stolen|took out|take out|take .* (?:out|off)|is dead|is gone|is no more)\b"
)
_THROWN_AWAY = re.compile(
    r"^(?:i |we |have |just )*(?:sold|threw away|threw out|binned|scrapped|gave away|retired?|delete) (?:the |my |our |an? |old )*(?P<what>[a-z]+)\b(?= ;|$|,| delete| from| and| today| yesterday)"
)
_KIT = re.compile(
    r"^(?:list|show)(?: of| me)? everything\b|^(?:show |list |see |view |display |me |what's in |whats in |what is in |what do i have in |open |my |the |tell me )*(?:all )?(?:my |our |the )?(?:kit|gear|equipment|locker|items|stuff|inventory|kit list|dive count|dives)\b(?: list)?|\bwhat (?:kit|gear|equipment|items) (?:do i|have i|did i|is)\b|\bhow many dives\b|\bwhat's in my (?:kit|locker|bag)\b|\bwhat have i got\b|\bwhat do i own\b|\bwhat gear\b|\bwhat's in the locker\b"
)
_SHOW_ALL = re.compile(
    r"\b(?:show|list|see)(?: me)?(?: all| everything)?(?: of| in| the| my| our)* (?:kit|gear|equipment|locker|items)\b"
)
_SHOW = re.compile(r"^(?:please |can you |pls )*(?:show|list|display|view|see)\b")
_DUE = re.compile(
    r"\bdue\b|\boverdue\b|\bto do\b|\btodo\b|\bwhat needs\b|\bwhat must i\b|\bwhat should i do\b|\bwhat's next\b|\bwhats next\b|\bwhat is next\b|\bcoming\b|\bwhen (?:is|was|does|do) (?:\w+ ){0,4}(?:service|serviced|test|tested|hydro|visual|inspection|cleaned|greased|next|last|need)|\bupcoming\b|\bout of date\b|\bneeds doing\b|\bneeds? (?:servicing|greasing|cleaning|testing|attention|care|looking after|maintenance)\b|\banything (?:i need|to do|due|needs?)\b|\bneed attention\b|\bneeds attention\b|\bcheck list\b|\bchecklist\b|\bwhat do i (?:need|have) to do\b|\bmaintenance\b",
)
_WHEN_NEXT = re.compile(
    r"\bwhen (?:is|was|are|were|does|do|did|must|should|shall|will|can|has|have|had)\b(?: \w+){1,9}? (?:next|again|last|due)\b"
    r"|\bwhen (?:is|are) the next\b|\bwhen (?:next|again) (?:must|should|do|does|to)\b"
)
_TEST_WORDS = {
    "hydro": Task.TEST,
    "hydrostatic": Task.TEST,
    "visual": Task.INSPECT,
    "service": Task.SERVICE,
    "serviced": Task.SERVICE,
}


_LACKS = re.compile(r"(?:no longer|don't|dont) have|lost")
_OF_CARE = re.compile(
    r"\b(?:test\w*|hydro\w*|visual\w*|vip|service\w*|inspect\w*|dates?|records?|papers?|paperwork|certificate|sticker|receipt|track|rinsed|greased|cleaned)\b"
)
"""What a diver can lack of an item that is still there."""


_FROM_KIT = re.compile(
    r"\b(?:from|off|out of|in) (?:the |my |our )?(?:kit|gear|list|locker|inventory|equipment)\b"
)
_HANDLED = re.compile(
    r"\b(?:remove|take|took)\b(?: \w+){1,5} (?:to (?:dry|rinse|clean|wash|check|inspect|look|service|grease|change|fill)|after|before|while|when|during|from|off)\b"
)
"""Taken off or apart, not out of the kit."""
_TURNED = re.compile(r"\bgone (?!for good|missing|now|from|today|yesterday|since|at last)\w+")
"""It became dry, stiff or dull."""


def only_a_part(m: Message, item: str) -> bool:
    """Tell whether it is a part that went or was taken off, and the item is where that belongs."""
    if _FROM_KIT.search(m.plain):
        return False
    if _HANDLED.search(m.plain) or _TURNED.search(m.plain):
        return True
    of_it = re.search(rf"\b(?:of|from|off|on|in|inside) (?:the |my |our |an? )?{re.escape(item)}\b", m.plain)
    behind = re.search(rf"\b{re.escape(item)}(?:'s)? (?P<next>\w+)", m.plain)
    if of_it or behind is None:
        return of_it is not None
    longer = f"{item} {behind['next']}"
    return longer in m.raw.casefold() and m.again(longer).parts != m.again(item).parts


def read_retire(m: Message) -> RetireItem | None:
    """Read that an item has left the kit."""
    gone_told = _RETIRE.search(m.plain)
    if gone_told and m.item_mentions and not (_LACKS.match(gone_told.group()) and _OF_CARE.search(m.plain)):
        return None if only_a_part(m, m.item_mentions[0]) else RetireItem(item=m.item_mentions[0])
    if (gone := _THROWN_AWAY.search(m.plain)) and m.again(gone.group("what")).parts:
        return RetireItem(item=gone.group("what"))
    return None


def read_show(m: Message) -> ShowKit | ShowDue | None:
    """Read a wish to see the kit or what is due."""
    if (_DUE.search(m.plain) or _WHEN_NEXT.search(m.plain)) and not re.search(r"\bhow often\b", m.plain):
        asked = next((task for word, task in _TEST_WORDS.items() if word in m.tokens), None)
        if asked is None and _WHEN_NEXT.search(m.plain):
            asked = first([task for _, _, task in m.tasks])
        return ShowDue(item=first(m.item_mentions), until=_until(m), task=asked)
    if _KIT.search(m.plain) or _SHOW_ALL.search(m.plain) or (_SHOW.match(m.plain) and m.item_mentions):
        return ShowKit(item=first(m.item_mentions))
    return read_undone(m)


_UP_TO = re.compile(r"\b(?:before|until|till|by|up to)\b")


_PERIOD = re.compile(
    r"(?<!before )(?<!before the end of )(?<!start of )(?<!end of )(?<!beginning of )(?<!middle of )\b(?:this|next) (?:month|year)\b"
)


def _until(m: Message) -> date | None:
    """Return the day up to which is asked: of "in May" and "next week" the last, of "before next week" as it is read."""
    if m.future.span is not None:
        return m.future.span[1]
    if part := _PERIOD.search(m.plain):
        return read_dates(f"end of {part.group()}", m.today, "future").on
    on = m.future.on
    if _UP_TO.search(m.plain):
        return on
    if on is not None and m.future.month_only:
        this_month = on.month == m.today.month and not re.search(r"\d", m.text)
        return (m.today.replace(day=1) if this_month else on) + relativedelta(months=1, days=-1)
    span = read_span(m.mended, m.today)
    return span.end if span else on


_WHY_DUE = re.compile(
    r"\bwhy\b(?: \w+){0,8}? (?:due|overdue|asked for|on (?:the|my) list)\b"
    r"|\bwhy (?:do|must|should|would|does|have)(?: i| we| it| the \w+| my \w+)*(?: need| have| has)?(?: to)? (?:do|service|serviced|test|tested|replace|replaced|change|changed|calibrate|inspect|inspected|be (?:serviced|tested|replaced|inspected)|servicing|testing)\b"
    r"|\bwhy (?:does|do|must|should|would|is|are)(?: \w+){1,5}? (?:needs?|wants?|asking for|require|up for) (?:a |an |another |its |the |their |new |next |to be |to have |yet )*(?:\w+ )?(?:hydro\w*|visual\w*|vip|service\w*|servicing|overhaul|inspection|inspected|test|tested|testing|calibration|calibrated|check|checked|eddy)\b"
    r"|\bwhy (?:a|an|another|the|is there a|again a)(?: new| next)? (?:\w+ )?(?:hydro\w*|visual\w*|vip|service|servicing|overhaul|inspection|test|calibration)\b(?! (?:fail|kit))"
    r"|\bwhy (?:are you|do you|you) (?:asking|ask|remind|reminding|nag|nagging|tell|telling|on about|going on about)\b"
    r"|\bwhy (?:hydro\w*|visual|vip|service|servicing|overhaul|inspection|test|calibration) (?:again|already|now|so soon|so early)\b"
)


def read_why_due(m: Message) -> ShowDue | None:
    """Read a question why something is due; why a lubricant goes on a part is another question."""
    if not _WHY_DUE.search(m.plain) or m.substances:
        return None
    item = first(m.item_mentions)
    task = next((task for word, task in _TEST_WORDS.items() if word in m.tokens), None)
    task = task or first([t for _, _, t in m.tasks])
    if task in _ABOUT_STUFF and not re.search(r"\b(?:over)?due\b", m.plain):
        return None
    refs = () if item else tuple(sorted(m.parts, key=lambda r: (r.item, r.part)))
    return ShowDue(why=True, item=item, task=task, refs=refs)


_ABOUT_STUFF = frozenset({Task.LUBRICATE, Task.POWDER, Task.CLEAN})
