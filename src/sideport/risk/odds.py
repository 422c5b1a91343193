"""Odds ratios multiply, probabilities follow; and the baseline at which a series has a given rate."""

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from ..errors import ImpossibleInputError
from ..optics.arrays import FloatArray, floats, refuse

__all__ = ["baseline_for", "composite_odds_ratio", "moved", "probability"]

ODDS_RULE = "An odds ratio must be above 0; take it from the published table."


def composite_odds_ratio(*, odds_ratios: ArrayLike) -> FloatArray:
    """Product of the odds ratios of the factors present.

    Parameters
    ----------
    odds_ratios : array_like, shape (..., k)
        Odds ratios, 1 for a factor that is absent.

    Returns
    -------
    ndarray, shape (...)
        Composite odds ratio; 1 for none.

    Raises
    ------
    ImpossibleInputError
        For an odds ratio that is not above zero.

    Examples
    --------
    >>> round(float(composite_odds_ratio(odds_ratios=[1.42, 1.30])), 3)
    1.846
    """
    ratios = floats(odds_ratios)
    refuse(ratios <= 0, ODDS_RULE, values=ratios)
    return np.asarray(np.prod(ratios, axis=-1))


def probability(*, odds_ratio: ArrayLike, baseline: ArrayLike) -> FloatArray:
    """Probability of a tear at a composite odds ratio.

    Parameters
    ----------
    odds_ratio : array_like
        Composite odds ratio, above zero.
    baseline : array_like
        Probability at a composite odds ratio of 1, between 0 and 1.

    Returns
    -------
    ndarray
        Probability; NaN where an input is NaN.

    Raises
    ------
    ImpossibleInputError
        For an odds ratio not above zero or a baseline outside 0 to 1.

    Notes
    -----
    ``odds = odds_ratio * baseline / (1 - baseline)`` and ``p = odds / (1 + odds)``.

    References
    ----------
    narendran2009, method.

    Examples
    --------
    >>> round(float(probability(odds_ratio=2.0, baseline=0.5)), 4)
    0.6667
    """
    ratio, base = floats(odds_ratio), floats(baseline)
    refuse(ratio <= 0, ODDS_RULE, values=ratio)
    refuse((base <= 0) | (base >= 1), "A baseline lies between 0 and 1; give 0.01 for one in a hundred.", values=base)
    return np.asarray(ratio * base / (1 - base + ratio * base))


def baseline_for(*, mean_probability: float, odds_ratios: ArrayLike, weights: ArrayLike | None = None) -> float:
    """The baseline at which the mean predicted probability is the unit's own rate.

    Parameters
    ----------
    mean_probability : float
        The unit's rate, between 0 and 1.
    odds_ratios : array_like, shape (n,)
        Composite odds ratios of the unit's operations; NaN rows are left out.
    weights : array_like, shape (n,), optional
        How often each occurs, in any unit; all alike when absent.

    Returns
    -------
    float
        Probability at a composite odds ratio of 1.

    Raises
    ------
    ImpossibleInputError
        For a rate outside 0 to 1, or when there are no odds ratios.

    Notes
    -----
    The mean rises with the baseline, so a bracketing root finder on the log odds settles it.
    """
    ratios = floats(odds_ratios).ravel()
    shares = np.ones_like(ratios) if weights is None else np.broadcast_to(floats(weights), ratios.shape).ravel()
    ratios, shares = ratios[~np.isnan(ratios)], shares[~np.isnan(ratios)]
    if not 0 < mean_probability < 1:
        raise ImpossibleInputError(
            f"A rate of {mean_probability} is not between 0 and 1; give 0.02 for two in a hundred."
        )
    if ratios.size == 0:
        raise ImpossibleInputError(
            "No operations were given to match the unit's rate to; give at least one odds ratio."
        )
    refuse(ratios <= 0, ODDS_RULE, values=ratios)
    centre = np.log(mean_probability / (1 - mean_probability))
    # At these ends every operation lies below, or above, the wished mean.
    low, high = centre - np.log(ratios.max()) - 1e-9, centre - np.log(ratios.min()) + 1e-9

    def gap(log_odds: float) -> float:
        return float(np.average(1 / (1 + np.exp(-log_odds) / ratios), weights=shares)) - mean_probability

    return float(1 / (1 + np.exp(-brentq(gap, low, high, xtol=1e-13))))


def moved(*, baseline: float, to: float, away_from: float) -> float:
    """A baseline moved on the log odds by as much as one rate lies from another.

    Parameters
    ----------
    baseline, to, away_from : float
        Probabilities between 0 and 1.

    Returns
    -------
    float
        Between 0 and 1.

    Example
    -------
    >>> round(moved(baseline=0.5, to=2 / 3, away_from=0.5), 6)
    0.666667
    """
    ratio = to / (1 - to) / (away_from / (1 - away_from))
    return float(probability(odds_ratio=ratio, baseline=baseline))
