"""Reads a question that stands alone: no locker, no buttons, nothing said before. It loads no other reader, so it starts fast."""

from datetime import date

from bot.understand.intents import Intent, Misunderstood
from bot.understand.message import Message
from bot.understand.quantities import SenselessError
from bot.understand.questions import read_question
from bot.understand.rings import read_ring
from bot.understand.small_talk import declined
from bot.understand.text import LONGEST, tight, words

EXAMPLES = (
    "2 dives today, salt, 30 m, 45 min each",
    "what do I put on the neck ring?",
    "add dry suit, plastic zip, latex seals",
    "what is due?",
)


def understand_question(text: str, today: date) -> Intent:
    """Return the question a text asks, whatever else it could mean; Misunderstood where nothing of the trade is named."""
    message = Message(tight(text), today)
    if problem := unreadable(text, message):
        return problem
    try:
        found = declined(message) or read_ring(message) or read_question(message)
    except SenselessError as said:
        return Misunderstood(problem=str(said), suggestions=EXAMPLES[1:2])
    return found or Misunderstood(
        problem="I know no part or lubricant by those words.", suggestions=EXAMPLES[1:2]
    )


LONG_WINDED = Misunderstood(
    problem="I could not read that to its end. Nothing was stored.", suggestions=EXAMPLES[:3]
)
"""What is answered to a text that kept its reader too long."""


def unreadable(text: str, message: Message) -> Misunderstood | None:
    """Say why a text cannot be read at all; None if it can."""
    if len(text) > LONGEST:
        return Misunderstood(
            problem=f"That is {len(text):,} characters; I read up to {LONGEST:,}. Nothing was stored.",
            suggestions=EXAMPLES[:2],
        )
    if not words(message.text):
        return Misunderstood(problem="I found no words to read in that.", suggestions=EXAMPLES[:3])
    return None
