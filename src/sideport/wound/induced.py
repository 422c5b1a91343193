"""What a cut does to the cornea: induced astigmatism as a vector with its spread, from published series."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge, Number
from ..optics.arrays import FloatArray, floats, refuse_unless_positive
from ..optics.side import Side
from .axis import meridian_deg
from .plan import Site, WoundShape
from .technique import Technique

__all__ = ["InducedAstigmatism", "SeriesMoments", "component_sd", "induced_astigmatism", "series_moments", "vector_sd"]

ROOT = "induced_astigmatism"
# A superonasal cut has no series of its own; the superotemporal one is mirrored about the vertical.
SERIES_SITE = {Site.SUPERONASAL: Site.SUPEROTEMPORAL}
BASIS_ORDER = (Basis.PUBLISHED, Basis.RECALLED, Basis.COMMON_PRACTICE)


@dataclass(frozen=True, slots=True)
class InducedAstigmatism:
    """What a cut is expected to add to the cornea, as a corneal power vector."""

    mean: FloatArray
    """(..., 2): J0 and J45 [D], positive J0 for steeper at 0/180."""
    covariance: FloatArray
    """(..., 2, 2) [D^2]: of a single eye, not of a series' mean."""
    eyes: int
    """How many eyes stand behind the mean."""
    sources: tuple[str, ...]
    basis: Basis
    """The weakest basis among the series."""
    studied: bool
    """False where length, distance or site lies outside the series, so that the number is carried over."""


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
    stem = f"{ROOT}.{technique.name.lower()}.{SERIES_SITE.get(site, site).value}"
    if not any(key.startswith(stem + ".") for key in knowledge.numbers):
        raise ImpossibleInputError(
            f"No series tells what a {site.value} cut for {technique.value} does; choose a superior or temporal cut."
        )
    centroids = list(knowledge.table(f"{stem}.centroid").values())
    magnitudes = list(knowledge.table(f"{stem}.magnitude").values())
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


def induced_astigmatism(
    *,
    site: Site,
    side: Side,
    technique: Technique,
    length_mm: ArrayLike,
    limbus_distance_mm: float,
    shape: WoundShape,
    knowledge: Knowledge,
) -> InducedAstigmatism:
    """Induced corneal astigmatism of a cut as a normal vector.

    Parameters
    ----------
    site : Site
        Where, by anatomy.
    side : Side
        Which eye: nasal and temporal sites are mirrored.
    technique : Technique
        Any but ``REFER``.
    length_mm : array_like, shape (...)
        Length of the outer cut [mm].
    limbus_distance_mm : float
        Of its centre behind the limbus [mm]; carried into ``studied`` only.
    shape : WoundShape
        Outer shape; counts for manual small-incision cuts.
    knowledge : Knowledge
        Holds ``induced_astigmatism.toml``.

    Returns
    -------
    InducedAstigmatism
        Mean (..., 2) and covariance (..., 2, 2).

    Raises
    ------
    ImpossibleInputError
        For a length that is not positive, a negative distance, or a technique without a cut.

    Notes
    -----
    The cut flattens its own meridian ``m`` and steepens the one at right angles, so the mean is
    ``-(c / 2) * (L / L0) * f * (cos 2m, sin 2m)`` with the series' centroid ``c``, their length ``L0`` and the factor
    ``f`` of the shape. The length model is *linear*: the cadaver series that measured it found a nearly linear rise
    (samuelson1991). The cube of the length, often quoted, is not used. Distance from the limbus is not scaled, for want
    of a series. The spread of single eyes is not scaled with length either: most of it is healing and measuring. The
    covariance adds the uncertainty of the series' mean. Frown and chevron cuts take the series as they are; straight
    and smile cuts are scaled by the published ratio of straight to frown (for smile a lower bound). Extracapsular and
    intracapsular cuts take the superior manual series scaled by the ratio of remembered mean magnitudes at 10 mm.

    References
    ----------
    gokhale2005, msics120eyes, superior58eyes, msics60eyes, oblique142eyes, kamiya2021, samuelson1991, mrims2023,
    chourasia2019, georgeeye2005.
    """
    if technique is Technique.REFER:
        raise ImpossibleInputError("A referred eye gets no cut; ask for the astigmatism of an operation.")
    if limbus_distance_mm < 0:
        raise ImpossibleInputError("The distance behind the limbus is negative; give 0 for a clear corneal cut.")
    length = floats(length_mm)
    refuse_unless_positive(length, "length of the cut [mm]")
    family = technique if technique is Technique.PHACO else Technique.MSICS
    moments = series_moments(technique=family, site=site, knowledge=knowledge)
    stem = {Technique.MSICS: "msics", Technique.PHACO: "phaco"}.get(technique, "large")
    scale = length / knowledge.value(f"{ROOT}.{stem}.length_mm") * size_factor(technique, shape, knowledge)
    doubled = np.radians(2.0 * meridian_deg(site=site, side=side))
    direction = np.array([np.cos(doubled), np.sin(doubled)])
    mean = -0.5 * moments.centroid_d * scale[..., None] * direction
    variance = (0.5 * moments.component_sd_d) ** 2 * (1 + scale**2 / moments.eyes)
    large = technique in {Technique.ECCE, Technique.ICCE}
    return InducedAstigmatism(
        mean=mean,
        covariance=np.where(np.isnan(scale), np.nan, variance)[..., None, None] * np.eye(2),
        eyes=moments.eyes,
        sources=moments.sources + (("georgeeye2005",) if large else ()),
        basis=Basis.RECALLED if large else moments.basis,
        studied=site not in SERIES_SITE
        and bool(limbus_distance_mm == knowledge.value(f"{ROOT}.{stem}.limbus_distance_mm")),
    )


def size_factor(technique: Technique, shape: WoundShape, knowledge: Knowledge) -> float:
    """By how much the series' centroid grows for the shape, or for a large sutured cut."""
    if technique in {Technique.ECCE, Technique.ICCE}:
        large, small = (knowledge.value(f"{ROOT}.large.magnitude_{kind}") for kind in ("extracapsular", "msics"))
        return large / small
    if technique is Technique.MSICS and shape in {WoundShape.STRAIGHT, WoundShape.SMILE}:
        straight, frown = (list(knowledge.table(f"{ROOT}.shape.{kind}").values()) for kind in ("straight", "frown"))
        return weighted([e.value for e in straight], straight) / weighted([e.value for e in frown], frown)
    return 1.0


def weighted(values: list[float], entries: list[Number]) -> float:
    """Mean of values weighted by each entry's count of eyes."""
    return float(np.average(values, weights=[entry.n or 1 for entry in entries]))
