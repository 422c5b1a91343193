"""Why this cut: the reasons as data, and how the cut is made."""

from dataclasses import dataclass

from ..eye.summary import EyeSummary
from ..knowledge import Effect, Knowledge, Reason
from .candidates import Candidates
from .nucleus import NucleusBelief
from .plan import WoundOption
from .technique import Technique

__all__ = [
    "Picked",
    "cylinder_reason",
    "geometry_reason",
    "own_reason",
    "own_weight",
    "passage_reason",
    "seal_reasons",
    "second_reason",
]


@dataclass(frozen=True, slots=True)
class Picked:
    """One candidate by its place in the table, with its option."""

    site: int
    length: int
    option: WoundOption


def cylinder_reason(*, best: Picked, found: Candidates, summary: EyeSummary, limit_d: float) -> Reason:
    """What the cornea is now and what this cut should leave.

    Parameters
    ----------
    best : Picked
        The chosen cut.
    found : Candidates
        The table it stands in.
    summary : EyeSummary
        For the cornea as it is.
    limit_d : float
        The cylinder that decides [D].

    Returns
    -------
    Reason
        Weight: probability of a cylinder within the limit.
    """
    option, now, induced = best.option, summary.corneal_astigmatism_d, found.induced[best.site]
    carried = "" if induced.studied[best.length] else " Carried over from the nearest series."
    text = (
        f"Cornea steep at {summary.steep_axis_deg:.0f}° by {now.value:.2f} D. A {option.site.value} cut of "
        f"{option.length_mm:g} mm steepens {option.induced_axis_deg:.0f}° by {option.induced_d:.2f} D: about "
        f"{option.cylinder_d:.2f} D left at {option.cylinder_axis_deg:.0f}°, {100 * option.within_one:.0f} in 100 "
        f"end at {limit_d:.2f} D or less ({induced.eyes} eyes in the series).{carried}"
    )
    return Reason(text, Effect.FOR, induced.sources[0], induced.basis, option.within_one)


def second_reason(*, second: Picked, best: Picked, found: Candidates, limit_d: float) -> Reason:
    """The runner-up and its price.

    Parameters
    ----------
    second, best : Picked
        The runner-up and the chosen cut.
    found : Candidates
        The table they stand in.
    limit_d : float
        The cylinder that decides [D].

    Returns
    -------
    Reason
        Weight: score given away.
    """
    option, induced = second.option, found.induced[second.site]
    price = float(found.score[best.site, best.length] - found.score[second.site, second.length])
    text = (
        f"Next best: {option.site.value}, {option.length_mm:g} mm, about {option.cylinder_d:.2f} D left at "
        f"{option.cylinder_axis_deg:.0f}°, {100 * option.within_one:.0f} in 100 at {limit_d:.2f} D or less. "
        f"Price: {100 * price:.0f} points of 100, all told."
    )
    return Reason(text, Effect.NEUTRAL, induced.sources[0], induced.basis, price)


def own_reason(*, best: Picked, found: Candidates) -> Reason | None:
    """How far the surgeon's own results moved the expectation.

    Parameters
    ----------
    best : Picked
        The chosen cut.
    found : Candidates
        The table it stands in.

    Returns
    -------
    Reason or None
        Weight: that of the own eyes in the mean; ``None`` where there are none.
    """
    induced = found.induced[best.site]
    if not induced.own_eyes:
        return None
    weight = own_weight(best=best, found=found)
    text = (
        f"{induced.own_eyes} own eyes of this surgeon at this site carry {100 * weight:.0f} in 100 of the expectation."
    )
    return Reason(text, Effect.NEUTRAL, "unit", induced.basis, weight)


def own_weight(*, best: Picked, found: Candidates) -> float:
    """Weight of own results at the picked length.

    Parameters
    ----------
    best : Picked
        The cut.
    found : Candidates
        The table it stands in.

    Returns
    -------
    float
        0 to 1.
    """
    weight = found.induced[best.site].own_weight
    return float(weight) if isinstance(weight, float) else float(weight[best.length])


def passage_reason(*, best: Picked, nucleus: NucleusBelief, knowledge: Knowledge) -> Reason | None:
    """Whether the nucleus passes.

    Parameters
    ----------
    best : Picked
        The chosen cut.
    nucleus : NucleusBelief
        Its size.
    knowledge : Knowledge
        Holds ``nucleus.toml``.

    Returns
    -------
    Reason or None
        Weight: probability; ``None`` where the nucleus is not delivered whole.
    """
    chance = best.option.passes
    if chance is None:
        return None
    stretch, level = knowledge.number("nucleus.stretch"), knowledge.value("nucleus.pass_level")
    effect = Effect.FOR if chance >= level else Effect.AGAINST
    text = (
        f"The nucleus passes {best.option.length_mm:g} mm without force in {100 * chance:.0f} of 100 "
        f"({nucleus.origin}; a tunnel and nucleus that give {stretch.value:g} times are stated, not measured)."
    )
    return Reason(text, effect, stretch.source, stretch.basis, chance)


def seal_reasons(*, found: Candidates) -> list[Reason]:
    """Each criterion of self-sealing that was found on cuts as wide as this one, or failed.

    Parameters
    ----------
    found : Candidates
        With the seal.

    Returns
    -------
    list of Reason
        Weight: the lip's length [mm].
    """
    return [
        Reason(one.text, Effect.FOR if one.met else Effect.AGAINST, one.source, one.basis, one.found_mm)
        for one in found.seal.criteria
        if one.studied or not one.met
    ]


def geometry_reason(*, option: WoundOption, technique: Technique, knowledge: Knowledge) -> Reason:
    """How the cut is made, in one sentence.

    Parameters
    ----------
    option : WoundOption
        The chosen cut.
    technique : Technique
        Any but ``REFER``.
    knowledge : Knowledge
        Holds ``wound.toml``.

    Returns
    -------
    Reason
        Weight: the tunnel's length in clear cornea [mm].
    """
    if technique is Technique.MSICS:
        number = knowledge.number("wound.tunnel.msics_mm")
        text = (
            f"Mild frown, half the scleral depth, {option.limbus_distance_mm:g} mm behind the limbus, its ends "
            f"{option.end_distance_mm:.1f} mm, carried {number.value:g} mm into clear cornea; inner opening "
            f"{option.inner_opening_mm:.1f} mm; open fully only just before the nucleus leaves."
        )
    elif technique is Technique.PHACO:
        number = knowledge.number("wound.tunnel.phaco_mm")
        text = f"Clear corneal tunnel of {number.value:g} mm."
    else:
        number = knowledge.number("wound.tunnel.limbal_mm")
        text = "At the limbus, closed with sutures; the final cylinder depends on their tension."
    return Reason(text, Effect.NEUTRAL, number.source, number.basis, number.value)
