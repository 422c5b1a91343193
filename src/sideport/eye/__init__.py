"""Measurements and the belief about both eyes of one person."""

from .belief import Belief, EyeBelief, believe
from .coordinates import COORDINATES, Coordinate
from .prior import populations

__all__ = [
    "COORDINATES",
    "Belief",
    "Coordinate",
    "EyeBelief",
    "believe",
    "populations",
]
