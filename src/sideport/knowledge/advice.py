"""What advice is made of: reasons that push for or against, and flags that ask for an action."""

from dataclasses import dataclass
from enum import Enum

from .number import Basis

__all__ = ["Effect", "Flag", "Reason", "Severity"]


class Severity(Enum):
    """What a flag asks of the reader."""

    STOP = "stop"
    """Do not operate on this eye until it is settled."""
    WARN = "warn"
    """Look again tonight."""
    NOTE = "note"
    """Worth knowing; nothing to do before morning."""


class Effect(Enum):
    """Which way a reason pushes."""

    FOR = "for"
    AGAINST = "against"
    NEUTRAL = "neutral"


@dataclass(frozen=True, slots=True)
class Reason:
    """One argument of a recommendation, in words a tired reader understands at once."""

    text: str
    effect: Effect
    source: str
    """Key into the bibliography; ``practice`` for common practice, ``unit`` for the unit's own setting."""
    basis: Basis
    weight: float | None = None
    """How much it pushed, in the unit the recommendation says (an odds ratio, dioptres, a cost)."""


@dataclass(frozen=True, slots=True)
class Flag:
    """One thing that is unusual, contradictory or missing, and what to do about it."""

    code: str
    """Stable, kebab-case: ``al-differs-between-eyes``."""
    severity: Severity
    message: str
    """One plain sentence with the number in it."""
    action: str
    """What to do: repeat, change method, second observer, fetch."""
    source: str
    basis: Basis
    value: float | None = None
    limit: float | None = None
    unit: str = ""
