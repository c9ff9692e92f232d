"""Says what is known of an item."""

from bot.handle.region import COUNTRY
from bot.handle.wording import month
from store import items
from store.tables import Item


def facts_said(item: Item) -> str:
    """Say what is known of an item, in brackets; "" if nothing is."""
    facts = items.facts_of(item)
    bits = [f"{facts.zip_material.value} zip"] if facts.zip_material else []
    bits += [f"{facts.seal_material.value} seals"] if facts.seal_material else []
    bits += [f"{facts.o2_fraction * 100:g} % oxygen"] if facts.o2_fraction else []
    bits += ["alloy 6351"] if facts.alloy_6351 else []
    bits += ["special permit"] if facts.special_permit else []
    bits += ["risk assessed"] if facts.risk_assessed else []
    bits += [f"made {month(facts.made_on)}"] if facts.made_on else []
    bits += [f"tested in {COUNTRY[facts.region]}"] if facts.region else []
    bits += [f"hydro stamped due {month(facts.hydro_due_on)}"] if facts.hydro_due_on else []
    bits += [f"visual stamped due {month(facts.visual_due_on)}"] if facts.visual_due_on else []
    bits += [f"eddy current stamped due {month(facts.eddy_due_on)}"] if facts.eddy_due_on else []
    bits += facts.remarks or ()
    return f" ({', '.join(bits)})" if bits else ""
