"""Conditions over physical facts, as data: every table of rules on every floor uses this one shape."""

from dataclasses import dataclass, fields

from store.catalogue.facts import PartFacts
from store.vocabulary import Elastomer, Load, Motion, OpenedBy, PartKind, ZipMaterial

_SETS = {"kinds": "kind", "loads": "load", "elastomers": "elastomer"}


@dataclass(frozen=True, slots=True)
class When:
    """A row applies when every column that is filled in holds. An empty set or None asks nothing."""

    kinds: frozenset[PartKind] = frozenset()
    motion: Motion | None = None
    loads: frozenset[Load] = frozenset()
    gas: bool | None = None
    loop: bool | None = None
    upstream: bool | None = None
    bonded: bool | None = None
    opened_by: OpenedBy | None = None
    zip_material: ZipMaterial | None = None
    watertight: bool | None = None
    pure_oxygen_fill: bool | None = None
    uncleaned: bool | None = None
    elastomers: frozenset[Elastomer] = frozenset()
    o2_over: float | None = None
    """Exclusive: 0.40 is not over 0.40."""

    def unknown(self, facts: PartFacts) -> tuple[str, ...] | None:
        """Return None where the row cannot apply, else the names of the facts it still needs: empty means it applies."""
        missing = []
        for column in fields(self):
            wanted = getattr(self, column.name)
            if wanted is None or wanted == frozenset():
                continue
            name = "o2_fraction" if column.name == "o2_over" else _SETS.get(column.name, column.name)
            known = getattr(facts, name)
            if known is None:
                missing.append(name)
            elif column.name == "o2_over":
                if known <= wanted:
                    return None
            elif column.name in _SETS:
                if known not in wanted:
                    return None
            elif known != wanted:
                return None
        return tuple(missing)

    def holds(self, facts: PartFacts) -> bool:
        """Tell whether the row certainly applies."""
        return self.unknown(facts) == ()


def kinds(*names: PartKind) -> frozenset[PartKind]:
    """Write a set of part kinds the short way."""
    return frozenset(names)
