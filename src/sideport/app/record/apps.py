"""The record slice."""

from django.apps import AppConfig

__all__ = ["RecordConfig"]


class RecordConfig(AppConfig):
    """The journal and its projections."""

    name = "sideport.app.record"
    label = "record"
    verbose_name = "Record"
