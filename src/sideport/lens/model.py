"""Lens models and where in the eye a lens may sit. Bag, sulcus and chamber are kept apart by type."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

__all__ = ["LensModel", "Placement"]


class Placement(Enum):
    """Where the lens comes to rest; each has its own power for the same eye."""

    BAG = "bag"
    SULCUS = "sulcus"
    CHAMBER = "chamber"
    """Anterior chamber or iris-fixated."""


@dataclass(frozen=True, slots=True)
class LensModel:
    """A lens model as the unit lists it."""

    name: str
    a_constant: float
    """SRK/T A-constant of the maker or the unit's own results, for the main placement (the bag, or the chamber)."""
    placements: frozenset[Placement]
    foldable: bool
    """True for a folding lens, False for a rigid one."""
    optic_mm: float
    incision_mm: float
    """Shortest wound that admits it."""
    constants: Mapping[str, float]
    """Further constants by name where known: ``pacd``, ``sf``, ``a0``, ``a1``, ``a2``."""
    results_n: int = 0
    """Own results behind the constants; 0 for the maker's label."""
    note: str = ""
