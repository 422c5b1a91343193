"""What is said of an operation while it happens."""

from dataclasses import dataclass
from datetime import date, datetime
from enum import Enum

from ..lens.model import Placement
from ..optics.side import Side
from ..wound.plan import Site, WoundShape
from ..wound.technique import Technique

__all__ = [
    "Answer", "ChecklistAnswered", "EventKind", "LensChecked", "LensImplanted", "NoteWritten", "OperationEnded",
    "OperationEvent", "OperationStarted", "OperationStep", "Outcome", "Pause", "Purpose", "WoundMade",
]  # fmt: skip


class Purpose(Enum):
    """Why the eye is operated on."""

    CATARACT = "cataract"
    """Once in the life of an eye: two of these on one eye are a contradiction that a person settles."""
    AGAIN = "again"
    """A further procedure: exchange, wash-out, repair."""


class Outcome(Enum):
    """How an operation ended."""

    DONE = "done"
    ABANDONED = "abandoned"
    """Nothing was done to the lens; the eye may come again."""
    STAGED = "staged"
    """To be finished in a second sitting."""


class EventKind(Enum):
    """What may happen in theatre that a plan did not ask for."""

    CAPSULE_TEAR = "capsule tear"
    VITREOUS = "vitreous loss"
    ZONULAR_DIALYSIS = "zonular dialysis"
    NUCLEUS_DROP = "nucleus drop"
    IRIS_PROLAPSE = "iris prolapse"
    CONVERSION = "conversion"
    WOUND_BURN = "wound burn"
    SUTURE = "suture"
    OTHER = "other"


class Pause(Enum):
    """The three pauses of the safety checklist."""

    SIGN_IN = "sign-in"
    TIME_OUT = "time-out"
    SIGN_OUT = "sign-out"


@dataclass(frozen=True, slots=True)
class OperationStarted:
    """An operation begins."""

    person_id: str
    side: Side
    day: date
    technique: Technique
    operator: str
    started: datetime
    supervisor: str = ""
    table: int = 1
    plan: str = ""
    """Digest of the plan that it follows; empty without one."""
    purpose: Purpose = Purpose.CATARACT


@dataclass(frozen=True, slots=True)
class OperationStep:
    """A step was reached."""

    step: str
    happened: datetime


@dataclass(frozen=True, slots=True)
class OperationEvent:
    """Something happened that matters for the result."""

    event: EventKind
    happened: datetime
    detail: str = ""
    count: int | None = None
    """Of sutures, where there were some."""


@dataclass(frozen=True, slots=True)
class WoundMade:
    """The wound as it was really made."""

    site: Site
    happened: datetime
    meridian_deg: float | None = None
    """0 to 360, counter-clockwise as the examiner faces the patient."""
    length_mm: float | None = None
    limbus_distance_mm: float | None = None
    shape: WoundShape | None = None
    sutures: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class LensChecked:
    """The label of a lens box was read and held against the plan, before the box was opened."""

    placement: Placement
    """Where the lens was meant to go."""
    happened: datetime
    how: str
    """``scanned``, ``picture`` or ``typed``."""
    model: str = ""
    power_d: float | None = None
    box_id: str = ""
    """Empty when the box is not on this shelf."""
    lot: str = ""
    serial: str = ""
    expires: date | None = None
    codes: tuple[str, ...] = ()
    """As they were read."""
    findings: tuple[str, ...] = ()
    """What was wrong with it, by code; empty when nothing was."""
    put_aside: bool = False
    """True when the box went back unopened."""
    deviation: str = ""
    """Why it was used in spite of the findings."""
    second_person: str = ""
    """Who else read the label and agreed."""


@dataclass(frozen=True, slots=True)
class LensImplanted:
    """The lens that is really in the eye."""

    person_id: str
    side: Side
    model: str
    power_d: float
    placement: Placement
    happened: datetime
    box_id: str = ""
    """The box it came from; one lens leaves it. Empty when the box is not on this shelf."""
    lot: str = ""
    serial: str = ""
    expires: date | None = None
    as_planned: bool = True
    deviation: str = ""
    """Why it is another lens than planned."""
    second_person: str = ""
    """Who else read the label."""


@dataclass(frozen=True, slots=True)
class OperationEnded:
    """The operation is over."""

    person_id: str
    side: Side
    outcome: Outcome
    ended: datetime
    note: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer of a pause."""

    item: str
    answer: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class ChecklistAnswered:
    """A pause of the safety checklist was held."""

    pause: Pause
    answers: tuple[Answer, ...]
    happened: datetime
    second_person: str = ""


@dataclass(frozen=True, slots=True)
class NoteWritten:
    """The operation note in words; a corrected one is a new entry."""

    text: str
    language: str = "en"
    generated: bool = False
    """True when nobody changed what the program wrote."""
    signed_by: str = ""
    """Who answers for it; empty while it is a draft."""
