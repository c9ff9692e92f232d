"""Reads requests for a picture or a paper: the due board, the pocket card, the service record, the sheet of a trip, data as a table."""

import re

from bot.understand.intents import Export, Intent, SetPreference, ShowDue, Weekday
from bot.understand.message import Message, first

_LEAD = r"(?:(?:please|pls|can|could|would|you|i|we|may|want|need|have|like|to|see|show|send|give|get|draw|make|print|export|download|open|me|us|let|the|my|our|a|an|of|all|whole|full|new|latest|current|hi|ok|and|now) )*"
_TAIL = r"(?: (?:please|pls|now|again|to me|for me|to print|for printing|as (?:a |an )?(?:pdf|png|picture|image|paper|file|document)|in print|on paper|pdf))*"
_OF = r"(?: (?:of|for|on) (?P<of>.{2,60}?))?"

_BOARD = re.compile(
    rf"{_LEAD}(?:due |care |kit |gear |task )?(?:boards?|bord|baord|borad)(?P<look>(?: (?:in )?(?:dark|light|black|white)(?: mode)?)*){_OF}{_TAIL}"
    rf"|{_LEAD}(?P<before>dark|light) (?:due )?board(?: (?:of|for|on) (?P<of2>.{{2,60}}?))?{_TAIL}"
    rf"|{_LEAD}(?:it |all )?(?:as )?(?:an? )?(?:picture|image|chart|overview|graphic)(?: (?:of|with) (?:what|everything|all|it|that|the kit)(?: (?:is|that is|that's|falls))*(?: due)?)?{_TAIL}"
    rf"|{_LEAD}what(?:'s| is)? (?:is )?due as (?:a )?(?:picture|image|chart|board)"
)
_DAY = r"(?P<day>monday|tuesday|wednesday|thursday|friday|saturday|sunday)s?"
_WEEKLY = re.compile(
    rf"{_LEAD}(?:due )?board (?:every|each|on|weekly on|once a week on)(?: week on)? {_DAY}{_TAIL}"
    rf"|{_LEAD}(?:a )?(?:weekly board|board (?:every week|each week|weekly|once a week))(?: (?:on|every) {_DAY.replace('day>', 'day2>')})?{_TAIL}"
)
_NEVER = re.compile(
    r"(?:please |pls |ok )*(?:no|stop|end|cancel|switch off|turn off|disable|without)(?: more| sending| me| the| my| any| a)* (?:weekly |due )*boards?(?: every week| weekly| on \w+days?| any ?more| please)*"
    r"|(?:the |my )?(?:weekly |due )*boards? (?:off|never|no more)"
)
_LOOK = re.compile(
    rf"{_LEAD}(?:(?P<look>dark|light) (?:boards|mode|pictures|look)|(?:boards|pictures) (?:in )?(?P<look2>dark|light)){_TAIL}"
    r"|(?:switch|change|set) (?:the )?(?:board|boards|pictures|look)? ?to (?P<look3>dark|light)(?: mode)?"
)
_CARD = re.compile(
    rf"{_LEAD}(?:pocket|boat|laminated|laminate|reference|grease|lubricant|lubricants|lube|care|kit) ?cards?(?: (?:for|of|on) (?:the |my |our )?(?:boat|kit|gear|deck|pocket|trip))?{_TAIL}"
    rf"|{_LEAD}card (?:for|of|on) (?:the |my |our )?(?:boat|kit|gear|deck|pocket|trip|lubricants|what goes on what){_TAIL}"
    rf"|(?:please )?(?:show|print|send|draw|make|give)(?: me)? (?:the|my) card{_TAIL}"
    rf"|{_LEAD}(?:something|a card|a page) to (?:laminate|print) for the boat{_TAIL}"
)
_RECORD = re.compile(
    rf"{_LEAD}(?:service|maintenance|care) (?:records?|history|histories|book|papers?|file){_OF}{_TAIL}"
    rf"|{_LEAD}(?:records?|history|papers?|paperwork|file) (?:of|for|on) (?P<of2>.{{2,60}}?) (?:as (?:a |an )?(?:pdf|paper|file|document)|in print|on paper|to print|for (?:the |a |my )?(?:buyer|technician|insurer|insurance|workshop|sale))"
    rf"|{_LEAD}(?P<of3>.{{2,40}}?)(?:'s)? (?:service|maintenance) (?:records?|history|book|papers){_TAIL}"
    rf"|{_LEAD}(?:pdf|paper) (?:of|for|on) (?P<of4>.{{2,60}}?)"
    rf"|{_LEAD}(?:records|paperwork){_TAIL}"
    rf"|{_LEAD}(?:records?|history) (?:of|for) (?P<of5>.{{2,60}}?){_TAIL}"
)
_SHEET = re.compile(
    rf"{_LEAD}(?:trip|travel|holiday|packing) ?sheet{_TAIL}"
    rf"|{_LEAD}(?:check ?list|sheet)(?: (?:for|of) (?:the |my |our |next )*(?:trip|travel|holiday|packing))?{_TAIL}"
    rf"|{_LEAD}(?:trip|packing list) (?:as (?:a )?(?:pdf|paper|sheet|check ?list)|to print|on paper|pdf)"
)
_CSV = re.compile(
    r"\b(?:export|download|send|give|get|want|have|need|data|dives|log|records?|kit|everything|it)\b.{0,30}\b(?:csv|spreadsheets?|as (?:a )?tables?)\b"
    r"|^(?:csv|spreadsheets?)(?: export| please| file)*$|\b(?:csv|spreadsheet) (?:export|of my|of the|of all)\b"
)
_MOST_WORDS = 18
_TRIP = re.compile(r"(?:the |my |our |next )*trip")
_ALL = re.compile(
    r"(?:the |my |our |all |whole |of |everything|every|each )*(?:kit|gear|locker|items?|things?|everything|it all|lot|stuff|all)?"
)


