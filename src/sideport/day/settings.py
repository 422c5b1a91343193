"""The day's settings and what goes into a plan."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time

from ..eye.person import Person
from ..lens.model import LensModel
from ..risk.team import Surgeon
from ..shelf.box import Box

__all__ = ["DayRequest", "DaySettings"]


@dataclass(frozen=True, slots=True)
class DaySettings:
    """One row of the unit's settings; every default is a policy that the unit may change."""

    unit: str
    day: date
    starts: time = time(8, 0)
    ends: time = time(16, 0)
    tables: int = 1
    turnover_min: float = 8.0
    target_d: float = -0.5
    """Wished spherical equivalent after healing when the eye has none of its own and the unit names no policy."""
    target_policy: str = ""
    """A named wish from ``target.toml``, e.g. ``field_work``; it goes before ``target_d``. Empty for none."""
    accept_miss_d: float = 1.0
    """Largest expected distance from target at which a lens is given without asking."""
    population: str = "south_asian_cataract"
    """Prior population, a table of ``populations.toml``."""
    formula: str = "auto"
    """``auto`` follows the published choice by axial length; else a formula key."""
    currency: str = "units"
    phaco_available: bool = True
    complication_rate: float | None = None
    """The unit's own rate of capsule tear, to which predicted odds are scaled; ``None`` uses the published one."""
    costs: Mapping[str, float] = field(default_factory=dict)
    """Unit prices by kit item, in the unit's currency; a missing price is said, never guessed."""


@dataclass(frozen=True, slots=True)
class DayRequest:
    """All that a plan is made from."""

    settings: DaySettings
    people: tuple[Person, ...]
    lenses: tuple[LensModel, ...]
    boxes: tuple[Box, ...]
    team: tuple[Surgeon, ...]
