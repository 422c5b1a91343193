"""Named questions to the stored plans."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from .models import StoredPlan  # noqa: F401

__all__ = ["StoredPlanQuerySet"]


class StoredPlanQuerySet(models.QuerySet["StoredPlan"]):
    """Stored plans."""

    def light(self) -> StoredPlanQuerySet:
        """Without the document, which is large and already parsed for plans that were shown before."""
        return self.defer("document")

    def newest_first(self) -> StoredPlanQuerySet:
        """The plan stored last comes first."""
        return self.order_by("-created", "-pk")
