"""One message with everything that can be found in it, worked out once and only when asked for."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property
from typing import Literal, TypeVar

from bot.advice.question import PartRef
from bot.understand import vocabulary as v
from bot.understand.dates import Dates, read_dates
from bot.understand.lexicon import canonical, lexicon
from bot.understand.names import MATERIALS, names_in, spelled_names, without_numbers
from bot.understand.quantities import Quantities, read_quantities
from bot.understand.text import clean, joined, words
from store.catalogue import CATALOGUE
from store.vocabulary import Condition, ItemKind, Substance, Task, Water

T = TypeVar("T")
_SENTENCES = re.compile(r"(?<=[.!?;])\s+")
_LETTERS = re.compile(r"[a-z]{4,}(?:'[a-z]+)?")


@dataclass(frozen=True, slots=True)
class OwnMeaning:
    """What a diver's own word stands for: the class of a tube, or a part."""

    word: str
    substance: Substance | None = None
    part: PartRef | None = None


@dataclass(frozen=True)
class Message:
    """`names` are what the diver calls their own items; `today` is the date in their zone."""

    raw: str
    today: date
    names: tuple[str, ...] = ()
    own: tuple[OwnMeaning, ...] = ()
    """The diver's own words for tubes and parts."""
    _pieces: dict[str, "Message"] = field(default_factory=dict, repr=False, compare=False)
    """What was read already, shared by all pieces of a message: several readers ask for the same ones."""

    def again(self, text: str) -> "Message":
        """Return another text, or a piece of this one, read with the same words known."""
        if text not in self._pieces:
            self._pieces[text] = replace(self, raw=text)
        return self._pieces[text]

    @cached_property
    def text(self) -> str:
        """The text cleaned and in lower case, numbered items of the diver's written by their names."""
        return spelled_names(clean(self.raw), self.names)

    @cached_property
    def sentences(self) -> tuple["Message", ...]:
        """Each sentence as a message of its own."""
        return tuple(self.again(s) for s in _SENTENCES.split(self.raw) if s.strip())

    @cached_property
    def asked_last(self) -> "Message":
        """The last sentence that asks, as a message of its own; this very message where there is but one sentence."""
        sentences = [s for s in _SENTENCES.split(self.raw) if s.strip()]
        asking = [s for s in sentences if s.rstrip().endswith("?")]
        return self.again(asking[-1]) if asking and len(sentences) > 1 else self

    @cached_property
    def mended(self) -> str:
        """The cleaned text with spelling mended and everything between the words kept, for numbers and dates."""
        return _LETTERS.sub(lambda m: lexicon().spelled(m.group()), self.text)

    @cached_property
    def past(self) -> Dates:
        """Dates, read as lying in the past where that is open."""
        return read_dates(without_numbers(self.mended, self.own_names), self.today, "past")

    @cached_property
    def future(self) -> Dates:
        """Dates, read as lying ahead where that is open."""
        return read_dates(without_numbers(self.mended, self.own_names), self.today, "future")

    def quantities(self, when: Literal["past", "future"] = "past") -> Quantities:
        """Read numbers with units from what is left without the dates."""
        return read_quantities((self.past if when == "past" else self.future).rest)

    @cached_property
    def said(self) -> list[str]:
        """The words with spelling mended, compounds joined, plurals kept."""
        known, kept = lexicon(), {w for own in self.own for w in words(own.word)}
        return [w if w in kept else known.spelled(w) for w in words(joined(self.text))]

    @cached_property
    def plain(self) -> str:
        """The mended words as one line, for patterns."""
        return " ".join(self.said)

    @cached_property
    def tokens(self) -> list[str]:
        """Canonical words, small ones included."""
        return [canonical(w) for w in self.said]

    @cached_property
    def stated(self) -> list[tuple[int, int, v.Fact]]:
        """Physical facts said, with their places among `tokens`."""
        return lexicon().facts.find(self.tokens)

    @cached_property
    def substances(self) -> list[tuple[int, int, Substance]]:
        """Substances named; a silicone, latex or water that belongs to a seal or a dive is not one."""
        taken = {i for start, end, (name, _) in self.stated if name == "elastomer" for i in range(start, end)}
        found = [*self._own_substances(), *lexicon().substances.find(self.tokens)]
        return [hit for hit in found if not (hit[1] - hit[0] == 1 and hit[0] in taken)]

    def _own_substances(self) -> list[tuple[int, int, Substance]]:
        return [(a, b, own.substance) for own in self.own if own.substance for a, b in self._places(own.word)]

    def _places(self, word: str) -> list[tuple[int, int]]:
        """Return where a word of the diver's own stands among `tokens`."""
        run = words(joined(word))
        size = len(run)
        return [
            (at, at + size) for at in range(len(self.said) - size + 1) if self.said[at : at + size] == run
        ]

    @cached_property
    def item_hits(self) -> list[tuple[int, int, ItemKind]]:
        """Kinds of item named, with their places among `tokens`."""
        taken = {i for start, end, _ in self.substances for i in range(start, end)}
        found = lexicon().items.find(self.tokens) or self._by_kinds_name()
        return [hit for hit in found if taken.isdisjoint(range(*hit[:2]))]

    def _by_kinds_name(self) -> list[tuple[int, int, ItemKind]]:
        """Return items of the diver's that go by the name of their kind, where that is no word of its own: "boots"."""
        named = {kind.name: kind.kind for kind in CATALOGUE.values()}
        own = [(name, named[clean(name)]) for name in self.own_names if clean(name) in named]
        return [(a, b, kind) for name, kind in own for a, b in self._places(name)]

    @cached_property
    def own_names(self) -> tuple[str, ...]:
        """The diver's own names of items that occur in the message, in its order."""
        return names_in(self.text, self.names)

    @cached_property
    def item_mentions(self) -> tuple[str, ...]:
        """Items as said: own names first, then words for a kind that no own name holds."""
        spoken = [" ".join(self.said[self._with_material(a, kind) : b]) for a, b, kind in self.item_hits]
        owned = " ".join(self.own_names).casefold()
        return (*self.own_names, *(w for w in dict.fromkeys(spoken) if w not in owned))

    def _with_material(self, start: int, kind: ItemKind) -> int:
        """Return where the words for a cylinder begin, with the material said ahead of it, which tells items of a kit apart."""
        ahead = start > 0 and self.said[start - 1] in MATERIALS
        return start - 1 if ahead and self.names and CATALOGUE[kind].tested else start

    @cached_property
    def kinds(self) -> tuple[ItemKind, ...]:
        """Kinds of item named, in order."""
        return tuple(dict.fromkeys(kind for _, _, kind in self.item_hits))

    @cached_property
    def parts(self) -> dict[PartRef, frozenset[str]]:
        """Parts of the catalogue that may be meant, each with the words that named it; narrowed by the items named."""
        named = {
            own.part: frozenset(words(own.word)) for own in self.own if own.part and self._places(own.word)
        }
        if named:
            return named
        substance_words = {i for a, b, _ in self.substances for i in range(a, b)}
        usable = [
            t for i, t in enumerate(self.tokens) if i not in substance_words and self.said_is_content(i)
        ]
        for kind in self.kinds:  # "doubles" or "an aluminium 80" speak of cylinders without the word
            usable += [
                canonical(w)
                for w in words(joined(CATALOGUE[kind].name))
                if w in {"cylinder", "rebreather", "scooter"}
            ]
            usable += ["cylinder"] if CATALOGUE[kind].tested else []
        found = lexicon().parts.find(usable)
        if self.kinds:
            family = {k for kind in self.kinds for k in RELATED.get(kind, (kind,))}
            exact = {r: w for r, w in found.items() if r.item in self.kinds}
            near = exact or {r: w for r, w in found.items() if r.item in family}
            found = near or found
        return found

    def said_is_content(self, index: int) -> bool:
        """Tell whether the word at that place carries meaning."""
        return self.tokens[index] not in v.SMALL_WORDS

    def said_run(self, start: int, end: int) -> list[str]:
        """Return the mended words, plurals and endings kept, at those places of `tokens`."""
        return self.said[start:end]

    @cached_property
    def waters(self) -> list[Water]:
        """Kinds of water named, in order."""
        return [w for _, _, w in lexicon().waters.find(self.tokens)]

    @cached_property
    def conditions(self) -> tuple[Condition, ...]:
        """What the dive did to the kit, in the order of the vocabulary."""
        found = {c for _, _, c in lexicon().conditions.find(self.tokens)}
        return tuple(c for c in Condition if c in found)

    @cached_property
    def tasks(self) -> list[tuple[int, int, Task]]:
        """Acts of care named, with their places among `tokens`."""
        return lexicon().tasks.find(self.tokens)

    def has(self, *options: str) -> bool:
        """Tell whether any of the words occurs, mended."""
        return not set(options).isdisjoint(self.said)

    def finds(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Search the mended line for a pattern."""
        return pattern.search(self.plain)


RELATED: dict[ItemKind, tuple[ItemKind, ...]] = {
    ItemKind.TWINSET: (ItemKind.TWINSET, ItemKind.CYLINDER),
    ItemKind.STAGE: (ItemKind.STAGE, ItemKind.CYLINDER, ItemKind.REGULATOR),
    ItemKind.CYLINDER: (ItemKind.CYLINDER, ItemKind.TWINSET, ItemKind.REGULATOR),
    ItemKind.REGULATOR: (ItemKind.REGULATOR, ItemKind.PRESSURE_GAUGE),
    ItemKind.PRESSURE_GAUGE: (ItemKind.PRESSURE_GAUGE, ItemKind.REGULATOR),
    ItemKind.DRY_SUIT: (ItemKind.DRY_SUIT, ItemKind.WETSUIT),
    ItemKind.HAND_LIGHT: (ItemKind.HAND_LIGHT, ItemKind.CANISTER_LIGHT),
    ItemKind.GLOVES: (ItemKind.GLOVES, ItemKind.DRY_GLOVES),
}
"""Where else to look for a part when the item named does not have it."""


def first(found: Sequence[T]) -> T | None:
    """Return the first of what was found, or None."""
    return found[0] if found else None
