"""The harm budget: how many expected tears a day may have beyond one that seniors operate alone."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..knowledge import Knowledge
from .ladder import LEARNERS, Case, objections
from .team import Grade, Surgeon

__all__ = ["HarmBudget", "budget_for", "senior_tears"]

ROUNDING = 1e-12


@dataclass(slots=True)
class HarmBudget:
    """What is left of the margin while operators are given their eyes."""

    all_senior: float
    """Expected tears of the day if senior surgeons did every eye."""
    limit: float
    """Expected tears that the day may have beyond that."""
    spent: float = 0.0

    def allows(self, extra: float) -> bool:
        """Whether an eye that adds so many expected tears still fits."""
        return extra <= 0 or self.spent + extra <= self.limit + ROUNDING

    def take(self, extra: float) -> None:
        """Counts an eye."""
        self.spent += extra


def senior_tears(*, case: Case, team: Sequence[Surgeon], knowledge: Knowledge) -> float:
    """Probability of a tear in the hands that the eye would have on an all-senior day.

    Parameters
    ----------
    case : Case
        With its probabilities by name.
    team : sequence of Surgeon
    knowledge : Knowledge

    Returns
    -------
    float
        Of the senior surgeon least likely to tear it; of whoever operates alone where no senior does this operation;
        NaN where nobody may or no probabilities are given.
    """
    able = [s for s in team if s.name in case.tears and not objections(s, case, knowledge)]
    for hands in (
        [s for s in able if s.grade is Grade.SENIOR],
        [s for s in able if s.grade not in LEARNERS],
        able,
    ):
        if hands:
            return min(case.tears[surgeon.name] for surgeon in hands)
    return float("nan")


def budget_for(*, cases: Sequence[Case], team: Sequence[Surgeon], margin: float, knowledge: Knowledge) -> HarmBudget:
    """The day's budget.

    Parameters
    ----------
    cases : sequence of Case
    team : sequence of Surgeon
    margin : float
        Share by which expected tears may exceed those of an all-senior day, 0 or more.
    knowledge : Knowledge

    Returns
    -------
    HarmBudget
    """
    reference = [senior_tears(case=case, team=team, knowledge=knowledge) for case in cases]
    total = sum(tears for tears in reference if tears == tears)
    return HarmBudget(total, margin * total)
