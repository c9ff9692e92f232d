"""How many dives a message speaks of. The first pattern that matches decides; its group is the number."""

import re

from bot.understand.vocabulary import NUMBERS

_WORD = "|".join(sorted(NUMBERS, key=len, reverse=True))
_N = rf"(-?\d+|{_WORD})"
_FEW = r"(\d{1,2}|one|two|three|four|five|six)"
_NOT_DIVES = r"(?![.,]\d)(?!\s*(?:%|m\b|met|min|ft|feet|l\b|lit|x\b|c\b|f\b|°|/|deg|h\b|hour|bar|week|day|month|year|new\b|o2|oxygen))"
_NOT_A_DIVE = r"(?! (?:pool|tank|computer|bag|knife|light|site|shop|boat|club|centre|center|school|trip|holiday|buddy|gear|kit)s?\b)"
_FILLER = rf"(?:(?!hours?\b|hrs?\b|mins?\b|minutes?\b|met|m\b|ft\b|feet|days?\b|degrees?\b|times?\b|(?:{'|'.join(w for w in NUMBERS if len(w) > 2)})\b)[a-z]+\s+)"

_NUMBERED = re.compile(
    r"\bdive\s*(?:#|no\.?|nr\.?)?\s*(\d)\b(?![.,]\d)(?!\s*(?:m\b|min|ft|h\b|hour|c\b|°|x\b))|\b(\d)(?:st|nd|rd|th)\b(?=(?:\s+dive)?[\s:]+\d)"
)
_FIRST = re.compile(r"\bdive\s*1\b|\b1st\b")
_COUNTS = tuple(
    re.compile(pattern)
    for pattern in (
        r"\b(?:just|only)(?: did)?(?: the)? (one|two|three|\d) dives?\b",
        r"\b(?:did|had|done) (a) (?:\w+ )?one\b",
        rf"\b{_FEW} of them\b",
        rf"\b{_FEW}[- ]tank\b(?! set)",
        rf"(?<![\w.,/]){_N}\s+{_FILLER}{{0,3}}?(?:dives?|dips?|dive's|immersions?|descents?|sessions?)\b{_NOT_A_DIVE}",
        rf"(?<![\w.,/]){_FEW}\s+diving\b(?! (?:days?|weeks?|trips?|spots?|sites?|friends?|buddies))",
        r"\b(?:dived|dove|diving|splashed|jumped in|went in|dive|dives|been in)(?:\s+[\w(),;]+){0,9}?\s+(twice|once|\d+(?=\s*x|\s*times)|(?:one|two|three|four)(?= times?))\b",
        rf"\b{_FEW} times? (?:dived|dove|diving|under|in the water)\b",
        r"\b(?:dives?|count|log)\s*\+\s?(\d{1,2})\b",
        r"\bdives?\s*(?:x|:)\s*(-?\d+)\b(?!\s*(?:m\b|met|min|ft|feet|h\b|hour|%|c\b|f\b|°))",
        r"(?<![\w.])x\s?(\d{1,2})\b(?!\s*(?:m\b|min|%|l\b|h\b))",
        r"(?<![\w.])(\d{1,2})\s*x\b",
        rf"\b(?:did|done|made|make|logged?|log|had|add|was|were|it was|got in)\s+{_FEW}\b{_NOT_DIVES}",
        rf"^\W*{_FEW}\b(?=\s+(?:;|(?:on|at|in|off) |(?:today|yesterday|this|last|in the|at the|off the|on \w+day)\b))",
    )
)
_SINGLE = re.compile(rf"(?<!no )(?<!not )(?<!to )(?<!i )(?<!we )\bdive\b{_NOT_A_DIVE}")


_EACH = re.compile(rf"(?<![\w.,/]){_FEW} (?:more )?dives?\b{_NOT_A_DIVE}")
"""Counts told one after the other, which add up: "1 dive 20 m and 1 dive 15 m"."""
_AND_MORE = re.compile(
    rf"(?<![\w.,/]){_FEW} dives?\b[^.;]{{0,40}}?\b(?:and|plus) {_FEW} (?:at night|more|in the (?:afternoon|morning|evening)|tonight|after (?:lunch|dark)|this (?:afternoon|evening))\b"
)
_OF_THEM = re.compile(
    r"\b(?:of|just|only|plan|planned|called|total|all together|altogether|in all|that makes|each|no|not|instead|make it|makes)\b"
)
_FROM_TO = re.compile(
    r"\bdives? (?:#|no\.? ?)?(\d{1,4}) (?:and|&|to|-) (?:#|no\.? ?)?(\d{1,4})\b(?!\s*(?:m\b|min|ft|h\b|deg|c\b))"
)


_NUMBER = r"\d{1,3}|" + "|".join(sorted(NUMBERS, key=len, reverse=True))
A_DAY = re.compile(
    rf"\b(?P<n>{_NUMBER})\s*(?:(?:x )?(?:dives? )?)?(?:a|per|each|every|/)\s*day\b|\b(?P<n2>{_NUMBER}) (?:dives? )?daily\b"
)
"""Dives told per day: "2 a day"; either group is the number."""


def count_of(word: str) -> int:
    """Turn a digit string or a number word into an int."""
    return NUMBERS[word] if word in NUMBERS else int(word)


def read_single(text: str) -> bool:
    """Tell whether the text speaks of a dive, just one."""
    return bool(_SINGLE.search(text))


def read_count(text: str) -> tuple[int, str] | None:
    """Return the number of dives said and the text without it; None where no number is said."""
    if span := _FROM_TO.search(text):
        return int(span.group(2)) - int(span.group(1)) + 1, text[: span.start()] + " dives " + text[
            span.end() :
        ]
    numbered = _NUMBERED.findall(text)
    if len(numbered) > 1 or (numbered and _FIRST.search(text)):
        return max(int(a or b) for a, b in numbered), _NUMBERED.sub(" ; dive ", text)
    if (several := _EACH.findall(text)) and len(several) > 1 and not _OF_THEM.search(text):
        return sum(map(count_of, several)), _EACH.sub(" dives ", text)
    if more := _AND_MORE.search(text):
        return count_of(more.group(1)) + count_of(more.group(2)), text[: more.start()] + " dives " + text[
            more.end() :
        ]
    for pattern in _COUNTS:
        if m := pattern.search(text):
            return count_of(m.group(1)), text[: m.start(1)] + " " + text[m.end(1) :]
    return None


_BARE = re.compile(
    rf"^\W*(?:another |did |only |also |just |too |; )*(\d{{1,2}}|one|two|three|four|five|six|once|twice)\b{_NOT_DIVES}"
)


def bare_count(text: str) -> int | None:
    """Return the small number a clause begins with, where "dives" went without saying: "1 on Tuesday"."""
    found = _BARE.match(text)
    return count_of(found.group(1)) if found else None
