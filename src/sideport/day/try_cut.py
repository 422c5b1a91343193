"""Another cut than the planned one, weighed by the same rules: what if it were longer, farther back, elsewhere?"""

import math
from dataclasses import dataclass

import numpy as np

from ..errors import ImpossibleInputError
from ..eye.belief import EyeBelief
from ..eye.coordinates import Coordinate
from ..eye.person import EyeRecord
from ..knowledge import Basis, Effect, Knowledge, Reason
from ..optics.power_vector import corneal_astigmatism
from ..wound.access import site_access
from ..wound.axis import meridian_deg
from ..wound.candidates import LIMITS, cut_style
from ..wound.cylinder import probability_cylinder_within
from ..wound.induced import InducedAstigmatism, induced_astigmatism
from ..wound.nucleus import nucleus_belief
from ..wound.passing import probability_passes
from ..wound.plan import Site, WoundOption, WoundPlan, WoundShape
from ..wound.seal import Seal, self_sealing
from ..wound.technique import Technique
from ..wound.tunnel import Tunnel, globe, tunnel_geometry
from .plan import CutGrounds, EyePlan

__all__ = ["CutAsked", "CutLimits", "cut_grounds", "cut_limits", "planned_cut", "try_cut"]

FULL_TURN = 360.0
BETWEEN = "induced_astigmatism"
TRIED = {
    Technique.MSICS: ("lengths.superior3lengths2002.short.length_mm", "lengths.superior3lengths2002.long.length_mm"),
    Technique.PHACO: ("length_model.shortest_mm", "length_model.longest_mm"),
    Technique.ECCE: ("large.shortest_mm", "large.longest_mm"),
    Technique.ICCE: ("large.shortest_mm", "large.longest_mm"),
}
"""The shortest and the longest cut of the published series that bear on an operation."""


@dataclass(frozen=True, slots=True)
class CutAsked:
    """A cut as a person asks for it."""

    site: Site
    length_mm: float
    limbus_distance_mm: float
    shape: WoundShape


@dataclass(frozen=True, slots=True)
class CutLimits:
    """What may be tried; the planned cut is always within."""

    shortest_mm: float
    longest_mm: float
    farthest_mm: float
    """Behind the limbus."""


def cut_grounds(
    *, record: EyeRecord, belief: EyeBelief, technique: Technique, surgeon_right_handed: bool, knowledge: Knowledge
) -> CutGrounds:
    """What every cut of an eye is weighed with, for the plan.

    Parameters
    ----------
    record : EyeRecord
        Findings.
    belief : EyeBelief
        Of the same eye.
    technique : Technique
        Any but ``REFER``.
    surgeon_right_handed : bool
        The hand that holds the knife.
    knowledge : Knowledge
        Holds ``wound.toml`` and ``nucleus.toml``.

    Returns
    -------
    CutGrounds
        As ``plan_wound`` weighs them.
    """
    crossed = slice(Coordinate.J0, Coordinate.J45 + 1)
    mean, covariance = belief.mean[crossed], belief.covariance[crossed, crossed]
    sites, closed = site_access(
        record=record, technique=technique, surgeon_right_handed=surgeon_right_handed, knowledge=knowledge
    )
    return CutGrounds(
        j0_d=float(mean[0]),
        j45_d=float(mean[1]),
        j0_variance_d2=float(covariance[0, 0]),
        j45_variance_d2=float(covariance[1, 1]),
        covariance_d2=float(covariance[0, 1]),
        nucleus=nucleus_belief(record=record, knowledge=knowledge),
        sites=sites,
        closed=closed,
        bleb=bool(record.bleb),
        pterygium=bool(record.pterygium),
        fibrosed_capsule=bool(record.fibrosed_capsule),
    )


def planned_cut(*, wound: WoundPlan) -> CutAsked:
    """The planned cut as if it were asked for.

    Parameters
    ----------
    wound : WoundPlan
        Of an eye.

    Returns
    -------
    CutAsked
    """
    cut = wound.chosen
    return CutAsked(cut.site, cut.length_mm, cut.limbus_distance_mm, cut.shape)


