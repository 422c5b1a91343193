"""Which cut: every open site and length compared by the cylinder that it is expected to leave."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge
from ..optics.arrays import FloatArray, floats
from ..optics.power_vector import corneal_astigmatism
from .access import site_access
from .candidates import Candidates, evaluate
from .explain import (
    Picked,
    cylinder_reason,
    geometry_reason,
    own_reason,
    own_weight,
    passage_reason,
    seal_reasons,
    second_reason,
)
from .extend import extensions
from .learned import OwnResults
from .length import cut_lengths
from .nucleus import NucleusBelief, nucleus_belief
from .plan import WoundOption, WoundPlan
from .technique import Technique
from .tunnel import Globe, Tunnel, globe, tunnel_geometry

__all__ = ["plan_wound"]

FULL_TURN = 360.0


def plan_wound(
    *,
    record: EyeRecord,
    summary: EyeSummary,
    astigmatism_mean: ArrayLike,
    astigmatism_covariance: ArrayLike,
    technique: Technique,
    lens_incision_mm: float,
    surgeon_right_handed: bool,
    knowledge: Knowledge,
    nucleus: NucleusBelief | None = None,
    own_results: Sequence[OwnResults] = (),
) -> WoundPlan:
    """The cut for one eye, the runner-up, and the reasons.

    Parameters
    ----------
    record : EyeRecord
        Findings.
    summary : EyeSummary
        For saying what the cornea is now.
    astigmatism_mean : array_like, shape (2,)
        Belief about the cornea's J0 and J45 [D].
    astigmatism_covariance : array_like, shape (2, 2)
        Its covariance [D^2].
    technique : Technique
        Any but ``REFER``.
    lens_incision_mm : float
        Shortest wound that admits the lens [mm]; NaN where none is chosen yet.
    surgeon_right_handed : bool
        The hand that holds the knife.
    knowledge : Knowledge
        Holds ``wound.toml``, ``nucleus.toml``, ``tunnel.toml`` and ``induced_astigmatism.toml``.
    nucleus : NucleusBelief, optional
        Size of the nucleus where it was measured; ``None`` takes it from the record.
    own_results : sequence of OwnResults, optional
        The surgeon's own induced astigmatism by technique and site.

    Returns
    -------
    WoundPlan
        ``second`` is the best cut at another site, or another length where only one site is open, or ``None``.

    Raises
    ------
    ImpossibleInputError
        For a referred eye, a lens incision that is not positive, or a belief that is missing or of the wrong shape.

    Notes
    -----
    The cylinder after healing is the cornea's vector plus the cut's, both normal and independent. ``cylinder_d`` is
    the length of the mean sum, so that it can be added up on paper; ``within_one`` holds the spread too. The cylinder
    of the spectacles adds the back of the cornea. Score: see `evaluate`. Equal scores go to the site first in habit,
    then the shorter cut.
    """
    belief = cornea(astigmatism_mean, astigmatism_covariance)
    size = nucleus or nucleus_belief(record=record, knowledge=knowledge)
    lengths = cut_lengths(
        record=record, nucleus=size, technique=technique, lens_incision_mm=lens_incision_mm, knowledge=knowledge
    )
    sites, closed = site_access(
        record=record, technique=technique, surgeon_right_handed=surgeon_right_handed, knowledge=knowledge
    )
    white, power = summary.white_to_white_mm.value, summary.mean_k_d.value
    found = evaluate(
        record=record, sites=sites, lengths_mm=lengths.lengths_mm, technique=technique, belief=belief, nucleus=size,
        own=own_results, white_to_white_mm=white, knowledge=knowledge,
    )  # fmt: skip
    eye = globe(knowledge=knowledge, white_to_white_mm=white, mean_k_d=power)
    best, second = pick(found, eye, knowledge)
    limit = knowledge.value("wound.cylinder.limit_d")
    reasons = [
        cylinder_reason(best=best, found=found, summary=summary, limit_d=limit),
        own_reason(best=best, found=found),
        *lengths.reasons,
        passage_reason(best=best, nucleus=size, knowledge=knowledge),
        geometry_reason(option=best.option, technique=technique, knowledge=knowledge),
        *seal_reasons(found=found),
        *closed,
        *sites[best.site].reasons,
    ]
    if second is not None:
        reasons += [
            second_reason(second=second, best=best, found=found, limit_d=limit), *sites[second.site].reasons
        ]  # fmt: skip
    return WoundPlan(
        chosen=best.option,
        second=None if second is None else second.option,
        reasons=tuple(reason for reason in reasons if reason is not None),
        side_ports_deg=side_ports(best.option.meridian_deg, technique, surgeon_right_handed, knowledge),
        extensions=extensions(
            technique=technique, site=best.option.site, length_mm=best.option.length_mm, nucleus=size,
            white_to_white_mm=white, knowledge=knowledge,
        ),
        own_eyes=found.induced[best.site].own_eyes,
        own_weight=own_weight(best=best, found=found),
    )  # fmt: skip


def cornea(mean: ArrayLike, covariance: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """The cornea's vector and covariance, refused when they are not there."""
    centre, spread = floats(mean), floats(covariance)
    if centre.shape != (2,) or spread.shape != (2, 2) or not (np.isfinite(centre).all() and np.isfinite(spread).all()):
        raise ImpossibleInputError(
            "A wound needs a belief about the cornea: J0 and J45 with a 2 by 2 covariance, none missing; "
            "an unmeasured cornea has a wide belief from the population."
        )
    return centre, spread


