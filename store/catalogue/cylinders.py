"""Cylinders, single, twinned and slung, with their valves."""

from store.catalogue.facts import ItemType, Part
from store.vocabulary import Elastomer, ItemKind, Load, Motion, OpenedBy, PartKind

NECK_RING = Part(
    "neck_ring",
    "cylinder neck O-ring",
    PartKind.O_RING,
    (
        "neck o-ring",
        "neck ring",
        "cylinder neck seal",
        "cylinder neck",
        "o-ring between valve and cylinder",
        "o-ring where valve screws into cylinder",
        "o-ring under valve",
        "valve to cylinder o-ring",
        "valve cylinder thread o-ring",
        "neck thread o-ring",
    ),
    motion=Motion.STATIC,
    load=Load.CYLINDER,
    gas=True,
    upstream=True,
    elastomer=Elastomer.NBR,
)
OUTLET_RING = Part(
    "outlet_ring",
    "valve outlet O-ring (DIN or yoke)",
    PartKind.O_RING,
    (
        "valve outlet o-ring",
        "outlet o-ring",
        "yoke o-ring",
        "valve face o-ring",
        "valve face seal",
        "insert o-ring",
        "o-ring regulator clamps on",
        "o-ring first stage clamps on",
        "o-ring first stage clamped",
        "o-ring regulator clamped",
        "yoke insert o-ring",
        "insert din valve o-ring",
        "screw-in insert",
        "insert",
        "cylinder valve o-ring",
    ),
    motion=Motion.STATIC,
    load=Load.CYLINDER,
    gas=True,
    elastomer=Elastomer.NBR,
)
VALVE_INSIDE = Part(
    "valve_inside",
    "moving seals inside the cylinder valve",
    PartKind.MOVING_SEALS,
    (
        "valve stem",
        "valve stem o-ring",
        "valve spindle",
        "valve spindle o-ring",
        "valve knob",
        "valve knob o-ring",
        "valve handwheel",
        "inside cylinder valve",
        "cylinder valve",
        "oxygen valve",
        "cylinder valve internals",
        "cylinder valve seals",
        "cylinder valve o-ring",
        "valve internals",
        "inside valve",
        "stiff valve",
        "valve seat",
    ),
    motion=Motion.DYNAMIC,
    load=Load.CYLINDER,
    gas=True,
    elastomer=Elastomer.NBR,
    opened_by=OpenedBy.TECHNICIAN,
)
NECK_THREAD = Part(
    "neck_thread",
    "neck thread of valve and cylinder",
    PartKind.METAL,
    ("neck thread", "valve thread", "cylinder thread", "outlet thread"),
    gas=True,
    upstream=True,
    opened_by=OpenedBy.TECHNICIAN,
)
SHELL = Part(
    "shell",
    "cylinder shell",
    PartKind.SHELL,
    (
        "cylinder shell",
        "cylinder wall",
        "outside of cylinder",
        "inside of cylinder",
        "cylinder paint",
    ),
    gas=True,
    opened_by=OpenedBy.TECHNICIAN,
)
BARREL_RINGS = Part(
    "barrel_rings",
    "isolation manifold barrel O-rings",
    PartKind.O_RING,
    (
        "manifold",
        "isolation manifold",
        "manifold o-ring",
        "manifold barrel",
        "manifold barrel o-ring",
        "barrel o-ring",
        "barrel ring",
        "crossbar o-ring",
        "cross bar",
        "manifold bar",
        "manifold crossbar",
        "isolator bar o-ring",
        "isolator o-ring",
        "isolation bar",
        "centre bar o-ring",
    ),
    motion=Motion.DYNAMIC,
    load=Load.CYLINDER,
    gas=True,
    elastomer=Elastomer.NBR,
)
ISOLATOR_INSIDE = Part(
    "isolator_inside",
    "moving seals inside the isolator valve",
    PartKind.MOVING_SEALS,
    (
        "isolator valve",
        "isolator knob",
        "isolator stem",
        "isolation valve",
        "manifold knob",
        "isolator valve internals",
        "inside isolator",
    ),
    motion=Motion.DYNAMIC,
    load=Load.CYLINDER,
    gas=True,
    elastomer=Elastomer.NBR,
    opened_by=OpenedBy.TECHNICIAN,
)

VALVE_KNOB = Part(
    "valve_knob",
    "valve knob, from outside",
    PartKind.BODY,
    ("outside of valve knob", "valve knob outside", "sand in valve knob", "valve knob rubber", "knob cover"),
)
BURST_DISC = Part(
    "burst_disc",
    "burst disc of the valve",
    PartKind.METAL,
    ("burst disc", "burst disk", "safety disc", "pressure relief disc"),
    gas=True,
    upstream=True,
    opened_by=OpenedBy.TECHNICIAN,
)
BOOT = Part(
    "boot",
    "cylinder boot and net",
    PartKind.BODY,
    ("cylinder boot", "cylinder net", "cylinder mesh", "cylinder handle"),
)
BANDS = Part(
    "bands",
    "cylinder bands and bolts",
    PartKind.METAL,
    ("cylinder band", "twin band", "band bolt", "twinset band", "twinset bolt", "band", "cylinder band bolt"),
)
RIGGING = Part(
    "rigging",
    "stage rigging, clips and bungee",
    PartKind.FABRIC,
    ("stage rigging", "rigging", "stage strap", "stage bungee", "stage clip", "regulator retainer"),
)
OUTLET_CAP = Part(
    "outlet_cap",
    "valve outlet cap",
    PartKind.BODY,
    ("outlet cap", "valve cap", "valve cover", "valve plug", "valve dust cap"),
    gas=True,
)

SINGLE = (NECK_RING, OUTLET_RING, VALVE_INSIDE, NECK_THREAD, SHELL, VALVE_KNOB, BURST_DISC, BOOT, OUTLET_CAP)

CYLINDERS = (
    ItemType(
        ItemKind.CYLINDER,
        "cylinder",
        (
            "cylinder",
            "single cylinder",
            "pony",
            "pony cylinder",
            "steel cylinder",
            "aluminium cylinder",
            "argon cylinder",
        ),
        SINGLE,
        asks=("o2_fraction",),
        tested=True,
    ),
    ItemType(
        ItemKind.TWINSET,
        "twinset",
        (
            "twinset",
            "twin set",
            "doubles",
            "twins",
            "twin cylinders",
            "manifolded twins",
            "backgas cylinders",
        ),
        (*SINGLE, BARREL_RINGS, ISOLATOR_INSIDE, BANDS),
        asks=("o2_fraction",),
        tested=True,
    ),
    ItemType(
        ItemKind.STAGE,
        "stage cylinder",
        (
            "stage",
            "stage cylinder",
            "deco cylinder",
            "deco stage",
            "decompression cylinder",
            "bailout",
            "bailout cylinder",
            "sling cylinder",
            "nitrox cylinder",
            "oxygen cylinder",
            "o2 cylinder",
            "deco",
        ),
        (*SINGLE, RIGGING),
        asks=("o2_fraction",),
        tested=True,
    ),
)