def cut_limits(*, wound: WoundPlan, technique: Technique, knowledge: Knowledge) -> CutLimits:
    """How far a cut may be moved: over the published lengths, and not behind any taught tunnel.

    Parameters
    ----------
    wound : WoundPlan
        The planned cut.
    technique : Technique
        Any but ``REFER``.
    knowledge : Knowledge
        Holds ``wound.toml`` and ``induced_astigmatism.toml``.

    Returns
    -------
    CutLimits
        [mm]
    """
    shortest, longest = (knowledge.value(f"{BETWEEN}.{key}") for key in TRIED[technique])
    planned = planned_cut(wound=wound)
    return CutLimits(
        min(shortest, planned.length_mm),
        max(longest, planned.length_mm),
        max(knowledge.value("wound.tried.farthest_mm"), planned.limbus_distance_mm),
    )


def try_cut(*, eye: EyePlan, cut: CutAsked, knowledge: Knowledge) -> WoundPlan:
    """What another cut would do to this eye.

    Parameters
    ----------
    eye : EyePlan
        With its planned cut and the grounds of it.
    cut : CutAsked
        The cut to weigh.
    knowledge : Knowledge
        Holds ``wound.toml``, ``nucleus.toml``, ``tunnel.toml`` and ``induced_astigmatism.toml``.

    Returns
    -------
    WoundPlan
        The asked cut as the chosen one, with what speaks for and against it; no runner-up and no extensions.

    Raises
    ------
    ImpossibleInputError
        When the eye has no planned cut or the plan no grounds, or the cut does not fit the eye.

    Notes
    -----
    The cylinder is the cornea's vector plus the cut's, as in ``plan_wound``; the tunnel is carried as far into clear
    cornea as the technique usually does, and the side ports turn with the cut. The published series alone count: a
    surgeon's own results belong to their usual cut.
    """
    wound, grounds = eye.wound, eye.cut_grounds
    if wound is None or grounds is None:
        raise ImpossibleInputError("This plan does not say what the cut was weighed with; plan the day again.")
    technique = eye.technique.suggested
    induced = induced_astigmatism(
        site=cut.site, side=eye.side, technique=technique, length_mm=cut.length_mm,
        limbus_distance_mm=cut.limbus_distance_mm, shape=cut.shape, knowledge=knowledge,
        white_to_white_mm=eye.belief.white_to_white_mm.value,
    )  # fmt: skip
    corneal_mm = cut_style(technique=technique, knowledge=knowledge).tunnel_mm
    tunnel = Tunnel(cut.shape, cut.length_mm, cut.limbus_distance_mm, corneal_mm)
    seal = self_sealing(
        width_mm=cut.length_mm, limbus_distance_mm=cut.limbus_distance_mm, corneal_mm=corneal_mm, knowledge=knowledge
    )
    option = option_of(eye, grounds, cut, induced, tunnel, seal, knowledge)
    turn = option.meridian_deg - wound.chosen.meridian_deg
    return WoundPlan(
        chosen=option,
        second=None,
        reasons=tuple(reasons_of(wound, grounds, cut, induced, option, seal, knowledge)),
        side_ports_deg=tuple(sorted((port + turn) % FULL_TURN for port in wound.side_ports_deg)),
    )


