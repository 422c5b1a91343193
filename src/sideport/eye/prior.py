"""What is known of a person's eyes before any reading: published biometry of a population (``populations.toml``)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from ..errors import KnowledgeError
from ..knowledge import Knowledge, load_published
from ..optics.arrays import FloatArray
from .coordinates import COORDINATES, Coordinate
from .person import Person, Sex

__all__ = ["Prior", "astigmatism_beyond", "load_prior", "populations"]

MEASURED = (
    Coordinate.AXIAL_LENGTH,
    Coordinate.MEAN_K,
    Coordinate.CHAMBER_DEPTH,
    Coordinate.LENS_THICKNESS,
    Coordinate.WHITE_TO_WHITE,
)
AGE_BANDS = (45.0, 55.0, 65.0, 75.0)
"""Middles of the printed decades; the ends are the keys ``age_45`` and so on."""

HALF = {Sex.MALE: 0.5, Sex.FEMALE: -0.5, None: 0.0}
"""Part of the sex difference that is added; none where the sex is not recorded."""


@dataclass(frozen=True, slots=True, eq=False)
class Prior:
    """A Gaussian over the fourteen quantities of a person, with shifts by sex and age."""

    mean: FloatArray
    """(7,) of either eye, before shifts; J45 is 0."""
    covariance: FloatArray
    """(14, 14)"""
    male_minus_female: FloatArray
    """(7,); 0 where none is published."""
    length_by_age_mm: FloatArray | None
    """(4,) shift of axial length at the ages of ``AGE_BANDS``; ``None`` where none is published."""
    meridian_variance: float
    """[D2] how far the power of one principal meridian of unknown axis lies from the mean power."""

    def means(self, people: Sequence[Person]) -> FloatArray:
        """Prior mean of each person, (n, 14): half the sex difference up or down, axial length by age."""
        sign = np.array([HALF[person.sex] for person in people])
        eye = self.mean + sign[:, None] * self.male_minus_female
        if self.length_by_age_mm is not None:
            age = np.array([np.nan if person.age_years is None else person.age_years for person in people], dtype=float)
            shift = np.interp(age, AGE_BANDS, self.length_by_age_mm)
            eye[:, Coordinate.AXIAL_LENGTH] += np.where(np.isnan(age), 0.0, shift)
        return np.concatenate([eye, eye], axis=1)


def populations(knowledge: Knowledge) -> tuple[str, ...]:
    """Keys of the populations a belief may start from, sorted."""
    tail = ".axial_length.mean"
    stems = (key.removesuffix(tail) for key in knowledge.numbers if key.endswith(tail))
    return tuple(sorted(stem.removeprefix("populations.") for stem in stems if stem.startswith("populations.")))


def load_prior(population: str, knowledge: Knowledge) -> Prior:
    """The prior of a population.

    Parameters
    ----------
    population : str
        A table of ``populations.toml``.
    knowledge : Knowledge
        The published numbers.

    Returns
    -------
    Prior

    Raises
    ------
    KnowledgeError
        When the population is not known, or its numbers do not make a positive definite covariance.

    Notes
    -----
    Within an eye: published spreads and correlations. Astigmatism is a Gaussian power vector with the published mean
    magnitude, the ratio of its axes and the offset of J0 such that the published shares of with-the-rule,
    against-the-rule and oblique axes come out (30-degree sectors). Departure: published magnitudes have a heavier tail
    than a Gaussian vector, so very astigmatic corneas are rarer in the prior than in life.

    Between eyes: with D the covariance of right minus left, each eye W, the covariance across is W - D / 2. The left
    J45 is mirrored. D comes from published shares beyond a limit as if differences were normal.
    """
    if population not in populations(knowledge):
        known = ", ".join(populations(knowledge))
        raise KnowledgeError(f"No population is called {population!r}; choose one of {known}.")
    table = {key: number.value for key, number in knowledge.table(f"populations.{population}").items()}
    shared = {key: number.value for key, number in knowledge.table("populations.within_eye").items()}
    between = {key: number.value for key, number in knowledge.table("populations.between_eyes").items()}
    mean = np.zeros(len(COORDINATES))
    spread = np.zeros(len(COORDINATES))
    for coordinate in MEASURED:
        number = knowledge.number(f"populations.{population}.{coordinate.name.lower()}.mean")
        if number.spread is None:
            raise KnowledgeError(f"{number.key} has no spread.")
        mean[coordinate], spread[coordinate] = number.value, number.spread
    mean[Coordinate.J0], spread[Coordinate.J0], spread[Coordinate.J45] = astigmatism_moments(
        table["astigmatism.magnitude"],
        with_rule=table["astigmatism.with_rule"],
        against_rule=table["astigmatism.against_rule"],
        oblique=table["astigmatism.oblique"],
    )
    correlations = {f"correlation.{pair}": value for pair, value in shared.items()} | table
    within = correlation_matrix(correlations) * np.outer(spread, spread)
    difference = difference_covariance(between, spread)
    return Prior(
        mean=mean,
        covariance=both_eyes(within, difference, population),
        male_minus_female=np.array([table.get(f"{name}.male_minus_female", 0.0) for name in COORDINATES]),
        length_by_age_mm=length_by_age(table),
        meridian_variance=float(mean[Coordinate.J0] ** 2 + spread[Coordinate.J0] ** 2 + spread[Coordinate.J45] ** 2),
    )


def astigmatism_moments(
    magnitude_d: float, *, with_rule: float, against_rule: float, oblique: float
) -> tuple[float, float, float]:
    """Mean of J0 and standard deviations of J0 and J45, from the mean magnitude and the shares of the kinds of axis.

    J45 / J0 of a centred Gaussian is Cauchy: an axis is oblique when it exceeds tan 60 degrees in size. The sign of
    J0 then gives its offset, and the mean length of the vector its scale.
    """
    whole = with_rule + against_rule + oblique
    ratio = np.tan(0.5 * np.pi * (1.0 - oblique / whole)) / np.tan(np.pi / 3.0)
    offset = float(ndtri(against_rule / (with_rule + against_rule)))
    node, weight = np.polynomial.hermite_e.hermegauss(100)
    length = np.hypot(offset + node[:, None], node / ratio)
    mean_length = float(weight @ length @ weight / weight.sum() ** 2)
    sd_j0 = 0.5 * magnitude_d / mean_length
    return offset * sd_j0, sd_j0, float(sd_j0 / ratio)


def correlation_matrix(table: Mapping[str, float]) -> FloatArray:
    """(7, 7) correlations from keys such as ``correlation.axial_length_mean_k``; unlisted pairs are 0."""
    matrix = np.eye(len(COORDINATES))
    for i, first in enumerate(COORDINATES):
        for j, second in enumerate(COORDINATES):
            value = table.get(f"correlation.{first}_{second}")
            if value is not None:
                matrix[i, j] = matrix[j, i] = value
    return matrix


def difference_covariance(between: Mapping[str, float], spread: FloatArray) -> FloatArray:
    """(7, 7) covariance of right minus left, the left J45 mirrored."""
    sd = np.zeros(len(COORDINATES))
    for coordinate in MEASURED:
        name = coordinate.name.lower()
        if f"{name}.beyond" in between:
            sd[coordinate] = between[f"{name}.limit"] / ndtri(1.0 - 0.5 * between[f"{name}.beyond"] / 100.0)
        else:
            sd[coordinate] = between[f"{name}.difference_sd"]
    sd[Coordinate.J0] = spread[Coordinate.J0] * np.sqrt(2.0 * (1.0 - between["j0.correlation"]))
    sd[Coordinate.J45] = spread[Coordinate.J45] * np.sqrt(2.0 * (1.0 - between["j45.mirror_correlation"]))
    return correlation_matrix(between) * np.outer(sd, sd)


def both_eyes(within: FloatArray, difference: FloatArray, population: str) -> FloatArray:
    """(14, 14) covariance of both eyes, mirror undone.

    Raises
    ------
    KnowledgeError
        When the numbers contradict each other so that it is not positive definite.
    """
    across = within - 0.5 * difference
    mirror = np.ones(2 * len(COORDINATES))
    mirror[len(COORDINATES) + Coordinate.J45] = -1.0
    covariance = np.block([[within, across], [across, within]]) * np.outer(mirror, mirror)
    try:
        np.linalg.cholesky(covariance)
    except np.linalg.LinAlgError:
        raise KnowledgeError(
            f"populations.{population}: spreads and correlations contradict each other (not positive definite)."
        ) from None
    return np.asarray(covariance)


def length_by_age(table: Mapping[str, float]) -> FloatArray | None:
    """Shift of axial length at the printed ages, against the age the population's mean is of."""
    if "axial_length.age_45" not in table:
        return None
    printed = np.array([table[f"axial_length.age_{band:.0f}"] for band in AGE_BANDS])
    reference = table.get("axial_length.reference_age")
    centre = table["axial_length.age_all"] if reference is None else float(np.interp(reference, AGE_BANDS, printed))
    return np.asarray(printed - centre)


