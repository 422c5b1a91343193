"""The people slice."""

from django.apps import AppConfig

__all__ = ["PeopleConfig"]


class PeopleConfig(AppConfig):
    """Accounts and their pages."""

    name = "sideport.app.people"
    label = "people"
    verbose_name = "People"
