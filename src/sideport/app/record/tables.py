"""The tables made from the journal. Nothing writes to them but ``project.py``; ``rebuild`` makes them anew.

Keys are made from the unit and the subject, or are the entry's id, so that every device and every rebuild gives the
same rows. Rows of one subject hang together by foreign keys; what reaches further is named by number and side, because
the entry about the other subject may still be under way from another laptop.
"""

from typing import ClassVar

from django.db import models

__all__ = [
    "SEARCHED",
    "Box",
    "Day",
    "Eye",
    "LensModel",
    "ListedEye",
    "Measurement",
    "Operation",
    "OperationEvent",
    "Person",
    "Plan",
    "Projected",
    "StockMove",
    "Surgeon",
    "Task",
    "Visit",
]  # fmt: skip

SIDE_LENGTH = 8
NAME_LENGTH = 400
SEARCHED = 200
"""Longest text that is searched for; the whole of it stands in the facts."""


class Projected(models.Model):
    """What every row has."""

    key = models.CharField(max_length=36, primary_key=True)
    root = models.CharField(max_length=32, db_index=True, help_text="The subject from whose entries the row is made.")
    unit = models.CharField(max_length=NAME_LENGTH)
    entry_id = models.CharField(max_length=36, help_text="The entry that holds.")
    first = models.CharField(max_length=61, help_text="Stamp of the entry that first said it; gives the order.")

    class Meta:
        """No table of its own."""

        abstract = True

    def __str__(self) -> str:
        return f"{type(self).__name__} {self.key}"


class Person(Projected):
    """A person on a unit's register."""

    person_id = models.CharField(max_length=NAME_LENGTH)
    name = models.TextField()
    folded = models.CharField(max_length=SEARCHED, help_text="The name for searching: small letters, single spaces.")
    age_years = models.FloatField(null=True)
    sex = models.CharField(max_length=8, blank=True)
    phone = models.CharField(max_length=SEARCHED, blank=True, help_text="Its digits, for searching.")
    place = models.TextField(blank=True)
    same_as = models.CharField(max_length=32, blank=True, help_text="Key of the person registered before.")
    facts = models.TextField(help_text="The whole person with eyes and measurements, as JSON.")

    class Meta:
        """One row a number in a unit."""

        indexes: ClassVar = [
            models.Index(fields=["unit", "person_id"], name="record_person_number"),
            models.Index(fields=["folded"], name="record_person_name"),
            models.Index(fields=["phone"], name="record_person_phone"),
            models.Index(fields=["unit", "same_as", "person_id"], name="record_person_same"),
            # Holds all that a search looks at, in the order in which it is shown, so that no person is read in vain.
            models.Index(fields=["unit", "folded", "person_id", "phone", "key"], name="record_person_search"),
        ]


class Eye(Projected):
    """One eye with its findings."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="eyes")
    side = models.CharField(max_length=SIDE_LENGTH)
    cataract = models.CharField(max_length=20, blank=True)
    acuity = models.TextField(blank=True, help_text="As written.")
    facts = models.TextField(help_text="The findings as JSON.")


class Measurement(Projected):
    """One reading of one eye; its key is the entry that first said it."""

    eye = models.ForeignKey(Eye, on_delete=models.CASCADE, related_name="measurements")
    quantity = models.CharField(max_length=40)
    value = models.FloatField()
    method = models.CharField(max_length=40)
    axis_deg = models.FloatField(null=True)
    reading = models.BigIntegerField()
    taken_on = models.DateField(null=True)
    as_written = models.TextField(blank=True)


class ListedEye(Projected):
    """An eye's place on a day's register."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="listings")
    side = models.CharField(max_length=SIDE_LENGTH)
    day = models.DateField()
    listing = models.CharField(max_length=12)
    position = models.BigIntegerField()

    class Meta:
        """Found by day."""

        indexes: ClassVar = [models.Index(fields=["unit", "day"], name="record_listed_day")]


class Box(Projected):
    """A box and what is left in it."""

    box_id = models.CharField(max_length=NAME_LENGTH)
    model = models.TextField()
    power_d = models.FloatField()
    count = models.BigIntegerField()
    stated = models.BigIntegerField(help_text="What was last received or counted.")
    expires = models.DateField(null=True)
    lot = models.TextField(blank=True)
    serial = models.TextField(blank=True)
    price = models.FloatField(null=True)
    location = models.TextField(blank=True)

    class Meta:
        """Found by label."""

        indexes: ClassVar = [models.Index(fields=["unit", "box_id"], name="record_box_label")]


