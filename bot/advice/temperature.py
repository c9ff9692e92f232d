"""What the span of temperatures says of a lubricant. No verdict turns on it; it orders what suits and adds a line."""

from dataclasses import replace

from bot.advice.model import Because
from bot.advice.rules import Rule
from store.catalogue.facts import PartFacts
from store.vocabulary import Substance

JELLY_MELTS_FROM_C = 38.0
BEESWAX_MELTS_FROM_C = 62.0
PARAFFIN_SOFTENS_FROM_C = 47.0
"""USP 32: petrolatum melts from 38 to 60, beeswax from 62 to 65, paraffin congeals from 47 to 65 degrees Celsius."""
_COLD_C, _WIDE_C = 0.0, 25.0

_MELTS = (
    (Substance.PETROLEUM_JELLY, JELLY_MELTS_FROM_C, "USP 32, Petrolatum: melts from 38 to 60 °C"),
    (Substance.PARAFFIN_WAX, PARAFFIN_SOFTENS_FROM_C, "USP 32, Paraffin: congeals from 47 to 65 °C"),
    (Substance.BEESWAX, BEESWAX_MELTS_FROM_C, "USP 32, White Wax: melts from 62 to 65 °C"),
)


def by_temperature(rule: Rule, facts: PartFacts) -> tuple[Rule, tuple[str, ...], tuple[Because, ...]]:
    """Put PFPE first where the span is wide or cold, and warn of what would melt; the rule unchanged where nothing is said."""
    lines: list[str] = []
    because: list[Because] = []
    low, high = facts.min_temp_c, facts.max_temp_c
    wide = low is not None and (low < _COLD_C or (high is not None and high - low > _WIDE_C))
    if wide and Substance.SILICONE_GREASE in rule.use and Substance.PFPE_GREASE in rule.use:
        rule = replace(
            rule, use=(Substance.PFPE_GREASE, *(s for s in rule.use if s is not Substance.PFPE_GREASE))
        )
        lines.append("At such temperatures PFPE grease keeps its consistency longer than silicone grease.")
        because.append(Because("wide_temperatures", lines[-1], "common practice, no source", "practice"))
    for substance, melts_c, source in _MELTS:
        if high is not None and high >= melts_c and substance in rule.use:
            lines.append(f"It may melt from {melts_c:g} °C, which a closed car in the sun can reach.")
            because.append(Because("melts", lines[-1], source, "published"))
    return rule, tuple(lines), tuple(because)
