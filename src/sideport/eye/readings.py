"""Every reading of every person as columns: the one place where records become arrays."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray
from ..optics.power_vector import CornealVector, corneal_vector_from_keratometry
from ..optics.side import Side
from .measurement import Quantity
from .method import METHODS
from .person import Person

__all__ = ["QUANTITIES", "SIDES", "Keratometry", "Readings", "pair_keratometry", "read_all"]

IntArray = NDArray[np.intp]

SIDES = (Side.RIGHT, Side.LEFT)
QUANTITIES: tuple[Quantity, ...] = tuple(Quantity)
K1, K2 = QUANTITIES.index(Quantity.K1), QUANTITIES.index(Quantity.K2)


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """Columns of equal length, one place a reading, in the order of the people and of their records."""

    person: IntArray
    """Index into the people."""
    side: IntArray
    """Index into ``SIDES``."""
    quantity: IntArray
    """Index into ``QUANTITIES``."""
    method: IntArray
    """Index into ``METHODS``."""
    value: FloatArray
    axis_deg: FloatArray
    repeat: IntArray

    def where(self, chosen: NDArray[np.bool_] | IntArray) -> "Readings":
        """The chosen readings alone, by a mask or by their places."""
        return Readings(
            self.person[chosen], self.side[chosen], self.quantity[chosen], self.method[chosen],
            self.value[chosen], self.axis_deg[chosen], self.repeat[chosen],
        )  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class Keratometry:
    """Keratometry put together from K1 and K2 of one method and repeat; NaN where one of the two stands alone."""

    person: IntArray
    side: IntArray
    method: IntArray
    k1_d: FloatArray
    k1_axis_deg: FloatArray
    k2_d: FloatArray
    k2_axis_deg: FloatArray
    vector: CornealVector
    rows: IntArray
    """(2, m): which readings K1 and K2 are; -1 where there is none."""


def read_all(people: Sequence[Person]) -> Readings:
    """Takes the readings out of the records; a NaN value counts as missing.

    Raises
    ------
    ImpossibleInputError
        On a value that is infinite, zero or negative, an axis outside 0 to 180, or a reading filed under the other eye.
    """
    side_of = {side: place for place, side in enumerate(SIDES)}
    quantity_of = {quantity: place for place, quantity in enumerate(QUANTITIES)}
    method_of = {method: place for place, method in enumerate(METHODS)}
    rows = [
        (
            index,
            side_of[reading.side],
            quantity_of[reading.quantity],
            method_of[reading.method],
            reading.reading,
            reading.side is record.side,
            reading.value,
            np.nan if reading.axis_deg is None else reading.axis_deg,
        )
        for index, person in enumerate(people)
        for record in person.eyes
        for reading in record.measurements
    ]
    table = np.array(rows, dtype=np.float64).reshape(len(rows), 8)
    whole = table[:, :5].astype(np.intp)
    readings = Readings(
        person=whole[:, 0], side=whole[:, 1], quantity=whole[:, 2], method=whole[:, 3], repeat=whole[:, 4],
        value=table[:, 6], axis_deg=table[:, 7],
    )  # fmt: skip
    refuse_impossible(readings, filed_right=table[:, 5] > 0)
    return readings.where(~np.isnan(readings.value))


def refuse_impossible(readings: Readings, *, filed_right: NDArray[np.bool_]) -> None:
    """Raises on the first kind of impossible reading, with its count and the first offender."""
    value, axis = readings.value, readings.axis_deg
    checks = (
        ((value <= 0) | np.isinf(value), "must be a positive number; correct or remove it"),
        ((axis < 0) | (axis > 180), "has an axis outside 0 to 180 degrees; correct it"),
        (~filed_right, "names one eye but is filed under the other; move it"),
    )
    for wrong, rule in checks:
        if wrong.any():
            first = int(np.argmax(wrong))
            name, side = QUANTITIES[readings.quantity[first]].value, SIDES[readings.side[first]].value
            raise ImpossibleInputError(
                f"{int(wrong.sum())} reading(s): {name} of {value[first]:g} in the {side} eye "
                f"(person number {readings.person[first] + 1} on the list) {rule}."
            )


def pair_keratometry(readings: Readings) -> Keratometry:
    """K1 with K2 of the same eye, method and repeat number; several with one number pair off in their order."""
    place = np.flatnonzero((readings.quantity == K1) | (readings.quantity == K2))
    found = readings.where(place)
    second = found.quantity == K2
    repeat = np.unique(found.repeat, return_inverse=True)[1]
    group = (found.person * len(SIDES) + found.side) * len(METHODS) + found.method
    group = group * (int(repeat.max(initial=0)) + 1) + repeat
    turn = place_within(group * 2 + second)
    pair, slot = np.unique(group * (int(turn.max(initial=0)) + 1) + turn, return_inverse=True)
    columns = np.full((4, len(pair)), np.nan)
    rows = np.full((2, len(pair)), -1, dtype=np.intp)
    for offset, chosen in ((0, ~second), (2, second)):
        rows[offset // 2, slot[chosen]] = place[chosen]
        columns[offset, slot[chosen]] = found.value[chosen]
        columns[offset + 1, slot[chosen]] = found.axis_deg[chosen]
    owner = np.zeros((3, len(pair)), dtype=np.intp)
    owner[:, slot] = found.person, found.side, found.method
    k1, a1, k2, a2 = columns
    return Keratometry(
        person=owner[0],
        side=owner[1],
        method=owner[2],
        k1_d=k1,
        k1_axis_deg=a1,
        k2_d=k2,
        k2_axis_deg=a2,
        vector=corneal_vector_from_keratometry(k1_d=k1, k1_axis_deg=a1, k2_d=k2, k2_axis_deg=a2),
        rows=rows,
    )


def place_within(group: IntArray) -> IntArray:
    """For each member its number (from 0) among the earlier members of its group."""
    order = np.argsort(group, kind="stable")
    ordered = group[order]
    starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]]) if len(group) else np.zeros(0, dtype=np.intp)
    lengths = np.diff(np.r_[starts, len(group)])
    place = np.empty(len(group), dtype=np.intp)
    place[order] = np.arange(len(group)) - np.repeat(starts, lengths)
    return place
