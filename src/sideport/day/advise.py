"""Technique, operator and odds for every listed eye."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..eye.person import Person
from ..knowledge import Knowledge
from ..optics.acuity import AcuityKind
from ..risk.advice import OperatorAdvice, RiskEstimate, TechniqueAdvice
from ..risk.calibrate import Calibration, calibrate, own_results
from ..risk.estimate import estimate_risk
from ..risk.odds import probability
from ..risk.operators import Case, assign_operators, case_for
from ..risk.record import OperatorEffect, operator_effect
from ..risk.team import Grade
from ..risk.technique import suggest_technique
from ..wound.technique import Technique
from .case import ListedEye
from .pins import pin_for, technique_by_hand
from .settings import DayRequest

__all__ = ["Advised", "advise", "harm_margin", "share_of"]

NOBODY = OperatorAdvice(None, None, None, ())


@dataclass(frozen=True, slots=True)
class Advised:
    """A listed eye with what the risk room says of it."""

    eye: ListedEye
    technique: TechniqueAdvice
    operator: OperatorAdvice
    risk: RiskEstimate
    off_list: str


@dataclass(frozen=True, slots=True)
class Hands:
    """The team's effects under one calibration, by name."""

    calibration: Calibration
    effects: Mapping[str, OperatorEffect]


def harm_margin(request: DayRequest, knowledge: Knowledge) -> float:
    """The share by which expected tears may exceed those of an all-senior day: the unit's own, or the usual one.

    Parameters
    ----------
    request : DayRequest
    knowledge : Knowledge
        Holds ``operators.harm_margin``.

    Returns
    -------
    float
    """
    own = request.settings.harm_margin
    return knowledge.value("operators.harm_margin") if own is None else own


def advise(listed: Sequence[ListedEye], request: DayRequest, knowledge: Knowledge) -> tuple[Advised, ...]:
    """Technique, operator and odds for every listed eye.

    Parameters
    ----------
    listed : sequence of ListedEye
    request : DayRequest
    knowledge : Knowledge

    Returns
    -------
    tuple of Advised
        One an eye, in the same order.

    Notes
    -----
    The odds of the eye alone, in senior hands, decide the technique and pass the gates of the ladder; the probability
    that is shown is the planned operator's for the planned operation.
    """
    hands = {kind: hands_for(kind, request, knowledge) for kind in (Technique.MSICS, Technique.PHACO)}
    manual = hands[Technique.MSICS].calibration
    senior = [odds(eye, Grade.SENIOR, manual, None, knowledge) for eye in listed]
    techniques = [
        suggest_technique(
            person=eye.person, record=eye.record, summary=eye.summary, senior_risk=risk,
            phaco_available=request.settings.phaco_available, knowledge=knowledge, team=request.team,
            fees=request.settings.fees, pays_share=share_of(eye.person, request),
        )
        for eye, risk in zip(listed, senior, strict=True)
    ]  # fmt: skip
    pins = [pin_for(request.pins, eye.key) for eye in listed]
    techniques = [technique_by_hand(advice, pin.technique) for advice, pin in zip(techniques, pins, strict=True)]
    cases = [
        case_of(eye, risk, technique.suggested, hands_of(hands, technique.suggested), knowledge)
        for eye, risk, technique in zip(listed, senior, techniques, strict=True)
    ]
    operable = [index for index, eye in enumerate(listed) if not put_off(eye, knowledge)]
    given = assign_operators(
        [cases[index] for index in operable], request.team, knowledge=knowledge,
        harm_margin=harm_margin(request, knowledge),
        fixed={
            place: name
            for place, index in enumerate(operable)
            if (name := pins[index].operator) is not None and techniques[index].suggested is not Technique.REFER
        },
    )  # fmt: skip
    operators = dict(zip(operable, given, strict=True))
    advised = []
    for index, (eye, technique) in enumerate(zip(listed, techniques, strict=True)):
        operator = operators.get(index, NOBODY)
        setting = hands_of(hands, technique.suggested)
        effect = setting.effects.get(operator.name or "")
        risk = odds(eye, operator.grade or Grade.SENIOR, setting.calibration, effect, knowledge)
        advised.append(Advised(eye, technique, operator, risk, off_list_reason(eye, technique, operator, knowledge)))
    return tuple(advised)


