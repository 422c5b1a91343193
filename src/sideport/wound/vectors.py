"""Vector analysis of an operation on astigmatism: what was meant, what was done, what is left to do."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..optics.arrays import FloatArray, floats, refuse, refuse_infinite

__all__ = ["SOURCES", "PolarValue", "VectorAnalysis", "analyse_astigmatism", "double_angle", "polar_value"]

# Keys of the works that give the indices, the aggregate analysis and the polar values.
SOURCES = ("alpins2001", "holladay2001", "naeser2008")

ComplexArray = NDArray[np.complex128]

BLOCK = 8_192
"""Rows at a time: the temporaries of a block stay in the cache."""


@dataclass(frozen=True, slots=True)
class VectorAnalysis:
    """One operation, or many, by target, induced and difference vector. Corneal, dioptres of cylinder, axes steep."""

    target_d: FloatArray
    """Change that was meant (target induced astigmatism)."""
    target_axis_deg: FloatArray
    """Meridian that was to be steepened, 0 up to 180; 90 for no change."""
    induced_d: FloatArray
    """Change that happened (surgically induced astigmatism)."""
    induced_axis_deg: FloatArray
    """Meridian that was steepened, 0 up to 180; 90 for no change."""
    difference_d: FloatArray
    """Change that is still wanting (difference vector)."""
    difference_axis_deg: FloatArray
    """Meridian that would still have to be steepened, 0 up to 180; 90 for none."""
    angle_of_error_deg: FloatArray
    """From the target's axis to the induced one, -90 up to 90; positive counter-clockwise; NaN where either is none."""
    flattening_d: FloatArray
    """Part of the induced change along the target: effective where positive."""
    torque_d: FloatArray
    """Part of the induced change at 45 degrees to the target; positive counter-clockwise."""

    @property
    def correction_index(self) -> FloatArray:
        """Induced over target; 1 is exact, over 1 too much. Biased upward for small targets by noise; NaN for none."""
        return ratio(self.induced_d, self.target_d)

    @property
    def flattening_index(self) -> FloatArray:
        """Part along the target over target; less biased by noise than the correction index; NaN for no target."""
        return ratio(self.flattening_d, self.target_d)

    @property
    def index_of_success(self) -> FloatArray:
        """Difference over target; 0 is exact; NaN for no target."""
        return ratio(self.difference_d, self.target_d)

    @property
    def magnitude_of_error_d(self) -> FloatArray:
        """Induced less target; positive is too much."""
        return np.asarray(self.induced_d - self.target_d)


@dataclass(frozen=True, slots=True)
class PolarValue:
    """An astigmatism as seen from one meridian."""

    along_d: FloatArray
    """Positive: steeper along the meridian; negative: flatter."""
    torque_d: FloatArray
    """At 45 degrees to it; positive counter-clockwise."""


