"""What a question is about: what, can, how much, how often, how, why, or what now that it was done."""

import re

from bot.advice.question import About
from bot.understand.message import Message
from store.vocabulary import Substance

_LEAD_IN = (
    r"^(?:(?:hi|hello|hey|please|pls|so|ok|and|but|sorry|um|quick question|question|a|my|student|students|asked|asks|"
    r"wants to know|if|whether|he|she|they)\s+)*"
)
_HOW_MUCH = re.compile(
    r"\bhow (?:much|thick|thin|many dabs|big a dab|heavily|generous)\b|\bamount\b|\bquantity\b"
)
_HOW_OFTEN = re.compile(
    r"\bhow (?:often|frequently|regularly)\b|\binterval\b|\bfrequency\b|\bevery how many\b|\bhow many dives (?:between|before)\b"
    r"|\bwhen (?:should|do|must|shall) i\b|\bhow long (?:between|does|will|can|until)\b"
)
_WHY = re.compile(r"\bwhy\b|^(?:but |and |so |ok |hey )*how come\b|\bwhat for\b|\breason\b")
_HOW = re.compile(
    r"\bhow (?:do|should|can|to|would|must|shall|does|is|are|i|2)\b|\b(?:best|right|proper|correct) way (?:to|of)\b"
    r"|\bsteps (?:to|for)\b|\bprocedure\b"
)
_WHAT = re.compile(
    r"\b(?:what|whats|what's|which|wot|wat|anything|something|nothing)\b|\binstead\b|\brecommend"
)
_WHICH_STUFF = re.compile(
    r"\b(?:what|which|wot|wat|whats|what's)\b(?: (?:kind|type|sort|class) of| (?:is|are|would be) (?:the )?(?:right|best|correct))?(?: (?!resist|need|take|hate|like)\w+){0,2} (?:grease|lubricant|lube|oil|wax|powder|stuff|product|spray)\b"
    r"|^(?:grease|lube|lubricant|wax)\s+(?:for|4|on)\b"
)
_STILL_YES_OR_NO = re.compile(
    r"\bwhat about\b|\bwhat's wrong with\b|\bwhats wrong with\b|\bok(?:ay)?\b|\ballowed\b|\bsafe\b"
    r"|\b(?:anything|something|nothing) (?:wrong|bad|against)\b"
)
_MODAL = re.compile(
    _LEAD_IN
    + r"(?:can|could|may|should|shall|must|is it|is|are|isn't|does|do|will|would|am|any (?:harm|problem)|ok|okay|safe|surely|just)\b"
    r"|\b(?:can|could|may|should|must|shall|would|is it|is he|is she|are they)(?: (?:i|we|you|he|she|they|it|that|this))?\b"
    r"|\b(?:is|are|was|would) (?:\w+ ){1,6}?(?:fine|ok|okay|allowed|safe|right|correct|all right|alright)\b"
    r"|\byes or no\b|\bok or not\b|\bright or wrong\b|\bdo (?:i|we) (?:just )?(?:do as|do it|follow|trust|obey|listen)\b"
)
_ASKED_BEFORE = re.compile(r"\b(?:what|which|how|why|when|where|who)(?: \w+){0,3} ?$")
_ASKS_WHICH = re.compile(
    r"\bwhat\b|\bwhich (?:one|grease|lubricant|oil|lube|wax|stuff|product|do|should|can|to)\b"
)
_CARRIES_ON = re.compile(r"\b(?:carry on|keep (?:using|on|doing)|continue|go on|use it again|again)\b")
_DONE = re.compile(
    r"^(?>.*?\b(?:(?<!do )(?<!should )(?<!can )(?<!may )(?<!must )(?<!could )(?<!to )(?:i|we)|he|she|they|someone|somebody|buddy|student|shop|friend|club|mate|partner|instructor|guy|tech|technician|diver|owner|has|have"
    r"|had|been|just|already|accidentally|got|was|were)\b).*?\b(?:(?<!can )(?<!could )(?<!should )(?<!may )(?<!to )put|used|sprayed|got|smeared|applied|spilt|spilled|greased|lubed|gave|given"
    r"|lubricated|rubbed|wiped|wipes|coated|dripped|waxed|oiled|dropped|touched|handled|left|powdered|filmed|splashed|added|treated|packed"
    r"|contaminated|gave|given|dosed|covered|talced|had)\b"
    r"|^(?:oops |help |so |ok |hi |hey |uh oh |oh no )*(?:put|used|sprayed|got|smeared|applied|spilt|spilled|accidentally|greased|lubed"
    r"|rubbed|already|what if)\b"
    r"|\bgot (?:\w+ ){0,3}?(?:grease|oil|spray|jelly|wax|talc|lubricant|cream|sunscreen|silicone)\b"
    r"|\b(?:there is|there's|theres) (?:some |a bit of |a film of |a drop of )?(?:\w+ )?(?:oil|grease|cream|sunscreen|silicone|jelly|butter|spray) (?:on|in|inside|all over)\b"
    r"|^(?:oops |so )*(?:some |my |a drop of )?(?:\w+ )?(?:oil|grease|cream|sunscreen|silicone|jelly|butter|spray) (?:has |just )?(?:got|dripped|ran|leaked|came|spilled|spilt|landed|went) (?:on|onto|in|into|over|through)\b"
    r"|\bby (?:mistake|accident)\b|\baccidentally\b|\bnow what\b|\bwhat now\b|\bcontaminated\b"
)
_HYPOTHETICAL = re.compile(
    r"\bwhat (?:if|happens)\b|\bwhat would happen\b|^suppose\b|^imagine\b|^say (?:a|my|i|someone)\b"
)
_CLEAN = r"(?:cleans?|wash|wipe|disinfect|desinfect|rinse|scrub|flush|soak|saniti[sz]e|sterili[sz]e|cleaning|disinfecting|washing|get off|clear off|dip)"
_CLEANING = re.compile(
    rf"^(?>.*?\b{_CLEAN}\b)(?:.*\bwith\b|.*\bin\b(?: what)?$)|\b{_CLEAN}(?: it| them| out| off)?$"
    rf"|\bhow (?:do|should|can|to|would)\b(?: \w+){{0,2}} {_CLEAN}\b"
    rf"|\bwhat {_CLEAN}\b|^(?>.*?\bwhat (?:do|should|can|to) ).*\b{_CLEAN}\b|\bcleaner for\b|\bto free it\b"
)
_QUESTION = re.compile(
    _LEAD_IN
    + r"(?:what|whats|what's|which|can|could|should|may|must|do i|do we|do you|does|is it|is there|is|are|how|why|when|where"
    r"|will|would|need i|wot|wat|shall|who|any)\b(?!'t (?!i\b|we\b|you\b))"
)


