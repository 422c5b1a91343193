"""Sphere, cylinder and axis as vectors that can be added and averaged.

Two signs must not be mixed. A *refraction* vector describes the lens that corrects; a *corneal* vector describes the
surface itself. For the same eye their J0 and J45 are opposite. Here ``refraction_…`` and ``corneal_…`` say which.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from .arrays import FloatArray, floats, refuse_infinite, refuse_unless_positive

__all__ = [
    "SOURCE",
    "CornealAstigmatism",
    "CornealVector",
    "RefractionVector",
    "SphereCylinder",
    "corneal_astigmatism",
    "corneal_vector_from_astigmatism",
    "corneal_vector_from_keratometry",
    "refraction_vector",
    "sphere_cylinder",
]

# Key of the work that gives the notation and its equations.
SOURCE = "thibos1997"


@dataclass(frozen=True, slots=True)
class RefractionVector:
    """A refraction (the correcting lens) as mean sphere and two crossed cylinders."""

    mean_d: FloatArray
    j0_d: FloatArray
    """Positive for minus cylinder at axis 180: with the rule."""
    j45_d: FloatArray
    """Positive for minus cylinder at axis 45."""

    @property
    def blur_d(self) -> FloatArray:
        """Length of the vector: the overall blurring strength [D]."""
        return np.asarray(np.sqrt(self.mean_d**2 + self.j0_d**2 + self.j45_d**2))


@dataclass(frozen=True, slots=True)
class SphereCylinder:
    """A refraction in minus-cylinder form."""

    sphere_d: FloatArray
    cylinder_d: FloatArray
    """0 or negative."""
    axis_deg: FloatArray
    """0 <= axis < 180; 90 where there is no cylinder."""


@dataclass(frozen=True, slots=True)
class CornealVector:
    """Power of the cornea as mean and two crossed cylinders: K(m) = mean + J0 cos 2m + J45 sin 2m along meridian m."""

    mean_d: FloatArray
    j0_d: FloatArray
    """Positive for a steep meridian at 0/180: against the rule. Half of the double-angle x."""
    j45_d: FloatArray
    """Positive for a steep meridian at 45. Half of the double-angle y."""
    off_square_deg: FloatArray
    """By how much the two recorded meridians miss a right angle, 0 to 90; NaN where one was not recorded."""


@dataclass(frozen=True, slots=True)
class CornealAstigmatism:
    """Corneal astigmatism by size and steep meridian."""

    magnitude_d: FloatArray
    steep_axis_deg: FloatArray
    """0 <= axis < 180; 90 where there is none."""


def refraction_vector(*, sphere_d: ArrayLike, cylinder_d: ArrayLike, axis_deg: ArrayLike) -> RefractionVector:
    """Power vector of a refraction in plus- or minus-cylinder form.

    Parameters
    ----------
    sphere_d, cylinder_d : array_like
        Sphere and cylinder, any broadcastable shape [D].
    axis_deg : array_like
        Axis of the cylinder [deg].

    Returns
    -------
    RefractionVector
        Mean, J0 and J45 [D].

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    Notes
    -----
    M = S + C / 2; J0 = -(C / 2) cos 2a; J45 = -(C / 2) sin 2a.

    References
    ----------
    thibos1997 (equations recalled).

    Example
    -------
    >>> vector = refraction_vector(sphere_d=0.0, cylinder_d=2.0, axis_deg=60.0)
    >>> [round(float(part), 3) for part in (vector.mean_d, vector.j0_d, vector.j45_d)]
    [1.0, 0.5, -0.866]
    """
    sphere, cylinder, axis = np.broadcast_arrays(floats(sphere_d), floats(cylinder_d), floats(axis_deg))
    for values, name in ((sphere, "sphere [D]"), (cylinder, "cylinder [D]"), (axis, "axis [deg]")):
        refuse_infinite(values, name)
    doubled = np.radians(2.0 * axis)
    return RefractionVector(
        mean_d=np.asarray(sphere + 0.5 * cylinder),
        j0_d=np.asarray(-0.5 * cylinder * np.cos(doubled)),
        j45_d=np.asarray(-0.5 * cylinder * np.sin(doubled)),
    )


def sphere_cylinder(*, mean_d: ArrayLike, j0_d: ArrayLike, j45_d: ArrayLike) -> SphereCylinder:
    """Minus-cylinder form of a refraction's power vector; inverse of `refraction_vector`.

    Parameters
    ----------
    mean_d, j0_d, j45_d : array_like
        Mean sphere and crossed cylinders, any broadcastable shape [D].

    Returns
    -------
    SphereCylinder
        Sphere [D], cylinder (0 or negative) [D], axis [deg].

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    Notes
    -----
    C = -2 sqrt(J0^2 + J45^2); a = atan2(J45, J0) / 2; S = M - C / 2.
    For a refraction that is to be read by people again: the mean of several, or what the eye is expected to need.

    References
    ----------
    thibos1997 (equations recalled).

    Example
    -------
    >>> lens = sphere_cylinder(mean_d=1.0, j0_d=0.5, j45_d=-0.8660254)
    >>> [round(float(part), 2) for part in (lens.sphere_d, lens.cylinder_d, lens.axis_deg)]
    [2.0, -2.0, 150.0]
    """
    mean, j0, j45 = np.broadcast_arrays(floats(mean_d), floats(j0_d), floats(j45_d))
    for values, name in ((mean, "mean sphere [D]"), (j0, "J0 [D]"), (j45, "J45 [D]")):
        refuse_infinite(values, name)
    half = np.hypot(j0, j45)
    return SphereCylinder(np.asarray(mean + half), np.asarray(-2.0 * half), axis_of(j0, j45))


def corneal_vector_from_keratometry(
    *, k1_d: ArrayLike, k1_axis_deg: ArrayLike, k2_d: ArrayLike, k2_axis_deg: ArrayLike
) -> CornealVector:
    """Corneal power vector of two principal powers and their meridians.

    Parameters
    ----------
    k1_d, k1_axis_deg : array_like
        One principal power [D] and its meridian [deg], any broadcastable shape.
    k2_d, k2_axis_deg : array_like
        The other, in either order; one meridian may be NaN and is then taken at right angles to the other.

    Returns
    -------
    CornealVector
        Mean, J0, J45 [D] and how far the meridians miss a right angle [deg].

    Raises
    ------
    ImpossibleInputError
        On a power that is not positive or an infinite axis.

    Notes
    -----
    J0 + i J45 = (K1 - K2) / 2 times the unit direction of exp(2 i a1) - exp(2 i a2), exact for perpendicular meridians.
    Where they miss a right angle the axis halves the difference, the size stays K1 - K2, and ``off_square_deg`` tells
    the caller; where both name one meridian no axis can be known and J0, J45 are NaN. Equal powers give 0, whatever
    the axes.
    """
    k1, a1, k2, a2 = np.broadcast_arrays(floats(k1_d), floats(k1_axis_deg), floats(k2_d), floats(k2_axis_deg))
    for powers in (k1, k2):
        refuse_unless_positive(powers, "corneal power [D]")
    for axes in (a1, a2):
        refuse_infinite(axes, "axis [deg]")
    first = np.where(np.isnan(a1), a2 + 90.0, a1)
    second = np.where(np.isnan(a2), a1 + 90.0, a2)
    off = np.abs((np.abs(a1 - a2) % 180.0) - 90.0)
    east = np.cos(np.radians(2.0 * first)) - np.cos(np.radians(2.0 * second))
    north = np.sin(np.radians(2.0 * first)) - np.sin(np.radians(2.0 * second))
    length = np.hypot(east, north)
    # Below this the two meridians are one and the same but for rounding.
    known = np.where(length > 1e-9, length, np.nan)
    half = 0.5 * (k1 - k2)
    return CornealVector(
        mean_d=np.asarray(0.5 * (k1 + k2)),
        j0_d=np.asarray(np.where(half == 0.0, 0.0, half * east / known)),
        j45_d=np.asarray(np.where(half == 0.0, 0.0, half * north / known)),
        off_square_deg=np.asarray(off),
    )


def corneal_vector_from_astigmatism(
    *, mean_d: ArrayLike, magnitude_d: ArrayLike, steep_axis_deg: ArrayLike
) -> CornealVector:
    """Corneal power vector of a mean power with an astigmatism; inverse of `corneal_astigmatism`.

    Parameters
    ----------
    mean_d, magnitude_d : array_like
        Mean power and size of the astigmatism, any broadcastable shape [D].
    steep_axis_deg : array_like
        Steep meridian [deg].

    Returns
    -------
    CornealVector
        With ``off_square_deg`` 0.

    Raises
    ------
    ImpossibleInputError
        On an infinite value.
    """
    mean, size, axis = np.broadcast_arrays(floats(mean_d), floats(magnitude_d), floats(steep_axis_deg))
    for values, name in ((mean, "mean power [D]"), (size, "astigmatism [D]"), (axis, "axis [deg]")):
        refuse_infinite(values, name)
    doubled = np.radians(2.0 * axis)
    return CornealVector(
        mean_d=np.array(mean),
        j0_d=np.asarray(0.5 * size * np.cos(doubled)),
        j45_d=np.asarray(0.5 * size * np.sin(doubled)),
        off_square_deg=np.zeros(size.shape),
    )


def corneal_astigmatism(*, j0_d: ArrayLike, j45_d: ArrayLike) -> CornealAstigmatism:
    """Size and steep meridian of a corneal vector.

    Parameters
    ----------
    j0_d, j45_d : array_like
        Crossed cylinders of a *corneal* vector, any broadcastable shape [D].

    Returns
    -------
    CornealAstigmatism
        Magnitude [D] and steep meridian [deg].

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    Example
    -------
    >>> found = corneal_astigmatism(j0_d=-0.5, j45_d=0.0)
    >>> float(found.magnitude_d), float(found.steep_axis_deg)
    (1.0, 90.0)
    """
    j0, j45 = np.broadcast_arrays(floats(j0_d), floats(j45_d))
    for values, name in ((j0, "J0 [D]"), (j45, "J45 [D]")):
        refuse_infinite(values, name)
    return CornealAstigmatism(np.asarray(2.0 * np.hypot(j0, j45)), axis_of(j0, j45))


def axis_of(j0: FloatArray, j45: FloatArray) -> FloatArray:
    """Half the angle of the vector in [0, 180); 90 for a vector of no length."""
    axis = np.degrees(0.5 * np.arctan2(j45, j0)) % 180.0
    # A tiny negative angle comes back from the remainder as 180 itself.
    axis = np.where(axis >= 180.0, 0.0, axis)
    return np.asarray(np.where((j0 == 0.0) & (j45 == 0.0), 90.0, axis))
