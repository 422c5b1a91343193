"""The order of the numbers that a belief is about."""

from enum import IntEnum

from ..optics.side import Side

__all__ = ["COORDINATES", "Coordinate", "position"]


class Coordinate(IntEnum):
    """One quantity of one eye, by its place in an eye's vector."""

    AXIAL_LENGTH = 0
    """[mm] on the scale of optical and immersion biometry."""
    MEAN_K = 1
    """[D] at the index 1.3375."""
    J0 = 2
    """[D] of the corneal power vector: positive against the rule (steep meridian at 180), negative with it (at 90)."""
    J45 = 3
    """[D] of the corneal power vector: positive with the steep meridian at 45."""
    CHAMBER_DEPTH = 4
    """[mm] corneal front to lens front."""
    LENS_THICKNESS = 5
    """[mm]"""
    WHITE_TO_WHITE = 6
    """[mm]"""


COORDINATES: tuple[str, ...] = tuple(coordinate.name.lower() for coordinate in Coordinate)
"""Names of the seven quantities of an eye, in order. A person has fourteen: the right eye's, then the left eye's."""


def position(side: Side, coordinate: Coordinate) -> int:
    """Where a quantity of one eye stands in a person's vector of fourteen."""
    return int(coordinate) + (0 if side is Side.RIGHT else len(COORDINATES))
