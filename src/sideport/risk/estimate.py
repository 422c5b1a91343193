"""The odds of a capsule tear in one eye, with everything that raised them."""

import numpy as np
from scipy.special import ndtri

from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge
from .advice import RiskEstimate
from .narendran import (
    MODEL,
    composite_odds_ratio,
    odds_factors,
    probability,
    shared_factor_disagreement,
    unrecorded_factors,
)
from .points import group_for, risk_points
from .team import Grade
from .trade import trade_factors

__all__ = ["estimate_risk"]

UPPER_TAIL = 0.975


def estimate_risk(
    *,
    person: Person,
    record: EyeRecord,
    summary: EyeSummary,
    grade: Grade,
    knowledge: Knowledge,
    baseline: float | None = None,
) -> RiskEstimate:
    """Probability of a capsule tear or vitreous loss in this eye in the hands of this grade.

    Parameters
    ----------
    person : Person
        The person.
    record : EyeRecord
        The eye's findings.
    summary : EyeSummary
        The belief about the eye.
    grade : Grade
        Of the operator.
    knowledge : Knowledge
        Holds ``risk_pcr.toml``, ``risk_points.toml`` and ``risk_trade.toml``.
    baseline : float, optional
        Probability at a composite odds ratio of 1, from ``baseline_for``; the remembered published one when absent.

    Returns
    -------
    RiskEstimate
        With factors, trade factors, points, what was not recorded, and a note on the interval.

    Notes
    -----
    The interval is normal in the log odds. Each factor present adds the spread by which two national models disagree
    over the factors they share; the published baseline adds the spread of the overall rate. It does not cover manual
    small-incision surgery as such (no model of its own was found), the trade factors, or the day's own luck.

    References
    ----------
    narendran2009 (odds table from memory); sim2024; muhtaseb2004.
    """
    factors = odds_factors(person=person, record=record, summary=summary, grade=grade, knowledge=knowledge)
    composite = float(composite_odds_ratio(odds_ratios=[entry.odds_ratio for entry in factors]))
    base = knowledge.value(f"risk_pcr.{MODEL}.baseline") if baseline is None else baseline
    middle = float(probability(odds_ratio=composite, baseline=base))
    spread = log_odds_spread(len(factors), published_baseline=baseline is None, knowledge=knowledge)
    reach = np.exp(float(ndtri(UPPER_TAIL)) * spread)
    points = risk_points(person=person, record=record, summary=summary, knowledge=knowledge)
    return RiskEstimate(
        model=MODEL,
        probability=middle,
        low=float(probability(odds_ratio=composite / reach, baseline=base)),
        high=float(probability(odds_ratio=composite * reach, baseline=base)),
        composite_odds_ratio=composite,
        factors=factors,
        trade_factors=trade_factors(person=person, record=record, summary=summary, knowledge=knowledge),
        points=points,
        missing=unrecorded_factors(person=person, record=record, summary=summary),
        note=note(points, own_rate=baseline is not None, knowledge=knowledge),
    )


def log_odds_spread(factors: int, *, published_baseline: bool, knowledge: Knowledge) -> float:
    """Standard deviation of the log odds: one disagreement a factor, and the overall rate's own interval."""
    variance = factors * shared_factor_disagreement(knowledge=knowledge) ** 2
    if published_baseline:
        low, high = (knowledge.value(f"risk_pcr.{MODEL}.overall_{end}") for end in ("low", "high"))
        width = np.log(high / (1 - high)) - np.log(low / (1 - low))
        variance += (width / (2 * float(ndtri(UPPER_TAIL)))) ** 2
    return float(np.sqrt(variance))


def note(points: int, *, own_rate: bool, knowledge: Knowledge) -> str:
    """What the interval covers, and the second view by points."""
    group = group_for(points=points, knowledge=knowledge)
    scale = "scaled to this unit's own rate" if own_rate else "at the published rate, not this unit's"
    return (
        f"Odds table from memory, {scale}; made on phacoemulsification. The interval covers how far two national "
        "models disagree over shared factors, not the hazards listed apart. "
        f"By points: {points}, in which group {group.tears} of {group.operations} eyes had a tear "
        f"({100 * group.rate.value:.1f}%, 95% interval {100 * group.rate.low:.1f} to {100 * group.rate.high:.1f}%)."
    )