def share_of(person: Person, request: DayRequest) -> float:
    """Share of the fee that a person pays: their own, the unit's usual one, or all of it.

    Parameters
    ----------
    person : Person
    request : DayRequest

    Returns
    -------
    float
        0 to 1.
    """
    for share in (person.pays_share, request.settings.pays_share):
        if share is not None:
            return share
    return 1.0


def hands_for(technique: Technique, request: DayRequest, knowledge: Knowledge) -> Hands:
    """The model set to one operation, and what each of the team does to its odds."""
    settings = request.settings
    own = own_results(
        rate=settings.complication_rate, operations=settings.complication_operations, team=request.team,
        knowledge=knowledge,
    )  # fmt: skip
    calibration = calibrate(model=settings.risk_model, technique=technique, own=own, knowledge=knowledge)
    effects = {
        surgeon.name: operator_effect(surgeon=surgeon, calibration=calibration, knowledge=knowledge)
        for surgeon in request.team
    }
    return Hands(calibration, effects)


def hands_of(hands: Mapping[Technique, Hands], technique: Technique) -> Hands:
    """The calibration for an operation; every manual one shares that of manual small-incision surgery."""
    return hands.get(technique, hands[Technique.MSICS])


def odds(
    eye: ListedEye, grade: Grade, calibration: Calibration, operator: OperatorEffect | None, knowledge: Knowledge
) -> RiskEstimate:
    """The estimate for one eye in given hands."""
    return estimate_risk(
        person=eye.person, record=eye.record, summary=eye.summary, grade=grade, knowledge=knowledge,
        calibration=calibration, operator=operator,
    )  # fmt: skip


def case_of(eye: ListedEye, senior: RiskEstimate, technique: Technique, hands: Hands, knowledge: Knowledge) -> Case:
    """The case that an eye makes for its operator, with the probability of a tear in everybody's hands."""
    names = list(hands.effects)
    ratios = [senior.composite_odds_ratio * hands.effects[name].odds_ratio for name in names]
    tears = probability(odds_ratio=ratios, baseline=hands.calibration.baseline) if names else ()
    return case_for(
        person=eye.person, record=eye.record, summary=eye.summary, senior_risk=senior, technique=technique,
        knowledge=knowledge, tears={name: float(tear) for name, tear in zip(names, tears, strict=True)},
    )  # fmt: skip


def put_off(eye: ListedEye, knowledge: Knowledge) -> str:
    """Why an eye is not for this list whoever operates; empty when it is."""
    record, age = eye.record, eye.person.age_years
    if record.infected:
        return "infection of the lids, conjunctiva or tear sac: treat it first."
    if record.acuity is not None and record.acuity.kind is AcuityKind.NO_LIGHT_PERCEPTION:
        return "no perception of light: an operation will not bring sight. Test the light again before it is given up."
    if age is not None and age < knowledge.value("order.child_below_years"):
        return (
            f"a child of {age:g} years: general anaesthesia, and target and lens by a paediatric plan. "
            "Plan it apart, or refer."
        )
    return ""


def off_list_reason(eye: ListedEye, technique: TechniqueAdvice, operator: OperatorAdvice, knowledge: Knowledge) -> str:
    """Why an eye is not put on the list; empty when it is."""
    if reason := put_off(eye, knowledge):
        return reason
    if technique.suggested is Technique.REFER:
        return " ".join(["to be referred.", *(reason.text for reason in technique.reasons[:1])])
    if operator.name is None:
        return " ".join(["nobody on the team may operate on it.", *(reason.text for reason in operator.reasons)])
    return ""
