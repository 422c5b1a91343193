"""One lens for one eye in one place: what it would do there."""

from dataclasses import dataclass
from datetime import date

from .model import Placement

__all__ = ["FormulaResult", "LensChoice"]


@dataclass(frozen=True, slots=True)
class FormulaResult:
    """What one formula expects of a lens in an eye."""

    formula: str
    """Key, e.g. ``srk-t``."""
    refraction_d: float


@dataclass(frozen=True, slots=True)
class LensChoice:
    """A lens from the shelf, or one that the shelf lacks (``box_id`` is ``None``), in one eye."""

    model: str
    power_d: float
    placement: Placement
    box_id: str | None
    expires: date | None
    price: float | None
    formula: str
    """Key of the formula the expectation stands on."""
    refraction_d: float
    """Expected spherical equivalent after healing."""
    sd_d: float
    miss_d: float
    """Expected refraction minus target, signed: minus is more myopic than wished."""
    within_half: float
    """Probability of landing within 0.50 D of target."""
    within_one: float
    """Probability of landing within 1.00 D of target."""
    beyond_two: float
    """Probability of landing more than 2.00 D from target."""
    sees_6_12: float
    """Probability of 6/12 or better far off without glasses, with the cylinder left, if the eye sees 6/6 with them."""
    sees_6_18: float
    """Probability of 6/18 or better far off without glasses, with the cylinder left, if the eye sees 6/6 with them."""
    formulas: tuple[FormulaResult, ...]
    """Every formula that could be run, so that disagreement is seen."""
    shared: bool = False
    """True for a backup that stands by for several eyes and is promised to none of them."""
