"""Which readings a doubted set is made of, and what it is called."""

import numpy as np
from numpy.typing import NDArray

from ..optics.side import Side
from .coordinates import Coordinate
from .measurement import Method, Quantity
from .method import METHODS
from .readings import QUANTITIES, SIDES, Readings

__all__ = ["BOTH_EYES", "GROUPS", "GROUP_OF", "WHOLE_METHOD", "place_words", "readings_of_place", "sides_of_place"]

IntArray = NDArray[np.intp]

GROUPS: tuple[frozenset[Coordinate], ...] = (
    frozenset({Coordinate.AXIAL_LENGTH}),
    frozenset({Coordinate.MEAN_K, Coordinate.J0, Coordinate.J45}),
    frozenset({Coordinate.CHAMBER_DEPTH}),
    frozenset({Coordinate.LENS_THICKNESS}),
    frozenset({Coordinate.WHITE_TO_WHITE}),
)
"""Quantities that are written down together."""
GROUP_OF = np.array([next(i for i, group in enumerate(GROUPS) if c in group) for c in Coordinate], dtype=np.intp)
BOTH_EYES = len(SIDES) * len(GROUPS) * len(METHODS)
"""From here on a set is a group (or lengths and corneas together) of both eyes by one method."""
WHOLE_METHOD = BOTH_EYES + (len(GROUPS) + 1) * len(METHODS)
"""From here on a set is all that one method read."""
GROUP_OF_QUANTITY = {
    Quantity.AXIAL_LENGTH: 0,
    Quantity.K1: 1,
    Quantity.K2: 1,
    Quantity.ANTERIOR_CHAMBER_DEPTH: 2,
    Quantity.LENS_THICKNESS: 3,
    Quantity.WHITE_TO_WHITE: 4,
}
GROUP_NUMBER = np.array([GROUP_OF_QUANTITY[quantity] for quantity in QUANTITIES], dtype=np.intp)
GROUP_WORDS = ("axial length", "keratometry", "chamber depth", "lens thickness", "white-to-white")


def parts_of(place: int) -> tuple[Side | None, tuple[int, ...], int]:
    """Side (``None`` for both), groups and method of a set."""
    method = place % len(METHODS)
    every = tuple(range(len(GROUPS)))
    if place >= WHOLE_METHOD:
        return None, every, method
    if place >= BOTH_EYES:
        group = (place - BOTH_EYES) // len(METHODS)
        return None, (group,) if group < len(GROUPS) else (0, 1), method
    side, group = divmod(place // len(METHODS), len(GROUPS))
    return SIDES[side], (group,), method


def readings_of_place(place: int, own: IntArray, readings: Readings) -> IntArray:
    """Which of a person's readings ``own`` make a set."""
    side, groups, method = parts_of(place)
    kept = (readings.method[own] == method) & np.isin(GROUP_NUMBER[readings.quantity[own]], groups)
    if side is not None:
        kept &= readings.side[own] == SIDES.index(side)
    return np.asarray(own[kept])


def sides_of_place(place: int) -> tuple[Side, ...]:
    """The eyes of a set."""
    side = parts_of(place)[0]
    return SIDES if side is None else (side,)


def place_words(place: int) -> str:
    """``the right eye's axial length by contact ultrasound``."""
    side, groups, number = parts_of(place)
    method = METHODS[number]
    by = "by an unnamed method" if method is Method.UNKNOWN else f"by {method.value}"
    what = "readings" if len(groups) == len(GROUPS) else " and ".join(GROUP_WORDS[group] for group in groups)
    return f"{'both eyes' + chr(39) if side is None else f'the {side.value} eye' + chr(39) + 's'} {what} {by}"
