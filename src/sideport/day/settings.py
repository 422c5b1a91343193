"""The day's settings and what goes into a plan."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time

from ..eye.person import Person
from ..lens.model import LensModel
from ..risk.team import Surgeon
from ..shelf.box import Box
from .pins import Pin

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
    """``auto`` follows the default published choice by axial length; else such a choice by name, or a formula key."""
    currency: str = "units"
    phaco_available: bool = True
    complication_rate: float | None = None
    """The unit's own rate of capsule tear, to which predicted odds are scaled; ``None`` uses the published one."""
    costs: Mapping[str, float] = field(default_factory=dict)
    """Unit prices by kit item, in the unit's currency; a missing price is said, never guessed."""
    risk_model: str = "narendran2009"
    """Key of the published model of a torn capsule."""
    complication_operations: int | None = None
    """Operations behind ``complication_rate``."""
    harm_margin: float | None = None
    """Share by which expected tears may exceed those of an all-senior day; ``None`` takes the usual one."""
    stock: Mapping[str, float] = field(default_factory=dict)
    """Consumables in stock by kit item; what is not named is not counted."""
    fees: Mapping[str, float] = field(default_factory=dict)
    """The unit's fee by technique (a ``Technique`` value), in its currency."""
    folding_surcharge: float | None = None
    """What a patient who pays in full adds for a folding lens."""
    pays_share: float | None = None
    """Share of the fee that a patient pays who has no share of their own; ``None`` for all of it."""
    limits: Mapping[str, float] = field(default_factory=dict)
    """The unit's own thresholds of the readiness list, by their key in ``readiness.toml``."""
    blocks_from: time | None = None
    """When blocks are given from; ``None`` where they are given in time for the first cut."""
    block_lead_min: float | None = None
    """From block to cut [min]; ``None`` takes the usual time."""
    instrument_sets: Mapping[str, int] = field(default_factory=dict)
    """Sets by technique (a ``Technique`` value); a technique that is not named never runs short."""
    sterilise_min: float | None = None
    """From the end of a case until its set is ready again [min]; ``None`` takes the usual time."""
    learners_watched: int | None = None
    """Learners that one supervisor may watch at once, where being in theatre is enough; ``None`` takes the usual."""
    schedule_effort: str = "quick"
    """``quick``, ``greedy`` or ``full``: how long to look for a better list."""


@dataclass(frozen=True, slots=True)
class DayRequest:
    """All that a plan is made from."""

    settings: DaySettings
    people: tuple[Person, ...]
    lenses: tuple[LensModel, ...]
    boxes: tuple[Box, ...]
    team: tuple[Surgeon, ...]
    pins: tuple[Pin, ...] = ()
    """What a person has fixed by hand."""
