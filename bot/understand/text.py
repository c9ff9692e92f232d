"""From whatever a chat sends to clean lower-case words. Text from a chat is hostile until it has been here."""

import re
import unicodedata
from functools import lru_cache

LONGEST = 2000
"""Characters read of one message; nobody types more on a deck."""

_QUOTES = str.maketrans(
    {"’": "'", "‘": "'", "“": '"', "”": '"', "–": "-", "—": "-", "−": "-", "º": "°", "×": "x"}
)
_LITRES = r"(?:l|lts?|litres?|liters?|ltrs?)\b"
_SIZE_L = r"(?<![\w.,/:-])(?:3|4|5|5[.,]7|6|7|8|8[.,]5|9|10|11|11[.,]1|12|12[.,]2|13|14|15|16|18|20)"
_CUBIC = r"(?:40|50|63|72|80|85|95|98|100|104|108|112|117|119|120|125|130|133|149)"
_SIZE = rf"(?:{_CUBIC}|7|8|8[.,]5|10|11|12|12[.,]2|13|14|15|16|18|20)"
"""What cylinders are called by: litres of water, or cubic feet of gas."""
_NO_SIZE = r"(?:m\b|met|min|ft|feet|foot|%|percent|bar|psi|kg|dives?|°|deg|c\b|f\b|h\b|hours?|mm)"
_COMPOUNDS = (
    (r"\bvalve[- ]to[- ](?:cylinder|tank|bottle)\b", "neck"),
    (
        rf"{_SIZE_L}[ -]?{_LITRES}[ -]?(?=(?:\w+ ){{0,2}}(?:cyl|cylinders?|tanks?|bottles?|flasks?|twin|twins|twinset|twinsets|doubles|stages?|pony|ponies)\b)",
        "",
    ),
    (
        rf"\b(twins?|doubles?|double)[ -]{_SIZE_L}(?:(?:'?s|[ -]?{_LITRES}))?(?!\w|[.,/:-]?\d|\s*{_NO_SIZE})",
        "twinset",
    ),
    (
        rf"\b\d{{1,2}}[ -]?(?:litres?|liters?|ltrs?)\b(?! (?:of|water|dry|bag|box))|{_SIZE_L} ?l\b(?! (?:of|water|dry|bag|box|bucket|crate|jug|can)s?\b)",
        "cylinder",
    ),
    (
        rf"\b(steel|carbon)[ -]+{_SIZE}(?:'?s)?(?!\w|[.,/:-]?\d|\s*{_NO_SIZE})(?! (?:cyl|cylinder|tank|bottle|stage)s?\b)",
        r"\1 cylinder",
    ),
    (
        rf"\b(?:alu|ali|alumini?um|alum)[ -]+{_SIZE}(?:'?s)?(?!\w|[.,/:-]?\d|\s*{_NO_SIZE})(?! (?:cyl|cylinder|tank|bottle|stage)s?\b)",
        "aluminium cylinder",
    ),
    (rf"\b[hl]p ?-?{_CUBIC}(?:'?s)?(?!\w|[.,/:-]?\d|\s*{_NO_SIZE})", "steel cylinder"),
    (rf"\b(the|my|our|these|those|both|two|club|old|rental|hire) {_SIZE}'?s(?!\w)", r"\1 cylinder"),
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
    (r"\bw/o\b", "without"),
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
    (r"\b(\d+)(dives?|dips?|dvs?)\b", r"\1 \2"),
    (r"(?<=\d )dvs?\b|\bdvs\b", "dives"),
    (r"\btdy\b|\btoday+\b|\btdays?\b", "today"),
    (r"(?<=day )n(?= \d{1,2} (?:yesterday|today|on\b|dives?|mon|tue|wed|thu|fri|sat|sun|more|last))", "and"),
)
_SLANGS = [(re.compile(pattern), word) for pattern, word in _SLANG]
_COMPOUND = [(re.compile(pattern), word) for pattern, word in _COMPOUNDS]
_WORD = re.compile(r"[^\W_]+(?:'[a-z]+)?")


def clean(text: str) -> str:
    """Return the text in one Unicode form, lower case, without control or direction marks, one space between words."""
    plain = visible(fold(text[:LONGEST]).casefold())
    for pattern, word in _SLANGS:
        plain = pattern.sub(word, plain)
    plain = _DENIALS.sub(r"\1n't", plain)
    return _Y.sub("why", _MINUS.sub("-", _NUMBER.sub(_digits, plain)))


def fold(text: str) -> str:
    """Return a text in one Unicode form, with one kind of quotes and dashes."""
    return unicodedata.normalize("NFKC", text.translate(_QUOTES))


_MINUS = re.compile(r"\bminus (?=\d)")
_DENIALS = re.compile(r"\b(could|would|should|did|does|do|have|has|had|was|were|is|are|must|need|ca|wo)nt\b")
"""A denial without its mark must never be mended to its opposite."""
_Y = re.compile(r"^y(?= (?:do|does|did|is|are|must|should|would|not)\b)")
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


def tight(text: str) -> str:
    """Cut long runs of white space, which say nothing and keep every pattern that begins with a space busy."""
    return _GAPS.sub(r"\1", text)


_GAPS = re.compile(r"(\s)\s{3,}")


def visible(text: str) -> str:
    """Drop control, format and unassigned characters, and fold white space."""
    if not (text.isascii() and text.isprintable()):
        text = "".join(c for c in text if c.isspace() or unicodedata.category(c)[0] != "C")
    return " ".join(text.split())


@lru_cache(maxsize=2048)
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
