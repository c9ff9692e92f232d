"""How a wire is."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Health:
    """One line of health: whether all is well, and what is so."""

    wire: str
    well: bool
    said: str
