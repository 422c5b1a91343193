"""What a cut does to the cornea: induced astigmatism as a vector with its spread, from published series."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Knowledge, Number
from ..optics.arrays import BoolArray, FloatArray, floats
from ..optics.side import Side
from .axis import meridian_deg
from .length_model import DEFAULT_MODEL, size_ratio
from .plan import Site, WoundShape
from .series import ROOT, SERIES_SITE, SeriesMoments, component_sd, moments_of, series_moments, vector_sd, weighted
from .technique import Technique

__all__ = [
    "InducedAstigmatism",
    "SeriesMoments",
    "component_sd",
    "induced_astigmatism",
    "induced_from",
    "series_moments",
    "vector_sd",
]

LARGE = {Technique.ECCE, Technique.ICCE}


@dataclass(frozen=True, slots=True)
class InducedAstigmatism:
    """What a cut is expected to add to the cornea, as a corneal power vector."""

    mean: FloatArray
    """(..., 2): J0 and J45 [D], positive J0 for steeper at 0/180."""
    covariance: FloatArray
    """(..., 2, 2) [D^2]: of the next single eye; what is not known about the mean is in it."""
    eyes: int
    """How many published eyes stand behind the mean."""
    sources: tuple[str, ...]
    basis: Basis
    """The weakest basis among the series."""
    studied: BoolArray
    """(...) False where length, distance or site lies outside the series, so that the number is carried over."""
    eye_covariance: FloatArray
    """(..., 2, 2) [D^2]: of single eyes around the surgeon's own mean."""
    prior_eyes: FloatArray
    """(...): as many own eyes would weigh as much as the series do on the mean."""
    own_eyes: int = 0
    own_weight: FloatArray | float = 0.0
    """Weight of the surgeon's own eyes in the mean, 0 to 1."""


