"""The part that every page shares: base template, stylesheet, filters, system checks."""

from django.apps import AppConfig

__all__ = ["SharedConfig"]


class SharedConfig(AppConfig):
    """Templates, static files, template filters and system checks."""

    name = "sideport.app"
    label = "shared"
    verbose_name = "Sideport"

    def ready(self) -> None:
        """Register the system checks."""
        from . import checks  # noqa: F401
