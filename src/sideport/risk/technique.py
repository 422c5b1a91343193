"""Which operation: reasons for and against, never a verdict."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ..eye.person import Cataract, EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Basis, Effect, Knowledge, Reason
from ..wound.technique import Technique
from .advice import RiskEstimate, TechniqueAdvice
from .findings import is_dense
from .options import OPERATIONS, operators_of, technique_options
from .team import Surgeon

__all__ = ["suggest_technique"]

PRACTICE = "practice"


@dataclass(frozen=True, slots=True)
class Findings:
    """What decides between the techniques."""

    dense: bool
    free: bool
    black: bool
    loose: bool
    hard: bool
    risky: bool
    phaco: bool

    @property
    def suits_phaco(self) -> bool:
        """A soft lens at low odds in a unit with a working machine."""
        return self.phaco and not (self.dense or self.loose or self.hard or self.risky)


def suggest_technique(
    *,
    person: Person,
    record: EyeRecord,
    summary: EyeSummary,
    senior_risk: RiskEstimate,
    phaco_available: bool,
    knowledge: Knowledge,
    team: Sequence[Surgeon] = (),
    fees: Mapping[str, float] | None = None,
    pays_share: float = 1.0,
) -> TechniqueAdvice:
    """The operation that the reasons favour in a low-cost unit, and the alternative.

    Parameters
    ----------
    person : Person
        The person; an only eye changes the alternative.
    record : EyeRecord
        Findings.
    summary : EyeSummary
        Corneal astigmatism, said where it bears on the choice.
    senior_risk : RiskEstimate
        Odds in senior hands.
    phaco_available : bool
        Whether the unit has a working machine that day.
    knowledge : Knowledge
        Holds ``technique.toml``.
    team : sequence of Surgeon, optional
        An operation that nobody on it does gives way to the next that somebody does, and the reasons say so; without a
        team, hands are no matter.
    fees : mapping, optional
        The unit's fee by technique value.
    pays_share : float
        Share of the fee that this patient pays, 0 to 1.

    Returns
    -------
    TechniqueAdvice
        ``REFER`` where there is no cataract, or where nobody on the team does any operation that suits. Infection does
        not change the technique: it is a reason not to operate until it is treated.

    Notes
    -----
    Manual small-incision surgery unless there is a reason for another: cheaper, quicker, no less safe in dense lenses.
    Phacoemulsification is suggested where a filtering bleb should be spared and the lens suits it, and named as the
    alternative wherever the lens suits it. A lens that trembles keeps intracapsular removal in reserve; in an only eye
    that is loose as well as hypermature or black, referral is the alternative. Extracapsular surgery comes in where no
    tunnel surgeon is there, or a hard or free nucleus may not leave through a tunnel; intracapsular for a loose lens.

    References
    ----------
    haripriya2012, venkatesh2010, morgagnian105, keles2023, brunescent2009, gogate2007, muralikrishnan2004,
    georgeeye2005; the rest is common practice.
    """
    if record.cataract is Cataract.NONE:
        reason = practice("No cataract is recorded in this eye: look again, do not operate.", Effect.AGAINST)
        return TechniqueAdvice(Technique.REFER, (reason,), None)
    value = knowledge.value
    findings = Findings(
        dense=is_dense(record, knowledge),
        free=record.cataract is Cataract.HYPERMATURE,
        black=record.cataract is Cataract.BLACK,
        loose=bool(record.phacodonesis),
        hard=record.nucleus_grade is not None and record.nucleus_grade >= value("technique.limit.phaco_grade"),
        risky=senior_risk.composite_odds_ratio > value("technique.limit.phaco_odds"),
        phaco=phaco_available,
    )
    only = person.only_eye is record.side
    reasons = warnings(record) + lens_reasons(record, findings, knowledge)
    suggested = Technique.MSICS
    if record.bleb and findings.suits_phaco:
        suggested = Technique.PHACO
        reasons.append(practice("A small corneal cut spares the filtering bleb.", Effect.FOR))
    reasons += machine_reasons(findings, suggested, senior_risk, summary, knowledge)
    wished, other = suggested, alternative(suggested, record, findings, only=only)
    suggested = with_hands(wished, other, findings, team)
    if suggested is not wished:
        text = f"Nobody on the team does {wished.value} surgery, which would be first choice here."
        reasons.insert(0, Reason(text, Effect.AGAINST, "unit", Basis.COMMON_PRACTICE))
        other = other if other is not suggested and can(other, team) else None
    options = technique_options(
        suggested=suggested, reasons=tuple(reasons), alternative=other, unsuited=unsuited(findings),
        summary=summary, team=team, phaco_available=phaco_available, fees=fees or {}, pays_share=pays_share,
        knowledge=knowledge,
    )  # fmt: skip
    return TechniqueAdvice(suggested, tuple(reasons), other, options)


def can(technique: Technique | None, team: Sequence[Surgeon]) -> bool:
    """Whether somebody on the team does it; without a team anybody may."""
    return technique is not None and (not team or technique is Technique.REFER or bool(operators_of(technique, team)))


def with_hands(wished: Technique, other: Technique | None, findings: Findings, team: Sequence[Surgeon]) -> Technique:
    """The first operation, in the order of preference, that somebody on the team does."""
    order = [wished, other, Technique.MSICS, Technique.ECCE]
    order += [Technique.PHACO] if findings.suits_phaco else []
    order += [Technique.ICCE] if findings.loose else []
    return next((one for one in order if one in OPERATIONS and can(one, team)), Technique.REFER)


def unsuited(findings: Findings) -> dict[Technique, tuple[Reason, ...]]:
    """What the lens says about each operation when it is not the suggested one."""
    phaco: list[Reason] = []
    if findings.suits_phaco:
        phaco.append(practice("The lens suits it: soft, steady, at low odds.", Effect.FOR))
    if findings.dense or findings.hard:
        phaco.append(practice("Dense or hard lens: long ultrasound burns cornea and wound.", Effect.AGAINST))
    if findings.free:
        phaco.append(practice("Free nucleus without support: it cannot be sculpted safely.", Effect.AGAINST))
    if findings.loose:
        phaco.append(practice("Trembling lens: pressure changes strain what zonule is left.", Effect.AGAINST))
    ecce: list[Reason] = []
    if findings.black or findings.free or findings.hard:
        text = "Open to it when the nucleus will not leave through the tunnel: extend rather than push."
        ecce.append(practice(text, Effect.FOR))
    icce: list[Reason] = []
    if findings.loose:
        icce.append(practice("Keep it in reserve: the bag may come loose with the lens.", Effect.FOR))
    else:
        icce.append(practice("The zonule holds: there is no reason to take the capsule.", Effect.AGAINST))
    return {Technique.PHACO: tuple(phaco), Technique.ECCE: tuple(ecce), Technique.ICCE: tuple(icce)}


def alternative(suggested: Technique, record: EyeRecord, findings: Findings, *, only: bool) -> Technique | None:
    """What else may be done, or ``None`` where nothing else is worth naming."""
    if suggested is Technique.PHACO:
        return Technique.MSICS
    if findings.loose:
        return Technique.REFER if only and (findings.free or findings.black) else Technique.ICCE
    if findings.free or findings.black:
        return Technique.ECCE
    white = record.cataract in {Cataract.WHITE, Cataract.INTUMESCENT}
    if findings.suits_phaco or (white and findings.phaco and not findings.hard):
        return Technique.PHACO
    return Technique.ECCE if findings.dense or findings.hard else None


def warnings(record: EyeRecord) -> list[Reason]:
    """What must be settled before any technique."""
    found = []
    if record.infected:
        found.append(practice("Infection of lid, conjunctiva or tear sac: treat it first, not today.", Effect.AGAINST))
    if record.cataract is None and record.nucleus_grade is None:
        found.append(practice("Kind of cataract not recorded: look at the lens tonight.", Effect.NEUTRAL))
    return found


def lens_reasons(record: EyeRecord, findings: Findings, knowledge: Knowledge) -> list[Reason]:
    """What the lens and its zonule say."""
    percent = percent_of(knowledge)
    found = []
    if record.cataract in {Cataract.WHITE, Cataract.INTUMESCENT}:
        text = (
            f"White lens: day-1 corneal oedema {percent('white.msics_oedema')} manual against "
            f"{percent('white.phaco_oedema')} phaco, tears {percent('white.msics_tear')} against "
            f"{percent('white.phaco_tear')} in expert hands."
        )
        found.append(cited(text, Effect.FOR, "technique.white.msics_oedema", knowledge))
    if findings.free:
        text = (
            f"Hypermature: manual is safer here because the nucleus has no support; "
            f"{percent('hypermature.any_complication')} of such eyes still had a complication."
        )
        found.append(cited(text, Effect.FOR, "technique.hypermature.any_complication", knowledge))
    if record.cataract in {Cataract.BROWN, Cataract.BLACK}:
        share = percent("brown.msics_tear")
        text = f"Hard brown nucleus: manual spares the cornea the ultrasound; tears in {share} of eyes."
        found.append(cited(text, Effect.FOR, "technique.brown.msics_tear", knowledge))
    elif findings.hard:
        limit = knowledge.number("technique.limit.phaco_grade")
        text = f"Nuclear grade {record.nucleus_grade:g}, from {limit.value:g} on too hard to favour phaco."
        found.append(Reason(text, Effect.FOR, limit.source, limit.basis, record.nucleus_grade))
    if findings.loose:
        odds = knowledge.number("risk_trade.mature.phacodonesis_odds")
        text = (
            f"Lens trembles: odds of a tear {odds.value:g} times in mature cataract. If the whole bag comes "
            "loose, deliver it whole; do not pull."
        )
        found.append(Reason(text, Effect.AGAINST, odds.source, odds.basis, odds.value))
    return found


def machine_reasons(
    findings: Findings, suggested: Technique, senior_risk: RiskEstimate, summary: EyeSummary, knowledge: Knowledge
) -> list[Reason]:
    """Cost, hands and machine."""
    percent = percent_of(knowledge)
    manual = suggested is Technique.MSICS
    if not findings.phaco:
        return [Reason("No phacoemulsification machine that day.", Effect.NEUTRAL, "unit", Basis.COMMON_PRACTICE)]
    ratio = knowledge.value("technique.cost.phaco") / knowledge.value("technique.cost.msics")
    text = f"Phaco cost a comparable unit {ratio:.1f} times the manual operation."
    found = [cited(text, Effect.FOR if manual else Effect.AGAINST, "technique.cost.phaco", knowledge, ratio)]
    text = f"In trainees' hands: complications {percent('trainees.msics')} manual, {percent('trainees.phaco')} phaco."
    found.append(cited(text, Effect.FOR if manual else Effect.NEUTRAL, "technique.trainees.phaco", knowledge))
    if findings.suits_phaco:
        text = "Soft lens at low odds: phaco is open too, with less astigmatism"
        now = summary.corneal_astigmatism_d.value
        found.append(practice(f"{text} (cornea now {now:.2f} D).", Effect.AGAINST if manual else Effect.FOR))
    elif findings.risky:
        limit = knowledge.number("technique.limit.phaco_odds")
        odds = senior_risk.composite_odds_ratio
        text = f"Odds of a tear {odds:.1f} times an ordinary eye; phaco is put forward up to {limit.value:g}."
        found.append(Reason(text, Effect.FOR, limit.source, limit.basis, odds))
    return found


def percent_of(knowledge: Knowledge) -> Callable[[str], str]:
    """A reader of shares in ``technique.toml`` as words."""
    return lambda key: f"{100 * knowledge.value(f'technique.{key}'):.1f}%"


def practice(text: str, effect: Effect) -> Reason:
    """A reason of common practice."""
    return Reason(text, effect, PRACTICE, Basis.COMMON_PRACTICE)


def cited(text: str, effect: Effect, key: str, knowledge: Knowledge, weight: float | None = None) -> Reason:
    """A reason that stands on a number, with that number's source."""
    number = knowledge.number(key)
    return Reason(text, effect, number.source, number.basis, number.value if weight is None else weight)
