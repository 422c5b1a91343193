"""What is believed about one eye, as plain numbers for sheets and screens."""

from dataclasses import dataclass

__all__ = ["Estimate", "EyeSummary"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A quantity with its standard deviation and where it comes from."""

    value: float
    sd: float
    readings: int
    """How many readings of this eye stand behind it; 0 when it comes from the fellow eye or the population."""
    origin: str
    """In words: ``5 contact ultrasound readings``, ``from the fellow eye``, ``population only``."""


@dataclass(frozen=True, slots=True)
class EyeSummary:
    """The belief about one eye."""

    axial_length_mm: Estimate
    mean_k_d: Estimate
    corneal_astigmatism_d: Estimate
    steep_axis_deg: float
    """0 to 180; NaN never: with no astigmatism it is 90 and the estimate says 0."""
    chamber_depth_mm: Estimate
    lens_thickness_mm: Estimate
    white_to_white_mm: Estimate
