"""What the theatre writes. Each call is one tap: one transaction with its entries, and nothing when it came before."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from ...day.plan import EyePlan
from ...errors import ImpossibleInputError
from ...lens.model import Placement
from ...record.facts import Fact
from ...record.kinds import Kind
from ...record.stock_said import BoxMoved, Move
from ...record.subject import SubjectKind, subject
from ...record.theatre_said import (
    Answer,
    ChecklistAnswered,
    LensChecked,
    LensImplanted,
    NoteWritten,
    OperationEnded,
    OperationEvent,
    OperationStarted,
    OperationStep,
    Outcome,
    Pause,
    Purpose,
    WoundMade,
)
from ...wound.technique import Technique
from ..record.services import Draft, append_many, withdraw
from .lens_check import Held, Stop, planned_for
from .models import Tap
from .state import Phase, TheatreState, state_of

__all__ = [
    "Case", "Start", "check_lens", "end", "go_on_with_box", "hold_pause", "implant", "put_box_aside", "record",
    "spoil_lens", "start", "undo", "write_note",
]  # fmt: skip

UNDOABLE = frozenset({
    Kind.OPERATION_STEP, Kind.OPERATION_EVENT, Kind.WOUND_MADE, Kind.LENS_IMPLANTED, Kind.OPERATION_ENDED,
})  # fmt: skip
NEEDS_REASON = frozenset({Kind.LENS_IMPLANTED, Kind.OPERATION_ENDED})


@dataclass(frozen=True, slots=True)
class Case:
    """One eye of one day's plan, and who is working on it."""

    unit: str
    day: date
    plan: str
    """Digest of the plan."""
    eye: EyePlan
    actor: str
    tap: UUID
    """Made with the button."""

    def state(self) -> TheatreState:
        """Where the eye stands now."""
        return state_of(unit=self.unit, day=self.day, eye=self.eye)


@dataclass(frozen=True, slots=True)
class Start:
    """What is settled at the sign-in."""

    technique: Technique
    operator: str
    supervisor: str = ""
    again: bool = False
    """A further operation on an eye that has had its cataract out."""


def once(case: Case, now: datetime, write: Callable[[TheatreState], Sequence[Draft]]) -> bool:
    """Writes what a tap says, unless the same tap was taken in before; true when something was written."""
    with transaction.atomic():
        _, new = Tap.objects.get_or_create(pk=case.tap, defaults={"unit": case.unit, "taken": now})
        drafts = write(case.state()) if new else ()
        if drafts:
            append_many(drafts=drafts, actor=case.actor, now=now, unit=case.unit)
    return bool(drafts)


def about(state: TheatreState, kind: Kind, payload: object, corrects: Fact | None = None) -> Draft:
    """An entry of an operation that has begun."""
    if not state.operation_id:
        raise ImpossibleInputError("This operation has not begun. Hold the sign-in first.")
    name = subject(SubjectKind.OPERATION, state.operation_id)
    return Draft(kind, name, payload, corrects.entry.entry_id if corrects else None)


def start(*, case: Case, said: Start, answers: tuple[Answer, ...], happened: datetime, now: datetime) -> bool:
    """Begins an operation with its sign-in.

    Raises
    ------
    ImpossibleInputError
        When it has begun already.
    """

    def write(state: TheatreState) -> list[Draft]:
        if state.phase is not Phase.BEFORE:
            raise ImpossibleInputError("This operation was begun already, perhaps on another tablet.")
        slot = case.eye.slot
        begun = OperationStarted(
            person_id=case.eye.person_id, side=case.eye.side, day=case.day, technique=said.technique,
            operator=said.operator, started=happened, supervisor=said.supervisor, table=slot.table if slot else 1,
            plan=case.plan, purpose=Purpose.AGAIN if said.again else Purpose.CATARACT,
        )  # fmt: skip
        opened = TheatreState(operation_id=str(case.tap))
        return [
            about(opened, Kind.OPERATION_STARTED, begun),
            about(opened, Kind.CHECKLIST_ANSWERED, ChecklistAnswered(Pause.SIGN_IN, answers, happened)),
        ]

    return once(case, now, write)