def is_question(m: Message) -> bool:
    """Tell whether the message asks rather than tells."""
    return "?" in m.raw or bool(_QUESTION.match(m.plain)) or bool(_WHICH_STUFF.search(m.plain))


def read_about(m: Message, substance: Substance | None, *, of_manual: bool) -> About:
    """Tell what is asked; `of_manual`: somebody's instructions are quoted, so "has put" is not the diver's doing.

    A story goes before many questions: the last sentence that asks weighs more than what was told before it.
    """
    last = m.asked_last
    if substance and not of_manual and is_done(m):
        return About.CONTAMINATED
    return _asked(last, substance) or _asked(m, substance) or (About.CAN if substance else About.WHAT)


def _asked(m: Message, substance: Substance | None) -> About | None:  # noqa: PLR0911 - by weight
    """Tell what a text asks by its words, None where they do not tell."""
    text = m.plain
    for about, pattern in ((About.HOW_MUCH, _HOW_MUCH), (About.HOW_OFTEN, _HOW_OFTEN), (About.WHY, _WHY)):
        if pattern.search(text):
            return about
    leave = substance is not None and _asks_leave(text)
    if substance and _HYPOTHETICAL.search(text) and not leave:
        return About.CONTAMINATED
    if _WHICH_STUFF.search(text) or (is_choice(m) and not leave):
        return About.WHAT
    if leave or (substance and _starts_with_substance(m)):
        return About.CAN
    if _HOW.search(text):
        return About.HOW
    if _WHAT.search(text) and not (substance and _STILL_YES_OR_NO.search(text)):
        return About.WHAT
    return None


def is_choice(m: Message) -> bool:
    """Tell whether two substances are weighed against each other."""
    return len({s for _, _, s in m.substances}) > 1 and bool(re.search(r"\bor\b(?! not| no\b)", m.plain))


def is_cleaning(m: Message) -> bool:
    """Tell whether the question is what to clean it with."""
    return bool(_CLEANING.search(m.plain))


def is_done(m: Message) -> bool:
    """Tell whether it was done already, and the question is not whether to go on doing it."""
    last = m.asked_last
    if not any(_DONE.search(s.plain) for s in m.sentences) or _WHY.search(m.plain):
        return False
    if last.plain == m.plain:
        return not _asks_leave(m.plain)
    return not (_asks_leave(last.plain) and (last.substances or last.parts or _CARRIES_ON.search(last.plain)))


def has_happened(m: Message) -> bool:
    """Tell whether it was put on in truth, not in a "what if"."""
    return is_done(m) and not _HYPOTHETICAL.search(m.plain)


def _asks_leave(text: str) -> bool:
    """Tell whether leave is asked: may I, is it safe to; not "what can I"."""
    return any(
        not _ASKED_BEFORE.search(text[: found.start()]) and not _ASKS_WHICH.search(found.group())
        for found in _MODAL.finditer(text)
    )


def _starts_with_substance(m: Message) -> bool:
    return bool(m.substances) and m.substances[0][0] <= 1 and not _ASKS_WHICH.search(m.plain)
