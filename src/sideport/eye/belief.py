"""What is believed about both eyes of each person: a joint Gaussian over fourteen quantities."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import ImpossibleInputError
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from ..optics.side import Side
from .coordinates import COORDINATES
from .doubt import with_doubt
from .outcome import read_outcomes
from .person import Person
from .readings import read_all
from .slip import Suspicion, load_slip_model
from .working import conditioned, load_eye_model

__all__ = ["Belief", "EyeBelief", "believe"]


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
    suspicions: tuple[Suspicion, ...] = ()
    """Readings that the rest contradicts, sorted by person."""

    def suspicions_of(self, index: int) -> tuple[Suspicion, ...]:
        """Those about one person."""
        return tuple(suspicion for suspicion in self.suspicions if suspicion.person == index)

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


def believe(people: Sequence[Person], *, population: str, knowledge: Knowledge, doubt: bool = True) -> Belief:
    """Believe what the readings of each person say of both eyes, starting from a population.

    Parameters
    ----------
    people : sequence of Person, length n
        With any pattern of readings, none included.
    population : str
        A table of ``populations.toml``, e.g. ``south_asian_cataract``.
    knowledge : Knowledge
        The published numbers.
    doubt : bool
        Whether to look for slips and unequal eyes. Without, every reading is taken for what it says.

    Returns
    -------
    Belief
        ``mean`` (n, 14), ``covariance`` (n, 14, 14) and the suspicions.

    Raises
    ------
    ImpossibleInputError
        When a reading is zero, negative or infinite, an axis lies outside 0 to 180 degrees, or a refraction is
        infinite.
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

    A present refraction of an eye with a cataract, and the result of an eye with a known implant, are observations of
    length and corneal power, linear about the mean that they and the readings lead to.

    Doubt: where a slip is all but certain (``blunders.decision.set_apart``) the belief is made without the doubted
    readings. Where it is merely suspected (from ``blunders.decision.flag``) the belief is the mixture of the beliefs
    with and without what may be wrong, at its probabilities, by mean and covariance, which widens it. A mended value
    is never used; but where exchanged eyes have a chance (``blunders.decision.exchange``) the belief with the eyes put
    back is one of the mixture, since without both sets an eye would be believed from its fellow. Every doubt is told in
    ``suspicions``.

    Unequal eyes: where the readings speak for eyes less alike than the Gaussian prior has it
    (``blunders.decision.odd``), for instance 2 mm apart, the priors with a wider difference (``blunders.tail``) are
    held as well, by their chances, so that the fellow pulls less. Otherwise the Gaussian stands.

    Departures from exactness in the model, not in the computing: errors of different quantities by one method are taken
    as independent (indentation shortens both length and chamber depth), and the spread within one sex is taken as
    that of the whole population, which is a little wide.
    """
    model = load_eye_model(population, knowledge)
    means = model.prior.means(people)
    readings, outcomes = read_all(people), read_outcomes(people)
    everyone = np.arange(len(people))
    slips = load_slip_model(knowledge) if doubt else None
    mean, covariance = conditioned(readings, outcomes, means=means, people=everyone, model=model, slips=slips)
    if slips is None:
        return Belief(mean=mean, covariance=covariance, population=population)
    suspicions = with_doubt(mean, covariance, readings, outcomes, means=means, model=model, slips=slips)
    return Belief(mean=mean, covariance=covariance, population=population, suspicions=suspicions)
