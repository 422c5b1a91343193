"""A single reading of one quantity of one eye, and how it was taken."""

from dataclasses import dataclass
from datetime import date
from enum import Enum

from ..optics.side import Side

__all__ = ["Measurement", "Method", "Quantity"]


class Quantity(Enum):
    """What was measured, always in one unit."""

    AXIAL_LENGTH = "axial length"
    """[mm]"""
    K1 = "k1"
    """[D] at the index 1.3375, with its axis; K1 and K2 are the two principal meridians in either order."""
    K2 = "k2"
    """[D] at the index 1.3375, with its axis."""
    ANTERIOR_CHAMBER_DEPTH = "anterior chamber depth"
    """[mm] corneal front to lens front."""
    LENS_THICKNESS = "lens thickness"
    """[mm]"""
    WHITE_TO_WHITE = "white to white"
    """[mm] horizontal corneal diameter."""


class Method(Enum):
    """How a reading was taken."""

    CONTACT_ULTRASOUND = "contact ultrasound"
    IMMERSION_ULTRASOUND = "immersion ultrasound"
    OPTICAL = "optical"
    MANUAL_KERATOMETER = "manual keratometer"
    AUTO_KERATOMETER = "auto keratometer"
    CALLIPER = "calliper"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Measurement:
    """One reading as taken; repeats are several measurements."""

    side: Side
    quantity: Quantity
    value: float
    """In the quantity's unit."""
    method: Method = Method.UNKNOWN
    axis_deg: float | None = None
    """For K1 and K2 only: 0 to 180."""
    reading: int = 1
    """Repeat number: K1 and K2 of the same method and reading belong together."""
    taken_on: date | None = None
    as_written: str = ""
    """The text in the unit's own file, so that a reader can find it again."""
