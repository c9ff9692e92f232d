"""Which acts of care each part and item wants, how often, by whom, and who says so. Typed rows, judged by facts.

Intervals without a published source are `common practice, no source`; the maker's manual goes before all of them.
"""

from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from store.catalogue.facts import ItemType, Part, PartFacts
from store.catalogue.when import When, kinds
from store.vocabulary import Condition, Elastomer, ItemKind, Load, Motion, OpenedBy, Region, Task, ZipMaterial
from store.vocabulary import PartKind as K

PRACTICE = "common practice, no source"


class By(StrEnum):
    DIVER = "diver"
    TECHNICIAN = "technician"
    TEST_STATION = "test station"


@dataclass(frozen=True, slots=True)
class Every:
    """Whichever comes first. None: not counted so. `each_dive`: due on every day it was dived.

    `after` names conditions: a dive with one of them makes the task due that day.
    """

    dives: int | None = None
    days: int | None = None
    months: int | None = None
    each_dive: bool = False
    after: frozenset[Condition] = frozenset()

    def in_words(self) -> str:
        """Say the interval as a diver would."""
        parts = []
        if self.each_dive:
            parts.append("after each dive day")
        if self.dives:
            parts.append(f"about every {self.dives} dives")
        if self.months:
            parts.append("once a year" if self.months == 12 else f"every {self.months} months")
        if self.days:
            parts.append(f"every {self.days} days")
        if self.after:
            parts.append("after " + " or ".join(_CONDITION_WORDS[c] for c in sorted(self.after)))
        joined = " or ".join(parts)
        return joined + (", whichever comes first" if len(parts) > 1 and (self.dives or self.months) else "")


ANYTHING = When()
_CONDITION_WORDS = {
    Condition.SAND: "sand",
    Condition.SILT: "silt",
    Condition.ICE: "ice",
    Condition.POLLUTED: "polluted water",
    Condition.CHLORINE: "chlorine",
    Condition.OIL: "oil on the water",
    Condition.SURF: "surf",
}


@dataclass(frozen=True, slots=True)
class CareRule:
    """One act of care. `on_item` rows concern the whole item, the others each part whose facts fit.

    `lead_days`: how long before the due date a warning is useful (a technician needs weeks).
    `critical`: neglect can hurt someone; it goes first in a message and is repeated weekly when overdue.
    """

    id: str
    task: Task
    every: Every
    when: When = ANYTHING
    on_item: frozenset[ItemKind] = frozenset()
    by: By = By.DIVER
    lead_days: int = 0
    critical: bool = False
    by_law: bool = False
    """Counted in whole months from the last known test; without one there is no date to give."""
    source: str = PRACTICE
    why: str = ""
    label: str = ""
    """What people call the act, where the bare task would not tell it from another."""


