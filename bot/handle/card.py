"""The pocket card: what goes on each part of this very kit, how much and what never, for the boat."""

from collections import defaultdict
from collections.abc import Sequence

from bot.advice.cautions import CAUTIONS, Caution, cautions
from bot.advice.in_short import TECHNICIAN, in_short
from bot.handle.board import heading
from bot.handle.visit import Visit
from bot.handle.wording import count
from bot.pictures import PDF, PNG
from bot.pictures.sheets import CardItem, CardLine, PocketCard
from bot.replies import Drawing, Reply
from bot.understand.intents import AddItem
from bot.understand.reader import Offer
from scheduler.standing import ItemDue
from store import items
from store.catalogue import CATALOGUE, Part
from store.tables import Item
from store.vocabulary import Substance

_OUT = "out of oxygen service: a technician cleans and inspects it first"
_NAMED = 2
_REST = "Straps, knobs, handles and the like that are not named: nothing on them, clean and dry."
_NOT_ON_A_CARD = {"reach"}
"""The card says "technician only" in its place."""


def pocket_card(visit: Visit) -> Reply:
    """Send the card as a paper to print and as a picture for the phone."""
    if not visit.kit():
        return Reply(
            "Your kit is empty, so there is nothing to put on a card.",
            offers=(Offer("Add kit", AddItem()),),
            data={"intent": "export", "what": "card", "done": False},
        )
    card = card_of(visit)
    parts = sum(len(item.lines) for item in card.items)
    plain = _plain(card)
    return Reply(
        f"Your pocket card: {count(len(visit.kit()), 'item')}.",
        ("Print it on one A5 page, black and white will do, or keep the picture on the phone.",),
        data={"intent": "export", "what": "card", "done": True, "lines": parts},
        files=(
            Drawing("pocket-card.pdf", PDF, card, plain),
            Drawing("pocket-card.png", PNG, card, plain),
        ),
    )


def card_of(visit: Visit) -> PocketCard:
    """Put a kit on a card; items whose lines are all alike share them."""
    alike: dict[tuple[CardLine, ...], list[str]] = defaultdict(list)
    spoken: set[Caution] = set()
    for standing in visit.standing():
        alike[_lines(standing, visit, spoken)].append(standing.item.name)
    return PocketCard(
        locker=heading(visit),
        on=f"{visit.today.day} {visit.today:%B %Y}",
        items=tuple(CardItem(name=_named(names), lines=lines) for lines, names in alike.items()),
        cautions=tuple(c.on_card or c.text for c in CAUTIONS if c in spoken),
        notes=(_REST, "The maker's manual of your very item goes before this card."),
    )


def _named(names: Sequence[str]) -> str:
    """Name items that are alike; of many the first ones and a number."""
    if len(names) <= _NAMED + 1:
        return ", ".join(names)
    return f"{', '.join(names[:_NAMED])} and {len(names) - _NAMED} more alike"


def _lines(standing: ItemDue, visit: Visit, spoken: set[Caution]) -> tuple[CardLine, ...]:
    """Return the lines of an item, parts with one answer in one line; what is told of them goes to `spoken`."""
    item = standing.item
    facts = items.facts_of(item)
    wrong = {due.part for due in visit.contaminated(item)}
    groups: dict[tuple[str, bool, str, str, bool], list[str]] = defaultdict(list)
    for part in _parts(item):
        known = part.facts(facts)
        manual = standing.manual(part.key)
        short = in_short(known, tuple(map(Substance, manual)) if manual is not None else None)
        if short.harmless:  # a card has no room for straps and knobs: its last line speaks of them all
            continue
        spoken |= set(cautions(known))
        if known.gas and wrong & {"", part.key}:
            groups[_OUT, False, "", short.never, True].append(part.name)
        else:
            groups[short.put, short.bare, short.how_much, short.never, bool(known.gas)].append(part.name)
    # What can hurt first: in the gas what must stay bare, elsewhere what is to be put on.
    ordered = sorted(
        groups.items(), key=lambda p: (not p[0][4], p[0][1] is not p[0][4], p[0][0] == TECHNICIAN)
    )
    return tuple(
        CardLine(part="; ".join(names), put=put, bare=bare, how_much=how_much, never=never, gas=gas)
        for (put, bare, how_much, never, gas), names in ordered
    )


def _parts(item: Item) -> list[Part]:
    """Return the parts that a card speaks of: those that are cared for, in the place of the wholes they belong to."""
    kind = CATALOGUE[item.kind]
    facts = items.facts_of(item)
    return [p for p in kind.parts if p.care and p.fits(facts)]


def _plain(card: PocketCard) -> tuple[str, ...]:
    lines = [f"Pocket card, {card.on}"]
    for item in card.items:
        lines += ["", item.name]
        for line in item.lines:
            how = f" {line.how_much}." if line.how_much else ""
            never = f" Never {line.never}." if line.never else ""
            lines.append(f"- {line.part}: {line.put}.{how}{never}")
    return (*lines, "", *(f"! {caution}" for caution in card.cautions), *card.notes)
