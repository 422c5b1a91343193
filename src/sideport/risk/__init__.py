"""Complication odds, technique advice and who may operate."""

from .advice import (
    OddsFactor,
    OperatorAdvice,
    RiskEstimate,
    TechniqueAdvice,
    TechniqueOption,
    TradeFactor,
    TrolleyItem,
    WaterfallStep,
)
from .calibrate import Calibration, OwnResults, calibrate, own_results
from .estimate import estimate_risk
from .harm import HarmBudget, budget_for, senior_tears
from .ladder import lowest_grade
from .models import MODELS, model_named
from .odds import baseline_for, composite_odds_ratio, probability
from .operators import Case, assign_operators, case_for
from .points import group_for, risk_points
from .record import OperatorEffect, operator_effect
from .team import Grade, Surgeon
from .technique import suggest_technique
from .trade import trade_factors
from .trolley import trolley_for

__all__ = [
    "MODELS",
    "Calibration",
    "Case",
    "Grade",
    "HarmBudget",
    "OddsFactor",
    "OperatorAdvice",
    "OperatorEffect",
    "OwnResults",
    "RiskEstimate",
    "Surgeon",
    "TechniqueAdvice",
    "TechniqueOption",
    "TradeFactor",
    "TrolleyItem",
    "WaterfallStep",
    "assign_operators",
    "baseline_for",
    "budget_for",
    "calibrate",
    "case_for",
    "composite_odds_ratio",
    "estimate_risk",
    "group_for",
    "lowest_grade",
    "model_named",
    "operator_effect",
    "own_results",
    "probability",
    "risk_points",
    "senior_tears",
    "suggest_technique",
    "trade_factors",
    "trolley_for",
]
