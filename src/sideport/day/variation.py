"""How much the minutes of a day vary: operations, turnovers, late starts and interruptions, drawn for many days."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from ..risk.minutes import usual_minutes
from ..risk.team import Grade, Surgeon
from ..wound.technique import Technique

__all__ = ["LOGNORMAL_SOURCE", "CaseTime", "Draws", "Variation", "case_time", "draw_days", "lognormal", "variation"]

LOGNORMAL_SOURCE = "strum2003"
"""Why operations are drawn from a lognormal distribution."""
SPREADS = {Technique.MSICS: "durations.msics.expert", Technique.PHACO: "durations.phaco.expert"}
LEARNERS = (Grade.TRAINEE, Grade.NOVICE)


@dataclass(frozen=True, slots=True)
class CaseTime:
    """How long one operation may take."""

    usual_min: float
    """Mean where nothing untoward happens."""
    spread_min: float
    """Standard deviation of that."""
    tear: float
    """Probability of a capsule tear, which adds minutes."""


@dataclass(frozen=True, slots=True)
class Variation:
    """What the whole day's minutes vary by."""

    tear_min: float
    """Mean that a capsule tear adds."""
    tear_spread_min: float
    turnover_ratio: float
    """Standard deviation of a turnover as a multiple of its mean."""
    late_min: float
    """Mean by which the day starts late."""
    late_spread_min: float
    interruption: float
    """Probability that a case is held up before it starts."""
    interruption_min: float
    interruption_spread_min: float


@dataclass(frozen=True, slots=True, eq=False)
class Draws:
    """Many days drawn; each array is (days, cases) in the order of the list."""

    minutes: FloatArray
    """At the table."""
    turnover: FloatArray
    """Between the case before at the table and this one, with any interruption."""
    late: FloatArray
    """By how much the day starts late; the same for all cases of a day."""

    def without(self, place: int) -> "Draws":
        """The same days with one case left out."""
        kept = np.delete(np.arange(self.minutes.shape[1]), place)
        return Draws(self.minutes[:, kept], self.turnover[:, kept], self.late[:, kept])


def case_time(*, technique: Technique, surgeon: Surgeon, tear_probability: float, knowledge: Knowledge) -> CaseTime:
    """How long an operation may take in given hands.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    surgeon : Surgeon
        Whose own usual minutes go before the published ones.
    tear_probability : float
        Of a capsule tear [1].
    knowledge : Knowledge
        Holds ``durations.toml``.

    Returns
    -------
    CaseTime

    Notes
    -----
    The spread is the published one of experts as a share of their mean; sutured techniques, which have none, take that
    of manual small-incision surgery; learners take that of their grade.
    """
    usual = usual_minutes(technique=technique, surgeon=surgeon, knowledge=knowledge)
    grade = f"durations.theatre_by_grade.{surgeon.grade.value}"
    key = grade if surgeon.grade in LEARNERS else SPREADS.get(technique, SPREADS[Technique.MSICS])
    number = knowledge.number(key)
    return CaseTime(usual, usual * (number.spread or 0.0) / number.value, tear_probability)


def variation(knowledge: Knowledge) -> Variation:
    """What the day's minutes vary by.

    Parameters
    ----------
    knowledge : Knowledge
        Holds ``durations.toml`` and ``delays.toml``.

    Returns
    -------
    Variation

    Notes
    -----
    A tear adds the published difference of means; its spread is what is left of the variance of such cases after that
    of ordinary ones. The turnaround's spread is likewise what is left after the operation's.
    """
    tear, plain = (
        knowledge.number(f"durations.{key}") for key in ("theatre_with_capsule_tear", "theatre_by_grade.senior")
    )
    whole, operation = (knowledge.number(f"delays.observed.{key}") for key in ("with_turnaround", "operation"))
    late, held = knowledge.number("delays.first_case.late"), knowledge.number("delays.interruption.length")
    turnover_spread = left_of_spread(whole.spread, operation.spread)
    return Variation(
        tear_min=tear.value - plain.value,
        tear_spread_min=left_of_spread(tear.spread, plain.spread),
        turnover_ratio=turnover_spread / (whole.value - operation.value),
        late_min=late.value,
        late_spread_min=late.spread or 0.0,
        interruption=knowledge.value("delays.interruption.chance"),
        interruption_min=held.value,
        interruption_spread_min=held.spread or 0.0,
    )


def left_of_spread(whole: float | None, part: float | None) -> float:
    """Standard deviation that is left of a sum's after one independent part."""
    return math.sqrt(max(0.0, (whole or 0.0) ** 2 - (part or 0.0) ** 2))


def lognormal(*, mean: FloatArray, spread: FloatArray, days: int, generator: Generator) -> FloatArray:
    """Draws from lognormal distributions with given means and standard deviations.

    Parameters
    ----------
    mean, spread : array, shape (n,)
        0 or more; where the mean or the spread is 0 nothing varies.
    days : int
        How many draws of each.
    generator : numpy.random.Generator

    Returns
    -------
    array, shape (days, n)

    Raises
    ------
    ImpossibleInputError
        On a negative mean or spread.

    Notes
    -----
    With s² = ln(1 + spread²/mean²), exp(N(ln mean - s²/2, s²)).
    """
    if np.any(mean < 0) or np.any(spread < 0):
        raise ImpossibleInputError("A duration or its spread is negative; give 0 or more minutes.")
    positive = np.where(mean > 0, mean, 1.0)
    variance = np.log1p((spread / positive) ** 2)
    normal = generator.standard_normal((days, len(mean)))
    drawn = np.exp(np.log(positive) - variance / 2 + np.sqrt(variance) * normal)
    return np.where(mean > 0, drawn, 0.0)


def draw_days(
    times: Sequence[CaseTime], *, turnover_min: float, varied: Variation, days: int, generator: Generator
) -> Draws:
    """Draws many days of one list.

    Parameters
    ----------
    times : sequence of CaseTime, length n
        In the order of the list.
    turnover_min : float
        The unit's mean turnover [min].
    varied : Variation
    days : int
    generator : numpy.random.Generator
        Equal generators give equal days.

    Returns
    -------
    Draws
    """
    count = len(times)
    usual = np.array([time.usual_min for time in times])
    spread = np.array([time.spread_min for time in times])
    torn = generator.random((days, count)) < np.array([time.tear for time in times])

    def several(mean: float, sd: float, columns: int = count) -> FloatArray:
        return lognormal(mean=np.full(columns, mean), spread=np.full(columns, sd), days=days, generator=generator)

    minutes = lognormal(mean=usual, spread=spread, days=days, generator=generator)
    minutes = minutes + torn * several(varied.tear_min, varied.tear_spread_min)
    held = generator.random((days, count)) < varied.interruption
    turnover = several(turnover_min, turnover_min * varied.turnover_ratio)
    turnover = turnover + held * several(varied.interruption_min, varied.interruption_spread_min)
    late = np.broadcast_to(several(varied.late_min, varied.late_spread_min, 1), (days, count))
    return Draws(minutes, turnover, late)
