"""Slips in keratometry: of one meridian, of a pair, and of the pairs of both eyes."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from ..optics.power_vector import corneal_vector_from_keratometry
from .coordinates import Coordinate
from .hypotheses import (
    DIGITS,
    RADIUS_TIMES_POWER,
    Hypotheses,
    Layout,
    chosen_of,
    made,
    mended_power,
    summed,
    transposed,
)
from .method import METHODS
from .observation import Singles
from .slip import Slip, SlipModel
from .suspects import BOTH_EYES, WHOLE_METHOD

__all__ = ["pair_slips"]

IntArray = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """The whole pairs of meridians of a chunk."""

    row: IntArray
    place: IntArray
    method: IntArray
    powers: FloatArray
    """(2, h)"""
    axes: FloatArray
    """(2, h)"""
    readings: IntArray
    """(2, h) which readings they are."""
    slots: IntArray
    """(3, h) places of mean, J0 and J45; -1 where there is none."""
    places: int

    def changed(self, new: FloatArray) -> FloatArray:
        """(h, m) the change of mean, J0 and J45 when the powers become ``new``; 0 where a new power is NaN."""
        difference = np.nan_to_num(power_vectors(new, self.axes) - power_vectors(self.powers, self.axes))
        table = np.zeros((len(self.row), self.places))
        for part, slot in enumerate(self.slots):
            held = np.flatnonzero(slot >= 0)
            table[held, slot[held]] = difference[part, held]
        return table


def pair_slips(layout: Layout, singles: Singles, slips: SlipModel) -> list[Hypotheses]:
    """Slips of one meridian of a whole pair, of both together, and of the pairs of both eyes."""
    pairs = whole_pairs(layout, singles)
    units = made(
        Slip.WRONG_UNIT, row=pairs.row, change=pairs.changed(mended_power(pairs.powers)), place=pairs.place,
        slips=slips, log_extra=log_jacobian(pairs.powers).sum(axis=0), factor=0.0,
    )  # fmt: skip
    set_key = pairs.row * WHOLE_METHOD + pairs.place
    both = BOTH_EYES + len(METHODS) + pairs.method
    shifted = made(
        Slip.UNEXPLAINED, row=pairs.row, change=pairs.changed(pairs.powers + 1.0), place=pairs.place, slips=slips,
        amount=0.0, variance=slips.unexplained_variance[Coordinate.MEAN_K],
    )  # fmt: skip
    return [
        units,
        summed(units, key=set_key, place=pairs.place, slips=slips),
        summed(units, key=pairs.row * len(METHODS) + pairs.method, place=both, slips=slips),
        shifted,
        *meridian_slips(pairs, 0, slips),
        *meridian_slips(pairs, 1, slips),
    ]


def meridian_slips(pairs: Pairs, meridian: int, slips: SlipModel) -> list[Hypotheses]:
    """Slips of one meridian, the other being sound."""

    def single(slip: Slip, mended: FloatArray, *, amount: float, variance: float, extra: FloatArray) -> Hypotheses:
        """The meridian would be ``mended``; for an unknown amount, mended by the change to it."""
        new = pairs.powers.copy()
        new[meridian] = mended
        every = made(
            slip, row=pairs.row, change=pairs.changed(new), place=pairs.place, slips=slips, amount=amount,
            variance=variance, log_extra=extra, reading=pairs.readings[meridian],
            mended=mended if amount else np.nan,
        )  # fmt: skip
        return chosen_of(every, ~np.isnan(mended))

    own = pairs.powers[meridian]
    none = np.zeros(len(own))
    found = [
        single(Slip.SWAPPED_DIGITS, transposed(own, digit), amount=1.0, variance=0.0, extra=none - np.log(DIGITS))
        for digit in range(DIGITS)
    ]
    found.append(single(Slip.WRONG_UNIT, mended_power(own), amount=1.0, variance=0.0, extra=log_jacobian(own)))
    spread = float(slips.unexplained_variance[Coordinate.MEAN_K])
    found.append(single(Slip.UNEXPLAINED, own + 1.0, amount=0.0, variance=spread, extra=none))
    return found


def log_jacobian(power: FloatArray) -> FloatArray:
    """By how much mending radius read as power stretches the scale, as a logarithm."""
    return np.asarray(np.log(RADIUS_TIMES_POWER / power**2))


def whole_pairs(layout: Layout, singles: Singles) -> Pairs:
    """Gathers the pairs whose mean power is an observation of the chunk."""
    own = np.flatnonzero((layout.pair >= 0) & (layout.coordinate == Coordinate.MEAN_K))
    pair, found = layout.pair[own], singles.pairs
    return Pairs(
        row=layout.part.row[own],
        place=layout.place[own],
        method=layout.method[own],
        powers=np.stack([found.k1_d[pair], found.k2_d[pair]]),
        axes=np.stack([found.k1_axis_deg[pair], found.k2_axis_deg[pair]]),
        readings=found.rows[:, pair],
        slots=pair_slots(layout, pair),
        places=layout.part.observed.shape[1],
    )


def power_vectors(powers: FloatArray, axes: FloatArray) -> FloatArray:
    """(3, h) mean, J0 and J45 of pairs of meridians."""
    found = corneal_vector_from_keratometry(k1_d=powers[0], k1_axis_deg=axes[0], k2_d=powers[1], k2_axis_deg=axes[1])
    return np.stack([found.mean_d, found.j0_d, found.j45_d])


def pair_slots(layout: Layout, pair: IntArray) -> IntArray:
    """(3, h) places of mean, J0 and J45 of each pair; -1 where it has none."""
    found = np.full((3, len(pair)), -1, dtype=np.intp)
    order = np.argsort(pair)
    for part, coordinate in enumerate((Coordinate.MEAN_K, Coordinate.J0, Coordinate.J45)):
        at = np.flatnonzero((layout.pair >= 0) & (layout.coordinate == coordinate))
        where = order[np.searchsorted(pair, layout.pair[at], sorter=order)]
        found[part, where] = layout.part.slot[at]
    return found
