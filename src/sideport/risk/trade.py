"""Hazards that the trade knows in advanced cataract but the published odds leave out; kept apart from the odds."""

from dataclasses import dataclass

from ..eye.person import Cataract, EyeRecord, Person, Pupil
from ..eye.summary import EyeSummary
from ..knowledge import Basis, Knowledge
from .advice import TradeFactor

__all__ = ["Hazard", "ladder_steps", "present_hazards", "trade_factors"]


@dataclass(frozen=True, slots=True)
class Hazard:
    """A hazard with what to do about it; its key leads to its steps on the ladder, braces are filled from the data."""

    key: str
    label: str
    advice: str
    source: str = "practice"
    basis: Basis = Basis.COMMON_PRACTICE


HAZARDS = {
    hazard.key: hazard
    for hazard in (
        Hazard(
            "fibrosed_capsule",
            "Fibrosed front capsule",
            "Stain it. Cut a band that resists at its base with scissors; do not pull, the zonule gives first.",
        ),
        Hazard(
            "free_nucleus",
            "Hypermature, nucleus may be free",
            "Milk escapes on puncture: aspirate and refill. Begin the cut short, nucleus size is unknown. Have a "
            "chamber lens or iris lens ready: {no_lens:.1%} of such eyes got no lens at first.",
            "morgagnian105",
            Basis.PUBLISHED,
        ),
        Hazard(
            "weak_zonule",
            "Weak zonule",
            "Turn the nucleus gently, float it out on viscoelastic. Have a tension ring and a sulcus or chamber lens. "
            "A trembling lens raised the odds of a tear {trembling:.1f} times in mature cataract.",
            "keles2023",
            Basis.PUBLISHED,
        ),
        Hazard(
            "pressure_white",
            "White lens under pressure",
            "Stain, keep the chamber firm, let the pressure out with a needle first, start the capsule opening small.",
        ),
        Hazard(
            "small_pupil",
            "Small pupil",
            "Have iris hooks or a sphincter cut ready before the capsule is opened.",
            "guzek1987",
            Basis.PUBLISHED,
        ),
        Hazard(
            "shallow_chamber",
            "Shallow chamber",
            "Lower the pressure first, deepen with viscoelastic, guard the endothelium.",
            "muhtaseb2004",
            Basis.PUBLISHED,
        ),
        Hazard(
            "previous_vitrectomy",
            "Vitreous was removed before",
            "The chamber deepens and swings; keep the infusion low and steady.",
            "muhtaseb2004",
            Basis.PUBLISHED,
        ),
        Hazard(
            "floppy_iris",
            "Alpha-blocker: the iris may billow",
            "Ask which medicine. Have hooks, keep the infusion low and the tunnel long.",
        ),
        Hazard(
            "black_nucleus",
            "Black, very hard nucleus",
            "Full-length tunnel, large capsule opening, plenty of viscoelastic over the endothelium.",
        ),
        Hazard(
            "corneal_scar", "Scarred cornea", "Stain the capsule: the view is poor.", "muhtaseb2004", Basis.PUBLISHED
        ),
        Hazard("only_eye", "Only seeing eye", "Senior hands, no teaching on this eye, second lens on the table."),
    )
}


def present_hazards(
    *, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge
) -> tuple[Hazard, ...]:
    """The hazards outside the published odds that this eye has.

    Parameters
    ----------
    person : Person
        The person.
    record : EyeRecord
        The eye; what is not recorded counts as absent.
    summary : EyeSummary
        Chamber depth, counted only when it was measured in this eye.
    knowledge : Knowledge
        Holds ``risk_trade.toml``.

    Returns
    -------
    tuple of Hazard
        In a fixed order.
    """
    depth = summary.chamber_depth_mm
    present = {
        "fibrosed_capsule": record.fibrosed_capsule,
        "free_nucleus": record.cataract is Cataract.HYPERMATURE,
        "weak_zonule": record.phacodonesis or record.pseudoexfoliation,
        "pressure_white": record.cataract is Cataract.INTUMESCENT,
        "small_pupil": record.pupil is Pupil.SMALL,
        "shallow_chamber": depth.readings > 0 and depth.value < knowledge.value("risk_trade.limit.shallow_chamber_mm"),
        "previous_vitrectomy": record.vitrectomy,
        "floppy_iris": person.alpha_blocker,
        "black_nucleus": record.cataract is Cataract.BLACK,
        "corneal_scar": record.corneal_scar,
        "only_eye": person.only_eye is record.side,
    }
    return tuple(HAZARDS[key] for key, holds in present.items() if holds)


def trade_factors(
    *, person: Person, record: EyeRecord, summary: EyeSummary, knowledge: Knowledge
) -> tuple[TradeFactor, ...]:
    """The same hazards as they stand on the sheet, each with what to do.

    Parameters
    ----------
    person, record, summary, knowledge
        As for ``present_hazards``.

    Returns
    -------
    tuple of TradeFactor
        In a fixed order.
    """
    found = present_hazards(person=person, record=record, summary=summary, knowledge=knowledge)
    numbers = {
        "no_lens": knowledge.value("risk_trade.morgagnian.no_lens"),
        "trembling": knowledge.value("risk_trade.mature.phacodonesis_odds"),
    }
    return tuple(
        TradeFactor(hazard.label, hazard.advice.format(**numbers), hazard.source, hazard.basis) for hazard in found
    )


def ladder_steps(*, hazards: tuple[Hazard, ...], knowledge: Knowledge) -> float:
    """How high the hazards stand together on the ladder of difficulty.

    Parameters
    ----------
    hazards : tuple of Hazard
        Those present.
    knowledge : Knowledge
        Holds ``risk_trade.toml``.

    Returns
    -------
    float
        Sum of steps, 0 for none.
    """
    return sum(knowledge.value(f"risk_trade.ladder.{hazard.key}") for hazard in hazards)
