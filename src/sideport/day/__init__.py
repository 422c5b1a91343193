"""The operating day: order, kit, cost and the plan."""

from .plan import DayPlan, EyePlan
from .plan_day import plan_day
from .settings import DayRequest, DaySettings

__all__ = ["DayPlan", "DayRequest", "DaySettings", "EyePlan", "plan_day"]
