"""What goes on a part, from physical facts. The first row that applies decides; rows run from special to general.

Every row names its source. Nothing here knows a particular item: a part that the catalogue lacks is answered by
the same rows once its facts are known.
"""

from dataclasses import dataclass
from enum import StrEnum

from bot.advice.sources import PRACTICE, Source
from store.catalogue.when import When, kinds
from store.vocabulary import Elastomer, Motion, OpenedBy, PartKind, Substance, ZipMaterial
from store.vocabulary import PartKind as K


class Verdict(StrEnum):
    """The contract's verdicts."""

    USE = "use"
    NONE = "none"
    YES = "yes"
    NO = "no"
    DEPENDS = "depends"
    TECHNICIAN = "technician"
    CLARIFY = "clarify"


class Amount(StrEnum):
    """How much; the value is the sentence."""

    SHINE = "Enough to make the ring shine: a dab on the finger, drawn round the ring. A lump or a ridge is too much."
    DROP = "A drop, spread until it only shines. Wipe off what you can see lying on it."
    DOCKING = "One light touch of the stick at the docking end only, where the slider parks. Nothing along the teeth."
    BOTH_FACES = "Wax thinly along the outer elements; the finer lubricant only on the inner teeth. Wipe off what shows."
    THIN_WAX = "A thin rub along the elements, then run the slider and wipe off what shows."
    FINE_FILM = "A trace along the inner teeth, then run the slider and wipe off what shows."
    MIST = "One short burst, away from suits and seals, then run the slider."
    DUST = "A light dusting inside and out; shake off what is loose."
    HANDFUL = (
        "A palmful, spread at ankles, wrists and shoulders just before dressing. Rinse it off afterwards."
    )
    PLENTY = "Plenty, then rinse it all off again."
    NOTHING = "Nothing at all: what you add holds grit."


class Step(StrEnum):
    """Preparation; the value is the sentence."""

    RING_OUT = "Take the ring out without a sharp tool; wipe ring and groove with a lint-free cloth."
    RING_LOOK = "Look for nicks, flat spots, hair and grit; a doubtful ring is replaced, not greased."
    BRUSH = "Brush the zip first with soapy water and an old toothbrush, rinse, let it dry. Never lubricant upon lubricant."
    SEAL_WASH = "Rinse off salt and skin oil, dry both sides, then powder."
    RINSE = "Rinse in fresh water and dry it out of the sun."
    CONTACT_DRY = "Wipe with a dry lint-free cloth; keep grease away from it."
    VALVE_RINSE = "Rinse in fresh water while working the valve; what still sticks goes to a technician."
    LOOP_WASH = "Rinse, disinfect with what the maker allows, dry fully before closing."
    CLEAN_HANDS = "Clean hands, clean tools, nothing oily nearby."


@dataclass(frozen=True, slots=True)
class Rule:
    id: str
    when: When
    verdict: Verdict
    why: str
    use: tuple[Substance, ...] = ()
    headline: str = ""
    """What to put on it, where the plain list of `use` would mislead."""
    amount: Amount = Amount.NOTHING
    steps: tuple[Step, ...] = ()
    source: Source = PRACTICE


_RING = kinds(K.O_RING)
_MOVING = kinds(K.O_RING, K.MOVING_SEALS)
_ZIP = kinds(K.ZIP)
_S = Substance
_RING_STEPS = (Step.RING_OUT, Step.RING_LOOK)

