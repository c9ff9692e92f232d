"""Conditions over physical facts: they hold, cannot hold, or name what they still need."""

import pytest

from store.catalogue.facts import PartFacts
from store.catalogue.when import When, kinds
from store.vocabulary import Motion, PartKind

RING = PartFacts(kind=PartKind.O_RING, motion=Motion.STATIC, gas=True, o2_fraction=0.4)


@pytest.mark.parametrize(
    ("when", "unknown"),
    [
        (When(), ()),
        (When(kinds=kinds(PartKind.O_RING)), ()),
        (When(kinds=kinds(PartKind.ZIP, PartKind.HOSE)), None),
        (When(gas=True, motion=Motion.STATIC), ()),
        (When(gas=False), None),
        (When(loop=True), ("loop",)),
        (When(loop=True, watertight=False, gas=True), ("loop", "watertight")),
        (When(loop=True, gas=False), None),
    ],
)
def test_unknown_names_the_missing_facts_or_rules_the_row_out(when, unknown):
    assert (when.unknown(RING), when.holds(RING)) == (unknown, unknown == ())


@pytest.mark.parametrize(
    ("line", "fraction", "over"),
    [  # exclusive lines: 46 CFR 197.326(a) for 40 %, EN 144-3:2003 for 22 %
        (0.40, 0.40, False),
        (0.40, 0.41, True),
        (0.22, 0.22, False),
        (0.22, 0.23, True),
    ],
)
def test_oxygen_line_is_exclusive(line, fraction, over):
    assert When(o2_over=line).holds(PartFacts(o2_fraction=fraction)) is over


def test_oxygen_line_with_unknown_gas_asks_for_the_fraction():
    assert When(o2_over=0.4).unknown(PartFacts()) == ("o2_fraction",)
