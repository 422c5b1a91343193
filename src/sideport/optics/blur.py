"""What blur does to unaided acuity: one published relation, its inverse, and the chance of seeing a line.

The relation speaks of distance acuity with a lens that does not focus; the blur is the whole length of the power
vector, so a residual cylinder counts as much as a miss in the sphere.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from .arrays import FloatArray, floats, in_blocks, refuse, refuse_infinite
from .blur_disc import coarse_rule, disc_measure

__all__ = [
    "BLENDOWSKE_2015",
    "BlurRelation",
    "blur_from_logmar",
    "blur_strength_d",
    "logmar_from_blur",
    "probability_acuity",
]


@dataclass(frozen=True, slots=True)
class BlurRelation:
    """MAR = best MAR (1 + loss b^2), with b the blur strength in dioptres."""

    loss_per_d2: float
    source: str


# The paper's proportionality, MAR to 1 + b^2, as its abstract prints it; no dependence on axis or pupil.
BLENDOWSKE_2015 = BlurRelation(loss_per_d2=1.0, source="blendowske2015")

# Below this spread of the sphere three nodes no longer hold the error under 0.005; the whole measure is summed instead.
COARSE_FROM_SD_D = 0.25
# Pairs summed over the whole measure at once: 4096 pairs are about 30 MB of temporaries.
FINE_PAIRS = 4096
FINE_POINTS = 40


def blur_strength_d(*, refraction_d: ArrayLike, j0_d: ArrayLike, j45_d: ArrayLike) -> FloatArray:
    """Length of a refraction's power vector: the dioptric distance from seeing sharply.

    Parameters
    ----------
    refraction_d : array_like
        Spherical equivalent, any broadcastable shape [D].
    j0_d, j45_d : array_like
        Residual cylinder as crossed cylinders, of the refraction or of the cornea: only the size counts [D].

    Returns
    -------
    ndarray
        Blur strength, 0 or more [D].

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    Notes
    -----
    b = sqrt(M^2 + J0^2 + J45^2).

    References
    ----------
    thibos1997 (equation recalled).

    Example
    -------
    Plano with 2 D of cylinder, balanced, blurs as 1 D of sphere does:

    >>> float(blur_strength_d(refraction_d=0.0, j0_d=1.0, j45_d=0.0))
    1.0
    """
    mean, j0, j45 = floats(refraction_d), floats(j0_d), floats(j45_d)
    for values, name in ((mean, "refraction [D]"), (j0, "J0 [D]"), (j45, "J45 [D]")):
        refuse_infinite(values, name)
    return np.asarray(np.sqrt(mean**2 + j0**2 + j45**2))


def logmar_from_blur(
    *, blur_d: ArrayLike, best_logmar: ArrayLike = 0.0, relation: BlurRelation = BLENDOWSKE_2015
) -> FloatArray:
    """Unaided distance acuity that a blur leaves.

    Parameters
    ----------
    blur_d : array_like
        Blur strength (`blur_strength_d`), any broadcastable shape [D].
    best_logmar : array_like
        Acuity of the same eye with its best spectacles [log10 arcmin].
    relation : BlurRelation
        Published relation.

    Returns
    -------
    ndarray
        LogMAR; larger is worse [log10 arcmin].

    Raises
    ------
    ImpossibleInputError
        On a negative blur or an infinite value.

    Notes
    -----
    logMAR = best + log10(1 + a b^2), a = 1 D^-2. The relation is of typical eyes: single eyes scatter about it by a
    line or more with their pupil and the aberrations that no power vector holds.

    References
    ----------
    blendowske2015, abstract.

    Example
    -------
    One dioptre doubles the smallest letter, 6/6 to 6/12:

    >>> round(float(logmar_from_blur(blur_d=1.0)), 3)
    0.301
    """
    blur, best = floats(blur_d), floats(best_logmar)
    refuse(blur < 0, "A blur strength cannot be negative; it is the length of the power vector.", values=blur)
    refuse_infinite(blur, "blur strength [D]")
    refuse_infinite(best, "best acuity [logMAR]")
    return np.asarray(best + np.log10(1.0 + relation.loss_per_d2 * blur**2))


def blur_from_logmar(
    *, logmar: ArrayLike, best_logmar: ArrayLike = 0.0, relation: BlurRelation = BLENDOWSKE_2015
) -> FloatArray:
    """Largest blur that still leaves an acuity; inverse of `logmar_from_blur`.

    Parameters
    ----------
    logmar : array_like
        Unaided acuity, any broadcastable shape [log10 arcmin].
    best_logmar : array_like
        Acuity of the same eye with its best spectacles [log10 arcmin].
    relation : BlurRelation
        Published relation.

    Returns
    -------
    ndarray
        Blur strength [D]; NaN where the acuity is better than the eye's best, which no blur leaves.

    Raises
    ------
    ImpossibleInputError
        On an infinite value.

    References
    ----------
    blendowske2015, abstract.

    Example
    -------
    6/18 with an eye that can see 6/6:

    >>> from sideport.optics.acuity import logmar_from_decimal
    >>> round(float(blur_from_logmar(logmar=logmar_from_decimal(decimal=6 / 18))), 3)
    1.414
    """
    wanted, best = floats(logmar), floats(best_logmar)
    refuse_infinite(wanted, "acuity [logMAR]")
    refuse_infinite(best, "best acuity [logMAR]")
    square = (10.0 ** (wanted - best) - 1.0) / relation.loss_per_d2
    return np.asarray(np.sqrt(np.where(square < 0, np.nan, square)))


def probability_acuity(
    *,
    refraction_d: ArrayLike,
    sd_d: ArrayLike,
    j0_d: ArrayLike,
    j45_d: ArrayLike,
    cylinder_covariance_d2: ArrayLike,
    logmar_limit: ArrayLike,
    best_logmar: ArrayLike = 0.0,
    relation: BlurRelation = BLENDOWSKE_2015,
) -> FloatArray:
    """Probability that unaided distance acuity is at least as good as a line.

    Parameters
    ----------
    refraction_d : array_like
        Expected spherical equivalent, any broadcastable shape, say eyes down and lenses across [D].
    sd_d : array_like
        Its standard deviation, 0 or more [D].
    j0_d, j45_d : array_like
        Expected residual cylinder as crossed cylinders; for eyes down and lenses across give shape (n, 1) [D].
    cylinder_covariance_d2 : array_like, shape (..., 2, 2)
        Covariance of J0 and J45; the leading axes broadcast with the rest, so (n, 1, 2, 2) beside (n, 1) [D^2].
    logmar_limit : array_like
        The line: log10 2 for 6/12, log10 3 for 6/18 [log10 arcmin].
    best_logmar : array_like
        Acuity of the eye with its best spectacles [log10 arcmin].
    relation : BlurRelation
        Published relation.

    Returns
    -------
    ndarray
        Probability; 0 where the line is better than the eye's best [1].

    Raises
    ------
    ImpossibleInputError
        On a negative spread, a covariance that is none, or an infinite value.

    Notes
    -----
    With T the blur that the line allows, and M independent of J: P(M^2 + |J|^2 <= T^2) = E[Phi((r - m) / s) -
    Phi((-r - m) / s)] over r = sqrt(T^2 - |J|^2), the room that the cylinder leaves to the sphere. The distribution
    of r is an eye's, not a lens's, so it is worked out once an eye and stood for by the three-node Gauss rule with
    its first five moments; each lens then costs six values of Phi. The error is below 0.005 where the sphere's
    spread is 0.25 D and below 0.002 from 0.3 D; for narrower ones the whole measure (1,600 points) is summed, to
    within 0.0001 and much more slowly. The relation itself is taken as exact: the probability is of the blur, and
    says nothing of eyes that see worse for other reasons.

    References
    ----------
    blendowske2015 for the relation; the integral is elementary.

    Example
    -------
    >>> certain = [[0.0, 0.0], [0.0, 0.0]]
    >>> eye = dict(j0_d=0.0, j45_d=0.0, cylinder_covariance_d2=certain, logmar_limit=0.30103)
    >>> round(float(probability_acuity(refraction_d=0.0, sd_d=1.0, **eye)), 4)
    0.6827
    """
    mean, sd = floats(refraction_d), floats(sd_d)
    refuse(sd < 0, "A spread cannot be negative.", values=sd)
    for values, name in ((mean, "refraction [D]"), (sd, "spread of the refraction [D]")):
        refuse_infinite(values, name)
    allowed = blur_from_logmar(logmar=logmar_limit, best_logmar=best_logmar, relation=relation)
    unreachable = floats(logmar_limit) < floats(best_logmar)
    disc = checked_disc(j0_d, j45_d, cylinder_covariance_d2, np.where(unreachable, 0.0, allowed))
    result = in_blocks(over_three, mean, sd, *coarse_rule(*disc))
    narrow = np.broadcast_to(sd < COARSE_FROM_SD_D, result.shape)
    if narrow.any():
        result = np.array(result)
        rows = np.flatnonzero(narrow)
        spread = [np.broadcast_to(values, result.shape) for values in (mean, sd, *disc)]
        for start in range(0, rows.size, FINE_PAIRS):
            chosen = rows[start : start + FINE_PAIRS]
            result.flat[chosen] = over_all(*(values.flat[chosen] for values in spread))
    return result


def checked_disc(
    j0_d: ArrayLike, j45_d: ArrayLike, covariance: ArrayLike, allowed: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Means and spreads of the cylinder along its principal axes, and the blur allowed, in one shape."""
    j0, j45, matrix = floats(j0_d), floats(j45_d), floats(covariance)
    refuse_infinite(j0, "J0 [D]")
    refuse_infinite(j45, "J45 [D]")
    refuse_infinite(matrix, "covariance of the cylinder [D^2]")
    if matrix.shape[-2:] != (2, 2):
        refuse(np.array(True), "The covariance of the cylinder must be of J0 and J45: 2 by 2 in its last axes.")
    a, b, c = matrix[..., 0, 0], matrix[..., 1, 1], 0.5 * (matrix[..., 0, 1] + matrix[..., 1, 0])
    middle, half = 0.5 * (a + b), np.hypot(0.5 * (a - b), c)
    # Rounding may leave a singular covariance a hair below zero; a real negative is refused.
    refuse(middle - half < -1e-9 * (1.0 + middle), "The covariance of the cylinder has a negative variance.")
    angle = 0.5 * np.arctan2(c, 0.5 * (a - b))
    first, second = j0 * np.cos(angle) + j45 * np.sin(angle), j45 * np.cos(angle) - j0 * np.sin(angle)
    wide, slim = np.sqrt(np.maximum(middle + half, 0.0)), np.sqrt(np.maximum(middle - half, 0.0))
    one, two, three, four, five = np.broadcast_arrays(first, second, wide, slim, allowed)
    return one, two, three, four, five


