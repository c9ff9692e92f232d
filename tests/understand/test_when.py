"""What is told of days: dives put right, tests and stamps, what befell kit, trips, and when to remind. Text to exact fields."""

from datetime import date
from typing import Any

import pytest

from bot.advice.question import About
from bot.understand.intents import (
    AddItem,
    Ask,
    LogDive,
    Misunderstood,
    PlanTrip,
    RecordCare,
    RetireItem,
    SetPreference,
    ShowDue,
)
from bot.understand.places import _CITIES, zone_of_place, zones
from bot.understand.reader import Context, understand

TODAY = date(2026, 6, 10)
"""A Wednesday."""


def read(text: str, *names: str) -> tuple[str, dict[str, Any]]:
    """Return the intent and the fields it fills; places in the catalogue and the quoted text aside."""
    intent = understand(text, TODAY, Context(names=names))
    pointing = {"each", "which", "was_depth_m"}
    filled = intent.model_dump(mode="json", exclude_defaults=True, exclude=pointing)
    return intent.intent, _told(filled)


def _told(fields: dict[str, Any]) -> dict[str, Any]:
    nested = {
        k: [_told(x) if isinstance(x, dict) else x for x in v] if isinstance(v, list) else v
        for k, v in fields.items()
    }
    return {k: v for k, v in nested.items() if k not in {"refs", "text"}}


