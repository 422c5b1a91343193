"""The planned cut."""

from dataclasses import dataclass
from enum import Enum

from ..knowledge.advice import Reason

__all__ = ["Site", "WoundOption", "WoundPlan", "WoundShape"]


class Site(Enum):
    """Where on the limbus the wound is made, by anatomy, so that it means the same for right and left eyes."""

    SUPERIOR = "superior"
    SUPEROTEMPORAL = "superotemporal"
    TEMPORAL = "temporal"
    SUPERONASAL = "superonasal"


class WoundShape(Enum):
    """Outer shape of the tunnel."""

    STRAIGHT = "straight"
    FROWN = "frown"
    SMILE = "smile"
    CHEVRON = "chevron"


@dataclass(frozen=True, slots=True)
class WoundOption:
    """One site and size with what it is expected to do to the cornea."""

    site: Site
    meridian_deg: float
    """Angle of the wound's centre on the cornea, 0 to 360, counter-clockwise as the examiner faces the patient."""
    length_mm: float
    limbus_distance_mm: float
    """Of the wound's centre, behind the limbus; 0 for a clear corneal cut."""
    tunnel_mm: float
    """Length carried into clear cornea."""
    shape: WoundShape
    induced_d: float
    """Magnitude of the mean induced astigmatism vector."""
    induced_axis_deg: float
    """Meridian that the cut steepens, 0 to 180."""
    cylinder_d: float
    """Expected corneal cylinder magnitude after healing."""
    cylinder_axis_deg: float
    """Steep meridian after healing, 0 to 180."""
    within_one: float
    """Probability that corneal cylinder ends at or under 1.00 D."""


@dataclass(frozen=True, slots=True)
class WoundPlan:
    """The chosen cut, why, and the runner-up."""

    chosen: WoundOption
    second: WoundOption | None
    reasons: tuple[Reason, ...]
    side_ports_deg: tuple[float, ...]
    """Angles of the side ports, 0 to 360, as ``meridian_deg``."""
