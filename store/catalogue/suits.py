"""Dry suits, wetsuits and what is worn with them."""

from store.catalogue.facts import ItemType, Part, renamed
from store.vocabulary import Elastomer, ItemKind, Load, Motion, OpenedBy, PartKind, ZipMaterial

DRY_ZIP = Part(
    "zip",
    "dry-suit zip",
    PartKind.ZIP,
    (
        "zip",
        "dry suit zip",
        "entry zip",
        "relief zip",
        "suit zip",
        "waterproof zip",
        "teeth",
        "zip teeth",
        "metal teeth",
        "plastic teeth",
        "slider",
        "zip slider",
    ),
    bonded=True,
    watertight=True,
    care=False,
)
DOCKING_END = Part(
    "zip_docking_end",
    "docking end of the plastic zip",
    PartKind.ZIP_DOCKING_END,
    (
        "docking end",
        "zip docking end",
        "zip end",
        "docking station",
        "docking",
        "zip dock",
        "dock end",
        "end of zip",
        "zip stop end",
    ),
    bonded=True,
    zip_material=ZipMaterial.PLASTIC,
    watertight=True,
    part_of="zip",
)
ZIP_TEETH = Part(
    "zip_teeth",
    "teeth of the plastic zip",
    PartKind.ZIP_TEETH,
    (
        "plastic teeth",
        "plastic zip teeth",
        "zip teeth",
        "teeth",
        "zip whole length",
        "whole length plastic zip",
        "along zip teeth",
        "entire zip",
        "along whole zip",
    ),
    bonded=True,
    zip_material=ZipMaterial.PLASTIC,
    watertight=True,
    part_of="zip",
)
OUTER_ELEMENTS = Part(
    "zip_outer_elements",
    "outer elements of the metal zip",
    PartKind.ZIP_OUTER_ELEMENTS,
    (
        "outer elements",
        "outer teeth",
        "outside teeth",
        "coarse teeth",
        "coarse elements",
        "outside of zip",
        "outside zip",
        "zip outside",
        "outer zip",
        "brass teeth",
        "bronze teeth",
        "outside elements",
        "outer zip elements",
        "coarse outer elements",
        "coarse zip elements",
        "zip elements",
    ),
    bonded=True,
    zip_material=ZipMaterial.METAL,
    watertight=True,
    part_of="zip",
)
INNER_TEETH = Part(
    "zip_inner_teeth",
    "inner teeth of the metal zip",
    PartKind.ZIP_INNER_TEETH,
    (
        "inner teeth",
        "inside teeth",
        "fine teeth",
        "sealing lips",
        "fine inner teeth",
        "inside of zip",
        "inside zip",
        "inner zip",
        "zip inside",
        "zip lips",
        "inner elements",
        "inner zip teeth",
        "fine zip teeth",
    ),
    bonded=True,
    zip_material=ZipMaterial.METAL,
    watertight=True,
    part_of="zip",
)
NECK_SEAL = Part(
    "neck_seal",
    "neck seal",
    PartKind.BODY_SEAL,
    ("neck seal", "dry suit neck seal", "neck cuff", "neck gasket"),
    bonded=True,
    part_of="seals",
    care=False,
)
WRIST_SEALS = renamed(
    NECK_SEAL,
    "wrist seals",
    "wrist seal",
    "cuff seal",
    "wrist cuff",
    "cuff",
    "wrist gasket",
    key="wrist_seals",
)
SEALS_ANY = renamed(
    NECK_SEAL,
    "neck and wrist seals",
    "seal",
    "suit seal",
    "dry suit seal",
    "body seal",
    "gasket",
    "latex seal",
    key="seals",
    part_of=None,
    care=True,
)
INFLATION_VALVE = Part(
    "inflation_valve",
    "suit inflation valve",
    PartKind.VALVE,
    (
        "inflation valve",
        "suit inflation valve",
        "dry suit inflator",
        "suit inflator",
        "inlet valve",
        "chest valve",
        "inflator valve",
    ),
    gas=True,
    bonded=True,
    opened_by=OpenedBy.TECHNICIAN,
)
EXHAUST_VALVE = Part(
    "exhaust_valve",
    "suit exhaust valve",
    PartKind.VALVE,
    (
        "suit exhaust valve",
        "dry suit exhaust valve",
        "exhaust valve",
        "suit dump valve",
        "shoulder valve",
        "dry suit dump valve",
        "shoulder dump",
        "cuff dump",
    ),
    bonded=True,
    opened_by=OpenedBy.TECHNICIAN,
)
SHELL_FABRIC = Part(
    "fabric",
    "suit fabric",
    PartKind.FABRIC,
    (
        "suit fabric",
        "trilaminate",
        "laminate",
        "suit shell",
        "dry suit shell",
        "crushed neoprene",
        "dry suit fabric",
    ),
    bonded=True,
)
BOOTS = Part("boots", "boots", PartKind.FABRIC, ("boot", "dry suit boot", "sock"), bonded=True)