DIVES_CHANGED: list[tuple[str, str, dict[str, Any]]] = [
    ("delete the dive of 12 May", "log_dive", {"corrects": True, "removes": True, "was_on": "2026-05-12"}),
    ("remove yesterday's dive", "log_dive", {"corrects": True, "removes": True, "was_on": "2026-06-09"}),
    (
        "no dive on saturday after all",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-06-06"},
    ),
    ("delete saturdays dive", "log_dive", {"corrects": True, "removes": True, "was_on": "2026-06-06"}),
    (
        "remove the dive on 12 may pls",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-05-12"},
    ),
    ("cancel sunday's dive", "log_dive", {"corrects": True, "removes": True, "was_on": "2026-06-07"}),
    ("there was no dive on sunday", "log_dive", {"corrects": True, "removes": True, "was_on": "2026-06-07"}),
    (
        "i did not dive on saturday after all",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-06-06"},
    ),
    (
        "saturday's dive never happened",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-06-06"},
    ),
    ("delete the dive", "log_dive", {"corrects": True, "removes": True}),
    ("delete the last dive", "undo", {"dive": True}),
    (
        "can you delete the dive of 12 May?",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-05-12"},
    ),
    (
        "delete the dive from last saturday",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-06-06"},
    ),
    (
        "delete my dive on the 5th of may",
        "log_dive",
        {"corrects": True, "removes": True, "was_on": "2026-05-05"},
    ),
    (
        "the dive on 12 May was on 13 May",
        "log_dive",
        {"on": "2026-05-13", "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "move sunday's dive to saturday",
        "log_dive",
        {"on": "2026-06-06", "corrects": True, "was_on": "2026-06-07"},
    ),
    (
        "sunday's dive was on saturday",
        "log_dive",
        {"on": "2026-06-06", "corrects": True, "was_on": "2026-06-07"},
    ),
    (
        "the dive on 12 may was on the 13th",
        "log_dive",
        {"on": "2026-05-13", "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "move the dive of 12 may to the 13th",
        "log_dive",
        {"on": "2026-05-13", "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "move the dive from 12 may to 13 may",
        "log_dive",
        {"on": "2026-05-13", "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "yesterdays dives were on monday",
        "log_dive",
        {"on": "2026-06-08", "corrects": True, "was_on": "2026-06-09"},
    ),
    (
        "change the date of sunday's dive to saturday",
        "log_dive",
        {"on": "2026-06-06", "corrects": True, "was_on": "2026-06-07"},
    ),
    (
        "move yesterday's dive to today",
        "log_dive",
        {"on": "2026-06-10", "corrects": True, "was_on": "2026-06-09"},
    ),
    (
        "yesterday's dive was 40 min",
        "log_dive",
        {"duration_min": 40, "corrects": True, "was_on": "2026-06-09"},
    ),
    (
        "yesterday's dive was in fresh water",
        "log_dive",
        {"water": "fresh", "corrects": True, "was_on": "2026-06-09"},
    ),
    (
        "the dive on 12 May was 38 m, 50 min",
        "log_dive",
        {"max_depth_m": 38.0, "duration_min": 50, "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "change yesterday's dive to 40 min",
        "log_dive",
        {"duration_min": 40, "corrects": True, "was_on": "2026-06-09"},
    ),
    (
        "correct the dive of 12 May: 38 m",
        "log_dive",
        {"max_depth_m": 38.0, "corrects": True, "was_on": "2026-05-12"},
    ),
    (
        "sunday's dive was without the scooter",
        "log_dive",
        {"without": ["scooter"], "corrects": True, "was_on": "2026-06-07"},
    ),
    ("sunday's dive should be 2 dives", "log_dive", {"dives": 2, "corrects": True, "was_on": "2026-06-07"}),
    (
        "sorry, yesterday's dive was 30 m",
        "log_dive",
        {"max_depth_m": 30.0, "corrects": True, "was_on": "2026-06-09"},
    ),
    ("the last dive was 30 m", "log_dive", {"max_depth_m": 30.0, "corrects": True}),
    (
        "yesterday's dive was great, 30 m, 40 min, salt",
        "log_dive",
        {"dives": 1, "on": "2026-06-09", "water": "salt", "max_depth_m": 30.0, "duration_min": 40},
    ),
    (
        "yesterday's dive: 30 m, 40 min",
        "log_dive",
        {"dives": 1, "on": "2026-06-09", "max_depth_m": 30.0, "duration_min": 40},
    ),
    ("dive on saturday, 30 m", "log_dive", {"dives": 1, "on": "2026-06-06", "max_depth_m": 30.0}),
    ("remove the dive computer", "retire_item", {"item": "dive computer"}),
    ("remove the dive light", "retire_item", {"item": "light"}),
]

DIVES_SHOWN: list[tuple[str, str, dict[str, Any]]] = [
    ("show my dives", "show_kit", {"dives": True}),
    ("dive log", "show_kit", {"dives": True}),
    ("my dive log", "show_kit", {"dives": True}),
    ("last dives", "show_kit", {"dives": True}),
    ("my last 10 dives", "show_kit", {"dives": True}),
    ("show log", "show_kit", {"dives": True}),
    ("logbook", "show_kit", {"dives": True}),
    ("list dives", "show_kit", {"dives": True}),
    ("show me my logbook", "show_kit", {"dives": True}),
    ("/dives", "show_kit", {"dives": True}),
    ("10 dives", "log_dive", {"dives": 10}),
    ("show the dive light", "show_kit", {"item": "light"}),
    ("dive computer", "show_kit", {"item": "dive computer"}),
    ("log 2 dives today", "log_dive", {"dives": 2, "on": "2026-06-10"}),
]

DIVES_OF_SEVERAL_DAYS: list[tuple[str, str, dict[str, Any]]] = [
    (
        "2 dives on Monday, 1 on Tuesday",
        "log_dive",
        {"dives": 2, "on": "2026-06-08", "also": [{"dives": 1, "on": "2026-06-09"}]},
    ),
    (
        "monday 2 dives, tuesday 3 dives",
        "log_dive",
        {"dives": 2, "on": "2026-06-08", "also": [{"dives": 3, "on": "2026-06-09"}]},
    ),
    (
        "2 dives on saturday and 1 on sunday, salt",
        "log_dive",
        {
            "dives": 2,
            "on": "2026-06-06",
            "water": "salt",
            "also": [{"dives": 1, "on": "2026-06-07", "water": "salt"}],
        },
    ),
    (
        "yesterday 2 dives and today 1, lake",
        "log_dive",
        {
            "dives": 2,
            "on": "2026-06-09",
            "water": "fresh",
            "also": [{"dives": 1, "on": "2026-06-10", "water": "fresh"}],
        },
    ),
    (
        "2 dives saturday 30 m and 3 dives sunday 20 m",
        "log_dive",
        {
            "dives": 2,
            "on": "2026-06-06",
            "max_depth_m": 30.0,
            "also": [{"dives": 3, "on": "2026-06-07", "max_depth_m": 20.0}],
        },
    ),
    (
        "1 dive on 5 may, 2 on 6 may, 3 on 7 may",
        "log_dive",
        {
            "dives": 1,
            "on": "2026-05-05",
            "also": [{"dives": 2, "on": "2026-05-06"}, {"dives": 3, "on": "2026-05-07"}],
        },
    ),
    (
        "2 dives on monday and 3 on tuesday without the scooter",
        "log_dive",
        {"dives": 2, "on": "2026-06-08", "also": [{"dives": 3, "on": "2026-06-09", "without": ["scooter"]}]},
    ),
    (
        "dived twice on saturday and once on sunday",
        "log_dive",
        {"dives": 2, "on": "2026-06-06", "also": [{"dives": 1, "on": "2026-06-07"}]},
    ),
    ("2 dives yesterday, 30 m and 20 m", "log_dive", {"dives": 2, "on": "2026-06-09", "max_depth_m": 30.0}),
    (
        "2 dives today, 30 m, flooded my torch",
        "log_dive",
        {
            "dives": 2,
            "on": "2026-06-10",
            "max_depth_m": 30.0,
            "items": ["torch"],
            "happened": [{"item": "torch", "kind": "hand_light", "happened": "flooded"}],
        },
    ),
]

TESTS: list[tuple[str, str, dict[str, Any]]] = [
    (
        "twinset hydro tested May 2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "visual done March 2026",
        "record_care",
        {"task": "inspect", "on": "2026-03-01", "month_only": True, "test": "visual"},
    ),
    (
        "VIP in June",
        "record_care",
        {"task": "inspect", "on": "2026-06-01", "month_only": True, "test": "visual"},
    ),
    (
        "eddy current test 6/2025",
        "record_care",
        {"task": "test", "on": "2025-06-01", "month_only": True, "test": "eddy_current"},
    ),
    (
        "twinset hydro tested 14 May 2024",
        "record_care",
        {"task": "test", "item": "twinset", "on": "2024-05-14", "kind": "twinset", "test": "hydrostatic"},
    ),
    (
        "valve serviced may 2025",
        "record_care",
        {"task": "service", "on": "2025-05-01", "by_technician": True, "month_only": True, "test": "valve"},
    ),
    (
        "stage valve serviced 03/2025",
        "record_care",
        {
            "task": "service",
            "item": "stage",
            "part": "moving seals inside the cylinder valve",
            "on": "2025-03-01",
            "kind": "stage",
            "by_technician": True,
            "month_only": True,
            "test": "valve",
        },
    ),
    (
        "twinset hydro 06/2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-06-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "hydro 2024-06",
        "record_care",
        {"task": "test", "on": "2024-06-01", "month_only": True, "test": "hydrostatic"},
    ),
    ("hydro done June 24th 2024", "record_care", {"task": "test", "on": "2024-06-24", "test": "hydrostatic"}),
    (
        "hydro 05/24 twinset",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "twinset tested 05/24",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "hydro tested in june",
        "record_care",
        {"task": "test", "on": "2026-06-01", "month_only": True, "test": "hydrostatic"},
    ),
    (
        "hydro and visual done May 2024",
        "record_care",
        {
            "task": "test",
            "on": "2024-05-01",
            "also": [{"task": "inspect", "on": "2024-05-01", "month_only": True, "test": "visual"}],
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "twinset hydro tested May 2024, visual March 2026",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "also": [
                {
                    "task": "inspect",
                    "item": "twinset",
                    "on": "2026-03-01",
                    "month_only": True,
                    "test": "visual",
                }
            ],
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "twinset tested May 2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "twinset hyro tsted may 2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "stage vip'd 03/2026",
        "record_care",
        {
            "task": "inspect",
            "item": "stage",
            "on": "2026-03-01",
            "kind": "stage",
            "month_only": True,
            "test": "visual",
        },
    ),
    (
        "tank tüv 05/2024",
        "record_care",
        {
            "task": "test",
            "item": "tank",
            "on": "2024-05-01",
            "kind": "cylinder",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "inspected the dry suit yesterday",
        "record_care",
        {"task": "inspect", "item": "drysuit", "on": "2026-06-09", "kind": "dry_suit"},
    ),
    (
        "regulator flow tested yesterday",
        "record_care",
        {"task": "test", "item": "regulator", "on": "2026-06-09", "kind": "regulator"},
    ),
    (
        "inflation valve serviced",
        "record_care",
        {"task": "service", "part": "suit inflation valve", "by_technician": True},
    ),
    (
        "hydro tested May 2024, next due May 2029",
        "record_care",
        {
            "task": "test",
            "on": "2024-05-01",
            "month_only": True,
            "test": "hydrostatic",
            "next_on": "2029-05-01",
        },
    ),
    (
        "twinset hydro 05/2024, next 05/2029",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
            "next_on": "2029-05-01",
        },
    ),
    (
        "visual done today, next due 06/2027",
        "record_care",
        {"task": "inspect", "on": "2026-06-10", "test": "visual", "next_on": "2027-06-01"},
    ),
    (
        "twinset stamped 05/2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
            "stamped": True,
        },
    ),
    (
        "stamped 05/2024",
        "record_care",
        {"task": "test", "on": "2024-05-01", "month_only": True, "test": "hydrostatic", "stamped": True},
    ),
    (
        "visual stamped 03/2026 on the pony",
        "record_care",
        {
            "task": "inspect",
            "item": "pony",
            "on": "2026-03-01",
            "kind": "cylinder",
            "month_only": True,
            "test": "visual",
            "stamped": True,
        },
    ),
    (
        "stamped 05/2024, next due 05/2029",
        "record_care",
        {
            "task": "test",
            "on": "2024-05-01",
            "month_only": True,
            "test": "hydrostatic",
            "next_on": "2029-05-01",
        },
    ),
    (
        "twinset tested and stamped 05/2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
]

DUE_TOLD: list[tuple[str, str, dict[str, Any]]] = [
    ("hydro due May 2029", "add_item", {"facts": {"hydro_due_on": "2029-05-01"}, "of": "cylinder"}),
    ("next visual due 11/2028", "add_item", {"facts": {"visual_due_on": "2028-11-01"}, "of": "cylinder"}),
    (
        "stamped 05/2029 on the twinset",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    ("stamp says hydro 05/29", "add_item", {"facts": {"hydro_due_on": "2029-05-01"}, "of": "cylinder"}),
    (
        "hydro stamp 05/29 on the twinset",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    (
        "twinset due 05/2029",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    ("hydro valid until 05/2029", "add_item", {"facts": {"hydro_due_on": "2029-05-01"}, "of": "cylinder"}),
    (
        "twinset in test until may 2029",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    (
        "next hydro for the twinset: may 2029",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    (
        "next inspection of the pony is 11/2027",
        "add_item",
        {"kind": "cylinder", "facts": {"visual_due_on": "2027-11-01"}, "of": "pony"},
    ),
    (
        "hydro due May 2029, visual due 11/2026",
        "add_item",
        {"facts": {"hydro_due_on": "2029-05-01", "visual_due_on": "2026-11-01"}, "of": "cylinder"},
    ),
    ("hydro was due may 2025", "add_item", {"facts": {"hydro_due_on": "2025-05-01"}, "of": "cylinder"}),
    (
        "the twinset needs hydro by may 2029",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}, "of": "twinset"},
    ),
    ("when is my hydro due?", "show_due", {"task": "test"}),
    ("when is my hydro due", "show_due", {"task": "test"}),
    ("what is due in May?", "show_due", {"until": "2027-05-31"}),
    ("what is due in june?", "show_due", {"until": "2026-06-30"}),
    ("what is due next week?", "show_due", {"until": "2026-06-21"}),
    ("what is due this weekend?", "show_due", {"until": "2026-06-14"}),
    ("anything due before next weekend?", "show_due", {"until": "2026-06-13"}),
    ("what is due until june 2029?", "show_due", {"until": "2029-06-01"}),
    ("what is due may 2027", "show_due", {"until": "2027-05-31"}),
    ("hydro due in may", "show_due", {"until": "2027-05-31", "task": "test"}),
    ("hydro due", "show_due", {"task": "test"}),
    (
        "is the twinset hydro due may 2027?",
        "show_due",
        {"item": "twinset", "until": "2027-05-31", "task": "test"},
    ),
    (
        "regulator service due May 2027",
        "show_due",
        {"item": "regulator", "until": "2027-05-31", "task": "service"},
    ),
    ("next trip may 2027", "plan_trip", {"from_on": "2027-05-01"}),
]

CYLINDERS: list[tuple[str, str, dict[str, Any]]] = [
    (
        "the twinset is alloy 6351",
        "add_item",
        {"kind": "twinset", "facts": {"alloy_6351": True}, "of": "twinset"},
    ),
    ("my stage is 6351-T6", "add_item", {"kind": "stage", "facts": {"alloy_6351": True}, "of": "stage"}),
    ("the stage is not 6351", "add_item", {"kind": "stage", "facts": {"alloy_6351": False}, "of": "stage"}),
    ("pony is 6061", "add_item", {"kind": "cylinder", "facts": {"alloy_6351": False}, "of": "pony"}),
    (
        "the stage has a special permit",
        "add_item",
        {"kind": "stage", "facts": {"special_permit": True}, "of": "stage"},
    ),
    (
        "the stage is an exemption cylinder",
        "add_item",
        {"kind": "stage", "facts": {"special_permit": True}, "of": "stage"},
    ),
    (
        "twinset made June 2019",
        "add_item",
        {"kind": "twinset", "facts": {"made_on": "2019-06-01"}, "of": "twinset"},
    ),
    (
        "twinset manufactured 06/2019",
        "add_item",
        {"kind": "twinset", "facts": {"made_on": "2019-06-01"}, "of": "twinset"},
    ),
    ("stage built in 2019", "add_item", {"kind": "stage", "facts": {"made_on": "2019-01-01"}, "of": "stage"}),
    (
        "the twinset is from 2019",
        "add_item",
        {"kind": "twinset", "facts": {"made_on": "2019-01-01"}, "of": "twinset"},
    ),
    ("pony made 06/19", "add_item", {"kind": "cylinder", "facts": {"made_on": "2019-06-01"}, "of": "pony"}),
    (
        "manufacture date of the stage is 06/2019",
        "add_item",
        {"kind": "stage", "facts": {"made_on": "2019-06-01"}, "of": "stage"},
    ),
    (
        "alu 80 made 3/1987",
        "add_item",
        {"kind": "cylinder", "facts": {"made_on": "1987-03-01"}, "of": "aluminium cylinder"},
    ),
    (
        "the twinset is tested in the UK",
        "add_item",
        {"kind": "twinset", "facts": {"region": "GB"}, "of": "twinset"},
    ),
    (
        "the pony is registered in germany",
        "add_item",
        {"kind": "cylinder", "facts": {"region": "DE"}, "of": "pony"},
    ),
    (
        "risk assessment done for the twinset",
        "add_item",
        {"kind": "twinset", "facts": {"risk_assessed": True}, "of": "twinset"},
    ),
    (
        "no risk assessment for the twinset",
        "add_item",
        {"kind": "twinset", "facts": {"risk_assessed": False}, "of": "twinset"},
    ),
    (
        "twinset is 32%, made june 2019",
        "add_item",
        {"kind": "twinset", "facts": {"o2_fraction": 0.32, "made_on": "2019-06-01"}, "of": "twinset"},
    ),
    (
        "add steel cylinder 12 l, made June 2019, tested in Germany",
        "add_item",
        {
            "kind": "cylinder",
            "facts": {
                "cylinder_material": "steel",
                "volume_l": 12.0,
                "region": "DE",
                "made_on": "2019-06-01",
            },
        },
    ),
    (
        "add twinset, hydro due May 2029",
        "add_item",
        {"kind": "twinset", "facts": {"hydro_due_on": "2029-05-01"}},
    ),
    (
        "add twinset, hydro tested May 2024, next due May 2029",
        "add_item",
        {
            "kind": "twinset",
            "facts": {"hydro_due_on": "2029-05-01"},
            "done": [
                {
                    "task": "test",
                    "item": "twinset",
                    "on": "2024-05-01",
                    "kind": "twinset",
                    "month_only": True,
                    "test": "hydrostatic",
                }
            ],
        },
    ),
    (
        "add stage 80 %, alloy 6351, stamped 05/2024",
        "add_item",
        {
            "kind": "stage",
            "facts": {"o2_fraction": 0.8, "alloy_6351": True},
            "done": [
                {
                    "task": "test",
                    "item": "stage",
                    "on": "2024-05-01",
                    "kind": "stage",
                    "month_only": True,
                    "test": "hydrostatic",
                    "stamped": True,
                }
            ],
        },
    ),
    (
        "add stage 80%, hydro tested May 2024, visual March 2026",
        "add_item",
        {
            "kind": "stage",
            "facts": {"o2_fraction": 0.8},
            "done": [
                {
                    "task": "test",
                    "item": "stage",
                    "on": "2024-05-01",
                    "kind": "stage",
                    "month_only": True,
                    "test": "hydrostatic",
                },
                {
                    "task": "inspect",
                    "item": "stage",
                    "on": "2026-03-01",
                    "kind": "stage",
                    "month_only": True,
                    "test": "visual",
                },
            ],
        },
    ),
    (
        "twinset was tested in Germany in May 2024",
        "record_care",
        {
            "task": "test",
            "item": "twinset",
            "on": "2024-05-01",
            "kind": "twinset",
            "month_only": True,
            "test": "hydrostatic",
        },
    ),
    (
        "twinset tested in germany yesterday",
        "record_care",
        {"task": "test", "item": "twinset", "on": "2026-06-09", "kind": "twinset", "test": "hydrostatic"},
    ),
    (
        "the twinset is steel",
        "add_item",
        {"kind": "twinset", "facts": {"cylinder_material": "steel"}, "of": "twinset"},
    ),
]

HAPPENED: list[tuple[str, str, dict[str, Any]]] = [
    ("flooded the torch", "record_care", {"item": "torch", "kind": "hand_light", "happened": "flooded"}),
    ("my torch flooded", "record_care", {"item": "torch", "kind": "hand_light", "happened": "flooded"}),
    ("floded my torch", "record_care", {"item": "torch", "kind": "hand_light", "happened": "flooded"}),
    (
        "housing leaked a bit",
        "record_care",
        {"item": "housing", "kind": "camera_housing", "happened": "flooded"},
    ),
    ("ran the stage empty", "record_care", {"item": "stage", "kind": "stage", "happened": "drained"}),
    ("drained the twinset", "record_care", {"item": "twinset", "kind": "twinset", "happened": "drained"}),
    ("sucked the pony dry", "record_care", {"item": "pony", "kind": "cylinder", "happened": "drained"}),
    ("stage down to 0 bar", "record_care", {"item": "stage", "kind": "stage", "happened": "drained"}),
    (
        "dropped the cylinder, dent in it",
        "record_care",
        {"item": "cylinder", "kind": "cylinder", "happened": "damaged"},
    ),
    ("got a dent in the tank", "record_care", {"item": "tank", "kind": "cylinder", "happened": "damaged"}),
    ("big gouge on the tank", "record_care", {"item": "tank", "kind": "cylinder", "happened": "damaged"}),
    ("crack in the tank", "record_care", {"item": "tank", "kind": "cylinder", "happened": "damaged"}),
    (
        "rust inside the twinset",
        "record_care",
        {"item": "twinset", "part": "cylinder shell", "kind": "twinset", "happened": "corroded"},
    ),
    (
        "cylinder was in a fire",
        "record_care",
        {"item": "cylinder", "kind": "cylinder", "happened": "overheated"},
    ),
    (
        "car burned with the tank",
        "record_care",
        {"item": "tank", "kind": "cylinder", "happened": "overheated"},
    ),
    ("tank got roasted", "record_care", {"item": "tank", "kind": "cylinder", "happened": "overheated"}),
    (
        "tank paint was baked in an oven",
        "record_care",
        {"item": "tank", "part": "cylinder shell", "kind": "cylinder", "happened": "overheated"},
    ),
    (
        "drysuit flooded on sunday",
        "record_care",
        {"item": "drysuit", "on": "2026-06-07", "kind": "dry_suit", "happened": "flooded"},
    ),
    ("suit flooded", "record_care", {"item": "suit", "kind": "dry_suit", "happened": "flooded"}),
    (
        "water in the first stage",
        "record_care",
        {"item": "firststage", "kind": "regulator", "happened": "flooded"},
    ),
    (
        "got water in the housing",
        "record_care",
        {"item": "housing", "kind": "camera_housing", "happened": "flooded"},
    ),
    ("reg is bubbling", "record_care", {"item": "reg", "kind": "regulator", "happened": "leaking"}),
    ("hp hose is leaking", "record_care", {"part": "hoses", "happened": "leaking"}),
    (
        "twinset valve leaks",
        "record_care",
        {
            "item": "twinset",
            "part": "moving seals inside the cylinder valve",
            "kind": "twinset",
            "happened": "leaking",
        },
    ),
    ("wing leaks", "record_care", {"item": "wing", "kind": "buoyancy_device", "happened": "leaking"}),
    ("tore the drysuit", "record_care", {"item": "drysuit", "kind": "dry_suit", "happened": "damaged"}),
    (
        "scooter fell off the boat",
        "record_care",
        {"item": "scooter", "kind": "scooter", "happened": "damaged"},
    ),
    (
        "flooded my torch on yesterdays dive",
        "record_care",
        {"item": "torch", "on": "2026-06-09", "kind": "hand_light", "happened": "flooded"},
    ),
    (
        "my torch flooded, what do I do?",
        "record_care",
        {"item": "torch", "kind": "hand_light", "happened": "flooded"},
    ),
    ("torch flooded what now", "record_care", {"item": "torch", "kind": "hand_light", "happened": "flooded"}),
    (
        "housing flooded. what now?",
        "record_care",
        {"item": "housing", "kind": "camera_housing", "happened": "flooded"},
    ),
    ("sold the flooded torch", "retire_item", {"item": "torch"}),
    ("the backup torch flooded and is dead, retire it", "retire_item", {"item": "backup torch"}),
    (
        "replaced the o-ring, torch was leaking",
        "record_care",
        {
            "task": "replace",
            "item": "torch",
            "part": "O-rings of the twist-switched light head",
            "kind": "hand_light",
        },
    ),
    ("leak tested the regulator", "record_care", {"task": "test", "item": "regulator", "kind": "regulator"}),
    ("dived the flooded mine yesterday", "log_dive", {"on": "2026-06-09", "water": "fresh"}),
]

TRIPS: list[tuple[str, str, dict[str, Any]]] = [
    ("trip next week", "plan_trip", {"from_on": "2026-06-15", "to_on": "2026-06-21"}),
    ("trip next weekend, 4 dives", "plan_trip", {"from_on": "2026-06-20", "to_on": "2026-06-21", "dives": 4}),
    ("trip this weekend", "plan_trip", {"from_on": "2026-06-13", "to_on": "2026-06-14"}),
    ("10 days from 12 December", "plan_trip", {"from_on": "2026-12-12", "to_on": "2026-12-21"}),
    ("a week in Norway from 5 Dec", "plan_trip", {"from_on": "2026-12-05", "to_on": "2026-12-11"}),
    ("two weeks in Egypt starting 1 Feb", "plan_trip", {"from_on": "2027-02-01", "to_on": "2027-02-14"}),
    ("trip in december 5-12", "plan_trip", {"from_on": "2026-12-05", "to_on": "2026-12-12"}),
    ("trip whole of march", "plan_trip", {"from_on": "2027-03-01", "to_on": "2027-03-31"}),
    ("trip from 1 july, 7 days", "plan_trip", {"from_on": "2026-07-01", "to_on": "2026-07-07"}),
    ("trip 12 december for 10 days", "plan_trip", {"from_on": "2026-12-12", "to_on": "2026-12-21"}),
    (
        "trip from friday to sunday, 5 dives, lake",
        "plan_trip",
        {"from_on": "2026-06-12", "to_on": "2026-06-14", "dives": 5, "water": "fresh"},
    ),
    (
        "10 days in Egypt from 12 December, 2 dives a day",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-21", "dives": 20},
    ),
    (
        "trip 12 to 19 December, 2 dives a day",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "dives": 16},
    ),
    (
        "trip 12 to 19 december, 14 dives",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "dives": 14},
    ),
    (
        "trip 12-19 december, 38 degrees",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "min_temp_c": 38.0},
    ),
    (
        "trip 12-19 december, 4 to 28 degrees",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "min_temp_c": 4.0, "max_temp_c": 28.0},
    ),
    (
        "trip 12-19 december, 28 on deck 4 in the water",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "min_temp_c": 4.0, "max_temp_c": 28.0},
    ),
    (
        "trip 12-19 december, air 28 water 4",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19", "min_temp_c": 4.0, "max_temp_c": 28.0},
    ),
    ("when is my trip?", "plan_trip", {"shows": True}),
    ("packing list", "plan_trip", {"shows": True}),
    ("packing list?", "plan_trip", {"shows": True}),
    ("what do I pack", "plan_trip", {"shows": True}),
    ("what to take", "plan_trip", {"shows": True}),
    ("show trip", "plan_trip", {"shows": True}),
    ("trip checklist", "plan_trip", {"shows": True}),
    ("what is due before the trip?", "plan_trip", {"shows": True}),
    ("should I cancel the trip?", "plan_trip", {"shows": True}),
    ("cancel trip", "plan_trip", {"cancels": True}),
    ("trip cancelled", "plan_trip", {"cancels": True}),
    ("not going to Malta after all", "plan_trip", {"cancels": True}),
    ("scrap the trip", "plan_trip", {"cancels": True}),
    ("can you cancel the trip?", "plan_trip", {"cancels": True}),
    ("cancel the last", "undo", {}),
    ("what is due before my trip on 12 december?", "show_due", {"until": "2026-12-12"}),
    (
        "what should I do before the trip 12 to 19 december?",
        "plan_trip",
        {"from_on": "2026-12-12", "to_on": "2026-12-19"},
    ),
    ("rinsed everything after the trip", "record_care", {"task": "rinse", "everything": True}),
    ("4 dives over the weekend, salt", "log_dive", {"dives": 4, "water": "salt"}),
    ("5 dives this weekend, sea", "log_dive", {"dives": 5, "water": "salt"}),
]

SNOOZED: list[tuple[str, str, dict[str, Any]]] = [
    ("after the trip", "snooze", {"after_trip": True}),
    ("after trip", "snooze", {"after_trip": True}),
    ("remind me after the trip", "snooze", {"after_trip": True}),
    ("snooze the regulator until after the trip", "snooze", {"after_trip": True, "item": "regulator"}),
    ("snooze until friday", "snooze", {"until": "2026-06-12"}),
    ("snooze till 3 march", "snooze", {"until": "2027-03-03"}),
    ("later, on monday", "snooze", {"until": "2026-06-15"}),
    ("not before the weekend", "snooze", {"until": "2026-06-13"}),
    ("remind me after the weekend", "snooze", {"until": "2026-06-15"}),
    ("snooze the zip 5 days", "snooze", {"days": 5}),
    ("in two weeks", "snooze", {"days": 14}),
    ("remind me next week", "snooze", {"until": "2026-06-15"}),
    ("remind me in a fortnight", "snooze", {"days": 14}),
    ("no reminders today", "snooze", {"days": 1}),
    ("no reminders until monday", "snooze", {"until": "2026-06-15"}),
    ("not today", "snooze", {"days": 1}),
    ("remind me at 7 tomorrow", "snooze", {"until": "2026-06-11"}),
]

PREFERRED: list[tuple[str, str, dict[str, Any]]] = [
    ("reminders off", "set_preference", {"reminders": False}),
    ("stop reminders", "set_preference", {"reminders": False}),
    ("no more reminders", "set_preference", {"reminders": False}),
    ("pls stop the reminders", "set_preference", {"reminders": False}),
    ("reminders on", "set_preference", {"reminders": True}),
    ("remind me again", "set_preference", {"reminders": True}),
    ("quiet hours off", "set_preference", {"quiet_from": "00:00:00", "quiet_to": "00:00:00"}),
    ("no quiet hours", "set_preference", {"quiet_from": "00:00:00", "quiet_to": "00:00:00"}),
    ("no reminders from 22 to 7", "set_preference", {"quiet_from": "22:00:00", "quiet_to": "07:00:00"}),
    ("I am in Tokyo", "set_preference", {"zone": "Asia/Tokyo"}),
    ("we are in lisbon now", "set_preference", {"zone": "Europe/Lisbon"}),
    ("just landed in Cape Town", "set_preference", {"zone": "Africa/Johannesburg"}),
    ("my time is Auckland time", "set_preference", {"zone": "Pacific/Auckland"}),
    ("use Tokyo time", "set_preference", {"zone": "Asia/Tokyo"}),
    ("I'm in Sydney until Friday", "set_preference", {"zone": "Australia/Sydney"}),
    ("I'm in Malta until Friday", "set_preference", {"zone": "Europe/Malta"}),
    ("i live in Berlin, Germany", "set_preference", {"zone": "Europe/Berlin", "region": "DE"}),
    ("I live in Germany", "set_preference", {"region": "DE"}),
    ("we moved to Canada", "set_preference", {"region": "CA"}),
    ("I am in Germany", "set_preference", {"region": "DE"}),
    ("zone NZ", "set_preference", {"zone": "NZ"}),
    ("timezone CET", "set_preference", {"zone": "CET"}),
    ("remind me at 7 in the morning", "set_preference", {"digest_at": "07:00:00"}),
    ("remind me at 7 in the evening", "set_preference", {"digest_at": "19:00:00"}),
    ("digest at noon", "set_preference", {"digest_at": "12:00:00"}),
    ("digest at midnight", "set_preference", {"digest_at": "00:00:00"}),
    ("2 dives today, we are in Lisbon", "log_dive", {"dives": 2, "on": "2026-06-10"}),
]

MANUAL: list[tuple[str, str, dict[str, Any]]] = [
    (
        "the manual says replace the sorbent every 3 hours",
        "record_manual",
        {"part": "scrubber material", "task": "replace", "every_hours": 3.0},
    ),
    ("service every 200 hours", "record_manual", {"task": "service", "every_hours": 200.0}),
    ("manual says service every 2 weeks", "record_manual", {"task": "service", "every_days": 14}),
    ("manual says every 90 days", "record_manual", {"every_days": 90}),
    (
        "manual says clean the scooter every 1.5 hours",
        "record_manual",
        {"item": "scooter", "task": "clean", "every_hours": 1.5, "kind": "scooter"},
    ),
    (
        "the maker wants the cells changed every 12 months",
        "record_manual",
        {"part": "oxygen cells", "task": "replace", "every_months": 12},
    ),
    (
        "the cells must be replaced every 18 months",
        "record_manual",
        {"part": "oxygen cells", "task": "replace", "every_months": 18},
    ),
    (
        "book says service every 2 years or 100 dives",
        "record_manual",
        {"task": "service", "every_dives": 100, "every_months": 24},
    ),
    ("the permit says hydro every 36 months", "record_manual", {"task": "test", "every_months": 36}),
    (
        "maker says every other year service the regulator",
        "record_manual",
        {"item": "regulator", "task": "service", "every_months": 24, "kind": "regulator"},
    ),
    ("manual says service twice a year", "record_manual", {"task": "service", "every_months": 6}),
    (
        "serviced the regulator every year",
        "record_care",
        {"task": "service", "item": "regulator", "kind": "regulator"},
    ),
    ("remind me every 2 weeks to service the scooter", "snooze", {"days": 14, "item": "scooter"}),
]

REPLACED: list[tuple[str, str, dict[str, Any]]] = [
    (
        "new cells in the rebreather, made March 2026",
        "record_care",
        {
            "task": "replace",
            "item": "rebreather",
            "part": "oxygen cells",
            "kind": "rebreather",
            "made_on": "2026-03-01",
        },
    ),
    (
        "changed the cells in the rebreather, made March 2026",
        "record_care",
        {
            "task": "replace",
            "item": "rebreather",
            "part": "oxygen cells",
            "kind": "rebreather",
            "made_on": "2026-03-01",
        },
    ),
    (
        "replaced the cells yesterday, date code 03/2026",
        "record_care",
        {"task": "replace", "part": "oxygen cells", "on": "2026-06-09", "made_on": "2026-03-01"},
    ),
    (
        "new cells in the rebreather today, manufactured march 2026",
        "record_care",
        {
            "task": "replace",
            "item": "rebreather",
            "part": "oxygen cells",
            "on": "2026-06-10",
            "kind": "rebreather",
            "made_on": "2026-03-01",
        },
    ),
    ("new cells today", "record_care", {"task": "replace", "part": "oxygen cells", "on": "2026-06-10"}),
    (
        "new battery in the torch",
        "record_care",
        {"task": "replace", "item": "torch", "part": "battery", "kind": "hand_light"},
    ),
    (
        "new o-ring in the torch head",
        "record_care",
        {
            "task": "replace",
            "item": "torch",
            "part": "O-rings of the twist-switched light head",
            "kind": "hand_light",
        },
    ),
    ("new torch", "add_item", {"kind": "hand_light"}),
    ("bought a new hose for the regulator", "add_item", {"kind": "regulator"}),
    ("new regulator, 32%", "add_item", {"kind": "regulator", "facts": {"o2_fraction": 0.32}}),
]

ASKED_WHY: list[tuple[str, str, dict[str, Any]]] = [
    ("why is the regulator service due?", "show_due", {"item": "regulator", "task": "service", "why": True}),
    ("why is that due", "show_due", {"why": True}),
    ("why do I need to do the zip?", "show_due", {"why": True}),
    (
        "why do i need to service the regulator?",
        "show_due",
        {"item": "regulator", "task": "service", "why": True},
    ),
    ("why is the twinset hydro due?", "show_due", {"item": "twinset", "task": "test", "why": True}),
    ("why must the twinset be tested?", "show_due", {"item": "twinset", "task": "test", "why": True}),
    ("why are you reminding me", "show_due", {"why": True}),
]

CALENDAR: list[tuple[str, str, dict[str, Any]]] = [
    ("calendar", "export", {"what": "calendar"}),
    ("send me the calendar", "export", {"what": "calendar"}),
    ("ics file", "export", {"what": "calendar"}),
    ("add to my calendar", "export", {"what": "calendar"}),
    ("can you send me the calendar?", "export", {"what": "calendar"}),
    ("calendar link", "export", {"what": "calendar_link"}),
    ("calendar feed", "export", {"what": "calendar_link"}),
    ("calendar url", "export", {"what": "calendar_link"}),
    ("subscribe to calendar", "export", {"what": "calendar_link"}),
    ("new calendar link", "export", {"what": "new_calendar_link"}),
    ("reset the calendar link", "export", {"what": "new_calendar_link"}),
    ("export", "export", {}),
    ("export my data", "export", {}),
    ("what is due on the calendar?", "show_due", {}),
]

ALL = [
    *DIVES_CHANGED,
    *DIVES_SHOWN,
    *DIVES_OF_SEVERAL_DAYS,
    *TESTS,
    *DUE_TOLD,
    *CYLINDERS,
    *HAPPENED,
    *TRIPS,
    *SNOOZED,
    *PREFERRED,
    *MANUAL,
    *REPLACED,
    *ASKED_WHY,
    *CALENDAR,
]


@pytest.mark.parametrize(("text", "intent", "fields"), ALL, ids=[row[0] for row in ALL])
def test_text_is_read_to_exactly_these_fields(text, intent, fields):
    assert read(text) == (intent, fields)


# near misses


@pytest.mark.parametrize(
    "text",
    [
        "delete all my dives",
        "delete dive 3",
        "delete my dive log",
        "erase the dives of 12.5.",
        "don't delete the dive of 12 May",
    ],
)
def test_dives_are_not_taken_back_unless_one_day_is_meant(text):
    found = understand(text, TODAY)
    assert isinstance(found, Misunderstood)
    assert found.problem != Misunderstood().problem


@pytest.mark.parametrize(
    "text",
    [
        "no dive today, blown out",
        "we won't dive today",
        "i didn't dive yesterday",
        "not going to dive today after all",
    ],
)
def test_dive_that_was_not_is_neither_logged_nor_taken_back(text):
    assert not isinstance(understand(text, TODAY), LogDive)


@pytest.mark.parametrize(
    "text",
    [
        "what if my torch floods?",
        "why did my torch flood?",
        "torch did not flood",
        "no rust in the twinset",
        "torch flooded, what grease do I use?",
        "my torch flooded, is the o-ring dead?",
        "is a flooded torch dead?",
        "how do i dry a flooded torch",
        "the neck oring leaks",
        "housing o-ring leaks",
        "dropped the regulator off at the shop",
        "cracked the valve open",
        "mask flooded",
        "drained the battery of the torch",
        "rinsed the torch",
        "fire in the boat",
        "burned my finger",
        "trust the regulator",
        "if the torch floods I sell it",
        "the manual says rinse a flooded torch",
        "I got oil on the regulator",
        "is it safe to dive a cylinder that was in a fire?",
    ],
)
def test_nothing_happened_where_none_was_told(text):
    found = understand(text, TODAY)
    assert not (isinstance(found, RecordCare) and found.happened)


@pytest.mark.parametrize(
    "text",
    [
        "twinset failed hydro may 2026",
        "twinset did not pass hydro",
        "hydro booked for june",
        "hydro tested May 2029",
    ],
)
def test_test_that_was_not_passed_is_not_recorded(text):
    told = understand(text, TODAY)
    assert not (isinstance(told, RecordCare) and told.task)


@pytest.mark.parametrize(
    "text",
    [
        "regulator made in 2019",
        "twinset made a noise",
        "is the twinset 6351?",
        "sold the twinset made in 2019",
        "show the twinset",
        "what is a special permit?",
    ],
)
def test_fact_of_a_cylinder_is_told_of_a_cylinder_only(text):
    told = understand(text, TODAY)
    assert not (isinstance(told, AddItem) and told.facts.model_dump(exclude_none=True).keys() - {"remarks"})


@pytest.mark.parametrize(
    "text",
    [
        "we are in the water",
        "I am in the sea",
        "I'm in trouble",
        "I am in a hurry",
        "next time",
        "dive time 40 min",
        "don't remind me about the zip",
        "zone Atlantis",
        "what do I take off the reg?",
        "what grease do I take on the trip?",
    ],
)
def test_nothing_is_set_or_planned_by_other_words(text):
    assert not isinstance(understand(text, TODAY), SetPreference | PlanTrip)


@pytest.mark.parametrize(
    "text", ["why do I grease the zip?", "why silicone on the zip?", "why do i rinse the reg?"]
)
def test_why_of_a_part_stays_a_question_about_the_part(text):
    found = understand(text, TODAY)
    assert isinstance(found, Ask)
    assert found.question.about is About.WHY


def test_why_after_the_list_of_what_is_due_asks_of_that():
    assert understand("why?", TODAY, Context(last=ShowDue(item="zip"))) == ShowDue(item="zip", why=True)


def test_own_names_are_cylinders_and_happen_to_things():
    assert read("Betty is alloy 6351", "Betty") == (
        "add_item",
        {"facts": {"alloy_6351": True}, "of": "Betty"},
    )
    assert read("Betty hydro due May 2029", "Betty") == (
        "add_item",
        {"facts": {"hydro_due_on": "2029-05-01"}, "of": "Betty"},
    )
    assert read("flooded Betty", "Betty") == ("record_care", {"item": "Betty", "happened": "flooded"})


def test_flooded_item_that_is_sold_is_retired():
    assert understand("binned the torch, it flooded", TODAY) == RetireItem(item="torch")


def test_parts_said_without_an_item_are_kept_for_snooze_and_why():
    assert {ref.part for ref in understand("snooze the zip 5 days", TODAY).refs} == {"zip"}
    assert {ref.part for ref in understand("why do I need to do the zip?", TODAY).refs} == {"zip"}


@pytest.mark.parametrize("city", sorted(_CITIES))
def test_city_has_a_zone_of_the_database(city):
    assert zone_of_place(city) in zones().values()
