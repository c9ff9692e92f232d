"""What may be recorded of a clause: what is told, done, by or for this diver. Few rules, tested over every pair of kind and telling."""

import re

from bot.advice.question import PartRef
from bot.advice.substances import STUFF, Trait
from bot.reading.clauses import Clause, Span
from bot.understand.care import read_refs
from bot.understand.intents import Misunderstood
from bot.understand.message import Message
from store.catalogue import CATALOGUE
from store.vocabulary import ItemKind

RECORDS = frozenset(
    "dive fix_dive drop_dive kit fact gone care mishap manual trip fix_trip drop_trip snooze wish word share forget undo".split()
)
"""Kinds that change the record."""
PLANS = frozenset("trip fix_trip drop_trip snooze wish share forget undo".split())
"""Kinds that may lie ahead, since that is what they are about."""


def is_aside(problem: str) -> bool:
    """Tell whether a reason is that something was denied, planned, supposed or of others."""
    return problem in _ASIDE.values() or problem == _NO_DIVE


_ASIDE: dict[str, str] = {
    "not": "So it did not happen, and I noted nothing.",
    "will": "That lies ahead, so I noted nothing. Tell me once it is done.",
    "if": "That is only supposed, so I noted nothing.",
    "they": "That is not about your kit, so I noted nothing.",
}
_NO_DIVE = "No dives, so nothing is logged."


_BROUGHT = re.compile(
    r"\bdropp?(?:ed|ing)?\b.*\boff\b(?! the (?:boat|jetty|pier|ladder|deck|bench|table|tailgate))",
    re.IGNORECASE,
)
"""Dropped off somewhere, not dropped."""
_NOT_DONE = re.compile(
    r"(?:\b(?:not|never|no|without|forgot(?:ten)? to|failed to)|n't)\s+(?:\w+\s+)?$", re.IGNORECASE
)
_THEIRS = re.compile(
    r"\b(?:their|his|her|hers|theirs|somebody's|someone's|stranger's|buddy's|student's|guest's|client's|customer's|mate's|friend's)\s+(?:\w+\s+)?$",
    re.IGNORECASE,
)


def _is_others(clause: Clause) -> bool:
    """Tell whether the only kit that a clause names is somebody else's: "their computer flooded"."""
    named = [s for s in clause.spans if s.slot in {"item", "part"}]
    return bool(named) and all(_THEIRS.search(clause.text[: s.start - clause.start]) for s in named[:1])


_STILL_AHEAD = re.compile(
    r"\b(?:plan is|the plan|planning to|nothing done yet|not done yet|still (?:has|have|needs?) to be|on my list|to[- ]do)\b",
    re.IGNORECASE,
)
_TO_BE_LOGGED = re.compile(
    r"\b(?:want|like|need|let me|please|can you|could you) (?:\w+ )?(?:to )?(?:log|add|note|record|enter|put in)\b",
    re.IGNORECASE,
)
_OTHER_PEOPLE = re.compile(
    r"\b(?:he|she|they|his|her|hers|their|theirs|him|them|buddy|buddies|wife|husband|son|daughter|kid|kids|cousin|brother|sister|father|dad|mother|mum|mom"
    r"|uncle|aunt|friends?|mates?|students?|clients?|guests?|customers?|colleagues?|partner|instructor|captain|skipper|boss|neighbou?r|guy|girl|boy|lads?|lady|people"
    r"|team|teammate|club|group|others|grand\w+|somebody|someone|everybody|everyone)\b",
    re.IGNORECASE,
)
_SCHOOL = re.compile(
    r"\b(?:students?|club|group|team|kids?|clients?|guests?|customers?|instructor)(?:'?s)?\b", re.IGNORECASE
)
"""For whom somebody keeps kit that is theirs to look after all the same."""
_AND_ME = re.compile(
    r"\b(?:and|&|with|plus) (?:me|i|us|myself)\b|\bme and\b|\bwe\b|\b(?:buddy|wife|husband|son|daughter|mate|friend) \w+ i\b",
    re.IGNORECASE,
)
_NO_SUBJECT = re.compile(
    r"\W*(?:(?:just|jst|hi|hey|ok|so|and|well|please|pls|log|logged|today|yesterday|also|finally|only|back from)\W+)*"
    r"(?:(?:teaching|guiding|diving|leading|working|training)\b|did|done|had|dived|dove|went|got|\d|an?\b|one|two|three|four|five|six|i\b|i'm|i've|my (?:dives?|log))",
    re.IGNORECASE,
)
"""How one tells of one's own dives; a name that nobody knows, in small letters too, stands before the verb."""


