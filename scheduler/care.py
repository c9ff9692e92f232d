"""Which acts of care each part and item wants, how often, by whom, and who says so. Typed rows, judged by facts.

Intervals without a published source are `common practice, no source`; the maker's manual goes before all of them.
"""

from functools import lru_cache

from scheduler.care_rule import By, CareRule, Every, Status
from scheduler.law import CYLINDERS, cylinder_tests
from store.catalogue.facts import ItemFacts, ItemType, Part, PartFacts
from store.catalogue.when import When, kinds
from store.vocabulary import (
    Condition,
    CylinderTest,
    Elastomer,
    Happening,
    ItemKind,
    Load,
    Motion,
    OpenedBy,
    Region,
    Task,
    ZipMaterial,
)
from store.vocabulary import PartKind as K

_GRIT = frozenset({Condition.SAND, Condition.SILT, Condition.SURF})
_DIRT = frozenset({Condition.POLLUTED, Condition.OIL})
_I = ItemKind
_RINSED = frozenset(set(_I) - {_I.BAG})
_WORN = frozenset({_I.DRY_SUIT, _I.WETSUIT, _I.DRY_GLOVES, _I.HOOD, _I.BUOYANCY_DEVICE})
_BREATHED = frozenset({_I.REGULATOR, _I.REBREATHER})
_ELECTRIC = frozenset(
    {
        _I.CANISTER_LIGHT,
        _I.HAND_LIGHT,
        _I.VIDEO_LIGHT,
        _I.STROBE,
        _I.SCOOTER,
        _I.CAMERA_HOUSING,
        _I.DIVE_COMPUTER,
        _I.TRANSMITTER,
        _I.HEATED_VEST,
        _I.DRY_BOX,
    }
)
_OPENED = frozenset({Happening.FLOODED, Happening.LEAKING, Happening.DAMAGED, Happening.OVERHEATED})
"""After one of these it is opened by whoever services it, whatever the calendar says."""

NOAA = "NOAA Diving Program, Equipment Regulations"

