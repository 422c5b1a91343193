"""Keratometry: corneal radius and power, at whatever index the power is stated."""

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, floats, refuse, refuse_unless_positive

__all__ = ["KERATOMETRIC_INDEX", "power_from_radius", "radius_from_power", "thick_cornea_power"]

# The index by which most keratometers turn radius into dioptres: 7.50 mm reads 45.00 D (convention, recalled).
KERATOMETRIC_INDEX = 1.3375


def power_from_radius(*, radius_mm: ArrayLike, index: ArrayLike = KERATOMETRIC_INDEX) -> FloatArray:
    """Corneal power for a front radius, as a keratometer states it.

    Parameters
    ----------
    radius_mm : array_like
        Radius of the corneal front, any broadcastable shape [mm].
    index : array_like
        Index of the conversion, above 1 [1].

    Returns
    -------
    ndarray
        Power [D].

    Raises
    ------
    ImpossibleInputError
        On a radius that is not positive or an index not above 1.

    Notes
    -----
    K = 1000 (index - 1) / r. The index stands for the back of the cornea too, so the power is a convention: store the
    index with it. Known others are 1.332 and 1.336 (recalled).

    References
    ----------
    gullstrand1909 gives the surfaces that a single index stands for; the index itself is an instrument convention.

    Example
    -------
    >>> round(float(power_from_radius(radius_mm=7.50)), 9)
    45.0
    """
    radius = floats(radius_mm)
    refuse_unless_positive(radius, "corneal radius [mm]")
    return np.asarray(1000.0 * checked_excess(index) / radius)


def radius_from_power(*, power_d: ArrayLike, index: ArrayLike = KERATOMETRIC_INDEX) -> FloatArray:
    """Front radius behind a keratometer's power; inverse of `power_from_radius`.

    Parameters
    ----------
    power_d : array_like
        Power as the instrument states it, any broadcastable shape [D].
    index : array_like
        Index that the instrument used, above 1 [1].

    Returns
    -------
    ndarray
        Radius [mm].

    Raises
    ------
    ImpossibleInputError
        On a power that is not positive or an index not above 1.
    """
    power = floats(power_d)
    refuse_unless_positive(power, "corneal power [D]")
    return np.asarray(1000.0 * checked_excess(index) / power)


def thick_cornea_power(
    *,
    front_radius_mm: ArrayLike,
    back_radius_mm: ArrayLike,
    thickness_mm: ArrayLike,
    cornea_index: ArrayLike,
    aqueous_index: ArrayLike,
) -> FloatArray:
    """Equivalent power of a cornea with both surfaces and its thickness.

    Parameters
    ----------
    front_radius_mm, back_radius_mm : array_like
        Radii, both positive (curved the same way), any broadcastable shape [mm].
    thickness_mm : array_like
        Central thickness [mm].
    cornea_index, aqueous_index : array_like
        Refractive indices [1].

    Returns
    -------
    ndarray
        Equivalent power [D].

    Raises
    ------
    ImpossibleInputError
        On a radius or thickness that is not positive, or an index not above 1.

    Notes
    -----
    F = F1 + F2 - (t / n) F1 F2, F1 = (n - 1) / r1, F2 = (n' - n) / r2.

    References
    ----------
    gullstrand1909 (values recalled).

    Example
    -------
    >>> cornea = dict(front_radius_mm=7.7, back_radius_mm=6.8, thickness_mm=0.5)
    >>> round(float(thick_cornea_power(**cornea, cornea_index=1.376, aqueous_index=1.336)), 2)
    43.05
    """
    front, back, thickness = floats(front_radius_mm), floats(back_radius_mm), floats(thickness_mm)
    for values, name in ((front, "front radius [mm]"), (back, "back radius [mm]"), (thickness, "thickness [mm]")):
        refuse_unless_positive(values, f"cornea's {name}")
    inner = checked_excess(cornea_index)
    first = 1000.0 * inner / front
    second = 1000.0 * (checked_excess(aqueous_index) - inner) / back
    return np.asarray(first + second - 0.001 * thickness / (1.0 + inner) * first * second)


def checked_excess(index: ArrayLike) -> FloatArray:
    """The index less 1, once it is a medium's."""
    excess = floats(index) - 1.0
    refuse((excess <= 0) | np.isinf(excess), "A refractive index must be above 1.", values=excess + 1.0)
    return excess