RULES: tuple[Rule, ...] = (
    Rule(
        "static_ring_before_shut_off",
        When(kinds=_RING, motion=Motion.STATIC, upstream=True),
        Verdict.NONE,
        "It does not move, and nothing can shut it off: a lubricated ring can be squeezed out of its seat and empty the cylinder. A tapered seat is the worse case.",
        steps=_RING_STEPS,
    ),
    Rule(
        "static_ring",
        When(kinds=_RING, motion=Motion.STATIC),
        Verdict.NONE,
        "It stays still once closed, so there is nothing to lubricate; a film only holds dirt.",
        steps=_RING_STEPS,
    ),
    Rule(
        "technician_gas",
        When(kinds=_MOVING, gas=True, opened_by=OpenedBy.TECHNICIAN),
        Verdict.TECHNICIAN,
        "It moves in breathing gas inside life-support kit; a technician fits an oxygen-compatible grease.",
        use=(_S.PFPE_GREASE,),
        amount=Amount.SHINE,
    ),
    Rule(
        "technician_water",
        When(kinds=_MOVING, gas=False, opened_by=OpenedBy.TECHNICIAN),
        Verdict.TECHNICIAN,
        "It takes special tools and a pressure check afterwards; rinse it and leave the seal to a workshop.",
        use=(_S.SILICONE_GREASE,),
        amount=Amount.SHINE,
    ),
    Rule(
        "technician_thread",
        When(kinds=kinds(K.METAL), gas=True),
        Verdict.TECHNICIAN,
        "Valves are fitted and removed by a technician, with clean dry threads.",
    ),
    Rule(
        "moving_ring_in_loop",
        When(kinds=_MOVING, motion=Motion.DYNAMIC, gas=True, loop=True),
        Verdict.USE,
        "It moves in use and sees rich gas. The oil leaves no residue and holds less dirt than grease.",
        use=(_S.PFPE_OIL, _S.PFPE_GREASE),
        amount=Amount.DROP,
        steps=(*_RING_STEPS, Step.CLEAN_HANDS),
    ),
    Rule(
        "moving_ring_in_gas",
        When(kinds=_MOVING, motion=Motion.DYNAMIC, gas=True),
        Verdict.USE,
        "It moves, and breathing gas touches it: an oxygen-compatible grease whatever the mix, air included.",
        use=(_S.PFPE_GREASE,),
        amount=Amount.SHINE,
        steps=(*_RING_STEPS, Step.CLEAN_HANDS),
    ),
    Rule(
        "moving_ring_near_glue",
        When(kinds=_MOVING, motion=Motion.DYNAMIC, gas=False, bonded=True),
        Verdict.USE,
        "It moves next to something that will one day be glued, and silicone creeps there: PFPE does not.",
        use=(_S.PFPE_GREASE,),
        amount=Amount.SHINE,
        steps=_RING_STEPS,
    ),
    Rule(
        "moving_silicone_ring",
        When(kinds=_MOVING, motion=Motion.DYNAMIC, gas=False, elastomers=frozenset({Elastomer.VMQ})),
        Verdict.USE,
        "It moves, and silicone on silicone rubber is doubtful: PFPE is the safe choice.",
        use=(_S.PFPE_GREASE,),
        amount=Amount.SHINE,
        steps=_RING_STEPS,
    ),
    Rule(
        "moving_ring",
        When(kinds=_MOVING, motion=Motion.DYNAMIC, gas=False),
        Verdict.USE,
        "It turns or slides and no breathing gas touches it: a thin film keeps it from twisting and wearing.",
        use=(_S.SILICONE_GREASE, _S.PFPE_GREASE),
        amount=Amount.SHINE,
        steps=_RING_STEPS,
    ),
    Rule(
        "dirty_zip",
        When(
            kinds=kinds(K.ZIP, K.ZIP_DOCKING_END, K.ZIP_TEETH, K.ZIP_OUTER_ELEMENTS, K.ZIP_INNER_TEETH),
            uncleaned=True,
        ),
        Verdict.USE,
        "Never lubricant upon lubricant: old film holds grit and salt. Soapy water and an old toothbrush first.",
        use=(_S.SOAPY_WATER, _S.FRESH_WATER),
        headline="soapy water and an old toothbrush first; lubricant only on a clean dry zip",
        amount=Amount.PLENTY,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "bag_zip",
        When(kinds=_ZIP, watertight=False, bonded=False),
        Verdict.USE,
        "It keeps no water out and is not glued: silicone spray is enough.",
        use=(_S.SILICONE_SPRAY,),
        amount=Amount.MIST,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "wetsuit_zip",
        When(kinds=_ZIP, watertight=False, bonded=True),
        Verdict.USE,
        "It keeps little water out but is glued in: a soft stick or wax, and no silicone near the glue.",
        use=(_S.ZIP_STICK, _S.BEESWAX),
        amount=Amount.THIN_WAX,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "plastic_zip",
        When(kinds=_ZIP, watertight=True, zip_material=ZipMaterial.PLASTIC),
        Verdict.USE,
        "Plastic teeth run on clean, not on grease: lubricant only at the docking end, about every 10 dives.",
        use=(_S.ZIP_STICK,),
        headline="a soft zip stick at the docking end only; the teeth stay clean and bare",
        amount=Amount.DOCKING,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "metal_zip",
        When(kinds=_ZIP, watertight=True, zip_material=ZipMaterial.METAL),
        Verdict.USE,
        "The coarse outer elements take a wax; the fine inner teeth press the sealing lips together and take something finer (soft stick or liquid).",
        use=(_S.BEESWAX, _S.ZIP_STICK, _S.ZIP_LIQUID),
        headline="beeswax on the outer elements, a soft stick or fine liquid on the inner teeth",
        amount=Amount.BOTH_FACES,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "docking_end",
        When(kinds=kinds(K.ZIP_DOCKING_END)),
        Verdict.USE,
        "The slider seals against the docking end, the one place of a plastic zip that wants a lubricant, about every 10 dives.",
        use=(_S.ZIP_STICK,),
        amount=Amount.DOCKING,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "plastic_teeth",
        When(kinds=kinds(K.ZIP_TEETH)),
        Verdict.NONE,
        "Plastic teeth run on clean: soapy water and an old toothbrush, above all at the docking end. Lubricant on them only holds grit and salt.",
        steps=(Step.BRUSH,),
    ),
    Rule(
        "outer_elements",
        When(kinds=kinds(K.ZIP_OUTER_ELEMENTS)),
        Verdict.USE,
        "The coarse outer elements of a metal zip take a wax.",
        use=(_S.BEESWAX,),
        amount=Amount.THIN_WAX,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "inner_teeth",
        When(kinds=kinds(K.ZIP_INNER_TEETH)),
        Verdict.USE,
        "The fine inner teeth press the sealing lips together: wax is too coarse for them.",
        use=(_S.ZIP_STICK, _S.ZIP_LIQUID),
        amount=Amount.FINE_FILM,
        steps=(Step.BRUSH,),
    ),
    Rule(
        "latex_seal",
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.NR})),
        Verdict.USE,
        "After the dive: rinse, dry, talc, and store powdered. It eases the next entry and keeps skin oil off the latex.",
        use=(_S.TALC,),
        amount=Amount.DUST,
        steps=(Step.SEAL_WASH,),
    ),
    Rule(
        "silicone_seal",
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.VMQ})),
        Verdict.NONE,
        "Silicone seals want washing, not lubricating; plain or soapy water eases them over the hand.",
        steps=(Step.RINSE,),
    ),
    Rule(
        "neoprene_seal",
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.CR})),
        Verdict.USE,
        "Neoprene seals want washing; soapy water or a water-based suit lubricant eases the entry and rinses off. Nothing stays on them.",
        use=(_S.SOAPY_WATER, _S.SUIT_LUBRICANT),
        amount=Amount.HANDFUL,
        steps=(Step.RINSE,),
    ),
    Rule(
        "latex_skin",
        When(kinds=kinds(K.SUIT_SKIN), elastomers=frozenset({Elastomer.NR})),
        Verdict.USE,
        "Latex sticks to itself: store it rinsed, dry and talced. To put it on, soapy water or a water-based suit lubricant; never an oil.",
        use=(_S.TALC, _S.SUIT_LUBRICANT, _S.SOAPY_WATER),
        amount=Amount.DUST,
        steps=(Step.SEAL_WASH,),
    ),
    Rule(
        "suit_skin",
        When(kinds=kinds(K.SUIT_SKIN)),
        Verdict.USE,
        "It eases a tight, smooth or open-cell suit over the skin and washes off. Baby oil serves some neoprene but is greasier, and never goes near latex.",
        use=(_S.SUIT_LUBRICANT, _S.SOAPY_WATER),
        amount=Amount.HANDFUL,
        steps=(Step.RINSE,),
    ),
    Rule(
        "valve_body",
        When(kinds=kinds(K.VALVE)),
        Verdict.NONE,
        "A valve flap and its button work clean and wet; grease makes them stick. Inside it belongs to a technician.",
        steps=(Step.VALVE_RINSE,),
    ),
    Rule(
        "contacts",
        When(kinds=kinds(K.CONTACT, K.BATTERY)),
        Verdict.NONE,
        "Contacts carry current clean and dry; ring grease does not belong on them.",
        steps=(Step.CONTACT_DRY,),
    ),
    Rule(
        "cells_and_sorbent",
        When(kinds=kinds(K.SENSOR, K.SORBENT)),
        Verdict.NONE,
        "Anything on a cell's face or in the sorbent spoils what it does.",
        steps=(Step.CONTACT_DRY,),
    ),
    Rule(
        "inside_the_gas",
        When(kinds=kinds(K.BLADDER, K.HOSE, K.BODY, K.SHELL), gas=True),
        Verdict.NONE,
        "Breathing gas is in it or right beside it, and nothing slides on it: rinse, disinfect where you breathe from it, dry.",
        steps=(Step.RINSE,),
    ),
    Rule(
        "plain",
        When(
            kinds=kinds(K.BLADDER, K.HOSE, K.BODY, K.SHELL, K.FABRIC, K.LENS, K.SKIRT, K.METAL, K.LINE),
            gas=False,
        ),
        Verdict.NONE,
        "Nothing seals by sliding here: fresh water, then dry.",
        steps=(Step.RINSE,),
    ),
    Rule(
        "unknown_part",
        When(),
        Verdict.NONE,
        "No rule knows such a part, and nothing is safer than the wrong thing: clean, dry, and the maker's manual.",
        steps=(Step.RINSE,),
    ),
)

