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
from bot.reading.encoder import WeightsError, encoder
from bot.reading.read import read as learned
from bot.reading.scene import Scene
from bot.reading.weigh import weighed
from bot.understand.about import is_question
from bot.understand.add import read_add, read_item_change
from bot.understand.care import is_fitted, read_care
from bot.understand.cylinders import read_cylinder
from bot.understand.dive_changes import read_dive_change, read_log
from bot.understand.dives import read_dive
from bot.understand.fitness import read_fitness, read_unfit
from bot.understand.follow_up import follow_up
from bot.understand.happenings import read_happened_and_asked, read_happening
from bot.understand.in_passing import EXAMPLES, unreadable
from bot.understand.intents import (
    AddItem,
    Ask,
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
from bot.understand.manual import read_manual
from bot.understand.message import Message, OwnMeaning
from bot.understand.offered import Offer, chosen, loosely_chosen
from bot.understand.papers import read_paper
from bot.understand.preferences import read_own_word, read_preference
from bot.understand.put_off import read_snooze
from bot.understand.quantities import SenselessError
from bot.understand.questions import read_question
from bot.understand.requests import read_command, read_request
from bot.understand.rings import read_ring, read_ring_size
from bot.understand.sharing import read_sharing
from bot.understand.small_talk import declined, read_small_talk, thanked
from bot.understand.text import tight
from bot.understand.trips import read_next_dive, read_trip, read_trip_wish
from store.vocabulary import ItemKind

__all__ = ["Context", "Offer", "understand"]


@dataclass(frozen=True)
class Talk:
    """What was spoken of just before. `about`: in the words of the corpora, "" if nothing was."""

    about: str = ""
    item: str | None = None
    part: str | None = None


@dataclass(frozen=True)
class Context:
    """What the reading may lean on. `offers`: buttons of the last message; `last`: the question last answered."""

    offers: tuple[Offer, ...] = ()
    names: tuple[str, ...] = ()
    own: tuple[OwnMeaning, ...] = ()
    last: Intent | None = None
    talk: Talk = Talk()
    imperial: bool = False
    """Bare numbers are feet and Fahrenheit."""


_WHY_ONLY = re.compile(r"(?:but |and )?why(?: is that| not| that| so)?")


def understand(text: str, today: date, context: Context | None = None) -> Intent:  # noqa: PLR0911 - a rule each
    """Return what a message means. `today` is the date in the diver's zone. Never raises."""
    context = context or Context()
    message = Message(tight(text), today, context.names, context.own)
    if problem := unreadable(text, message):
        return problem
    message = _of_the_only_suit(message)
    try:
        if meant := chosen(message, context.offers):
            return meant
        if (command := read_command(message)) is not None:
            return _read(command, context)
        older = _older(message, context)
        if isinstance(older, Ask | Misunderstood) and (meant := loosely_chosen(message, context.offers)):
            return meant
        read = _weighed(message, older, context)
        vague = isinstance(read, Ask | Misunderstood)
        return (loosely_chosen(message, context.offers) if vague else None) or read
    except SenselessError as said:
        return Misunderstood(problem=str(said), suggestions=EXAMPLES[:1])
    except WeightsError:
        return Misunderstood(problem=_ONLY_COMMANDS, suggestions=("/due", "/kit", "/board", "/undo"))


_SUIT = re.compile(r"(?<!dry )(?<!wet )\bsuit\b", re.IGNORECASE)


def _of_the_only_suit(m: Message) -> Message:
    """Return a question on "the suit" as one on the wetsuit, where that is the only suit of the diver's."""
    if not _SUIT.search(m.raw) or not is_question(m) or re.search(r"\bdry|\bzip", m.raw, re.IGNORECASE):
        return m
    kinds = {kind for name in m.names for kind in m.again(name).kinds}
    only_wet = ItemKind.WETSUIT in kinds and ItemKind.DRY_SUIT not in kinds
    return m.again(_SUIT.sub("wetsuit", m.raw)) if only_wet else m


_ONLY_COMMANDS = "I can read no words just now, only commands and buttons: part of my program is damaged. Nothing was noted."


def _older(m: Message, context: Context) -> Intent:
    try:
        return _read(m, context)
    except SenselessError as said:
        return Misunderstood(problem=str(said), suggestions=EXAMPLES[:1])


def _weighed(m: Message, older: Intent, context: Context) -> Intent:
    """Return what the learned reading and the older readers make of a message together."""
    scene = Scene(m, imperial=context.imperial, item=context.talk.item, part=context.talk.part)
    reading = learned(m.raw, scene, encoder(), context.talk.about, context.last)
    meant = weighed(older, reading)
    lost = isinstance(meant, Misunderstood) and not (meant.suggestions or meant.choices)
    return meant.model_copy(update={"suggestions": EXAMPLES[:1]}) if lost else meant


def understand_offered(text: str, today: date, context: Context) -> tuple[Intent, int | None]:
    """Return what a message means, and which of the offers it means, if it is one: intents of two may be alike."""
    meant = understand(text, today, context)
    return meant, next((n for n, offer in enumerate(context.offers) if offer.intent is meant), None)


def _read(m: Message, context: Context) -> Intent:
    if (wanted := read_sharing(m) or read_paper(m) or read_request(m)) is not None:
        return wanted
    if isinstance(context.last, ShowDue) and _WHY_ONLY.fullmatch(m.plain):
        return context.last.model_copy(update={"why": True})
    if isinstance(context.last, Ask) and _WHY_ONLY.fullmatch(m.plain):
        return context.last.model_copy(
            update={"question": context.last.question.model_copy(update={"about": About.WHY})}
        )
    followed = follow_up(m, context.last) if isinstance(context.last, Ask) else None
    return (
        followed
        or _first_match(m)
        or declined(m)
        or read_small_talk(m)
        or Misunderstood(suggestions=_suggestions(m))
    )


def _first_match(m: Message) -> Intent | None:
    if thanks := thanked(m):
        return thanks
    question = is_question(m)
    if question and (refused := read_fitness(m) or declined(m)):
        return refused
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
    read_unfit,
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
    read_next_dive,
    read_trip,
    read_care,
    _mishap,
    read_dive,
    read_show,
    read_ring,
    _bare_item,
    _named_part,
)


def _suggestions(m: Message) -> tuple[str, ...]:
    """Offer lines that would work, nearest to what was said."""
    if m.item_mentions:
        item = m.item_mentions[0]
        return (f"what do I put on the {item}?", f"what is due on the {item}?", f"rinsed the {item} today")
    return tuple(sorted(EXAMPLES, key=lambda e: -fuzz.token_set_ratio(m.plain, e))[:3])