def hold_pause(*, case: Case, pause: Pause, answers: tuple[Answer, ...], happened: datetime, now: datetime) -> bool:
    """Keeps the answers of a pause; held again, they correct the first ones."""

    def write(state: TheatreState) -> list[Draft]:
        said = ChecklistAnswered(pause, answers, happened)
        return [about(state, Kind.CHECKLIST_ANSWERED, said, corrects=state.pause(pause))]

    return once(case, now, write)


def end(
    *, case: Case, answers: tuple[Answer, ...], outcome: Outcome, note: str, happened: datetime, now: datetime
) -> bool:
    """Ends an operation: with the sign-out, or, abandoned, with the reason alone.

    Raises
    ------
    ImpossibleInputError
        When wound or lens are not recorded and nobody says why, or it is over already.
    """

    def write(state: TheatreState) -> list[Draft]:
        if state.last(Kind.OPERATION_ENDED):
            raise ImpossibleInputError("This operation is over already.")
        missing = [word for word, fact in (("wound", state.wound), ("lens", state.lens)) if fact is None]
        if not note.strip() and (outcome is Outcome.ABANDONED or missing):
            what = "why it was abandoned" if outcome is Outcome.ABANDONED else f"why no {' and no '.join(missing)}"
            raise ImpossibleInputError(f"Say {what} is recorded, or record it first." if missing and outcome is not
                                       Outcome.ABANDONED else f"Say {what}.")  # fmt: skip
        over = OperationEnded(case.eye.person_id, case.eye.side, outcome, happened, note.strip())
        held = ChecklistAnswered(Pause.SIGN_OUT, answers, happened)
        pause = [about(state, Kind.CHECKLIST_ANSWERED, held, corrects=state.pause(Pause.SIGN_OUT))] if answers else []
        return [*pause, about(state, Kind.OPERATION_ENDED, over)]

    return once(case, now, write)


def check_lens(
    *, case: Case, held: Held, placement: Placement, stops: Sequence[Stop], how: str, now: datetime
) -> bool:  # fmt: skip
    """Keeps what a lens box's label was found to say."""

    def write(state: TheatreState) -> list[Draft]:
        if state.lens is not None:
            raise ImpossibleInputError("A lens is recorded in this eye. Take that back first.")
        said = LensChecked(
            placement=placement, happened=now, how=how, model=held.model, power_d=held.power_d,
            box_id=held.box.box_id if held.box else "", lot=held.lot, serial=held.serial, expires=held.expires,
            codes=held.codes, findings=tuple(stop.code for stop in stops),
        )  # fmt: skip
        return [about(state, Kind.LENS_CHECKED, said)]

    return once(case, now, write)


def put_box_aside(*, case: Case, now: datetime) -> bool:
    """Keeps that a box went back unopened."""

    def write(state: TheatreState) -> list[Draft]:
        found = state.check
        if found is None:
            return []
        return [about(state, Kind.LENS_CHECKED, replace(found.said, put_aside=True), corrects=found)]

    return once(case, now, write)


def go_on_with_box(*, case: Case, reason: str, second_person: str, now: datetime) -> bool:
    """Keeps why a box is used in spite of what was found, and who agreed.

    Raises
    ------
    ImpossibleInputError
        Without a reason or a second person.
    """

    def write(state: TheatreState) -> list[Draft]:
        found = state.stopped
        if found is None:
            return []
        if not reason.strip() or not second_person.strip():
            raise ImpossibleInputError("Going on needs a reason and a second person.")
        said = replace(found.said, deviation=reason.strip(), second_person=second_person)
        return [about(state, Kind.LENS_CHECKED, said, corrects=found)]

    return once(case, now, write)


def implant(*, case: Case, on_record: bool, happened: datetime, now: datetime) -> bool:
    """Keeps that the lens whose box was read is in the eye; one lens leaves the box.

    Parameters
    ----------
    case : Case
        The eye.
    on_record : bool
        Whether the shelf's boxes are on the record, so that the lens can leave its box there.
    happened, now : datetime
        When the lens went in, and the clock.

    Raises
    ------
    ImpossibleInputError
        When no box was read, or the one that was read is stopped.
    """

    def write(state: TheatreState) -> list[Draft]:
        if state.lens is not None:
            raise ImpossibleInputError("A lens is recorded in this eye already.")
        if state.check is None or state.stopped is not None:
            raise ImpossibleInputError("Read the lens box first.")
        said: LensChecked = state.check.said
        planned = case.eye.lens
        same = planned is not None and (said.model, said.power_d, said.placement) == (
            planned.model, planned.power_d, planned.placement,
        )  # fmt: skip
        why = said.deviation or ("" if same else planned_elsewhere(case.eye, said.placement))
        lens = LensImplanted(
            person_id=case.eye.person_id, side=case.eye.side, model=said.model, power_d=said.power_d or 0.0,
            placement=said.placement, happened=happened, box_id=said.box_id if on_record else "", lot=said.lot,
            serial=said.serial, expires=said.expires, as_planned=same and not said.deviation, deviation=why,
            second_person=said.second_person,
        )  # fmt: skip
        return [about(state, Kind.LENS_IMPLANTED, lens)]

    return once(case, now, write)


