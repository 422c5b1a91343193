"""The theatre slice."""

from django.apps import AppConfig
from django.core.checks import register

from .checklist import check_local_items

__all__ = ["TheatreConfig"]


class TheatreConfig(AppConfig):
    """The theatre's pages."""

    name = "sideport.app.theatre"
    label = "theatre"
    verbose_name = "Theatre"

    def ready(self) -> None:
        """A list of local additions that cannot be read is told at the start, not in theatre."""
        register(check_local_items)