def read_paper(m: Message) -> Intent | None:
    """Read a request for a picture or a paper; None if the message is none."""
    if len(m.said) > _MOST_WORDS:
        return None
    text = m.plain.rstrip("?!. ")
    return _wish(text) or _drawn(text, m) or _written(text, m)


def _wish(text: str) -> SetPreference | None:
    if _NEVER.fullmatch(text):
        return SetPreference(board_day="never")
    if weekly := _WEEKLY.fullmatch(text):
        day: Weekday = weekly["day"] or weekly["day2"] or "sunday"  # type: ignore[assignment]  # the pattern names days only
        return SetPreference(board_day=day)
    if look := _LOOK.fullmatch(text):
        return SetPreference(dark="dark" in {look["look"], look["look2"], look["look3"]})
    return None


def _drawn(text: str, m: Message) -> Intent | None:
    if board := _BOARD.fullmatch(text):
        said = f"{board['look'] or ''} {board['before'] or ''}"
        dark = (
            True
            if "dark" in said or "black" in said
            else False
            if "light" in said or "white" in said
            else None
        )
        return ShowDue(board=True, dark=dark, item=_item(board["of"] or board["of2"], m))
    return Export(what="card") if _CARD.fullmatch(text) else None


def _written(text: str, m: Message) -> Intent | None:
    if _SHEET.fullmatch(text):
        return Export(what="trip_sheet")
    if record := _RECORD.fullmatch(text):
        of = next((said for name in ("of", "of2", "of3", "of4", "of5") if (said := record[name])), None)
        if of and _TRIP.fullmatch(of):
            return Export(what="trip_sheet")
        vague = record["of3"] or (record["of5"] and not _ALL.fullmatch(record["of5"]))
        if vague and not m.item_mentions:  # "log a valve service record" is about no item of the kit
            return None
        return Export(what="record", item=_item(of, m))
    return (
        Export(what="csv")
        if _CSV.search(text) and not re.search(r"\b(?:import|upload|take in)\b", text)
        else None
    )


def _item(said: str | None, m: Message) -> str | None:
    """Return the item that words name, None for all of them."""
    if said is None or _ALL.fullmatch(said):
        return None
    named = first(m.item_mentions) or re.sub(r"^(?:the|my|our|this|that) ", "", said)
    return named.removesuffix("'s")
