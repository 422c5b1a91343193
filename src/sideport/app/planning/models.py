"""Plans as they were made. A row is written once and never changed: a new plan is a new row."""

from django.db import models

from .queries import StoredPlanQuerySet

__all__ = ["SheetKind", "StoredPlan", "StoredSheet"]


class StoredPlan(models.Model):
    """One plan of one day: the document, and what it was made with."""

    digest = models.CharField(max_length=64, db_index=True, help_text="SHA-256 of the document.")
    unit = models.CharField(max_length=200)
    day = models.DateField()
    format_version = models.PositiveSmallIntegerField()
    program_version = models.CharField(max_length=40)
    knowledge_version = models.CharField(max_length=40)
    inputs_sha256 = models.CharField(max_length=64)
    document = models.TextField(help_text="plan.json, byte for byte.")
    created = models.DateTimeField()

    objects = StoredPlanQuerySet.as_manager()

    class Meta:
        """Newest first; a digest is one, a document is there."""

        ordering = ("-created", "-pk")
        indexes = (models.Index(fields=["-created", "-id"], name="planning_newest"),)
        constraints = (
            models.CheckConstraint(
                condition=models.Q(digest__regex=r"^[0-9a-f]{64}$"), name="planning_digest_is_sha256"
            ),
            models.CheckConstraint(condition=~models.Q(document=""), name="planning_document_not_empty"),
            models.CheckConstraint(condition=models.Q(format_version__gte=1), name="planning_format_from_1"),
        )

    def __str__(self) -> str:
        return f"{self.unit}, {self.day:%d %B %Y}"


class SheetKind(models.TextChoices):
    """The printed sheets of a day."""

    DAY = "day", "The list"
    EYES = "eyes", "One page an eye"


class StoredSheet(models.Model):
    """A printed sheet of a plan, kept so that it stays the same to the byte."""

    plan = models.ForeignKey(StoredPlan, on_delete=models.CASCADE, related_name="sheets")
    kind = models.CharField(max_length=8, choices=SheetKind.choices)
    content = models.BinaryField()

    class Meta:
        """One sheet of a kind."""

        constraints = (
            models.UniqueConstraint(fields=["plan", "kind"], name="planning_one_sheet_a_kind"),
            models.CheckConstraint(condition=models.Q(kind__in=SheetKind.values), name="planning_sheet_kind_known"),
        )

    def __str__(self) -> str:
        return f"{self.kind}.pdf of plan {self.plan_id}"
