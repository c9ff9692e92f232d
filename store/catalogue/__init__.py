"""Which parts each kind of item has, and what is physically true of them. One file a family."""

from store.catalogue.buoyancy import BUOYANCY
from store.catalogue.cylinders import CYLINDERS
from store.catalogue.facts import ItemFacts, ItemType, Part, PartFacts
from store.catalogue.instruments import INSTRUMENTS
from store.catalogue.lights import LIGHTS
from store.catalogue.rebreathers import REBREATHERS
from store.catalogue.regulators import REGULATORS
from store.catalogue.suits import SUITS

CATALOGUE: dict[str, ItemType] = {
    kind.kind: kind
    for family in (CYLINDERS, REGULATORS, BUOYANCY, SUITS, LIGHTS, REBREATHERS, INSTRUMENTS)
    for kind in family
}

__all__ = ["CATALOGUE", "ItemFacts", "ItemType", "Part", "PartFacts"]