CLEANING: tuple[Rule, ...] = (
    Rule(
        "clean_loop",
        When(loop=True, kinds=kinds(K.O_RING, K.BLADDER, K.HOSE, K.VALVE, K.BODY)),
        Verdict.USE,
        "You breathe from it: rinse, then the disinfectant that its maker allows, rinse again, dry.",
        use=(_S.DISINFECTANT, _S.FRESH_WATER),
        amount=Amount.PLENTY,
        steps=(Step.LOOP_WASH,),
    ),
    Rule(
        "clean_breathed",
        When(gas=True, kinds=kinds(K.BODY, K.BLADDER, K.HOSE, K.VALVE)),
        Verdict.USE,
        "You breathe from it: fresh water, then a disinfectant that its maker allows, rinsed off.",
        use=(_S.DISINFECTANT, _S.FRESH_WATER),
        amount=Amount.PLENTY,
        steps=(Step.RINSE,),
    ),
    Rule(
        "clean_with_soap",
        When(
            kinds=kinds(
                K.BODY_SEAL,
                K.ZIP,
                K.ZIP_TEETH,
                K.ZIP_DOCKING_END,
                K.ZIP_OUTER_ELEMENTS,
                K.ZIP_INNER_TEETH,
                K.SUIT_SKIN,
                K.FABRIC,
                K.SKIRT,
                K.LENS,
            )
        ),
        Verdict.USE,
        "Soap and water does rubber and zips least harm, and takes off salt, sand and skin oil. No solvents.",
        use=(_S.SOAPY_WATER, _S.FRESH_WATER),
        amount=Amount.PLENTY,
        steps=(Step.RINSE,),
    ),
    Rule(
        "clean_contacts",
        When(kinds=kinds(K.CONTACT), gas=False),
        Verdict.USE,
        "Fresh water and dry; vinegar only where salt or battery crust stays, rinsed off at once.",
        use=(_S.FRESH_WATER, _S.WHITE_VINEGAR),
        amount=Amount.PLENTY,
        steps=(Step.CONTACT_DRY,),
    ),
    Rule(
        "clean_ring",
        When(kinds=kinds(K.O_RING, K.MOVING_SEALS), gas=False),
        Verdict.USE,
        "Fresh water outside; the ring itself and its groove with a lint-free cloth.",
        use=(_S.FRESH_WATER,),
        amount=Amount.PLENTY,
        steps=_RING_STEPS,
    ),
    Rule(
        "clean_with_water",
        When(kinds=kinds(K.METAL, K.LINE, K.BODY, K.BLADDER, K.HOSE, K.VALVE)),
        Verdict.USE,
        "Plenty of fresh water, then dry.",
        use=(_S.FRESH_WATER,),
        amount=Amount.PLENTY,
        steps=(Step.RINSE,),
    ),
)
"""What to clean a part with, where that is more than a lint-free cloth. The first row that certainly applies."""

