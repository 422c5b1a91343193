"""How far the result may lie from the expected refraction, part by part."""

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr, ndtri

from ..errors import ImpossibleInputError, KnowledgeError
from ..knowledge import Knowledge, Number
from ..optics.arrays import FloatArray
from .model import Placement

__all__ = ["SigmaPoints", "label_sd", "probability_within", "remaining_sd", "sigma_points", "total_sd"]

TO_SD = {
    "D, standard deviation": 1.0,
    "D, mean absolute error": sqrt(pi / 2),
    "D, median absolute error": 1 / float(ndtri(0.75)),
}
"""Factor from a published measure of scatter to the standard deviation of a normal error with mean 0."""

REPLACED_SHARES = ("axial_length", "cornea", "lens_power")
"""Parts of the published scatter that the forecast works out for this eye and this lens instead."""


def probability_within(*, miss_d: ArrayLike, sd_d: ArrayLike, limit_d: ArrayLike) -> FloatArray:
    """Probability that the result lands within a distance of the target.

    Parameters
    ----------
    miss_d : array_like, any shape [D]
        Expected refraction minus target.
    sd_d : array_like, broadcastable [D]
        Standard deviation; 0 means certain.
    limit_d : array_like, broadcastable [D]

    Returns
    -------
    ndarray [probability]

    Raises
    ------
    ImpossibleInputError
        On a negative spread or limit.

    Notes
    -----
    Normal error: ``Phi((limit - miss)/sd) - Phi((-limit - miss)/sd)``.

    Example
    -------
    >>> float(probability_within(miss_d=0.0, sd_d=1.0, limit_d=1.0).round(4))
    0.6827
    """
    miss, sd, limit = (np.asarray(value, dtype=np.float64) for value in (miss_d, sd_d, limit_d))
    if np.any(sd < 0) or np.any(limit < 0):
        raise ImpossibleInputError("A spread or a distance from target is negative; both are lengths.")
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = ndtr((limit - miss) / sd) - ndtr((-limit - miss) / sd)
    certain = np.where(np.isnan(miss) | np.isnan(limit), np.nan, (np.abs(miss) <= limit).astype(np.float64))
    return np.asarray(np.where(sd == 0, certain, inside))


@dataclass(frozen=True, slots=True)
class SigmaPoints:
    """Eyes that together have a belief's mean and covariance; axis 0 is the point, the first being the mean itself."""

    axial_length_mm: FloatArray
    mean_k_d: FloatArray
    chamber_depth_mm: FloatArray
    weights: FloatArray
    """Shape (7,); sums to 1."""


def sigma_points(*, mean: ArrayLike, covariance: ArrayLike) -> SigmaPoints:
    """Seven eyes that stand for the belief about axial length, mean keratometry and chamber depth.

    Parameters
    ----------
    mean : array_like, shape (n, 3) [mm, D, mm]
    covariance : array_like, shape (n, 3, 3)

    Returns
    -------
    SigmaPoints
        Arrays of shape (7, n).

    Raises
    ------
    ImpossibleInputError
        On a negative variance.

    Notes
    -----
    The mean and plus and minus sqrt(3) times each column of the Cholesky factor, weights 0 and six times 1/6: exact for
    polynomials of the third degree and for the fourth moment along each column, so the curvature of a formula is in the
    mean and the spread, at the price of the central differences that a first-order rule needs. The third column moves
    the chamber depth alone.

    References
    ----------
    Julier and Uhlmann, Unscented filtering and nonlinear estimation, Proc IEEE 2004;92:401-422.
    """
    centre, spread = np.asarray(mean, dtype=np.float64), np.asarray(covariance, dtype=np.float64)
    if np.any(np.diagonal(spread, axis1=-2, axis2=-1) < 0):
        raise ImpossibleInputError("A belief has a negative variance; its covariance was not made by conditioning.")
    columns = sqrt(3) * cholesky_3(spread)
    points = np.stack([centre, *(centre + sign * columns[..., k] for k in range(3) for sign in (1.0, -1.0))])
    weights = np.array([0.0, *[1 / 6] * 6])
    return SigmaPoints(points[..., 0], points[..., 1], points[..., 2], weights)


def cholesky_3(matrix: FloatArray) -> FloatArray:
    """Lower factor of 3 by 3 covariances that may be singular: a quantity known exactly gives a column of zeros."""
    factor = np.zeros_like(matrix)
    with np.errstate(divide="ignore", invalid="ignore"):
        for k in range(3):
            pivot = matrix[..., k, k] - (factor[..., k, :k] ** 2).sum(axis=-1)
            factor[..., k, k] = np.sqrt(np.maximum(pivot, 0.0))
            for row in range(k + 1, 3):
                rest = matrix[..., row, k] - (factor[..., row, :k] * factor[..., k, :k]).sum(axis=-1)
                factor[..., row, k] = np.where(factor[..., k, k] == 0, 0.0, rest / factor[..., k, k])
    return factor


