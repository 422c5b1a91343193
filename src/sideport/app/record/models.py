"""The journal, whose rows are never changed, and what this device knows of the others."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from ...record.clock import parse_stamp
from ...record.entry import Entry
from .tables import (
    Box,
    Day,
    Eye,
    LensModel,
    ListedEye,
    Measurement,
    Operation,
    OperationEvent,
    Person,
    Plan,
    StockMove,
    Surgeon,
    Task,
    Visit,
)  # fmt: skip

__all__ = [
    "Box", "Day", "Device", "Eye", "JournalEntry", "LensModel", "ListedEye", "Measurement", "Mention", "Operation",
    "OperationEvent", "Person", "Plan", "StockMove", "Surgeon", "Task", "Visit",
]  # fmt: skip


class JournalEntry(models.Model):
    """One entry as it was written; triggers in the database refuse every change."""

    entry_id = models.CharField(max_length=36, primary_key=True)
    unit = models.CharField(max_length=400)
    device = models.CharField(max_length=40)
    sequence = models.PositiveBigIntegerField()
    author = models.CharField(max_length=400)
    stamp = models.CharField(max_length=61, unique=True, help_text="Sorts as the clock's stamps do.")
    at = models.DateTimeField(help_text="What the device's own clock said.")
    kind = models.CharField(max_length=400)
    version = models.PositiveSmallIntegerField()
    subject = models.CharField(max_length=400)
    payload = models.TextField(help_text="Canonical JSON.")
    corrects = models.ForeignKey("self", on_delete=models.PROTECT, null=True, related_name="corrections")
    previous = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)

    class Meta:
        """A device's entries are numbered without a gap."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["device", "sequence"], name="record_one_entry_a_place"),
            models.CheckConstraint(condition=models.Q(sequence__gte=1), name="record_sequence_from_1"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.entry_id}"

    @classmethod
    def of(cls, entry: Entry) -> JournalEntry:
        """The row of an entry."""
        plain = {name: getattr(entry, name) for name in Entry.__slots__ if name not in {"stamp", "corrects"}}
        return cls(**plain, stamp=entry.order, corrects_id=entry.corrects)

    def entry(self) -> Entry:
        """The entry of a row."""
        plain = {name: getattr(self, name) for name in Entry.__slots__ if name not in {"stamp", "corrects"}}
        return Entry(**plain, stamp=parse_stamp(self.stamp), corrects=self.corrects_id)


class Mention(models.Model):
    """Which subjects an entry bears on: its own and those it mentions. Made from the journal."""

    pk = models.CompositePrimaryKey("root", "entry_id")
    root = models.CharField(max_length=32)
    entry = models.ForeignKey(JournalEntry, on_delete=models.PROTECT, related_name="mentions")

    def __str__(self) -> str:
        return f"{self.entry_id} on {self.root}"


class Device(models.Model):
    """A device that writes in the journal, as far as this one knows it."""

    device = models.CharField(max_length=40, primary_key=True)
    unit = models.CharField(max_length=400, blank=True, help_text="For this device: where its entries belong.")
    verifying = models.CharField(max_length=80, blank=True, help_text="Public key; empty until it sent a bundle.")
    address = models.CharField(max_length=120, blank=True, help_text="What bundles for it are encrypted to.")
    first_seen = models.DateTimeField()
    sequence = models.PositiveBigIntegerField(default=0, help_text="Its last entry that is here.")
    digest = models.CharField(max_length=64, default="0" * 64, help_text="That entry's digest.")
    has = models.JSONField(default=dict, help_text="What it is known to have: by device, the last entry.")

    def __str__(self) -> str:
        return self.device
