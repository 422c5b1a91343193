"""The forms of patients. Every cell reads what a unit's sheets may hold; what cannot be read says what would be."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from ...exchange.columns import Column, Kind
from ...exchange.columns_people import EYE, NAME, NUMBER, PERSON, PERSON_NOTE
from ...exchange.figures import Keratometry
from ...exchange.readings import column_of, power_at_convention
from ...eye.measurement import Measurement, Method, Quantity
from ...eye.person import EyeRecord, Person
from ...knowledge import load_published
from ...optics.side import Side
from ..cells import CellField, cell_fields, text_of

__all__ = [
    "DoubleForm", "FindingsForm", "FolderForm", "ListForm", "PersonForm", "ReadingForm", "ReadingsForm", "SettleForm",
    "TakeBackForm",
]  # fmt: skip

PERSON_HAS = frozenset(field.name for field in fields(Person))
EYE_HAS = frozenset(field.name for field in fields(EyeRecord))
ABOUT_EYE = tuple(column for column in EYE if column.key in (EYE_HAS - {"listed"}) | {"eye_note"})
CORNEAL = frozenset({Quantity.K1, Quantity.K2})
FIRST_ROWS = (
    *(Quantity.AXIAL_LENGTH,) * 3, Quantity.K1, Quantity.K2, Quantity.K1, Quantity.K2,
    Quantity.ANTERIOR_CHAMBER_DEPTH, Quantity.LENS_THICKNESS, Quantity.WHITE_TO_WHITE,
)  # fmt: skip
"""What a session usually writes down; every row may be changed or left empty."""
HELP = {
    "person_id": "The unit's own number for the person.",
    "name": "In any script.",
    "age_years": "In years; or the date of birth.",
    "born_on": "Used for the age where none is given.",
    "phone": "With the country's code where people come from abroad.",
}
"""Where the explanation of the sheets' column speaks of sheets."""
TAKEN_ON = Column("taken_on", "Measured on", Kind.DATE, "Day before month.", "2026-11-30")
AXIS = Column("axis", "Axis", Kind.NUMBER, "Of K1 and K2, 0 to 180 degrees.", "90", unit="deg", limits="axis")
QUANTITIES = [(quantity.value, quantity.value) for quantity in Quantity]
PARTS = {"quantity": "What", "value": "Value", "axis": "Axis"}
MOST_FILES = 30


class OnceForm(forms.Form):
    """A form that can tell when it is sent a second time."""

    once = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)


