"""How long an operation usually takes in given hands."""

from ..knowledge import Knowledge
from ..wound.technique import Technique
from .team import Grade, Surgeon

__all__ = ["usual_minutes"]

EXPERT_MINUTES = {
    Technique.MSICS: "durations.msics.expert",
    Technique.PHACO: "durations.phaco.expert",
    Technique.ECCE: "durations.ecce.expert",
    Technique.ICCE: "durations.icce.expert",
}


def usual_minutes(*, technique: Technique, surgeon: Surgeon, knowledge: Knowledge) -> float:
    """Minutes at the table when nothing untoward happens, from first cut to drape off.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    surgeon : Surgeon
        Whose own usual minutes go before the published ones.
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
    own = {Technique.MSICS: surgeon.minutes_msics, Technique.PHACO: surgeon.minutes_phaco}.get(technique)
    if own is not None:
        return own
    grade, senior = (
        knowledge.value(f"durations.theatre_by_grade.{grade.value}") for grade in (surgeon.grade, Grade.SENIOR)
    )
    return knowledge.value(EXPERT_MINUTES[technique]) * grade / senior