_GRIT = frozenset({Condition.SAND, Condition.SILT, Condition.SURF})
_DIRT = frozenset({Condition.POLLUTED, Condition.OIL})
_I = ItemKind
_CYLINDERS = frozenset({_I.CYLINDER, _I.TWINSET, _I.STAGE})
_RINSED = frozenset(set(_I) - {_I.BAG})
_WORN = frozenset({_I.DRY_SUIT, _I.WETSUIT, _I.DRY_GLOVES, _I.HOOD, _I.BUOYANCY_DEVICE})
_BREATHED = frozenset({_I.REGULATOR, _I.REBREATHER})

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
        why="dirty water harms the next person and the rubber",
        label="Wash with soap",
    ),
    CareRule(
        "oil_on_gas_kit",
        Task.INSPECT,
        Every(after=frozenset({Condition.OIL})),
        on_item=_BREATHED | _CYLINDERS,
        by=By.TECHNICIAN,
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
        Every(dives=100, months=12),
        on_item=frozenset({_I.REGULATOR}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source=f"{NOAA} (12 months); 100 dives: common practice, no source",
        why="seats and seals wear out of sight",
        label="Service",
    ),
    CareRule(
        "valve_check",
        Task.SERVICE,
        Every(months=12),
        on_item=_CYLINDERS,
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source="AAUS Standards 3.23.4; 8 CCR 6057(b)(2)(D): functional test of the cylinder valve every 12 months",
        why="a valve that will not close cannot be shut under water",
        label="Valve service",
    ),
    CareRule(
        "inflator_check",
        Task.SERVICE,
        Every(months=12),
        on_item=frozenset({_I.BUOYANCY_DEVICE}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source="NOAA Diving Program, Maintenance, Repair and Accountability (12 months)",
        why="an inflator that sticks open is an ascent",
        label="Inflator service",
    ),
    CareRule(
        "gauge_check",
        Task.TEST,
        Every(months=12),
        on_item=frozenset({_I.PRESSURE_GAUGE}),
        by=By.TECHNICIAN,
        lead_days=28,
        critical=True,
        source=f"{NOAA} (12 months, +/- 10 % of scale)",
        why="a gauge that reads high runs you out of gas",
        label="Gauge check",
    ),
    CareRule(
        "depth_check",
        Task.TEST,
        Every(months=6),
        on_item=frozenset({_I.DIVE_COMPUTER}),
        source=f"{NOAA} (depth gauge, also inside a dive computer: every 6 months against a master)",
        why="a depth that reads shallow plans the wrong dive",
        label="Depth check against another gauge",
    ),
    CareRule(
        "suit_valves",
        Task.SERVICE,
        Every(months=12),
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
        When(kinds=kinds(K.SENSOR)),
        critical=True,
        why="the cells tell you what you breathe; before the next dive, as the maker says",
        label="Calibrate before the next dive",
    ),
    CareRule(
        "replace_cells",
        Task.REPLACE,
        Every(months=12),
        When(kinds=kinds(K.SENSOR)),
        lead_days=28,
        critical=True,
        why="cells age in the bag; count from the date printed on them",
    ),
    CareRule(
        "sorbent",
        Task.REPLACE,
        Every(each_dive=True),
        When(kinds=kinds(K.SORBENT)),
        critical=True,
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
    lead_days=0,
    critical=True,
    source="NOAA Diving Manual 15.11.4 (second-hand); AAUS 1992: oxygen-compatible lubricant only",
    why="a hydrocarbon or silicone on it can burn in rich gas; only a recorded cleaning by a technician clears it",
    label="Out of oxygen service: clean and inspect",
)
"""Not asked for by the calendar: it begins with what was put on the part."""


@dataclass(frozen=True, slots=True)
class TestLaw:
    """Months between tests of a diving cylinder in a region, and who says so. None: no such duty is known."""

    hydro: int
    visual: int | None
    source: str


LAW: dict[Region, TestLaw] = {
    Region.US: TestLaw(
        60,
        12,
        "hydrostatic 60 months: 49 CFR 180.209; visual 12 months: AAUS Standards 3.23.3, practice rather than federal law",
    ),
    Region.CANADA: TestLaw(60, 12, "New Brunswick Reg. 91-191 s. 339, at work; other provinces: check"),
    Region.UK: TestLaw(
        60,
        12,
        "BS EN ISO 18119:2018 as quoted by two bodies (second-hand); visual up to 30 months after a risk assessment",
    ),
    Region.EU: TestLaw(60, 12, "ISO 18119:2018 (second-hand); national rules come first"),
    Region.GERMANY: TestLaw(60, 30, "BetrSichV 2015, Anhang 2 Abschnitt 4, Tabelle 12, 7.6 b"),
    Region.SWITZERLAND: TestLaw(60, 30, "a club's page (second-hand)"),
    Region.AUSTRALIA: TestLaw(12, 12, "AS 2337.1 as stated by test stations (second-hand)"),
    Region.NEW_ZEALAND: TestLaw(
        24, 12, "Hazardous Substances Regulations 2017 as stated by test stations (second-hand)"
    ),
    Region.SOUTH_AFRICA: TestLaw(48, 24, "SANS 10019:2023 as stated by a shop (second-hand)"),
}


def tests_by_law(region: Region | None) -> tuple[CareRule, ...]:
    """Return the hydrostatic and visual test rules of a cylinder; without a region, the EU months as a stand-in that says so."""
    law = LAW[region or Region.EU]
    where = (
        f"{region.value}: {law.source}" if region else "region unknown, EU months used: tell me your country"
    )
    check = f"{where}. Check locally"
    rows = [
        CareRule(
            "hydro_test",
            Task.TEST,
            Every(months=law.hydro),
            on_item=_CYLINDERS,
            by=By.TEST_STATION,
            lead_days=28,
            critical=True,
            by_law=True,
            source=check,
            why="no station fills it out of date",
            label="Hydrostatic test",
        ),
    ]
    if law.visual is not None:
        rows.append(
            CareRule(
                "visual_inspection",
                Task.INSPECT,
                Every(months=law.visual),
                on_item=_CYLINDERS,
                by=By.TEST_STATION,
                lead_days=28,
                critical=True,
                by_law=True,
                source=check,
                why="rust and cracks show inside first",
                label="Visual inspection",
            ),
        )
    return tuple(rows)


def care_of_item(kind: ItemType, region: Region | None) -> tuple[CareRule, ...]:
    """Return the rows for the item as a whole."""
    rows = tuple(row for row in CARE if kind.kind in row.on_item)
    return rows + tests_by_law(region) if kind.tested else rows


@lru_cache(maxsize=4096)
def care_of_part(facts: PartFacts) -> tuple[CareRule, ...]:
    """Return the rows for a part of these facts; a row that hinges on an unknown fact does not apply."""
    return tuple(row for row in CARE if not row.on_item and row.when.holds(facts))


def rule_by_id(rule_id: str, region: Region | None = None) -> CareRule:
    """Return the row with that id; KeyError if no table has it."""
    return next((row for row in tests_by_law(region) if row.id == rule_id), None) or _BY_ID[rule_id]


_BY_ID = {row.id: row for row in (*CARE, OXYGEN_CLEAN)}
_PLACE = {row.id: n for n, row in enumerate(CARE)}


def order(rule: CareRule) -> int:
    """Return a rule's place in the order in which care is best done: rinse, dry, clean, powder, lubricate; tests last."""
    return _PLACE.get(rule.id, len(_PLACE))


def interval_of(part: Part, facts: PartFacts, task: Task) -> CareRule | None:
    """Return the row that says how often `task` is done on the part, or None."""
    return next((row for row in care_of_part(facts) if row.task is task and part.care), None)
