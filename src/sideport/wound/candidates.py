"""Every open site and length of one eye, computed at once, with the score that ranks them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..eye.person import EyeRecord
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray
from .access import SiteAccess
from .axis import meridian_deg
from .cylinder import probability_cylinder_within
from .induced import InducedAstigmatism, induced_from
from .learned import OwnResults, learn_induced
from .length_model import DEFAULT_MODEL, size_ratio
from .nucleus import NucleusBelief
from .passing import probability_passes
from .plan import WoundShape
from .seal import Seal, self_sealing
from .series import ROOT
from .technique import Technique

__all__ = ["Candidates", "CutStyle", "cut_style", "evaluate"]

SHAPES = {
    Technique.MSICS: WoundShape.FROWN,
    Technique.PHACO: WoundShape.STRAIGHT,
    Technique.ECCE: WoundShape.SMILE,
    Technique.ICCE: WoundShape.SMILE,
}
LIMITS = ("strict", "limit", "loose")


@dataclass(frozen=True, slots=True)
class CutStyle:
    """How a technique makes its cut."""

    technique: Technique
    shape: WoundShape
    limbus_distance_mm: float
    tunnel_mm: float


@dataclass(frozen=True, slots=True)
class Candidates:
    """Sites (first axis) by lengths (second axis)."""

    sites: tuple[SiteAccess, ...]
    lengths_mm: FloatArray
    style: CutStyle
    meridians_deg: FloatArray
    """(s,)"""
    induced: tuple[InducedAstigmatism, ...]
    """One a site, over the lengths."""
    after: FloatArray
    """(s, l, 2): mean of the cornea's J0 and J45 after healing [D]."""
    refractive: FloatArray
    """(s, l, 2): the same with the back of the cornea."""
    within: FloatArray
    """(s, l, 3): probability of a corneal cylinder up to 0.5, 1.0 and 1.5 D."""
    refractive_within: FloatArray
    """(s, l, 3): of the cylinder of the spectacles."""
    passes: FloatArray
    """(l,) probability that the nucleus passes; NaN where it is not delivered whole."""
    seal: Seal
    score: FloatArray
    """(s, l)"""


def cut_style(*, technique: Technique, knowledge: Knowledge) -> CutStyle:
    """Shape, distance and tunnel of a technique's usual cut.

    Parameters
    ----------
    technique : Technique
        Any but ``REFER``.
    knowledge : Knowledge
        Holds ``wound.toml``.

    Returns
    -------
    CutStyle
        In mm.
    """
    kind = {Technique.MSICS: "msics", Technique.PHACO: "phaco"}.get(technique, "limbal")
    distance = knowledge.value(f"wound.limbus_distance.{'msics' if kind == 'msics' else 'limbal'}_mm")
    return CutStyle(technique, SHAPES[technique], distance, knowledge.value(f"wound.tunnel.{kind}_mm"))