def pick(found: Candidates, eye: Globe, knowledge: Knowledge) -> tuple[Picked, Picked | None]:
    """The best candidate, and the best at another site or, where only one is open, of another length."""
    ranked = [divmod(int(place), found.lengths_mm.size) for place in np.argsort(-found.score, axis=None, kind="stable")]
    best = ranked[0]
    others = [place for place in ranked[1:] if place[0] != best[0]] or ranked[1:]
    second = Picked(*others[0], option(found, *others[0], eye, knowledge)) if others else None
    return Picked(*best, option(found, *best, eye, knowledge)), second


def option(found: Candidates, site: int, length: int, eye: Globe, knowledge: Knowledge) -> WoundOption:
    """One candidate as the plan stores it."""
    style, induced = found.style, found.induced[site].mean[length]
    vectors = np.stack([induced, found.after[site, length], found.refractive[site, length]])
    seen = corneal_astigmatism(j0_d=vectors[:, 0], j45_d=vectors[:, 1])
    tunnel = Tunnel(style.shape, found.lengths_mm[length], style.limbus_distance_mm, style.tunnel_mm)
    measured = tunnel_geometry(tunnel=tunnel, eye=eye, knowledge=knowledge)
    passes = float(found.passes[length])
    return WoundOption(
        site=found.sites[site].site,
        meridian_deg=float(found.meridians_deg[site]),
        length_mm=float(found.lengths_mm[length]),
        limbus_distance_mm=style.limbus_distance_mm,
        tunnel_mm=style.tunnel_mm,
        shape=style.shape,
        induced_d=float(seen.magnitude_d[0]),
        induced_axis_deg=float(seen.steep_axis_deg[0]),
        cylinder_d=float(seen.magnitude_d[1]),
        cylinder_axis_deg=float(seen.steep_axis_deg[1]),
        within_half=float(found.within[site, length, 0]),
        within_one=float(found.within[site, length, 1]),
        within_one_and_half=float(found.within[site, length, 2]),
        refractive_cylinder_d=float(seen.magnitude_d[2]),
        # The axis of a minus cylinder lies along the flat meridian.
        refractive_axis_deg=float((seen.steep_axis_deg[2] + FULL_TURN / 4) % (FULL_TURN / 2)),
        refractive_within_one=float(found.refractive_within[site, length, 1]),
        passes=None if math.isnan(passes) else passes,
        seals=found.seal.seals,
        arc_mm=float(measured.arc_mm),
        end_distance_mm=float(measured.end_distance_mm),
        inner_opening_mm=float(measured.inner_arc_mm),
        neutral_share=float(measured.neutral_share),
    )


def side_ports(wound_deg: float, technique: Technique, right_handed: bool, knowledge: Knowledge) -> tuple[float, ...]:
    """Angles of the side ports: both sides of the cut, or for phacoemulsification the other hand's side.

    The surgeon sits outside the cut and looks across the eye; the left hand is then clockwise of the cut.
    """
    if technique is Technique.PHACO:
        offset = knowledge.value("wound.side_port.phaco_offset_deg")
        return ((wound_deg - offset if right_handed else wound_deg + offset) % FULL_TURN,)
    offset = knowledge.value("wound.side_port.offset_deg")
    return tuple(sorted(((wound_deg + offset) % FULL_TURN, (wound_deg - offset) % FULL_TURN)))
