"""Light through refracting surfaces on one axis: paraxial matrices and exact meridional rays.

Lengths run with the light, first surface to last. A curvature is positive where its centre lies behind the surface.
Axis 0 of every array is the surface; the other axes are eyes, and rays broadcast against them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import roots_jacobi

from .arrays import FloatArray, floats, refuse, refuse_infinite, refuse_unless_positive

__all__ = [
    "Cardinal",
    "Rays",
    "Surfaces",
    "cardinal_points",
    "paraxial_refraction_d",
    "surfaces_from_radii",
    "trace_rays",
    "traced_refraction_d",
]

# Rays a pupil is stood for by: exact for a refraction that is a polynomial of fifth degree in the square of the height.
PUPIL_RAYS = 3
# Launch of a ray that is as good as paraxial, and steps that bring a ray to its height in the pupil to 1e-9 mm.
NARROW_SINE = 1e-6
AIMING_STEPS = 4


@dataclass(frozen=True, slots=True)
class Surfaces:
    """Coaxial conic surfaces with the media around them."""

    curvature_per_mm: FloatArray
    """Shape (s, ...): 1 / radius, 0 for a flat surface."""
    conic: FloatArray
    """Shape (s, ...): 0 for a sphere, -1 for a paraboloid, less 1 than the shape factor p."""
    gap_mm: FloatArray
    """Shape (s - 1, ...): vertex to next vertex."""
    index: FloatArray
    """Shape (s + 1, ...): before the first, between, behind the last."""


@dataclass(frozen=True, slots=True)
class Cardinal:
    """Cardinal points; distances from the first vertex (front) and the last (back), positive with the light."""

    power_d: FloatArray
    back_focal_length_mm: FloatArray
    """Back principal plane to back focus."""
    back_focus_mm: FloatArray
    back_principal_mm: FloatArray
    front_focus_mm: FloatArray
    front_principal_mm: FloatArray


@dataclass(frozen=True, slots=True)
class Rays:
    """Rays behind the last surface, where they left it; NaN for a ray that missed a surface or was turned back."""

    height_mm: FloatArray
    depth_mm: FloatArray
    """Behind the last vertex: the sag of the surface."""
    sine: FloatArray
    """Positive: away from the axis."""
    cosine: FloatArray

    def height_at(self, distance_mm: ArrayLike) -> FloatArray:
        """Height on the plane at a distance behind the last vertex [mm]."""
        return np.asarray(self.height_mm + (floats(distance_mm) - self.depth_mm) * self.sine / self.cosine)


def surfaces_from_radii(
    *, radius_mm: ArrayLike, conic: ArrayLike, gap_mm: ArrayLike, index: ArrayLike
) -> Surfaces:  # fmt: skip
    """Surfaces as tables list them, by radius.

    Parameters
    ----------
    radius_mm : array_like, shape (s, ...)
        Vertex radii; infinite for a flat surface [mm].
    conic : array_like, shape (s, ...)
        Conic constants [1].
    gap_mm : array_like, shape (s - 1, ...)
        Distances between vertices [mm].
    index : array_like, shape (s + 1, ...)
        Refractive indices [1].

    Returns
    -------
    Surfaces

    Raises
    ------
    ImpossibleInputError
        On a radius of 0, a gap or an index that is not positive, or counts that do not fit.

    Example
    -------
    >>> ball = surfaces_from_radii(radius_mm=[5.0, -5.0], conic=[0, 0], gap_mm=[10.0], index=[1.0, 1.5, 1.0])
    >>> round(float(cardinal_points(ball).power_d), 2)
    133.33
    """
    radius, shape, gap, media = floats(radius_mm), floats(conic), floats(gap_mm), floats(index)
    counts = (len(radius), len(shape), len(gap) + 1, len(media) - 1)
    refuse(
        np.array(len(set(counts)) != 1),
        f"{counts[0]} radii, {counts[1]} conics, {counts[2] - 1} gaps and {counts[3] + 1} indices do not fit together; "
        "give one gap less and one index more than surfaces.",
    )
    refuse(radius == 0, "A radius cannot be 0.", values=radius)
    refuse_infinite(shape, "conic constant")
    refuse_unless_positive(gap, "distance between surfaces [mm]")
    refuse_unless_positive(media, "refractive index")
    return Surfaces(curvature_per_mm=np.asarray(1.0 / radius), conic=shape, gap_mm=gap, index=media)


def system_matrix(surfaces: Surfaces) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """A, B, C, D from the first vertex to the last, for height and index times angle [mm]."""
    a, b, c, d = np.array(1.0), np.array(0.0), np.array(0.0), np.array(1.0)
    for which, curvature in enumerate(surfaces.curvature_per_mm):
        power = (surfaces.index[which + 1] - surfaces.index[which]) * curvature
        c, d = c - power * a, d - power * b
        if which < len(surfaces.gap_mm):
            reduced = surfaces.gap_mm[which] / surfaces.index[which + 1]
            a, b = a + reduced * c, b + reduced * d
    return np.asarray(a), np.asarray(b), np.asarray(c), np.asarray(d)


def cardinal_points(surfaces: Surfaces) -> Cardinal:
    """Equivalent power, foci and principal planes.

    Parameters
    ----------
    surfaces : Surfaces
        s surfaces of any number of eyes.

    Returns
    -------
    Cardinal
        Arrays of the eyes' shape; the distances are infinite or NaN for a system without power.

    Notes
    -----
    With A, B, C, D of the system and n, n' the first and last index: power = -C; f' = -n' / C; back focus -n' A / C;
    front focus n D / C; principal planes n' (1 - A) / C and n (D - 1) / C.

    References
    ----------
    Gaussian optics; any textbook.
    """
    a, _, c, d = system_matrix(surfaces)
    first, last = surfaces.index[0], surfaces.index[-1]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        return Cardinal(
            power_d=np.asarray(-1000.0 * c),
            back_focal_length_mm=np.asarray(-last / c),
            back_focus_mm=np.asarray(-last * a / c),
            back_principal_mm=np.asarray(last * (1.0 - a) / c),
            front_focus_mm=np.asarray(first * d / c),
            front_principal_mm=np.asarray(first * (d - 1.0) / c),
        )


def paraxial_refraction_d(surfaces: Surfaces, *, retina_mm: ArrayLike) -> FloatArray:
    """Refraction at the first vertex that focuses a distant point on the retina, by the rays nearest to the axis.

    Parameters
    ----------
    surfaces : Surfaces
        The eye's surfaces.
    retina_mm : array_like
        Last vertex to retina, broadcastable with the eyes [mm].

    Returns
    -------
    ndarray
        Refraction at the corneal vertex [D].

    Raises
    ------
    ImpossibleInputError
        On a distance that is not positive.

    Notes
    -----
    R = (A + C t) / (B + D t), t the distance over the last index: the vergence whose image has no height.

    Example
    -------
    A thin lens of 50 D before 20 mm of air is 50 - 50 = 0 D out:

    >>> lens = Surfaces(np.array([0.1, 0.0]), np.zeros(2), np.array([1e-9]), np.array([1.0, 1.5, 1.0]))
    >>> bool(abs(paraxial_refraction_d(lens, retina_mm=20.0)) < 1e-4)
    True
    """
    distance = floats(retina_mm)
    refuse_unless_positive(distance, "distance from the last surface to the retina [mm]")
    a, b, c, d = system_matrix(surfaces)
    reduced = distance / surfaces.index[-1]
    return np.asarray(1000.0 * (a + c * reduced) / (b + d * reduced))


def trace_rays(surfaces: Surfaces, *, height_mm: ArrayLike, sine: ArrayLike = 0.0) -> Rays:
    """Rays in a plane through the axis, refracted exactly at every surface.

    Parameters
    ----------
    surfaces : Surfaces
        s surfaces of any number of eyes.
    height_mm : array_like
        Height on the plane through the first vertex, broadcastable with the eyes [mm].
    sine : array_like
        Sine of the angle to the axis, positive away from it; 0 for a distant point on the axis [1].

    Returns
    -------
    Rays
        NaN where a ray misses a surface or is totally reflected.

    Notes
    -----
    A surface is c (y^2 + (1 + k) z^2) = 2 z. From the vertex plane at height y the ray travels s = f / (g +
    sqrt(g^2 - a f)), f = c y^2, g = N - c y M, a = c (1 + k N^2), with M and N its sine and cosine: free of
    cancellation and right for a flat surface. The law of refraction is used in vector form.

    References
    ----------
    Ray tracing as any textbook of optical design has it.
    """
    with np.errstate(invalid="ignore"):
        height, slope = np.broadcast_arrays(floats(height_mm), floats(sine))
        along = np.sqrt(1.0 - slope * slope)
        depth = np.zeros_like(height)
        for which, curvature in enumerate(surfaces.curvature_per_mm):
            if which:
                height = height + (surfaces.gap_mm[which - 1] - depth) * slope / along
            ratio = surfaces.index[which] / surfaces.index[which + 1]
            height, depth, slope, along = refract(height, slope, along, curvature, surfaces.conic[which], ratio)
    return Rays(height_mm=height, depth_mm=depth, sine=slope, cosine=along)


def refract(
    height: FloatArray,
    sine: FloatArray,
    cosine: FloatArray,
    curvature: FloatArray,
    conic: FloatArray,
    ratio: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """One surface: from the plane of its vertex to the point where the ray leaves it, with its new direction."""
    f = curvature * height * height
    g = cosine - curvature * height * sine
    path = f / (g + np.sqrt(g * g - curvature * (1.0 + conic * cosine * cosine) * f))
    y, z = height + sine * path, cosine * path
    normal_y, normal_z = -curvature * y, 1.0 - curvature * (1.0 + conic) * z
    length = np.hypot(normal_y, normal_z)
    normal_y, normal_z = normal_y / length, normal_z / length
    meeting = sine * normal_y + cosine * normal_z
    leaving = np.sqrt(1.0 - ratio * ratio * (1.0 - meeting * meeting))
    turn = leaving - ratio * meeting
    return y, z, ratio * sine + turn * normal_y, ratio * cosine + turn * normal_z


def turned(surfaces: Surfaces) -> Surfaces:
    """The same surfaces as light from behind meets them."""
    return Surfaces(-surfaces.curvature_per_mm[::-1], surfaces.conic[::-1], surfaces.gap_mm[::-1], surfaces.index[::-1])


def traced_refraction_d(surfaces: Surfaces, *, retina_mm: ArrayLike, pupil_mm: ArrayLike) -> FloatArray:
    """Refraction at the first vertex that gives the smallest spot through a pupil, by exact rays.

    Parameters
    ----------
    surfaces : Surfaces
        The eye's surfaces.
    retina_mm : array_like
        Last vertex to retina, broadcastable with the eyes [mm].
    pupil_mm : array_like
        Diameter of the bundle where it crosses the first surface; 0 for paraxial light [mm].

    Returns
    -------
    ndarray
        Refraction at the corneal vertex [D]; NaN where rays of that height do not reach the retina.

    Raises
    ------
    ImpossibleInputError
        On a distance that is not positive or a negative pupil.

    Notes
    -----
    Rays are sent out from the retina; one that leaves the cornea at height h seems to come from, or go to, a point
    of vergence R(h). The spot is smallest, in root mean square over the area of the pupil, for the mean of R(h)
    with weight h^3 dh. The height is measured on the cornea, not at the iris.
    """
    distance, pupil = floats(retina_mm), floats(pupil_mm)
    refuse(pupil < 0, "The pupil cannot be smaller than 0.", values=pupil)
    refuse_infinite(pupil, "pupil [mm]")
    paraxial = paraxial_refraction_d(surfaces, retina_mm=distance)
    outward = turned(surfaces)
    nodes, weights = roots_jacobi(PUPIL_RAYS, 0.0, 1.0)
    radius = 0.5 * np.where(pupil == 0, 1.0, pupil)
    total = np.zeros(np.broadcast_shapes(paraxial.shape, radius.shape))
    start = np.full_like(paraxial, NARROW_SINE)
    narrow = trace_rays(outward, height_mm=distance * start, sine=start).height_mm / NARROW_SINE
    for node, weight in zip(nodes, weights / weights.sum(), strict=True):
        height = radius * np.sqrt(0.5 * (1.0 + node))
        sine = height / narrow
        for _ in range(AIMING_STEPS):
            with np.errstate(invalid="ignore"):
                launched = distance * sine / np.sqrt(1.0 - sine * sine)
            out = trace_rays(outward, height_mm=launched, sine=sine)
            sine = sine * height / out.height_mm
        total += weight * 1000.0 * out.sine / (out.height_mm * out.cosine - out.depth_mm * out.sine)
    return np.asarray(np.where(pupil == 0, paraxial, total))
