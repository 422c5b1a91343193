"""How long an operation is expected to take, with what may happen in it."""

from ..knowledge import Knowledge
from ..risk.minutes import usual_minutes
from ..risk.team import Grade, Surgeon
from ..wound.technique import Technique

__all__ = ["expected_minutes"]


def expected_minutes(*, technique: Technique, surgeon: Surgeon, tear_probability: float, knowledge: Knowledge) -> float:
    """Expected minutes at the table, from first cut to drape off.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    surgeon : Surgeon
        The operator.
    tear_probability : float
        Probability of a capsule tear [1]; it adds the published excess of such a case at that weight.
    knowledge : Knowledge
        Holds ``durations.toml``.

    Returns
    -------
    float
        Minutes [min].
    """
    senior = knowledge.value(f"durations.theatre_by_grade.{Grade.SENIOR.value}")
    excess = knowledge.value("durations.theatre_with_capsule_tear") - senior
    usual = usual_minutes(technique=technique, surgeon=surgeon, knowledge=knowledge)
    return usual + tear_probability * excess
