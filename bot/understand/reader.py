"""From a text, with the buttons last shown, to a typed intent. Total: whatever comes in, an intent comes out.

Each reader first answers "does it match?" and returns None if not; the first that matches decides. Their order is
the one place where two readings of the same words are weighed against each other.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from rapidfuzz import fuzz

from bot.advice.question import About
from bot.understand.about import is_question
from bot.understand.add import read_add, read_item_change
from bot.understand.care import is_fitted, read_care
from bot.understand.cylinders import read_cylinder
from bot.understand.dive_changes import read_dive_change, read_log
from bot.understand.dives import read_dive
from bot.understand.follow_up import follow_up
from bot.understand.happenings import read_happened_and_asked, read_happening
from bot.understand.intents import (
    AddItem,
    Ask,
    ForgetMe,
    Intent,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    SetPreference,
    ShowDue,
    ShowKit,
)
from bot.understand.kit import read_retire, read_show, read_why_due
from bot.understand.lexicon import content
from bot.understand.manual import read_manual
from bot.understand.message import Message, OwnMeaning
from bot.understand.preferences import read_own_word, read_preference
from bot.understand.quantities import SenselessError
from bot.understand.questions import read_question
from bot.understand.requests import read_command, read_request
from bot.understand.rings import read_ring, read_ring_size
from bot.understand.text import LONGEST, clean, words
from bot.understand.trips import read_snooze, read_trip, read_trip_wish
from bot.understand.vocabulary import SMALL_WORDS

EXAMPLES = (
    "2 dives today, salt, 30 m, 45 min each",
    "what do I put on the neck ring?",
    "add dry suit, plastic zip, latex seals",
    "what is due?",
)


@dataclass(frozen=True)
class Offer:
    """A button of the last message: its label and what a tap on it means."""

    label: str
    intent: Intent


@dataclass(frozen=True)
class Context:
    """What the reading may lean on. `offers`: buttons of the last message; `last`: the question last answered."""

    offers: tuple[Offer, ...] = ()
    names: tuple[str, ...] = ()
    own: tuple[OwnMeaning, ...] = ()
    last: Intent | None = None


_WHY_ONLY = re.compile(r"(?:but |and )?why(?: is that| not| that| so)?")


def understand(text: str, today: date, context: Context | None = None) -> Intent:
    """Return what a message means. `today` is the date in the diver's zone. Never raises."""
    context = context or Context()
    message = Message(text, today, context.names, context.own)
    if problem := _unreadable(text, message):
        return problem
    try:
        if chosen := _offered(message, context):
            return chosen
        read = _read(message, context)
        vague = isinstance(read, Ask | Misunderstood)
        return (_loosely_offered(message, context) if vague else None) or read
    except SenselessError as said:
        return Misunderstood(problem=str(said), suggestions=EXAMPLES[:1])


def understand_question(text: str, today: date) -> Intent:
    """Return the question a text asks, whatever else it could mean; Misunderstood where nothing of the trade is named."""
    message = Message(text, today)
    if problem := _unreadable(text, message):
        return problem
    try:
        found = _declined(message) or read_ring(message) or read_question(message)
    except SenselessError as said:
        return Misunderstood(problem=str(said), suggestions=EXAMPLES[1:2])
    return found or Misunderstood(
        problem="I know no part or lubricant by those words.", suggestions=EXAMPLES[1:2]
    )


def _unreadable(text: str, message: Message) -> Misunderstood | None:
    if len(text) > LONGEST:
        return Misunderstood(
            problem=f"That is {len(text):,} characters; I read up to {LONGEST:,}. Nothing was stored.",
            suggestions=EXAMPLES[:2],
        )
    if not words(message.text):
        return Misunderstood(problem="I found no words to read in that.", suggestions=EXAMPLES[:3])
    return None


def _read(m: Message, context: Context) -> Intent:
    if (command := read_command(m)) is not None:
        return _read(command, context)
    if (request := read_request(m)) is not None:
        return request
    if isinstance(context.last, ShowDue) and _WHY_ONLY.fullmatch(m.plain):
        return context.last.model_copy(update={"why": True})
    if isinstance(context.last, Ask) and _WHY_ONLY.fullmatch(m.plain):
        return context.last.model_copy(
            update={"question": context.last.question.model_copy(update={"about": About.WHY})}
        )
    followed = follow_up(m, context.last) if isinstance(context.last, Ask) else None
    return followed or _first_match(m) or _declined(m) or Misunderstood(suggestions=_suggestions(m))


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


def _declined(m: Message) -> Misunderstood | None:
    """Decline what is out of scope, with whom to ask."""
    told = (answer for pattern, answer in _NOT_MINE if pattern.search(m.plain) and not m.substances)
    found = next(told, None)
    return Misunderstood(problem=found) if found else None


def _first_match(m: Message) -> Intent | None:
    if _THANKS.fullmatch(m.plain):
        return Misunderstood(problem="Any time. Safe diving.")
    question = is_question(m)
    if question and (declined := _declined(m)):
        return declined
    readers: Sequence[Callable[[Message], Intent | None]] = _ASKED if question else _TOLD
    return next((intent for reader in readers if (intent := reader(m)) is not None), None)


def _care_interval(m: Message) -> Ask | None:
    """Tell "how often" questions from "what is due"."""
    return read_question(m) if re.search(r"\bhow often\b|\bhow (?:do|should|can) i\b", m.plain) else None


def _show_when_asked(m: Message) -> ShowKit | ShowDue | None:
    return read_show(m)


def _trip_with_dates(m: Message) -> PlanTrip | None:
    """Read a trip that happens to end in a question ("what must I do before?")."""
    return read_trip(m) if m.future.span is not None else None


