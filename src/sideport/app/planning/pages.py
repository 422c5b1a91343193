"""What each page shows, as one frozen value a page. Nothing clinical is computed here: the plan says it all."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from math import log
from types import MappingProxyType

from django.contrib.auth.models import AnonymousUser
from django.utils.safestring import SafeString

from ...day.plan import (
    CostLine,
    DayPlan,
    EyePlan,
    KitItem,
    ReadinessItem,
    ReadyState,
    Remeasurement,
    Taught,
    TonightItem,
)
from ...knowledge.advice import Flag, Severity
from ...lens.choice import LensChoice
from ..access import of_unit
from ..people.models import Account
from ..record.models import Person
from .cut_part import CutRow, Trying, cut_rows, trying
from .documents import plan_of
from .frames import Frame, bare_frame, frame_of
from .models import StoredPlan
from .pictures import day_picture, eye_picture, forecast_picture

__all__ = ["DayPage", "EyePage", "PlansPage", "day_page", "eye_of", "eye_page", "plans_page"]

WORST_FIRST = tuple(Severity)
NO_ODDS = 1.0
NOTHING: Mapping[str, str] = MappingProxyType({})
READY_WORST_FIRST = tuple(ReadyState)


@dataclass(frozen=True, slots=True)
class Counted:
    """How many flags of one severity."""

    severity: Severity
    count: int


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing to settle about an eye: a flag of its records, or what the day found while planning it."""

    severity: Severity
    message: str
    action: str
    flag: Flag | None
    """For its source; ``None`` for what the day found."""


@dataclass(frozen=True, slots=True)
class EyeLine:
    """An eye in a list, with what is to be settled about it counted, worst first."""

    eye: EyePlan
    matters: tuple[Counted, ...]


@dataclass(frozen=True, slots=True)
class TonightLine:
    """One thing to sort out, with the eye it concerns."""

    item: TonightItem
    eye: EyePlan | None


@dataclass(frozen=True, slots=True)
class Worth:
    """Something worth measuring again tonight, with the eye it concerns."""

    item: Remeasurement
    eye: EyePlan

    @property
    def now(self) -> float:
        """Of 100 such eyes, those that would see as things stand."""
        return round(100 * self.item.sees_6_12, 1)

    @property
    def then(self) -> float:
        """And those after the readings."""
        return round(100 * (self.item.sees_6_12 + self.item.gain), 1)

    @property
    def more(self) -> float:
        """How many more the readings are expected to bring."""
        return round(100 * self.item.gain, 1)


@dataclass(frozen=True, slots=True)
class Learner:
    """A learner with the eyes that the day teaches them on."""

    taught: Taught
    eyes: tuple[EyePlan, ...]


@dataclass(frozen=True, slots=True)
class Total:
    """The sum of the priced lines; the others are named, never guessed."""

    amount: float
    unpriced: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DayPage:
    """The operating day."""

    frame: Frame
    plan: DayPlan
    counts: tuple[Counted, ...]
    tonight: tuple[TonightLine, ...]
    worth: tuple[Worth, ...]
    learners: tuple[Learner, ...]
    strip: SafeString
    lines: tuple[EyeLine, ...]
    off_list: tuple[EyeLine, ...]
    kit: tuple[KitItem, ...]
    contingency: tuple[KitItem, ...]
    total: Total


@dataclass(frozen=True, slots=True)
class Step:
    """One factor of the risk as a step of the picture; positions are hundredths of its width."""

    label: str
    odds_ratio: float
    start: float
    width: float
    factor: object
    """The factor itself, for its source; ``None`` for all together."""
    after: float | None = None
    """Probability of a tear after this step, where the plan has it."""


@dataclass(frozen=True, slots=True)
class EyePage:
    """One eye."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    matters: tuple[Matter, ...]
    drawing: SafeString | None
    cut: tuple[CutRow, ...]
    """The planned cut beside its runner-up."""
    trying: Trying | None
    strip: SafeString | None
    choices: tuple[LensChoice, ...]
    steps: tuple[Step, ...]
    kit: tuple[KitItem, ...]
    contingency: tuple[KitItem, ...]
    unready: tuple[ReadinessItem, ...]
    """What stops, warns or is to do before the knife, worst first."""
    ready: tuple[ReadinessItem, ...]
    total: Total
    before: EyePlan | None
    after: EyePlan | None
    on_record: str = ""
    """Key of the patient's page, where the patient is on the record."""


@dataclass(frozen=True, slots=True)
class PlansPage:
    """Every stored plan."""

    frame: Frame
    stored: tuple[StoredPlan, ...]


def day_page(stored: StoredPlan) -> DayPage:
    """The day page of a stored plan."""
    plan = plan_of(stored)
    by_key = {eye.key: eye for eye in plan.eyes}
    lines = tuple(EyeLine(eye, counted([found.severity for found in matters_of(plan, eye)])) for eye in plan.eyes)
    return DayPage(
        frame=frame_of(stored, "day"),
        plan=plan,
        counts=counted([Severity(item.severity) for item in plan.tonight]),
        tonight=tuple(TonightLine(item, by_key.get(item.eye_key or "")) for item in plan.tonight),
        worth=tuple(Worth(item, by_key[item.eye_key]) for item in plan.remeasure),
        learners=tuple(Learner(one, tuple(by_key[key] for key in one.eyes)) for one in plan.taught),
        strip=day_picture(plan),
        lines=tuple(line for line in lines if line.eye.slot),
        off_list=tuple(line for line in lines if not line.eye.slot),
        kit=tuple(item for item in plan.kit if not item.contingency),
        contingency=tuple(item for item in plan.kit if item.contingency),
        total=total_of(plan.cost),
    )


