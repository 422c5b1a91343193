"""The odds of a capsule tear in one eye, with everything that raised them."""

import numpy as np
from scipy.special import ndtri

from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge
from ..wound.technique import Technique
from .advice import OddsFactor, RiskEstimate, WaterfallStep
from .calibrate import Calibration, calibrate
from .models import (
    DEFAULT_MODEL,
    POINTS_MODEL,
    RiskModel,
    grade_factor,
    model_named,
    odds_factors,
    unrecorded_factors,
)
from .odds import composite_odds_ratio, probability
from .points import group_for, risk_points
from .record import OperatorEffect
from .shrink import RateBelief
from .team import Grade
from .trade import trade_factors

__all__ = ["estimate_risk", "waterfall"]

UPPER_TAIL = 0.975


def estimate_risk(
    *,
    person: Person,
    record: EyeRecord,
    summary: EyeSummary,
    grade: Grade,
    knowledge: Knowledge,
    calibration: Calibration | None = None,
    operator: OperatorEffect | None = None,
) -> RiskEstimate:
    """Probability of a capsule tear or vitreous loss in this eye in the hands of this grade, or of this operator.

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
    calibration : Calibration, optional
        The model set to the operation and the unit; when absent, the first national model as published, which is for
        phacoemulsification elsewhere.
    operator : OperatorEffect, optional
        The operator's own record; the grade alone counts when absent.

    Returns
    -------
    RiskEstimate
        With factors, waterfall, trade factors, points, what was not recorded, and a note on the interval.

    Notes
    -----
    The interval is normal in the log odds. It adds the spread by which two national models disagree over the factors
    they share, once a factor present; how uncertain the unit's rate is; and how uncertain the operator's record is. The
    points score takes the spread of its own groups instead. The trade factors and the day's luck are not in it.

    References
    ----------
    narendran2009 (odds table from memory); sim2024; segers2022; muhtaseb2004.
    """
    setting = calibration or calibrate(model=DEFAULT_MODEL, technique=Technique.PHACO, own=None, knowledge=knowledge)
    card = model_named(setting.model)
    facts = {"person": person, "record": record, "summary": summary, "knowledge": knowledge}
    eye_factors = odds_factors(**facts, model=card.key)  # type: ignore[arg-type]
    hands = [grade_factor(grade=grade, knowledge=knowledge, model=card.key)]
    if operator is not None and operator.own is not None:
        hands.append(operator.own)
    factors = (*eye_factors, *(factor for factor in hands if factor.odds_ratio != 1))
    composite = float(composite_odds_ratio(odds_ratios=[1.0, *(factor.odds_ratio for factor in factors)]))
    points = risk_points(person=person, record=record, summary=summary, knowledge=knowledge)
    own_sd = 0.0 if operator is None else operator.log_odds_sd
    spread = np.hypot(setting.log_odds_sd, np.hypot(own_sd, factor_spread(card, setting, factors, points, knowledge)))
    reach = np.exp(float(ndtri(UPPER_TAIL)) * spread)
    low, middle, high = (
        float(probability(odds_ratio=ratio, baseline=setting.baseline))
        for ratio in (composite / reach, composite, composite * reach)
    )
    return RiskEstimate(
        model=card.key,
        probability=middle,
        low=low,
        high=high,
        composite_odds_ratio=composite,
        factors=factors,
        trade_factors=trade_factors(person=person, record=record, summary=summary, knowledge=knowledge),
        points=points,
        missing=unrecorded_factors(**facts, model=card.key),  # type: ignore[arg-type]
        note=note(card, setting, points, knowledge),
        waterfall=waterfall(setting=setting, factors=factors),
        model_status=card.status.value,
        own_operations=setting.own_operations,
    )


def waterfall(*, setting: Calibration, factors: tuple[OddsFactor, ...]) -> tuple[WaterfallStep, ...]:
    """How the probability came about, step by step.

    Parameters
    ----------
    setting : Calibration
        Where it starts: an eye without any factor in senior hands in this unit.
    factors : tuple of OddsFactor
        Present in the eye and its operator.

    Returns
    -------
    tuple of WaterfallStep
        The start, then the factors by the size of their odds ratio, what raises first and what lowers last; the
        probability of the last step is the eye's.
    """
    steps = [
        WaterfallStep("No factor, senior hands", 1.0, setting.baseline, setting.baseline, setting.source, setting.basis)
    ]
    reached = 1.0
    for factor in sorted(factors, key=lambda entry: -entry.odds_ratio):
        before, reached = steps[-1].probability, reached * factor.odds_ratio
        after = float(probability(odds_ratio=reached, baseline=setting.baseline))
        steps.append(WaterfallStep(factor.label, factor.odds_ratio, after, after - before, factor.source, factor.basis))
    return tuple(steps)


def factor_spread(
    card: RiskModel, setting: Calibration, factors: tuple[OddsFactor, ...], points: int, knowledge: Knowledge
) -> float:
    """Standard deviation that the factors bring to the log odds."""
    if card.key != POINTS_MODEL:
        return float(np.sqrt(len(factors)) * setting.factor_sd)
    group = group_for(points=points, knowledge=knowledge)
    return RateBelief(float(group.tears), float(group.operations)).log_odds_sd


def note(card: RiskModel, setting: Calibration, points: int, knowledge: Knowledge) -> str:
    """The model's card in a line, whose rate it stands on, what the interval covers, and the second view by points."""
    group = group_for(points=points, knowledge=knowledge)
    whose = "scaled to this unit's own results" if setting.own_operations else "not at this unit's own rate"
    return (
        f"{card.label}, odds {card.status.value}, {whose}; made on {card.population} (n = {card.operations:,}). "
        f"{card.calibration} {setting.words} The interval covers the odds, the unit's rate and the operator's record, "
        "not the hazards listed apart. "
        f"By points: {points}, in which group {group.tears} of {group.operations} eyes had a tear "
        f"({100 * group.rate.value:.1f}%, 95% interval {100 * group.rate.low:.1f} to {100 * group.rate.high:.1f}%)."
    )
