"""From readings to linear observations: the one place where persons become arrays."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite, isnan

import numpy as np
from numpy.typing import NDArray

from ..errors import ImpossibleInputError
from ..optics.side import Side
from .coordinates import COORDINATES, Coordinate, position
from .measurement import Measurement, Method, Quantity
from .method import METHODS, MethodErrors
from .person import Person
from .prior import Prior

__all__ = ["KPair", "Observations", "chunks_of_observations", "k_pairs", "readings_of"]

FloatArray = NDArray[np.float64]

DIRECT = {
    Quantity.AXIAL_LENGTH: Coordinate.AXIAL_LENGTH,
    Quantity.ANTERIOR_CHAMBER_DEPTH: Coordinate.CHAMBER_DEPTH,
    Quantity.LENS_THICKNESS: Coordinate.LENS_THICKNESS,
    Quantity.WHITE_TO_WHITE: Coordinate.WHITE_TO_WHITE,
}
ROW = {method: row for row, method in enumerate(METHODS)}


@dataclass(frozen=True, slots=True)
class KPair:
    """Keratometry as taken: both principal meridians, or one of them."""

    method: Method
    k1_d: float | None
    k2_d: float | None
    k1_axis_deg: float | None
    """Of K1; taken from K2 turned by 90 where only that was written."""

    @property
    def mean_d(self) -> float:
        """Mean of what there is [D]."""
        found = [power for power in (self.k1_d, self.k2_d) if power is not None]
        return sum(found) / len(found)

    @property
    def astigmatism_d(self) -> float | None:
        """Difference of the two meridians [D], never negative."""
        return None if self.k1_d is None or self.k2_d is None else abs(self.k2_d - self.k1_d)


@dataclass(frozen=True, slots=True, eq=False)
class Observations:
    """Linear observations of n people, padded to m places; see ``condition``."""

    design: FloatArray
    """(n, m, 14)"""
    observed: FloatArray
    """(n, m), bias taken off."""
    noise: FloatArray
    """(n, m, m)"""


@dataclass(frozen=True, slots=True)
class Observation:
    """One place of one person: the mean of some repeats by one method."""

    side: Side
    coordinate: Coordinate
    """The quantity whose error model holds."""
    method: Method
    value: float
    count: int
    weights: tuple[tuple[Coordinate, float], ...]
    """What the reading is of, where it is not the coordinate alone."""
    extra_variance: float = 0.0


def readings_of(person: Person, side: Side) -> list[Measurement]:
    """The usable readings of one eye; NaN counts as missing.

    Raises
    ------
    ImpossibleInputError
        On a value that is infinite, zero or negative, an axis outside 0 to 180, or a reading filed under the other eye.
    """
    record = person.eye(side)
    found: list[Measurement] = []
    for measurement in record.measurements if record else ():
        value, axis = measurement.value, measurement.axis_deg
        if isnan(value):
            continue
        if not isfinite(value) or value <= 0.0:
            raise ImpossibleInputError(
                f"A {measurement.quantity.value} of {value:g} in the {side.value} eye cannot be; correct or remove it."
            )
        if axis is not None and not 0.0 <= axis <= 180.0:
            raise ImpossibleInputError(f"A {measurement.quantity.value} axis of {axis:g} is outside 0 to 180 degrees; correct it.")
        if measurement.side is not side:
            raise ImpossibleInputError(
                f"A {measurement.quantity.value} of the {measurement.side.value} eye is filed under the {side.value} eye; move it."
            )
        found.append(measurement)
    return found


def k_pairs(readings: Sequence[Measurement]) -> list[KPair]:
    """K1 and K2 of one method and repeat number, put together; one without the other stands alone."""
    groups: dict[tuple[str, int], tuple[list[Measurement], list[Measurement]]] = {}
    for reading in readings:
        if reading.quantity is Quantity.K1 or reading.quantity is Quantity.K2:
            both = groups.setdefault((reading.method.value, reading.reading), ([], []))
            both[0 if reading.quantity is Quantity.K1 else 1].append(reading)
    pairs: list[KPair] = []
    for firsts, seconds in groups.values():
        for place in range(max(len(firsts), len(seconds))):
            k1 = firsts[place] if place < len(firsts) else None
            k2 = seconds[place] if place < len(seconds) else None
            pairs.append(pair_of(k1, k2))
    return pairs


def pair_of(k1: Measurement | None, k2: Measurement | None) -> KPair:
    """One pair; where both axes are written and not at right angles, the cross that fits both best."""
    axes = [k1.axis_deg if k1 else None, k2.axis_deg if k2 else None]
    turned = [axis if place == 0 or axis is None else axis + 90.0 for place, axis in enumerate(axes)]
    known = [axis for axis in turned if axis is not None]
    axis: float | None = None
    if known:
        double = np.deg2rad(2.0 * np.array(known))
        axis = float(np.rad2deg(0.5 * np.arctan2(np.sin(double).sum(), np.cos(double).sum())) % 180.0)
    method = (k1 or k2).method  # type: ignore[union-attr]  # a pair has at least one of the two
    return KPair(method, k1.value if k1 else None, k2.value if k2 else None, axis)


def meridian_weights(axis_deg: float) -> tuple[tuple[Coordinate, float], ...]:
    """The power along a meridian as a sum over mean, J0 and J45."""
    double = 2.0 * np.deg2rad(axis_deg)
    return (
        (Coordinate.MEAN_K, 1.0),
        (Coordinate.J0, -float(np.cos(double))),
        (Coordinate.J45, -float(np.sin(double))),
    )


def k_observations(side: Side, pairs: Sequence[KPair], meridian_variance: float) -> Iterator[Observation]:
    """Keratometry as observations of mean, J0 and J45; a lone meridian as one of the power along its axis."""
    grouped: dict[tuple[str, Coordinate], tuple[Method, list[float]]] = {}
    for pair in pairs:
        if pair.k1_d is None or pair.k2_d is None:
            axis = pair.k1_axis_deg
            if axis is None:
                yield Observation(side, Coordinate.MEAN_K, pair.method, pair.mean_d, 1, (), meridian_variance)
            else:
                along = axis if pair.k1_d is not None else axis + 90.0
                yield Observation(side, Coordinate.MEAN_K, pair.method, pair.mean_d, 1, meridian_weights(along))
            continue
        seen = [(Coordinate.MEAN_K, pair.mean_d)]
        if pair.k1_axis_deg is not None:
            half, double = 0.5 * (pair.k1_d - pair.k2_d), 2.0 * np.deg2rad(pair.k1_axis_deg)
            seen += [(Coordinate.J0, -half * float(np.cos(double))), (Coordinate.J45, -half * float(np.sin(double)))]
        for coordinate, value in seen:
            grouped.setdefault((pair.method.value, coordinate), (pair.method, []))[1].append(value)
    for (_, coordinate), (method, values) in grouped.items():
        yield Observation(side, coordinate, method, sum(values) / len(values), len(values), ())


def observations_of(person: Person, meridian_variance: float) -> list[Observation]:
    """Every observation of one person."""
    found: list[Observation] = []
    for side in Side:
        readings = readings_of(person, side)
        grouped: dict[tuple[str, Coordinate], tuple[Method, list[float]]] = {}
        for reading in readings:
            coordinate = DIRECT.get(reading.quantity)
            if coordinate is not None:
                entry = grouped.setdefault((reading.method.value, coordinate), (reading.method, []))
                entry[1].append(reading.value)
        for (_, coordinate), (method, values) in grouped.items():
            found.append(Observation(side, coordinate, method, sum(values) / len(values), len(values), ()))
        found.extend(k_observations(side, k_pairs(readings), meridian_variance))
    return found


def chunks_of_observations(
    people: Sequence[Person], *, errors: MethodErrors, prior: Prior, size: int
) -> Iterator[tuple[NDArray[np.intp], Observations]]:
    """People with at least one reading, in chunks of similar numbers of observations: their rows, and their observations."""
    every = [observations_of(person, prior.meridian_variance) for person in people]
    counts = np.array([len(found) for found in every], dtype=np.intp)
    order = np.argsort(counts, kind="stable")
    order = order[counts[order] > 0]
    for start in range(0, len(order), size):
        rows = order[start : start + size]
        yield rows, stack([every[row] for row in rows], errors)


def stack(people: Sequence[Sequence[Observation]], errors: MethodErrors) -> Observations:
    """Pads the observations of several people into arrays and builds their noise."""
    places = max(len(found) for found in people)
    shape = (len(people), places)
    coordinate, method, side = (np.full(shape, -1 - place, dtype=np.intp) for place in range(3))
    value, extra = np.zeros(shape), np.zeros(shape)
    count = np.ones(shape)
    design = np.zeros((*shape, 2 * len(COORDINATES)))
    for row, found in enumerate(people):
        for place, seen in enumerate(found):
            coordinate[row, place], method[row, place] = seen.coordinate, ROW[seen.method]
            side[row, place] = 0 if seen.side is Side.RIGHT else 1
            value[row, place], count[row, place], extra[row, place] = seen.value, seen.count, seen.extra_variance
            for along, weight in seen.weights or ((seen.coordinate, 1.0),):
                design[row, place, position(seen.side, along)] = weight
    empty = coordinate < 0
    bias = errors.bias[method, coordinate]
    same = (coordinate[:, :, None] == coordinate[:, None, :]) & (method[:, :, None] == method[:, None, :])
    same &= ~empty[:, :, None]
    noise = np.where(same, errors.shared_variance[method, coordinate][:, :, None], 0.0)
    same &= side[:, :, None] == side[:, None, :]
    noise += np.where(same, errors.session_variance[method, coordinate][:, :, None], 0.0)
    own = np.where(empty, 1.0, errors.repeat_variance[method, coordinate] / count + extra)
    diagonal = np.arange(places)
    noise[:, diagonal, diagonal] += own
    return Observations(design=design, observed=np.where(empty, 0.0, value - bias), noise=noise)
