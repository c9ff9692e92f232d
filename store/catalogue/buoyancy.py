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
    ("webbing", "harness", "buckle", "d-ring", "bcd pocket"),
)
INFLATOR_MOUTHPIECE = Part(
    "inflator_mouthpiece",
    "mouthpiece and oral valve of the inflator",
    PartKind.BODY,
    ("inflator mouthpiece", "oral inflator", "oral inflation", "oral valve"),
    gas=True,
)
ELBOW = Part(
    "elbow",
    "hose elbow of the bladder",
    PartKind.O_RING,
    ("bladder elbow", "bcd elbow", "wing elbow", "inflator elbow", "elbow o-ring bcd"),
    motion=Motion.STATIC,
    gas=True,
    elastomer=Elastomer.NBR,
)
WING_ZIP = Part(
    "wing_zip",
    "zip of the wing's cover",
    PartKind.ZIP,
    ("wing zip", "bcd zip", "bladder cover zip", "pocket zip bcd"),
    watertight=False,
    bonded=False,
)
WEIGHT_POCKETS = Part(
    "weight_pockets", "weight pockets", PartKind.FABRIC, ("weight pocket", "integrated weight", "trim pocket")
)
CAM_BANDS = Part(
    "cam_bands",
    "cylinder straps",
    PartKind.FABRIC,
    ("cam band", "cylinder strap", "cam strap", "cylinder cam"),
)
BACKPLATE = Part(
    "backplate",
    "backplate and bolts",
    PartKind.METAL,
    ("backplate", "back plate", "wing nut", "backplate bolt", "book screw"),
)
BUOY_VALVES = Part(
    "buoy_valves",
    "valves of the marker buoy",
    PartKind.VALVE,
    ("buoy valve", "dsmb valve", "smb valve", "buoy overpressure valve", "lift bag valve", "buoy inflator"),
    bonded=True,
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
        (
            BLADDER,
            INFLATOR,
            DUMP_VALVE,
            CORRUGATED_HOSE,
            WEBBING,
            INFLATOR_MOUTHPIECE,
            ELBOW,
            WING_ZIP,
            WEIGHT_POCKETS,
            CAM_BANDS,
            BACKPLATE,
        ),
    ),
    ItemType(
        ItemKind.MARKER_BUOY,
        "marker buoy",
        ("marker buoy", "surface marker buoy", "smb", "dsmb", "lift bag"),
        (BUOY, BUOY_VALVES),
        main="buoy_bladder",
    ),
    ItemType(
        ItemKind.HARNESS, "harness", ("harness", "backplate harness", "webbing harness"), (WEBBING, BACKPLATE)
    ),
)
