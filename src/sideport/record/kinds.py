"""The kinds of entry: what each says, of what, and how it is written down and read back.

To add a kind: a frozen dataclass for what it says, a name in `Kind`, a line in `CATALOGUE`. To change what a kind says
so that old entries no longer read: raise its version and give an upgrade from the version before.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Any

from pydantic import TypeAdapter, ValidationError

from ..errors import ImpossibleInputError
from ..eye.measurement import Measurement
from ..eye.person import EyeRecord, Person
from ..lens.model import LensModel
from ..risk.team import Surgeon
from .canonical import canonical, parse_json
from .entry import Entry, JournalError
from .identity_said import PersonAlike, PersonSame
from .stock_said import BoxMoved, BoxReceived, DaySet, EyeListed, FolderRead, PlanMade
from .subject import SubjectKind, split_subject, subject
from .theatre_said import (
    ChecklistAnswered,
    LensChecked,
    LensImplanted,
    NoteWritten,
    OperationEnded,
    OperationEvent,
    OperationStarted,
    OperationStep,
    WoundMade,
)
from .visit_said import ConflictSettled, FactWithdrawn, VisitContacted, VisitMissed, VisitRecorded

__all__ = ["CATALOGUE", "Kind", "KindCard", "check_entry", "known", "mentions", "payload_of", "payload_text"]


class Kind(StrEnum):
    """Every kind of entry."""

    PERSON_REGISTERED = "person.registered"
    PERSON_CORRECTED = "person.corrected"
    PERSON_ALIKE = "person.alike"
    PERSON_SAME = "person.same"
    EYE_FOUND = "eye.found"
    EYE_LISTED = "eye.listed"
    MEASUREMENT_TAKEN = "measurement.taken"
    BOX_RECEIVED = "box.received"
    BOX_MOVED = "box.moved"
    SURGEON_LISTED = "surgeon.listed"
    LENS_LISTED = "lens.listed"
    DAY_SET = "day.set"
    PLAN_MADE = "plan.made"
    FOLDER_READ = "folder.read"
    OPERATION_STARTED = "operation.started"
    OPERATION_STEP = "operation.step"
    OPERATION_EVENT = "operation.event"
    OPERATION_ENDED = "operation.ended"
    WOUND_MADE = "wound.made"
    LENS_CHECKED = "lens.checked"
    LENS_IMPLANTED = "lens.implanted"
    CHECKLIST_ANSWERED = "checklist.answered"
    NOTE_WRITTEN = "note.written"
    VISIT_RECORDED = "visit.recorded"
    VISIT_MISSED = "visit.missed"
    VISIT_CONTACTED = "visit.contacted"
    CONFLICT_SETTLED = "conflict.settled"
    FACT_WITHDRAWN = "fact.withdrawn"


@dataclass(frozen=True, slots=True)
class KindCard:
    """How one kind is written and read."""

    says: type
    """The frozen dataclass of its payload."""
    of: SubjectKind | None
    """What it speaks of; ``None`` for anything."""
    version: int = 1
    unordered: tuple[str, ...] = ()
    """Fields that are sets: written in sorted order, so that equal payloads have equal bytes."""
    sparse: bool = False
    """True where ``None`` says nothing rather than "not recorded": such fields are left out."""
    upgrades: Mapping[int, Callable[[dict[str, Any]], dict[str, Any]]] = field(default_factory=dict)
    """From a version to the next."""


P, B, O, V = SubjectKind.PERSON, SubjectKind.BOX, SubjectKind.OPERATION, SubjectKind.VISIT  # noqa: E741
CATALOGUE: Mapping[Kind, KindCard] = {
    Kind.PERSON_REGISTERED: KindCard(Person, P),
    Kind.PERSON_CORRECTED: KindCard(Person, P),
    Kind.PERSON_ALIKE: KindCard(PersonAlike, P),
    Kind.PERSON_SAME: KindCard(PersonSame, P),
    Kind.EYE_FOUND: KindCard(EyeRecord, P, sparse=True),
    Kind.EYE_LISTED: KindCard(EyeListed, P),
    Kind.MEASUREMENT_TAKEN: KindCard(Measurement, P),
    Kind.BOX_RECEIVED: KindCard(BoxReceived, B),
    Kind.BOX_MOVED: KindCard(BoxMoved, B),
    Kind.SURGEON_LISTED: KindCard(Surgeon, SubjectKind.SURGEON, unordered=("techniques",)),
    Kind.LENS_LISTED: KindCard(LensModel, SubjectKind.LENS, unordered=("placements",)),
    Kind.DAY_SET: KindCard(DaySet, SubjectKind.DAY),
    Kind.PLAN_MADE: KindCard(PlanMade, SubjectKind.PLAN),
    Kind.FOLDER_READ: KindCard(FolderRead, SubjectKind.FOLDER),
    Kind.OPERATION_STARTED: KindCard(OperationStarted, O),
    Kind.OPERATION_STEP: KindCard(OperationStep, O),
    Kind.OPERATION_EVENT: KindCard(OperationEvent, O),
    Kind.OPERATION_ENDED: KindCard(OperationEnded, O),
    Kind.WOUND_MADE: KindCard(WoundMade, O),
    Kind.LENS_CHECKED: KindCard(LensChecked, O),
    Kind.LENS_IMPLANTED: KindCard(LensImplanted, O),
    Kind.CHECKLIST_ANSWERED: KindCard(ChecklistAnswered, O),
    Kind.NOTE_WRITTEN: KindCard(NoteWritten, O),
    Kind.VISIT_RECORDED: KindCard(VisitRecorded, V),
    Kind.VISIT_MISSED: KindCard(VisitMissed, V),
    Kind.VISIT_CONTACTED: KindCard(VisitContacted, V),
    Kind.CONFLICT_SETTLED: KindCard(ConflictSettled, None),
    Kind.FACT_WITHDRAWN: KindCard(FactWithdrawn, None),
}
MUST_CORRECT = frozenset({Kind.PERSON_CORRECTED, Kind.FACT_WITHDRAWN})


def payload_text(kind: Kind, payload: object) -> str:
    """What an entry says, as canonical JSON.

    Parameters
    ----------
    kind : Kind
        The kind of entry.
    payload : object
        An object of the class that the catalogue names for the kind.

    Returns
    -------
    str
        Equal payloads give equal text.

    Raises
    ------
    ImpossibleInputError
        When it is of another class, or holds what cannot be kept.
    """
    card = CATALOGUE[kind]
    if type(payload) is not card.says:
        raise ImpossibleInputError(f"{kind.value} is said by a {card.says.__name__}, not a {type(payload).__name__}.")
    refuse_strays(payload)
    plain = adapter(kind).dump_python(payload, mode="json", exclude_none=card.sparse)
    for name in card.unordered:
        plain[name] = sorted(plain[name])
    text = canonical(plain)
    decode(kind, parse_json(text))
    return text


def refuse_strays(payload: object) -> None:
    """Eyes and measurements are facts of their own and never ride along inside another."""
    if isinstance(payload, Person) and payload.eyes:
        raise ImpossibleInputError("A person is registered without eyes; say each eye and reading in its own entry.")
    if isinstance(payload, EyeRecord) and (payload.measurements or payload.listed):
        raise ImpossibleInputError("An eye is described without readings or listing; say them in their own entries.")


def payload_of(entry: Entry) -> Any:
    """What an entry says, as an object of its kind's class.

    Raises
    ------
    JournalError
        When the kind or the payload's version is newer than this program.
    """
    if not known(entry):
        raise JournalError(f"Entry {entry.entry_id} ({entry.kind}) was written by a newer program; update this one.")
    kind = Kind(entry.kind)
    card, plain = CATALOGUE[kind], parse_json(entry.payload)
    for version in range(entry.version, card.version):
        plain = card.upgrades[version](plain)
    return decode(kind, plain)


def known(entry: Entry) -> bool:
    """Whether this program can read what the entry says; what it cannot read is kept all the same."""
    try:
        return entry.version <= CATALOGUE[Kind(entry.kind)].version
    except ValueError:
        return False


def decode(kind: Kind, plain: object) -> Any:
    """Plain values to an object of the kind's class; the message carries no value of a patient's."""
    try:
        return adapter(kind).validate_python(plain)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        place = ".".join(str(step) for step in first["loc"]) or "the whole"
        raise ImpossibleInputError(f"{kind.value} cannot be kept: {place} is wrong ({first['msg']}).") from None


@cache
def adapter(kind: Kind) -> TypeAdapter[Any]:
    """Pydantic's view of what a kind says, made once."""
    return TypeAdapter(CATALOGUE[kind].says)


