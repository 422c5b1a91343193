"""Sound eyes less alike than the Gaussian prior has it, believed from wider priors too so that fellows pull less."""

from collections.abc import Sequence

import numpy as np
from scipy.special import logsumexp

from ..optics.arrays import FloatArray
from .condition import condition
from .evidence import gather_evidence, tail_likelihood
from .observation import Padded
from .slip import SlipModel

__all__ = ["loosened", "mixture"]


def loosened(
    centre: FloatArray, spread: FloatArray, part: Padded, *, mean: FloatArray, prior: FloatArray, slips: SlipModel
) -> tuple[FloatArray, FloatArray]:
    """A belief with the wider priors held as well, where the readings speak for them.

    Parameters
    ----------
    centre : array, (k, 14)
        The belief of some people from the prior alone.
    spread : array, (k, 14, 14)
        Its covariance.
    part : Padded
        Their observations.
    mean : array, (k, 14)
        What the prior expects of them.
    prior : array, (14, 14)
        Its covariance P.
    slips : SlipModel
        The ways to be unequal (of ``tail_direction`` those with opposite signs) and the chance from which they count.

    Returns
    -------
    tuple of array
        (k, 14) and (k, 14, 14); unchanged where the chance of such eyes is below ``slips.odd``.

    Notes
    -----
    Each way widens P to P + s v v' and has a posterior chance; the belief is the mixture over them, by mean and
    covariance. Below the limit the Gaussian stands, so that what an ordinary person's missing readings are believed to
    be keeps the published spread.
    """
    if part.observed.shape[1] == 0:
        return centre, spread
    evidence = gather_evidence(part, mean=mean, prior=prior, slips=slips)
    unequal = np.flatnonzero(evidence.direction.sum(axis=1) == 0.0)
    direction, widening = evidence.direction[unequal], evidence.widening[unequal]
    weight = tail_likelihood(inner=evidence.inner[:, unequal], seen=evidence.seen[:, unequal], widening=widening)
    weight += evidence.log_share[unequal]
    share = np.exp(weight - logsumexp(weight, axis=1, keepdims=True))
    odd = np.flatnonzero(1.0 - share[:, 0] >= slips.odd)
    if not len(odd):
        return centre, spread
    parts = [(centre[odd], spread[odd])]
    for along, more in zip(direction[1:], widening[1:], strict=True):
        parts.append(
            condition(
                mean=mean[odd], covariance=prior + more * np.outer(along, along), design=part.design[odd],
                observed=part.observed[odd], noise=part.noise[odd],
            )
        )  # fmt: skip
    centre, spread = centre.copy(), spread.copy()
    centre[odd], spread[odd] = mixture(parts, share[odd].T)
    return centre, spread


def mixture(parts: Sequence[tuple[FloatArray, FloatArray]], shares: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of mixtures of Gaussians, ``shares`` (parts, k).

    Example
    -------
    Two equal halves a standard deviation of 1 wide, 2 apart, have variance 1 + 1.

    >>> one, other = (np.zeros((1, 1)), np.ones((1, 1, 1))), (np.full((1, 1), 2.0), np.ones((1, 1, 1)))
    >>> [float(part.ravel()[0]) for part in mixture([one, other], np.array([[0.5], [0.5]]))]
    [1.0, 2.0]
    """
    mean = np.sum([share[:, None] * part[0] for part, share in zip(parts, shares, strict=True)], axis=0)
    covariance = np.zeros_like(parts[0][1])
    for (centre, spread), share in zip(parts, shares, strict=True):
        off = centre - mean
        covariance += share[:, None, None] * (spread + off[:, :, None] * off[:, None, :])
    return mean, covariance
