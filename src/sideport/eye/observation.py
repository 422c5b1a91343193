"""From readings to linear observations with their noise."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .coordinates import COORDINATES, Coordinate
from .measurement import Quantity
from .method import METHODS, MethodErrors
from .readings import QUANTITIES, SIDES, Keratometry, Readings, pair_keratometry, place_within

__all__ = ["Observations", "Padded", "observe", "padded_chunks"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

DIRECT = {
    Quantity.AXIAL_LENGTH: Coordinate.AXIAL_LENGTH,
    Quantity.ANTERIOR_CHAMBER_DEPTH: Coordinate.CHAMBER_DEPTH,
    Quantity.LENS_THICKNESS: Coordinate.LENS_THICKNESS,
    Quantity.WHITE_TO_WHITE: Coordinate.WHITE_TO_WHITE,
}


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Columns of equal length: means of repeats, sorted by person."""

    person: IntArray
    side: IntArray
    coordinate: IntArray
    """The quantity, by whose error model the reading errs."""
    method: IntArray
    value: FloatArray
    count: FloatArray
    """Readings behind the mean."""
    meridian_deg: FloatArray
    """For the power of one meridian read alone; NaN otherwise."""
    extra_variance: FloatArray
    """Added for what the reading leaves open."""


@dataclass(frozen=True, slots=True, eq=False)
class Padded:
    """Observations of some people as ``condition`` wants them, padded to m places."""

    rows: IntArray
    """(n,) whose they are."""
    design: FloatArray
    """(n, m, 14)"""
    observed: FloatArray
    """(n, m), bias taken off."""
    noise: FloatArray
    """(n, m, m)"""


def observe(readings: Readings, *, meridian_variance: float) -> Observations:
    """Means of the repeats of each method, eye and quantity.

    A K1 or K2 without its partner is the power of one meridian: of a known one a sum of mean, J0 and J45; of an
    unknown one the mean with ``meridian_variance`` [D2] added. A pair without axes tells the mean alone.
    """
    place = np.array([DIRECT.get(quantity, -1) for quantity in QUANTITIES], dtype=np.intp)[readings.quantity]
    kept = readings.where(place >= 0)
    pairs = pair_keratometry(readings)
    whole = ~np.isnan(pairs.vector.mean_d)
    cross = whole & ~np.isnan(pairs.vector.j0_d)
    columns = [np.stack([kept.person, kept.side, place[place >= 0], kept.method, kept.value])]
    for coordinate, chosen, value in (
        (Coordinate.MEAN_K, whole, pairs.vector.mean_d),
        (Coordinate.J0, cross, pairs.vector.j0_d),
        (Coordinate.J45, cross, pairs.vector.j45_d),
    ):
        owner = [pairs.person[chosen], pairs.side[chosen], np.full(chosen.sum(), coordinate), pairs.method[chosen]]
        columns.append(np.stack([*owner, value[chosen]]))
    means = mean_of_repeats(np.concatenate(columns, axis=1))
    alone = lone_meridians(pairs, ~whole, meridian_variance)
    merged = np.concatenate([means, alone], axis=1)
    merged = merged[:, np.argsort(merged[0], kind="stable")]
    person, side, coordinate, method = merged[:4].astype(np.intp)
    return Observations(person, side, coordinate, method, *merged[4:])


def mean_of_repeats(table: FloatArray) -> FloatArray:
    """(8, m): person, side, quantity, method, mean, count, no meridian, nothing extra."""
    owner = table[:4].astype(np.intp)
    key = ((owner[0] * len(SIDES) + owner[1]) * len(COORDINATES) + owner[2]) * len(METHODS) + owner[3]
    _, first, group = np.unique(key, return_index=True, return_inverse=True)
    count = np.bincount(group, minlength=len(first)).astype(float)
    total = np.bincount(group, weights=table[4], minlength=len(first))
    blank = np.full(len(first), np.nan), np.zeros(len(first))
    return np.stack([*owner[:, first].astype(float), total / count, count, *blank])


def lone_meridians(pairs: Keratometry, chosen: NDArray[np.bool_], meridian_variance: float) -> FloatArray:
    """(8, m) in the columns of ``mean_of_repeats``: each principal meridian that was read without the other."""
    first = ~np.isnan(pairs.k1_d[chosen])
    power = np.where(first, pairs.k1_d[chosen], pairs.k2_d[chosen])
    axis = np.where(first, pairs.k1_axis_deg[chosen], pairs.k2_axis_deg[chosen])
    mean_k = np.full(len(power), Coordinate.MEAN_K)
    owner = np.stack([pairs.person[chosen], pairs.side[chosen], mean_k, pairs.method[chosen]])
    extra = np.where(np.isnan(axis), meridian_variance, 0.0)
    return np.stack([*owner.astype(float), power, np.ones(len(power)), axis, extra])


def padded_chunks(seen: Observations, *, errors: MethodErrors, size: int) -> Iterator[Padded]:
    """People with observations, ``size`` at a time, those with like numbers of observations together."""
    people, first, count = np.unique(seen.person, return_index=True, return_counts=True)
    order = np.argsort(count, kind="stable")
    slot = place_within(seen.person)
    for start in range(0, len(people), size):
        chosen = order[start : start + size]
        length = count[chosen]
        row = np.repeat(np.arange(len(chosen)), length)
        member = np.repeat(first[chosen] - np.r_[0, np.cumsum(length)[:-1]], length) + np.arange(length.sum())
        yield pad(seen, people[chosen], row, member, slot[member], int(length.max()), errors)


def pad(
    seen: Observations,
    rows: IntArray,
    row: IntArray,
    member: IntArray,
    slot: IntArray,
    places: int,
    errors: MethodErrors,
) -> Padded:
    """Lays the observations ``member`` into row and slot, and builds their design and noise."""
    shape = (len(rows), places)
    coordinate, method, side = seen.coordinate[member], seen.method[member], seen.side[member]
    meridian = np.radians(2.0 * seen.meridian_deg[member])
    start = side * len(COORDINATES)
    design = np.zeros((*shape, 2 * len(COORDINATES)))
    design[row, slot, start + coordinate] = 1.0
    design[row, slot, start + Coordinate.J0] += np.where(np.isnan(meridian), 0.0, np.cos(meridian))
    design[row, slot, start + Coordinate.J45] += np.where(np.isnan(meridian), 0.0, np.sin(meridian))
    observed = np.zeros(shape)
    observed[row, slot] = seen.value[member] - errors.bias[method, coordinate]
    own = np.ones(shape)
    own[row, slot] = errors.repeat_variance[method, coordinate] / seen.count[member] + seen.extra_variance[member]
    shared, session = np.zeros(shape), np.zeros(shape)
    shared[row, slot] = errors.shared_variance[method, coordinate]
    session[row, slot] = errors.session_variance[method, coordinate]
    kind = np.full(shape, -1, dtype=np.intp)
    kind[row, slot] = (coordinate * len(METHODS) + method) * len(SIDES) + side
    together = kind[:, :, None] // len(SIDES) == kind[:, None, :] // len(SIDES)
    noise = together * shared[:, :, None] + (kind[:, :, None] == kind[:, None, :]) * session[:, :, None]
    diagonal = np.arange(places)
    noise[:, diagonal, diagonal] += own
    return Padded(rows=rows, design=design, observed=observed, noise=noise)
