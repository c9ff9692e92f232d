"""Lights and scooters: battery-driven kit that keeps water out."""

from store.catalogue.facts import ItemType, Part, renamed
from store.vocabulary import Elastomer, ItemKind, Load, Motion, OpenedBy, PartKind

LID_RING = Part(
    "lid_ring",
    "canister lid O-ring",
    PartKind.O_RING,
    (
        "lid o-ring",
        "lid",
        "canister lid",
        "canister lid o-ring",
        "canister o-ring",
        "battery canister o-ring",
        "canister light o-ring",
        "canister light",
        "latch lid",
        "latched lid o-ring",
        "lid with latches",
    ),
    motion=Motion.STATIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
LIGHT_SWITCH = Part(
    "switch",
    "light switch boot and gland",
    PartKind.BODY,
    ("light switch", "switch boot", "cable gland", "light cable"),
    opened_by=OpenedBy.TECHNICIAN,
)
HEAD_RINGS = Part(
    "head_rings",
    "O-rings of the twist-switched light head",
    PartKind.O_RING,
    (
        "light head",
        "light head o-ring",
        "twist light",
        "twist light o-ring",
        "twist head",
        "twist head o-ring",
        "twist switch",
        "light that twists on",
        "light o-ring",
        "hand light",
        "hand light o-ring",
        "backup light",
        "backup light o-ring",
        "light screws on off",
        "screw head",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
CONTACTS = Part(
    "contacts",
    "battery contacts",
    PartKind.CONTACT,
    (
        "battery contact",
        "contact",
        "charging contact",
        "electrical contact",
        "charging port",
        "corroded contact",
    ),
)
HULL_RINGS = Part(
    "hull_rings",
    "scooter hull O-rings",
    PartKind.O_RING,
    (
        "scooter hull",
        "hull o-ring",
        "hull ring",
        "hull seal",
        "scooter o-ring",
        "scooter hull o-ring",
        "scooter seal",
        "nose cone o-ring",
        "tail o-ring",
        "scooter body o-ring",
        "scooter nose",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
SHAFT_SEAL = Part(
    "shaft_seal",
    "propeller shaft seal",
    PartKind.MOVING_SEALS,
    ("shaft seal", "propeller shaft", "scooter shaft", "propeller shaft seal", "motor shaft"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
    opened_by=OpenedBy.TECHNICIAN,
)
PROPELLER = Part(
    "propeller", "propeller and shroud", PartKind.BODY, ("propeller", "prop", "shroud", "scooter propeller")
)
SCOOTER_BATTERY = Part("battery", "battery", PartKind.BATTERY, ("scooter battery", "battery pack", "battery"))

CANISTER_HEAD = renamed(
    HEAD_RINGS,
    "O-rings of the canister light's lamp head",
    "canister light head",
    "canister lamp head",
    "canister light head o-ring",
    "lamp head",
    key="lamp_head",
)
LENS = Part(
    "lens",
    "lens and reflector",
    PartKind.LENS,
    ("light lens", "reflector", "front glass", "torch glass", "light glass"),
)
CHARGE_PORT = Part(
    "charge_port",
    "charging port plug O-ring",
    PartKind.O_RING,
    ("charging port o-ring", "charge port plug", "charge port o-ring", "charging plug o-ring", "charge plug"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
WET_MATE = Part(
    "wet_mate",
    "wet-mate connector",
    PartKind.O_RING,
    ("wet mate", "wet mate connector", "wet connector", "eocord", "underwater connector", "wet mate plug"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.CR,
)
BATTERY_TUBE = Part(
    "battery_tube",
    "battery tube threads",
    PartKind.METAL,
    ("light thread", "battery tube", "torch thread", "battery tube thread", "light body thread"),
)
GOODMAN = Part(
    "handle",
    "hand mount and cord",
    PartKind.FABRIC,
    ("hand mount", "light handle", "wrist lanyard", "bungee mount", "light cord"),
)
NOSE_RING = renamed(
    HULL_RINGS,
    "scooter nose O-ring",
    "scooter nose o-ring",
    "nose o-ring",
    "nose cone",
    "scooter lid o-ring",
    key="nose_ring",
)
TRIGGER = Part(
    "trigger",
    "trigger and handle",
    PartKind.BODY,
    ("scooter trigger", "trigger", "scooter handle", "scooter switch"),
)
TOW_CORD = Part("tow_cord", "tow cord and clip", PartKind.FABRIC, ("tow cord", "tow line", "scooter cord"))

LIGHTS = (
    ItemType(
        ItemKind.CANISTER_LIGHT,
        "canister light",
        ("canister light", "umbilical light", "can light", "primary light", "canister torch"),
        (LID_RING, LIGHT_SWITCH, CONTACTS, CANISTER_HEAD, CHARGE_PORT, WET_MATE, LENS, GOODMAN),
        main="lid_ring",
    ),
    ItemType(
        ItemKind.HAND_LIGHT,
        "twist-switched hand light",
        (
            "hand light",
            "twist light",
            "backup light",
            "lantern",
            "back up light",
            "light",
            "pocket light",
        ),
        (HEAD_RINGS, CONTACTS, LENS, BATTERY_TUBE, CHARGE_PORT),
        main="head_rings",
    ),
    ItemType(
        ItemKind.SCOOTER,
        "scooter",
        ("scooter", "diver propulsion vehicle", "underwater scooter"),
        (HULL_RINGS, NOSE_RING, SHAFT_SEAL, PROPELLER, SCOOTER_BATTERY, CONTACTS, TRIGGER, TOW_CORD),
        main="hull_rings",
    ),
    ItemType(
        ItemKind.VIDEO_LIGHT,
        "video light",
        ("video light", "photo light", "focus light"),
        (HEAD_RINGS, CONTACTS, LENS, CHARGE_PORT),
        main="head_rings",
    ),
)
