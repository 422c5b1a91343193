"""What the risk room says of an eye: the odds, the technique, the operator."""

from dataclasses import dataclass

from ..knowledge.advice import Reason
from ..knowledge.number import Basis
from ..wound.technique import Technique
from .team import Grade

__all__ = [
    "OddsFactor", "OperatorAdvice", "RiskEstimate", "TechniqueAdvice", "TechniqueOption", "TradeFactor", "TrolleyItem",
    "WaterfallStep",
]  # fmt: skip


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
class WaterfallStep:
    """One step from an eye without any factor to this one."""

    label: str
    odds_ratio: float
    probability: float
    """After this step."""
    change: float
    """What this step added to it; the start for the first."""
    source: str
    basis: Basis


@dataclass(frozen=True, slots=True)
class TrolleyItem:
    """Something to have on the trolley because of what may happen."""

    name: str
    trigger: str
    """What calls for it."""
    probability: float
    """How likely it is to be used in this eye."""
    opened: bool
    """True when it is laid out open, False when it is kept closed beside the case."""
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
    waterfall: tuple[WaterfallStep, ...] = ()
    """From an eye without factors in senior hands to this one, the largest rise first."""
    model_status: str = ""
    """How far the model's own table was read: ``read``, ``from memory``, ``only the odds that were read``."""
    own_operations: int = 0
    """The unit's own operations behind the rate; 0 when it is the published one."""


@dataclass(frozen=True, slots=True)
class TechniqueOption:
    """One operation argued for and against."""

    technique: Technique
    possible: bool
    """False where the unit lacks the hands or the machine; the reasons say which."""
    reasons: tuple[Reason, ...]
    operators: tuple[str, ...]
    """Who on the team does it."""
    induced_d: float | None
    """Published mean magnitude of the induced astigmatism; ``None`` where none is known."""
    cost_ratio: float | None
    """Provider's cost against manual small-incision surgery, from published costs."""
    patient_pays: float | None = None
    """Under the unit's tariff, in its currency; ``None`` without a tariff."""


@dataclass(frozen=True, slots=True)
class TechniqueAdvice:
    """The suggested operation with its reasons; the surgeon decides."""

    suggested: Technique
    reasons: tuple[Reason, ...]
    alternative: Technique | None
    options: tuple[TechniqueOption, ...] = ()
    """Every operation with its reasons, the suggested one first."""


@dataclass(frozen=True, slots=True)
class OperatorAdvice:
    """Who should operate."""

    name: str | None
    """``None`` when nobody on the team may."""
    grade: Grade | None
    supervisor: str | None
    reasons: tuple[Reason, ...]
    tear_probability: float | None = None
    """In this operator's hands; ``None`` where it was not worked out."""
    extra_tears: float | None = None
    """Expected tears beyond the senior surgeon who would do it; below 0 where the record is better."""
    lowest_grade: Grade | None = None
    """The most junior grade that the ladder of difficulty opens this eye to."""
