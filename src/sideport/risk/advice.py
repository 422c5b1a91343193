"""What the risk room says of an eye: the odds, the technique, the operator."""

from dataclasses import dataclass

from ..knowledge.advice import Reason
from ..knowledge.number import Basis
from ..wound.technique import Technique
from .team import Grade

__all__ = ["OddsFactor", "OperatorAdvice", "RiskEstimate", "TechniqueAdvice", "TradeFactor"]


@dataclass(frozen=True, slots=True)
class OddsFactor:
    """One factor of a published model that is present in this eye."""

    label: str
    odds_ratio: float
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class TradeFactor:
    """A hazard the trade knows but the published model lacks; never multiplied into the odds."""

    label: str
    advice: str
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class RiskEstimate:
    """Odds of a posterior capsule tear or vitreous loss in this eye, for the planned operator."""

    model: str
    """Key of the published model."""
    probability: float
    low: float
    high: float
    """Limits of a 95% interval as far as the model allows one; the note says what it covers."""
    composite_odds_ratio: float
    factors: tuple[OddsFactor, ...]
    trade_factors: tuple[TradeFactor, ...]
    points: int | None
    """Points of the published score, for a second view."""
    missing: tuple[str, ...]
    """Factors of the model that were not recorded and so counted as absent."""
    note: str


@dataclass(frozen=True, slots=True)
class TechniqueAdvice:
    """The suggested operation with its reasons; the surgeon decides."""

    suggested: Technique
    reasons: tuple[Reason, ...]
    alternative: Technique | None


@dataclass(frozen=True, slots=True)
class OperatorAdvice:
    """Who should operate."""

    name: str | None
    """``None`` when nobody on the team may."""
    grade: Grade | None
    supervisor: str | None
    reasons: tuple[Reason, ...]