def total_sd(*, formula_key: str, axial_length_mm: ArrayLike, placement: Placement, knowledge: Knowledge) -> FloatArray:
    """Published scatter of a formula's results in eyes of such a length.

    Parameters
    ----------
    formula_key : str
    axial_length_mm : array_like, any shape [mm]
    placement : Placement
        A sulcus lens has at least the scatter of the published sulcus series.
    knowledge : Knowledge

    Returns
    -------
    ndarray, shape of ``axial_length_mm`` [D]

    Notes
    -----
    Mean and median absolute errors are turned into the standard deviation of a normal error with mean 0. Steps at the
    limits of the bands are the published groups, not the eyes. For a chamber lens no series was found; it takes the
    bag's.
    """
    length = np.asarray(axial_length_mm, dtype=np.float64)
    short, average, long = (band_sd(band, formula_key, knowledge) for band in ("short", "average", "long"))
    total = np.where(length < knowledge.value("lens_errors.short.upper_mm"), short, average)
    total = np.where(length > knowledge.value("lens_errors.long.lower_mm"), long, total)
    if placement is Placement.SULCUS:
        total = np.maximum(total, in_sd(knowledge.number("sulcus.error.total")))
    return np.asarray(np.where(np.isnan(length), np.nan, total))


def remaining_sd(
    *, formula_key: str, axial_length_mm: ArrayLike, placement: Placement, knowledge: Knowledge
) -> FloatArray:
    """The part of the published scatter that does not come from measuring this eye or making this lens.

    Parameters
    ----------
    formula_key : str
    axial_length_mm : array_like, any shape [mm]
    placement : Placement
    knowledge : Knowledge

    Returns
    -------
    ndarray, shape of ``axial_length_mm`` [D]

    Notes
    -----
    The published totals already hold the error of optical biometry and the tolerance of the label. Adding this eye's
    own would count them twice, so their published shares of the variance (axial length, cornea, lens power) are taken
    out here: where the lens comes to rest, how the refraction is found and the pupil remain. A contact reading then
    widens the forecast and a good optical one brings it back to the published total.

    References
    ----------
    norrby2008, shares of the error.
    """
    kept = 1.0 - sum(knowledge.value(f"lens_errors.share.{part}") for part in REPLACED_SHARES)
    return np.asarray(
        sqrt(kept)
        * total_sd(formula_key=formula_key, axial_length_mm=axial_length_mm, placement=placement, knowledge=knowledge)
    )


def label_sd(*, power_d: ArrayLike, knowledge: Knowledge) -> FloatArray:
    """Standard deviation of a lens's true power about its label.

    Parameters
    ----------
    power_d : array_like, any shape [D]
    knowledge : Knowledge

    Returns
    -------
    ndarray, shape of ``power_d`` [D]

    Notes
    -----
    Uniform within the tolerance of the standard for the power's size: tolerance / sqrt(3). Minus powers as plus.

    References
    ----------
    iso11979-2, tolerance on dioptric power.
    """
    size = np.abs(np.asarray(power_d, dtype=np.float64))
    bands = sorted(
        (knowledge.value(f"lens_errors.label.{band}.upper_d"), knowledge.value(f"lens_errors.label.{band}.tolerance_d"))
        for band in ("band_1", "band_2", "band_3")
    )
    tolerance = np.full(size.shape, knowledge.value("lens_errors.label.above.tolerance_d"))
    for upper, allowed in reversed(bands):
        tolerance = np.where(size <= upper, allowed, tolerance)
    return np.asarray(np.where(np.isnan(size), np.nan, tolerance / sqrt(3)))


def band_sd(band: str, formula_key: str, knowledge: Knowledge) -> float:
    """The scatter of a formula in one band of lengths, or of the band's other formulas where it was not reported."""
    key = f"lens_errors.{band}.{formula_key}"
    return in_sd(knowledge.numbers.get(key) or knowledge.number(f"lens_errors.{band}.other"))


def in_sd(number: Number) -> float:
    """A published measure of scatter as a standard deviation."""
    try:
        return number.value * TO_SD[number.unit]
    except KeyError:
        raise KnowledgeError(f"{number.key} has the unit {number.unit!r}; use one of {sorted(TO_SD)}.") from None
