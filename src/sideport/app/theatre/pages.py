"""What each page of the theatre shows, as one frozen value a page."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid4

from django.forms import Form

from ...day.plan import DayPlan, EyePlan
from ...lens.model import Placement
from ...present.note_words import NoteFacts, operation_note
from ...present.numbers import power
from ...present.words import PLACEMENT_WORDS, person_words
from ...record.facts import Fact
from ...record.kinds import Kind
from ...record.theatre_said import EventKind, Outcome
from ...shelf.box import Box
from ..planning.frames import Frame
from ..record.models import Operation
from .checklist import BASIS, SOURCE, PauseCard
from .identity import other_eye, similar
from .lens_check import FINDING_TITLES, Planned, Stop, planned_for
from .state import STEPS, Phase, TheatreState, is_of

__all__ = [
    "FormPage", "LensPage", "Line", "ListPage", "NotePage", "PausePage", "PersonStopPage", "StopPage", "TheatrePage",
    "digest_of", "draft_of", "line_of_day", "stop_titles", "theatre_page",
]  # fmt: skip

SUTURE_COUNTS = (1, 2, 3)


@dataclass(frozen=True, slots=True)
class Line:
    """An eye in the list of the day."""

    eye: EyePlan
    state: str
    over: bool
    similar: tuple[EyePlan, ...]


@dataclass(frozen=True, slots=True)
class ListPage:
    """The list of the day, as the theatre works through it."""

    frame: Frame
    plan: DayPlan
    lines: tuple[Line, ...]
    today: bool
    """False when the plan is for another day than the computer's."""


@dataclass(frozen=True, slots=True)
class Plate:
    """One place that a lens may go to."""

    placement: Placement
    planned: Planned | None


@dataclass(frozen=True, slots=True)
class LogLine:
    """One thing that was recorded."""

    fact: Fact
    tap: UUID
    undoable: bool
    needs_reason: bool


@dataclass(frozen=True, slots=True)
class TheatrePage:
    """One eye while it is in theatre."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    state: TheatreState
    phase: str
    """Name of the phase, for the template."""
    similar: tuple[EyePlan, ...]
    other_eye: EyePlan | None
    plates: tuple[Plate, ...]
    steps: tuple[tuple[str, int, UUID], ...]
    """Name, how often it was tapped, the next tap's key."""
    events: tuple[tuple[EventKind, int, UUID], ...]
    sutures: tuple[tuple[int, UUID], ...]
    log: tuple[LogLine, ...]
    taps: tuple[UUID, UUID, UUID]
    """Keys for the remaining single buttons."""
    account: int
    wrong: str = ""
    """What was wrong with the last tap."""


@dataclass(frozen=True, slots=True)
class PausePage:
    """A pause of the checklist."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    card: PauseCard
    form: Form
    earlier: tuple[Operation, ...]
    """Operations that the record has of this eye."""
    source: str = SOURCE
    basis: Any = BASIS
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class PersonStopPage:
    """The wrong patient or the wrong side."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LensPage:
    """Reading a lens box for one place."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    placement: Placement
    planned: Planned | None
    code: Form
    picture: Form
    typed: Form
    candidates: tuple[Box, ...] = ()
    """Boxes that the code may mean, to tap from."""
    codes: tuple[str, ...] = ()
    separator_lost: bool = False
    wrong: str = ""
    half: str = ""
    """A first half that waits for its second."""


@dataclass(frozen=True, slots=True)
class StopPage:
    """A lens box that must not be opened."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    check: Any
    """What the entry says."""
    stops: tuple[tuple[str, str], ...]
    """Title and sentence of each finding."""
    planned: Planned | None
    aside: UUID
    form: Form
    people: bool
    """Whether there is anybody who could agree."""


