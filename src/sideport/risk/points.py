"""A points score for a second view of the risk, and what happened at each score."""

from collections.abc import Sequence
from dataclasses import dataclass

from scipy.stats import binomtest

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord, Person, Pupil
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge, load_published
from .findings import is_dense

__all__ = ["PointsGroup", "Rate", "group_for", "group_percent", "risk_points", "wilson_rate"]

GROUPS = (4, 3, 2, 1)
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Rate:
    """A share with its Wilson 95% interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class PointsGroup:
    """One group of the score with the tears observed in it."""

    group: int
    operations: int
    tears: int
    rate: Rate


def wilson_rate(*, events: int, operations: int) -> Rate:
    """Observed share with its Wilson 95% interval.

    Parameters
    ----------
    events : int
        How often it happened.
    operations : int
        Out of how many, at least 1.

    Returns
    -------
    Rate
        Share and limits, 0 to 1.

    Raises
    ------
    ImpossibleInputError
        For counts that cannot be.

    Examples
    --------
    >>> rate = wilson_rate(events=9, operations=579)
    >>> round(100 * rate.low, 2), round(100 * rate.high, 2)
    (0.82, 2.93)
    """
    if operations < 1 or not 0 <= events <= operations:
        raise ImpossibleInputError(f"{events} events in {operations} operations cannot be; give counts of one series.")
    interval = binomtest(events, operations).proportion_ci(confidence_level=CONFIDENCE, method="wilson")
    return Rate(events / operations, float(interval.low), float(interval.high))


def risk_points(*, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge) -> int:
    """Points of the published score.

    Parameters
    ----------
    person : Person
        Age and posture.
    record : EyeRecord
        Findings; what is not recorded scores nothing.
    summary : EyeSummary
        Chamber depth, counted only when it was measured in this eye.
    knowledge : Knowledge
        Holds ``risk_points.toml``.

    Returns
    -------
    int
        Sum of points.

    Notes
    -----
    Ametropia over 6 D, a plaque on the posterior capsule and a posterior polar cataract are not on the register and
    score nothing, so the sum may be too low by up to three. The point that the source leaves to the surgeon's judgement
    is given for a person who cannot lie flat.

    References
    ----------
    muhtaseb2004, table 1.
    """
    depth = summary.chamber_depth_mm
    present = {
        "vitrectomy": record.vitrectomy,
        "corneal_scar": record.corneal_scar,
        "small_pupil": record.pupil is Pupil.SMALL,
        "shallow_chamber": depth.readings > 0 and depth.value < knowledge.value("risk_points.limit.chamber_depth_mm"),
        "age_over_88": person.age_years is not None
        and person.age_years > knowledge.value("risk_points.limit.age_years"),
        "surgeon_judged": person.cannot_lie_flat,
        "dense_cataract": is_dense(record, knowledge),
        "pseudoexfoliation": record.pseudoexfoliation,
        "phacodonesis": record.phacodonesis,
    }
    return int(sum(knowledge.value(f"risk_points.points.{key}") for key, holds in present.items() if holds))


def group_for(*, points: int, knowledge: Knowledge) -> PointsGroup:
    """The score's group with the tears seen in it.

    Parameters
    ----------
    points : int
        Points, 0 or more.
    knowledge : Knowledge
        Holds ``risk_points.toml``.

    Returns
    -------
    PointsGroup
        Group 1 (no points) to 4 (six or more).

    Raises
    ------
    ImpossibleInputError
        For negative points.

    References
    ----------
    muhtaseb2004, table 2.
    """
    if points < 0:
        raise ImpossibleInputError(f"A score of {points} points cannot be; points are counted from 0.")
    group = next(number for number in GROUPS if points >= knowledge.value(f"risk_points.group_{number}.from_points"))
    operations = int(knowledge.value(f"risk_points.group_{group}.operations"))
    tears = int(knowledge.value(f"risk_points.group_{group}.capsule_tear"))
    return PointsGroup(group, operations, tears, wilson_rate(events=tears, operations=operations))


def group_percent(*, groups: Sequence[int], event: str, knowledge: Knowledge | None = None) -> float:
    """How often something happened in one or more groups of the score, from the stored counts, as the paper prints it.

    Parameters
    ----------
    groups : sequence of int
        Groups 1 to 4.
    event : str
        ``any_complication``, ``capsule_tear``, ``vitreous_loss`` or ``zonule_dehiscence``.
    knowledge : Knowledge, optional
        The published numbers when absent.

    Returns
    -------
    float
        Rate [%].

    Examples
    --------
    >>> round(group_percent(groups=[3], event="capsule_tear"), 2)
    4.96
    """
    value = (knowledge or load_published()).value
    events = sum(value(f"risk_points.group_{group}.{event}") for group in groups)
    return 100 * events / sum(value(f"risk_points.group_{group}.operations") for group in groups)
