"""What is believed about both eyes of each person: a joint Gaussian over fourteen quantities."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.side import Side
from .condition import condition
from .coordinates import COORDINATES
from .method import load_method_errors
from .observation import observe, padded_chunks
from .person import Person
from .prior import load_prior
from .readings import read_all

__all__ = ["Belief", "EyeBelief", "believe"]

FloatArray = NDArray[np.float64]

CHUNK = 8192
"""People conditioned at once; bounds the working memory."""


@dataclass(frozen=True, slots=True, eq=False)
class EyeBelief:
    """The belief about some eyes: ``mean`` (m, 7) and ``covariance`` (m, 7, 7), or (7,) and (7, 7) for one eye."""

    mean: FloatArray
    covariance: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """The belief about both eyes of n people, in the order they were given.

    The first seven of the fourteen quantities are the right eye's, in the order of ``COORDINATES``; the rest the
    left's.
    """

    mean: FloatArray
    """(n, 14)"""
    covariance: FloatArray
    """(n, 14, 14)"""
    population: str

    def eye(self, index: int, side: Side) -> EyeBelief:
        """The belief about one eye of one person."""
        part = span(side)
        return EyeBelief(mean=self.mean[index, part], covariance=self.covariance[index, part, part])

    def eyes(self, indices: Sequence[int], sides: Sequence[Side]) -> EyeBelief:
        """The belief about several eyes: ``indices`` says whose, ``sides`` which; both of length m.

        Raises
        ------
        ImpossibleInputError
            When the two lists differ in length.
        """
        if len(indices) != len(sides):
            raise ImpossibleInputError(f"{len(indices)} people but {len(sides)} sides; give one side a person.")
        person = np.asarray(indices, dtype=np.intp)
        start = np.array([span(side).start for side in sides], dtype=np.intp)
        place = start[:, None] + np.arange(len(COORDINATES))
        return EyeBelief(
            mean=self.mean[person[:, None], place],
            covariance=self.covariance[person[:, None, None], place[:, :, None], place[:, None, :]],
        )


def span(side: Side) -> slice:
    """The part of a person's fourteen quantities that belongs to one eye."""
    size = len(COORDINATES)
    return slice(0, size) if side is Side.RIGHT else slice(size, 2 * size)


def believe(people: Sequence[Person], *, population: str, knowledge: Knowledge) -> Belief:
    """Believe what the readings of each person say of both eyes, starting from a population.

    Parameters
    ----------
    people : sequence of Person, length n
        With any pattern of readings, none included.
    population : str
        A table of ``populations.toml``, e.g. ``south_asian_cataract``.
    knowledge : Knowledge
        The published numbers.

    Returns
    -------
    Belief
        ``mean`` (n, 14) and ``covariance`` (n, 14, 14).

    Raises
    ------
    ImpossibleInputError
        When a reading is zero, negative or infinite, or an axis lies outside 0 to 180 degrees.
    KnowledgeError
        When the population is not known.

    Notes
    -----
    The exact conditional Gaussian, m + P H' (H P H' + R)^-1 (z - H m - b), by a Cholesky factor of the middle term. A
    reading is truth + bias of its method + an error of the operator and instrument common to both eyes of the person
    + an error of that eye's session + an error of the reading. The first two do not shrink with repeats; the last
    does. Repeats of one method enter as their mean with their number.

    Axial length is believed on the scale of optical and immersion biometry. A lens constant fitted by a unit to its
    own contact readings already carries the contact shortening; with this belief use a constant of the optical scale.

    Departures from exactness in the model, not in the computing: errors of different quantities by one method are taken
    as independent (indentation shortens both length and chamber depth), and the spread within one sex is taken as
    that of the whole population, which is a little wide.
    """
    prior = load_prior(population, knowledge)
    errors = load_method_errors(knowledge)
    mean = prior.means(people)
    covariance = np.broadcast_to(prior.covariance, (len(people), *prior.covariance.shape)).copy()
    seen = observe(read_all(people), meridian_variance=prior.meridian_variance)
    for part in padded_chunks(seen, errors=errors, size=CHUNK):
        mean[part.rows], covariance[part.rows] = condition(
            mean=mean[part.rows],
            covariance=prior.covariance,
            design=part.design,
            observed=part.observed,
            noise=part.noise,
        )
    return Belief(mean=mean, covariance=covariance, population=population)
