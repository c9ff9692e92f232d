"""Which of the diver's own items a message means."""

import re
from collections.abc import Iterable, Sequence

from rapidfuzz import fuzz

from bot.reading.values import oxygen_of
from bot.understand.lexicon import canonical, lexicon
from bot.understand.message import RELATED
from bot.understand.text import clean, joined, words
from store import items
from store.catalogue import CATALOGUE
from store.tables import Item
from store.vocabulary import CylinderMaterial, ItemKind

_CLOSE = 88
_MATERIALS = {
    "steel": CylinderMaterial.STEEL,
    "aluminium": CylinderMaterial.ALUMINIUM,
    "carbon": CylinderMaterial.COMPOSITE,
    "composite": CylinderMaterial.COMPOSITE,
}
_NUMBER = re.compile(r"\d+")


def by_mention(kit: Sequence[Item], mention: str) -> list[Item]:
    """Return the items a mention may mean: by its own name if one fits, else by kind."""
    said = clean(mention)
    if same := [i for i in kit if clean(i.name) == said]:
        return same
    named = [i for i in kit if _is_near(said, clean(i.name))]
    return named or all_by_mention(kit, mention)


def all_by_mention(kit: Sequence[Item], mention: str) -> list[Item]:
    """Return all items of the kind that a mention names; of a name that is no kind the item that has it."""
    kinds = kinds_in(mention) or {k.kind for k in CATALOGUE.values() if k.name == clean(mention)}
    if not kinds:
        return [i for i in kit if clean(i.name) == clean(mention)]
    of_kind = [i for i in kit if i.kind in kinds] or by_kind(kit, kinds)
    return _of_remark(_of_gas(_of_material(of_kind, mention), mention), mention)


def _of_remark(found: list[Item], mention: str) -> list[Item]:
    """Narrow several down to those of which such a word was remarked: "the yellow one", "my spare regulator"."""
    said = _pieces(mention)
    if len(found) < 2:
        return found
    told = [len(said & {p for r in items.facts_of(i).remarks or () for p in _pieces(r)}) for i in found]
    return [i for i, n in zip(found, told, strict=True) if n == max(told)]


def _pieces(text: str) -> set[str]:
    """Return the words and numbers of a text: "HP100" is two of them."""
    return set(re.findall(r"[a-z]{2,}|\d+", clean(text))) - {"the", "my", "one"}


def _of_gas(found: list[Item], mention: str) -> list[Item]:
    """Narrow several down to those of the gas or the litres said, where any are: "the oxygen stage", "the 7 litre"."""
    if len(found) < 2:
        return found
    gas = oxygen_of(mention)
    same = [i for i in found if gas is not None and items.facts_of(i).o2_fraction == gas]
    sized = _LITRES.search(clean(mention))
    size = float(sized[1].replace(",", ".")) if sized else None
    return same or [i for i in found if size is not None and items.facts_of(i).volume_l == size] or found


_LITRES = re.compile(r"\b(\d{1,2}(?:[.,]\d)?)\s?(?:l|lt|ltr|litres?|liters?)\b")


def meant(kit: Sequence[Item], mention: str) -> list[Item]:
    """Return the items a mention surely means: by name or by its very kind, never by what is commonly meant along."""
    kinds = kinds_in(mention)
    return [i for i in by_mention(kit, mention) if i.kind in kinds or mention.casefold() in i.name.casefold()]


def by_kind(kit: Sequence[Item], kinds: Iterable[str]) -> list[Item]:
    """Return the items of any of the kinds, or of those commonly meant by the same word."""
    wanted = set(kinds)
    exact = [i for i in kit if i.kind in wanted]
    near = {k for kind in wanted for k in RELATED.get(ItemKind(kind), ())}
    return exact or [i for i in kit if i.kind in near]


def kinds_in(mention: str) -> set[ItemKind]:
    """Return the kinds of item that words name."""
    return {kind for _, _, kind in lexicon().items.find(_tokens(mention))}


def _tokens(text: str) -> list[str]:
    return [canonical(w) for w in words(joined(clean(text)))]


def _is_near(said: str, name: str) -> bool:
    """Tell whether a name is meant by words spelled much alike, which a number, a material or a plural keeps apart."""
    near = fuzz.ratio(said, name) >= _CLOSE and said != f"{name}s"
    other = bool(_materials(said) and _materials(name) and _materials(said) != _materials(name))
    return near and not other and _NUMBER.findall(said) == _NUMBER.findall(name)


def _materials(text: str) -> set[CylinderMaterial]:
    return {_MATERIALS[w] for w in _tokens(text) if w in _MATERIALS}


def _of_material(found: list[Item], mention: str) -> list[Item]:
    """Narrow cylinders down to those of the material said, else to those whose material nobody told."""
    said = _materials(mention)
    if not said:
        return found
    made_of = {id(i): _materials(i.name) | _told_material(i) for i in found}
    fitting = [i for i in found if made_of[id(i)] & said]
    return fitting or [i for i in found if not made_of[id(i)]] or found


def _told_material(item: Item) -> set[CylinderMaterial]:
    told = items.facts_of(item).cylinder_material if CATALOGUE[item.kind].tested else None
    return {told} if told else set()
