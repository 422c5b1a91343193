"""The drawings of a page. Their makers escape every text they are given, so the result is marked safe here, once."""

from django.utils.safestring import SafeString, mark_safe

from ...day.plan import DayPlan, EyePlan
from ...present.day_strip import day_strip
from ...present.eye_drawing import eye_drawing
from ...present.forecast_strip import forecast_strip
from ...present.plan_marks import marks_of
from ...wound.plan import WoundPlan

__all__ = ["day_picture", "eye_picture", "forecast_picture", "tried_picture"]


def day_picture(plan: DayPlan) -> SafeString:
    """The day by the clock."""
    return mark_safe(day_strip(plan=plan, ident="day-strip"))  # noqa: S308


def eye_picture(eye: EyePlan) -> SafeString:
    """The eye as the surgeon sees it, with the planned cut and what lies in its way."""
    return cut_picture(eye, eye.wound, "cut")


def tried_picture(eye: EyePlan, tried: WoundPlan) -> SafeString:
    """The same eye with another cut."""
    return cut_picture(eye, tried, "try")


def cut_picture(eye: EyePlan, wound: WoundPlan | None, ident: str) -> SafeString:
    """The drawing under an ident of its own: both stand on one page."""
    drawing = eye_drawing(
        side=eye.side, wound=wound, belief=eye.belief, ident=f"{ident}-{eye.key}", marks=marks_of(eye)
    )
    return mark_safe(drawing)  # noqa: S308


def forecast_picture(eye: EyePlan) -> SafeString:
    """Where each lens would land."""
    strip = forecast_strip(choices=eye.choices, lens=eye.lens, target_d=eye.target_d, ident=f"lenses-{eye.key}")
    return mark_safe(strip)  # noqa: S308
