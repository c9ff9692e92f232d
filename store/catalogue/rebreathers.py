"""Rebreathers: the loop, its head, its cells and its gas side."""

from store.catalogue.facts import ItemType, Part, renamed
from store.vocabulary import Elastomer, ItemKind, Load, Motion, OpenedBy, PartKind

HEAD_RINGS = Part(
    "head_rings",
    "rebreather head O-rings",
    PartKind.O_RING,
    (
        "rebreather head",
        "rebreather head o-ring",
        "head o-ring",
        "head ring",
        "rebreather o-ring",
        "canister head o-ring",
        "rebreather lid o-ring",
    ),
    motion=Motion.DYNAMIC,
    load=Load.AMBIENT,
    gas=True,
    o2_fraction=1.0,
    loop=True,
    elastomer=Elastomer.EPDM,
)
MOUTHPIECE_RINGS = renamed(
    HEAD_RINGS,
    "mouthpiece valve O-rings",
    "mouthpiece valve",
    "mouthpiece valve o-ring",
    "mouthpiece o-ring",
    "dsv",
    "dsv o-ring",
    "bov",
    "bov o-ring",
    "bailout valve",
    "bailout valve o-ring",
    "dive surface valve",
    "barrel of mouthpiece",
    key="mouthpiece_rings",
)
LOOP_RINGS = renamed(
    HEAD_RINGS,
    "loop and hose O-rings",
    "loop o-ring",
    "loop",
    "loop ring",
    "loop hose o-ring",
    "breathing hose o-ring",
    "counterlung o-ring",
    "counterlung fitting",
    "loop seal",
    "loop connector",
    key="loop_rings",
)
CANISTER_RING = renamed(
    HEAD_RINGS,
    "scrubber canister O-ring",
    "scrubber canister o-ring",
    "scrubber o-ring",
    "scrubber seal",
    "scrubber lid",
    "sorbent canister o-ring",
    key="canister_ring",
)
CELLS = Part(
    "cells",
    "oxygen cells",
    PartKind.SENSOR,
    (
        "oxygen cell",
        "o2 cell",
        "cell",
        "oxygen sensor",
        "o2 sensor",
        "sensor",
        "cell face",
        "sensor face",
        "cell membrane",
        "cell o-ring",
    ),
    gas=True,
    o2_fraction=1.0,
    loop=True,
)
SORBENT = Part(
    "sorbent",
    "scrubber material",
    PartKind.SORBENT,
    ("sorbent", "scrubber", "scrubber material", "lime", "absorbent", "scrubber fill"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
)
COUNTERLUNGS = Part(
    "counterlungs",
    "counterlungs",
    PartKind.BLADDER,
    ("counterlung", "counter lung", "breathing bag"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
    bonded=True,
)
LOOP_HOSES = Part(
    "loop_hoses",
    "breathing hoses",
    PartKind.HOSE,
    ("breathing hose", "loop hose", "corrugated hose"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
    elastomer=Elastomer.EPDM,
)
MUSHROOM_VALVES = Part(
    "mushroom_valves",
    "mushroom (one-way) valves",
    PartKind.VALVE,
    ("rebreather mushroom valve", "one way valve", "check valve", "flapper", "non return valve"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
    elastomer=Elastomer.VMQ,
)
GAS_SIDE = Part(
    "gas_side",
    "solenoid, addition valves and oxygen first stage",
    PartKind.MOVING_SEALS,
    (
        "solenoid",
        "addition valve",
        "adv",
        "manual addition",
        "oxygen addition valve",
        "diluent valve",
        "oxygen first stage",
        "o2 first stage",
        "oxygen solenoid",
        "mav",
        "inside adv",
    ),
    motion=Motion.DYNAMIC,
    load=Load.INTERMEDIATE,
    gas=True,
    o2_fraction=1.0,
    elastomer=Elastomer.FKM,
    opened_by=OpenedBy.TECHNICIAN,
)
BATTERY_CAP = Part(
    "battery_cap",
    "battery compartment O-ring",
    PartKind.O_RING,
    (
        "rebreather battery o-ring",
        "rebreather battery cap",
        "handset battery",
        "handset battery o-ring",
        "controller battery cap",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)

T_PIECES = renamed(
    HEAD_RINGS,
    "T-piece O-rings",
    "t-piece",
    "t piece o-ring",
    "t-piece ring",
    "shoulder port o-ring",
    key="t_pieces",
)
OVERPRESSURE = Part(
    "overpressure_valve",
    "over-pressure valve of the loop",
    PartKind.VALVE,
    ("loop overpressure valve", "counterlung dump", "loop opv", "rebreather opv", "rebreather dump valve"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
)
WATER_TRAP = Part(
    "water_trap",
    "water trap and sponge",
    PartKind.BODY,
    ("water trap", "moisture pad", "sponge", "moisture trap"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
)
CELL_CONTACTS = Part(
    "cell_contacts",
    "cell connectors and wiring",
    PartKind.CONTACT,
    (
        "cell wiring",
        "cell plug",
        "cell connector",
        "cell contact",
        "sensor connector",
        "coax connector",
        "cell cable",
    ),
    gas=True,
    o2_fraction=1.0,
    loop=True,
)
HANDSET = Part(
    "handset",
    "handset, display and cables",
    PartKind.BODY,
    (
        "handset",
        "handset screen",
        "head up display",
        "rebreather display",
        "handset cable",
        "rebreather cable",
    ),
)
LATCHES = Part(
    "latches",
    "head latches and case",
    PartKind.BODY,
    ("head latch", "lid latch", "rebreather case", "rebreather cover", "rebreather latch"),
)
OXYGEN_HOSES = Part(
    "oxygen_hoses",
    "oxygen and diluent hoses",
    PartKind.HOSE,
    ("oxygen hose", "diluent hose", "rebreather hose fitting", "offboard connector", "offboard hose"),
    gas=True,
    o2_fraction=1.0,
)
LOOP_MOUTHPIECE = Part(
    "bite_piece",
    "mouthpiece of the loop",
    PartKind.BODY,
    ("loop mouthpiece", "bite piece of loop", "rebreather bite"),
    gas=True,
    o2_fraction=1.0,
    loop=True,
    elastomer=Elastomer.VMQ,
)

REBREATHERS = (
    ItemType(
        ItemKind.REBREATHER,
        "rebreather",
        ("rebreather", "ccr", "eccr", "mccr", "scr", "closed circuit", "rebreather unit"),
        (
            HEAD_RINGS,
            MOUTHPIECE_RINGS,
            LOOP_RINGS,
            CANISTER_RING,
            CELLS,
            SORBENT,
            COUNTERLUNGS,
            LOOP_HOSES,
            MUSHROOM_VALVES,
            GAS_SIDE,
            BATTERY_CAP,
            T_PIECES,
            OVERPRESSURE,
            WATER_TRAP,
            CELL_CONTACTS,
            HANDSET,
            LATCHES,
            OXYGEN_HOSES,
            LOOP_MOUTHPIECE,
        ),
    ),
)