RELIEF_ZIP = renamed(
    DRY_ZIP,
    "relief zip",
    "relief zip",
    "p zip",
    "fly zip",
    "convenience zip",
    "crotch zip",
    key="relief_zip",
    care=False,
)
PEE_VALVE = Part(
    "pee_valve",
    "pee valve",
    PartKind.VALVE,
    (
        "pee valve",
        "p valve",
        "p-valve",
        "balanced pee valve",
        "relief valve",
        "pee valve hose",
        "urine valve",
    ),
    bonded=True,
)
SUSPENDERS = Part(
    "suspenders",
    "suspenders and inner straps",
    PartKind.FABRIC,
    ("suspenders", "braces", "crotch strap suit", "inner strap"),
)
SUIT_POCKETS = Part(
    "pockets",
    "suit pockets and knee pads",
    PartKind.FABRIC,
    ("suit pocket", "drysuit pocket", "knee pad", "thigh pocket", "kneepad", "pocket zip"),
    bonded=True,
)
GLUED_AREAS = Part(
    "glued_areas",
    "glued seams, patches and seal joints",
    PartKind.FABRIC,
    (
        "glued seam",
        "patch",
        "repair patch",
        "glue line",
        "seam tape",
        "seal joint",
        "glue joint",
        "zip tape",
        "tape of zip",
        "zip cloth",
        "drysuit seam",
        "bonded seam",
        "glued edge",
    ),
    bonded=True,
)
WETSUIT_SEAMS = Part(
    "seams",
    "wetsuit seams and knees",
    PartKind.FABRIC,
    ("wetsuit seam", "wetsuit knee", "wetsuit glue", "wetsuit patch"),
    elastomer=Elastomer.CR,
    bonded=True,
)
EQUALISER = Part(
    "equaliser",
    "equaliser tube of the dry gloves",
    PartKind.BODY,
    ("equaliser tube", "equalizer tube", "glove tube", "glove string"),
)
BOOT_SKIN = Part(
    "boot_skin",
    "neoprene boots",
    PartKind.FABRIC,
    ("neoprene boot", "wetsuit boot", "bootie", "booties", "rock boot", "rockboot"),
    elastomer=Elastomer.CR,
)
GLOVE_SKIN = Part(
    "glove_skin",
    "neoprene gloves",
    PartKind.FABRIC,
    ("neoprene glove", "wet glove", "five finger glove", "mitt"),
    elastomer=Elastomer.CR,
)
UNDERSUIT_CLOTH = Part(
    "undersuit_cloth",
    "undersuit",
    PartKind.FABRIC,
    ("undersuit", "under suit", "thermal", "fleece", "base layer"),
)
VEST_BATTERY = Part(
    "vest_battery",
    "battery and wet connector of the heated vest",
    PartKind.CONTACT,
    ("heated vest battery", "heated vest connector", "vest plug", "heating connector", "heated vest plug"),
)
VEST_CLOTH = Part(
    "vest_cloth", "heated vest", PartKind.FABRIC, ("heated vest", "heated undersuit", "heating vest")
)

SUIT_SKIN = Part(
    "skin",
    "suit skin at ankles, wrists and shoulders",
    PartKind.SUIT_SKIN,
    (
        "wetsuit",
        "wetsuit skin",
        "open cell",
        "open cell suit",
        "smooth skin",
        "smooth skin suit",
        "freediving suit",
        "tight wetsuit",
        "get into wetsuit",
        "donning",
        "wetsuit ankle",
        "wetsuit wrist",
        "wetsuit shoulder",
        "neoprene suit",
        "neoprene",
        "semidry",
    ),
    elastomer=Elastomer.CR,
    bonded=True,
)
WETSUIT_ZIP = Part(
    "wetsuit_zip",
    "wetsuit zip",
    PartKind.ZIP,
    ("wetsuit zip", "neoprene zip", "back zip"),
    bonded=True,
    watertight=False,
)

