"""Measurements and the belief about both eyes of one person."""

from .belief import Belief, EyeBelief, believe
from .coordinates import COORDINATES, Coordinate
from .describe import summarise
from .prior import populations
from .quality import quality_flags
from .slip import DoubtedReading, Slip, Suspicion

__all__ = [
    "COORDINATES",
    "Belief",
    "Coordinate",
    "DoubtedReading",
    "EyeBelief",
    "Slip",
    "Suspicion",
    "believe",
    "populations",
    "quality_flags",
    "summarise",
]
