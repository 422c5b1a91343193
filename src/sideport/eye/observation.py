"""From readings to linear observations with their noise."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..optics.arrays import FloatArray
from .coordinates import COORDINATES, Coordinate
from .measurement import Quantity
from .method import METHODS, MethodErrors
from .readings import QUANTITIES, SIDES, Keratometry, Readings, pair_keratometry, place_within

__all__ = ["Observations", "Padded", "Singles", "observe", "observe_each", "padded_chunks"]

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
    row: IntArray
    slot: IntArray
    member: IntArray
    """Observation ``member[i]`` stands in place ``slot[i]`` of row ``row[i]``."""


@dataclass(frozen=True, slots=True, eq=False)
class Singles:
    """Every reading by itself: for each observation the reading it is, or the pair of meridians it comes from."""

    seen: Observations
    reading: IntArray
    """Index into the readings; -1 for what comes from a pair."""
    pair: IntArray
    """Index into ``pairs``; -1 for a reading by itself."""
    pairs: Keratometry


def observe(readings: Readings, *, meridian_variance: float) -> Observations:
    """Means of the repeats of each method, eye and quantity.

    A K1 or K2 without its partner is the power of one meridian: of a known one a sum of mean, J0 and J45; of an
    unknown one the mean with ``meridian_variance`` [D2] added. A pair without axes tells the mean alone.
    """
    whole, alone = tables(readings, pair_keratometry(readings), meridian_variance)
    merged = np.concatenate([mean_of_repeats(whole[:5]), alone[:8]], axis=1)
    return in_order(merged)[0]


def observe_each(readings: Readings, *, meridian_variance: float) -> Singles:
    """Every reading as an observation by itself, so that one can be doubted and the others kept."""
    pairs = pair_keratometry(readings)
    whole, alone = tables(readings, pairs, meridian_variance)
    merged = np.concatenate([whole, alone], axis=1)
    seen, order = in_order(merged)
    reading, pair = merged[8:, order].astype(np.intp)
    return Singles(seen=seen, reading=reading, pair=pair, pairs=pairs)


def tables(readings: Readings, pairs: Keratometry, meridian_variance: float) -> tuple[FloatArray, FloatArray]:
    """(10, m) each: person, side, quantity, method, value, count, meridian, extra variance, reading or -1, pair or -1.

    The second holds the meridians that were read alone.
    """
    place = np.array([DIRECT.get(quantity, -1) for quantity in QUANTITIES], dtype=np.intp)[readings.quantity]
    direct = np.flatnonzero(place >= 0)
    kept = readings.where(direct)
    whole = ~np.isnan(pairs.vector.mean_d)
    cross = whole & ~np.isnan(pairs.vector.j0_d)
    columns = [full_columns(kept.person, kept.side, place[direct], kept.method, kept.value, reading=direct)]
    for coordinate, chosen, value in (
        (Coordinate.MEAN_K, whole, pairs.vector.mean_d),
        (Coordinate.J0, cross, pairs.vector.j0_d),
        (Coordinate.J45, cross, pairs.vector.j45_d),
    ):
        at = np.flatnonzero(chosen)
        quantity = np.full(len(at), int(coordinate), dtype=np.intp)
        columns.append(full_columns(pairs.person[at], pairs.side[at], quantity, pairs.method[at], value[at], pair=at))
    return np.concatenate(columns, axis=1), lone_meridians(pairs, ~whole, meridian_variance)


def full_columns(
    person: IntArray,
    side: IntArray,
    coordinate: IntArray,
    method: IntArray,
    value: FloatArray,
    *,
    reading: IntArray | None = None,
    pair: IntArray | None = None,
) -> FloatArray:
    """The ten columns of plain readings: one reading each, no meridian, nothing extra."""
    size = len(value)
    none = np.full(size, -1.0)
    return np.stack([
        person.astype(float), side, coordinate, method, value, np.ones(size), np.full(size, np.nan), np.zeros(size),
        none if reading is None else reading, none if pair is None else pair,
    ])  # fmt: skip


def in_order(merged: FloatArray) -> tuple[Observations, IntArray]:
    """Observations from the first eight columns, sorted by person, and the order that sorted them."""
    order = np.argsort(merged[0], kind="stable")
    merged = merged[:8, order]
    person, side, coordinate, method = merged[:4].astype(np.intp)
    return Observations(person, side, coordinate, method, *merged[4:]), order


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
    """(10, m) in the columns of ``tables``: each principal meridian that was read without the other."""
    first = ~np.isnan(pairs.k1_d[chosen])
    power = np.where(first, pairs.k1_d[chosen], pairs.k2_d[chosen])
    axis = np.where(first, pairs.k1_axis_deg[chosen], pairs.k2_axis_deg[chosen])
    reading = np.where(first, pairs.rows[0, chosen], pairs.rows[1, chosen])
    mean_k = np.full(len(power), int(Coordinate.MEAN_K), dtype=np.intp)
    found = full_columns(pairs.person[chosen], pairs.side[chosen], mean_k, pairs.method[chosen], power, reading=reading)
    found[6], found[7] = axis, np.where(np.isnan(axis), meridian_variance, 0.0)
    return found


def padded_chunks(
    seen: Observations, *, errors: MethodErrors, size: int, people: IntArray | None = None
) -> Iterator[Padded]:
    """People ``size`` at a time, those with like numbers of observations together.

    ``people`` are sorted indices of those wanted, by default everyone with an observation.
    """
    wanted = np.unique(seen.person) if people is None else people
    first, end = np.searchsorted(seen.person, wanted), np.searchsorted(seen.person, wanted, side="right")
    count = end - first
    order = np.argsort(count, kind="stable")
    slot = place_within(seen.person)
    for start in range(0, len(wanted), size):
        chosen = order[start : start + size]
        length = count[chosen]
        row = np.repeat(np.arange(len(chosen)), length)
        member = np.repeat(first[chosen] - np.r_[0, np.cumsum(length)[:-1]], length) + np.arange(length.sum())
        yield pad(seen, wanted[chosen], row, member, slot[member], int(length.max(initial=0)), errors)


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
    return Padded(rows, design, observed, noise, row, slot, member)