def over_three(mean: FloatArray, sd: FloatArray, *rule: FloatArray) -> FloatArray:
    """Sum over the three nodes and weights of a rule, given in turn."""
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = 1.0 / sd
    middle = mean * scale
    total = np.zeros(np.broadcast_shapes(mean.shape, sd.shape, *(values.shape for values in rule)))
    for node, weight in zip(rule[::2], rule[1::2], strict=True):
        with np.errstate(invalid="ignore"):
            reach = node * scale
            total += weight * (ndtr(reach - middle) - ndtr(-reach - middle))
    return total


def over_all(
    mean: FloatArray, sd: FloatArray, first: FloatArray, second: FloatArray, wide: FloatArray, slim: FloatArray,
    allowed: FloatArray,
) -> FloatArray:  # fmt: skip
    """Sum over the whole measure; a refraction known for certain only shrinks the disc."""
    certain = sd == 0
    left = np.where(certain, np.sqrt(np.maximum(allowed**2 - mean**2, 0.0)), allowed)
    room, weight = disc_measure(first, second, wide, slim, left, points=FINE_POINTS)
    with np.errstate(divide="ignore", invalid="ignore"):
        inside = ndtr((room - mean) / sd) - ndtr((-room - mean) / sd)
    total = np.sum(weight * np.where(certain, 1.0, inside), axis=0)
    return np.asarray(np.where(np.isnan(mean + sd), np.nan, total))