ASKABLE: dict[PartKind, tuple[str, ...]] = {
    K.O_RING: ("motion", "gas"),
    K.MOVING_SEALS: ("motion", "gas"),
    K.ZIP: ("watertight", "zip_material", "bonded"),
    K.BODY_SEAL: ("elastomer",),
}
"""Which unknown facts are worth a question, by kind; a row that hinges on any other unknown fact is passed over."""

ASKED: dict[str, tuple[str, tuple[tuple[str, object], ...]]] = {
    "kind": (
        "What kind of part is it?",
        (
            ("a rubber ring (O-ring)", K.O_RING),
            ("a zip", K.ZIP),
            ("a neck or wrist seal", K.BODY_SEAL),
            ("something else", K.BODY),
        ),
    ),
    "motion": (
        "In use, does the ring stay still or does something turn or slide on it?",
        (("stays still", Motion.STATIC), ("turns or slides", Motion.DYNAMIC)),
    ),
    "gas": ("Does breathing gas touch it?", (("breathing gas", True), ("no breathing gas", False))),
    "zip_material": (
        "Are the teeth of the zip plastic or metal?",
        (("plastic", ZipMaterial.PLASTIC), ("metal", ZipMaterial.METAL)),
    ),
    "watertight": (
        "Does the zip keep water out?",
        (("keeps water out", True), ("lets water through", False)),
    ),
    "bonded": ("Is it glued in (suit), or only sewn (bag)?", (("glued", True), ("only sewn", False))),
    "elastomer": (
        "What are the seals made of?",
        (("latex", Elastomer.NR), ("silicone", Elastomer.VMQ), ("neoprene", Elastomer.CR)),
    ),
}
"""How a missing fact is asked for: the question, then each choice with the value it stands for."""
