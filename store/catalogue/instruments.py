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
    ("computer screen", "computer button", "dive computer button"),
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
    ("mask skirt", "mask", "mask silicone", "skirt"),
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
    ("reel", "spool line", "finger spool", "guideline"),
)
BOLT_SNAP = Part(
    "bolt_snap",
    "bolt snaps and metal clips",
    PartKind.METAL,
    ("bolt snap", "snap", "piston clip", "carabiner", "clip", "double ender"),
)

DOME = Part(
    "dome",
    "dome or flat glass of the port",
    PartKind.LENS,
    ("dome glass", "dome port", "acrylic dome port", "dome", "port glass", "acrylic dome", "flat port"),
)
VACUUM_VALVE = Part(
    "vacuum_valve",
    "vacuum valve of the housing",
    PartKind.O_RING,
    ("vacuum valve", "leak check valve", "vacuum port o-ring", "vacuum cap"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
BULKHEAD = Part(
    "bulkhead",
    "cord bulkhead O-rings",
    PartKind.O_RING,
    ("bulkhead", "strobe cord o-ring", "sync cord o-ring", "cord bulkhead", "strobe cord", "bulkhead o-ring"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
STROBE_DOOR = Part(
    "battery_door",
    "battery door O-ring of the strobe",
    PartKind.O_RING,
    (
        "strobe battery o-ring",
        "strobe battery door",
        "strobe o-ring",
        "strobe battery cap",
        "flash battery o-ring",
        "strobe door",
    ),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
STRAP = Part(
    "strap",
    "strap and bungee mounts",
    PartKind.BODY,
    ("computer strap", "wrist strap", "bungee mount", "watch strap"),
)
PRESSURE_PORT = Part(
    "pressure_port",
    "pressure sensor port",
    PartKind.SENSOR,
    ("pressure sensor port", "depth sensor", "sensor port", "pressure port"),
)
MASK_FRAME = Part(
    "mask_frame",
    "mask frame, buckles and strap",
    PartKind.BODY,
    ("mask frame", "mask buckle", "mask strap", "mask clip"),
)
PURGE_VALVE = Part(
    "purge_valve",
    "purge valve of mask or snorkel",
    PartKind.VALVE,
    ("purge valve", "mask purge", "snorkel valve", "snorkel purge"),
)
SNORKEL = Part(
    "snorkel_body",
    "snorkel and its mouthpiece",
    PartKind.BODY,
    ("snorkel", "snorkel mouthpiece", "snorkel tube"),
    gas=True,
)
FIN_BUCKLES = Part(
    "fin_buckles",
    "fin buckles and spring straps",
    PartKind.METAL,
    ("fin buckle", "spring strap", "fin spring", "spring heel"),
)
SHEATH = Part("sheath", "knife sheath and bolts", PartKind.BODY, ("sheath", "knife sheath", "knife handle"))
REEL_AXLE = Part(
    "reel_axle",
    "axle and brake of the reel",
    PartKind.METAL,
    ("reel axle", "reel spindle", "reel brake", "reel squeak", "reel handle"),
)
WEIGHTS = Part(
    "weights",
    "weights and belt",
    PartKind.BODY,
    ("weight belt", "lead weight", "weight", "belt buckle", "lead", "weights"),
)
SLATE = Part(
    "slate_body", "slate and pencil", PartKind.BODY, ("slate", "wetnotes", "wet notes", "compass slate")
)
COMPASS = Part("compass", "compass", PartKind.LENS, ("compass", "compass glass"))
BOX_RING = Part(
    "box_ring",
    "lid O-ring of a dry box",
    PartKind.O_RING,
    ("dry box o-ring", "dry box", "box lid o-ring", "dry box lid", "dry box seal", "box seal"),
    motion=Motion.STATIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
)
BOX_LATCHES = Part(
    "box_latches", "latches and hinges of a box", PartKind.BODY, ("box latch", "box hinge", "box clasp")
)
ANALYSER_CELL = Part(
    "analyser_cell",
    "cell of the analyser",
    PartKind.SENSOR,
    (
        "analyser cell",
        "analyzer cell",
        "oxygen analyser",
        "oxygen analyzer",
        "analyser sensor",
        "nitrox analyser",
    ),
    gas=True,
)
FLOW_RING = Part(
    "flow_ring",
    "sampling fitting O-ring of the analyser",
    PartKind.O_RING,
    ("analyser o-ring", "analyzer o-ring", "analyser fitting", "flow restrictor", "sampling fitting"),
    motion=Motion.STATIC,
    gas=True,
    elastomer=Elastomer.NBR,
)
MONOFIN_BLADE = Part(
    "monofin_blade",
    "blade of the monofin",
    PartKind.BODY,
    ("monofin blade", "monofin", "fibreglass blade", "carbon blade", "fin blade"),
)
FOOT_POCKET = Part(
    "foot_pocket",
    "foot pockets",
    PartKind.SUIT_SKIN,
    ("foot pocket", "monofin foot pocket", "fin pocket", "full foot fin"),
    elastomer=Elastomer.NR,
)
LANYARD = Part(
    "lanyard_cord",
    "lanyard, clip and wrist strap",
    PartKind.FABRIC,
    ("lanyard", "freediving lanyard", "safety lanyard"),
)
NOSE_CLIP = Part("nose_clip_body", "nose clip", PartKind.BODY, ("nose clip", "noseclip"))

INSTRUMENTS = (
    ItemType(
        ItemKind.CAMERA_HOUSING,
        "camera housing",
        ("camera housing", "housing", "camera", "camera case"),
        (HOUSING_RING, PORT_RING, CONTROL_SHAFTS, ARM_BALLS, DOME, VACUUM_VALVE, BULKHEAD),
        main="housing_ring",
    ),
    ItemType(
        ItemKind.DIVE_COMPUTER,
        "dive computer",
        ("dive computer", "computer", "bottom timer", "depth gauge"),
        (BATTERY_CAP, SCREEN, STRAP, PRESSURE_PORT),
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
    ItemType(
        ItemKind.MASK,
        "mask",
        ("mask", "spare mask"),
        (MASK_SKIRT, MASK_LENS, MASK_FRAME, PURGE_VALVE),
        main="mask_skirt",
    ),
    ItemType(ItemKind.FINS, "fins", ("fins", "fin"), (FIN_BODY, FIN_BUCKLES), main="fins"),
    ItemType(
        ItemKind.KNIFE,
        "knife or cutter",
        ("knife", "dive knife", "line cutter", "shears", "cutter"),
        (BLADE, SHEATH),
        main="blade",
    ),
    ItemType(
        ItemKind.REEL,
        "reel or spool",
        ("reel", "finger spool", "primary reel"),
        (SPOOL_BODY, BOLT_SNAP, REEL_AXLE),
        main="reel_body",
    ),
    ItemType(
        ItemKind.STROBE,
        "strobe",
        ("strobe", "underwater flash", "flash gun"),
        (STROBE_DOOR, BULKHEAD, ARM_BALLS),
        main="battery_door",
    ),
    ItemType(ItemKind.SNORKEL, "snorkel", ("snorkel",), (SNORKEL, PURGE_VALVE), main="snorkel_body"),
    ItemType(
        ItemKind.WEIGHTS,
        "weights",
        ("weight belt", "weights", "lead weights", "lead"),
        (WEIGHTS,),
        main="weights",
    ),
    ItemType(
        ItemKind.SLATE,
        "slate",
        ("slate", "wetnotes", "wet notes", "compass"),
        (SLATE, COMPASS),
        main="slate_body",
    ),
    ItemType(
        ItemKind.DRY_BOX,
        "dry box",
        ("dry box", "waterproof box", "tool box"),
        (BOX_RING, BOX_LATCHES),
        wet=False,
    ),
    ItemType(
        ItemKind.ANALYSER,
        "oxygen analyser",
        ("oxygen analyser", "oxygen analyzer", "analyser", "analyzer", "gas analyser"),
        (ANALYSER_CELL, FLOW_RING),
        wet=False,
    ),
    ItemType(
        ItemKind.MONOFIN,
        "monofin",
        ("monofin", "freediving fins", "long fins"),
        (MONOFIN_BLADE, FOOT_POCKET),
        main="monofin_blade",
    ),
    ItemType(ItemKind.LANYARD, "lanyard", ("lanyard", "safety lanyard"), (LANYARD,), main="lanyard_cord"),
    ItemType(ItemKind.NOSE_CLIP, "nose clip", ("nose clip", "noseclip"), (NOSE_CLIP,), main="nose_clip_body"),
)