def planned_elsewhere(eye: EyePlan, placement: Placement) -> str:
    """Why a lens that is not the first choice needed no deviation."""
    return f"the plan's own lens for the {placement.value}" if planned_for(eye, placement) else ""


def spoil_lens(*, case: Case, reason: str, on_record: bool, now: datetime) -> bool:
    """Keeps that the lens whose box was read was opened and cannot be used: one lens leaves the box, none is implanted.

    Raises
    ------
    ImpossibleInputError
        When no box was read, or nothing is said of what happened.
    """

    def write(state: TheatreState) -> list[Draft]:
        found = state.check
        if found is None:
            raise ImpossibleInputError("Read the lens box first.")
        if not reason.strip():
            raise ImpossibleInputError("Say in a word what happened to the lens.")
        aside = about(state, Kind.LENS_CHECKED, replace(found.said, put_aside=True), corrects=found)
        if not (found.said.box_id and on_record):
            return [aside]
        moved = BoxMoved(Move.WASTED, 1, operation_id=state.operation_id, reason=reason.strip(), happened=now)
        return [aside, Draft(Kind.BOX_MOVED, subject(SubjectKind.BOX, found.said.box_id), moved)]

    return once(case, now, write)


def record(
    *, case: Case, said: OperationStep | OperationEvent | WoundMade, now: datetime
) -> bool:  # fmt: skip
    """Keeps a step, an event or the wound; a wound said again corrects the first."""
    kinds: dict[type[Any], Kind] = {
        OperationStep: Kind.OPERATION_STEP, OperationEvent: Kind.OPERATION_EVENT, WoundMade: Kind.WOUND_MADE,
    }  # fmt: skip

    def write(state: TheatreState) -> list[Draft]:
        kind = kinds[type(said)]
        return [about(state, kind, said, corrects=state.wound if kind is Kind.WOUND_MADE else None)]

    return once(case, now, write)


def undo(*, case: Case, entry_id: str, reason: str, now: datetime) -> bool:
    """Takes back what an entry says; the entry stays, and the history shows both.

    Raises
    ------
    ImpossibleInputError
        When it cannot be taken back, or needs a reason.
    """
    with transaction.atomic():
        _, new = Tap.objects.get_or_create(pk=case.tap, defaults={"unit": case.unit, "taken": now})
        state = case.state()
        fact = next((fact for fact in state.facts if fact.entry.entry_id == entry_id), None)
        if not new or fact is None:
            return False
        if fact.kind not in UNDOABLE:
            raise ImpossibleInputError("This is not taken back; answer it again instead.")
        over = state.last(Kind.OPERATION_ENDED) is not None
        if (over or fact.kind in NEEDS_REASON) and not reason.strip():
            raise ImpossibleInputError("Say why this is taken back.")
        withdraw(entry_id=entry_id, reason=reason.strip() or "tapped by mistake", actor=case.actor, now=now)
    return True


def write_note(*, case: Case, text: str, generated: bool, signed_by: str, now: datetime) -> bool:
    """Keeps the operation note; one written before is corrected, not lost.

    Raises
    ------
    ImpossibleInputError
        When it is empty, or the operation is not over.
    """

    def write(state: TheatreState) -> list[Draft]:
        if state.last(Kind.OPERATION_ENDED) is None:
            raise ImpossibleInputError("The note is written when the operation is over.")
        if not text.strip():
            raise ImpossibleInputError("The note is empty.")
        said = NoteWritten(text.strip(), generated=generated, signed_by=signed_by)
        return [about(state, Kind.NOTE_WRITTEN, said, corrects=state.note)]

    return once(case, now, write)
