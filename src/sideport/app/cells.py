"""Form fields that read what a unit writes as forgivingly as its spreadsheets are read."""

from collections.abc import Iterable, Mapping
from datetime import date, time
from enum import Enum
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from ..exchange.cells import parse_cell
from ..exchange.columns import Column, Kind
from ..exchange.figures import CellError
from ..exchange.grid import tidy
from ..eye.measurement import Method
from ..eye.person import Cataract, Pupil, Sex
from ..optics.acuity import Acuity
from ..optics.side import Side

__all__ = ["CellField", "cell_fields", "text_of"]

LONGEST = 500
LONGEST_NOTE = 4000
NOT_RECORDED = ("", "not recorded")
MEMBERS: Mapping[Kind, type[Enum]] = {
    Kind.SEX: Sex, Kind.CATARACT: Cataract, Kind.PUPIL: Pupil, Kind.METHOD: Method, Kind.SIDE: Side,
}  # fmt: skip
NUMERIC = frozenset({Kind.NUMBER, Kind.WHOLE, Kind.AGE, Kind.MONEY, Kind.KERATOMETRY, Kind.NUCLEUS})


class CellField(forms.CharField):
    """One column of the unit's sheets as a form field; its value is what the sheet's reader would give."""

    def __init__(self, column: Column, *, required: bool | None = None, label: str = "", help_text: str = "") -> None:
        note = column.key.endswith("note")
        super().__init__(
            label=label or column.heading,
            help_text=help_text or about(column),
            required=column.required if required is None else required,
            max_length=LONGEST_NOTE if note else LONGEST,
            widget=widget_for(column, note=note),
        )
        self.column = column

    def clean(self, value: Any) -> Any:
        """The cell's value.

        Raises
        ------
        ValidationError
            With what was found, why it cannot be read and what would be accepted.
        """
        text = tidy(str(super().clean(value)))
        try:
            found = parse_cell(self.column, text)
        except CellError as error:
            raise ValidationError(f"“{text}” {error.why}. Accepted: {error.accepted}.") from None
        if found is None and self.required:
            raise ValidationError(self.error_messages["required"])
        return found


def about(column: Column) -> str:
    """What a column holds, without what matters to a spreadsheet alone."""
    sentences = column.explanation.split(". ")
    kept = [sentence for sentence in sentences if not sentence.startswith("Format the column")]
    return ". ".join(kept) if len(kept) == len(sentences) else ". ".join([*kept, ""]).strip()


def widget_for(column: Column, *, note: bool) -> forms.Widget:
    """Choices where there are few, one line of text where there are many, several lines for a note."""
    if column.kind is Kind.YES_NO:
        return forms.Select(choices=[NOT_RECORDED, ("yes", "yes"), ("no", "no")])
    if column.kind is Kind.ONLY_EYE:
        return forms.Select(choices=[("", "both see, or not known"), ("right", "RIGHT"), ("left", "LEFT")])
    members = MEMBERS.get(column.kind)
    if members is not None:
        return forms.Select(choices=[NOT_RECORDED, *((member.value, member.value) for member in members)])
    if note:
        return forms.Textarea(attrs={"rows": 2})
    mode = {"inputmode": "decimal"} if column.kind in NUMERIC and column.limits != "target" else {}
    return forms.TextInput(attrs={"autocomplete": "off", **mode})


def cell_fields(columns: Iterable[Column], *, required: Mapping[str, bool] | None = None) -> dict[str, CellField]:
    """A field for each column, by its key.

    Parameters
    ----------
    columns : iterable of Column
        In the order of the form.
    required : mapping of str to bool or None
        Where a form asks for more or less than a sheet does.

    Returns
    -------
    dict of str to CellField
    """
    return {column.key: CellField(column, required=(required or {}).get(column.key)) for column in columns}


def text_of(value: object) -> str:
    """A value as a person would write it into the cell; the parser reads it back.

    Parameters
    ----------
    value : object
        Of a core record; ``None`` for not recorded.

    Returns
    -------
    str
    """
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Acuity):
        return value.written
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.12g}"
    if isinstance(value, tuple | frozenset | list):
        return "; ".join(sorted(text_of(item) for item in value))
    return str(value)