def evaluate(
    *,
    record: EyeRecord,
    sites: tuple[SiteAccess, ...],
    lengths_mm: Sequence[float],
    technique: Technique,
    belief: tuple[FloatArray, FloatArray],
    nucleus: NucleusBelief,
    own: Sequence[OwnResults],
    white_to_white_mm: float,
    knowledge: Knowledge,
) -> Candidates:
    """Computes every site and length at once.

    Parameters
    ----------
    record : EyeRecord
        Which eye.
    sites : tuple of SiteAccess
        Open sites with their handicaps.
    lengths_mm : sequence of float
        Lengths to compare [mm].
    technique : Technique
        Any but ``REFER``.
    belief : tuple of ndarray
        Mean (2,) and covariance (2, 2) of the cornea's J0 and J45 [D].
    nucleus : NucleusBelief
        Its size.
    own : sequence of OwnResults
        The surgeon's own results; those of this technique and a site count at that site.
    white_to_white_mm : float
        Corneal diameter [mm].
    knowledge : Knowledge
        Holds ``wound.toml``, ``nucleus.toml``, ``tunnel.toml`` and ``induced_astigmatism.toml``.

    Returns
    -------
    Candidates
        Score: probability of a corneal cylinder within the limit, less the site's handicaps, less the handicap of a
        forced passage times what the length lacks of ``nucleus.pass_level``, less that of a tunnel that does not seal.
    """
    style, lengths = cut_style(technique=technique, knowledge=knowledge), np.asarray(lengths_mm, dtype=float)
    table = knowledge.table(ROOT)
    induced = tuple(
        with_own(
            induced_from(
                table=table, site=access.site, side=record.side, technique=technique, length_mm=lengths,
                limbus_distance_mm=style.limbus_distance_mm, shape=style.shape, length_model=DEFAULT_MODEL,
                white_to_white_mm=white_to_white_mm, sutured=False,
            ),
            access, record, style, lengths, own, white_to_white_mm, knowledge,
        )
        for access in sites
    )  # fmt: skip
    after = belief[0] + np.stack([one.mean for one in induced])
    spread = belief[1] + np.stack([one.covariance for one in induced])
    back = knowledge.number("wound.posterior_cornea.against_rule_d")
    refractive = after + np.array([0.5 * back.value, 0.0])
    refractive_spread = spread + (0.5 * (back.spread or 0.0)) ** 2 * np.eye(2)
    chances = probability_cylinder_within(
        mean=np.stack([after, refractive])[..., None, :],
        covariance=np.stack([spread, refractive_spread])[..., None, :, :],
        limit_d=[knowledge.value(f"wound.cylinder.{name}_d") for name in LIMITS],
    )
    delivered = technique is Technique.MSICS
    passes = (
        probability_passes(length_mm=lengths, nucleus=nucleus, knowledge=knowledge)
        if delivered
        else np.full(lengths.shape, np.nan)
    )
    seal = self_sealing(
        width_mm=float(lengths[-1]), limbus_distance_mm=style.limbus_distance_mm, corneal_mm=style.tunnel_mm,
        knowledge=knowledge,
    )  # fmt: skip
    handicap = np.array([access.handicap for access in sites])[:, None]
    if delivered:
        short = np.maximum(knowledge.value("nucleus.pass_level") - passes, 0.0)
        handicap = handicap + knowledge.value("wound.handicap.forced_passage") * short
    if style.tunnel_mm > 0 and not seal.seals:
        handicap = handicap + knowledge.value("wound.handicap.no_seal")
    return Candidates(
        sites=sites,
        lengths_mm=lengths,
        style=style,
        meridians_deg=np.array([meridian_deg(site=access.site, side=record.side) for access in sites]),
        induced=induced,
        after=after,
        refractive=refractive,
        within=chances[0],
        refractive_within=chances[1],
        passes=passes,
        seal=seal,
        score=np.round(chances[0, ..., 1] - handicap, 9),
    )


def with_own(
    prior: InducedAstigmatism, access: SiteAccess, record: EyeRecord, style: CutStyle, lengths: FloatArray,
    own: Sequence[OwnResults], white_to_white_mm: float, knowledge: Knowledge,
) -> InducedAstigmatism:  # fmt: skip
    """The series' vector shrunk by the surgeon's own results at this site, where there are any."""
    for results in own:
        if results.technique is style.technique and results.site is access.site and results.eyes:
            size = size_ratio(
                length_mm=lengths, limbus_distance_mm=style.limbus_distance_mm, series_length_mm=results.length_mm,
                series_distance_mm=results.limbus_distance_mm, limbus_radius_mm=white_to_white_mm / 2,
            )  # fmt: skip
            return learn_induced(
                prior=prior, own=results, side=record.side,
                meridian_deg=meridian_deg(site=access.site, side=record.side), size=size, knowledge=knowledge,
            )  # fmt: skip
    return prior
