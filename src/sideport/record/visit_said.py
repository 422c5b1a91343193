"""What is said after the operation, and about the record itself."""

import re
from dataclasses import dataclass
from datetime import date

from ..optics.acuity import Acuity
from ..optics.side import Side

__all__ = ["ConflictSettled", "FactWithdrawn", "VisitContacted", "VisitMissed", "VisitRecorded"]

KEY = re.compile(r"[0-9a-f]{32}")


@dataclass(frozen=True, slots=True)
class VisitRecorded:
    """What was found at a follow-up visit. ``None`` means not recorded."""

    person_id: str
    side: Side
    day: date
    operation_id: str = ""
    due: str = ""
    """Which visit of the schedule it is: ``day 1``, ``week 4 to 8``."""
    unaided: Acuity | None = None
    pinhole: Acuity | None = None
    corrected: Acuity | None = None
    sphere_d: float | None = None
    cylinder_d: float | None = None
    axis_deg: float | None = None
    k1_d: float | None = None
    k1_axis_deg: float | None = None
    k2_d: float | None = None
    k2_axis_deg: float | None = None
    pressure_mmhg: float | None = None
    complications: tuple[str, ...] = ()
    cause: str = ""
    """Of a poor result, by the published classification."""
    examiner: str = ""
    note: str = ""
    with_glasses: Acuity | None = None
    """With the glasses that the patient came with."""


@dataclass(frozen=True, slots=True)
class VisitMissed:
    """A visit that was due and did not happen."""

    person_id: str
    side: Side
    day: date
    """When it was due."""
    operation_id: str = ""
    due: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class VisitContacted:
    """Somebody tried to reach the patient about a visit."""

    person_id: str
    side: Side
    day: date
    """Of the attempt."""
    operation_id: str = ""
    due: str = ""
    how: str = ""
    outcome: str = ""
    next_try: date | None = None


@dataclass(frozen=True, slots=True)
class ConflictSettled:
    """A person decided about entries that contradict each other."""

    conflict: str
    """The conflict's key."""
    code: str
    """The conflict's code."""
    entries: tuple[str, ...]
    """The entries that contradicted each other when it was settled; a further one opens the conflict again."""
    keep: str | None
    """The entry that holds where only one can; ``None`` when all of them stand."""
    words: str
    """What was found out."""

    def __post_init__(self) -> None:
        if not self.entries or not KEY.fullmatch(self.conflict):
            raise ValueError("a settlement names the conflict's key and its entries")


@dataclass(frozen=True, slots=True)
class FactWithdrawn:
    """What the corrected entry says did not happen."""

    reason: str