def _trip_asked(m: Message) -> PlanTrip | None:
    """Read a question that only names a trip as a wish to see it."""
    trip = read_trip(m)
    return PlanTrip(shows=True) if trip == PlanTrip() else trip


def _asked_to_add(m: Message) -> AddItem | None:
    """Read "can you add it", which is a request and no question."""
    return (
        read_add(m)
        if re.search(r"\b(?:add|register|enter) (?:it|them|that|this|a|my|an)\b", m.plain)
        else None
    )


def _mishap(m: Message) -> Ask | None:
    """Read "I got oil on the oxygen valve", which is no dive in oily water."""
    if (
        not m.substances
        or {"dive", "dived"} & set(m.tokens)
        or (m.conditions and not (m.parts or m.item_hits))
    ):
        return None
    asked = read_question(m)
    return asked if asked and asked.question.happened else None


def _fitted_new(m: Message) -> RecordCare | None:
    """Read "new cells in the rebreather" as care before it is read as a new rebreather."""
    return read_care(m) if is_fitted(m) else None


def _bare_item(m: Message) -> ShowKit | None:
    """Read an item's name on its own as a wish to see it."""
    alone = len(m.item_mentions) == 1 and len(m.said) <= len(m.item_mentions[0].split()) + 1
    return ShowKit(item=m.item_mentions[0]) if alone and not m.substances else None


def _named_part(m: Message) -> Ask | None:
    """Read a part or a substance named without a question as asking about it; an item alone says too little."""
    return read_question(m) if m.parts or m.substances else None


_PLEASE_LOG = re.compile(
    r"\b(?:can|could|will|would) you (?:\w+ ){0,2}(?:log|add|record|note|enter|put)\b|^(?:please |pls )?(?:log|add|record|note)\b"
)


def _asked_to_log(m: Message) -> LogDive | None:
    """Read "can you log 2 dives?"; any other question that names figures logs nothing."""
    return read_dive(m) if _PLEASE_LOG.search(m.plain) else None


_CAN_YOU = re.compile(r"^(?:please |hi |hey |and |ok )*(?:can|could|will|would) (?:you|we) (?:please )?")


def _asked_to_change(m: Message) -> LogDive | PlanTrip | SetPreference | None:
    """Read "can you delete the dive of 12 May?" as the request it is."""
    if not _CAN_YOU.match(m.plain):
        return None
    wish = m.again(_CAN_YOU.sub("", m.mended, count=1).rstrip(" ?"))
    return read_preference(wish) or read_dive_change(wish) or read_trip_wish(wish)


def _asked_for_trip(m: Message) -> PlanTrip | None:
    """Read "what do I pack?"; whether to call a trip off is for the diver to tell, not to ask."""
    wish = read_trip_wish(m)
    return wish if wish and wish.shows else None


_ASKED: Sequence[Callable[[Message], Intent | None]] = (
    read_preference,
    _asked_to_change,
    read_log,
    _asked_for_trip,
    read_why_due,
    read_happened_and_asked,
    _asked_to_add,
    _trip_with_dates,
    read_snooze,
    _care_interval,
    _show_when_asked,
    read_ring,
    read_question,
    _trip_asked,
    _asked_to_log,
    read_add,
)
_TOLD: Sequence[Callable[[Message], Intent | None]] = (
    read_log,
    read_dive_change,
    read_own_word,
    read_preference,
    read_item_change,
    read_cylinder,
    read_manual,
    read_ring_size,
    read_snooze,
    read_trip_wish,
    read_happening,
    _fitted_new,
    read_add,
    read_retire,
    read_trip,
    read_care,
    _mishap,
    read_dive,
    read_show,
    read_ring,
    _bare_item,
    _named_part,
)


def _offered(m: Message, context: Context) -> Intent | None:
    """Match a typed answer to a button of the last message: its number, or its words give or take a slip."""
    if m.text.isascii() and m.text.isdigit() and len(m.text) <= 2 and 1 <= int(m.text) <= len(context.offers):
        return context.offers[int(m.text) - 1].intent
    said = m.text.strip(" .!")
    for offer in context.offers:
        if said == clean(offer.label):
            return offer.intent
    close = [(fuzz.ratio(said, clean(o.label)), n) for n, o in enumerate(context.offers)]
    best, at = max(close, default=(0.0, 0))
    return context.offers[at].intent if best >= _CLOSE and not _is_final(context.offers[at]) else None


def _is_final(offer: Offer) -> bool:
    """Tell whether a button does what cannot be undone: it wants its exact words."""
    return isinstance(offer.intent, ForgetMe)


_CLOSE = 75
_SHORT_ANSWER = 6


def _loosely_offered(m: Message, context: Context) -> Intent | None:
    """Match a short answer to the one button that shares most words with it ("it is metal", "the neck one")."""
    if len(m.said) > _SHORT_ANSWER or is_question(m):
        return None
    said = {w for w in m.tokens if w not in SMALL_WORDS}
    shared = sorted(
        ((len(said & set(content(clean(o.label)))), -n) for n, o in enumerate(context.offers)), reverse=True
    )
    if not shared or shared[0][0] == 0 or (len(shared) > 1 and shared[0][0] == shared[1][0]):
        return None
    chosen = context.offers[-shared[0][1]]
    return None if _is_final(chosen) else chosen.intent


def _suggestions(m: Message) -> tuple[str, ...]:
    """Offer lines that would work, nearest to what was said."""
    if m.item_mentions:
        item = m.item_mentions[0]
        return (f"what do I put on the {item}?", f"what is due on the {item}?", f"rinsed the {item} today")
    return tuple(sorted(EXAMPLES, key=lambda e: -fuzz.token_set_ratio(m.plain, e))[:3])
