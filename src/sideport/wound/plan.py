"""The planned cut."""

from dataclasses import dataclass
from enum import Enum

from ..knowledge.advice import Reason
from ..knowledge.number import Basis

__all__ = ["Extension", "Site", "WoundOption", "WoundPlan", "WoundShape"]


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
    within_half: float | None = None
    """The same for 0.50 D."""
    within_one_and_half: float | None = None
    """The same for 1.50 D."""
    refractive_cylinder_d: float | None = None
    """Expected cylinder of the spectacles with a lens that corrects none, 0 or more; counts the back of the cornea."""
    refractive_axis_deg: float | None = None
    """Axis of that cylinder written with minus, 0 to 180."""
    refractive_within_one: float | None = None
    """Probability that the cylinder of the spectacles ends at or under 1.00 D."""
    passes: float | None = None
    """Probability that the nucleus passes without force; ``None`` where it is not delivered whole through this cut."""
    seals: bool | None = None
    """Whether the inner lip is long enough to seal without a suture."""
    arc_mm: float | None = None
    """Length along the cut."""
    end_distance_mm: float | None = None
    """From the limbus to each end of the cut."""
    inner_opening_mm: float | None = None
    """Inner opening along the cornea."""
    neutral_share: float | None = None
    """Share of the cut inside the astigmatically neutral funnel, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Extension:
    """A way to get more room, kept ready."""

    purpose: str
    from_mm: float
    to_mm: float
    how: str
    induced_d: float | None
    """Magnitude of the mean induced astigmatism afterwards; ``None`` for a side port, or where sutures decide it."""
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class WoundPlan:
    """The chosen cut, why, and the runner-up."""

    chosen: WoundOption
    second: WoundOption | None
    reasons: tuple[Reason, ...]
    side_ports_deg: tuple[float, ...]
    """Angles of the side ports, 0 to 360, as ``meridian_deg``."""
    extensions: tuple[Extension, ...] = ()
    """What may have to be widened, to what and how."""
    own_eyes: int = 0
    """The surgeon's own results behind the chosen cut."""
    own_weight: float = 0.0
    """Their weight in its expected astigmatism, 0 to 1."""
