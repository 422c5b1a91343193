"""Where an eye stands in theatre, read from its operation's entries alone: a reload or another tablet sees the same."""

from dataclasses import dataclass
from datetime import date
from enum import Enum

from ...day.plan import DayPlan, EyePlan
from ...optics.side import Side
from ...record.facts import Fact, facts_of
from ...record.kinds import Kind
from ...record.subject import SubjectKind, subject
from ...record.theatre_said import Outcome, Pause, Purpose
from ..record.models import Operation
from ..record.queries import entries_about

__all__ = ["STEPS", "Phase", "TheatreState", "done_keys", "earlier_operations", "operations_of_day", "state_of"]

STEPS = ("first cut", "capsule opened", "nucleus out", "cortex out", "wound closed")
"""What one tap each notes the time of; the lens has its own."""
LOGGED = frozenset({
    Kind.OPERATION_STEP, Kind.OPERATION_EVENT, Kind.WOUND_MADE, Kind.LENS_IMPLANTED, Kind.LENS_CHECKED,
    Kind.CHECKLIST_ANSWERED, Kind.OPERATION_ENDED,
})  # fmt: skip


class Phase(Enum):
    """What comes next."""

    BEFORE = "not begun"
    SIGNED_IN = "time-out due"
    OPERATING = "under way"
    STOPPED = "stopped at a lens box"
    OVER = "note due"
    SIGNED = "note signed"


@dataclass(frozen=True, slots=True)
class TheatreState:
    """An eye in theatre."""

    operation_id: str = ""
    """Empty before the sign-in."""
    facts: tuple[Fact, ...] = ()
    abandoned: tuple[Operation, ...] = ()
    """Operations on this eye that were begun and given up today."""

    def last(self, kind: Kind) -> Fact | None:
        """The fact of a kind that was said last."""
        return next((fact for fact in reversed(self.facts) if fact.kind is kind), None)

    def pause(self, pause: Pause) -> Fact | None:
        """The answers of a pause."""
        held = (fact for fact in reversed(self.facts) if fact.kind is Kind.CHECKLIST_ANSWERED)
        return next((fact for fact in held if fact.said.pause is pause), None)

    @property
    def check(self) -> Fact | None:
        """The lens box that counts: the last one read, unless it was put aside or its lens is in the eye."""
        found = self.last(Kind.LENS_CHECKED)
        return found if found and not found.said.put_aside and self.lens is None else None

    @property
    def stopped(self) -> Fact | None:
        """A box that was read, must not be used as it stands, and is still in the hand."""
        found = self.check
        return found if found and found.said.findings and not found.said.deviation else None

    @property
    def lens(self) -> Fact | None:
        """The lens in the eye."""
        return self.last(Kind.LENS_IMPLANTED)

    @property
    def wound(self) -> Fact | None:
        """The wound as it was made."""
        return self.last(Kind.WOUND_MADE)

    @property
    def note(self) -> Fact | None:
        """The operation note."""
        return self.last(Kind.NOTE_WRITTEN)

    @property
    def log(self) -> tuple[Fact, ...]:
        """What happened, in the order in which it happened."""
        return tuple(sorted((fact for fact in self.facts if fact.kind in LOGGED), key=lambda fact: fact.said.happened
                            if hasattr(fact.said, "happened") else fact.said.ended))  # fmt: skip

    @property
    def changed_since_note(self) -> bool:
        """Whether something was recorded, corrected or taken back after the note was written."""
        note = self.note
        return note is not None and any(
            fact.entry.order > note.entry.order for fact in self.facts if fact.kind in LOGGED
        )

    @property
    def phase(self) -> Phase:
        """What comes next."""
        if not self.operation_id:
            return Phase.BEFORE
        if self.last(Kind.OPERATION_ENDED):
            return Phase.SIGNED if self.note and self.note.said.signed_by else Phase.OVER
        if self.pause(Pause.TIME_OUT) is None:
            return Phase.SIGNED_IN
        return Phase.STOPPED if self.stopped else Phase.OPERATING


def state_of(*, unit: str, day: date, eye: EyePlan) -> TheatreState:
    """Where an eye stands."""
    rows = [row for row in operations_of_day(unit=unit, day=day) if is_of(row, eye)]
    abandoned = tuple(row for row in rows if row.outcome == Outcome.ABANDONED.value)
    current = next((row for row in reversed(rows) if row.outcome != Outcome.ABANDONED.value), None)
    if current is None:
        return TheatreState(abandoned=abandoned)
    name = subject(SubjectKind.OPERATION, current.operation_id)
    facts = tuple(fact for fact in facts_of(entries_about(unit=unit, subject=name)) if fact.first.subject == name)
    return TheatreState(current.operation_id, facts, abandoned)


def operations_of_day(*, unit: str, day: date) -> list[Operation]:
    """The operations of a day, in the order in which they were begun."""
    return list(Operation.objects.filter(unit=unit, day=day).order_by("first"))


def is_of(row: Operation, eye: EyePlan) -> bool:
    """Whether an operation is on an eye."""
    return row.person_id == eye.person_id and Side(row.side) is eye.side


def done_keys(*, unit: str, plan: DayPlan) -> frozenset[str]:
    """Eyes of the day that have their lens, or whose operation is over."""
    rows = [row for row in operations_of_day(unit=unit, day=plan.day) if row.lens_model or row.ended]
    return frozenset(eye.key for eye in plan.eyes if any(is_of(row, eye) for row in rows))


def earlier_operations(*, unit: str, day: date, eye: EyePlan) -> list[Operation]:
    """Cataract operations that the record has of this eye on other days."""
    rows = Operation.objects.filter(
        unit=unit, person_id=eye.person_id, side=eye.side.value, purpose=Purpose.CATARACT.value
    )
    return list(rows.exclude(day=day).exclude(outcome=Outcome.ABANDONED.value).order_by("day"))
