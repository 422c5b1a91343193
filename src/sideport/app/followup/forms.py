"""The forms of follow-up: a visit, an attempt to reach the patient, a visit that will not take place, the slip."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms

from ...eye.result import Cause, Complication
from ...knowledge import load_published
from ...optics.side import Side
from ...present.slip import Drop, languages
from ...record.visit_said import VisitContacted, VisitMissed, VisitRecorded
from ..record.models import Operation
from .fields import CornealField, acuity, choice, corneal_power, figure
from .findings import impossible, questions
from .schedule import Due, WhyNot, schedule, window_on

__all__ = ["ContactForm", "MissedForm", "SlipForm", "VisitForm", "WithdrawForm"]

HOW = ("telephone", "message", "health worker", "visit at home", "letter", "through somebody else")
OUTCOMES = ("will come", "no answer", "wrong number", "cannot come", "does not want to come", "other")
CAUSE_WORDS = {
    Cause.SELECTION: "selection: another disease of the eye",
    Cause.SURGERY: "surgery: a complication of the operation",
    Cause.SPECTACLES: "spectacles: glasses would help",
    Cause.SEQUELAE: "sequelae: something that came later",
}
DROP_ROWS = 4
LONGEST_NOTE = 4000


def named(options: tuple[str, ...]) -> list[tuple[str, str]]:
    """Options that are their own names."""
    return [(name, name) for name in options]


def day_field(label: str, help_text: str = "", *, required: bool = True) -> forms.DateField:
    """A day, by the browser's own calendar."""
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, help_text=help_text, required=required, widget=widget)


def line(label: str, help_text: str = "", longest: int = 200) -> forms.CharField:
    """A line of text that may stay empty."""
    widget = forms.TextInput(attrs={"autocomplete": "off"})
    return forms.CharField(label=label, help_text=help_text, required=False, max_length=longest, widget=widget)


def visit_field(help_text: str = "") -> forms.ChoiceField:
    """A field for one of the visits of the schedule, by name."""
    return choice("Visit", [], help_text=help_text)


@dataclass(frozen=True, slots=True)
class Group:
    """Fields that belong together under one heading."""

    key: str
    title: str
    fields: tuple[Any, ...]