def induced_astigmatism(
    *,
    site: Site,
    side: Side,
    technique: Technique,
    length_mm: ArrayLike,
    limbus_distance_mm: ArrayLike,
    shape: WoundShape,
    knowledge: Knowledge,
    length_model: str = DEFAULT_MODEL,
    white_to_white_mm: float | None = None,
    sutured: bool = False,
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
    limbus_distance_mm : array_like, shape (...)
        Of its centre behind the limbus [mm].
    shape : WoundShape
        Outer shape; counts for manual small-incision cuts.
    knowledge : Knowledge
        Holds ``induced_astigmatism.toml`` and ``tunnel.toml``.
    length_model : str, optional
        ``near-linear``, or ``cube`` for comparison.
    white_to_white_mm : float, optional
        Corneal diameter [mm]; the population's where it is not given.
    sutured : bool, optional
        Whether a self-sealing cut gets a suture all the same. Large cuts are sutured in their series.

    Returns
    -------
    InducedAstigmatism
        Mean (..., 2) and covariance (..., 2, 2).

    Raises
    ------
    ImpossibleInputError
        For a length that is not positive, a negative distance, an unknown length model, or a technique without a cut.

    Notes
    -----
    The cut flattens its own meridian ``m`` and steepens the one at right angles, so the mean is
    ``-(c / 2) * s * f * (cos 2m, sin 2m)`` with the series' centroid ``c``, the ratio ``s`` of `size_ratio` for length
    and distance, and the factor ``f`` of the shape. The spread of single eyes is not scaled with the length: most of it
    is healing and measuring. The covariance adds what is not known about the mean: the series' own error and how far
    surgeons differ. Frown and chevron cuts take the series as they are; straight and smile cuts are scaled by the
    published ratio of straight to frown (for smile a lower bound). Extracapsular and intracapsular cuts take the
    superior manual series scaled by the ratio of remembered mean magnitudes at 10 mm. A suture widens the spread along
    the cut's meridian and leaves the mean, since its tension is not known beforehand.

    References
    ----------
    gokhale2005, msics120eyes, superior58eyes, msics60eyes, oblique142eyes, kamiya2021, samuelson1991, mohan_wound,
    mrims2023, chourasia2019, georgeeye2005.
    """
    white = knowledge.value("tunnel.globe.white_to_white_mm") if white_to_white_mm is None else white_to_white_mm
    return induced_from(
        table=knowledge.table(ROOT), site=site, side=side, technique=technique, length_mm=length_mm,
        limbus_distance_mm=limbus_distance_mm, shape=shape, length_model=length_model, white_to_white_mm=white,
        sutured=sutured,
    )  # fmt: skip


def induced_from(
    *,
    table: Mapping[str, Number],
    site: Site,
    side: Side,
    technique: Technique,
    length_mm: ArrayLike,
    limbus_distance_mm: ArrayLike,
    shape: WoundShape,
    length_model: str,
    white_to_white_mm: float,
    sutured: bool,
) -> InducedAstigmatism:
    """As `induced_astigmatism`, from the numbers under ``induced_astigmatism`` when they are at hand."""
    if technique is Technique.REFER:
        raise ImpossibleInputError("A referred eye gets no cut; ask for the astigmatism of an operation.")
    length, distance = np.broadcast_arrays(floats(length_mm), floats(limbus_distance_mm))
    moments = moments_of(
        table=table, technique=technique if technique is Technique.PHACO else Technique.MSICS, site=site
    )
    stem = {Technique.MSICS: "msics", Technique.PHACO: "phaco"}.get(technique, "large")
    usual = {name: table[f"{stem}.{name}"].value
             for name in ("length_mm", "limbus_distance_mm", "shortest_mm", "longest_mm")}  # fmt: skip
    scale = shape_factor(technique, shape, table) * size_ratio(
        length_mm=length, limbus_distance_mm=distance, series_length_mm=usual["length_mm"],
        series_distance_mm=usual["limbus_distance_mm"], limbus_radius_mm=white_to_white_mm / 2, model=length_model,
    )  # fmt: skip
    doubled = np.radians(2.0 * meridian_deg(site=site, side=side))
    direction = np.array([np.cos(doubled), np.sin(doubled)])
    variance = (0.5 * moments.component_sd_d) ** 2
    of_mean = variance * scale**2 / moments.eyes + (0.5 * table["surgeon.between_sd_d"].value) ** 2
    eye = variance * np.eye(2)
    if sutured and technique not in LARGE:
        eye = eye + (0.5 * table["suture.sd_d"].value) ** 2 * np.outer(direction, direction)
    prior_eyes = variance / of_mean
    within = (length >= usual["shortest_mm"]) & (length <= usual["longest_mm"])
    return InducedAstigmatism(
        mean=-0.5 * moments.centroid_d * scale[..., None] * direction,
        covariance=(1 + 1 / prior_eyes)[..., None, None] * eye,
        eyes=moments.eyes,
        sources=moments.sources + (("georgeeye2005",) if technique in LARGE else ()),
        basis=Basis.RECALLED if technique in LARGE else moments.basis,
        studied=within & (distance == usual["limbus_distance_mm"]) & (site not in SERIES_SITE),
        eye_covariance=np.broadcast_to(eye, (*scale.shape, 2, 2)),
        prior_eyes=prior_eyes,
    )


def shape_factor(technique: Technique, shape: WoundShape, table: Mapping[str, Number]) -> float:
    """By how much the series' centroid grows for the shape, or for a large sutured cut."""
    if technique in LARGE:
        return table["large.magnitude_extracapsular"].value / table["large.magnitude_msics"].value
    if technique is Technique.MSICS and shape in {WoundShape.STRAIGHT, WoundShape.SMILE}:
        straight, frown = ([number for key, number in table.items() if key.startswith(f"shape.{kind}.")]
                           for kind in ("straight", "frown"))  # fmt: skip
        return weighted([e.value for e in straight], straight) / weighted([e.value for e in frown], frown)
    return 1.0
