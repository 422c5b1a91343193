"""Who operates on which eye: gates by risk, teaching cases within the harm budget, and an even load."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from ..errors import ImpossibleInputError
from ..knowledge import Basis, Effect, Knowledge, Reason
from ..wound.technique import Technique
from .advice import OperatorAdvice
from .harm import HarmBudget, budget_for, senior_tears
from .ladder import LEARNERS, Case, case_for, lowest_grade, objections, supervisors
from .minutes import usual_minutes
from .team import Grade, Surgeon

__all__ = ["Case", "assign_operators", "case_for"]

NO_LIMIT = float("inf")


@dataclass(slots=True)
class Rota:
    """The day while it is filled."""

    cases: Sequence[Case]
    team: Sequence[Surgeon]
    knowledge: Knowledge
    budget: HarmBudget
    minutes: dict[str, float]
    given: dict[int, OperatorAdvice] = field(default_factory=dict)

    def harm_of(self, index: int, surgeon: Surgeon) -> float:
        """Expected tears beyond an all-senior day when this person does this eye; 0 where they are not known."""
        case = self.cases[index]
        reference = senior_tears(case=case, team=self.team, knowledge=self.knowledge)
        tears = case.tears.get(surgeon.name, reference)
        return 0.0 if tears != tears else tears - reference

    def give(self, index: int, surgeon: Surgeon, supervisor: Surgeon | None, reasons: tuple[Reason, ...]) -> None:
        """Books an eye with its minutes and its harm."""
        case, extra = self.cases[index], self.harm_of(index, surgeon)
        spent = usual_minutes(technique=case.technique, surgeon=surgeon, knowledge=self.knowledge)
        self.budget.take(extra)
        self.minutes[surgeon.name] += spent
        if supervisor is not None:
            self.minutes[supervisor.name] += spent
        known = surgeon.name in case.tears
        self.given[index] = OperatorAdvice(
            surgeon.name,
            surgeon.grade,
            None if supervisor is None else supervisor.name,
            reasons,
            tear_probability=case.tears[surgeon.name] if known else None,
            extra_tears=extra if known else None,
            lowest_grade=lowest_grade(case=case, knowledge=self.knowledge),
        )


def assign_operators(
    cases: Sequence[Case],
    team: Sequence[Surgeon],
    *,
    knowledge: Knowledge,
    harm_margin: float | None = None,
    fixed: Mapping[int, str] | None = None,
) -> tuple[OperatorAdvice, ...]:
    """An operator for each case, and a supervisor where one is needed.

    Parameters
    ----------
    cases : sequence of Case
        The day's eyes; with ``tears`` by name the harm budget counts.
    team : sequence of Surgeon
        The people who may operate, with different names.
    knowledge : Knowledge
        Holds ``operators.toml`` and ``durations.toml``.
    harm_margin : float, optional
        Share by which the day's expected tears may exceed those of an all-senior day; no limit when absent.
    fixed : mapping of int to str, optional
        Operators that a person has fixed, by the place of the case. They stand whatever the gates and the margin say,
        with what speaks against them, and count against the margin before anybody else's.

    Returns
    -------
    tuple of OperatorAdvice
        One a case, in the order given; ``name`` is ``None`` where nobody may, with the reason.

    Raises
    ------
    ImpossibleInputError
        When two people on the team have one name, the margin is below 0, or somebody fixed is not on the team.

    Notes
    -----
    Learners come first, novices before trainees since fewer eyes suit them: each in turn takes the mildest eye that
    passes the gate and fits the harm budget, until nobody wants more. A learner operates only on cases wanted, and only
    under a supervisor who does that operation. The rest go to those who operate alone: hardest to place first, each to
    the person with the fewest expected minutes so far among those whom the budget allows, else to the one least likely
    to tear it; so the day's sum never exceeds the margin. Supervised minutes count for the supervisor too. Nothing is
    drawn by lot: equal claims go by order of the list. That supervisor and trainee are free in the same minutes is the
    timetable's task.

    References
    ----------
    haripriya2012 for what training costs by technique; the gates are common practice (``operators.toml``).
    """
    names = [surgeon.name for surgeon in team]
    if len(set(names)) < len(names):
        raise ImpossibleInputError("Two people on the team have one name; tell them apart, for instance by initials.")
    if harm_margin is not None and not harm_margin >= 0:
        raise ImpossibleInputError(f"A harm margin of {harm_margin:g} is below 0; give 0.25 for a quarter more.")
    if not set((fixed or {}).values()) <= set(names):
        raise ImpossibleInputError("An operator fixed by hand is not on the team; choose one of the team.")
    budget = HarmBudget(0.0, NO_LIMIT)
    if harm_margin is not None:
        budget = budget_for(cases=cases, team=team, margin=harm_margin, knowledge=knowledge)
    rota = Rota(cases, team, knowledge, budget, dict.fromkeys(names, 0.0))
    for index, name in (fixed or {}).items():
        fix(rota, index, next(surgeon for surgeon in team if surgeon.name == name))
    teach(rota)
    place_the_rest(rota)
    return tuple(rota.given[index] for index in range(len(cases)))


def fix(rota: Rota, index: int, surgeon: Surgeon) -> None:
    """The operator that a person has fixed, with what speaks against it and a supervisor for a learner."""
    case = rota.cases[index]
    reasons = [Reason("Operator fixed by hand.", Effect.NEUTRAL, "unit", Basis.COMMON_PRACTICE)]
    reasons += [
        gate(f"Against it: {text}.", Effect.AGAINST, case) for text in objections(surgeon, case, rota.knowledge)
    ]
    supervisor = None
    if surgeon.grade in LEARNERS:
        able = supervisors(surgeon, case, rota.team)
        supervisor = min(able, key=lambda other: rota.minutes[other.name], default=None)
        reasons.append(
            gate("Nobody on the team may supervise.", Effect.AGAINST, case)
            if supervisor is None
            else gate(f"{supervisor.name} supervises.", Effect.FOR, case)
        )
    rota.give(index, surgeon, supervisor, tuple(reasons))


def teach(rota: Rota) -> None:
    """Teaching cases, mildest eyes first, learners in turn."""
    cases, team = rota.cases, rota.team
    order = sorted(range(len(cases)), key=lambda i: (cases[i].senior_odds_ratio, cases[i].ladder, i))
    for grade in LEARNERS:
        learners = [surgeon for surgeon in team if surgeon.grade is grade]
        done = [advice.name for advice in rota.given.values()]
        wanted = {surgeon.name: surgeon.cases_wanted - done.count(surgeon.name) for surgeon in learners}
        served = True
        while served:
            served = False
            for learner in learners:
                index = next((i for i in order if i not in rota.given and may_learn(learner, i, rota)), None)
                if wanted[learner.name] <= 0 or index is None:
                    continue
                supervisor = min(supervisors(learner, cases[index], team), key=lambda s: rota.minutes[s.name])
                wanted[learner.name] -= 1
                served = True
                reasons = teaching_reasons(learner, supervisor, cases[index], rota.knowledge)
                rota.give(index, learner, supervisor, (*reasons, *harm_reason(rota, index, learner)))


def place_the_rest(rota: Rota) -> None:
    """The eyes of those who operate alone, hardest to place first."""
    cases = rota.cases
    alone = [surgeon for surgeon in rota.team if surgeon.grade not in LEARNERS]
    open_to = {
        index: [surgeon for surgeon in alone if not objections(surgeon, case, rota.knowledge)]
        for index, case in enumerate(cases)
        if index not in rota.given
    }
    for index in sorted(open_to, key=lambda i: (len(open_to[i]), -cases[i].senior_odds_ratio, i)):
        case, able = cases[index], open_to[index]
        if not able:
            rota.given[index] = nobody(case, rota.team, rota.knowledge)
            continue
        fits = [surgeon for surgeon in able if rota.budget.allows(rota.harm_of(index, surgeon))]
        pool = fits or [min(able, key=lambda surgeon: rota.harm_of(index, surgeon))]
        chosen = min(pool, key=lambda surgeon: rota.minutes[surgeon.name] + usual(surgeon, case, rota.knowledge))
        reasons = list(alone_reasons(chosen, case, alone, rota.knowledge))
        reasons += [over_budget(s, rota, index) for s in able if s not in pool]
        rota.give(index, chosen, None, tuple(reasons))


def usual(surgeon: Surgeon, case: Case, knowledge: Knowledge) -> float:
    """Minutes that this person usually takes for this operation."""
    return usual_minutes(technique=case.technique, surgeon=surgeon, knowledge=knowledge)


def may_learn(learner: Surgeon, index: int, rota: Rota) -> bool:
    """Whether this eye may be a teaching case for this person, and the day's harm allows it."""
    case = rota.cases[index]
    return (
        not objections(learner, case, rota.knowledge)
        and bool(supervisors(learner, case, rota.team))
        and rota.budget.allows(rota.harm_of(index, learner))
    )


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


