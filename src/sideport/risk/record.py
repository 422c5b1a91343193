"""What an operator does to the odds: the grade, and the own record drawn towards it."""

from dataclasses import dataclass

from ..knowledge import Basis, Knowledge
from .advice import OddsFactor
from .calibrate import Calibration
from .models import grade_factor
from .odds import probability
from .shrink import RateBelief, belief_from
from .team import Surgeon

__all__ = ["OperatorEffect", "operator_effect"]


@dataclass(frozen=True, slots=True)
class OperatorEffect:
    """One operator's odds against a senior surgeon's, by grade and by own record."""

    name: str
    grade: OddsFactor
    own: OddsFactor | None
    """``None`` without a record; its odds ratio is 1 for a record just like the grade's."""
    log_odds_sd: float
    """How uncertain the operator's own rate is."""
    expected_rate: float
    """What the grade would have in this unit."""
    rate: RateBelief
    """The operator's rate after shrinking."""
    words: str

    @property
    def odds_ratio(self) -> float:
        """Grade and own record together."""
        return self.grade.odds_ratio * (1.0 if self.own is None else self.own.odds_ratio)


def operator_effect(*, surgeon: Surgeon, calibration: Calibration, knowledge: Knowledge) -> OperatorEffect:
    """The odds ratio of one operator: the grade's, moved by the own record as far as its size allows.

    Parameters
    ----------
    surgeon : Surgeon
        With operations and tears so far, where known.
    calibration : Calibration
        The unit's rate.
    knowledge : Knowledge
        Holds ``operators.toml``.

    Returns
    -------
    OperatorEffect

    Notes
    -----
    The rate that the grade would have here is the unit's, its odds moved by the grade's odds ratio over the mean of
    those who made the rate. Surgeons of one grade differ around it by ``operators.between_surgeons`` (common practice),
    which makes a beta prior; own tears and operations add to it. The record is taken without its case mix: who is given
    the hard eyes looks worse than they are.
    """
    grade = grade_factor(grade=surgeon.grade, knowledge=knowledge, model=calibration.model)
    ratio = grade.odds_ratio / calibration.mean_grade_odds
    expected = float(probability(odds_ratio=ratio, baseline=calibration.rate))
    prior = belief_from(rate=expected, log_odds_sd=knowledge.value("operators.between_surgeons"))
    if not surgeon.operations or surgeon.capsule_tears is None:
        words = f"{surgeon.name}: no own record; counted as the grade ({100 * expected:.1f}%)."
        return OperatorEffect(surgeon.name, grade, None, prior.log_odds_sd, expected, prior, words)
    after = prior.updated(events=surgeon.capsule_tears, operations=surgeon.operations)
    odds = after.mean / (1 - after.mean) / (expected / (1 - expected))
    label = f"Own record: {surgeon.capsule_tears} tears in {surgeon.operations}"
    words = (
        f"{surgeon.name}: {surgeon.capsule_tears} tears in {surgeon.operations} operations, taken as "
        f"{100 * after.mean:.1f}% beside {100 * expected:.1f}% for the grade here (own record weighs "
        f"{100 * surgeon.operations / after.operations:.0f}%; not adjusted for how hard the eyes were)."
    )
    factor = OddsFactor(label, odds, "unit", Basis.COMMON_PRACTICE)
    return OperatorEffect(surgeon.name, grade, factor, after.log_odds_sd, expected, after, words)
