"""Which cut: every open site and length compared by the cylinder that it is expected to leave."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord
from ..eye.summary import EyeSummary
from ..knowledge import Effect, Knowledge, Reason
from ..optics.arrays import FloatArray, floats
from ..optics.power_vector import corneal_astigmatism
from .access import SiteAccess, site_access
from .axis import meridian_deg
from .cylinder import probability_cylinder_within
from .induced import InducedAstigmatism, induced_astigmatism
from .length import cut_lengths
from .plan import WoundOption, WoundPlan, WoundShape
from .technique import Technique

__all__ = ["plan_wound"]

SHAPES = {
    Technique.MSICS: WoundShape.FROWN,
    Technique.PHACO: WoundShape.STRAIGHT,
    Technique.ECCE: WoundShape.SMILE,
    Technique.ICCE: WoundShape.SMILE,
}
FULL_TURN = 360.0


@dataclass(frozen=True, slots=True)
class Candidate:
    """A site and length with its score."""

    option: WoundOption
    access: SiteAccess
    induced: InducedAstigmatism
    score: float
    """Probability of a small cylinder less the handicaps."""


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
        Holds ``wound.toml``, ``nucleus.toml`` and ``induced_astigmatism.toml``.

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
    The cylinder after healing is the cornea's vector plus the cut's, both normal and independent. ``cylinder_d`` is the
    length of the mean sum, so that it can be added up on paper; ``within_one`` holds the spread too. Score: that
    probability less the handicaps of ``wound.toml``. Equal scores go to the site first in habit, then the shorter cut.
    """
    mean, covariance = belief(astigmatism_mean, astigmatism_covariance)
    lengths = cut_lengths(record=record, technique=technique, lens_incision_mm=lens_incision_mm, knowledge=knowledge)
    sites, closed = site_access(
        record=record, technique=technique, surgeon_right_handed=surgeon_right_handed, knowledge=knowledge
    )
    found = [
        candidate(access, length, length < lengths.lengths_mm[-1], record, technique, mean, covariance, knowledge)
        for access in sites
        for length in lengths.lengths_mm
    ]
    ranked = sorted(found, key=lambda entry: -entry.score)
    best = ranked[0]
    others = [entry for entry in ranked[1:] if entry.option.site is not best.option.site] or ranked[1:]
    second = others[0] if others else None
    limit = knowledge.value("wound.cylinder.limit_d")
    reasons = [
        cylinder_reason(best, summary, limit),
        *lengths.reasons,
        geometry_reason(best.option, technique, knowledge),
    ]
    reasons += [*closed, *best.access.reasons]
    if second is not None:
        reasons += [second_reason(second, limit), *second.access.reasons]
    return WoundPlan(
        chosen=best.option,
        second=None if second is None else second.option,
        reasons=tuple(reasons),
        side_ports_deg=side_ports(best.option.meridian_deg, technique, surgeon_right_handed, knowledge),
    )