def over_budget(surgeon: Surgeon, rota: Rota, index: int) -> Reason:
    """Why somebody who may operate on an eye does not."""
    extra = rota.harm_of(index, surgeon)
    text = (
        f"Not {surgeon.name}: {extra:.3f} more expected tears would take the day over its margin of "
        f"{rota.budget.limit:.2f} beyond an all-senior day."
    )
    return Reason(text, Effect.FOR, "unit", Basis.COMMON_PRACTICE, extra)


def harm_reason(rota: Rota, index: int, learner: Surgeon) -> tuple[Reason, ...]:
    """What a teaching case costs in expected tears."""
    if learner.name not in rota.cases[index].tears:
        return ()
    extra = rota.harm_of(index, learner)
    text = f"Teaching costs {extra:.3f} expected tears here against the senior surgeon's hands."
    return (Reason(text, Effect.AGAINST, "narendran2009", Basis.RECALLED, extra),)


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
    grade = lowest_grade(case=case, knowledge=knowledge)
    none = OperatorAdvice(None, None, None, (), lowest_grade=grade)
    if case.technique is Technique.REFER:
        return replace(none, reasons=(gate("Referred: not for operation here.", Effect.NEUTRAL, case),))
    if not team:
        return replace(none, reasons=(gate("No surgeon is on the team that day.", Effect.AGAINST, case),))
    reasons = []
    for surgeon in team:
        against = objections(surgeon, case, knowledge)
        if not against and surgeon.grade in LEARNERS:
            stands_by = bool(supervisors(surgeon, case, team))
            against = [
                "wants no more cases that day, or the day's harm margin is used up"
                if stands_by
                else "nobody to supervise that day"
            ]
        reasons.append(gate(f"Not {surgeon.name}: {'; '.join(against)}.", Effect.AGAINST, case))
    return replace(none, reasons=tuple(reasons))


def gate(text: str, effect: Effect, case: Case) -> Reason:
    """A reason that stands on the gates of common practice."""
    return Reason(text, effect, "practice", Basis.COMMON_PRACTICE, case.senior_odds_ratio)
