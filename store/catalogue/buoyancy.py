"""Buoyancy devices and surface markers."""

from store.catalogue.facts import ItemType, Part
from store.vocabulary import Elastomer, ItemKind, Motion, OpenedBy, PartKind

INFLATOR = Part(
    "inflator",
    "power inflator",
    PartKind.MOVING_SEALS,
    (
        "inflator",
        "power inflator",
        "buoyancy inflator",
        "inflator button",
        "bcd inflator",
        "bcd inflator button",
        "inflator internals",
        "inflator schrader valve",
        "schrader valve",
        "inflator o-ring",
    ),
    motion=Motion.DYNAMIC,
    gas=True,
    elastomer=Elastomer.NBR,
    opened_by=OpenedBy.TECHNICIAN,
)
DUMP_VALVE = Part(
    "dump_valve",
    "dump valve of the buoyancy device",
    PartKind.VALVE,
    (
        "dump valve",
        "pull dump",
        "bcd dump valve",
        "bcd dump",
        "kidney dump",
        "over pressure valve",
        "opv",
        "dump valve o-ring",
        "overpressure valve",
        "bcd valve",
        "buoyancy dump valve",
    ),
    gas=True,
    elastomer=Elastomer.NBR,
)
BLADDER = Part(
    "bladder",
    "bladder of the buoyancy device",
    PartKind.BLADDER,
    ("bladder", "bcd", "bcd bladder", "inside bcd", "air cell"),
    gas=True,
    bonded=True,
)
CORRUGATED_HOSE = Part(
    "corrugated_hose",
    "corrugated inflator hose",
    PartKind.HOSE,
    ("corrugated inflator hose", "inflator corrugated hose", "bcd hose", "bcd corrugated hose"),
    gas=True,
)
WEBBING = Part(
    "webbing",
    "harness webbing and buckles",
    PartKind.FABRIC,
    ("webbing", "harness", "buckle", "backplate", "d-ring", "bcd pocket"),
)
BUOY = Part(
    "buoy_bladder",
    "marker buoy bladder and valves",
    PartKind.BLADDER,
    ("marker buoy", "smb", "dsmb", "surface marker", "buoy", "lift bag"),
    bonded=True,
)

BUOYANCY = (
    ItemType(
        ItemKind.BUOYANCY_DEVICE,
        "buoyancy device",
        ("bcd", "buoyancy device", "buoyancy compensator", "wing", "bc", "stab jacket", "jacket"),
        (BLADDER, INFLATOR, DUMP_VALVE, CORRUGATED_HOSE, WEBBING),
    ),
    ItemType(
        ItemKind.MARKER_BUOY,
        "marker buoy",
        ("marker buoy", "surface marker buoy", "smb", "dsmb", "lift bag"),
        (BUOY,),
        main="buoy_bladder",
    ),
)
