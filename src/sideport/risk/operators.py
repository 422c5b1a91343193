"""Who operates on which eye: gates by risk, teaching cases, and an even load."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..errors import ImpossibleInputError
from ..eye.person import EyeRecord, Person
from ..eye.summary import EyeSummary
from ..knowledge import Basis, Effect, Knowledge, Reason
from ..optics.side import Side
from ..wound.technique import Technique
from .advice import OperatorAdvice, RiskEstimate
from .minutes import usual_minutes
from .team import Grade, Surgeon
from .trade import ladder_steps, present_hazards

__all__ = ["Case", "assign_operators", "case_for"]

LEARNERS = (Grade.NOVICE, Grade.TRAINEE)


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


def case_for(
    *,
    person: Person,
    record: EyeRecord,
    summary: EyeSummary,
    senior_risk: RiskEstimate,
    technique: Technique,
    knowledge: Knowledge,
    teaching: bool = True,
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
    )


def assign_operators(
    cases: Sequence[Case], team: Sequence[Surgeon], *, knowledge: Knowledge
) -> tuple[OperatorAdvice, ...]:
    """An operator for each case, and a supervisor where one is needed.

    Parameters
    ----------
    cases : sequence of Case
        The day's eyes.
    team : sequence of Surgeon
        The people who may operate, with different names.
    knowledge : Knowledge
        Holds ``operators.toml`` and ``durations.toml``.

    Returns
    -------
    tuple of OperatorAdvice
        One a case, in the order given; ``name`` is ``None`` where nobody may, with the reason.

    Raises
    ------
    ImpossibleInputError
        When two people on the team have one name.

    Notes
    -----
    Learners come first, novices before trainees since fewer eyes suit them: each in turn takes the mildest eye that
    passes the gate, until nobody wants more. A learner operates only on cases wanted, and only under a supervisor who
    does that operation. The rest go to those who operate alone: hardest to place first, each to the person with the
    fewest expected minutes so far; supervised minutes count for the supervisor too. Nothing is drawn by lot: equal
    claims go by order of the list. That supervisor and trainee are free in the same minutes is the timetable's task.

    References
    ----------
    haripriya2012 for what training costs by technique; the gates are common practice (``operators.toml``).
    """
    names = [surgeon.name for surgeon in team]
    if len(set(names)) < len(names):
        raise ImpossibleInputError("Two people on the team have one name; tell them apart, for instance by initials.")
    minutes = dict.fromkeys(names, 0.0)
    given: dict[int, OperatorAdvice] = teach(cases, team, minutes, knowledge)
    alone = [surgeon for surgeon in team if surgeon.grade not in LEARNERS]
    open_to = {
        index: [surgeon for surgeon in alone if not objections(surgeon, case, knowledge)]
        for index, case in enumerate(cases)
        if index not in given
    }
    for index in sorted(open_to, key=lambda i: (len(open_to[i]), -cases[i].senior_odds_ratio, i)):
        case, able = cases[index], open_to[index]
        if not able:
            given[index] = nobody(case, team, knowledge)
            continue
        spent = {
            surgeon.name: usual_minutes(technique=case.technique, surgeon=surgeon, knowledge=knowledge)
            for surgeon in able
        }
        chosen = min(able, key=lambda surgeon: minutes[surgeon.name] + spent[surgeon.name])
        minutes[chosen.name] += spent[chosen.name]
        given[index] = OperatorAdvice(chosen.name, chosen.grade, None, alone_reasons(chosen, case, alone, knowledge))
    return tuple(given[index] for index in range(len(cases)))


def teach(
    cases: Sequence[Case], team: Sequence[Surgeon], minutes: dict[str, float], knowledge: Knowledge
) -> dict[int, OperatorAdvice]:
    """Teaching cases, mildest eyes first, learners in turn."""
    given: dict[int, OperatorAdvice] = {}
    order = sorted(range(len(cases)), key=lambda i: (cases[i].senior_odds_ratio, cases[i].ladder, i))
    for grade in LEARNERS:
        wanted = {surgeon.name: surgeon.cases_wanted for surgeon in team if surgeon.grade is grade}
        learners = [surgeon for surgeon in team if surgeon.grade is grade]
        served = True
        while served:
            served = False
            for learner in learners:
                index = next(
                    (i for i in order if i not in given and may_learn(learner, cases[i], team, knowledge)), None
                )
                if wanted[learner.name] <= 0 or index is None:
                    continue
                supervisor = min(supervisors(learner, cases[index], team), key=lambda surgeon: minutes[surgeon.name])
                spent = usual_minutes(technique=cases[index].technique, surgeon=learner, knowledge=knowledge)
                minutes[learner.name] += spent
                minutes[supervisor.name] += spent
                wanted[learner.name] -= 1
                served = True
                reasons = teaching_reasons(learner, supervisor, cases[index], knowledge)
                given[index] = OperatorAdvice(learner.name, learner.grade, supervisor.name, reasons)
    return given


def may_learn(learner: Surgeon, case: Case, team: Sequence[Surgeon], knowledge: Knowledge) -> bool:
    """Whether this eye may be a teaching case for this person."""
    return not objections(learner, case, knowledge) and bool(supervisors(learner, case, team))


def supervisors(learner: Surgeon, case: Case, team: Sequence[Surgeon]) -> list[Surgeon]:
    """Those who may stand beside a learner in this operation."""
    return [
        surgeon
        for surgeon in team
        if surgeon.supervises and surgeon.name != learner.name and surgeon.grade not in LEARNERS
        and case.technique in surgeon.techniques
    ]  # fmt: skip


def objections(surgeon: Surgeon, case: Case, knowledge: Knowledge) -> list[str]:
    """Why this person should not operate on this eye; empty when nothing stands against it."""
    if case.technique is Technique.REFER:
        return ["referred"]
    found = [] if case.technique in surgeon.techniques else [f"does not do {case.technique.value} surgery"]
    if surgeon.grade is Grade.SENIOR:
        return found
    stem = f"operators.{surgeon.grade.value}"
    limit, steps = knowledge.value(f"{stem}.odds_limit"), knowledge.value(f"{stem}.ladder_limit")
    if case.senior_odds_ratio > limit:
        found.append(f"odds {case.senior_odds_ratio:.1f} times an ordinary eye, over {limit:g} for this grade")
    if case.ladder > steps:
        found.append(f"hazards of {case.ladder:g} steps, over {steps:g} for this grade")
    if case.only_eye:
        found.append("only seeing eye: senior surgeon")
    if surgeon.grade in LEARNERS and not case.teaching:
        found.append("not to be a teaching case")
    return found


def alone_reasons(chosen: Surgeon, case: Case, alone: Sequence[Surgeon], knowledge: Knowledge) -> tuple[Reason, ...]:
    """Why this person, and why not the other ones who operate alone."""
    reasons = []
    for other in alone:
        against = objections(other, case, knowledge)
        if other.name != chosen.name and against:
            reasons.append(gate(f"Not {other.name}: {'; '.join(against)}.", Effect.FOR, case))
    if not reasons:
        odds = f"odds {case.senior_odds_ratio:.1f} times an ordinary eye"
        reasons.append(
            gate(f"Within what this grade operates alone ({odds}); load is shared evenly.", Effect.FOR, case)
        )
    return tuple(reasons)


def teaching_reasons(learner: Surgeon, supervisor: Surgeon, case: Case, knowledge: Knowledge) -> tuple[Reason, ...]:
    """Why this eye teaches, who stands by, and what training costs."""
    stem = f"operators.{learner.grade.value}"
    text = (
        f"Mild enough to teach: odds {case.senior_odds_ratio:.1f} times an ordinary eye (limit "
        f"{knowledge.value(f'{stem}.odds_limit'):g}), no hazard apart. {learner.name} wants {learner.cases_wanted}."
    )
    watch = "throughout" if learner.grade is Grade.NOVICE else "in theatre"
    reasons = [
        gate(text, Effect.FOR, case),
        gate(f"{supervisor.name} supervises {watch}.", Effect.FOR, case),
    ]
    key = {Technique.MSICS: "msics", Technique.PHACO: "phaco"}.get(case.technique)
    if key is not None:
        rate = knowledge.number(f"technique.trainees.{key}")
        text = f"Trainees elsewhere had complications in {100 * rate.value:.1f}% of {case.technique.value} operations."
        reasons.append(Reason(text, Effect.AGAINST, rate.source, rate.basis, rate.value))
    return tuple(reasons)


def nobody(case: Case, team: Sequence[Surgeon], knowledge: Knowledge) -> OperatorAdvice:
    """Advice for an eye that nobody on the team may operate on."""
    if case.technique is Technique.REFER:
        return OperatorAdvice(None, None, None, (gate("Referred: not for operation here.", Effect.NEUTRAL, case),))
    if not team:
        return OperatorAdvice(None, None, None, (gate("No surgeon is on the team that day.", Effect.AGAINST, case),))
    reasons = []
    for surgeon in team:
        against = objections(surgeon, case, knowledge)
        if not against and surgeon.grade in LEARNERS:
            stands_by = bool(supervisors(surgeon, case, team))
            against = ["wants no more cases that day" if stands_by else "nobody to supervise that day"]
        reasons.append(gate(f"Not {surgeon.name}: {'; '.join(against)}.", Effect.AGAINST, case))
    return OperatorAdvice(None, None, None, tuple(reasons))


def gate(text: str, effect: Effect, case: Case) -> Reason:
    """A reason that stands on the gates of common practice."""
    return Reason(text, effect, "practice", Basis.COMMON_PRACTICE, case.senior_odds_ratio)
