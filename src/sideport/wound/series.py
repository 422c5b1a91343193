"""Published series of induced astigmatism, put together."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge, Number
from ..optics.arrays import FloatArray, floats
from .plan import Site
from .technique import Technique

__all__ = [
    "ROOT",
    "SERIES_SITE",
    "SeriesMoments",
    "component_sd",
    "moments_of",
    "series_moments",
    "vector_sd",
    "weighted",
]

ROOT = "induced_astigmatism"
# A superonasal cut has no series of its own; the superotemporal one is mirrored about the vertical.
SERIES_SITE = {Site.SUPERONASAL: Site.SUPEROTEMPORAL}
BASIS_ORDER = (Basis.PUBLISHED, Basis.RECALLED, Basis.COMMON_PRACTICE)


@dataclass(frozen=True, slots=True)
class SeriesMoments:
    """Published series of one site put together."""

    centroid_d: float
    """Weighted vector mean along the cut's own meridian, as flattening."""
    component_sd_d: float
    """Spread of a single eye in each of the two double-angle components."""
    eyes: int
    sources: tuple[str, ...]
    basis: Basis


def vector_sd(*, mean_magnitude_d: ArrayLike, sd_magnitude_d: ArrayLike, centroid_d: ArrayLike) -> FloatArray:
    """Spread of single vectors around their centroid, from the magnitudes that a paper prints.

    Parameters
    ----------
    mean_magnitude_d, sd_magnitude_d : array_like
        Arithmetic mean and standard deviation of the magnitudes [D].
    centroid_d : array_like
        Magnitude of the vector mean [D].

    Returns
    -------
    ndarray
        Root of the summed variances of both components [D]; NaN where the centroid is longer than the magnitudes allow.

    Notes
    -----
    The mean square of a magnitude is the squared centroid plus the total variance of the vector, whatever the
    distribution.

    References
    ----------
    kamiya2021 prints all four numbers for two sites and is the check.

    Examples
    --------
    >>> round(float(vector_sd(mean_magnitude_d=0.48, sd_magnitude_d=0.30, centroid_d=0.23)), 2)
    0.52
    """
    square = floats(mean_magnitude_d) ** 2 + floats(sd_magnitude_d) ** 2 - floats(centroid_d) ** 2
    return np.asarray(np.sqrt(np.where(square >= 0, square, np.nan)))


def component_sd(*, mean_magnitude_d: ArrayLike, sd_magnitude_d: ArrayLike, centroid_d: ArrayLike) -> FloatArray:
    """Spread in one double-angle component, taken alike in both.

    Parameters
    ----------
    mean_magnitude_d, sd_magnitude_d, centroid_d
        As for ``vector_sd``.

    Returns
    -------
    ndarray
        Standard deviation of a component [D of cylinder].
    """
    whole = vector_sd(mean_magnitude_d=mean_magnitude_d, sd_magnitude_d=sd_magnitude_d, centroid_d=centroid_d)
    return np.asarray(whole / np.sqrt(2.0))


def series_moments(*, technique: Technique, site: Site, knowledge: Knowledge) -> SeriesMoments:
    """The published series of a technique at a site, weighted by their eyes.

    Parameters
    ----------
    technique : Technique
        ``MSICS`` or ``PHACO``.
    site : Site
        Where; a superonasal cut takes the superotemporal series.
    knowledge : Knowledge
        Holds ``induced_astigmatism.toml``.

    Returns
    -------
    SeriesMoments
        Centroid and spread in dioptres of cylinder.

    Raises
    ------
    ImpossibleInputError
        Where no series covers the pair.

    Notes
    -----
    The centroid is the mean of the series' centroids weighted by n and lies on the cut's own meridian: printed axes
    differ from it by no more than 3 degrees for superior and 8 for temporal cuts; the small oblique one is printed
    without saying how right and left eyes were joined. The spread is ``component_sd`` with the n-weighted mean square
    of the magnitudes.
    """
    return moments_of(table=knowledge.table(ROOT), technique=technique, site=site)


def moments_of(*, table: Mapping[str, Number], technique: Technique, site: Site) -> SeriesMoments:
    """As `series_moments`, from the numbers under ``induced_astigmatism`` when they are at hand."""
    stem = f"{technique.name.lower()}.{SERIES_SITE.get(site, site).value}."
    centroids = [number for key, number in table.items() if key.startswith(stem + "centroid.")]
    magnitudes = [number for key, number in table.items() if key.startswith(stem + "magnitude.")]
    if not centroids or not magnitudes:
        raise ImpossibleInputError(
            f"No series tells what a {site.value} cut for {technique.value} does; choose a superior or temporal cut."
        )
    centroid = weighted([entry.value for entry in centroids], centroids)
    square = weighted([entry.value**2 + (entry.spread or 0.0) ** 2 for entry in magnitudes], magnitudes)
    every = centroids + magnitudes
    return SeriesMoments(
        centroid_d=centroid,
        component_sd_d=float(component_sd(mean_magnitude_d=np.sqrt(square), sd_magnitude_d=0.0, centroid_d=centroid)),
        eyes=sum(entry.n or 0 for entry in centroids),
        sources=tuple(dict.fromkeys(entry.source for entry in every)),
        basis=max((entry.basis for entry in every), key=BASIS_ORDER.index),
    )


def weighted(values: list[float], entries: list[Number]) -> float:
    """Mean of values weighted by each entry's count of eyes."""
    return float(np.average(values, weights=[entry.n or 1 for entry in entries]))