_MAYBE = re.compile(
    r"\b(?:might|maybe|perhaps|possibly|not (?:sure|certain|fixed|booked)|don'?t put it|no put it|thinking (?:of|about)|not counting on)\b",
    re.IGNORECASE,
)
_NAMED_FIRST = re.compile(
    r"(?!(?:I|My|We|Our|Got|Have|New|Just|Also|And|Hi|Hello|The|A|An|Bought|Then|Plus|Only|Finally|Today|Yesterday|Tonight|Morning|Afternoon|Evening|Night|Two|Three|One|They|Both|Really|So|Well|Ok|Did|Had|Went|Back|Back|Mon|Tues?|Wed|Thur?s?|Fri|Sat|Sun|\w+day)\b)[A-Z][a-zà-ÿ]+ (?:has|have|had|buy|buys|bought|got|owns?|uses?|did|made|dived|dove|went)\b"
)
_SURE_OF_WHOSE = 0.9


def _is_mine(clause: Clause) -> bool:
    """Tell whether dives that were taken for other people's are told of nobody else: "just did 2 dives", "my buddy and me"."""
    if clause.kind == "kit":
        named = _NAMED_FIRST.match(clause.text) and clause.sure >= _SURE_OF_WHOSE
        return not named and not _OTHER_PEOPLE.search(_SCHOOL.sub("", clause.text))
    if clause.kind not in {"dive", "fix_dive"}:
        return False
    alone = _NO_SUBJECT.match(clause.text) and not _OTHER_PEOPLE.search(clause.text)
    return bool(_AND_ME.search(clause.text) or alone)


_SAYS_NOT = re.compile(
    r"\b(?:no|not|never|none|nothing(?! but)|without|cancel\w*|abort\w*|skip\w*|off|instead|stayed|only (?:watched|stood|sat))\b|n't\b",
    re.IGNORECASE,
)
"""A dive is denied only where some word says so: what is denied beside it is of another clause."""


def denies_act(clause: Clause) -> bool:
    """Tell whether every act of a clause is denied right before it: "didn't rinse", "forgot to wax"."""
    acts = clause.of("act")
    return bool(acts) and all(is_denied(s, clause) for s in acts)


def is_denied(act: Span, clause: Clause) -> bool:
    """Tell whether an act is denied right before it, or by its own first word."""
    return bool(_NOT_DONE.search(clause.text[: act.start - clause.start]) or _IS_DENIED.match(act.text))


def _is_partly_done(clause: Clause) -> bool:
    """Tell whether some acts of a clause are denied and some are not: "suit hosed, not disinfected yet"."""
    denied = [is_denied(s, clause) for s in clause.of("act")]
    return clause.kind == "care" and any(denied) and not all(denied)


_IS_DENIED = re.compile(
    r"(?:no|not|never|without|zero)\b|(?:did|have|has|was|were)(?:n't| not)\b", re.IGNORECASE
)


def refused(clause: Clause) -> Misunderstood | None:  # noqa: PLR0911 - a rule each
    """Return why nothing of a clause is recorded; None if it may be, or if it asks for nothing to be."""
    if clause.kind == "trip" and ("if" in clause.flags or _MAYBE.search(clause.text)):
        return Misunderstood(problem="Not sure yet, so no trip is planned. Tell me once it is.")
    if clause.kind not in RECORDS or clause.kind in PLANS:
        return None
    if clause.kind == "dive" and _NAMED_FIRST.match(clause.text) and not _AND_ME.search(clause.text):
        return Misunderstood(problem=_ASIDE["they"])
    if clause.kind == "dive" and "not" in clause.flags and _SAYS_NOT.search(clause.text):
        return Misunderstood(problem=_NO_DIVE)
    if clause.kind in {"mishap", "care"} and denies_act(clause):
        return Misunderstood(problem=_ASIDE["not"])
    if clause.kind == "care" and _STILL_AHEAD.search(clause.text):
        return Misunderstood(problem=_ASIDE["will"])
    if clause.kind == "mishap" and _BROUGHT.search(clause.text):
        return Misunderstood(problem="Brought somewhere, so nothing befell it. Tell me when it is back.")
    if (
        clause.kind == "mishap"
        and clause.of("stuff")
        and (aside := _only_spoken_of(_of_stuff(clause).casefold()))
    ):
        return Misunderstood(problem=_ASIDE[aside])
    if clause.kind in {"care", "mishap", "gone"} and _is_others(clause):
        return Misunderstood(problem=_ASIDE["they"])
    # "no longer have the torch" tells that it is gone, "not mine any more" as well
    flags = clause.flags - {"they"} if "tech" in clause.flags or _is_mine(clause) else clause.flags
    flags = flags - {"not"} if clause.kind == "dive" else flags
    flags = flags - {"will"} if _TO_BE_LOGGED.search(clause.text) else flags
    held = [
        f
        for f in ("they", "if", "will", "not")
        if f in flags
        and not (f == "they" and clause.kind == "fact")
        and not (f == "not" and _is_partly_done(clause))
        and not (f == "not" and clause.kind in {"gone", "drop_dive", "fix_dive", "fact", "manual", "mishap"})
    ]
    return Misunderstood(problem=_ASIDE[held[0]]) if held else None


