"""The form of an operating day: hours, tables, who is there, which lenses."""

from dataclasses import fields, replace
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from ...day.settings import DaySettings
from ...exchange.columns_unit import SETTINGS
from ...record.stock_said import DaySet
from ..cells import cell_fields, text_of

__all__ = ["DayForm", "NewDayForm"]

KNOWN = frozenset(field.name for field in fields(DaySettings))
ASKED = tuple(column for column in SETTINGS if column.key in KNOWN - {"unit", "day"})
"""What the form asks; the unit is the person's own, and the day is chosen before."""
MAY_BE_EMPTY = frozenset(field.name for field in fields(DaySettings) if field.default is None)
"""Settings that an emptied cell unsets; of the others it changes nothing."""
DAY = tuple(column for column in SETTINGS if column.key == "day")


class NewDayForm(forms.Form):
    """A day to be set."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields.update(cell_fields(DAY))


class DayForm(forms.Form):
    """A day's settings, filled in with what stands or with the unit's last day."""

    def __init__(
        self, *args: Any, before: DaySet, team: list[str], lenses: list[str], **kwargs: Any
    ) -> None:  # fmt: skip
        initial: dict[str, Any] = {column.key: text_of(getattr(before.settings, column.key)) for column in ASKED}
        initial |= {"team": list(before.team or team), "lenses": list(before.lenses or lenses)}
        super().__init__(*args, **{**kwargs, "initial": initial})
        self.before, self.everybody, self.all_lenses = before, team, lenses
        self.fields.update(cell_fields(ASKED))
        self.fields["team"] = several("Who is there", team)
        self.fields["lenses"] = several("Lens models to choose from", lenses)

    def clean(self) -> dict[str, Any]:
        """A day ends after it starts and has a table; an empty cell means what stood there before."""
        found = super().clean() or self.cleaned_data
        starts = found.get("starts") or self.before.settings.starts
        ends = found.get("ends") or self.before.settings.ends
        if ends <= starts:
            self.add_error("ends", ValidationError(f"The day ends at {ends:%H:%M}, not after its start."))
        if found.get("tables") == 0:
            self.add_error("tables", ValidationError("A day needs one operating table at least."))
        return found

    def said(self, day: date) -> DaySet:
        """The day as the form says."""
        given = {key: value for key, value in self.cleaned_data.items() if key in KNOWN and value is not None}
        given |= {key: None for key in MAY_BE_EMPTY & self.cleaned_data.keys() if self.cleaned_data[key] is None}
        settings = replace(self.before.settings, day=day, **given)
        return DaySet(settings, tuple(self.cleaned_data["team"]), tuple(self.cleaned_data["lenses"]))


def several(label: str, names: list[str]) -> forms.MultipleChoiceField:
    """Any of some names; one at least where there are some."""
    choices = [(name, name) for name in names]
    return forms.MultipleChoiceField(
        label=label, choices=choices, required=bool(names), widget=forms.CheckboxSelectMultiple
    )  # fmt: skip