def eye_page(stored: StoredPlan, eye_key: str, asked: Mapping[str, str] = NOTHING) -> EyePage | None:
    """The page of one eye, or ``None`` when the plan has no such eye; ``asked`` is another cut to be tried."""
    plan = plan_of(stored)
    keys = [eye.key for eye in plan.eyes]
    if eye_key not in keys:
        return None
    at = keys.index(eye_key)
    eye = plan.eyes[at]
    return EyePage(
        frame=frame_of(stored, "eye"),
        plan=plan,
        eye=eye,
        matters=matters_of(plan, eye),
        drawing=eye_picture(eye) if eye.wound else None,
        cut=cut_rows(eye.wound.chosen, eye.wound.second) if eye.wound else (),
        trying=trying(eye=eye, data=asked, knowledge_version=plan.knowledge_version),
        strip=forecast_picture(eye) if eye.choices or eye.lens else None,
        choices=with_given(eye),
        steps=waterfall_steps(eye) if eye.risk.waterfall else odds_steps(eye),
        kit=tuple(item for item in eye.kit if not item.contingency),
        contingency=tuple(item for item in eye.kit if item.contingency),
        unready=tuple(item for item in worst_ready_first(eye) if item.state is not ReadyState.DONE),
        ready=tuple(item for item in eye.readiness if item.state is ReadyState.DONE),
        total=total_of(eye.cost),
        before=plan.eyes[at - 1] if at else None,
        after=plan.eyes[at + 1] if at + 1 < len(keys) else None,
        on_record=Person.objects.filter(unit=stored.unit, person_id=eye.person_id).values_list("key", flat=True).first()
        or "",
    )


def eye_of(stored: StoredPlan, eye_key: str) -> EyePlan | None:
    """One eye of a stored plan, or ``None``."""
    return next((eye for eye in plan_of(stored).eyes if eye.key == eye_key), None)


def plans_page(user: Account | AnonymousUser) -> PlansPage:
    """The page that lists every stored plan of the person's unit, newest first."""
    stored = of_unit(user, StoredPlan.objects.light()).order_by("-created", "-pk")
    return PlansPage(frame=bare_frame("plans", user), stored=tuple(stored))


def matters_of(plan: DayPlan, eye: EyePlan) -> tuple[Matter, ...]:
    """What is to be settled about an eye, worst first: its flags, and what the day found that no flag says already."""
    flagged = [Matter(flag.severity, flag.message, flag.action, flag) for flag in eye.flags]
    said = {flag.message for flag in eye.flags}
    found = [
        Matter(Severity(item.severity), item.message, item.action, None)
        for item in plan.tonight
        if item.eye_key == eye.key and item.message not in said
    ]
    return tuple(sorted([*found, *flagged], key=lambda matter: WORST_FIRST.index(matter.severity)))


def counted(severities: list[Severity]) -> tuple[Counted, ...]:
    """The severities that occur, worst first, with their counts."""
    ordered = sorted(severities, key=WORST_FIRST.index)
    return tuple(Counted(severity, len(list(group))) for severity, group in groupby(ordered))


def total_of(cost: tuple[CostLine, ...]) -> Total:
    """The sum of the priced lines, and the names of the others."""
    return Total(
        amount=sum(line.amount for line in cost if line.amount is not None),
        unpriced=tuple(line.name for line in cost if line.amount is None),
    )


def with_given(eye: EyePlan) -> tuple[LensChoice, ...]:
    """The bag lenses looked at, in the order of the strip: the one given comes last when it was not among them."""
    if eye.lens is None or eye.lens in eye.choices:
        return eye.choices
    return (*eye.choices, eye.lens)


def worst_ready_first(eye: EyePlan) -> list[ReadinessItem]:
    """The readiness list: stops, warnings, what is to do, what is done."""
    return sorted(eye.readiness, key=lambda item: READY_WORST_FIRST.index(item.state))


def waterfall_steps(eye: EyePlan) -> tuple[Step, ...]:
    """From an eye without factors to this one, on the scale of the probability itself."""
    steps = eye.risk.waterfall
    highest = max(step.probability for step in steps) or 1.0
    return tuple(
        Step(
            label=step.label,
            odds_ratio=step.odds_ratio,
            start=round(100 * min(step.probability, step.probability - step.change) / highest, 2),
            width=round(100 * abs(step.change) / highest, 2),
            factor=step,
            after=step.probability,
        )
        for step in steps
    )


def odds_steps(eye: EyePlan) -> tuple[Step, ...]:
    """The factors as steps on a logarithmic scale, each starting where the one before ended; all together last."""
    risk = eye.risk
    ends, reached = [], NO_ODDS
    for factor in risk.factors:
        ends.append((reached, reached * factor.odds_ratio))
        reached *= factor.odds_ratio
    marks = [NO_ODDS, risk.composite_odds_ratio, *(edge for pair in ends for edge in pair)]
    low, span = log(min(marks)), (log(max(marks)) - log(min(marks))) or 1.0

    def at(odds: float) -> float:
        return 100 * (log(odds) - low) / span

    pairs = [*ends, (NO_ODDS, risk.composite_odds_ratio)]
    named = [*((factor.label, factor.odds_ratio, factor) for factor in risk.factors),
             ("All together", risk.composite_odds_ratio, None)]  # fmt: skip
    return tuple(
        Step(label, odds, round(min(at(start), at(end)), 2), round(abs(at(end) - at(start)), 2), factor)
        for (label, odds, factor), (start, end) in zip(named, pairs, strict=True)
    )
