"""Every slip that the readings of some people could be the result of, but for exchanged eyes and patients."""

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from .coordinates import Coordinate
from .hypotheses import (
    DIGITS,
    RADIUS_TIMES_POWER,
    Hypotheses,
    Layout,
    chosen_of,
    joined,
    made,
    mended_power,
    summed,
    transposed,
)
from .measurement import Method
from .method import METHODS
from .observation import Singles
from .propose_cornea import pair_slips
from .readings import SIDES
from .slip import Slip, SlipModel
from .suspects import BOTH_EYES, GROUPS

__all__ = ["shift_hypotheses"]

IntArray = NDArray[np.intp]


def shift_hypotheses(layout: Layout, singles: Singles, slips: SlipModel) -> Hypotheses:
    """Every slip of a chunk that shifts readings: digits, units, short contact, unexplained."""
    return joined(
        [
            *reading_slips(layout, slips),
            *set_slips(layout, slips),
            *pair_slips(layout, singles, slips),
        ]
    )


def reading_slips(layout: Layout, slips: SlipModel) -> list[Hypotheses]:
    """Slips of one reading that stands by itself: a length, a chamber, or a meridian read alone."""
    own = np.flatnonzero(layout.reading >= 0)
    cornea = layout.coordinate[own] == Coordinate.MEAN_K
    value = layout.value[own]
    found: list[Hypotheses] = []

    def single(slip: Slip, chosen: NDArray[np.bool_], mended: FloatArray, log_extra: FloatArray | float) -> None:
        """A reading that would be ``mended``."""
        at = own[chosen]
        change = one_place(layout, at, (mended - value)[chosen])
        extra = np.broadcast_to(np.asarray(log_extra, dtype=float), value.shape)[chosen]
        found.append(
            made(slip, row=layout.part.row[at], change=change, place=layout.place[at], slips=slips,
                 log_extra=extra, reading=layout.reading[at], mended=mended[chosen])
        )  # fmt: skip

    for digit in range(DIGITS):
        mended = transposed(value, digit)
        single(Slip.SWAPPED_DIGITS, ~np.isnan(mended), mended, -np.log(DIGITS))
    for factor in (10.0, 0.1):
        single(Slip.WRONG_UNIT, ~cornea, value * factor, np.log(factor))
    single(Slip.WRONG_UNIT, cornea, mended_power(value), np.log(RADIUS_TIMES_POWER / value**2))
    spread = slips.unexplained_variance[layout.coordinate[own]]
    found.append(
        made(Slip.UNEXPLAINED, row=layout.part.row[own], change=one_place(layout, own, np.ones(len(own))),
             place=layout.place[own], slips=slips, amount=0.0, variance=spread, reading=layout.reading[own])
    )  # fmt: skip
    return found


def one_place(layout: Layout, at: IntArray, change: FloatArray) -> FloatArray:
    """(h, m) with a change in one place each."""
    table = np.zeros((len(at), layout.part.observed.shape[1]))
    table[np.arange(len(at)), layout.part.slot[at]] = change
    return table


def set_slips(layout: Layout, slips: SlipModel) -> list[Hypotheses]:
    """Slips of all readings of one set of lengths (or chambers, …) together."""
    own = np.flatnonzero(layout.reading >= 0)
    key = layout.part.row[own] * (len(SIDES) * len(GROUPS) * len(METHODS)) + layout.place[own]
    _, first, number, count = np.unique(key, return_index=True, return_inverse=True, return_counts=True)
    places = layout.part.observed.shape[1]
    inside, values = np.zeros((len(first), places)), np.zeros((len(first), places))
    inside[number, layout.part.slot[own]] = 1.0
    values[number, layout.part.slot[own]] = layout.value[own]
    row, place, coordinate = layout.part.row[own[first]], layout.place[own[first]], layout.coordinate[own[first]]
    method = layout.method[own[first]]
    length = coordinate == Coordinate.AXIAL_LENGTH
    several = (count > 1) & (coordinate != Coordinate.MEAN_K)
    found: list[Hypotheses] = []
    for factor in (10.0, 0.1):
        units = made(Slip.WRONG_UNIT, row=row[length], change=(factor - 1.0) * values[length], place=place[length],
                     slips=slips, log_extra=count[length] * np.log(factor), factor=factor)  # fmt: skip
        found.append(chosen_of(units, count[length] > 1))
        found.append(summed(units, key=row[length] * len(METHODS) + method[length],
                            place=BOTH_EYES + method[length], slips=slips))  # fmt: skip
    found.append(
        made(Slip.UNEXPLAINED, row=row[several], change=inside[several], place=place[several], slips=slips,
             amount=0.0, variance=slips.unexplained_variance[coordinate[several]], log_extra=slips.set_log)
    )  # fmt: skip
    contact = length & np.isin(method, [METHODS.index(Method.CONTACT_ULTRASOUND), METHODS.index(Method.UNKNOWN)])
    found.append(
        made(Slip.SHORT_CONTACT, row=row[contact], change=inside[contact], place=place[contact], slips=slips,
             amount=slips.short_mm, variance=slips.short_variance)
    )  # fmt: skip
    return found
