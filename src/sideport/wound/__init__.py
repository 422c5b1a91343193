"""The cut: where, how long, and what it does to the cornea."""

from .choose import plan_wound
from .cylinder import cylinder_after, probability_cylinder_within
from .induced import InducedAstigmatism, induced_astigmatism
from .plan import Site, WoundOption, WoundPlan, WoundShape
from .technique import Technique

__all__ = [
    "InducedAstigmatism",
    "Site",
    "Technique",
    "WoundOption",
    "WoundPlan",
    "WoundShape",
    "cylinder_after",
    "induced_astigmatism",
    "plan_wound",
    "probability_cylinder_within",
]