class StockMove(Projected):
    """One change of a box's count; its key is the entry that first said it."""

    box = models.ForeignKey(Box, on_delete=models.CASCADE, related_name="moves")
    what = models.CharField(max_length=20)
    change = models.BigIntegerField()
    left = models.BigIntegerField()
    author = models.TextField()
    happened = models.DateTimeField()
    operation_id = models.TextField(blank=True)
    reason = models.TextField(blank=True)


class Surgeon(Projected):
    """A person on the team."""

    name = models.TextField()
    grade = models.CharField(max_length=20)
    facts = models.TextField()


class LensModel(Projected):
    """A lens model that the unit lists."""

    name = models.TextField()
    facts = models.TextField()


class Day(Projected):
    """An operating day's settings, team and lens models."""

    day = models.DateField()
    facts = models.TextField()

    class Meta:
        """Found by date."""

        indexes: ClassVar = [models.Index(fields=["unit", "day"], name="record_day_date")]


class Plan(Projected):
    """A plan that was made; its document stands in the journal."""

    digest = models.CharField(max_length=64)
    day = models.DateField()
    inputs_sha256 = models.CharField(max_length=64)
    knowledge_version = models.CharField(max_length=40)
    program_version = models.CharField(max_length=40)
    author = models.TextField()
    made = models.DateTimeField()


class Operation(Projected):
    """An operation: what was done, by whom, with which lens."""

    operation_id = models.TextField()
    person_id = models.TextField()
    person_key = models.CharField(max_length=32, help_text="Key of the person's row, if it is here.")
    side = models.CharField(max_length=SIDE_LENGTH)
    day = models.DateField()
    technique = models.CharField(max_length=40)
    operator = models.TextField()
    supervisor = models.TextField(blank=True)
    purpose = models.CharField(max_length=12)
    plan = models.CharField(max_length=64, blank=True)
    started = models.DateTimeField()
    ended = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=12, blank=True)
    lens_model = models.TextField(blank=True)
    lens_power_d = models.FloatField(null=True)
    lens_placement = models.CharField(max_length=12, blank=True)
    lens_as_planned = models.BooleanField(null=True)
    box_id = models.TextField(blank=True)
    note = models.TextField(blank=True)
    facts = models.TextField(help_text="What the start, the wound, the lens and the end say, as JSON.")

    class Meta:
        """Found by day and by person."""

        indexes: ClassVar = [
            models.Index(fields=["unit", "day"], name="record_operation_day"),
            models.Index(fields=["person_key"], name="record_operation_person"),
        ]


class OperationEvent(Projected):
    """A step, an event, a pause of the checklist or another word about an operation."""

    operation = models.ForeignKey(Operation, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=40)
    name = models.TextField(blank=True, help_text="Of the step, event or pause.")
    author = models.TextField()
    happened = models.DateTimeField()
    facts = models.TextField()


class Visit(Projected):
    """A follow-up visit that was recorded or missed, or an attempt to reach the patient."""

    visit_id = models.TextField()
    kind = models.CharField(max_length=20, help_text="recorded, missed or contacted")
    person_id = models.TextField()
    person_key = models.CharField(max_length=32)
    side = models.CharField(max_length=SIDE_LENGTH)
    operation_id = models.TextField(blank=True)
    day = models.DateField()
    due = models.TextField(blank=True)
    author = models.TextField()
    facts = models.TextField()

    class Meta:
        """Found by day and by person."""

        indexes: ClassVar = [
            models.Index(fields=["unit", "day"], name="record_visit_day"),
            models.Index(fields=["unit", "kind"], name="record_visit_kind"),
            models.Index(fields=["person_key"], name="record_visit_person"),
        ]


class Task(Projected):
    """A contradiction that a person must settle, or has settled."""

    code = models.CharField(max_length=40)
    subject = models.TextField()
    words = models.TextField()
    entries = models.JSONField()
    settled_by = models.CharField(max_length=36, blank=True, help_text="The settlement; empty while it is open.")

    class Meta:
        """Open ones are asked for."""

        indexes: ClassVar = [models.Index(fields=["unit", "settled_by"], name="record_task_open")]
