"""The people who may operate."""

from dataclasses import dataclass
from enum import Enum

from ..wound.technique import Technique

__all__ = ["Grade", "Surgeon"]


class Grade(Enum):
    """Surgical grade, senior first."""

    SENIOR = "senior"
    """Consultant or lead surgeon."""
    EXPERIENCED = "experienced"
    """Operates alone on ordinary eyes (associate specialist, staff grade)."""
    TRAINEE = "trainee"
    """Registrar level: with a supervisor in theatre."""
    NOVICE = "novice"
    """First tens of operations: supervised throughout."""


@dataclass(frozen=True, slots=True)
class Surgeon:
    """One operator on the day."""

    name: str
    grade: Grade
    techniques: frozenset[Technique]
    operations: int | None = None
    """Own operations so far."""
    capsule_tears: int | None = None
    """Own posterior capsule tears among them."""
    minutes_msics: float | None = None
    """Own usual skin-to-skin minutes."""
    minutes_phaco: float | None = None
    right_handed: bool = True
    supervises: bool = False
    cases_wanted: int = 0
    """Teaching cases this person needs on the day."""
