"""Cameras, computers and small kit."""

from store.catalogue.facts import ItemType, Part
from store.vocabulary import Elastomer, ItemKind, Load, Motion, OpenedBy, PartKind

HOUSING_RING = Part(
    "housing_ring",
    "main O-ring of the camera housing",
    PartKind.O_RING,
    (
        "housing o-ring",
        "camera housing",
        "camera housing o-ring",
        "housing main o-ring",
        "housing back o-ring",
        "housing door o-ring",
        "camera o-ring",
        "housing lid o-ring",
        "main o-ring",
        "housing seal",
        "back door o-ring",
    ),
    motion=Motion.STATIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
PORT_RING = Part(
    "port_ring",
    "lens port O-ring",
    PartKind.O_RING,
    (
        "lens port o-ring",
        "dome port o-ring",
        "camera port o-ring",
        "port ring",
        "dome port",
        "housing port",
        "housing port o-ring",
        "extension ring o-ring",
        "lens port",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
CONTROL_SHAFTS = Part(
    "control_shafts",
    "control shafts and buttons of the housing",
    PartKind.MOVING_SEALS,
    (
        "housing button",
        "camera button",
        "control shaft",
        "shutter lever",
        "housing knob",
        "push button",
        "housing control",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
    opened_by=OpenedBy.TECHNICIAN,
)
ARM_BALLS = Part(
    "arm_balls",
    "ball-joint O-rings of the strobe arms",
    PartKind.O_RING,
    ("ball joint", "ball joint o-ring", "strobe arm", "strobe arm o-ring", "arm ball", "clamp ball"),
    motion=Motion.DYNAMIC,
    elastomer=Elastomer.NBR,
)
BATTERY_CAP = Part(
    "battery_cap",
    "battery compartment O-ring",
    PartKind.O_RING,
    (
        "battery cap",
        "battery cap o-ring",
        "computer battery",
        "computer battery cap",
        "computer battery o-ring",
        "dive computer o-ring",
        "battery compartment o-ring",
        "battery door o-ring",
        "transmitter battery o-ring",
        "battery o-ring",
        "battery hatch",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
SCREEN = Part(
    "screen",
    "screen and buttons",
    PartKind.LENS,
    ("computer screen", "computer button", "dive computer button", "computer strap"),
)
BAG_ZIP = Part(
    "bag_zip",
    "bag zip",
    PartKind.ZIP,
    ("bag zip", "gear bag zip", "kit bag zip", "luggage zip", "duffel zip"),
    bonded=False,
    watertight=False,
)
BAG_CLOTH = Part("bag_cloth", "bag cloth", PartKind.FABRIC, ("bag cloth", "bag fabric", "mesh bag"))
MASK_SKIRT = Part(
    "mask_skirt",
    "mask skirt",
    PartKind.SKIRT,
    ("mask skirt", "mask", "mask silicone", "mask strap", "skirt"),
    elastomer=Elastomer.VMQ,
)
MASK_LENS = Part(
    "mask_lens", "mask lens", PartKind.LENS, ("mask lens", "new mask", "mask glass", "foggy mask", "lens")
)
FIN_BODY = Part("fins", "fins and straps", PartKind.BODY, ("fin", "fin strap", "fin spring"))
BLADE = Part(
    "blade",
    "knife or cutter blade",
    PartKind.METAL,
    ("knife", "blade", "knife blade", "cutter", "shears", "line cutter"),
)
SPOOL_BODY = Part(
    "reel_body",
    "reel axle and line",
    PartKind.LINE,
    ("reel", "spool line", "finger spool", "reel axle", "guideline"),
)
BOLT_SNAP = Part(
    "bolt_snap",
    "bolt snaps and metal clips",
    PartKind.METAL,
    ("bolt snap", "snap", "piston clip", "carabiner", "clip", "double ender"),
)

INSTRUMENTS = (
    ItemType(
        ItemKind.CAMERA_HOUSING,
        "camera housing",
        ("camera housing", "housing", "camera", "camera case"),
        (HOUSING_RING, PORT_RING, CONTROL_SHAFTS, ARM_BALLS),
        main="housing_ring",
    ),
    ItemType(
        ItemKind.DIVE_COMPUTER,
        "dive computer",
        ("dive computer", "computer", "bottom timer", "transmitter"),
        (BATTERY_CAP, SCREEN),
        main="battery_cap",
    ),
    ItemType(
        ItemKind.BAG,
        "bag",
        ("bag", "gear bag", "kit bag", "dive bag", "duffel"),
        (BAG_ZIP, BAG_CLOTH),
        main="bag_zip",
        wet=False,
    ),
    ItemType(ItemKind.MASK, "mask", ("mask", "spare mask"), (MASK_SKIRT, MASK_LENS), main="mask_skirt"),
    ItemType(ItemKind.FINS, "fins", ("fins", "fin"), (FIN_BODY,), main="fins"),
    ItemType(
        ItemKind.KNIFE,
        "knife or cutter",
        ("knife", "dive knife", "line cutter", "shears", "cutter"),
        (BLADE,),
        main="blade",
    ),
    ItemType(
        ItemKind.REEL,
        "reel or spool",
        ("reel", "finger spool", "primary reel"),
        (SPOOL_BODY, BOLT_SNAP),
        main="reel_body",
    ),
)
