"""Every slip that the readings of some people could be the result of, laid out for the likelihoods."""

from collections.abc import Iterable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from ..optics.power_vector import corneal_vector_from_keratometry
from .coordinates import Coordinate
from .measurement import Method
from .method import METHODS
from .observation import Padded, Singles
from .readings import SIDES
from .slip import SLIPS, Slip, SlipModel

__all__ = ["GROUPS", "Hypotheses", "Layout", "lay_out", "mended_power", "shift_hypotheses", "transposed"]

FloatArray = NDArray[np.float64]
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

RADIUS_TIMES_POWER = 337.5
"""mm times D at the index 1.3375 of keratometry."""
DECIMALS = 2
"""Readings are written with so many; a digit from tens to hundredths may have changed places with its neighbour."""
PLACES = DECIMALS + 1


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


def shift_hypotheses(layout: Layout, singles: Singles, slips: SlipModel) -> Hypotheses:
    """Every slip of a chunk that shifts readings: digits, units, short contact, unexplained."""
    return joined(
        [
            *reading_slips(layout, slips),
            *set_slips(layout, slips),
            *pair_slips(layout, singles, slips),
        ]
    )


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

    for digit in range(PLACES):
        mended = transposed(value, digit)
        single(Slip.SWAPPED_DIGITS, ~np.isnan(mended), mended, -np.log(PLACES))
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
    found = [
        made(Slip.WRONG_UNIT, row=row[several], change=(factor - 1.0) * values[several], place=place[several],
             slips=slips, log_extra=count[several] * np.log(factor), factor=factor)
        for factor in (10.0, 0.1)
    ]  # fmt: skip
    found.append(
        made(Slip.UNEXPLAINED, row=row[several], change=inside[several], place=place[several], slips=slips,
             amount=0.0, variance=slips.unexplained_variance[coordinate[several]])
    )  # fmt: skip
    contact = length & np.isin(method, [METHODS.index(Method.CONTACT_ULTRASOUND), METHODS.index(Method.UNKNOWN)])
    found.append(
        made(Slip.SHORT_CONTACT, row=row[contact], change=inside[contact], place=place[contact], slips=slips,
             amount=slips.short_mm, variance=slips.short_variance)
    )  # fmt: skip
    return found


def pair_slips(layout: Layout, singles: Singles, slips: SlipModel) -> list[Hypotheses]:
    """Slips of one meridian of a whole pair, and of both together."""
    own = np.flatnonzero((layout.pair >= 0) & (layout.coordinate == Coordinate.MEAN_K))
    pair = layout.pair[own]
    slots = pair_slots(layout, pair)
    row, place, pairs = layout.part.row[own], layout.place[own], singles.pairs
    powers = np.stack([pairs.k1_d[pair], pairs.k2_d[pair]])
    axes = np.stack([pairs.k1_axis_deg[pair], pairs.k2_axis_deg[pair]])
    before = power_vectors(powers, axes)
    places = layout.part.observed.shape[1]
    found: list[Hypotheses] = []

    def changed(new: FloatArray, chosen: NDArray[np.bool_]) -> FloatArray:
        """(h, m) the change of mean, J0 and J45 when the powers become ``new``."""
        difference = (power_vectors(np.where(chosen, new, powers), axes) - before)[:, chosen]
        table = np.zeros((int(chosen.sum()), places))
        for part in range(len(before)):
            slot = slots[part, chosen]
            held = np.flatnonzero(slot >= 0)
            table[held, slot[held]] = difference[part, held]
        return table

    for meridian in range(len(powers)):
        reading = pairs.rows[meridian, pair]
        for digit in range(PLACES):
            mended = transposed(powers[meridian], digit)
            chosen = ~np.isnan(mended)
            new = powers.copy()
            new[meridian] = mended
            found.append(
                made(Slip.SWAPPED_DIGITS, row=row[chosen], change=changed(new, chosen), place=place[chosen],
                     slips=slips, log_extra=-np.log(PLACES), reading=reading[chosen], mended=mended[chosen])
            )  # fmt: skip
        every = np.ones(len(pair), dtype=bool)
        new = powers.copy()
        new[meridian] += 1.0
        found.append(
            made(Slip.UNEXPLAINED, row=row, change=changed(new, every), place=place, slips=slips, amount=0.0,
                 variance=slips.unexplained_variance[Coordinate.MEAN_K], reading=reading)
        )  # fmt: skip
        mended = mended_power(powers[meridian])
        new = powers.copy()
        new[meridian] = mended
        found.append(
            made(Slip.WRONG_UNIT, row=row, change=changed(new, every), place=place, slips=slips,
                 log_extra=np.log(RADIUS_TIMES_POWER / powers[meridian] ** 2), reading=reading, mended=mended)
        )  # fmt: skip
    every = np.ones(len(pair), dtype=bool)
    jacobian = np.log(RADIUS_TIMES_POWER / powers**2).sum(axis=0)
    found.append(
        made(Slip.WRONG_UNIT, row=row, change=changed(mended_power(powers), every), place=place, slips=slips,
             log_extra=jacobian, factor=0.0)
    )  # fmt: skip
    found.append(
        made(Slip.UNEXPLAINED, row=row, change=changed(powers + 1.0, every), place=place, slips=slips,
             amount=0.0, variance=slips.unexplained_variance[Coordinate.MEAN_K])
    )  # fmt: skip
    return found


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
