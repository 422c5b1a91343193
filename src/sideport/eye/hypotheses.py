"""A slip as the likelihoods want it: which readings it would move, by how much, and how likely it was beforehand."""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from ..optics.keratometry import KERATOMETRIC_INDEX
from .method import METHODS
from .observation import Padded, Singles
from .slip import SLIPS, Slip, SlipModel
from .suspects import GROUP_OF, GROUPS

__all__ = [
    "DIGITS",
    "RADIUS_TIMES_POWER",
    "Hypotheses",
    "Layout",
    "chosen_of",
    "joined",
    "lay_out",
    "made",
    "mended_power",
    "summed",
    "transposed",
]

IntArray = NDArray[np.intp]

RADIUS_TIMES_POWER = 1000.0 * (KERATOMETRIC_INDEX - 1.0)
"""mm times D at the index 1.3375 of keratometry."""
DECIMALS = 2
"""Readings are written with so many; a digit from tens to hundredths may have changed places with its neighbour."""
DIGITS = DECIMALS + 1
"""Pairs of neighbouring digits."""


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The observations of one chunk by row and place, with the set each belongs to."""

    part: Padded
    reading: IntArray
    pair: IntArray
    coordinate: IntArray
    method: IntArray
    value: FloatArray
    place: IntArray
    """Set: side, group and method in one number."""


@dataclass(frozen=True, slots=True, eq=False)
class Hypotheses:
    """One slip a row; ``change``, ``amount`` and ``variance`` as ``shift_ratio`` asks."""

    row: IntArray
    change: FloatArray
    amount: FloatArray
    variance: FloatArray
    log_prior: FloatArray
    """Of the slip, with the Jacobian of mending."""
    slip: IntArray
    """Index into ``SLIPS``."""
    place: IntArray
    """The set that is doubted."""
    reading: IntArray
    """The one reading that is doubted; -1 for the whole set."""
    mended: FloatArray
    """What that reading would be; NaN where the slip does not tell."""
    factor: FloatArray
    """For a whole set in another unit: by what to multiply; 0 for radius read as power; NaN otherwise."""


def lay_out(part: Padded, singles: Singles) -> Layout:
    """Gathers what the hypotheses need to know of each observation of a chunk."""
    member, seen = part.member, singles.seen
    group = GROUP_OF[seen.coordinate[member]]
    return Layout(
        part=part,
        reading=singles.reading[member],
        pair=singles.pair[member],
        coordinate=seen.coordinate[member],
        method=seen.method[member],
        value=seen.value[member],
        place=(seen.side[member] * len(GROUPS) + group) * len(METHODS) + seen.method[member],
    )


def transposed(value: FloatArray, digit: int) -> FloatArray:
    """The value with one digit exchanged for its left neighbour; digit 0 is hundredths.

    What is beyond hundredths stays. NaN where the two are equal or nothing positive is left.

    Example
    -------
    >>> [float(transposed(np.array([23.45]), digit)[0].round(2)) for digit in range(3)]
    [23.54, 24.35, 32.45]
    """
    whole = np.rint(value * 10.0**DECIMALS)
    low, high = np.floor(whole / 10.0**digit) % 10, np.floor(whole / 10.0 ** (digit + 1)) % 10
    changed = value + (low - high) * 9.0 * 10.0**digit / 10.0**DECIMALS
    return np.asarray(np.where((low != high) & (changed > 0), changed, np.nan))


def mended_power(value: FloatArray) -> FloatArray:
    """Corneal power [D] of a radius [mm] that was taken for one, and the other way round."""
    return np.asarray(RADIUS_TIMES_POWER / value)


def joined(parts: Iterable[Hypotheses]) -> Hypotheses:
    """All of them one after another."""
    listed = list(parts)
    return Hypotheses(*(np.concatenate([getattr(part, field.name) for part in listed]) for field in fields(Hypotheses)))


def made(
    slip: Slip,
    *,
    row: IntArray,
    change: FloatArray,
    place: IntArray,
    slips: SlipModel,
    amount: float = 1.0,
    variance: FloatArray | float = 0.0,
    log_extra: FloatArray | float = 0.0,
    reading: IntArray | int = -1,
    mended: FloatArray | float = np.nan,
    factor: float = np.nan,
) -> Hypotheses:
    """Hypotheses of one slip, scalars spread over all."""
    size = len(row)
    code = SLIPS.index(slip)
    return Hypotheses(
        row=row,
        change=change,
        amount=np.full(size, amount),
        variance=np.broadcast_to(np.asarray(variance, dtype=float), size),
        log_prior=np.broadcast_to(slips.log_chance[code] + np.asarray(log_extra, dtype=float), size),
        slip=np.full(size, code, dtype=np.intp),
        place=place,
        reading=np.broadcast_to(np.asarray(reading, dtype=np.intp), size),
        mended=np.broadcast_to(np.asarray(mended, dtype=float), size),
        factor=np.full(size, factor),
    )


def chosen_of(parts: Hypotheses, chosen: NDArray[np.bool_] | IntArray) -> Hypotheses:
    """Some of them."""
    return Hypotheses(*(getattr(parts, field.name)[chosen] for field in fields(Hypotheses)))


def summed(parts: Hypotheses, *, key: IntArray, place: IntArray, slips: SlipModel) -> Hypotheses:
    """For each key that several hypotheses of one slip share, one that all of them are true of one cause."""
    _, first, number, count = np.unique(key, return_index=True, return_inverse=True, return_counts=True)
    change = np.zeros((len(first), parts.change.shape[1]))
    np.add.at(change, number, parts.change)
    extra = np.bincount(number, weights=parts.log_prior - slips.log_chance[parts.slip], minlength=len(first))
    together = chosen_of(parts, first)
    return chosen_of(
        replace(together, change=change, log_prior=slips.log_chance[together.slip] + extra, place=place[first]),
        count > 1,
    )
