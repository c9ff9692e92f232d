"""The words of the trade, as closed sets.

Every other module speaks in these terms. Values are what is stored and what `--json` prints, so a value never
changes once it has been released; labels for people stand in `bot`.
"""

from enum import StrEnum


class ItemKind(StrEnum):
    """A kind of thing a diver owns and looks after as a whole."""

    CYLINDER = "cylinder"
    TWINSET = "twinset"
    STAGE = "stage"
    REGULATOR = "regulator"
    BUOYANCY_DEVICE = "buoyancy_device"
    DRY_SUIT = "dry_suit"
    WETSUIT = "wetsuit"
    CANISTER_LIGHT = "canister_light"
    HAND_LIGHT = "hand_light"
    SCOOTER = "scooter"
    REBREATHER = "rebreather"
    CAMERA_HOUSING = "camera_housing"
    DIVE_COMPUTER = "dive_computer"
    PRESSURE_GAUGE = "pressure_gauge"
    BAG = "bag"
    MASK = "mask"
    FINS = "fins"
    KNIFE = "knife"
    REEL = "reel"
    DRY_GLOVES = "dry_gloves"
    HOOD = "hood"
    MARKER_BUOY = "marker_buoy"
    SNORKEL = "snorkel"
    WEIGHTS = "weights"
    UNDERSUIT = "undersuit"
    HEATED_VEST = "heated_vest"
    BOOTS = "boots"
    GLOVES = "gloves"
    HARNESS = "harness"
    SUIT_INFLATION = "suit_inflation"
    TRANSMITTER = "transmitter"
    ANALYSER = "analyser"
    VIDEO_LIGHT = "video_light"
    STROBE = "strobe"
    DRY_BOX = "dry_box"
    SLATE = "slate"
    MONOFIN = "monofin"
    LANYARD = "lanyard"
    NOSE_CLIP = "nose_clip"


class PartKind(StrEnum):
    """What a part is physically; rules speak of this, never of one named part."""

    O_RING = "o_ring"
    MOVING_SEALS = "moving_seals"
    ZIP = "zip"
    ZIP_DOCKING_END = "zip_docking_end"
    ZIP_TEETH = "zip_teeth"
    ZIP_OUTER_ELEMENTS = "zip_outer_elements"
    ZIP_INNER_TEETH = "zip_inner_teeth"
    BODY_SEAL = "body_seal"
    SUIT_SKIN = "suit_skin"
    FABRIC = "fabric"
    BLADDER = "bladder"
    VALVE = "valve"
    HOSE = "hose"
    SHELL = "shell"
    SENSOR = "sensor"
    SORBENT = "sorbent"
    BATTERY = "battery"
    CONTACT = "contact"
    LENS = "lens"
    SKIRT = "skirt"
    METAL = "metal"
    LINE = "line"
    BODY = "body"


class Motion(StrEnum):
    """What a seal does in use: `static` once closed nothing slides on it, `dynamic` it turns or slides."""

    STATIC = "static"
    DYNAMIC = "dynamic"


class Load(StrEnum):
    """Which pressure a seal holds."""

    CYLINDER = "cylinder"
    INTERMEDIATE = "intermediate"
    AMBIENT = "ambient"
    WATER = "water"


class Elastomer(StrEnum):
    """Rubbers by ISO 1629 symbol."""

    NBR = "NBR"
    HNBR = "HNBR"
    FKM = "FKM"
    EPDM = "EPDM"
    VMQ = "VMQ"
    FVMQ = "FVMQ"
    CR = "CR"
    NR = "NR"
    PU = "PU"
    IIR = "IIR"


class ZipMaterial(StrEnum):
    PLASTIC = "plastic"
    METAL = "metal"


class SealMaterial(StrEnum):
    """What neck and wrist seals are made of, in the diver's words."""

    LATEX = "latex"
    SILICONE = "silicone"
    NEOPRENE = "neoprene"


class CylinderMaterial(StrEnum):
    STEEL = "steel"
    ALUMINIUM = "aluminium"
    COMPOSITE = "composite"


class OpenedBy(StrEnum):
    """Who may take the part apart."""

    DIVER = "diver"
    TECHNICIAN = "technician"


class Water(StrEnum):
    SALT = "salt"
    FRESH = "fresh"
    BRACKISH = "brackish"
    POOL = "pool"


class Condition(StrEnum):
    """What a dive did to the kit besides wetting it."""

    SAND = "sand"
    SILT = "silt"
    ICE = "ice"
    POLLUTED = "polluted"
    CHLORINE = "chlorine"
    OIL = "oil"
    SURF = "surf"


class Task(StrEnum):
    """An act of care."""

    CLEAN = "clean"
    LUBRICATE = "lubricate"
    POWDER = "powder"
    INSPECT = "inspect"
    SERVICE = "service"
    TEST = "test"
    REPLACE = "replace"
    RINSE = "rinse"
    DRY = "dry"
    DISINFECT = "disinfect"
    CALIBRATE = "calibrate"


class CylinderTest(StrEnum):
    """A test or inspection of a diving cylinder that its region dates by the month."""

    HYDROSTATIC = "hydrostatic"
    VISUAL = "visual"
    VALVE = "valve"
    EDDY_CURRENT = "eddy_current"


class Happening(StrEnum):
    """What befell an item, on a dive or ashore, that asks for a look whatever the calendar says."""

    FLOODED = "flooded"
    DRAINED = "drained"
    OVERHEATED = "overheated"
    DAMAGED = "damaged"
    CORRODED = "corroded"
    LEAKING = "leaking"


class Substance(StrEnum):
    """What can be put on a part. The values are contract: `--json` prints them."""

    PFPE_GREASE = "pfpe_grease"
    PFPE_OIL = "pfpe_oil"
    SILICONE_GREASE = "silicone_grease"
    SILICONE_SPRAY = "silicone_spray"
    PETROLEUM_JELLY = "petroleum_jelly"
    ZIP_STICK = "zip_stick"
    ZIP_LIQUID = "zip_liquid"
    BEESWAX = "beeswax"
    PARAFFIN_WAX = "paraffin_wax"
    TALC = "talc"
    SUIT_LUBRICANT = "suit_lubricant"
    SOAPY_WATER = "soapy_water"
    BABY_OIL = "baby_oil"
    MINERAL_OIL = "mineral_oil"
    PENETRATING_OIL = "penetrating_oil"
    COOKING_OIL = "cooking_oil"
    SUNSCREEN = "sunscreen"
    FRESH_WATER = "fresh_water"
    WHITE_VINEGAR = "white_vinegar"
    DISINFECTANT = "disinfectant"
    LITHIUM_GREASE = "lithium_grease"
    GRAPHITE = "graphite"
    SOLVENT = "solvent"
    TOOTHPASTE = "toothpaste"
    HAND_CREAM = "hand_cream"


class Units(StrEnum):
    METRIC = "metric"
    IMPERIAL = "imperial"


class Region(StrEnum):
    """Whose law sets the test dates of a cylinder."""

    US = "US"
    CANADA = "CA"
    UK = "GB"
    EU = "EU"
    GERMANY = "DE"
    SWITZERLAND = "CH"
    AUSTRALIA = "AU"
    NEW_ZEALAND = "NZ"
    SOUTH_AFRICA = "ZA"
