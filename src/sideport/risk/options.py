"""Every operation argued for and against: hands, machine, lens, cornea, cost."""

from collections.abc import Mapping, Sequence

from ..eye.summary import EyeSummary
from ..knowledge import Basis, Effect, Knowledge, Reason
from ..wound.technique import Technique
from .advice import TechniqueOption
from .team import Surgeon

__all__ = ["OPERATIONS", "fee_for", "operators_of", "technique_options"]

OPERATIONS = (Technique.MSICS, Technique.PHACO, Technique.ECCE, Technique.ICCE)
KEYS = {Technique.MSICS: "msics", Technique.PHACO: "phaco", Technique.ECCE: "extracapsular"}
PRACTICE = "practice"


def operators_of(technique: Technique, team: Sequence[Surgeon]) -> tuple[str, ...]:
    """Who on the team does an operation.

    Parameters
    ----------
    technique : Technique
    team : sequence of Surgeon

    Returns
    -------
    tuple of str
        Names in the order of the team.
    """
    return tuple(surgeon.name for surgeon in team if technique in surgeon.techniques)


def fee_for(*, technique: Technique, fees: Mapping[str, float], share: float) -> float | None:
    """What a patient pays for an operation.

    Parameters
    ----------
    technique : Technique
    fees : mapping
        The unit's fee by technique value, in its currency.
    share : float
        Share of the fee that this patient pays, 0 to 1.

    Returns
    -------
    float or None
        ``None`` where the unit gave no fee; 0 for a patient who pays nothing, whatever the fee.
    """
    if share == 0:
        return 0.0
    fee = fees.get(technique.value)
    return None if fee is None else fee * share


def technique_options(
    *,
    suggested: Technique,
    reasons: tuple[Reason, ...],
    alternative: Technique | None,
    unsuited: Mapping[Technique, tuple[Reason, ...]],
    summary: EyeSummary,
    team: Sequence[Surgeon],
    phaco_available: bool,
    fees: Mapping[str, float],
    pays_share: float,
    knowledge: Knowledge,
) -> tuple[TechniqueOption, ...]:
    """All operations with their reasons, the suggested one first, then the alternative.

    Parameters
    ----------
    suggested : Technique
        As advised.
    reasons : tuple of Reason
        Of the advice; they stand with the suggested operation.
    alternative : Technique or None
        As advised.
    unsuited : mapping of Technique to tuple of Reason
        What the lens and the eye say for or against each of the others.
    summary : EyeSummary
        Corneal astigmatism now.
    team : sequence of Surgeon
        Who can do what.
    phaco_available : bool
        Whether the machine works that day.
    fees : mapping
        The unit's fee by technique.
    pays_share : float
        Share of the fee that the patient pays.
    knowledge : Knowledge
        Holds ``technique.toml``.

    Returns
    -------
    tuple of TechniqueOption

    References
    ----------
    georgeeye2005 (from memory) for induced astigmatism; gogate2007 and muralikrishnan2004 for cost; haripriya2012 for
    complications.
    """
    first = {suggested: 0, alternative: 1}
    options = []
    for technique in sorted(OPERATIONS, key=lambda one: first.get(one, 2)):
        operators = operators_of(technique, team)
        machine = phaco_available or technique is not Technique.PHACO
        argued = list(reasons) if technique is suggested else list(unsuited.get(technique, ()))
        if not machine:
            argued.append(of_unit("No phacoemulsification machine that day."))
        if team and not operators:
            argued.append(of_unit(f"Nobody on the team does {technique.value} surgery."))
        induced = induced_d(technique, knowledge)
        if technique is not suggested:
            argued += in_numbers(technique, suggested, summary, knowledge)
        options.append(
            TechniqueOption(
                technique=technique,
                possible=machine and bool(operators or not team),
                reasons=tuple(argued),
                operators=operators,
                induced_d=induced,
                cost_ratio=cost_ratio(technique, knowledge),
                patient_pays=fee_for(technique=technique, fees=fees, share=pays_share),
            )
        )
    return tuple(options)


def in_numbers(technique: Technique, suggested: Technique, summary: EyeSummary, knowledge: Knowledge) -> list[Reason]:
    """Astigmatism, cost and complications of an operation that was not suggested, from published figures."""
    found = []
    mine, other = induced_d(technique, knowledge), induced_d(suggested, knowledge)
    if mine is not None and other is not None:
        number = knowledge.number(f"technique.astigmatism.{KEYS[technique]}")
        now = summary.corneal_astigmatism_d.value
        text = f"Its cut induces {mine:.2f} D on average against {other:.2f} D (cornea now {now:.2f} D)."
        found.append(Reason(text, side(mine < other), number.source, number.basis, mine - other))
    ratio = cost_ratio(technique, knowledge)
    if ratio is not None and technique is not Technique.MSICS:
        number = knowledge.number(f"technique.cost.{KEYS[technique]}")
        text = f"Cost the provider {ratio:.2f} times the manual small-incision operation."
        found.append(Reason(text, side(ratio < 1), number.source, number.basis, ratio))
    if technique is Technique.ECCE:
        own, patient = (knowledge.number(f"technique.patient_cost.{key}") for key in ("extracapsular", "msics"))
        ratio = own.value / patient.value
        text = f"Cost the patient {ratio:.1f} times as much in visits, spectacles and lost work: sutures."
        found.append(Reason(text, Effect.AGAINST, own.source, own.basis, ratio))
        rate, manual = knowledge.number("technique.all.extracapsular"), knowledge.value("technique.all.msics")
        text = f"Any complication in {100 * rate.value:.1f}% against {100 * manual:.1f}% manual small-incision."
        found.append(Reason(text, Effect.AGAINST, rate.source, rate.basis, rate.value))
    if technique is Technique.ICCE:
        text = "Only for a lens that comes loose with its bag: no capsule is left, the wound is large and sutured."
        found.append(Reason(text, Effect.NEUTRAL, PRACTICE, Basis.COMMON_PRACTICE))
    return found


def induced_d(technique: Technique, knowledge: Knowledge) -> float | None:
    """Published mean magnitude of the induced astigmatism [D]."""
    key = KEYS.get(technique)
    return None if key is None else knowledge.value(f"technique.astigmatism.{key}")


def cost_ratio(technique: Technique, knowledge: Knowledge) -> float | None:
    """Provider's cost against manual small-incision surgery, each pair from one study."""
    value = knowledge.value
    if technique is Technique.MSICS:
        return 1.0
    if technique is Technique.PHACO:
        return value("technique.cost.phaco") / value("technique.cost.msics")
    if technique is Technique.ECCE:
        return value("technique.cost.extracapsular") / value("technique.cost.msics_beside_extracapsular")
    return None


def side(good: bool) -> Effect:
    """For or against."""
    return Effect.FOR if good else Effect.AGAINST


def of_unit(text: str) -> Reason:
    """A reason that lies in the unit's means."""
    return Reason(text, Effect.AGAINST, "unit", Basis.COMMON_PRACTICE)
