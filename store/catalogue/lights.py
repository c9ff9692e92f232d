"""Lights and scooters: battery-driven kit that keeps water out."""

from store.catalogue.facts import ItemType, Part
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
        "e-o cord",
        "wet connector",
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

LIGHTS = (
    ItemType(
        ItemKind.CANISTER_LIGHT,
        "canister light",
        ("canister light", "umbilical light", "can light", "primary light", "canister torch"),
        (LID_RING, LIGHT_SWITCH, CONTACTS),
        main="lid_ring",
    ),
    ItemType(
        ItemKind.HAND_LIGHT,
        "twist-switched hand light",
        (
            "hand light",
            "twist light",
            "backup light",
            "back up light",
            "light",
            "video light",
            "pocket light",
        ),
        (HEAD_RINGS, CONTACTS),
        main="head_rings",
    ),
    ItemType(
        ItemKind.SCOOTER,
        "scooter",
        ("scooter", "diver propulsion vehicle", "underwater scooter"),
        (HULL_RINGS, SHAFT_SEAL, PROPELLER, SCOOTER_BATTERY, CONTACTS),
        main="hull_rings",
    ),
)