ANKLE_ZIPS = renamed(
    WETSUIT_ZIP,
    "ankle and wrist zips of the wetsuit",
    "ankle zip",
    "wetsuit ankle zip",
    "wrist zip",
    "boot zip",
    "wetsuit wrist zip",
    key="ankle_zips",
)

GLOVE_RINGS = Part(
    "glove_rings",
    "dry-glove ring O-rings",
    PartKind.O_RING,
    ("glove ring", "dry glove ring", "glove o-ring", "dry glove o-ring", "glove lock", "glove system ring"),
    motion=Motion.DYNAMIC,
    load=Load.WATER,
    elastomer=Elastomer.NBR,
    bonded=True,
)
GLOVES = Part("gloves", "dry gloves", PartKind.FABRIC, ("glove", "dry glove", "drygloves"))
LATEX_GLOVES = Part(
    "latex_gloves",
    "latex dry gloves",
    PartKind.BODY_SEAL,
    ("latex glove", "latex dry glove"),
    elastomer=Elastomer.NR,
    care=False,
)

SUITS = (
    ItemType(
        ItemKind.DRY_SUIT,
        "dry suit",
        ("dry suit", "drysuit", "suit", "membrane suit", "trilam", "trilam suit", "trilaminate suit"),
        (
            DRY_ZIP,
            DOCKING_END,
            ZIP_TEETH,
            OUTER_ELEMENTS,
            INNER_TEETH,
            SEALS_ANY,
            NECK_SEAL,
            WRIST_SEALS,
            INFLATION_VALVE,
            EXHAUST_VALVE,
            SHELL_FABRIC,
            BOOTS,
            RELIEF_ZIP,
            PEE_VALVE,
            SUSPENDERS,
            SUIT_POCKETS,
            GLUED_AREAS,
        ),
        asks=("zip_material", "seal_material"),
    ),
    ItemType(
        ItemKind.WETSUIT,
        "wetsuit",
        (
            "wetsuit",
            "wet suit",
            "semidry",
            "semi dry",
            "shorty",
            "steamer",
            "freediving suit",
            "open cell suit",
            "smooth skin suit",
            "neoprene suit",
        ),
        (SUIT_SKIN, WETSUIT_ZIP, ANKLE_ZIPS, WETSUIT_SEAMS),
        main="skin",
    ),
    ItemType(
        ItemKind.DRY_GLOVES,
        "dry gloves",
        ("dry gloves", "dry glove", "glove rings"),
        (GLOVE_RINGS, GLOVES, LATEX_GLOVES, EQUALISER),
    ),
    ItemType(
        ItemKind.HOOD,
        "hood",
        ("hood", "neoprene hood"),
        (
            Part(
                "hood_skin",
                "hood",
                PartKind.SUIT_SKIN,
                ("hood", "hood face seal", "smooth skin hood"),
                elastomer=Elastomer.CR,
            ),
        ),
        main="hood_skin",
    ),
    ItemType(
        ItemKind.BOOTS,
        "boots",
        ("neoprene boots", "wetsuit boots", "booties", "rock boots"),
        (BOOT_SKIN,),
        main="boot_skin",
    ),
    ItemType(
        ItemKind.GLOVES,
        "gloves",
        ("neoprene gloves", "wet gloves", "mitts", "gloves"),
        (GLOVE_SKIN,),
        main="glove_skin",
    ),
    ItemType(
        ItemKind.UNDERSUIT,
        "undersuit",
        ("undersuit", "under suit", "thermals", "base layer"),
        (UNDERSUIT_CLOTH,),
        main="undersuit_cloth",
        wet=False,
    ),
    ItemType(
        ItemKind.HEATED_VEST,
        "heated vest",
        ("heated vest", "heated undersuit", "heating vest"),
        (VEST_BATTERY, VEST_CLOTH),
        wet=False,
    ),
)