def option_of(
    eye: EyePlan, grounds: CutGrounds, cut: CutAsked, induced: InducedAstigmatism, tunnel: Tunnel, seal: Seal,
    knowledge: Knowledge,
) -> WoundOption:  # fmt: skip
    """The asked cut with its numbers, as the plan stores one."""
    spread = induced.covariance + np.array(
        [[grounds.j0_variance_d2, grounds.covariance_d2], [grounds.covariance_d2, grounds.j45_variance_d2]]
    )
    after = np.array([grounds.j0_d, grounds.j45_d]) + induced.mean
    back = knowledge.number("wound.posterior_cornea.against_rule_d")
    refractive = after + np.array([0.5 * back.value, 0.0])
    refractive_spread = spread + (0.5 * (back.spread or 0.0)) ** 2 * np.eye(2)
    chances, refractive_chances = probability_cylinder_within(
        mean=np.stack([after, refractive])[:, None, :],
        covariance=np.stack([spread, refractive_spread])[:, None, :, :],
        limit_d=[knowledge.value(f"wound.cylinder.{name}_d") for name in LIMITS],
    )
    vectors = np.stack([induced.mean, after, refractive])
    seen = corneal_astigmatism(j0_d=vectors[:, 0], j45_d=vectors[:, 1])
    white, power = eye.belief.white_to_white_mm.value, eye.belief.mean_k_d.value
    measured = tunnel_geometry(
        tunnel=tunnel, eye=globe(knowledge=knowledge, white_to_white_mm=white, mean_k_d=power), knowledge=knowledge
    )
    delivered = eye.technique.suggested is Technique.MSICS
    return WoundOption(
        site=cut.site,
        meridian_deg=meridian_deg(site=cut.site, side=eye.side),
        length_mm=cut.length_mm,
        limbus_distance_mm=cut.limbus_distance_mm,
        tunnel_mm=float(measured.corneal_mm),
        shape=cut.shape,
        induced_d=float(seen.magnitude_d[0]),
        induced_axis_deg=float(seen.steep_axis_deg[0]),
        cylinder_d=float(seen.magnitude_d[1]),
        cylinder_axis_deg=float(seen.steep_axis_deg[1]),
        within_half=float(chances[0]),
        within_one=float(chances[1]),
        within_one_and_half=float(chances[2]),
        refractive_cylinder_d=float(seen.magnitude_d[2]),
        # The axis of a minus cylinder lies along the flat meridian.
        refractive_axis_deg=float((seen.steep_axis_deg[2] + FULL_TURN / 4) % (FULL_TURN / 2)),
        refractive_within_one=float(refractive_chances[1]),
        passes=float(probability_passes(length_mm=cut.length_mm, nucleus=grounds.nucleus, knowledge=knowledge))
        if delivered
        else None,
        seals=seal.seals,
        arc_mm=float(measured.arc_mm),
        end_distance_mm=float(measured.end_distance_mm),
        inner_opening_mm=float(measured.inner_arc_mm),
        neutral_share=float(measured.neutral_share),
    )


def reasons_of(
    wound: WoundPlan, grounds: CutGrounds, cut: CutAsked, induced: InducedAstigmatism, option: WoundOption, seal: Seal,
    knowledge: Knowledge,
) -> list[Reason]:  # fmt: skip
    """What bars or hinders the site, whether the nucleus passes and the tunnel seals, and what all of it rests on."""
    access = next((one for one in grounds.sites if one.site is cut.site), None)
    if access is not None:
        found = list(access.reasons)
    elif grounds.closed:
        found = list(grounds.closed)
    else:
        text = f"A {cut.site.value} cut is not usual for this operation."
        found = [Reason(text, Effect.AGAINST, "practice", Basis.COMMON_PRACTICE)]
    level = knowledge.number("nucleus.pass_level")
    if option.passes is not None and option.passes < level.value and not math.isclose(option.passes, level.value):
        text = (
            f"The nucleus passes without force in {100 * option.passes:.0f} of 100 ({grounds.nucleus.origin}); "
            f"{100 * level.value:.0f} are wished."
        )
        found.append(Reason(text, Effect.AGAINST, level.source, level.basis, option.passes))
    found += [
        Reason(one.text, Effect.FOR if one.met else Effect.AGAINST, one.source, one.basis, one.found_mm)
        for one in seal.criteria
        if one.studied or not one.met
    ]
    where = "at this site and size" if bool(induced.studied) else "carried over from another site, length or distance"
    text = f"Astigmatism expected from {induced.eyes} published eyes, {where}."
    found.append(Reason(text, Effect.NEUTRAL, induced.sources[0], induced.basis))
    if wound.own_eyes:
        text = f"The {wound.own_eyes} own eyes that the planned cut counts are left out here."
        found.append(Reason(text, Effect.NEUTRAL, "unit", Basis.COMMON_PRACTICE))
    return found