def belief(mean: ArrayLike, covariance: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """The cornea's vector and covariance, refused when they are not there."""
    centre, spread = floats(mean), floats(covariance)
    if centre.shape != (2,) or spread.shape != (2, 2) or not (np.isfinite(centre).all() and np.isfinite(spread).all()):
        raise ImpossibleInputError(
            "A wound needs a belief about the cornea: J0 and J45 with a 2 by 2 covariance, none missing; "
            "an unmeasured cornea has a wide belief from the population."
        )
    return centre, spread


def candidate(
    access: SiteAccess, length_mm: float, tight: bool, record: EyeRecord, technique: Technique,
    mean: FloatArray, covariance: FloatArray, knowledge: Knowledge,
) -> Candidate:  # fmt: skip
    """One site and length with what it would leave."""
    kind = {Technique.MSICS: "msics", Technique.PHACO: "phaco"}.get(technique, "limbal")
    distance = knowledge.value(f"wound.limbus_distance.{'msics' if kind == 'msics' else 'limbal'}_mm")
    induced = induced_astigmatism(
        site=access.site, side=record.side, technique=technique, length_mm=length_mm,
        limbus_distance_mm=distance, shape=SHAPES[technique], knowledge=knowledge,
    )  # fmt: skip
    added = corneal_astigmatism(j0_d=induced.mean[0], j45_d=induced.mean[1])
    left = corneal_astigmatism(j0_d=mean[0] + induced.mean[0], j45_d=mean[1] + induced.mean[1])
    within = float(
        probability_cylinder_within(
            mean=mean + induced.mean,
            covariance=covariance + induced.covariance,
            limit_d=knowledge.value("wound.cylinder.limit_d"),
        )
    )
    option = WoundOption(
        site=access.site,
        meridian_deg=meridian_deg(site=access.site, side=record.side),
        length_mm=length_mm,
        limbus_distance_mm=distance,
        tunnel_mm=knowledge.value(f"wound.tunnel.{kind}_mm"),
        shape=SHAPES[technique],
        induced_d=float(added.magnitude_d),
        induced_axis_deg=float(added.steep_axis_deg),
        cylinder_d=float(left.magnitude_d),
        cylinder_axis_deg=float(left.steep_axis_deg),
        within_one=within,
    )
    handicap = access.handicap + (knowledge.value("wound.handicap.tight") if tight else 0.0)
    return Candidate(option, access, induced, round(within - handicap, 9))


def cylinder_reason(best: Candidate, summary: EyeSummary, limit_d: float) -> Reason:
    """What the cornea is now and what this cut should leave."""
    option, now = best.option, summary.corneal_astigmatism_d
    carried = "" if best.induced.studied else " Carried over from the nearest series."
    text = (
        f"Cornea steep at {summary.steep_axis_deg:.0f}° by {now.value:.2f} D. A {option.site.value} cut of "
        f"{option.length_mm:g} mm steepens {option.induced_axis_deg:.0f}° by {option.induced_d:.2f} D: about "
        f"{option.cylinder_d:.2f} D left at {option.cylinder_axis_deg:.0f}°, {100 * option.within_one:.0f} in 100 "
        f"end at {limit_d:.2f} D or less ({best.induced.eyes} eyes in the series).{carried}"
    )
    return Reason(text, Effect.FOR, best.induced.sources[0], best.induced.basis, option.within_one)


def second_reason(second: Candidate, limit_d: float) -> Reason:
    """The runner-up and its price."""
    option = second.option
    text = (
        f"Next best: {option.site.value}, {option.length_mm:g} mm, about {option.cylinder_d:.2f} D left at "
        f"{option.cylinder_axis_deg:.0f}°, {100 * option.within_one:.0f} in 100 at {limit_d:.2f} D or less."
    )
    return Reason(text, Effect.NEUTRAL, second.induced.sources[0], second.induced.basis, option.within_one)


def geometry_reason(option: WoundOption, technique: Technique, knowledge: Knowledge) -> Reason:
    """How the cut is made, in one sentence."""
    if technique is Technique.MSICS:
        number = knowledge.number("wound.tunnel.msics_mm")
        text = (
            f"Mild frown, half the scleral depth, {option.limbus_distance_mm:g} mm behind the limbus, carried "
            f"{number.value:g} mm into clear cornea; open fully only just before the nucleus leaves."
        )
    elif technique is Technique.PHACO:
        number = knowledge.number("wound.tunnel.phaco_mm")
        text = f"Clear corneal tunnel of {number.value:g} mm, long enough to seal."
    else:
        number = knowledge.number("wound.tunnel.limbal_mm")
        text = "At the limbus, closed with sutures; the final cylinder depends on their tension."
    return Reason(text, Effect.NEUTRAL, number.source, number.basis, number.value)


def side_ports(wound_deg: float, technique: Technique, right_handed: bool, knowledge: Knowledge) -> tuple[float, ...]:
    """Angles of the side ports: both sides of the cut, or for phacoemulsification the other hand's side.

    The surgeon sits outside the cut and looks across the eye; the left hand is then clockwise of the cut.
    """
    if technique is Technique.PHACO:
        offset = knowledge.value("wound.side_port.phaco_offset_deg")
        return ((wound_deg - offset if right_handed else wound_deg + offset) % FULL_TURN,)
    offset = knowledge.value("wound.side_port.offset_deg")
    return tuple(sorted(((wound_deg + offset) % FULL_TURN, (wound_deg - offset) % FULL_TURN)))
