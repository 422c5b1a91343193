"""A box on the shelf."""

from dataclasses import dataclass
from datetime import date

__all__ = ["Box"]


@dataclass(frozen=True, slots=True)
class Box:
    """Identical lenses that share a label: one model, one power, one lot or serial, one expiry date."""

    box_id: str
    """Serial if there is one, else lot and power; unique in the unit."""
    model: str
    power_d: float
    count: int
    expires: date | None = None
    lot: str = ""
    serial: str = ""
    price: float | None = None
    """In the unit's currency."""
    location: str = ""