def astigmatism_beyond(*, population: str, limit_d: float) -> float:
    """Share of eyes of a population whose corneal astigmatism exceeds a limit.

    Parameters
    ----------
    population : str
        A table of ``populations.toml``.
    limit_d : float
        Astigmatism [D].

    Returns
    -------
    float
        Share [%] under the prior, to be compared with published shares.

    Raises
    ------
    KnowledgeError
        When the population is not known.

    Notes
    -----
    1 - P(J0^2 + J45^2 <= (limit / 2)^2), J45 in closed form, J0 by quadrature over the disc.
    """
    prior = load_prior(population, load_published())
    centre = prior.mean[Coordinate.J0]
    sd_j0, sd_j45 = np.sqrt(np.diagonal(prior.covariance)[[Coordinate.J0, Coordinate.J45]])
    node, weight = np.polynomial.legendre.leggauss(200)
    j0 = 0.5 * limit_d * node
    edge = np.sqrt((0.5 * limit_d) ** 2 - j0**2) / sd_j45
    density = np.exp(-0.5 * ((j0 - centre) / sd_j0) ** 2) / (sd_j0 * np.sqrt(2.0 * np.pi))
    inside = 0.5 * limit_d * float(np.sum(weight * density * (2.0 * ndtr(edge) - 1.0)))
    return 100.0 * (1.0 - inside)
