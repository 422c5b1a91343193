"""Rates learnt from few results: a beta belief that starts from others' rates and moves with one's own."""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import betaincinv, polygamma

from ..errors import ImpossibleInputError

__all__ = ["PooledRate", "RateBelief", "belief_from", "pooled_rate"]

TAIL = 0.025
HALF = 0.5
BRACKET = (-8.0, 60.0)
"""Natural logarithms of the operations between which a belief's worth is sought."""
WIDEST = 20.0


@dataclass(frozen=True, slots=True)
class RateBelief:
    """A belief about a rate, as if so many operations with so many events had been seen."""

    events: float
    operations: float

    @property
    def mean(self) -> float:
        """Expected rate."""
        return self.events / self.operations

    @property
    def low(self) -> float:
        """Lower limit of the central 95% interval."""
        return float(betaincinv(self.events, self.operations - self.events, TAIL))

    @property
    def high(self) -> float:
        """Upper limit of the central 95% interval."""
        return float(betaincinv(self.events, self.operations - self.events, 1 - TAIL))

    @property
    def log_odds_sd(self) -> float:
        """Standard deviation of the log odds: the exact one of a beta variable, from the trigamma function."""
        return float(np.sqrt(polygamma(1, self.events) + polygamma(1, self.operations - self.events)))

    def updated(self, *, events: float, operations: float) -> "RateBelief":
        """The belief after one's own results: events and operations add."""
        if operations < 0 or not 0 <= events <= operations:
            raise ImpossibleInputError(
                f"{events:g} events in {operations:g} operations cannot be; give the counts of one series."
            )
        return RateBelief(self.events + events, self.operations + operations)


def belief_from(*, rate: float, log_odds_sd: float) -> RateBelief:
    """A belief with a mean and a given spread of the log odds.

    Parameters
    ----------
    rate : float
        Mean, between 0 and 1.
    log_odds_sd : float
        Standard deviation of the log odds between those of whom this one is drawn, above 0.

    Returns
    -------
    RateBelief
        Its ``operations`` say how many own operations weigh as much as what is known of others.

    Raises
    ------
    ImpossibleInputError
        For a rate outside 0 to 1 or a spread that is not above 0.

    Notes
    -----
    The log odds of a beta variable worth N operations have the variance ``trigamma(m N) + trigamma((1 - m) N)``, which
    falls with N; N is found by a bracketing root finder. For a small spread it is near ``1 / (s^2 m (1 - m)) - 1``.

    Example
    -------
    >>> belief = belief_from(rate=0.02, log_odds_sd=0.5)
    >>> round(belief.log_odds_sd, 9), round(belief.operations)
    (0.5, 228)
    """
    if not 0 < rate < 1 or not 0 < log_odds_sd < WIDEST:
        raise ImpossibleInputError(
            f"A rate of {rate:g} with a spread of {log_odds_sd:g} cannot be; rates lie between 0 and 1, spreads of log "
            f"odds between 0 and {WIDEST:g}."
        )

    def excess(log_operations: float) -> float:
        return RateBelief(rate * np.exp(log_operations), np.exp(log_operations)).log_odds_sd - log_odds_sd

    operations = float(np.exp(brentq(excess, *BRACKET, xtol=1e-12)))
    return RateBelief(rate * operations, operations)


@dataclass(frozen=True, slots=True)
class PooledRate:
    """What several series say of the next one."""

    rate: float
    """At the mean of the log odds."""
    between_sd: float
    """Between series, of the log odds."""
    mean_sd: float
    """Of the mean of the log odds."""
    series: int
    source: str = "dersimonian1986"
    """Of the method."""

    @property
    def next_sd(self) -> float:
        """Of the log odds of a series not yet seen."""
        return float(np.hypot(self.between_sd, self.mean_sd))


def pooled_rate(*, events: list[float], operations: list[float]) -> PooledRate:
    """Rates of several series put together, with how far the series differ beyond chance.

    Parameters
    ----------
    events : list of float
        In each series; half an event and one operation are added everywhere, so that none may be 0.
    operations : list of float
        In each series; two or more series.

    Returns
    -------
    PooledRate

    Raises
    ------
    ImpossibleInputError
        For fewer than two series or counts that cannot be.

    Notes
    -----
    Moment estimate of the variance between series on the log odds: with fixed weights ``w = 1 / v``,
    ``tau^2 = max(0, (Q - (k - 1)) / (sum w - sum w^2 / sum w))``; then weights ``1 / (v + tau^2)``.

    References
    ----------
    dersimonian1986, equations 8 and 9.
    """
    count, total = np.asarray(events, dtype=np.float64), np.asarray(operations, dtype=np.float64)
    if count.size < 2 or count.shape != total.shape or (count < 0).any() or (count > total).any():
        raise ImpossibleInputError("Give the events and operations of two or more series, no more events than eyes.")
    count, total = count + HALF, total + 2 * HALF
    logit = np.log(count / (total - count))
    within = 1 / count + 1 / (total - count)
    fixed = 1 / within
    centre = np.average(logit, weights=fixed)
    excess = float(np.sum(fixed * (logit - centre) ** 2)) - (count.size - 1)
    between = max(0.0, excess / float(fixed.sum() - (fixed**2).sum() / fixed.sum()))
    weights = 1 / (within + between)
    mean = float(np.average(logit, weights=weights))
    return PooledRate(
        float(1 / (1 + np.exp(-mean))), float(np.sqrt(between)), float(np.sqrt(1 / weights.sum())), count.size
    )
