"""What was set aside when a folder was read in: it stays listed until a person says that it is mended."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

__all__ = ["FolderImport"]


class FolderImport(models.Model):
    """One folder that was sent through the browser."""

    unit = models.CharField(max_length=400)
    at = models.DateTimeField()
    by = models.CharField(max_length=400)
    files = models.JSONField(help_text="Names of the files.")
    day = models.DateField(null=True, help_text="The operating day; empty when it was not known.")
    added = models.JSONField(help_text="Entries by kind.")
    boxes_not_listed = models.PositiveIntegerField(default=0)
    rejected = models.JSONField(help_text="File, sheet, row, column, found, why, accepted of all that was set aside.")
    notes = models.JSONField()
    closed_by = models.CharField(max_length=400, blank=True, help_text="Who said that all of it is mended.")
    closed_at = models.DateTimeField(null=True)

    class Meta:
        """Newest first; open ones are asked for."""

        ordering = ("-at", "-pk")
        indexes: ClassVar = [models.Index(fields=["unit", "closed_by"], name="patients_import_open")]

    def __str__(self) -> str:
        return f"import {self.pk}"

    @property
    def open(self) -> bool:
        """Whether something set aside still waits to be mended."""
        return bool(self.rejected) and not self.closed_by
