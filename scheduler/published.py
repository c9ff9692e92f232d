"""Intervals that authorities have published for the same acts of care: yardsticks, each with its source. All were read."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Published:
    """One authority's interval, in months, for what a rule of care asks. It binds those whom it was written for."""

    rule: str
    authority: str
    months: int
    what: str
    source: str


PUBLISHED: tuple[Published, ...] = (
    Published("regulator_service", "NOAA", 12, "service", "NOAA Diving Program, Equipment Regulations"),
    Published(
        "regulator_service", "AAUS", 12, "inspection and test", "AAUS Standards for Scientific Diving, 3.21.2"
    ),
    Published("regulator_service", "California", 6, "functional test", "8 CCR 6057(b)(1)"),
    Published("gauge_check", "NOAA", 12, "check", "NOAA Diving Program, Equipment Regulations"),
    Published("gauge_check", "AAUS", 12, "check", "AAUS Standards for Scientific Diving, 3.25"),
    Published("gauge_check", "California", 6, "check against a master", "8 CCR 6057(b)(3)"),
    Published(
        "depth_check", "NOAA", 6, "check against a master", "NOAA Diving Program, Equipment Regulations"
    ),
    Published("depth_check", "California", 6, "check", "8 CCR 6057(b)(5)"),
    Published("depth_check", "Coast Guard", 6, "check against a master", "46 CFR 197.458"),
    Published("inflator_check", "NOAA", 12, "inflator check", "NOAA, Maintenance, Repair and Accountability"),
    Published("inflator_check", "California", 6, "functional inspection", "8 CCR 6057(b)(4)(B)"),
    Published("valve_check", "AAUS", 12, "functional test", "AAUS Standards for Scientific Diving, 3.23.4"),
    Published("valve_check", "California", 12, "functional test", "8 CCR 6057(b)(2)(D)"),
    Published(
        "visual_inspection", "AAUS", 12, "internal look", "AAUS Standards for Scientific Diving, 3.23.3"
    ),
    Published("visual_inspection", "California", 12, "internal look", "8 CCR 6057(b)(2)(C)"),
)


def published_for(rule: str) -> list[Published]:
    """Return what authorities have published for a rule, the strictest first."""
    return sorted((p for p in PUBLISHED if p.rule == rule), key=lambda p: p.months)