def mentions(entry: Entry) -> tuple[str, ...]:
    """The other subjects of the same unit that the entry bears on: the eye's owner, the box that a lens left.

    Parameters
    ----------
    entry : Entry
        Of any kind; one that this program cannot read mentions nothing.

    Returns
    -------
    tuple of str
        Without the entry's own subject. An entry that corrects another also bears on what that one mentions.
    """
    if not known(entry) or Kind(entry.kind) not in MENTIONING:
        return ()
    said = payload_of(entry)
    found = [subject(P, said.person_id)] if getattr(said, "person_id", "") else []
    if isinstance(said, LensImplanted) and said.box_id:
        found.append(subject(B, said.box_id))
    return tuple(name for name in found if name != entry.subject)


MENTIONING = frozenset(
    kind for kind, card in CATALOGUE.items() if {"person_id", "box_id"} & set(getattr(card.says, "__slots__", ()))
) - {Kind.PERSON_REGISTERED, Kind.PERSON_CORRECTED, Kind.LENS_CHECKED}


def check_entry(*, entry: Entry, corrected: Entry | None) -> None:
    """Refuses an entry that says something of the wrong kind of thing, or corrects what it cannot.

    Parameters
    ----------
    entry : Entry
        The entry.
    corrected : Entry or None
        The entry that it corrects, where it corrects one.

    Raises
    ------
    ImpossibleInputError
        With what is wrong. An entry from a newer program passes: it is kept and not read.
    """
    if not known(entry):
        return
    kind = Kind(entry.kind)
    payload_of(entry)
    of, _ = split_subject(entry.subject)
    wanted = CATALOGUE[kind].of
    if wanted is not None and of is not wanted:
        raise ImpossibleInputError(f"{kind.value} speaks of a {wanted.value}, not of a {of.value}.")
    if corrected is None:
        if kind in MUST_CORRECT:
            raise ImpossibleInputError(f"{kind.value} must name the entry that it corrects.")
        return
    if (corrected.subject, corrected.unit) != (entry.subject, entry.unit):
        raise ImpossibleInputError("A correction speaks of the same subject as the entry that it corrects.")
    if kind is Kind.CONFLICT_SETTLED:
        raise ImpossibleInputError("A settlement names its entries itself and corrects none.")
    pair = {entry.kind, corrected.kind} - {Kind.FACT_WITHDRAWN}
    if len(pair) > 1 and pair != {Kind.PERSON_REGISTERED, Kind.PERSON_CORRECTED}:
        raise ImpossibleInputError(f"{kind.value} cannot correct {corrected.kind}; only the same kind can.")
