"""Numbers in words, as people dictate them."""

import re

_UNITS = {
    word: n
    for n, word in enumerate(
        """one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen
nineteen""".split(),
        1,
    )
}
_TENS = dict(
    zip("twenty thirty forty fifty sixty seventy eighty ninety".split(), range(20, 100, 10), strict=True)
)
_UNIT = "|".join(sorted((w for w, n in _UNITS.items() if n < 10), key=len, reverse=True))
_TEEN = "|".join(w for w, n in _UNITS.items() if n >= 10)
_OF_TEN = "|".join(_TENS)
_TWO_FIGURES = rf"(?:(?:{_OF_TEN})(?:[ -](?:{_UNIT}))?|{_TEEN})"
IN_WORDS = re.compile(
    rf"\b(?:(?:(?:an?|{_UNIT}) )?hundred(?:(?: and)? (?:{_TWO_FIGURES}|{_UNIT}))?|(?:one|two) {_TWO_FIGURES}|{_TWO_FIGURES}|{_UNIT})\b",
    re.IGNORECASE,
)
"""A number in words: "a hundred and eighteen", "one forty five", "thirty two"; two beside each other are two."""


def in_figures(text: str) -> str:
    """Return a text with the numbers that stand in words as figures: "a hundred and eighteen feet" is "118 feet"."""
    return IN_WORDS.sub(lambda m: str(_spoken(re.findall(r"[a-z]+", m.group()))), text.casefold())


_TEN, _HUNDREDS = 10, 3
"""Up to three hundred and some feet are said without the hundred."""


def _spoken(words: list[str]) -> int:
    total = 0
    for word in words:
        more = _UNITS.get(word, 0) + _TENS.get(word, 0)
        if word == "hundred":
            total = max(total, 1) * 100
        elif more >= _TEN and 0 < total <= _HUNDREDS:
            total = total * 100 + more  # "one forty five"
        else:
            total += more
    return total
