"""What a refraction tells: of an eye with its own lens a little, of an eye with a known implant much."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from ..optics.vergence import refraction_for_power
from .coordinates import COORDINATES, Coordinate
from .observation import Padded
from .person import Cataract, Person
from .readings import SIDES

__all__ = [
    "OutcomeModel",
    "Outcomes",
    "linear_rows",
    "load_outcome_model",
    "phakic_slopes",
    "read_outcomes",
    "with_rows",
]

IntArray = NDArray[np.intp]

STEP = 1e-3
"""Half-width of the difference quotients, in mm and D."""


@dataclass(frozen=True, slots=True, eq=False)
class Outcomes:
    """The refractions that tell something, (n, 2) each for right and left; NaN where there is none."""

    phakic_d: FloatArray
    """Of eyes with a cataract."""
    implanted_d: FloatArray
    power_d: FloatArray
    a_constant: FloatArray
    """NaN where the model of the implant is not known."""

    @property
    def people(self) -> IntArray:
        """Indices of the people with any."""
        told = ~np.isnan(self.phakic_d) | ~np.isnan(self.implanted_d)
        return np.flatnonzero(told.any(axis=1))


@dataclass(frozen=True, slots=True)
class OutcomeModel:
    """The numbers of ``measurement_methods.refraction``."""

    phakic_mean_d: float
    per_mm: float
    per_d: float
    phakic_variance: float
    position_slope: float
    position_offset: float
    reference_mm: float
    longest_mm: float
    corneal_ratio: float
    implanted_variance: float
    unknown_constant: float
    unknown_sd: float


def phakic_slopes(knowledge: Knowledge) -> tuple[float, float, float]:
    """How a phakic refraction goes with length and corneal power.

    Parameters
    ----------
    knowledge : Knowledge
        With ``measurement_methods.refraction.phakic``.

    Returns
    -------
    tuple of float
        Slope on axial length [D/mm], on mean corneal power [D/D], and the standard deviation left over [D].

    Raises
    ------
    KnowledgeError
        When a number is missing.

    Notes
    -----
    Standardised slopes b solve C b = r with C the correlation of length and power and r theirs with refraction; the
    share of variance left is 1 - r . b. Departure: correlations of one population, spreads of another.

    References
    ----------
    reykjavik2007 (abstract); nangia2010.

    Example
    -------
    >>> from sideport.knowledge import load_published
    >>> [round(value, 2) for value in phakic_slopes(load_published())]
    [-1.33, -0.45, 0.97]
    """
    table = knowledge.table("measurement_methods.refraction.phakic")
    cross = table["correlation_length_power"].value
    told = np.array([table["correlation_length"].value, table["correlation_power"].value])
    share = np.linalg.solve(np.array([[1.0, cross], [cross, 1.0]]), told)
    spread = table["mean"].spread or 0.0
    left = spread * float(np.sqrt(1.0 - told @ share))
    return (
        float(share[0] * spread / table["length_spread"].value),
        float(share[1] * spread / table["power_spread"].value),
        left,
    )


def load_outcome_model(knowledge: Knowledge) -> OutcomeModel:
    """Gathers the numbers.

    Raises
    ------
    KnowledgeError
        When one is missing.
    """
    phakic, implanted = (f"measurement_methods.refraction.{kind}" for kind in ("phakic", "implanted"))
    per_mm, per_d, left = phakic_slopes(knowledge)
    cataract = knowledge.number(f"{phakic}.cataract")
    unknown = knowledge.number(f"{implanted}.unknown_constant")
    return OutcomeModel(
        phakic_mean_d=knowledge.value(f"{phakic}.mean") + cataract.value,
        per_mm=per_mm,
        per_d=per_d,
        phakic_variance=left**2 + knowledge.value(f"{phakic}.repeat_sd") ** 2 + (cataract.spread or 0.0) ** 2,
        position_slope=knowledge.value(f"{implanted}.position_slope"),
        position_offset=knowledge.value(f"{implanted}.position_offset"),
        reference_mm=knowledge.value(f"{implanted}.reference_length"),
        longest_mm=knowledge.value(f"{implanted}.longest"),
        corneal_ratio=knowledge.value(f"{implanted}.corneal_ratio"),
        implanted_variance=knowledge.value(f"{implanted}.miss_sd") ** 2,
        unknown_constant=unknown.value,
        unknown_sd=unknown.spread or 0.0,
    )


def read_outcomes(people: Sequence[Person]) -> Outcomes:
    """Takes the refractions out of the records.

    An eye that is neither listed, nor known to have a cataract, nor to have an implant, tells nothing: it may have
    been operated on.

    Raises
    ------
    ImpossibleInputError
        On a refraction, power or constant that is infinite.
    """
    shape = (len(people), len(SIDES))
    phakic, implanted, power, constant = (np.full(shape, np.nan) for _ in range(4))
    for index, person in enumerate(people):
        for record in person.eyes:
            if record.refraction_d is None:
                continue
            at = index, SIDES.index(record.side)
            if record.implanted_power_d is not None:
                implanted[at], power[at] = record.refraction_d, record.implanted_power_d
                constant[at] = np.nan if record.implanted_a_constant is None else record.implanted_a_constant
            elif record.listed or record.cataract not in {None, Cataract.NONE}:
                phakic[at] = record.refraction_d
    for values, words in ((phakic, "refraction"), (implanted, "refraction"), (power, "implanted power"),
                          (constant, "A-constant")):  # fmt: skip
        if np.isinf(values).any():
            first = int(np.argmax(np.isinf(values).any(axis=1))) + 1
            raise ImpossibleInputError(
                f"An infinite {words} (person number {first} on the list) cannot be; correct or remove it."
            )
    implanted[np.isnan(power)] = np.nan
    return Outcomes(phakic, implanted, power, constant)


def linear_rows(
    outcomes: Outcomes, rows: IntArray, *, at: FloatArray, expected: FloatArray, model: OutcomeModel
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """The refractions of some people as linear observations about a mean.

    Parameters
    ----------
    outcomes : Outcomes
        Of everyone.
    rows : array, (k,)
        Whose are wanted.
    at : array, (k, 14)
        Where to take the slopes of the implanted eyes.
    expected : array, (k, 14)
        Prior means: a phakic refraction is judged against the length and power that the population expects.
    model : OutcomeModel
        The numbers.

    Returns
    -------
    tuple of array
        Design (k, 2, 14), observed (k, 2) and variance (k, 2); an empty place is zeros, 0 and 1, as ``condition`` asks.

    Raises
    ------
    ImpossibleInputError
        When ``at`` holds a length or power that is not positive.
    """
    shape = (len(rows), len(SIDES))
    design = np.zeros((*shape, at.shape[1]))
    observed, variance = np.zeros(shape), np.ones(shape)
    size = len(COORDINATES)
    for place in range(len(SIDES)):
        length, power = place * size + Coordinate.AXIAL_LENGTH, place * size + Coordinate.MEAN_K
        phakic, result = outcomes.phakic_d[rows, place], outcomes.implanted_d[rows, place]
        own, implanted = np.flatnonzero(~np.isnan(phakic)), np.flatnonzero(~np.isnan(result))
        design[own, place, length], design[own, place, power] = model.per_mm, model.per_d
        base = model.per_mm * expected[own, length] + model.per_d * expected[own, power]
        observed[own, place] = phakic[own] - model.phakic_mean_d + base
        variance[own, place] = model.phakic_variance
        if len(implanted):
            lens = outcomes.power_d[rows[implanted], place], outcomes.a_constant[rows[implanted], place]
            here = at[implanted, length], at[implanted, power]
            value, by_length, by_power, extra = implanted_slopes(*here, *lens, model)
            design[implanted, place, length], design[implanted, place, power] = by_length, by_power
            observed[implanted, place] = result[implanted] - value + by_length * here[0] + by_power * here[1]
            variance[implanted, place] = model.implanted_variance + extra
    return design, observed, variance


def implanted_slopes(
    length: FloatArray, power: FloatArray, lens_d: FloatArray, a_constant: FloatArray, model: OutcomeModel
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Expected refraction of an implanted eye, its slopes on length and corneal power, and the constant's variance."""
    unknown = np.isnan(a_constant)
    constant = np.where(unknown, model.unknown_constant, a_constant)

    def refraction(mm: FloatArray, k: FloatArray, a: FloatArray) -> FloatArray:
        nominal = model.position_slope * a + model.position_offset
        return refraction_for_power(
            axial_length_mm=mm,
            lens_position_mm=nominal * np.minimum(mm, model.longest_mm) / model.reference_mm,
            corneal_power_d=model.corneal_ratio * k,
            power_d=lens_d,
        )

    by_length = (refraction(length + STEP, power, constant) - refraction(length - STEP, power, constant)) / (2 * STEP)
    by_power = (refraction(length, power + STEP, constant) - refraction(length, power - STEP, constant)) / (2 * STEP)
    by_constant = (refraction(length, power, constant + STEP) - refraction(length, power, constant - STEP)) / (2 * STEP)
    extra = np.where(unknown, by_constant * model.unknown_sd, 0.0) ** 2
    return refraction(length, power, constant), by_length, by_power, extra


def with_rows(part: Padded, design: FloatArray, observed: FloatArray, variance: FloatArray) -> Padded:
    """The observations of some people with two more places for their refractions."""
    people, places = part.observed.shape
    more = observed.shape[1]
    noise = np.zeros((people, places + more, places + more))
    noise[:, :places, :places] = part.noise
    last = np.arange(places, places + more)
    noise[:, last, last] = variance
    return Padded(
        rows=part.rows,
        design=np.concatenate([part.design, design], axis=1),
        observed=np.concatenate([part.observed, observed], axis=1),
        noise=noise,
        row=part.row,
        slot=part.slot,
        member=part.member,
    )
