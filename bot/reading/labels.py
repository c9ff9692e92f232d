"""What the encoder tells apart. The order is that of its outputs, so a change here asks for training anew."""

from typing import Final

KINDS: Final = tuple(
    """lead dive fix_dive drop_dive kit fact gone care mishap manual trip fix_trip drop_trip snooze wish word share forget undo
ask due why history show_kit show_dives show_trip board paper export help answer chat other""".split()
)
"""Kinds of clause. `lead` is what stands before the first clause and says nothing."""

FLAGS: Final = ("not", "will", "if", "they", "tech", "by", "asked")
"""denied; ahead or wished; supposed; of other people's kit; by a technician; by somebody else; asked."""

SLOTS: Final = tuple(
    "item left part stuff act n depth time temp gas water cond when every fact name who test place val code".split()
)
"""What a span of words is: kit named, kit left out, a part, a substance, an act or mishap, a number of dives or things, ..."""

IDS: Final[dict[str, tuple[str, ...]]] = {
    "item": tuple(
        """cylinder twinset stage regulator buoyancy_device dry_suit wetsuit canister_light hand_light scooter rebreather camera_housing
dive_computer pressure_gauge bag mask fins knife reel dry_gloves hood marker_buoy snorkel weights undersuit heated_vest boots gloves harness
suit_inflation transmitter analyser video_light strobe dry_box slate monofin lanyard nose_clip other all it""".split()
    ),
    "act": tuple(
        """clean lubricate powder inspect service test replace rinse dry disinfect calibrate pack
flooded drained overheated damaged corroded leaking contaminated freeflow battery other""".split()
    ),
    "stuff": tuple(
        """pfpe_grease pfpe_oil silicone_grease silicone_spray petroleum_jelly zip_stick zip_liquid beeswax paraffin_wax talc suit_lubricant
soapy_water baby_oil mineral_oil penetrating_oil cooking_oil sunscreen fresh_water white_vinegar disinfectant lithium_grease graphite solvent
toothpaste hand_cream other""".split()
    ),
    "water": ("salt", "fresh", "brackish", "pool"),
    "cond": ("sand", "silt", "ice", "polluted", "chlorine", "oil", "surf"),
    "test": ("hydro", "visual", "valve", "eddy"),
    "val": ("zone", "hour", "quiet", "units", "country", "on", "off", "board", "dark"),
}
"""What a span of a slot stands for. `left` shares the ids of `item`."""

TAGS: Final = ("O", *(f"{edge}-{slot}" for slot in SLOTS for edge in "BI"))

HEADS: Final[dict[str, int]] = {
    "border": 1,
    "kind": len(KINDS),
    "flags": len(FLAGS),
    "tag": len(TAGS),
    **{slot: len(ids) for slot, ids in IDS.items()},
}
"""Columns of the encoder's output by what they score, in their order."""


def columns() -> dict[str, slice]:
    """Return where each head's scores stand in a row of the output."""
    at, found = 0, {}
    for name, width in HEADS.items():
        found[name] = slice(at, at + width)
        at += width
    return found