def double_angle(*, magnitude_d: ArrayLike, axis_deg: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Double-angle coordinates of an astigmatism, in whole dioptres of cylinder.

    Parameters
    ----------
    magnitude_d, axis_deg : array_like
        Size [D] and steep axis [deg].

    Returns
    -------
    tuple of ndarray
        x, positive for 0/180, and y, positive for 45; twice the power vector's J0 and J45.

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    References
    ----------
    holladay2001, doubleangletext.

    Examples
    --------
    >>> [round(float(part), 3) for part in double_angle(magnitude_d=2.0, axis_deg=60.0)]
    [-1.0, 1.732]
    """
    size, axis = floats(magnitude_d), floats(axis_deg)
    refuse_infinite(size, "astigmatism [D]")
    refuse_infinite(axis, "axis [deg]")
    doubled = np.radians(2.0 * axis)
    return np.asarray(size * np.cos(doubled)), np.asarray(size * np.sin(doubled))


def polar_value(*, magnitude_d: ArrayLike, axis_deg: ArrayLike, meridian_deg: ArrayLike) -> PolarValue:
    """Polar values of an astigmatism on a meridian, for example that of the cut.

    Parameters
    ----------
    magnitude_d, axis_deg : array_like
        Size [D] and steep axis [deg].
    meridian_deg : array_like
        The meridian [deg].

    Returns
    -------
    PolarValue
        ``M cos 2(a - m)`` and ``M sin 2(a - m)`` [D].

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    References
    ----------
    naeser2008 (equations recalled).

    Examples
    --------
    A superior cut that steepens the horizontal by 1 D flattens its own meridian by 1 D, without torque:

    >>> found = polar_value(magnitude_d=1.0, axis_deg=0.0, meridian_deg=90.0)
    >>> float(found.along_d), abs(round(float(found.torque_d), 12))
    (-1.0, 0.0)
    """
    refuse_infinite(floats(meridian_deg), "meridian [deg]")
    along, torque = double_angle(magnitude_d=magnitude_d, axis_deg=floats(axis_deg) - floats(meridian_deg))
    return PolarValue(along, torque)


def analyse_astigmatism(
    *,
    before_d: ArrayLike,
    before_axis_deg: ArrayLike,
    after_d: ArrayLike,
    after_axis_deg: ArrayLike,
    target_d: ArrayLike = 0.0,
    target_axis_deg: ArrayLike = 90.0,
) -> VectorAnalysis:
    """Target, induced and difference vectors with their angle, flattening and torque.

    Parameters
    ----------
    before_d, before_axis_deg : array_like
        Corneal astigmatism before: size [D] and steep axis [deg].
    after_d, after_axis_deg : array_like
        After.
    target_d, target_axis_deg : array_like, optional
        Wished astigmatism; none unless given.

    Returns
    -------
    VectorAnalysis
        Arrays of the broadcast shape; a row with NaN is NaN.

    Raises
    ------
    ImpossibleInputError
        On a negative size or an infinite value.

    Notes
    -----
    On the double-angle plane, with b, a and t the vectors before, after and wished: target ``t - b``, induced
    ``a - b``, difference ``t - a``. Flattening effect and torque are the induced vector's parts along the target and at
    right angles to it on that plane: ``SIA cos 2e`` and ``SIA sin 2e`` with the angle of error e. They are computed
    without the angle, so that they hold through 0/180.

    References
    ----------
    alpins2001 (recalled), holladay2001, doubleangletext.

    Examples
    --------
    One dioptre at 90 turned to one dioptre at 180 is a change of two dioptres, not of none:

    >>> found = analyse_astigmatism(before_d=1.0, before_axis_deg=90.0, after_d=1.0, after_axis_deg=180.0)
    >>> round(float(found.induced_d), 9), round(float(found.induced_axis_deg), 6) % 180
    (2.0, 0.0)
    """
    given = [floats(one) for one in (before_d, before_axis_deg, after_d, after_axis_deg, target_d, target_axis_deg)]
    for size, axis in zip(given[::2], given[1::2], strict=True):
        refuse(size < 0, "An astigmatism must not be negative; give its size and its steep axis.", values=size)
        refuse_infinite(size, "astigmatism [D]")
        refuse_infinite(axis, "axis [deg]")
    shape = np.broadcast_shapes(*(one.shape for one in given))
    count = int(np.prod(shape))
    flat = [one if one.ndim == 0 else np.broadcast_to(one, shape).reshape(-1) for one in given]
    found = np.empty((9, count))
    for start in range(0, count, BLOCK):
        part = slice(start, start + BLOCK)
        analyse_block([one if one.ndim == 0 else one[part] for one in flat], found[:, part])
    return VectorAnalysis(*(row.reshape(shape) for row in found))


def analyse_block(given: list[FloatArray], found: FloatArray) -> None:
    """The nine results of one block of rows."""
    pairs = zip(given[::2], given[1::2], strict=True)
    plane = [np.asarray(size * np.exp(2j * np.radians(axis)), dtype=np.complex128) for size, axis in pairs]
    target, induced, difference = plane[2] - plane[0], plane[1] - plane[0], plane[2] - plane[1]
    for row, vector in zip((0, 2, 4), (target, induced, difference), strict=True):
        found[row] = np.abs(vector)
        found[row + 1] = axis_of(vector)
    turned = induced * np.conj(target)
    length = np.where(found[0] > 0, found[0], np.nan)
    found[6] = np.where((found[0] > 0) & (found[2] > 0), half_angle(turned), np.nan)
    found[7], found[8] = turned.real / length, turned.imag / length


def half_angle(vector: ComplexArray) -> FloatArray:
    """Half the angle of a vector, -90 up to 90 [deg]."""
    angle = np.degrees(0.5 * np.arctan2(vector.imag, vector.real))
    return np.asarray(np.where(angle >= 90.0, -90.0, angle))


def axis_of(vector: ComplexArray) -> FloatArray:
    """Axis of a vector, 0 up to 180; 90 for one of no length [deg]."""
    axis = half_angle(vector)
    axis = np.where(axis < 0, axis + 180.0, axis)
    # A tiny negative angle comes out as 180 itself.
    axis = np.where(axis >= 180.0, 0.0, axis)
    return np.asarray(np.where(vector == 0, 90.0, axis))


def ratio(part: FloatArray, whole: FloatArray) -> FloatArray:
    """Part over whole; NaN where the whole is nothing."""
    return np.asarray(part / np.where(whole > 0, whole, np.nan))