class VisitForm(forms.Form):
    """What was found at a visit. Everything but the day may stay empty; something must be said."""

    day = day_field("Day of the visit")
    due = visit_field("Filled in by the day; change it where it was another.")
    unaided = acuity("Unaided", "In any notation, as you read it: 6/18, 20/60, 0.3, CF 2m, HM.")
    with_glasses = acuity("With own glasses", "Those the patient came with; leave empty where there are none.")
    pinhole = acuity("Pinhole")
    corrected = acuity("Corrected", "With the best glasses.")
    sphere_d = figure("Sphere", "D", "spectacle_power")
    cylinder_d = figure("Cylinder", "D", "spectacle_power")
    axis_deg = figure("Axis", "deg", "axis", mode="decimal")
    k1 = CornealField(label="K1", help_text="Power or radius with its axis: 43.50 @ 90.")
    k2 = CornealField(label="K2")
    pressure_mmhg = figure("Pressure", "mmHg", "pressure", mode="decimal")
    complications = forms.MultipleChoiceField(
        label="Complications", choices=[(each.value, each.value) for each in Complication], required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    cause = choice(
        "Why the result is not good", [(each.value, words) for each, words in CAUSE_WORDS.items()], required=False,
        help_text="Asked for when the acuity is worse than 6/60 from four weeks on.",
    )  # fmt: skip
    examiner = line("Examined by")
    note = forms.CharField(
        label="Note", required=False, max_length=LONGEST_NOTE, widget=forms.Textarea(attrs={"rows": 3})
    )
    sure = forms.BooleanField(label="I looked again: keep it as written", required=False)

    def __init__(self, *args: Any, operation: Operation, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.operation, self.today = operation, today
        self.asked: tuple[str, ...] = ()
        names = [window.name for window in schedule()]
        self.fields["due"].choices = [("", "by the day"), *named(tuple(names))]  # type: ignore[attr-defined]
        self.fields["due"].required = False
        self.fields["day"].widget.attrs |= {"max": f"{today:%Y-%m-%d}", "min": f"{operation.day:%Y-%m-%d}"}

    def groups(self) -> Iterator[Group]:
        """The fields under their headings, in the order in which a clinic works."""
        for key, title, names in (
            ("when", "When", ("day", "due")),
            ("acuity", "Acuity", ("unaided", "with_glasses", "pinhole", "corrected")),
            ("refraction", "Refraction", ("sphere_d", "cylinder_d", "axis_deg")),
            ("cornea", "Cornea and pressure", ("k1", "k2", "pressure_mmhg")),
            ("found", "What was found", ("complications", "cause", "examiner", "note")),
        ):
            yield Group(key, title, tuple(self[name] for name in names))

    def clean(self) -> dict[str, Any]:
        """Refuses what cannot be; asks once about what is unusual."""
        found = super().clean() or self.cleaned_data
        if self.errors:
            return found
        said, knowledge = self.said(), load_published()
        wrong = impossible(said=said, operated=self.operation.day, today=self.today, knowledge=knowledge)
        for field, words in wrong:
            self.add_error(field or None, words)
        self.asked = questions(said=said, knowledge=knowledge)
        if self.asked and not found.get("sure"):
            self.add_error(None, f"{' '.join(self.asked)} Mend it, or tick that you looked again.")
        return found

    def said(self) -> VisitRecorded:
        """What the form says, as the record keeps it."""
        found = self.cleaned_data
        k1, k2 = found["k1"], found["k2"]
        by_day = window_on(operated=self.operation.day, day=found["day"], schedule=schedule())
        same = {name: found[name] for name in (
            "day", "unaided", "with_glasses", "pinhole", "corrected", "sphere_d", "cylinder_d", "axis_deg",
            "pressure_mmhg", "cause",
        )}  # fmt: skip
        return VisitRecorded(
            person_id=self.operation.person_id, side=Side(self.operation.side),
            operation_id=self.operation.operation_id, due=found["due"] or by_day.name, **same,
            k1_d=corneal_power(k1), k1_axis_deg=k1.axis_deg if k1 else None, k2_d=corneal_power(k2),
            k2_axis_deg=k2.axis_deg if k2 else None, complications=tuple(found["complications"]),
            examiner=found["examiner"].strip(), note=found["note"].strip(),
        )  # fmt: skip


class ContactForm(forms.Form):
    """An attempt to reach the patient."""

    how = choice("How", named(HOW))
    outcome = choice("What came of it", named(OUTCOMES))
    next_try = day_field("Try again on", "Leave empty to keep the patient on the list.", required=False)

    def said(self, *, operation: Operation, due: Due, today: date) -> VisitContacted:
        """What the form says, as the record keeps it."""
        found = self.cleaned_data
        return VisitContacted(
            person_id=operation.person_id, side=Side(operation.side), day=today,
            operation_id=operation.operation_id, due=due.window.name, how=found["how"], outcome=found["outcome"],
            next_try=found["next_try"],
        )  # fmt: skip


class MissedForm(forms.Form):
    """A visit that will not take place."""

    reason = choice("Why", [(each.value, each.value) for each in WhyNot])

    def said(self, *, operation: Operation, due: Due) -> VisitMissed:
        """What the form says, as the record keeps it."""
        return VisitMissed(
            person_id=operation.person_id, side=Side(operation.side), day=due.opens,
            operation_id=operation.operation_id, due=due.window.name, reason=self.cleaned_data["reason"],
        )  # fmt: skip


class WithdrawForm(forms.Form):
    """Why something is taken back."""

    reason = line("Why it is taken back")
    reason.required = True


class SlipForm(forms.Form):
    """What the patient takes home."""

    drop_rows = DROP_ROWS

    language = forms.ChoiceField(label="Language")
    comes_back = day_field("Return on", required=False)
    phone = line("Telephone of the unit", "Printed where the patient should call; may stay empty.", 60)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["language"].choices = [(each.code, each.name) for each in languages()]  # type: ignore[attr-defined]
        for row in range(1, DROP_ROWS + 1):
            self.fields[f"drop_{row}"] = line(f"Drop {row}", "As the bottle says." if row == 1 else "", 60)
            self.fields[f"times_{row}"] = forms.IntegerField(
                label=f"Drop {row}: times a day", required=False, min_value=1, max_value=24
            )
            self.fields[f"days_{row}"] = forms.IntegerField(
                label=f"Drop {row}: for how many days", required=False, min_value=1, max_value=365
            )

    def clean(self) -> dict[str, Any]:
        """A drop is told whole or not at all."""
        found = super().clean() or self.cleaned_data
        for row in range(1, DROP_ROWS + 1):
            told = [bool(found.get(f"{name}_{row}")) for name in ("drop", "times", "days")]
            if any(told) and not all(told) and not self.errors:
                self.add_error(f"drop_{row}", "Say the drop, how often a day and for how many days.")
        return found

    def drops(self) -> tuple[Drop, ...]:
        """The drops that were filled in."""
        found = self.cleaned_data
        rows = range(1, DROP_ROWS + 1)
        return tuple(
            Drop(found[f"drop_{row}"].strip(), found[f"times_{row}"], found[f"days_{row}"])
            for row in rows if found.get(f"drop_{row}")
        )  # fmt: skip
