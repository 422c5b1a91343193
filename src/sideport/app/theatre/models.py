"""Taps that were taken in, so that one sent twice is one entry."""

from django.db import models

__all__ = ["Tap"]


class Tap(models.Model):
    """One tap: its key was made with the button, and comes again when the answer was lost on the way."""

    key = models.UUIDField(primary_key=True)
    unit = models.CharField(max_length=400)
    taken = models.DateTimeField(help_text="When it was first taken in.")

    def __str__(self) -> str:
        return str(self.key)
