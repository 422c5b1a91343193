"""What the day's teaching costs in expected tears, and whom it teaches."""

from collections.abc import Sequence

from ..risk.advice import OperatorAdvice
from ..risk.ladder import LEARNERS
from ..risk.team import Surgeon
from .plan import Taught

__all__ = ["all_senior_tears", "taught", "training_cost"]


def all_senior_tears(*, operators: Sequence[OperatorAdvice]) -> float:
    """Expected tears of the same list if senior surgeons did every eye.

    Parameters
    ----------
    operators : sequence of OperatorAdvice
        Of the eyes on the list; those whose tears were not worked out count for nothing.

    Returns
    -------
    float
        The sum of each eye's probability less what its operator adds.
    """
    return sum(
        advice.tear_probability - (advice.extra_tears or 0.0)
        for advice in operators
        if advice.tear_probability is not None
    )


def training_cost(*, operators: Sequence[OperatorAdvice]) -> float:
    """Expected tears that the teaching cases add beyond senior hands.

    Parameters
    ----------
    operators : sequence of OperatorAdvice
        Of the eyes on the list.

    Returns
    -------
    float
    """
    return sum(advice.extra_tears or 0.0 for advice in operators if advice.grade in LEARNERS)


def taught(*, keys: Sequence[str], operators: Sequence[OperatorAdvice], team: Sequence[Surgeon]) -> tuple[Taught, ...]:
    """Every learner on the team with the eyes that the day gives them.

    Parameters
    ----------
    keys : sequence of str
        Of the eyes on the list, in its order.
    operators : sequence of OperatorAdvice
        Of the same eyes.
    team : sequence of Surgeon

    Returns
    -------
    tuple of Taught
        Those who wanted cases and those who got some, in the order of the team.
    """
    found = []
    for surgeon in team:
        if surgeon.grade not in LEARNERS:
            continue
        mine = [(key, advice) for key, advice in zip(keys, operators, strict=True) if advice.name == surgeon.name]
        if not mine and not surgeon.cases_wanted:
            continue
        extra = sum(advice.extra_tears or 0.0 for _, advice in mine)
        missing = max(0, surgeon.cases_wanted - len(mine))
        words = f"{surgeon.name} operates on {len(mine)} of {surgeon.cases_wanted} wanted"
        if mine:
            words += f", at {extra:.3f} more expected tears than in senior hands"
        if missing:
            words += f"; {missing} not given: no eye mild enough with a supervisor, or the day's harm margin is used up"
        found.append(
            Taught(
                name=surgeon.name,
                grade=surgeon.grade,
                wanted=surgeon.cases_wanted,
                eyes=tuple(key for key, _ in mine),
                supervisors=tuple(dict.fromkeys(advice.supervisor for _, advice in mine if advice.supervisor)),
                extra_tears=extra,
                words=words + ".",
            )
        )
    return tuple(found)