_TELLS_NO_TAINT = frozenset({"manual", "trip", "fix_trip", "drop_trip", "share", "forget", "undo"})


_WANTED = re.compile(r"^\W*(?:\w+\W+){0,2}?(?:can|could|would|will) you\b", re.IGNORECASE)
_IS_ASKED = re.compile(
    r"^\W*(?:(?:so|and|but|ok|hey|hi|please)\W+)*(?:should|shall|can(?!'t)|could|may|must|do i|do we|would|is it|are|what|how|why|which)\b",
    re.IGNORECASE,
)


def is_asked(clause: Clause) -> bool:
    """Tell whether a clause that would be recorded is put as a question: "should I be putting talc on the seals"."""
    asks = bool(_IS_ASKED.match(clause.text)) and not _WANTED.match(clause.text)
    if clause.kind == "kit" and "?" not in clause.text and len(clause.of("item")) > 1:
        return False  # "so what I have is ..."
    if (
        clause.kind in {"dive", "fix_dive"}
        and clause.text.rstrip().endswith("?")
        and not _WANTED.match(clause.text)
    ):
        return True
    return clause.kind in {"care", "kit", "gone", "fact", "manual", "dive"} and (
        asks or ("asked" in clause.flags and not _WANTED.match(clause.text))
    )


def _asks(text: str) -> bool:
    return "?" in text or bool(_IS_ASKED.match(text))


def taint(clause: Clause, words: Message) -> tuple[PartRef, ...] | ItemKind | None:
    """Return the part or the kind of item in breathing gas that something that burns got on; None if none is told.

    `words`: the clause in words of the catalogue. It goes by the tables alone, whatever the encoder made of the clause: a mishap
    heard as small talk must still take a part out of oxygen service.
    """
    told = _of_stuff(clause).casefold() if clause.of("stuff") else words.plain
    if clause.kind in _TELLS_NO_TAINT or _asks(clause.text) or _DENIES.search(told) or _SUPPOSES.search(told):
        return None
    if not any(Trait.BURNS in STUFF[s].traits for _, _, s in words.substances):
        return None
    refs = tuple(r for r in read_refs(words) if CATALOGUE[r.item].part(r.part).gas)
    if refs:
        return refs
    named = bool(read_refs(words)) or bool(clause.of("part"))
    return next((k for k in words.kinds if not named and any(p.gas for p in CATALOGUE[k].parts)), None)


_ENDS = re.compile(r"[.;!?](?=\s|$)")


def _of_stuff(clause: Clause) -> str:
    """Return the words that tell where a substance got: its sentence, up to the last thing it names; "no idea how" behind them denies nothing."""
    named = [s for s in clause.spans if s.slot in {"stuff", "part", "item"}]
    at = next(s.start for s in named if s.slot == "stuff") - clause.start
    begins = max((m.end() for m in _ENDS.finditer(clause.text, 0, at)), default=0)
    ends = next((m.start() for m in _ENDS.finditer(clause.text, at)), len(clause.text))
    last = max(s.end for s in named if begins <= s.start - clause.start < ends) - clause.start
    return clause.text[begins:last]


def _only_spoken_of(text: str) -> str | None:
    """Return how a text tells of a substance that it did not get anywhere: denied, or of others' kit; None if it did."""
    return "not" if _DENIES.search(text) else "they" if _OTHERS.search(text) else None


_OTHERS = re.compile(r"\b(?:his|her|their|buddy|buddy's|student's|friend's|somebody's|someone's)\b")
_SUPPOSES = re.compile(
    r"\b(?:if|unless|will|would|could|might|may|going to|gonna|must|should|shall|suppose|imagine|tomorrow|next|plan|want|need|before|avoid|careful"
    r"|smells?|tastes?|his|her|their|buddy|buddy's|student's|friend's|somebody's|someone's|manual says)\b"
)
_DENIES = re.compile(
    r"(?<!\boh )\b(?:no(?!,| way)|not|never|without|nothing|isn't|wasn't|didn't|don't|almost|nearly|instead of|free of)\b"
)


def is_guessed(clause: Clause) -> bool:
    """Tell whether a test of a cylinder is told as a guess, which is not recorded."""
    return bool(clause.of("test")) and bool(
        re.search(r"\b(?:i think|i guess|maybe|probably|not sure)\b", clause.text, re.IGNORECASE)
    )
