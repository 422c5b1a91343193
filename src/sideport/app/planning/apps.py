"""The planning slice."""

from django.apps import AppConfig

__all__ = ["PlanningConfig"]


class PlanningConfig(AppConfig):
    """Stored plans and their pages."""

    name = "sideport.app.planning"
    label = "planning"
    verbose_name = "Planning"
