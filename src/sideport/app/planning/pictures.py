"""The drawings of a page. Their makers escape every text they are given, so the result is marked safe here, once."""

from django.utils.safestring import SafeString, mark_safe

from ...day.plan import DayPlan, EyePlan
from ...present.day_strip import day_strip
from ...present.eye_drawing import eye_drawing
from ...present.forecast_strip import forecast_strip

__all__ = ["day_picture", "eye_picture", "forecast_picture"]


def day_picture(plan: DayPlan) -> SafeString:
    """The day by the clock."""
    return mark_safe(day_strip(plan=plan, ident="day-strip"))  # noqa: S308


def eye_picture(eye: EyePlan) -> SafeString:
    """The eye as the surgeon sees it, with the planned cut."""
    drawing = eye_drawing(side=eye.side, wound=eye.wound, belief=eye.belief, ident=f"cut-{eye.key}")
    return mark_safe(drawing)  # noqa: S308


def forecast_picture(eye: EyePlan) -> SafeString:
    """Where each lens would land."""
    strip = forecast_strip(choices=eye.choices, lens=eye.lens, target_d=eye.target_d, ident=f"lenses-{eye.key}")
    return mark_safe(strip)  # noqa: S308
