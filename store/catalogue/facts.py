"""The shapes of the catalogue: what an item is, which parts it has, and what is physically true of each."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from store.vocabulary import (
    CylinderMaterial,
    Elastomer,
    ItemKind,
    Load,
    Motion,
    OpenedBy,
    PartKind,
    Region,
    SealMaterial,
    ZipMaterial,
)

SEAL_RUBBER = {
    SealMaterial.LATEX: Elastomer.NR,
    SealMaterial.SILICONE: Elastomer.VMQ,
    SealMaterial.NEOPRENE: Elastomer.CR,
}


class ItemFacts(BaseModel):
    """What the diver told us of one item. None always means: not said."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    o2_fraction: float | None = Field(default=None, gt=0, le=1)
    """Greatest oxygen fraction the item sees."""
    pure_oxygen_fill: bool | None = None
    """Oxygen went into the cylinder first, so it saw pure oxygen whatever the final mix."""
    zip_material: ZipMaterial | None = None
    seal_material: SealMaterial | None = None
    cylinder_material: CylinderMaterial | None = None
    volume_l: float | None = Field(default=None, gt=0, le=60)
    region: Region | None = None
    """Where it is tested, if that is not where the diver lives."""
    made_on: date | None = None
    """First day of the month of its manufacture mark."""
    alloy_6351: bool | None = None
    special_permit: bool | None = None
    """Made or approved under a permit that sets its own test rule, as many composites are."""
    risk_assessed: bool | None = None
    """A risk assessment allows the longer visual interval where the region knows one."""
    hydro_due_on: date | None = None
    visual_due_on: date | None = None
    eddy_due_on: date | None = None
    """A day of the month stamped on it as the next due date: the first where only the month was said."""
    hydro_due_told_on: date | None = None
    visual_due_told_on: date | None = None
    eddy_due_told_on: date | None = None
    """When the diver said so: a test done since goes before the stamp."""
    remarks: tuple[Annotated[str, Field(min_length=1, max_length=40)], ...] | None = Field(
        default=None, max_length=8
    )
    """What else the diver said of it, in their own words: no rule looks at it, but it tells one item from others."""

    def and_also(self, later: "ItemFacts") -> "ItemFacts":
        """Return these facts with those told later, which go first; what was remarked is kept, the newest eight."""
        told = later.model_dump(exclude_none=True, exclude={"remarks"})
        remarks = tuple(dict.fromkeys((*(self.remarks or ()), *(later.remarks or ()))))[-8:]
        return self.model_copy(update={**told, "remarks": remarks or None})


@dataclass(frozen=True, slots=True)
class PartFacts:
    """All that the rules may look at. None means unknown, never "no"."""

    kind: PartKind | None = None
    motion: Motion | None = None
    load: Load | None = None
    gas: bool | None = None
    """Breathing gas touches it."""
    o2_fraction: float | None = None
    pure_oxygen_fill: bool | None = None
    upstream: bool | None = None
    """Between cylinder and shut-off: nobody can close it off under water."""
    loop: bool | None = None
    """In a rebreather's warm, wet breathing loop, opened and disinfected often."""
    elastomer: Elastomer | None = None
    bonded: bool | None = None
    """Glued in, or next to something that will one day be glued."""
    opened_by: OpenedBy | None = None
    zip_material: ZipMaterial | None = None
    watertight: bool | None = None
    """For a zip: it keeps water out."""
    min_temp_c: float | None = None
    max_temp_c: float | None = None
    """The span of temperatures it sees."""
    uncleaned: bool | None = None
    """Old lubricant and dirt are still on it."""


@dataclass(frozen=True, slots=True)
class Part:
    """One row of the catalogue: a part of a kind of item and its usual physical facts.

    `words` are what people call it, in plain English; order of words and small words do not matter.
    `elastomer` is the usual rubber; None where it follows the diver's item or is not rubber.
    `zip_material` limits the row to items with such a zip.
    """

    key: str
    name: str
    kind: PartKind
    words: tuple[str, ...]
    motion: Motion | None = None
    load: Load | None = None
    gas: bool = False
    o2_fraction: float | None = None
    upstream: bool = False
    loop: bool = False
    elastomer: Elastomer | None = None
    bonded: bool = False
    opened_by: OpenedBy = OpenedBy.DIVER
    zip_material: ZipMaterial | None = None
    watertight: bool | None = None
    part_of: str | None = None
    """Key of the part this is a detail of: care recorded for one counts for the other."""
    care: bool = True
    """False: a name people ask by, whose care is scheduled on its whole or on its details."""

    def fits(self, item: ItemFacts) -> bool:
        """Tell whether an item of those facts has this part; an unknown zip material fits both."""
        return self.zip_material is None or item.zip_material in {None, self.zip_material}

    def facts(self, item: ItemFacts) -> PartFacts:
        """Join what the catalogue knows with what the diver said of the item."""
        elastomer = self.elastomer
        if self.kind is PartKind.BODY_SEAL and item.seal_material is not None:
            elastomer = SEAL_RUBBER[item.seal_material]
        richest = [f for f in (self.o2_fraction, item.o2_fraction) if f is not None] if self.gas else []
        return PartFacts(
            kind=self.kind,
            motion=self.motion,
            load=self.load,
            gas=self.gas,
            o2_fraction=max(richest, default=None),
            pure_oxygen_fill=item.pure_oxygen_fill if self.gas else False,
            upstream=self.upstream,
            loop=self.loop,
            elastomer=elastomer,
            bonded=self.bonded,
            opened_by=self.opened_by,
            zip_material=self.zip_material or item.zip_material,
            watertight=self.watertight,
        )


@dataclass(frozen=True, slots=True)
class ItemType:
    """A kind of item: its name, what people call it, its parts, and which facts to ask for when it is added."""

    kind: ItemKind
    name: str
    words: tuple[str, ...]
    parts: tuple[Part, ...]
    asks: tuple[str, ...] = ()
    """Names of `ItemFacts` fields that change the care of this item."""
    main: str | None = None
    """Key of the part meant when only the item is named; None where several could be."""
    wet: bool = True
    """Goes into the water, so each dive counts for it."""
    tested: bool = False
    """A pressure vessel with test dates set by law."""

    def part(self, key: str) -> Part:
        """Return the part with that key; KeyError if the kind has none."""
        for part in self.parts:
            if part.key == key:
                return part
        raise KeyError(key)


def renamed(part: Part, name: str, *words: str, **facts: object) -> Part:
    """Return the same physical part under the name it has on another kind of item."""
    return replace(part, name=name, words=words or part.words, **facts)  # type: ignore[arg-type]  # columns of Part