class PersonForm(OnceForm):
    """Who somebody is. The number can be chosen once and not be changed."""

    def __init__(self, *args: Any, today: date, person: Person | None = None, **kwargs: Any) -> None:
        if person is not None:
            kwargs["initial"] = {**initial_of(person), **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        columns = (*((NUMBER,) if person is None else ()), NAME, *PERSON, PERSON_NOTE)
        self.fields.update(cell_fields(columns))
        for key in HELP.keys() & self.fields.keys():
            self.fields[key].help_text = HELP[key]
        self.person, self.today = person, today

    def clean_born_on(self) -> date | None:
        """Nobody is born tomorrow."""
        born: date | None = self.cleaned_data["born_on"]
        if born is not None and born > self.today:
            raise ValidationError("This day is still to come. Write the date of birth, the year in four digits.")
        return born

    def said(self) -> Person:
        """The person as the form says, without eyes."""
        values: dict[str, Any] = {key: value for key, value in self.cleaned_data.items() if key in PERSON_HAS}
        milligrams = self.cleaned_data.get("sugar_mg_dl")
        if milligrams is not None and values["sugar_mmol_l"] is None:
            values["sugar_mmol_l"] = milligrams / load_published().value("readiness.mg_dl_per_mmol_l")
        born = self.cleaned_data.get("born_on")
        if born is not None and values.get("age_years") is None:
            values["age_years"] = float(
                self.today.year - born.year - ((self.today.month, self.today.day) < (born.month, born.day))
            )
        if self.person is not None:
            values["person_id"] = self.person.person_id
        values |= {key: values[key] or "" for key in ("phone", "place")}
        return Person(eyes=(), note=self.cleaned_data["person_note"] or "", **values)


def initial_of(person: Person) -> dict[str, str]:
    """The form's cells for a person."""
    keys = [column.key for column in (NAME, *PERSON) if column.key in PERSON_HAS]
    return {key: text_of(getattr(person, key)) for key in keys} | {"person_note": person.note}


class FindingsForm(OnceForm):
    """What was found of an eye. What stands on the record is filled in; an emptied cell takes nothing back."""

    def __init__(self, *args: Any, side: Side, known: EyeRecord | None, **kwargs: Any) -> None:
        self.side = side
        self.before = {
            column.key: text_of(getattr(known, "note" if column.key == "eye_note" else column.key)) if known else ""
            for column in ABOUT_EYE
        }
        super().__init__(*args, **{**kwargs, "initial": {**self.before, **(kwargs.get("initial") or {})}})
        self.fields.update(cell_fields(ABOUT_EYE))

    def clean(self) -> dict[str, Any]:
        """Refuses an emptied cell: what was found stays found until its entry is taken back."""
        found = super().clean() or self.cleaned_data
        for key, text in self.before.items():
            if text and key in found and found[key] in (None, ""):
                self.add_error(key, f"“{text}” is on the record. To take it back, open the history of this patient.")
        return found

    def said(self) -> EyeRecord:
        """The eye as the form says, without readings."""
        values = {key: value for key, value in self.cleaned_data.items() if key in EYE_HAS}
        return EyeRecord(self.side, listed=False, note=self.cleaned_data["eye_note"] or "", **values)


@dataclass(frozen=True, slots=True)
class ReadingCell:
    """One cell with the word above its column."""

    word: str
    field: forms.BoundField


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """The cells of one reading."""

    number: int
    cells: tuple[ReadingCell, ...]


class ReadingsForm(OnceForm):
    """Several readings of one eye at once, a row each; rows without a value are passed over."""

    def __init__(self, *args: Any, side: Side, known: Sequence[Measurement], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.side, self.known = side, known
        self.fields["taken_on"] = CellField(TAKEN_ON, required=False)
        for key, label in METHOD_LABELS.items():
            self.fields[key] = method_field(label)
        for number, quantity in enumerate(FIRST_ROWS):
            name = f"What row {number + 1} is"
            self.fields[f"quantity_{number}"] = forms.ChoiceField(
                choices=QUANTITIES, initial=quantity.value, label=name, required=False
            )
            self.fields[f"value_{number}"] = value_field(number)
            axis = CellField(AXIS, required=False, label=f"Axis of row {number + 1}", help_text=" ")
            self.fields[f"axis_{number}"] = axis

    @property
    def rows(self) -> Iterator[ReadingRow]:
        """The rows as bound fields."""
        for number in range(len(FIRST_ROWS)):
            cells = tuple(ReadingCell(word, self[f"{part}_{number}"]) for part, word in PARTS.items())
            yield ReadingRow(number + 1, cells)

    @property
    def top(self) -> list[forms.BoundField]:
        """What holds for all rows."""
        return [self["taken_on"], *(self[key] for key in METHOD_LABELS)]

    def clean(self) -> dict[str, Any]:
        """Reads each row by what it measures."""
        found = super().clean() or self.cleaned_data
        self.readings = list(self.read(found))
        if not self.readings and not self.errors:
            raise ValidationError("No row has a value. Write at least one reading.")
        return found

    def read(self, found: Mapping[str, Any]) -> Iterator[Measurement]:
        """The readings of all rows that have a value and can be read; the others get an error."""
        repeats = numbered(self.known)
        for number in range(len(FIRST_ROWS)):
            text = found.get(f"value_{number}") or ""
            if not text or f"quantity_{number}" not in found:
                continue
            quantity = Quantity(found[f"quantity_{number}"] or FIRST_ROWS[number].value)
            method = Method(found.get(method_key(quantity)) or Method.UNKNOWN.value)
            try:
                reading = reading_of(self.side, quantity, text, found.get(f"axis_{number}"))
            except ValidationError as error:
                self.add_error(f"value_{number}", error)
                continue
            repeats[quantity, method] += 1
            yield replace(
                reading, method=method, reading=repeats[quantity, method], taken_on=found.get("taken_on")
            )  # fmt: skip

    def said(self) -> list[Measurement]:
        """The readings."""
        return self.readings


METHOD_LABELS = {
    "length_method": "Length, chamber and lens measured by",
    "corneal_method": "K1 and K2 measured by",
    "width_method": "White to white measured by",
}


def method_field(label: str) -> forms.ChoiceField:
    """How it was measured."""
    choices = [("", "not recorded"), *((m.value, m.value) for m in Method if m is not Method.UNKNOWN)]
    return forms.ChoiceField(label=label, choices=choices, required=False)


def method_key(quantity: Quantity) -> str:
    """Which of the form's methods a quantity goes by."""
    if quantity in CORNEAL:
        return "corneal_method"
    return "width_method" if quantity is Quantity.WHITE_TO_WHITE else "length_method"


def value_field(number: int) -> forms.CharField:
    """The value of a row, read when its quantity is known."""
    widget = forms.TextInput(attrs={"autocomplete": "off", "inputmode": "decimal"})
    return forms.CharField(label=f"Value of row {number + 1}", required=False, max_length=60, widget=widget)


def numbered(known: Sequence[Measurement]) -> Counter[tuple[Quantity, Method]]:
    """The last repeat number by quantity and method; K1 and K2 count together, because a pair shares its number."""
    last: Counter[tuple[Quantity, Method]] = Counter()
    for reading in known:
        for quantity in CORNEAL if reading.quantity in CORNEAL else (reading.quantity,):
            last[quantity, reading.method] = max(last[quantity, reading.method], reading.reading)
    return last


def reading_of(side: Side, quantity: Quantity, text: str, axis_deg: float | None) -> Measurement:
    """One reading from its text.

    Raises
    ------
    ValidationError
        When it cannot be read as what it measures.
    """
    value = CellField(column_of(quantity), required=True).clean(text)
    if isinstance(value, Keratometry):
        axis_deg = axis_deg if axis_deg is not None else value.axis_deg
        value = power_at_convention(value, None)
    elif axis_deg is not None:
        raise ValidationError("An axis belongs to K1 and K2 only. Empty the axis, or change what the row is.")
    return Measurement(side, quantity, value, axis_deg=axis_deg, as_written=text.strip())


class ReadingForm(OnceForm):
    """One reading that is to be corrected. What was measured stays; the value, axis, method and day may change."""

    def __init__(self, *args: Any, before: Measurement, **kwargs: Any) -> None:
        initial = {
            "value": before.as_written or text_of(before.value), "axis": text_of(before.axis_deg),
            "method": before.method.value, "taken_on": text_of(before.taken_on),
        }  # fmt: skip
        super().__init__(*args, **{**kwargs, "initial": initial})
        self.before = before
        self.fields["value"] = forms.CharField(label=f"{before.quantity.value.capitalize()}", max_length=60)
        if before.quantity in CORNEAL:
            self.fields["axis"] = CellField(AXIS, required=False)
        choices = [(method.value, method.value) for method in Method]
        self.fields["method"] = forms.ChoiceField(label="Measured by", choices=choices)
        self.fields["taken_on"] = CellField(TAKEN_ON, required=False)

    def clean(self) -> dict[str, Any]:
        """Reads the value as what it measures."""
        found = super().clean() or self.cleaned_data
        if "value" in found:
            try:
                read = reading_of(self.before.side, self.before.quantity, found["value"], found.get("axis"))
            except ValidationError as error:
                self.add_error("value", error)
                return found
            method = Method(found.get("method") or Method.UNKNOWN.value)
            self.reading = replace(read, method=method, reading=self.before.reading, taken_on=found.get("taken_on"))
        return found

    def said(self) -> Measurement:
        """The reading as it should have been written."""
        return self.reading


class ListForm(forms.Form):
    """An eye and a day."""

    side = forms.ChoiceField(choices=[(side.value, side.value.upper()) for side in Side])
    day = CellField(Column("day", "Operating day", Kind.DATE, "Day before month.", "2026-12-01", required=True))
    on = forms.ChoiceField(choices=[("yes", "on"), ("no", "off")])


class TakeBackForm(forms.Form):
    """Why something is taken back."""

    reason = forms.CharField(label="Why", max_length=500, help_text="It stays in the history with this reason.")


class DoubleForm(forms.Form):
    """Whether two numbers are one person."""

    answer = forms.ChoiceField(label="They are", widget=forms.RadioSelect)
    words = forms.CharField(label="How do you know", max_length=500, help_text="Such as: asked both; the same card.")

    def __init__(self, *args: Any, numbers: tuple[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        answer = self.fields["answer"]
        assert isinstance(answer, forms.ChoiceField)
        answer.choices = [
            ("apart", "two people"),
            *((number, f"one person; keep number {number}") for number in numbers),
        ]


class SettleForm(forms.Form):
    """Which of several entries holds."""

    keep = forms.ChoiceField(label="What holds", widget=forms.RadioSelect)
    words = forms.CharField(label="What was found out", max_length=500)

    def __init__(self, *args: Any, choices: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        keep = self.fields["keep"]
        assert isinstance(keep, forms.ChoiceField)
        keep.choices = [*choices, ("all", "all of them stand")]


class ManyFiles(forms.ClearableFileInput):
    """A field for several files."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Several files."""

    widget = ManyFiles

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        """Each file by itself."""
        files = data if isinstance(data, list | tuple) else [data] if data else []
        if not files and self.required:
            raise ValidationError("Choose the unit's files.")
        if len(files) > MOST_FILES:
            raise ValidationError(f"{len(files)} files are too many. Choose at most {MOST_FILES}.")
        return [super(FilesField, self).clean(file, initial) for file in files]


class FolderForm(OnceForm):
    """The unit's files, and the day where no sheet names it."""

    sheets = FilesField(label="Files", help_text="CSV, XLSX or ODS, each named after what it holds; or one workbook.",
                       widget=ManyFiles(attrs={"accept": ".csv,.tsv,.txt,.xlsx,.xlsm,.ods,.xls"}))  # fmt: skip
    day = CellField(
        Column(
            "day", "Operating day", Kind.DATE, "Goes before the day sheet; leave it empty to use that.", "2026-12-01"
        )
    )