@dataclass(frozen=True, slots=True)
class FormPage:
    """A page around one form about an eye."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    form: Form
    wrong: str = ""


@dataclass(frozen=True, slots=True)
class NotePage:
    """The operation note."""

    frame: Frame
    plan: DayPlan
    eye: EyePlan
    form: Form
    note: Fact | None
    draft: str
    stale: bool
    """True when the record has changed since the note was written."""
    may_sign: bool
    wrong: str = ""


def line_of_day(plan: DayPlan, eye: EyePlan, rows: Sequence[Operation]) -> Line:
    """An eye of the list with its state in words."""
    own = [row for row in rows if is_of(row, eye)]
    current = next((row for row in reversed(own) if row.outcome != Outcome.ABANDONED.value), None)
    if current is None:
        words = "begun and abandoned" if own else Phase.BEFORE.value
    elif current.ended is None:
        words = "in theatre"
    else:
        words = "over, note written" if current.note else "over, note due"
    return Line(eye, words, current is not None and current.ended is not None, similar(plan, eye))


def theatre_page(*, frame: Frame, plan: DayPlan, eye: EyePlan, state: TheatreState, account: int, wrong: str = "") \
        -> TheatrePage:  # fmt: skip
    """The page of an eye in theatre."""
    steps = [fact.said.step for fact in state.facts if fact.kind is Kind.OPERATION_STEP]
    events = [fact.said.event for fact in state.facts if fact.kind is Kind.OPERATION_EVENT]
    over = state.phase in {Phase.OVER, Phase.SIGNED}
    shown = [each for each in EventKind if each not in {EventKind.OTHER, EventKind.SUTURE}]
    return TheatrePage(
        frame=frame, plan=plan, eye=eye, state=state, phase=state.phase.name, similar=similar(plan, eye),
        other_eye=other_eye(plan, eye), plates=tuple(Plate(each, planned_for(eye, each)) for each in Placement),
        steps=tuple((step, steps.count(step), uuid4()) for step in STEPS),
        events=tuple((each, events.count(each), uuid4()) for each in shown),
        sutures=tuple((count, uuid4()) for count in SUTURE_COUNTS),
        log=tuple(log_line(fact, over) for fact in state.log), taps=(uuid4(), uuid4(), uuid4()), account=account,
        wrong=wrong,
    )  # fmt: skip


def log_line(fact: Fact, over: bool) -> LogLine:
    """One thing that was recorded, and whether it can be taken back."""
    whole = fact.kind in {Kind.LENS_IMPLANTED, Kind.OPERATION_ENDED}
    undoable = whole or fact.kind in {Kind.OPERATION_STEP, Kind.OPERATION_EVENT, Kind.WOUND_MADE}
    return LogLine(fact, uuid4(), undoable, whole or over)


def stop_titles(stops: Sequence[Stop], codes: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Each finding with its title; one that no longer holds keeps its title."""
    said = {stop.code: stop.words for stop in stops}
    return tuple((FINDING_TITLES.get(code, code), said.get(code, "")) for code in codes)


def draft_of(plan: DayPlan, eye: EyePlan, state: TheatreState) -> str:
    """The note that the entries give."""

    def said(kind: Kind) -> list[Any]:
        return [fact.said for fact in state.log if fact.kind is kind]

    started, ended = state.last(Kind.OPERATION_STARTED), state.last(Kind.OPERATION_ENDED)
    if started is None:
        return ""
    lens = eye.lens
    planned = f"{power(lens.power_d)} {lens.model} in the {PLACEMENT_WORDS[lens.placement]}" if lens else ""
    return operation_note(NoteFacts(
        unit=plan.unit, day=plan.day, name=eye.name, person_id=eye.person_id, who=person_words(eye), side=eye.side,
        started=started.said, pauses=said(Kind.CHECKLIST_ANSWERED), steps=said(Kind.OPERATION_STEP),
        events=said(Kind.OPERATION_EVENT), wound=state.wound.said if state.wound else None,
        lens=state.lens.said if state.lens else None, planned_lens=planned,
        refused=[refused_words(each) for each in said(Kind.LENS_CHECKED) if each.put_aside],
        ended=ended.said if ended else None,
    ))  # fmt: skip


def refused_words(check: Any) -> str:
    """A box that was put aside, and why."""
    why = ", ".join(FINDING_TITLES.get(code, code).lower() for code in check.findings) or "not used"
    return f"{power(check.power_d)} {check.model} ({why})"


def digest_of(text: str) -> str:
    """Tells whether a draft was changed before it was kept."""
    return hashlib.sha256(" ".join(text.split()).encode()).hexdigest()
