"""From whatever a chat sends to clean lower-case words. Text from a chat is hostile until it has been here."""

import re
import unicodedata
from functools import lru_cache

LONGEST = 2000
"""Characters read of one message; nobody types more on a deck."""

_QUOTES = str.maketrans(
    {"’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "−": "-", "º": "°", "×": "x"}
)
_COMPOUNDS = (
    (r"\bvalve[- ]to[- ](?:cylinder|tank|bottle)\b", "neck"),
    (r"\b\d{1,2}[ -]?(?:litres?|liters?|ltrs?)\b(?! (?:of|water))", "cylinder"),
    (r"\bo\s*[- ]?\s*rings?\b|\borings?\b|\b0[- ]?rings?\b", "oring"),
    (r"\bdry[- ]?suits?\b", "drysuit"),
    (r"\bwet[- ]?suits?\b", "wetsuit"),
    (r"\bsemi[- ]?dry\b", "semidry"),
    (r"\b(?:first|1st)[- ]?stages?\b", "firststage"),
    (r"\b(?:second|2nd)[- ]?stages?\b", "secondstage"),
    (r"\btwin[- ]?sets?\b", "twinset"),
    (r"\bback[- ]?up\b", "backup"),
    (r"\bhigh[- ]pressure\b|\bh\.?p\.?(?=\s)", "hp"),
    (r"\blow[- ]pressure\b|\bl\.?p\.?(?=\s)", "lp"),
    (r"\bopen[- ]?cells?\b", "opencell"),
    (r"\bsmooth[- ]?skins?\b", "smoothskin"),
    (r"\bcross[- ]?bars?\b", "crossbar"),
    (r"\bmouth[- ]?pieces?\b", "mouthpiece"),
    (r"\bcounter[- ]?lungs?\b", "counterlung"),
    (r"\ba[- ]clamp\b", "yoke"),
    (r"\b(neck|wrist)[- ]?seals?\b", r"\1 seal"),
    (r"\bneck[- ]?ring\b", "neck oring"),
    (r"\bal[- ]?80s?\b|\ba(?:lu|li|luminium|luminum) 80s?\b|\bs80\b", "aluminium cylinder"),
    (r"\bover[- ]?pressure\b", "overpressure"),
    (r"\bt[- ]pieces?\b", "tpiece"),
    (r"\bone[- ]way\b", "oneway"),
    (r"\bnon[- ]return\b", "oneway"),
    (r"\bback[- ]?gas\b", "backgas"),
    (r"\bzip+er+s?\b|\bzips\b", "zip"),
    (r"\bquick[- ]?(?:connect(?:or)?|disconnect)s?\b", "quickconnect"),
    (r"\btri[- ]?lam(?:inate)?s?\b", "trilaminate"),
    (r"\bvideo[- ]lights?\b", "videolight"),
    (r"\b(?:o2|o₂)\b", "oxygen"),
    (r"\bd[- ]rings?\b", "dring"),
    (r"\be[- ]?o cords?\b", "eocord"),
)
_SLANG = (
    (r"\bmornin\b|\bmorn\b", "morning"),
    (r"\bevenin\b|\beve\b(?! of)", "evening"),
    (r"\bw/?(?= )(?! side)|\bw/$|\bw$|\bwit\b|\bwiht\b|\bwth\b", "with"),
    (r"\bwat\b|\bwot\b|\bwht\b", "what"),
    (r"\bu\b", "you"),
    (r"\bn\b(?! \d)", "and"),
    (r"\bdis (?=morning|afternoon|evening|week)", "this "),
    (r"\byday\b|\bystdy\b|\byest\b", "yesterday"),
    (r"\btonite\b|\b2nite\b", "tonight"),
    (r"\b2day\b|\btday\b|\bthis arvo\b|\bthis arvo\b", "today"),
    (r"\btmrw\b|\btmr\b|\b2morrow\b|\btomoz\b", "tomorrow"),
    (r"\b(\d+)(dives?|dips?)\b", r"\1 \2"),
)
_SLANGS = [(re.compile(pattern), word) for pattern, word in _SLANG]
_COMPOUND = [(re.compile(pattern), word) for pattern, word in _COMPOUNDS]
_WORD = re.compile(r"[^\W_]+(?:'[a-z]+)?")


def clean(text: str) -> str:
    """Return the text in one Unicode form, lower case, without control or direction marks, one space between words."""
    folded = unicodedata.normalize("NFKC", text[:LONGEST].translate(_QUOTES)).casefold()
    plain = visible(folded)
    for pattern, word in _SLANGS:
        plain = pattern.sub(word, plain)
    return _MINUS.sub("-", _NUMBER.sub(_digits, plain))


_MINUS = re.compile(r"\bminus (?=\d)")
_UNITS = dict(zip("one two three four five six seven eight nine".split(), range(1, 10), strict=True))
_TEENS = dict(
    zip(
        "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split(),
        range(10, 20),
        strict=True,
    )
)
_TENS = dict(
    zip("twenty thirty forty fifty sixty seventy eighty ninety".split(), range(20, 100, 10), strict=True)
)
_UNIT = "|".join(_UNITS)
_MEASURE = r"(?=[- ]+(?:m\b|met|min|feet|foot|ft\b|deg|litre|liter|percent|bar\b|celsius|c\b))"
_NUMBER = re.compile(
    rf"\b(?:({'|'.join(_TENS)})(?:[- ]({_UNIT})\b)?|({'|'.join(_TEENS)})|({_UNIT}){_MEASURE})(?!\w)"
)


def _digits(match: re.Match[str]) -> str:
    """Write a number word as digits; small ones only where a measure follows, since "one" is mostly no number."""
    tens, unit, teen, small = match.groups()
    return str(_TENS.get(tens, 0) + _UNITS.get(unit or small, 0) + _TEENS.get(teen, 0))


def visible(text: str) -> str:
    """Drop control, format and unassigned characters, and fold white space."""
    kept = "".join(
        " " if c.isspace() else c for c in text if c.isspace() or unicodedata.category(c)[0] != "C"
    )
    return " ".join(kept.split())


def joined(text: str) -> str:
    """Write compound words of the trade as one word each: "o-ring" and "o ring" are "oring"."""
    for pattern, word in _COMPOUND:
        text = pattern.sub(word, text)
    return text


def words(text: str) -> list[str]:
    """Split cleaned text into words."""
    return _WORD.findall(text)


@lru_cache(maxsize=4096)
def stem(word: str) -> str:
    """Drop a plural or a possessive, the only endings that matter here."""
    word = word.removesuffix("'s").removesuffix("'")
    if len(word) > 3 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 5 and word.endswith(("ches", "shes", "xes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word
