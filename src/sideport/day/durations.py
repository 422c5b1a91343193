"""How long an operation is expected to take in given hands."""

from ..knowledge import Knowledge
from ..risk.team import Grade, Surgeon
from ..wound.technique import Technique

__all__ = ["expected_minutes"]

EXPERT_MINUTES = {
    Technique.MSICS: "durations.msics.expert",
    Technique.PHACO: "durations.phaco.expert",
    Technique.ECCE: "durations.ecce.expert",
    Technique.ICCE: "durations.icce.expert",
}


def expected_minutes(
    *, technique: Technique, grade: Grade, surgeon: Surgeon | None, tear_probability: float, knowledge: Knowledge
) -> float:
    """Expected minutes at the table, from first cut to drape off.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    grade : Grade
        Of the operator; used where the operator's own minutes are not known.
    surgeon : Surgeon or None
        Whose own usual minutes go before the published ones.
    tear_probability : float
        Probability of a capsule tear [1]; it adds the published excess of such a case at that weight.
    knowledge : Knowledge
        Holds ``durations.toml``.

    Returns
    -------
    float
        Minutes [min].

    Notes
    -----
    Own minutes, or the published expert minutes times the published ratio of theatre times between the operator's
    grade and a senior surgeon. The ratio comes from phacoemulsification in one hospital trust and is applied to the
    manual operations too, for want of a series of their own.
    """
    value = knowledge.value
    own = {Technique.MSICS: surgeon.minutes_msics, Technique.PHACO: surgeon.minutes_phaco} if surgeon else {}
    base = own.get(technique)
    senior = value("durations.theatre_by_grade.senior")
    if base is None:
        base = value(EXPERT_MINUTES[technique]) * value(f"durations.theatre_by_grade.{grade.value}") / senior
    excess = value("durations.theatre_with_capsule_tear") - senior
    return base + tear_probability * excess
