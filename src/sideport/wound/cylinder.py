"""What is left of corneal astigmatism after a cut: sums of vectors and the chance of a small cylinder."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray
from ..optics.power_vector import CornealAstigmatism, corneal_astigmatism, corneal_vector_from_astigmatism

__all__ = ["cylinder_after", "probability_cylinder_within"]

NODES, WEIGHTS = np.polynomial.legendre.leggauss(96)
REACH_SD = 9.0
"""Beyond this many standard deviations a normal density adds less than 1e-18."""


def cylinder_after(
    *, magnitude_d: ArrayLike, axis_deg: ArrayLike, induced_d: ArrayLike, induced_axis_deg: ArrayLike
) -> CornealAstigmatism:
    """Corneal cylinder after a cut, added as vectors.

    Parameters
    ----------
    magnitude_d : array_like
        Corneal astigmatism before [D].
    axis_deg : array_like
        Its steep meridian [deg].
    induced_d : array_like
        Astigmatism that the cut adds [D].
    induced_axis_deg : array_like
        Meridian that the cut steepens [deg].

    Returns
    -------
    CornealAstigmatism
        Magnitude [D] and steep meridian [deg], at least 0 and under 180, of the sum.

    Examples
    --------
    A horizontal cut on a cornea that is steep horizontally by one dioptre:

    >>> after = cylinder_after(magnitude_d=1.0, axis_deg=180.0, induced_d=0.5, induced_axis_deg=90.0)
    >>> round(float(after.magnitude_d), 12)
    0.5
    """
    before = corneal_vector_from_astigmatism(mean_d=0.0, magnitude_d=magnitude_d, steep_axis_deg=axis_deg)
    added = corneal_vector_from_astigmatism(mean_d=0.0, magnitude_d=induced_d, steep_axis_deg=induced_axis_deg)
    return corneal_astigmatism(j0_d=before.j0_d + added.j0_d, j45_d=before.j45_d + added.j45_d)


def probability_cylinder_within(*, mean: ArrayLike, covariance: ArrayLike, limit_d: ArrayLike) -> FloatArray:
    """Probability that a cylinder is at most a limit, when its power vector is normal.

    Parameters
    ----------
    mean : array_like, shape (..., 2)
        Mean of (J0, J45) [D].
    covariance : array_like, shape (..., 2, 2)
        Covariance of (J0, J45) [D^2].
    limit_d : array_like, shape (...)
        Largest cylinder magnitude that counts [D].

    Returns
    -------
    ndarray, shape (...)
        Probability; NaN where any input is NaN.

    Raises
    ------
    ImpossibleInputError
        For a negative limit or a covariance with a negative variance.

    Notes
    -----
    The cylinder is twice the length of (J0, J45), so this is the mass of a bivariate normal in a disc of radius
    ``limit_d / 2``. The vector is turned to the principal axes; the inner integral is a difference of normal
    distribution functions, the outer one Gauss-Legendre over ``radius * sin(t)``, cut off at nine standard deviations.
    A covariance of zero gives 0 or 1.
    """
    centre = np.asarray(mean, dtype=float)
    spread = np.asarray(covariance, dtype=float)
    radius = np.asarray(limit_d, dtype=float) / 2
    if np.any(radius < 0):
        raise ImpossibleInputError("A limit for the cylinder is negative; give it as a magnitude in dioptres.")
    shape = np.broadcast_shapes(centre.shape[:-1], spread.shape[:-2], radius.shape)
    centre = np.broadcast_to(centre, (*shape, 2))
    spread = np.broadcast_to(spread, (*shape, 2, 2))
    radius = np.broadcast_to(radius, shape)
    known = np.isfinite(centre).all(-1) & np.isfinite(spread).all((-2, -1)) & np.isfinite(radius)
    variance, turn = np.linalg.eigh(np.where(known[..., None, None], spread, np.eye(2)))
    if np.any(variance < -1e-12 * np.abs(variance).max(axis=-1, keepdims=True)):
        raise ImpossibleInputError(
            "A covariance of astigmatism has a negative variance; check how it was put together."
        )
    sd = np.sqrt(np.maximum(variance, 0.0))
    turned = np.einsum("...ji,...j->...i", turn, np.where(known[..., None], centre, 0.0))
    mass = disc_mass(turned, sd, np.where(known, radius, 1.0))
    return np.where(known, mass, np.nan)


def disc_mass(mean: FloatArray, sd: FloatArray, radius: FloatArray) -> FloatArray:
    """Mass of independent normals within a disc around zero; the second coordinate is the wider one."""
    tiny = np.finfo(float).tiny
    reach = REACH_SD * sd[..., 1]
    safe = np.maximum(radius, tiny)
    low = np.arcsin(np.clip((mean[..., 1] - reach) / safe, -1.0, 1.0))
    high = np.arcsin(np.clip((mean[..., 1] + reach) / safe, -1.0, 1.0))
    angle = 0.5 * (high + low)[..., None] + 0.5 * (high - low)[..., None] * NODES
    along, across = radius[..., None] * np.sin(angle), radius[..., None] * np.cos(angle)
    narrow, wide = np.maximum(sd[..., :1], tiny), np.maximum(sd[..., 1:], tiny)
    with np.errstate(over="ignore"):
        inner = ndtr((across - mean[..., :1]) / narrow) - ndtr((-across - mean[..., :1]) / narrow)
        density = np.exp(-0.5 * ((along - mean[..., 1:]) / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
        mass = np.sum(WEIGHTS * inner * density * across, axis=-1) * 0.5 * (high - low)
    certain = np.hypot(mean[..., 0], mean[..., 1]) <= radius
    return np.where(sd[..., 1] == 0, certain.astype(float), np.clip(mass, 0.0, 1.0))
