"""A surgeon's own results shrink what the series say: a conjugate update of the vector, with its weight."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray, floats
from ..optics.side import Side
from .induced import InducedAstigmatism
from .plan import Site
from .technique import Technique

__all__ = ["OwnResults", "in_cut_frame", "learn_induced", "out_of_cut_frame", "own_results"]

MIRROR = np.array([1.0, -1.0])


@dataclass(frozen=True, slots=True)
class OwnResults:
    """A surgeon's induced vectors of one technique at one site, in the frame of the cut and summed up.

    Sums are enough: two groups of results are joined by adding ``eyes``, weighting ``mean`` and pooling ``scatter``.
    """

    technique: Technique
    site: Site
    eyes: int
    mean: FloatArray
    """(2,) [D]: component along the cut (negative flattens it) and at 45 degrees to it, as in a right eye."""
    scatter: FloatArray
    """(2, 2) [D^2]: summed squares about the mean."""
    length_mm: float
    """Mean length of the cuts."""
    limbus_distance_mm: float


def in_cut_frame(*, vectors: ArrayLike, meridian_deg: ArrayLike) -> FloatArray:
    """Corneal vectors as seen from the cut: along its meridian, and at 45 degrees to it.

    Parameters
    ----------
    vectors : array_like, shape (..., 2)
        J0 and J45 [D].
    meridian_deg : array_like, shape (...)
        Where each cut lies [deg].

    Returns
    -------
    ndarray, shape (..., 2)
        First component: positive steepens the cut's own meridian, negative flattens it. Second: positive steepens 45
        degrees counter-clockwise of it (torque).

    Examples
    --------
    A superior cut that steepens the horizontal by 1 D flattens its own meridian by as much:

    >>> along, torque = in_cut_frame(vectors=[0.5, 0.0], meridian_deg=90.0)
    >>> float(along), bool(abs(torque) < 1e-12)
    (-0.5, True)
    """
    return turned(floats(vectors), -floats(meridian_deg))


def out_of_cut_frame(*, vectors: ArrayLike, meridian_deg: ArrayLike) -> FloatArray:
    """Inverse of `in_cut_frame`.

    Parameters
    ----------
    vectors : array_like, shape (..., 2)
        Components along the cut and at 45 degrees to it [D].
    meridian_deg : array_like, shape (...)
        Where each cut lies [deg].

    Returns
    -------
    ndarray, shape (..., 2)
        J0 and J45 [D].
    """
    return turned(floats(vectors), floats(meridian_deg))


def turned(vectors: FloatArray, angle_deg: FloatArray) -> FloatArray:
    """Vectors turned by twice the angle, as axes are."""
    if vectors.shape[-1:] != (2,):
        raise ImpossibleInputError("A vector of astigmatism has two components, J0 and J45, on its last axis.")
    cosine, sine = np.cos(np.radians(2 * angle_deg)), np.sin(np.radians(2 * angle_deg))
    first, second = vectors[..., 0], vectors[..., 1]
    return np.stack([cosine * first - sine * second, sine * first + cosine * second], axis=-1)


def own_results(
    *,
    technique: Technique,
    site: Site,
    vectors: ArrayLike,
    meridian_deg: ArrayLike,
    left_eye: ArrayLike,
    length_mm: ArrayLike,
    limbus_distance_mm: ArrayLike,
) -> OwnResults:
    """Sums up a surgeon's induced vectors of one technique at one site; right and left eyes may be mixed.

    Parameters
    ----------
    technique : Technique
        The operation.
    site : Site
        By anatomy.
    vectors : array_like, shape (n, 2)
        Corneal J0 and J45 after less before, one row an eye [D]; rows with NaN are left out.
    meridian_deg : array_like, shape (n,)
        Where each cut lay [deg].
    left_eye : array_like of bool, shape (n,)
        Whether each is a left eye.
    length_mm, limbus_distance_mm : array_like, shape (n,)
        Of each cut [mm].

    Returns
    -------
    OwnResults
        With ``eyes`` the number of complete rows, which may be 0.

    Raises
    ------
    ImpossibleInputError
        For vectors that are not pairs.

    Notes
    -----
    Each vector is turned to its own cut, and left eyes are mirrored, which changes the sign of the second component.
    """
    rows = np.atleast_2d(in_cut_frame(vectors=vectors, meridian_deg=meridian_deg))
    mirrored = np.broadcast_to(np.asarray(left_eye, dtype=bool), rows.shape[:-1])[..., None]
    rows = np.where(mirrored, rows * MIRROR, rows)
    length = np.broadcast_to(floats(length_mm), rows.shape[:-1])
    distance = np.broadcast_to(floats(limbus_distance_mm), rows.shape[:-1])
    whole = np.isfinite(rows).all(-1) & np.isfinite(length) & np.isfinite(distance)
    rows, length, distance = rows[whole], length[whole], distance[whole]
    eyes = len(rows)
    mean = rows.mean(axis=0) if eyes else np.zeros(2)
    return OwnResults(
        technique, site, eyes, mean, (rows - mean).T @ (rows - mean),
        float(length.mean()) if eyes else float("nan"), float(distance.mean()) if eyes else float("nan"),
    )  # fmt: skip


def learn_induced(
    *,
    prior: InducedAstigmatism,
    own: OwnResults,
    side: Side,
    meridian_deg: float,
    size: ArrayLike,
    knowledge: Knowledge,
) -> InducedAstigmatism:
    """Induced astigmatism in this surgeon's hands: the series shrunk by their own results.

    Parameters
    ----------
    prior : InducedAstigmatism
        From the series, any shape (...).
    own : OwnResults
        Of the same technique and site.
    side : Side
        Of the planned eye; a left one gets the mirrored torque.
    meridian_deg : float
        Where the planned cut lies [deg].
    size : array_like, shape (...)
        Effect of the planned cut over that of the surgeon's usual cut (`size_ratio`) [1].
    knowledge : Knowledge
        Holds ``induced_astigmatism.surgeon``.

    Returns
    -------
    InducedAstigmatism
        With ``own_eyes`` and ``own_weight``; the prior itself where there are no own eyes.

    Notes
    -----
    Normal-inverse-Wishart in two dimensions. The mean counts as ``k = prior_eyes`` eyes and the spread as
    ``v = surgeon.spread_eyes``. With n own eyes of mean x and scatter S, the mean becomes ``(k m + n x) / (k + n)``,
    its weight is ``n / (k + n)``, the spread ``Psi = v Sigma + S + k n / (k + n) (x - m)(x - m)'`` over ``v + n``, and
    the next eye has covariance ``Psi / (v + n) * (1 + 1 / (k + n))``. The own mean moves with the planned length, the
    scatter does not.

    References
    ----------
    johnsonwichern (moments); the update is the textbook one for a normal vector of unknown mean and covariance.
    """
    if own.eyes == 0:
        return prior
    prior_eyes, spread_eyes = prior.prior_eyes, knowledge.value("induced_astigmatism.surgeon.spread_eyes")
    mirror = MIRROR if side is Side.LEFT else np.ones(2)
    own_mean = floats(size)[..., None] * out_of_cut_frame(vectors=own.mean * mirror, meridian_deg=meridian_deg)
    doubled = np.radians(2 * meridian_deg)
    turn = np.array([[np.cos(doubled), -np.sin(doubled)], [np.sin(doubled), np.cos(doubled)]]) * mirror
    total = prior_eyes + own.eyes
    gap = own_mean - prior.mean
    pull = (prior_eyes * own.eyes / total)[..., None, None] * gap[..., :, None] * gap[..., None, :]
    spread = (spread_eyes * prior.eye_covariance + turn @ own.scatter @ turn.T + pull) / (spread_eyes + own.eyes)
    weight = own.eyes / total
    return replace(
        prior,
        mean=prior.mean + weight[..., None] * gap,
        covariance=(1 + 1 / total)[..., None, None] * spread,
        eye_covariance=spread,
        own_eyes=own.eyes,
        own_weight=weight,
    )
