"""The ladder of difficulty: what an eye asks of its operator, and which grade it is open to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Knowledge
from ..optics.side import Side
from ..wound.technique import Technique
from .advice import RiskEstimate
from .team import Grade, Surgeon
from .trade import ladder_steps, present_hazards

__all__ = ["LEARNERS", "Case", "case_for", "grade_objections", "lowest_grade", "objections", "supervisors"]

LEARNERS = (Grade.NOVICE, Grade.TRAINEE)
JUNIOR_FIRST = (Grade.NOVICE, Grade.TRAINEE, Grade.EXPERIENCED, Grade.SENIOR)


@dataclass(frozen=True, slots=True)
class Case:
    """What the choice of operator needs to know of one eye."""

    technique: Technique
    side: Side
    senior_odds_ratio: float
    """Composite odds ratio in senior hands."""
    ladder: float = 0.0
    """Hazards outside the published odds, in steps of the ladder."""
    only_eye: bool = False
    teaching: bool = True
    """False where this eye must not be a teaching case, by the unit's word."""
    tears: Mapping[str, float] = field(default_factory=dict)
    """Probability of a tear by each person's name; empty where the harm budget does not count."""


def case_for(
    *,
    person: Person,
    record: EyeRecord,
    summary: EyeSummary,
    senior_risk: RiskEstimate,
    technique: Technique,
    knowledge: Knowledge,
    teaching: bool = True,
    tears: Mapping[str, float] | None = None,
) -> Case:
    """The case that an eye makes for its operator.

    Parameters
    ----------
    person, record, summary
        As for ``estimate_risk``.
    senior_risk : RiskEstimate
        Odds in senior hands.
    technique : Technique
        The operation planned.
    knowledge : Knowledge
        Holds ``risk_trade.toml``.
    teaching : bool
        False bars trainees, whatever the odds.
    tears : mapping, optional
        Probability of a tear in each person's hands, by name.

    Returns
    -------
    Case
    """
    hazards = present_hazards(person=person, record=record, summary=summary, knowledge=knowledge)
    return Case(
        technique=technique,
        side=record.side,
        senior_odds_ratio=senior_risk.composite_odds_ratio,
        ladder=ladder_steps(hazards=hazards, knowledge=knowledge),
        only_eye=person.only_eye is record.side,
        teaching=teaching,
        tears={} if tears is None else dict(tears),
    )


def grade_objections(*, grade: Grade, case: Case, knowledge: Knowledge) -> list[str]:
    """What stands against this grade operating on this eye; empty for a senior surgeon.

    Parameters
    ----------
    grade : Grade
    case : Case
    knowledge : Knowledge
        Holds the gates in ``operators.toml`` (common practice).

    Returns
    -------
    list of str
    """
    if grade is Grade.SENIOR:
        return []
    stem = f"operators.{grade.value}"
    limit, steps = knowledge.value(f"{stem}.odds_limit"), knowledge.value(f"{stem}.ladder_limit")
    found = []
    if case.senior_odds_ratio > limit:
        found.append(f"odds {case.senior_odds_ratio:.1f} times an ordinary eye, over {limit:g} for this grade")
    if case.ladder > steps:
        found.append(f"hazards of {case.ladder:g} steps, over {steps:g} for this grade")
    if case.only_eye:
        found.append("only seeing eye: senior surgeon")
    if grade in LEARNERS and not case.teaching:
        found.append("not to be a teaching case")
    return found


def lowest_grade(*, case: Case, knowledge: Knowledge) -> Grade:
    """The most junior grade that the eye is open to, under a supervisor where that grade needs one.

    Parameters
    ----------
    case : Case
    knowledge : Knowledge

    Returns
    -------
    Grade
    """
    return next(g for g in JUNIOR_FIRST if not grade_objections(grade=g, case=case, knowledge=knowledge))


def objections(surgeon: Surgeon, case: Case, knowledge: Knowledge) -> list[str]:
    """Why this person should not operate on this eye; empty when nothing stands against it."""
    if case.technique is Technique.REFER:
        return ["referred"]
    found = [] if case.technique in surgeon.techniques else [f"does not do {case.technique.value} surgery"]
    return found + grade_objections(grade=surgeon.grade, case=case, knowledge=knowledge)


def supervisors(learner: Surgeon, case: Case, team: Sequence[Surgeon]) -> list[Surgeon]:
    """Those who may stand beside a learner in this operation."""
    return [
        surgeon
        for surgeon in team
        if surgeon.supervises and surgeon.name != learner.name and surgeon.grade not in LEARNERS
        and case.technique in surgeon.techniques
    ]  # fmt: skip
