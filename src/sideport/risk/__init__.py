"""Complication odds, technique advice and who may operate."""

from .advice import OddsFactor, OperatorAdvice, RiskEstimate, TechniqueAdvice, TradeFactor
from .estimate import estimate_risk
from .narendran import baseline_for, composite_odds_ratio, probability
from .operators import Case, assign_operators, case_for
from .points import group_for, risk_points
from .team import Grade, Surgeon
from .technique import suggest_technique
from .trade import trade_factors

__all__ = [
    "Case",
    "Grade",
    "OddsFactor",
    "OperatorAdvice",
    "RiskEstimate",
    "Surgeon",
    "TechniqueAdvice",
    "TradeFactor",
    "assign_operators",
    "baseline_for",
    "case_for",
    "composite_odds_ratio",
    "estimate_risk",
    "group_for",
    "probability",
    "risk_points",
    "suggest_technique",
    "trade_factors",
]
