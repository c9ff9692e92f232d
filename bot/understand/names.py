"""How a diver's own names of items stand in a text: "cylinders 4 to 6", "tank no 3" and "cylinder 3" mean items by those names."""

import re
from collections.abc import Sequence
from functools import lru_cache

from bot.understand.dates import MONTH
from bot.understand.text import clean, stem
from bot.understand.vocabulary import SYNONYMS

MATERIALS = frozenset({"steel", "aluminium", "alu", "aluminum", "ali", "carbon", "composite"})
"""Words ahead of a cylinder that tell which of several is meant."""

_NUMBERED = re.compile(r"(?P<word>[a-z][a-z ]*?) ?#?(?P<n>\d{1,3})")
_NO_UNIT = (
    r"(?!\w|[.,:/]\d|\s*(?:x\b|%|m\b|met|mins?\b|minutes?\b|ft\b|feet|bar\b|l\b|lit|(?:dives?|dips?)\b|h\b|hours?\b|hrs?\b|days?\b"
    r"|weeks?\b|months?\b|years?\b|deg|c\b|°))"
)
_NO_DAY = rf"(?!\s*(?:st|nd|rd|th)?\s*(?:of )?{MONTH})"
_PLURAL = re.compile(r"s\b")
_LINK = re.compile(r"\s*(?P<range>\bto\b|\bthrough\b|\bthru\b|-)\s*|\s*(?:,\s*(?:and\b)?|\band\b|&|\+)\s*")
_NUMBER = re.compile(rf"#?(?P<n>\d{{1,3}}){_NO_UNIT}")
_LATER = re.compile(rf"(?:the )?#?(?P<n>\d{{1,3}}){_NO_UNIT}{_NO_DAY}")


def spelled_names(text: str, names: Sequence[str]) -> str:
    """Write each numbered item that a cleaned text means by the name it has: "cylinders 4 to 6" are three names."""
    for lead, known in _numbered(tuple(names)):
        at = 0
        while found := lead.search(text, at):
            said, end = _list_from(
                text, found.end(), known, lead, several=bool(_PLURAL.search(found.group()))
            )
            written = ", ".join(said)
            if said:
                text = f"{text[: found.start()]}{written}{text[end:]}"
            at = found.start() + len(written) if said else found.end()
    return text


@lru_cache(maxsize=256)
def _numbered(names: tuple[str, ...]) -> tuple[tuple[re.Pattern[str], dict[int, str]], ...]:
    """Return the names that are a word and a number: a pattern of the word, and its names by number.

    Of several alike the first goes without a number: "cylinder" is cylinder 1 beside "cylinder 2".
    """
    known: dict[str, dict[int, str]] = {}
    for name in names:
        if told := _NUMBERED.fullmatch(clean(name)):
            known.setdefault(told["word"].strip(), {})[int(told["n"])] = clean(name)
    for bare in map(clean, names):
        if bare in known:
            known[bare].setdefault(1, bare)
    return tuple((_lead(word), by_number) for word, by_number in known.items())


def _lead(word: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{_alike(word)})\s*(?:(?:no|nr|nos|num|numbers?)\b\.?\s*)?(?=#?\d)")


def _alike(word: str) -> str:
    """Return a pattern of what else the word of a name is called."""
    *before, last = word.split()
    own = SYNONYMS.get(last) or SYNONYMS.get(stem(last)) or stem(last)
    same = {last, stem(last), own, *(said for said, meant in SYNONYMS.items() if meant == own)}
    lead = "".join(rf"{re.escape(w)}\s+" for w in before)
    return "|".join(rf"{lead}{re.escape(w)}s?" for w in sorted(same, key=len, reverse=True))


def _list_from(
    text: str, at: int, known: dict[int, str], lead: re.Pattern[str], *, several: bool
) -> tuple[list[str], int]:
    """Read numbers in a row, as far as they are known ones; return the names and where the row ends.

    No names where several were spoken of and one of them is not known.
    """
    first = _NUMBER.match(text, at)
    if first is None or int(first["n"]) not in known:
        return [], at
    numbers, end = [int(first["n"])], first.end()
    while link := _LINK.match(text, end):
        again = lead.match(text, link.end())
        following = _LATER.match(text, again.end() if again else link.end())
        if following is None:
            break
        if (number := int(following["n"])) not in known:
            return ([], at) if several else ([known[n] for n in dict.fromkeys(numbers)], end)
        if link["range"]:
            if number <= numbers[-1]:
                break
            numbers += [n for n in range(numbers[-1] + 1, number) if n in known]
        numbers.append(number)
        end = following.end()
    return [known[n] for n in dict.fromkeys(numbers)], end


def names_in(text: str, names: Sequence[str]) -> tuple[str, ...]:
    """Return the names that stand in a cleaned text, in its order, the longest where one holds another."""
    found: list[tuple[int, int, str]] = []
    for name in sorted(dict.fromkeys(names), key=lambda n: -len(n)):
        for hit in _places(text, name):
            if all(hit.end() <= start or hit.start() >= end for start, end, _ in found):
                found.append((*hit.span(), name))
    return tuple(dict.fromkeys(name for *_, name in sorted(found)))


def _places(text: str, name: str) -> list[re.Match[str]]:
    """Return where a name stands; a "cylinder" that is said to be a steel one goes by that, not by the bare name."""
    said = clean(name)
    if not said:
        return []
    hits = re.finditer(rf"(?<!\w){re.escape(said)}(?!\w)", text)
    told = not MATERIALS.isdisjoint(said.split())
    return [hit for hit in hits if told or text[: hit.start()].split()[-1:] not in [[m] for m in MATERIALS]]


def without_numbers(text: str, names: Sequence[str]) -> str:
    """Return a text in which the numbers of names are gone, so that none is taken for a figure or a day."""
    for name in sorted({clean(n) for n in names if re.search(r"\d", n)}, key=len, reverse=True):
        bare = " ".join(re.sub(r"\S*\d\S*", " ", name).split())
        text = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", bare, text)
    return text