CARE: tuple[CareRule, ...] = (
    CareRule(
        "rinse",
        Task.RINSE,
        Every(each_dive=True),
        on_item=_RINSED,
        why="salt, sand and chlorine go on working as they dry",
    ),
    CareRule("dry_worn", Task.DRY, Every(each_dive=True), on_item=_WORN, why="mould and rot start wet"),
    CareRule(
        "wash_dirty",
        Task.CLEAN,
        Every(after=_DIRT),
        on_item=_RINSED,
        critical=True,
        source="US Navy Supervisor of Salvage, June 2011 (potable water first and last); EPA caption, May 2012 (soap where oil stays)",
        status=Status.SEEN,
        why="dirty water harms the next person and the rubber",
        label="Wash with soap",
    ),
    CareRule(
        "oil_on_gas_kit",
        Task.INSPECT,
        Every(after=frozenset({Condition.OIL})),
        on_item=_BREATHED | CYLINDERS,
        by=By.TECHNICIAN,
        only_by_technician=True,
        critical=True,
        why="oil on kit that sees rich gas is an oxygen matter, not only a wash: no oxygen in it until a technician has cleaned and inspected it",
        label="Oxygen-clean and inspect",
    ),
    CareRule(
        "disinfect_loop",
        Task.DISINFECT,
        Every(each_dive=True),
        on_item=frozenset({_I.REBREATHER}),
        critical=True,
        why="a warm wet loop grows what you then breathe",
        label="Disinfect the loop",
    ),
    CareRule(
        "disinfect_breathed",
        Task.DISINFECT,
        Every(after=frozenset({Condition.POLLUTED})),
        on_item=frozenset({_I.REGULATOR, _I.BUOYANCY_DEVICE, _I.MASK}),
        critical=True,
        why="you breathe from it",
    ),
    CareRule(
        "powder_latex",
        Task.POWDER,
        Every(each_dive=True),
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.NR})),
        why="talc keeps skin oil off the latex and eases the next entry",
    ),
    CareRule(
        "inspect_seals",
        Task.INSPECT,
        Every(dives=25, months=6),
        When(kinds=kinds(K.BODY_SEAL)),
        why="a cracked or sticky seal tears on the next entry",
    ),
    CareRule(
        "brush_plastic_zip",
        Task.CLEAN,
        Every(dives=10, after=_GRIT),
        When(kinds=kinds(K.ZIP_TEETH), zip_material=ZipMaterial.PLASTIC),
        why="grit in the teeth wears the zip; soapy water and an old toothbrush take it out",
        label="Brush",
    ),
    CareRule(
        "stick_on_docking_end",
        Task.LUBRICATE,
        Every(dives=10),
        When(kinds=kinds(K.ZIP_DOCKING_END), zip_material=ZipMaterial.PLASTIC),
        why="the slider seals against the docking end",
    ),
    CareRule(
        "brush_metal_zip",
        Task.CLEAN,
        Every(dives=10, after=_GRIT),
        When(kinds=kinds(K.ZIP_OUTER_ELEMENTS), zip_material=ZipMaterial.METAL),
        why="never lubricant upon lubricant: brush first",
        label="Brush",
    ),
    CareRule(
        "wax_outer_elements",
        Task.LUBRICATE,
        Every(dives=10),
        When(kinds=kinds(K.ZIP_OUTER_ELEMENTS), zip_material=ZipMaterial.METAL),
        why="the coarse elements take a wax",
    ),
    CareRule(
        "fine_film_inner_teeth",
        Task.LUBRICATE,
        Every(dives=10),
        When(kinds=kinds(K.ZIP_INNER_TEETH), zip_material=ZipMaterial.METAL),
        why="the fine teeth press the sealing lips together",
    ),
    CareRule(
        "brush_plain_zip",
        Task.CLEAN,
        Every(dives=25, after=_GRIT),
        When(kinds=kinds(K.ZIP), watertight=False, bonded=True),
        why="salt and sand stiffen it",
        label="Brush",
    ),
    CareRule(
        "spray_bag_zip",
        Task.LUBRICATE,
        Every(months=6),
        When(kinds=kinds(K.ZIP), watertight=False, bonded=False),
        why="it stiffens with salt",
    ),
    CareRule(
        "film_loop_rings",
        Task.LUBRICATE,
        Every(dives=10, months=3),
        When(kinds=kinds(K.O_RING), motion=Motion.DYNAMIC, gas=True, loop=True),
        critical=True,
        why="they move at every assembly and keep water out of the loop",
    ),
    CareRule(
        "film_gas_rings",
        Task.LUBRICATE,
        Every(dives=100, months=12),
        When(kinds=kinds(K.O_RING), motion=Motion.DYNAMIC, gas=True, loop=False, opened_by=OpenedBy.DIVER),
        why="a dry moving ring twists and leaks",
    ),
    CareRule(
        "film_water_rings",
        Task.LUBRICATE,
        Every(dives=20, months=6),
        When(kinds=kinds(K.O_RING), motion=Motion.DYNAMIC, gas=False),
        why="a dry moving ring twists and floods",
    ),
    CareRule(
        "look_at_static_gas_rings",
        Task.INSPECT,
        Every(dives=25, months=6),
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC, gas=True, upstream=False),
        why="nicks, flats and grit leak; it stays dry",
        label="Look at, keep dry",
    ),
    CareRule(
        "look_at_static_water_rings",
        Task.INSPECT,
        Every(dives=20, months=6),
        When(kinds=kinds(K.O_RING), motion=Motion.STATIC, loads=frozenset({Load.WATER})),
        why="one hair floods it; it stays dry",
        label="Look at, keep dry",
    ),
    CareRule(
        "contacts",
        Task.CLEAN,
        Every(months=6),
        When(kinds=kinds(K.CONTACT)),
        why="green contacts fail under water",
    ),
    CareRule(
        "regulator_service",
        Task.SERVICE,
        Every(dives=100, months=12, happened=_OPENED),
        on_item=frozenset({_I.REGULATOR}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source=f"{NOAA} (12 months); 100 dives: common practice, no source",
        status=Status.SEEN,
        why="seats and seals wear out of sight",
        label="Service",
    ),
    CareRule(
        "valve_check",
        Task.SERVICE,
        Every(months=12, happened=frozenset({Happening.LEAKING, Happening.FLOODED})),
        test=CylinderTest.VALVE,
        on_item=CYLINDERS,
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source="AAUS Standards 3.23.4; 8 CCR 6057(b)(2)(D): functional test of the cylinder valve every 12 months",
        status=Status.SEEN,
        why="a valve that will not close cannot be shut under water",
        label="Valve service",
    ),
    CareRule(
        "inflator_check",
        Task.SERVICE,
        Every(months=12, happened=frozenset({Happening.LEAKING, Happening.DAMAGED})),
        on_item=frozenset({_I.BUOYANCY_DEVICE}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source="NOAA Diving Program, Maintenance, Repair and Accountability (12 months)",
        status=Status.SEEN,
        why="an inflator that sticks open is an ascent",
        label="Inflator service",
    ),
    CareRule(
        "gauge_check",
        Task.TEST,
        Every(months=12, happened=_OPENED),
        on_item=frozenset({_I.PRESSURE_GAUGE}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source=f"{NOAA} (12 months, +/- 10 % of scale)",
        status=Status.SEEN,
        why="a gauge that reads high runs you out of gas",
        label="Gauge check",
    ),
    CareRule(
        "depth_check",
        Task.TEST,
        Every(months=6, happened=frozenset({Happening.DAMAGED})),
        on_item=frozenset({_I.DIVE_COMPUTER}),
        source=f"{NOAA} (depth gauge, also inside a dive computer: every 6 months against a master)",
        status=Status.SEEN,
        why="a depth that reads shallow plans the wrong dive",
        label="Depth check against another gauge",
    ),
    CareRule(
        "suit_valves",
        Task.SERVICE,
        Every(months=12, happened=frozenset({Happening.LEAKING})),
        on_item=frozenset({_I.DRY_SUIT}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        why="an inflation valve that sticks open is an ascent",
        label="Valve service",
    ),
    CareRule(
        "calibrate_cells",
        Task.CALIBRATE,
        Every(each_dive=True),
        When(kinds=kinds(K.SENSOR), gas=True),
        critical=True,
        before_next=True,
        why="the cells tell you what you breathe; before the next dive, as the maker says",
        label="Calibrate before the next dive",
    ),
    CareRule(
        "replace_cells",
        Task.REPLACE,
        Every(months=12, age_months=18),
        When(kinds=kinds(K.SENSOR), gas=True),
        lead_days=28,
        critical=True,
        why="cells age in the bag; 18 months from the date printed on them is the outside limit",
    ),
    CareRule(
        "replace_latex",
        Task.REPLACE,
        Every(first_use_months=24, age_months=60),
        When(kinds=kinds(K.BODY_SEAL), elastomers=frozenset({Elastomer.NR})),
        lead_days=28,
        why="latex tires with use and with age: better in the workshop than on the boat",
        label="Plan new latex",
    ),
    CareRule(
        "flooded_electrics",
        Task.INSPECT,
        Every(happened=frozenset({Happening.FLOODED})),
        on_item=_ELECTRIC,
        by=By.TECHNICIAN,
        critical=True,
        why="water in a battery compartment can make gas, pressure and fire: power off, battery out if the maker allows, rinse fresh, dry, and no charging before it was looked at",
        label="Flooded: open, rinse, dry, have it looked at",
    ),
    CareRule(
        "damaged_electrics",
        Task.INSPECT,
        Every(
            happened=frozenset(
                {Happening.DAMAGED, Happening.OVERHEATED, Happening.LEAKING, Happening.CORRODED}
            )
        ),
        on_item=_ELECTRIC,
        by=By.TECHNICIAN,
        critical=True,
        why="a swollen, hot or leaking battery can burn: away from people and cabins, no charging, no switching on, no diving until it was looked at",
        label="Keep it off and apart, have it looked at",
    ),
    CareRule(
        "flooded_suit",
        Task.CLEAN,
        Every(happened=frozenset({Happening.FLOODED})),
        on_item=frozenset({_I.DRY_SUIT, _I.UNDERSUIT, _I.DRY_GLOVES}),
        why="salt and sweat inside: rinse the inside too, dry both sides, and find where it came in",
        label="Wash inside, find the leak",
    ),
    CareRule(
        "mishap_on_life_support",
        Task.INSPECT,
        Every(happened=frozenset({Happening.DAMAGED, Happening.LEAKING, Happening.OVERHEATED})),
        on_item=frozenset({_I.REBREATHER, _I.SUIT_INFLATION, _I.DRY_SUIT, _I.HARNESS}),
        critical=True,
        why="what holds you up or feeds you is looked over, and tested dry, before it is dived again",
        label="Look over and test before diving",
    ),
    CareRule(
        "flooded_loop",
        Task.SERVICE,
        Every(happened=frozenset({Happening.FLOODED})),
        on_item=frozenset({_I.REBREATHER}),
        by=By.TECHNICIAN,
        critical=True,
        why="water and sorbent make a caustic; cells and electronics met it too",
        label="Flooded loop: clean out, cells and sorbent by the maker's manual",
    ),
    CareRule(
        "sorbent",
        Task.REPLACE,
        Every(each_dive=True),
        When(kinds=kinds(K.SORBENT)),
        critical=True,
        before_next=True,
        why="no calendar tells when it is spent: hours by the maker, less in cold and hard work",
        label="Check the hours, replace",
    ),
    CareRule(
        "rebreather_service",
        Task.SERVICE,
        Every(months=12),
        on_item=frozenset({_I.REBREATHER}),
        by=By.TECHNICIAN,
        lead_days=42,
        critical=True,
        why="solenoid, valves and electronics are a technician's",
        label="Service",
    ),
)


OXYGEN_CLEAN = CareRule(
    "oxygen_clean",
    Task.SERVICE,
    Every(),
    by=By.TECHNICIAN,
    only_by_technician=True,
    lead_days=0,
    critical=True,
    source="NOAA Diving Manual 15.11.4 (second-hand); AAUS 1992: oxygen-compatible lubricant only",
    why="a hydrocarbon or silicone on it can burn in rich gas; only a recorded cleaning by a technician clears it",
    label="Out of oxygen service: clean and inspect",
)
"""Not asked for by the calendar: it begins with what was put on the part."""


def care_of_item(kind: ItemType, facts: ItemFacts, region: Region | None) -> tuple[CareRule, ...]:
    """Return the rows for the item as a whole. `region`: where it is tested, None if nobody has said."""
    rows = tuple(row for row in CARE if kind.kind in row.on_item)
    return rows + cylinder_tests(region, facts) if kind.tested else rows


@lru_cache(maxsize=4096)
def care_of_part(facts: PartFacts) -> tuple[CareRule, ...]:
    """Return the rows for a part of these facts; a row that hinges on an unknown fact does not apply."""
    return tuple(row for row in CARE if not row.on_item and row.when.holds(facts))


_NO_ITEM = ItemFacts()
_EDDY = cylinder_tests(Region.US, ItemFacts(alloy_6351=True))[2:]


def rule_by_id(rule_id: str, region: Region | None = None, facts: ItemFacts = _NO_ITEM) -> CareRule:
    """Return the row with that id, as it is for an item of those facts; KeyError if no table has it."""
    by_law = (*cylinder_tests(region, facts), *_EDDY)
    return next((row for row in by_law if row.id == rule_id), None) or _BY_ID[rule_id]


_BY_ID = {row.id: row for row in (*CARE, OXYGEN_CLEAN)}
_PLACE = {row.id: n for n, row in enumerate(CARE)}


def order(rule: CareRule) -> int:
    """Return a rule's place in the order in which care is best done: rinse, dry, clean, powder, lubricate; tests last."""
    return _PLACE.get(rule.id, len(_PLACE))


def interval_of(part: Part, facts: PartFacts, task: Task) -> CareRule | None:
    """Return the row that says how often `task` is done on the part, or None."""
    return next((row for row in care_of_part(facts) if row.task is task and part.care), None)
