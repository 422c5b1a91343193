"""The numbers that a belief is made from, and the one place where readings and refractions meet the prior."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .condition import condition
from .coordinates import COORDINATES, Coordinate
from .method import MethodErrors, load_method_errors
from .observation import Observations, Padded, observe, padded_chunks
from .oddness import loosened
from .outcome import OutcomeModel, Outcomes, linear_rows, load_outcome_model, with_rows
from .prior import Prior, load_prior
from .readings import Readings
from .slip import SlipModel

__all__ = ["EyeModel", "conditioned", "load_eye_model", "padded_with_outcomes"]

IntArray = NDArray[np.intp]

CHUNK = 8192
"""People conditioned at once; bounds the working memory."""
ROUNDS = 3
"""Times that the slopes of a refraction are taken anew at the mean that they led to."""


@dataclass(frozen=True, slots=True, eq=False)
class EyeModel:
    """Prior, errors of the methods, and what refractions tell."""

    prior: Prior
    errors: MethodErrors
    outcomes: OutcomeModel
    possible_mm: tuple[float, float]
    """Axial lengths at which the slopes of a refraction may be taken."""


def load_eye_model(population: str, knowledge: Knowledge) -> EyeModel:
    """Gathers the numbers for one population.

    Raises
    ------
    KnowledgeError
        When the population is not known or a number is missing.
    """
    ends = (knowledge.value(f"biometry_quality.possible.axial_length.{end}") for end in ("low", "high"))
    low, high = ends
    return EyeModel(
        prior=load_prior(population, knowledge),
        errors=load_method_errors(knowledge),
        outcomes=load_outcome_model(knowledge),
        possible_mm=(low, high),
    )


def conditioned(
    readings: Readings,
    outcomes: Outcomes,
    *,
    means: FloatArray,
    people: IntArray,
    model: EyeModel,
    slips: SlipModel | None = None,
) -> tuple[FloatArray, FloatArray]:
    """Mean (k, 14) and covariance (k, 14, 14) of the people asked for (sorted indices), from all that is read of them.

    A refraction enters as a linear observation: first about the mean that refractions alone lead to, then once about
    the mean of everything, where that is a possible eye. With ``slips``, people whose eyes seem less alike than the
    Gaussian prior has it are believed from wider ones as well.
    """
    seen = observe(readings, meridian_variance=model.prior.meridian_variance)
    mean = means[people].copy()
    covariance = np.broadcast_to(model.prior.covariance, (len(people), *model.prior.covariance.shape)).copy()
    for part, linear_at in padded_with_outcomes(seen, outcomes, means=means, people=people, model=model, size=CHUNK):
        place = np.searchsorted(people, part.rows)
        mean[place], covariance[place] = solve(part, means, model, slips)
        if linear_at is not None:
            again = relinearised(part, mean[place], linear_at, outcomes, means, model)
            mean[place], covariance[place] = solve(again, means, model, slips)
    return mean, covariance


def solve(part: Padded, means: FloatArray, model: EyeModel, slips: SlipModel | None) -> tuple[FloatArray, FloatArray]:
    """The exact conditional of some people."""
    prior = model.prior.covariance
    found = condition(
        mean=means[part.rows], covariance=prior, design=part.design, observed=part.observed, noise=part.noise
    )
    return found if slips is None else loosened(*found, part, mean=means[part.rows], prior=prior, slips=slips)


def padded_with_outcomes(
    seen: Observations, outcomes: Outcomes, *, means: FloatArray, people: IntArray, model: EyeModel, size: int
) -> Iterator[tuple[Padded, FloatArray | None]]:
    """Observations in chunks; where anyone in a chunk has a refraction, two places more and the point of its slopes."""
    told = np.zeros(len(means), dtype=bool)
    told[outcomes.people] = True
    for part in padded_chunks(seen, errors=model.errors, size=size, people=people):
        if not told[part.rows].any():
            yield part, None
            continue
        at = refraction_mean(outcomes, part.rows, means, model)
        rows = linear_rows(outcomes, part.rows, at=at, expected=means[part.rows], model=model.outcomes)
        yield with_rows(part, *rows), at


def refraction_mean(outcomes: Outcomes, rows: IntArray, means: FloatArray, model: EyeModel) -> FloatArray:
    """(k, 14) the mean that refractions alone lead to, by taking their slopes anew a few times."""
    at = means[rows]
    for _ in range(ROUNDS):
        design, observed, variance = linear_rows(outcomes, rows, at=at, expected=means[rows], model=model.outcomes)
        noise = variance[:, :, None] * np.eye(variance.shape[1])
        moved, _ = condition(
            mean=means[rows], covariance=model.prior.covariance, design=design, observed=observed, noise=noise
        )
        at = np.where(possible(moved, model)[:, None], moved, at)
    return at


def relinearised(
    part: Padded, mean: FloatArray, at: FloatArray, outcomes: Outcomes, means: FloatArray, model: EyeModel
) -> Padded:
    """The same observations with the refractions' slopes taken at a new mean, where it is a possible eye."""
    point = np.where(possible(mean, model)[:, None], mean, at)
    rows = linear_rows(outcomes, part.rows, at=point, expected=means[part.rows], model=model.outcomes)
    places = part.observed.shape[1] - rows[1].shape[1]
    plain = Padded(
        rows=part.rows,
        design=part.design[:, :places],
        observed=part.observed[:, :places],
        noise=part.noise[:, :places, :places],
        row=part.row,
        slot=part.slot,
        member=part.member,
    )
    return with_rows(plain, *rows)


def possible(mean: FloatArray, model: EyeModel) -> NDArray[np.bool_]:
    """Whether both lengths and powers of a mean can belong to eyes."""
    lengths = mean[:, eye_places(Coordinate.AXIAL_LENGTH)]
    low, high = model.possible_mm
    return np.asarray(
        ((lengths > low) & (lengths < high)).all(axis=1) & (mean[:, eye_places(Coordinate.MEAN_K)] > 0).all(axis=1)
    )


def eye_places(coordinate: Coordinate) -> Sequence[int]:
    """Where a quantity stands for the right and the left eye."""
    return [int(coordinate), int(coordinate) + len(COORDINATES)]
