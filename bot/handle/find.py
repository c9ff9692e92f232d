"""Which of the diver's own items a message means."""

from collections.abc import Iterable, Sequence

from rapidfuzz import fuzz

from bot.understand.lexicon import canonical, lexicon
from bot.understand.message import RELATED
from bot.understand.text import clean, joined, words
from store.tables import Item
from store.vocabulary import ItemKind

_CLOSE = 88


def by_mention(kit: Sequence[Item], mention: str) -> list[Item]:
    """Return the items a mention may mean: by its own name if one fits, else by kind."""
    said = clean(mention)
    named = [i for i in kit if fuzz.ratio(said, clean(i.name)) >= _CLOSE]
    if named:
        return named
    kinds = kinds_in(mention)
    exact = [i for i in kit if i.kind in kinds]
    return exact or by_kind(kit, kinds)


def by_kind(kit: Sequence[Item], kinds: Iterable[str]) -> list[Item]:
    """Return the items of any of the kinds, or of those commonly meant by the same word."""
    wanted = set(kinds)
    exact = [i for i in kit if i.kind in wanted]
    near = {k for kind in wanted for k in RELATED.get(ItemKind(kind), ())}
    return exact or [i for i in kit if i.kind in near]


def kinds_in(mention: str) -> set[ItemKind]:
    """Return the kinds of item that words name."""
    tokens = [canonical(w) for w in words(joined(clean(mention)))]
    return {kind for _, _, kind in lexicon().items.find(tokens)}
