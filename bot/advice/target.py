"""Which part of which item a question means, with all that is known of it."""

from dataclasses import dataclass, replace

from bot.advice.question import PartRef, Question, Stated
from store.catalogue import CATALOGUE, ItemFacts, Part, PartFacts
from store.vocabulary import OpenedBy, PartKind

ELASTOMER_OF_KIND = {PartKind.O_RING, PartKind.MOVING_SEALS, PartKind.BODY_SEAL, PartKind.SUIT_SKIN}


@dataclass(frozen=True, slots=True)
class Target:
    """A part to answer about. `ref` is None for a part the catalogue lacks, known by its facts alone."""

    name: str
    facts: PartFacts
    ref: PartRef | None = None


def targets(question: Question, item: ItemFacts | None = None) -> tuple[Target, ...]:
    """Return the parts the question may mean, details before wholes; one nameless target where none was named.

    `item` holds what the diver's own item adds, None when no locker is open. Stated facts go before it.
    """
    stated = question.stated
    known = (item or ItemFacts()).model_copy(
        update={
            k: v
            for k in ("zip_material", "o2_fraction", "pure_oxygen_fill")
            if (v := getattr(stated, k)) is not None
        },
    )
    rows = [(ref, CATALOGUE[ref.item].part(ref.part)) for ref in question.candidates]
    rows = [(ref, part) for ref, part in rows if part.fits(known)]
    rows = _without_wholes(rows, known)
    alike = [
        (ref, part) for ref, part in rows if stated.motion is None or part.motion in {None, stated.motion}
    ]
    found = [Target(part.name, _with_stated(part.facts(known), stated), ref) for ref, part in alike or rows]
    if found:
        return tuple(found)
    return (Target(_nameless(stated), _of_unknown_part(stated)),)


def _without_wholes(rows: list[tuple[PartRef, Part]], known: ItemFacts) -> list[tuple[PartRef, Part]]:
    """Drop "the zip" where a detail of it was named too, unless the detail only fits by not knowing the material."""
    details = {
        (ref.item, part.part_of)
        for ref, part in rows
        if part.part_of and part.zip_material in {None, known.zip_material}
    }
    wholes = {(ref.item, part.key) for ref, part in rows}
    return [
        (ref, part)
        for ref, part in rows
        if (ref.item, part.key) not in details
        and not (part.zip_material and known.zip_material is None and (ref.item, part.part_of) in wholes)
    ]


def _with_stated(facts: PartFacts, stated: Stated) -> PartFacts:
    """Let stated facts refine the catalogue, but never make a part safer than it is: gas stays gas."""
    changes: dict[str, object] = {}
    if stated.gas and not facts.gas:
        changes["gas"] = True
    if stated.motion and not facts.gas:  # what turns or not in the gas, the catalogue knows better
        changes["motion"] = stated.motion
    if stated.elastomer and facts.kind in ELASTOMER_OF_KIND:
        changes["elastomer"] = stated.elastomer
    richest = [f for f in (facts.o2_fraction, stated.o2_fraction) if f is not None]
    if facts.gas or stated.gas:
        changes["o2_fraction"] = max(richest, default=None)
        changes["pure_oxygen_fill"] = facts.pure_oxygen_fill or stated.pure_oxygen_fill
    if stated.uncleaned:
        changes["uncleaned"] = True
    changes |= {k: v for k in ("min_temp_c", "max_temp_c") if (v := getattr(stated, k)) is not None}
    if stated.bonded:
        changes["bonded"] = True
    return replace(facts, **changes)  # type: ignore[arg-type]  # columns of PartFacts


def _of_unknown_part(stated: Stated) -> PartFacts:
    """Take the facts as said. Whoever describes a part can see it, so it counts as within the diver's reach."""
    gas = True if stated.o2_fraction or stated.pure_oxygen_fill else stated.gas
    return PartFacts(
        kind=stated.kind,
        motion=stated.motion,
        gas=gas,
        o2_fraction=stated.o2_fraction,
        pure_oxygen_fill=stated.pure_oxygen_fill,
        elastomer=stated.elastomer,
        bonded=stated.bonded,
        opened_by=stated.opened_by or OpenedBy.DIVER,
        zip_material=stated.zip_material,
        watertight=stated.watertight,
        uncleaned=stated.uncleaned,
        min_temp_c=stated.min_temp_c,
        max_temp_c=stated.max_temp_c,
    )


_NAMELESS = {
    PartKind.O_RING: "that O-ring",
    PartKind.MOVING_SEALS: "that seal",
    PartKind.ZIP: "that zip",
    PartKind.BODY_SEAL: "suit seal",
    PartKind.SUIT_SKIN: "that suit",
}


def _nameless(stated: Stated) -> str:
    return _NAMELESS.get(stated.kind, "that part") if stated.kind else "that part"
