"""A question as understood: which parts it may mean, what is asked about them, and the facts it states."""

from enum import StrEnum

from pydantic import BaseModel, ConfigDict

from store.vocabulary import Elastomer, ItemKind, Motion, OpenedBy, PartKind, Substance, ZipMaterial


class About(StrEnum):
    WHAT = "what"
    CAN = "can"
    HOW_MUCH = "how_much"
    HOW_OFTEN = "how_often"
    HOW = "how"
    WHY = "why"
    CONTAMINATED = "contaminated"


class PartRef(BaseModel):
    """A row of the catalogue."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    item: ItemKind
    part: str


class Stated(BaseModel):
    """Facts said in the question or in answer to ours. None: not said."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: PartKind | None = None
    motion: Motion | None = None
    gas: bool | None = None
    o2_fraction: float | None = None
    pure_oxygen_fill: bool | None = None
    elastomer: Elastomer | None = None
    bonded: bool | None = None
    opened_by: OpenedBy | None = None
    zip_material: ZipMaterial | None = None
    watertight: bool | None = None
    min_temp_c: float | None = None
    max_temp_c: float | None = None
    uncleaned: bool | None = None


class Symptom(StrEnum):
    LEAKS = "leaks"
    POPS_OUT = "pops_out"
    TWISTS = "twists"


class RingQuestion(BaseModel):
    """A question about the ring itself: a size to look up, a groove to judge, or trouble. Lengths in millimetres."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    dash: str | None = None
    id_mm: float | None = None
    cs_mm: float | None = None
    depth_mm: float | None = None
    width_mm: float | None = None
    shaft_mm: float | None = None
    motion: Motion | None = None
    symptom: Symptom | None = None


class Question(BaseModel):
    """What the diver wants to know. `candidates` empty: no part of the catalogue was named."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    about: About
    candidates: tuple[PartRef, ...] = ()
    item: ItemKind | None = None
    substance: Substance | None = None
    weighed: tuple[Substance, ...] = ()
    """Substances set against each other: "this or that"."""
    happened: bool = False
    """It was put on already; with CONTAMINATED, rather than a "what if"."""
    unknown_substance: str | None = None
    learned: str | None = None
    """The diver's own word, now that its class was said."""
    rest: tuple["Question", ...] = ()
    """Further parts asked about in the same breath, each a question of its own."""
    ring: RingQuestion | None = None
    """About the ring itself rather than what goes on it."""
    cleaning: bool = False
    """What to clean it with, rather than what to leave on it."""
    stated: Stated = Stated()
    manual: tuple[Substance, ...] | None = None
    """What the maker's manual says goes on it; an empty tuple is "nothing", None is "not said"."""
