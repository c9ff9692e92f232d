"""Reads requests of a few fixed words, slash commands among them: help, undo, export, calendar, forget, share."""

import re
from dataclasses import dataclass

from bot.understand.intents import Export, ForgetMe, Help, Intent, Misunderstood, ShareLocker, Undo
from bot.understand.message import Message

_LONGEST_CODE = 14
_MOST_WORDS = 18
"""A longer message is telling something, whatever single words it holds."""
_REQUESTS: tuple[tuple[re.Pattern[str], Intent], ...] = (
    (
        re.compile(
            r"^(?:help|start|menu|commands?|hi|hello|hey|good (?:morning|evening|afternoon))(?: there| me| please)?$"
            r"|\bwhat (?:can|do) you do\b|\bhow (?:does|do) (?:this|it|you|the)(?: \w+)? work\b|\bhow (?:do|can) i use (?:this|you)\b"
            r"|\bwhat can i (?:say|ask|type|write)\b"
        ),
        Help(),
    ),
    (
        re.compile(
            r"\b(?:cancel|delete|forget|remove|erase|drop) (?:the last|my last|last) dive(?: please)?$"
        ),
        Undo(dive=True),
    ),
    (
        re.compile(
            r"\bundo\b|\b(?:scratch|scrap) (?:that|it|the last|my last)\b|\btake (?:that|it) back\b|\btake (?:back the last|(?:the|that) last (?:\w+ )?back)\b|\brevert\b|\bstrike that\b"
            r"|\b(?:cancel|delete|forget|remove|erase|drop) (?:that|the last|my last|last)(?: one| entry| thing)?(?: please)?$"
            r"|\b(?:wrong|mistake|oops|accident)\b.*\b(?:delete|remove|erase|cancel) (?:it|that|this)\b|^(?:please )?(?:delete|remove|erase) it(?: please)?$"
        ),
        Undo(),
    ),
    (
        re.compile(
            r"\b(?:new|another|fresh|reset|change|replace|renew|revoke|different)\b(?: \w+){0,3} (?:calendar|ics) (?:link|feed|url|address)\b"
        ),
        Export(what="new_calendar_link"),
    ),
    (
        re.compile(
            r"\b(?:calendar|ics|icalendar) (?:link|feed|url|address|subscription|subscribe)\b|\bsubscribe\b(?: \w+){0,4} calendar\b|\b(?:link|url|feed) (?:to|for|of) (?:the |my |a |our )?(?:calendar|ics)\b"
        ),
        Export(what="calendar_link"),
    ),
    (
        re.compile(
            r"\bics\b|\bicalendar\b|^(?:(?:please|show|send|give|get|export|download|open|make|want|can|you|i|me|us|a|as|my|the|our|in|to|it|due|dates|for) )*calendar(?: file| export| please)*$"
            r"|\b(?:add|put|send|export|copy|save|sync|get|have|see)\b(?: \w+){0,5} (?:to|in|into|on|with|as) (?:my |the |our |a )?calendar\b"
        ),
        Export(what="calendar"),
    ),
    (
        re.compile(
            r"^(?:(?:please|pls|can|could|would|you|i|we|want|like|to|let|me|hi|ok|and|now) )*(?:export|download)(?: (?:my|all|the|our|of|everything|data|records?|dives?|log|logbook|history|kit|gear|locker|it|to|as|in|a|an|file|json|please|pls|now|for|me))*$"
            r"|\b(?:get|send|give|want|have|need|copy of) (?:(?!(?:to|see|look)\b)\w+ ){0,3}?(?:my |all |the )*(?:data|records?|log|logbook|history)\b"
            r"|\bmy (?:data|dives|log|records?) (?:as|in) (?:an? )?(?:csv|json|file|spreadsheet|pdf)\b"
        ),
        Export(),
    ),
    (
        re.compile(
            r"^(?:(?:please|pls|can|could|would|you|i|want|like|to|just|now|ok|hi|hey|and) )*(?:forget|erase|delete|wipe|remove) (?:me|(?:my account and )?everything(?: about me| of mine| i told you| (?:that )?you (?:know|have|store|stored|keep)(?: about| of| on)? me)?|(?:all )?(?:of )?my (?:data|account|profile|stuff|locker)|all (?:my |the )?data)(?: please| pls| now| for good| completely| from (?:your|the) (?:records?|database|memory))*$"
            r"|^(?:please )?forget about me(?: please)?$"
        ),
        ForgetMe(),
    ),
    (
        re.compile(
            r"\bshare\b(?! an? )|\binvite\b"
            r"|\b(?:let|give) (?:\w+ ){1,4}?(?:access|join|see (?:my|our) (?:locker|kit|gear))\b"
            r"|\badd (?:my )?(?:buddy|partner|student|wife|husband|friend) to (?:my|the|our) (?:locker|kit)\b"
        ),
        ShareLocker(),
    ),
)
_ANOTHERS = re.compile(r"^(?:please )?undo (?!(?:that|it|let|what|today|yesterday)'s\b)[\w-]+'s\b")
_UNDO_THIS = re.compile(r"(?:please )?undo (?:the|my|our) (?!last\b)")
_SLASH = re.compile(r"^/(\w{1,32})(?:@\w+)?")


@dataclass(frozen=True, slots=True)
class Command:
    """A word with a slash that chat programs offer in a menu. `words` is what it stands for."""

    name: str
    words: str
    told: str
    """What the menu says of it; "" for one that is understood and not offered."""


COMMANDS = (
    Command("due", "what is due", "What falls due"),
    Command("kit", "show kit", "Your kit"),
    Command("board", "show board", "What is due, as a picture"),
    Command("card", "pocket card", "What goes on what, for the boat"),
    Command("dives", "show my dives", "Your dive log"),
    Command("trip", "trip", "The planned trip and what to pack"),
    Command("calendar", "calendar", "Due dates for your calendar"),
    Command("lockers", "my lockers", "Open another locker"),
    Command("share", "share", "Let somebody into this locker"),
    Command("undo", "undo", "Take the last thing back"),
    Command("help", "help", "What you can say"),
    Command("start", "help", ""),
    Command("record", "service record", ""),
    Command("sheet", "trip sheet", ""),
    Command("export", "export my data", ""),
    Command("forget", "forget me", ""),
    Command("join", "join", ""),
)
_WORDS = {command.name: command.words for command in COMMANDS}


def read_command(m: Message) -> Message | None:
    """Return what a slash command says in words; None if the message is no command."""
    if not (command := _SLASH.match(m.text)):
        return None
    name, rest = command.group(1), m.text[command.end() :].strip()
    if name == "start" and rest:  # a link that carries a code opens with it
        return m.again(f"join {rest}" if len(rest) <= _LONGEST_CODE else "help")
    named = _WORDS.get(name, name)
    return m.again(f"{named} {rest}".strip())


def read_request(m: Message) -> Intent | None:
    """Read a request; None if the message is none."""
    if len(m.said) > _MOST_WORDS:
        return None
    if _ANOTHERS.search(m.text):
        return Misunderstood(
            problem="By words I take back only what you did last. For another's, tap Undo under it.",
            suggestions=("undo",),
        )
    if _UNDO_THIS.match(m.plain) and (m.parts or m.item_mentions):
        return Misunderstood(
            problem="By words I take back only the last thing you told me.", suggestions=("undo",)
        )
    return next((intent for pattern, intent in _REQUESTS if pattern.search(m.plain)), None)
