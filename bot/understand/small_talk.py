"""What is no wish at all: thanks, a bare "stop", no dives today; and what is declined, with whom to ask."""

import re

from bot.understand.intents import Misunderstood
from bot.understand.message import Message

_LOG_ONE = "2 dives today, salt, 30 m, 45 min each"

_NOT_MINE: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(
            r"\b(?:deco|decompression) (?:for|schedule|plan|stops?|time|obligation|table)\b|\b(?:ndl|no[- ]?deco limit|surface interval|ascent rate|gas plan"
            r"|bottom time limit|how deep can i|turn pressure|best mix|maximum operating depth|mod for)\b"
        ),
        "Dive and gas planning is not mine to answer: ask your instructor and use your training's tables or planner.",
    ),
    (
        re.compile(
            r"\b(?:bends|dcs|bent|decompression sickness|ear (?:pain|hurts|infection)|my ears?|dizzy|headache|chest pain|numb|tingling|fit to dive|pregnant|asthma|medication)\b"
        ),
        "That is for a diving doctor, not for me: if it is urgent, call the emergency number and a diving medicine hotline now.",
    ),
    (
        re.compile(
            r"\bhow (?:do|can|should) (?:i|we) (?:blend|mix gas|fill|pump|top off|rebuild|adjust|repair|fix|overhaul)\b"
        ),
        "Filling, blending and repair of life support are for trained hands: ask a fill station or a technician.",
    ),
)
"""What is declined in one line, with whom to ask."""
_THANKS = re.compile(
    r"(?:ok |okay )?(?:thanks?|thank you|cheers|ta|great|cool|nice|perfect|ok|okay|good|got it)(?: \w+){0,3}"
)
_TALK: tuple[tuple[re.Pattern[str], str, tuple[str, ...]], ...] = (
    (
        re.compile(
            r"(?:(?:it is|it's|its|that is|that's|all|everything is|everything's|we are|we're|i am|i'm|no,?) )*(?:fine|all right|alright|all good|no problem|no worries|never ?mind|forget it|fair enough|understood|noted|as you say)(?: for now| now| with me| thanks| then)*"
        ),
        "All right. Nothing was changed.",
        (),
    ),
    (
        re.compile(
            r"(?:please |ok |just |oh )*(?:stop|stop it|stop that|shut up|be quiet|enough|quit|quit it|leave me alone|go away|unsubscribe)(?: now| please| already| it| that)*"
        ),
        "I stop when you say: reminders off. Nothing was changed yet.",
        ("reminders off", "snooze 7 days", "quiet hours 22 to 7"),
    ),
    (
        re.compile(
            r"(?:(?:i'm|im|we're|i|we|just|got|came|safely|finally|am|are|hi|hey|now) )*(?:back home|home again|home safe|home|back|back again|back safe\w*|back from (?:the |my |our |a )?(?:trip|holiday|vacation|sea|boat|coast))(?: now| again| safe\w*| today| and well)*"
        ),
        "Welcome back. Tell me what you dived, if it is not in the log yet.",
        (_LOG_ONE, "rinsed everything", "what is due?"),
    ),
    (
        re.compile(
            r"(?:(?:sadly|well|so|sorry|there (?:was|were)|i|we|had|did|have|just|today|yesterday|this weekend) )*(?:(?:no|zero|0) (?:dives?|diving)|(?:did not|didn't|didnt|could not|couldn't|have not|haven't|not) (?:go |get to |been )?(?:dive|diving|dived?))"
            r"(?: (?:today|yesterday|tonight|at all|again|so far|this (?:week|weekend|morning|afternoon|month)|last (?:week|weekend|night|month)|on \w+day|sadly|for me|for us|too rough|bad weather|weather))*(?: because .*)?"
        ),
        "No dives, so nothing is logged.",
        (),
    ),
    (
        re.compile(
            r"(?:yes|yep|yeah|yup|sure|y|go|go ahead|do it|please do|no|nope|nah|n)(?: please| thanks)?"
        ),
        "I do not know what that answers: tap a button, or say it in words.",
        ("what is due?", _LOG_ONE),
    ),
    (
        re.compile(
            r"(?:(?:it is|it's|its|that's|i am|i'm|we are) )*(?:all |everything )?(?:is )?(?:done|finished)(?: it all| now| all)?"
        ),
        "Done with what? Ask what is due and tap it, or say what you did.",
        ("what is due?", "rinsed the dry suit today"),
    ),
)
"""Short lines that ask for nothing, each with a kind answer and lines that would do something."""


def declined(m: Message) -> Misunderstood | None:
    """Decline what is out of scope, with whom to ask."""
    told = (answer for pattern, answer in _NOT_MINE if pattern.search(m.plain) and not m.substances)
    found = next(told, None)
    return Misunderstood(problem=found) if found else None


def thanked(m: Message) -> Misunderstood | None:
    """Answer a word of thanks."""
    return Misunderstood(problem="Any time. Safe diving.") if _THANKS.fullmatch(m.plain) else None


def read_small_talk(m: Message) -> Misunderstood | None:
    """Answer a short line that asks for nothing; None if it is none of those known."""
    return next(
        (
            Misunderstood(problem=answer, suggestions=lines)
            for pattern, answer, lines in _TALK
            if pattern.fullmatch(m.plain)
        ),
        None,
    )
